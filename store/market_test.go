package store_test

import (
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"reflect"
	"sync"
	"testing"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
	"spareounce/store/storetest"
)

// A market kept in memory is the one a fresh process reads, whatever members and keepers did, in whichever process, while
// it was being kept; and its index, kept up to date change by change, finds trades as good as an index made anew.
func TestMarketFollowsEveryChange(t *testing.T) {
	t.Parallel()
	address := storetest.Database(t)
	open := func() *store.Store {
		s, err := store.Open(t.Context(), address, still, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(s.Close)
		return s
	}
	both := []*store.Store{open(), open()}
	g, err := both[0].Group(t.Context(), "table", "Table")
	if err != nil {
		t.Fatal(err)
	}
	if err := both[0].SaveSeries(t.Context(), g.ID, run(6)); err != nil {
		t.Fatal(err)
	}
	var members []store.Member
	for i := range 8 {
		m, err := both[0].Join(t.Context(), g.ID, fmt.Sprint(i), fmt.Sprintf("Member %d", i), false, "")
		if err != nil {
			t.Fatal(err)
		}
		members = append(members, m)
	}
	for turn := range 12 {
		var all sync.WaitGroup
		for w := range 4 {
			dice := rand.New(rand.NewPCG(uint64(turn), uint64(w)))
			all.Go(func() {
				for range 6 {
					s := both[dice.IntN(2)]
					if err := something(t, s, g, members, dice); err != nil {
						t.Error(err)
					}
					if _, _, err := both[dice.IntN(2)].Market(t.Context(), g.ID); err != nil {
						t.Error(err)
					}
				}
			})
		}
		all.Wait()
		pool, best, err := open().Market(t.Context(), g.ID)
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range both {
			kept, found, err := s.Market(t.Context(), g.ID)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(kept, pool) {
				t.Fatalf("turn %d, store %d keeps\n%+v\nwhere there is\n%+v", turn, i, kept, pool)
			}
			if !reflect.DeepEqual(found, best) {
				t.Fatalf("turn %d, store %d finds %v where there is %v", turn, i, found, best)
			}
		}
	}
}

// something has a member, or a keeper, do one thing that a market depends on.
func something(t *testing.T, s *store.Store, g store.Group, members []store.Member, dice *rand.Rand) error {
	m := members[dice.IntN(len(members))]
	piece := fmt.Sprint(1980 + dice.IntN(6))
	key := store.HoldingKey{Series: "run", Piece: piece, Condition: series.Condition(dice.IntN(3))}
	change := func(edit func(*store.Shelf) error) error {
		_, _, err := s.Change(t.Context(), m, "said", edit)
		promised, _ := errors.AsType[*store.PromisedError](err)
		missing, _ := errors.AsType[*store.NotHeldError](err)
		if promised != nil || missing != nil {
			return nil
		}
		return err
	}
	switch dice.IntN(12) {
	case 0, 1, 2:
		return change(func(shelf *store.Shelf) error {
			if err := shelf.Offer(key, 1+dice.IntN(2), true); err != nil {
				return err
			}
			ask := melt.Minor(3000 + dice.IntN(900))
			shelf.Describe(key, func(h *store.Holding) { h.Ask, h.Gift = &ask, dice.IntN(4) == 0 })
			return nil
		})
	case 3:
		return change(func(shelf *store.Shelf) error { return shelf.Remove(key, 1, true) })
	case 4, 5, 6:
		return change(func(shelf *store.Shelf) error {
			other := fmt.Sprint(1980 + dice.IntN(6))
			return shelf.Wish(store.WantKey{Series: "run", Wanted: piece}, []string{piece, other}, 1+dice.IntN(2), true, func(w *store.Want) {
				w.Priority, w.Least = store.Priority(dice.IntN(3)), series.Condition(dice.IntN(3))
			})
		})
	case 7:
		return change(func(shelf *store.Shelf) error { return shelf.Unwish(store.WantKey{Series: "run", Wanted: piece}) })
	case 8:
		if _, err := s.Undo(t.Context(), m); err != nil {
			overtaken, _ := errors.AsType[*store.OvertakenError](err)
			promised, _ := errors.AsType[*store.PromisedError](err)
			deed, _ := errors.AsType[*store.DeedError](err)
			if overtaken == nil && promised == nil && deed == nil && !errors.Is(err, store.ErrNothingToUndo) {
				return err
			}
		}
		return nil
	case 9:
		return s.SaveSpot(t.Context(), g.ID, store.Spot{At: monday, Currency: "USD", Price: melt.Price(3000000000 + dice.IntN(9)*10000000), Source: "a keeper"})
	case 10:
		if dice.IntN(2) == 0 {
			return s.Leave(t.Context(), m)
		}
		_, err := s.Join(t.Context(), g.ID, m.Account, m.Name, false, "")
		return err
	}
	return answer(t, s, m)
}

// answer has a member looked for, and say yes to what they stand in.
func answer(t *testing.T, s *store.Store, m store.Member) error {
	if err := s.Rematch(t.Context(), m.ID); err != nil {
		return err
	}
	open, err := s.OpenTrades(t.Context(), m)
	if err != nil {
		return err
	}
	for _, one := range open {
		for _, p := range one.Parties {
			for _, e := range []trade.Event{trade.Accept{By: p.Member, Version: one.Version, At: monday}, trade.Receive{By: p.Member}} {
				_, err := s.MoveTrade(t.Context(), m, one.Number, e)
				if refusal, _ := errors.AsType[*trade.Refusal](err); err != nil && refusal == nil {
					return err
				}
			}
		}
	}
	return nil
}
