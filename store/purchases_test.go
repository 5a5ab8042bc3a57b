package store_test

import (
	"errors"
	"slices"
	"sync"
	"testing"

	"spareounce/match/melt"
	"spareounce/store"
)

// errAgain says that a tap had been recorded.
var errAgain = errors.New("recorded before")

// buy records one purchase of a piece of the run by the first member.
func (tb *table) buy(t *testing.T, piece, tap string, quantity int, price melt.Minor) error {
	t.Helper()
	key := store.HoldingKey{Series: "run", Piece: piece}
	_, _, err := tb.Buy(t.Context(), tb.group, tb.members[0], []string{tap}, func(s *store.Shelf, recorded []string) (string, []store.Purchase, error) {
		if slices.Contains(recorded, tap) {
			return "", nil, errAgain
		}
		s.Add(key, quantity)
		s.Fulfil(key, quantity)
		return "bought run " + piece, []store.Purchase{{Key: key, Quantity: quantity, Price: price, Currency: "USD", Tap: tap}}, nil
	})
	return err
}

func (tb *table) purchases(t *testing.T) []store.Purchase {
	t.Helper()
	all, err := tb.Purchases(t.Context(), tb.members[0])
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// What was paid, the shelf and the want go together, with the silver price of the moment; undo takes back all three.
func TestAPurchaseStandsWithItsShelf(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	tb.change(t, tb.members[0], want("1984"))
	spot := store.Spot{At: monday, Currency: "USD", Price: 31 * melt.PriceUnit, Source: "a keeper"}
	if err := tb.SaveSpot(t.Context(), tb.group.ID, spot); err != nil {
		t.Fatal(err)
	}
	if err := tb.buy(t, "1984", "", 2, 3500); err != nil {
		t.Fatal(err)
	}
	all := tb.purchases(t)
	if len(all) != 1 || all[0].Quantity != 2 || all[0].Price != 3500 || all[0].Spot == nil || *all[0].Spot != spot.Price || !all[0].SpotAt.Equal(monday) {
		t.Fatalf("recorded %+v", all)
	}
	shelf, err := tb.Shelf(t.Context(), tb.members[0])
	if err != nil || shelf.Held("run")["1984"] != 2 || len(shelf.Wants) != 0 {
		t.Fatalf("shelf %+v, %v", shelf, err)
	}
	if _, err := tb.Undo(t.Context(), tb.members[0]); err != nil {
		t.Fatal(err)
	}
	shelf, err = tb.Shelf(t.Context(), tb.members[0])
	if err != nil || shelf.Held("run")["1984"] != 0 || len(shelf.Wants) != 1 || len(tb.purchases(t)) != 0 {
		t.Fatalf("after undo: %+v, %v, %v", shelf, tb.purchases(t), err)
	}
}

// However often and however fast a button is pressed, one purchase is recorded; after undo it may be pressed again.
func TestATapRecordsOnce(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	var wg sync.WaitGroup
	results := make([]error, 8)
	for i := range results {
		wg.Go(func() { results[i] = tb.buy(t, "1985", "one-press", 1, 4000) })
	}
	wg.Wait()
	recorded := 0
	for _, err := range results {
		switch {
		case err == nil:
			recorded++
		case !errors.Is(err, errAgain):
			t.Error(err)
		}
	}
	if recorded != 1 || len(tb.purchases(t)) != 1 {
		t.Fatalf("%d taps were heard, %d purchases recorded", recorded, len(tb.purchases(t)))
	}
	if _, err := tb.Undo(t.Context(), tb.members[0]); err != nil {
		t.Fatal(err)
	}
	if err := tb.buy(t, "1985", "one-press", 1, 4000); err != nil || len(tb.purchases(t)) != 1 {
		t.Fatalf("pressed again after undo: %v, %v", err, tb.purchases(t))
	}
}

// A refused edit records nothing, and a spot price in another currency is no price of this purchase.
func TestAPurchaseThatIsRefusedLeavesNoTrace(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	refusal := errors.New("not that one")
	_, _, err := tb.Buy(t.Context(), tb.group, tb.members[0], nil, func(s *store.Shelf, _ []string) (string, []store.Purchase, error) {
		s.Add(store.HoldingKey{Series: "run", Piece: "1986"}, 1)
		return "bought", []store.Purchase{{Key: store.HoldingKey{Series: "run", Piece: "1986"}, Quantity: 1, Currency: "USD"}}, refusal
	})
	if !errors.Is(err, refusal) || len(tb.purchases(t)) != 0 {
		t.Fatalf("%v, %v", err, tb.purchases(t))
	}
	if err := tb.buy(t, "1986", "", 1, 0); err != nil {
		t.Fatal(err)
	}
	if all := tb.purchases(t); len(all) != 1 || all[0].Spot != nil || all[0].SpotAt != nil {
		t.Fatalf("no price was known, recorded %+v", all)
	}
}
