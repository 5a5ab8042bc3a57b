package match

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// What one more of a piece is said to gain is what exhaustive search of the pool with it and of the pool without finds:
// no bound is broken, what is exact is so for its holder, and what is left out gains nothing.
func TestMostUsefulAgainstExhaustiveSearch(t *testing.T) {
	exact, helps := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := smallPool(5).Draw(t, "pool")
		gone := p.Pieces[rapid.IntRange(0, len(p.Pieces)-1).Draw(t, "gone")].ID
		p.Spares = slices.DeleteFunc(p.Spares, func(s Spare) bool { return s.Piece == gone })
		p = thin(p, 24)
		before, _ := bestPlan(p, allTrades(p))
		most := map[Piece]melt.Minor{}
		with := map[[2]string]melt.Minor{}
		for _, x := range p.Pieces {
			if supplied(p, x.ID) {
				continue
			}
			for _, m := range p.Members {
				if wants(p, m.ID, x.ID) {
					continue
				}
				more := addSpare(p, m.ID, x)
				after, _ := bestPlan(more, allTrades(more))
				with[[2]string{string(m.ID), string(x.ID)}] = after - before
				most[x.ID] = max(most[x.ID], after-before)
			}
		}
		found := MostUseful(p, Options{Steps: 20_000}, 1+rapid.IntRange(0, 6).Draw(t, "short"))
		named := map[Piece]bool{}
		for i, u := range found {
			named[u.Piece] = true
			gain, ok := with[[2]string{string(u.Holder), string(u.Piece)}]
			if !ok || u.Bound < most[u.Piece] || u.Gain > u.Bound || u.Exact && u.Gain != gain {
				t.Fatalf("%+v, yet it gains %d with them and at most %d (%t)", u, gain, most[u.Piece], ok)
			}
			if i > 0 && found[i-1].Gain < u.Gain {
				t.Fatalf("%+v is out of place", u)
			}
			if u.Exact && u.Gain > 0 {
				exact++
			}
		}
		for x, gain := range most {
			if gain > 0 {
				helps++
			}
			if gain > 0 && !named[x] {
				t.Fatalf("%s would gain %d and is left out of %+v", x, gain, found)
			}
		}
	})
	t.Logf("%d pieces would help, %d found exactly", helps, exact)
	if exact == 0 {
		t.Error("none was exact")
	}
}

// supplied reports whether a piece is on offer as often as it is wanted.
func supplied(p *Pool, x Piece) bool {
	n := 0
	for _, s := range p.Spares {
		if s.Piece == x {
			n += s.Count
		}
	}
	for _, w := range p.Wants {
		if slices.ContainsFunc(w.Fill, func(f Fill) bool { return f.Piece == x }) {
			n--
		}
	}
	return n >= 0
}

func wants(p *Pool, m Member, x Piece) bool {
	return slices.ContainsFunc(p.Wants, func(w Want) bool {
		return w.Member == m && slices.ContainsFunc(w.Fill, func(f Fill) bool { return f.Piece == x })
	})
}

// addSpare gives a member one more of a piece to spare.
func addSpare(p *Pool, m Member, x PieceInfo) *Pool {
	more := *p
	more.Spares = slices.Clone(p.Spares)
	for i, s := range more.Spares {
		if s.Member == m && s.Piece == x.ID {
			more.Spares[i].Count++
			return &more
		}
	}
	more.Spares = append(more.Spares, Spare{Member: m, Piece: x.ID, Count: 1, Value: x.Value})
	return &more
}

// In the smallest case: only the third piece is missing for a swap, and only one who wants something of the other's can
// bring it.
func TestMostUsefulNamesTheMissingPiece(t *testing.T) {
	p := &Pool{
		Currency: "USD", Ring: 2, MinGain: 1,
		Members: []Trader{{ID: "ann", Trades: 1}, {ID: "bo", Trades: 1}, {ID: "cy", Trades: 1}},
		Pieces:  []PieceInfo{{ID: "harbour/82", Ounces: 1, Value: 3570}, {ID: "harbour/83", Ounces: 1, Value: 3570}},
		Spares:  []Spare{{Member: "ann", Piece: "harbour/82", Count: 1, Value: 3570}},
		Wants: []Want{
			{"bo", []Fill{{"harbour/82", 900}}},
			{"ann", []Fill{{"harbour/83", 700}}},
		},
	}
	want := []Useful{{"harbour/83", "bo", 1600, 1600, true}}
	if got := MostUseful(p, Options{Steps: 10_000}, 3); !slices.Equal(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
}
