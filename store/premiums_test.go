package store_test

import (
	"testing"

	"spareounce/match/melt"
	"spareounce/match/trade"
	"spareounce/store"
)

// What a piece fetched is seen from closed trades in which the owner's ask was agreed to, and from no other: values that we
// made up ourselves would only repeat themselves.
func TestPremiumsAreSeenWhereAnAskWasAgreedTo(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 8)
	if err := tb.SaveSpot(t.Context(), tb.group.ID, store.Spot{At: still(), Currency: "USD", Price: 30 * melt.PriceUnit, Source: "Ann"}); err != nil {
		t.Fatal(err)
	}
	for i, ask := range []melt.Minor{4000, 4200, 4900, 0} {
		a, b := 2*i, 2*i+1
		number := tb.swapAt(t, a, b, "1980", "1981", ask)
		if i == 2 {
			if all := tb.seen(t); len(all) != 0 {
				t.Fatalf("two of a piece are %v", all)
			}
		}
		tb.close(t, number, a, b)
	}
	all := tb.seen(t)
	if len(all) != 1 {
		t.Fatalf("%v", all)
	}
	o := all[0]
	// A one-ounce .999 piece at 30.00 melts at 29.97: 40 - 29.97, 42 - 29.97, 49 - 29.97.
	if o.Series != "run" || o.Piece != "1980" || o.Count != 3 || o.Low != 1003 || o.Median != 1203 || o.High != 1903 {
		t.Errorf("%+v", o)
	}
	catalogue, err := tb.Catalogue(t.Context(), tb.group)
	if err != nil {
		t.Fatal(err)
	}
	values, err := tb.Values(t.Context(), tb.group, catalogue)
	if err != nil {
		t.Fatal(err)
	}
	if w, ok := values.Of("run", "1980"); !ok || w.Melt != 2997 || w.Usual != 4200 {
		t.Errorf("a piece that was seen is worth %+v", w)
	}
	if w, ok := values.Of("run", "1981"); !ok || w.Usual != 2997 {
		t.Errorf("a piece that was not is worth %+v", w)
	}
}

func (tb *table) seen(t *testing.T) []store.Observed {
	t.Helper()
	all, err := tb.ObservedPremiums(t.Context(), tb.group)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// swapAt is swap with an ask for the first piece; 0 for none.
func (tb *table) swapAt(t *testing.T, a, b int, pieceA, pieceB string, ask melt.Minor) int64 {
	t.Helper()
	for _, m := range []int{a, b} {
		limit := melt.Minor(10_000)
		who := tb.members[m]
		who.TopUpLimit = &limit
		if err := tb.SaveMember(t.Context(), who); err != nil {
			t.Fatal(err)
		}
	}
	if ask > 0 {
		tb.change(t, tb.members[a], func(s *store.Shelf) error {
			key := store.HoldingKey{Series: "run", Piece: pieceA}
			if err := s.Offer(key, 1, true); err != nil {
				return err
			}
			s.Describe(key, func(h *store.Holding) { h.Ask = &ask })
			return nil
		})
	}
	return tb.swap(t, a, b, pieceA, pieceB)
}

// close has both parties of a swap go through with it.
func (tb *table) close(t *testing.T, number int64, members ...int) {
	t.Helper()
	for _, m := range members {
		who := tb.members[m]
		if _, err := tb.MoveTrade(t.Context(), who, number, trade.Accept{By: who.Identity(), Version: 1, At: still()}); err != nil {
			t.Fatal(err)
		}
	}
	for _, m := range members {
		who := tb.members[m]
		if _, err := tb.MoveTrade(t.Context(), who, number, trade.Receive{By: who.Identity(), At: still()}); err != nil {
			t.Fatal(err)
		}
	}
	one, err := tb.TradeOf(t.Context(), tb.members[members[0]], number)
	if err != nil {
		t.Fatal(err)
	}
	for _, pay := range one.TopUps {
		for _, m := range members {
			if who := tb.members[m]; who.Identity() == pay.To {
				if _, err := tb.MoveTrade(t.Context(), who, number, trade.GetPaid{By: pay.To, From: pay.From, At: still()}); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}
