package proof

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/anishathalye/porcupine"
	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
)

// full reports whether to run at full size, and choose picks between the sizes.
var full = os.Getenv("SPAREOUNCE_FULL") != ""

func choose(small, large int) int {
	if full {
		return large
	}
	return small
}

// perIsland is how many members can trade with each other: few enough for everything they do to be checked in every
// order that may have been, and enough for a piece to be wanted by several.
const perIsland = 4

// island is some members who trade among themselves alone, and all that was done there since the world began.
type island struct {
	members []store.Member
	pieces  []string // the one that each can spare
	begin   world
	history []porcupine.Operation
	asked   []deed // looks at the end
}

// furnish seats members in islands, in one group.
func furnish(t *testing.T, s *store.Store, islands int) []*island {
	t.Helper()
	g, err := s.Group(t.Context(), "table", "Table")
	if err != nil {
		t.Fatal(err)
	}
	one := series.Series{Code: "run", Name: "Run", Metal: melt.Metal{Gross: melt.TroyOunce, Fineness: 9990}}
	for i := range islands * perIsland {
		code := fmt.Sprint(1800 + i)
		one.Pieces = append(one.Pieces, series.Piece{Code: code, Label: code, Year: 1800 + i})
		one.Slots = append(one.Slots, series.Slot{Code: code, Label: code, Fill: []string{code}})
	}
	if err := s.SaveSeries(t.Context(), g.ID, one); err != nil {
		t.Fatal(err)
	}
	all := make([]*island, islands)
	for i := range all {
		all[i] = &island{}
		for j := range perIsland {
			m, err := s.Join(t.Context(), g.ID, fmt.Sprintf("%d.%d", i, j), fmt.Sprintf("Member %d.%d", i, j), false, "")
			if err != nil {
				t.Fatal(err)
			}
			all[i].members = append(all[i].members, m)
			all[i].pieces = append(all[i].pieces, fmt.Sprint(1800+i*perIsland+j))
		}
	}
	return all
}

