package bot

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/basket"
	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// anySet is a small series whose slots share pieces, and a member who holds some of it.
func anySet(t *rapid.T) (series.Series, *store.Shelf) {
	one := series.Series{Code: "s", Metal: melt.Metal{Gross: melt.TroyOunce, Fineness: 9990}}
	n := rapid.IntRange(1, 5).Draw(t, "pieces")
	for i := range n {
		code := fmt.Sprint("p", i)
		one.Pieces = append(one.Pieces, series.Piece{Code: code, Label: code})
	}
	for i := range rapid.IntRange(1, 5).Draw(t, "slots") {
		slot := series.Slot{Code: fmt.Sprint("slot", i)}
		for _, p := range one.Pieces {
			if rapid.IntRange(0, 2).Draw(t, "fills") == 0 {
				slot.Fill = append(slot.Fill, p.Code)
			}
		}
		if len(slot.Fill) > 0 {
			one.Slots = append(one.Slots, slot)
		}
	}
	shelf := &store.Shelf{Holdings: map[store.HoldingKey]store.Holding{}, Wants: map[store.WantKey]store.Want{}, Sets: map[string]series.Edits{"s": {}}}
	for _, p := range one.Pieces {
		if q := rapid.IntRange(0, 2).Draw(t, "held"); q > 0 {
			shelf.Holdings[store.HoldingKey{Series: "s", Piece: p.Code}] = store.Holding{Quantity: q}
		}
	}
	return one, shelf
}

// What a basket says it fills of one's gaps is what the set gains when it is bought, and no other purchase under the
// budget would gain more: slots that share pieces are counted as completion counts them.
func TestABasketFillsWhatItSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one, shelf := anySet(t)
		gaps := myPlaces(shelf, one)
		places := append(gaps, movable(shelf, one, gaps)...)
		var lots []lot
		for _, p := range one.Pieces {
			price := melt.Minor(rapid.IntRange(1, 9).Draw(t, "price"))
			lots = append(lots, newLot(pick{
				Pick: series.Pick{Series: "s", Pieces: []string{p.Code}, Quantity: rapid.IntRange(1, 2).Draw(t, "count")}, about: about{price: &price},
			}, places, store.Values{}))
		}
		budget := melt.Minor(rapid.IntRange(0, 30).Draw(t, "budget"))
		best, err := weigh(lots, places, budget)
		if err != nil {
			t.Fatal(err)
		}
		gainOf := func(bought []int) int {
			held := shelf.Held("s")
			for i, n := range bought {
				held[one.Pieces[i].Code] += n
			}
			return series.Complete(one.SlotsFor(series.Edits{}), held).Had - shelf.Completion(one).Had
		}
		var bought []int
		var cost melt.Minor
		for i, take := range best.Takes {
			bought = append(bought, take.Count())
			cost += melt.Minor(take.Count()) * lots[i].offer.Price
		}
		if got := gainOf(bought); got != best.Gain.Filled[basket.Mine] || cost != best.Cost || cost > budget {
			t.Fatalf("says it fills %d for %d under %d; fills %d for %d", best.Gain.Filled[basket.Mine], best.Cost, budget, got, cost)
		}
		most := 0
		try := make([]int, len(lots))
		var every func(i int, spent melt.Minor)
		every = func(i int, spent melt.Minor) {
			if spent > budget {
				return
			}
			if i == len(lots) {
				most = max(most, gainOf(try))
				return
			}
			for n := range lots[i].quantity() + 1 {
				try[i] = n
				every(i+1, spent+melt.Minor(n)*lots[i].offer.Price)
			}
			try[i] = 0
		}
		every(0, 0)
		if most != best.Gain.Filled[basket.Mine] {
			t.Fatalf("%d can be filled under %d, the basket fills %d", most, budget, best.Gain.Filled[basket.Mine])
		}
	})
}

// A piece that is not missing may fill a gap all the same: the one that stands in its place moves over.
func TestAPieceMovesOver(t *testing.T) {
	one := series.Series{Code: "s", Pieces: []series.Piece{{Code: "gull"}, {Code: "heron"}}, Slots: []series.Slot{
		{Code: "gull", Fill: []string{"gull", "heron"}}, {Code: "heron", Fill: []string{"heron"}},
	}}
	shelf := &store.Shelf{Holdings: map[store.HoldingKey]store.Holding{{Series: "s", Piece: "heron"}: {Quantity: 1}}, Sets: map[string]series.Edits{}}
	gaps := myPlaces(shelf, one)
	places := append(gaps, movable(shelf, one, gaps)...)
	price := melt.Minor(3000)
	l := newLot(pick{Pick: series.Pick{Series: "s", Pieces: []string{"gull"}, Quantity: 1}, about: about{price: &price}}, places, store.Values{})
	best, err := weigh([]lot{l}, places, 5000)
	if err != nil || best.Gain.Filled[basket.Mine] != 1 || !l.mine {
		t.Errorf("%+v, %v", best, err)
	}
	if slices.ContainsFunc(gaps, func(p place) bool { return slices.Contains(p.pieces, "gull") }) {
		t.Errorf("the gap is the heron's: %+v", gaps)
	}
}
