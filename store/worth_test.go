package store_test

import (
	"testing"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

func TestValuesAreMeltAndWhatIsUsual(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	g := tb.group
	g.PremiumPerOunce = 250
	catalogue := series.NewCatalogue([]series.Series{run(3)})
	without, err := tb.Values(t.Context(), g, catalogue)
	if err != nil {
		t.Fatal(err)
	}
	if w, ok := without.Of("run", "1980"); ok || without.Spot != nil {
		t.Errorf("nobody set a price, yet %+v", w)
	}
	if err := tb.SaveSpot(t.Context(), g.ID, store.Spot{At: monday, Currency: "USD", Price: 30 * melt.PriceUnit, Source: "a keeper"}); err != nil {
		t.Fatal(err)
	}
	values, err := tb.Values(t.Context(), g, catalogue)
	if err != nil {
		t.Fatal(err)
	}
	if w, ok := values.Of("run", "1980"); !ok || w.Melt != 2997 || w.Usual != 3247 { // 0.999 oz at 30.00, and at 32.50
		t.Errorf("%+v, %v", w, ok)
	}
	if w, ok := values.Of("run", "2080"); ok {
		t.Errorf("no such piece, yet %+v", w)
	}
}

func TestOthersWantsAndSpares(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 4)
	asker, bo, cy, gone := tb.members[0], tb.members[1], tb.members[2], tb.members[3]
	tb.change(t, asker, want("1984"))
	tb.change(t, asker, spare("1985", 3))
	tb.change(t, bo, want("1984"))
	tb.change(t, bo, spare("1985", 2))
	tb.change(t, cy, spare("1985", 1))
	tb.change(t, gone, want("1986"))
	tb.change(t, gone, spare("1987", 1))
	if err := tb.Leave(t.Context(), gone); err != nil {
		t.Fatal(err)
	}
	wants, err := tb.OthersWants(t.Context(), asker, []string{"run"})
	if err != nil || len(wants) != 1 || wants[0].Series != "run" || wants[0].Left != 1 || len(wants[0].Pieces) != 1 || wants[0].Pieces[0] != "1984" {
		t.Errorf("%+v, %v", wants, err)
	}
	free, err := tb.FreeSpares(t.Context(), asker, []string{"run"})
	if err != nil || len(free) != 1 || free[store.HoldingKey{Series: "run", Piece: "1985"}] != 3 {
		t.Errorf("%+v, %v", free, err)
	}
	if other, err := tb.OthersWants(t.Context(), asker, []string{"other"}); err != nil || len(other) != 0 {
		t.Errorf("%+v, %v", other, err)
	}
}

// One can spare 1980, which another wants, and wants 1981, which nobody has: only 1981 would let them trade.
func TestMostUsefulNamesWhatNobodyHas(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 3)
	tb.change(t, tb.members[0], spare("1980", 1))
	tb.change(t, tb.members[0], want("1981"))
	tb.change(t, tb.members[1], want("1980"))
	tb.change(t, tb.members[2], want("1985")) // which would be of use to nobody who gives
	found, err := tb.MostUseful(t.Context(), tb.group.ID, 3)
	if err != nil {
		t.Fatal(err)
	}
	if len(found) != 1 || found[0].Key.Piece != "1981" || found[0].Wanted != 1 || !found[0].Exact {
		t.Errorf("%+v", found)
	}
	if open, err := tb.OpenTrades(t.Context(), tb.members[0]); err != nil || len(open) != 0 {
		t.Errorf("asking proposed something: %+v, %v", open, err)
	}
}