// begin sets the world anew: everyone spares one piece and wants some of the others', and the matcher proposes what it
// finds. In one island of two the first member is wanted by all and must disappoint most.
func (i *island) beginAnew(t *testing.T, s *store.Store, random *rand.Rand) {
	t.Helper()
	ctx := t.Context()
	star := random.IntN(2) == 0
	for j, m := range i.members {
		if _, _, err := s.Change(ctx, m, "begin", func(shelf *store.Shelf) error {
			if err := shelf.Offer(store.HoldingKey{Series: "run", Piece: i.pieces[j]}, 1, true); err != nil {
				return err
			}
			for k, piece := range i.pieces {
				if k != j && (star && (j == 0 || k == 0) || !star && (k == (j+1)%perIsland || random.IntN(2) == 0)) {
					if err := shelf.Wish(store.WantKey{Series: "run", Wanted: piece}, []string{piece}, 1, true, func(*store.Want) {}); err != nil {
						return err
					}
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	for _, m := range i.members {
		if err := s.Rematch(ctx, m.ID); err != nil {
			t.Fatal(err)
		}
	}
}

// survey reads the world as it stands, for the model to begin with. Nobody may do anything meanwhile.
func (i *island) survey(t *testing.T, s *store.Store) {
	t.Helper()
	i.history, i.asked = nil, nil
	i.begin = world{trades: map[int64]trade.Trade{}, holdings: map[slot]holding{}, wants: map[int64]want{}, rows: map[int64]slot{}}
	for _, m := range i.members {
		shelved, err := s.Shelf(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		for key, h := range shelved.Holdings {
			i.begin.holdings[slot{m.ID, key.Piece}] = holding{h.Quantity, h.Spare, h.Taken}
			i.begin.rows[h.ID] = slot{m.ID, key.Piece}
		}
		for key, w := range shelved.Wants {
			i.begin.wants[w.ID] = want{m.ID, key.Wanted, w.Quantity, w.Taken}
		}
		open, err := s.OpenTrades(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range open {
			i.begin.trades[one.Number] = one.Trade
			i.asked = append(i.asked, deed{By: m.ID, Kind: look, Trade: one.Number})
		}
		i.asked = append(i.asked, deed{By: m.ID, Kind: shelf})
	}
}

// clear takes away all that members told us and promised, so that a round can begin anew.
func clear(t *testing.T, address string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if _, err := conn.Exec(t.Context(), `TRUNCATE trades, trade_parties, trade_items, trade_topups, holdings, wants, want_pieces, changes, notices, river_job, receipts CASCADE`); err != nil {
		t.Fatal(err)
	}
}

// pick has a member think of something to do, knowing the trades as they were at the beginning: so it is often late.
func (i *island) pick(j int, random *rand.Rand) deed {
	d := deed{By: i.members[j].ID, Piece: i.pieces[j]}
	var mine []int64
	for n, one := range i.begin.trades {
		if slices.ContainsFunc(one.Parties, func(p trade.Party) bool { return p.Member == identity(d.By) }) {
			mine = append(mine, n)
		}
	}
	slices.Sort(mine)
	chance := random.IntN(100)
	if len(mine) == 0 || chance < 8 {
		d.Kind = []kind{shelf, offer, keep}[random.IntN(3)]
		return d
	}
	d.Trade = mine[random.IntN(len(mine))]
	d.Version = 1 + random.IntN(8)/7
	switch {
	case chance < 59:
		d.Kind = accept
	case chance < 61:
		d.Kind = decline
	case chance < 65:
		d.Kind = leaveOut
		items := i.begin.trades[d.Trade].Items
		d.Piece = string(items[random.IntN(len(items))].Piece)
	case chance < 67:
		d.Kind = takeBack
	case chance < 74:
		d.Kind = ship
	case chance < 77:
		d.Kind = []kind{arrive, object}[random.IntN(2)]
	case chance < 88:
		d.Kind = receive
	default:
		d.Kind = look
	}
	return d
}

// do does it on a store.
func do(ctx context.Context, s *store.Store, m store.Member, d deed) (answer, error) {
	switch d.Kind {
	case look:
		one, err := s.TradeOf(ctx, m, d.Trade)
		return answer{Seen: describe(one.Trade)}, err
	case shelf:
		shelved, err := s.Shelf(ctx, m)
		if err != nil {
			return answer{}, err
		}
		var lines []string
		for key, h := range shelved.Holdings {
			lines = append(lines, describeHolding(key.Piece, h.Quantity, h.Spare, h.Taken))
		}
		for key, w := range shelved.Wants {
			lines = append(lines, describeWant(key.Wanted, w.Quantity, w.Taken))
		}
		slices.Sort(lines)
		return answer{Seen: strings.Join(lines, ", ")}, nil
	case offer, keep:
		return change(ctx, s, m, d)
	}
	one, err := s.MoveTrade(ctx, m, d.Trade, d.event())
	if refusal, ok := errors.AsType[*trade.Refusal](err); ok {
		return answer{Why: refusal.Why.String(), Seen: describe(one.Trade)}, nil
	}
	return answer{Seen: describe(one.Trade)}, err
}

func change(ctx context.Context, s *store.Store, m store.Member, d deed) (answer, error) {
	key := store.HoldingKey{Series: "run", Piece: d.Piece}
	_, _, err := s.Change(ctx, m, "said", func(shelf *store.Shelf) error {
		if d.Kind == keep {
			return shelf.Keep(key, 1, true)
		}
		return shelf.Offer(key, 1, true)
	})
	if _, ok := errors.AsType[*store.PromisedError](err); ok {
		return answer{Why: "promised"}, nil
	}
	if _, ok := errors.AsType[*store.NotHeldError](err); ok {
		return answer{Why: "not spared"}, nil
	}
	return answer{}, err
}

// check holds what everyone was answered against the model.
func (i *island) check(t *testing.T) {
	t.Helper()
	result := possible(i.begin, i.history)
	if result == porcupine.Ok {
		return
	}
	t.Errorf("%s: what members were answered could not have been, one deed after another", result)
	for n, o := range i.history {
		if n == 100 {
			break
		}
		t.Logf("%d-%d %+v → %+v", o.Call, o.Return, o.Input, o.Output)
	}
}

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }
