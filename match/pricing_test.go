package match

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// A published pricing algorithm for exchanges was wrong (Plaut, Dickerson and Sandholm, AAAI 2016), so ours is held
// against enumeration: at any prices, the trade found to be worth most above the prices of all it uses is the one that
// trying every trade finds, and the bound that the prices prove is not below the best plan.
func TestPricingEqualsEnumeration(t *testing.T) {
	priced, large := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		d := dice(rapid.Uint64().Draw(t, "seed"))
		p := drawPool(d, 12)
		if len(p.Members) > 7 {
			p.Ring, p.Chain = min(p.Ring, 3), min(p.Chain, 3)
		}
		p = thin(p, 60)
		all := allTrades(p)
		m := newMarket(newBook(p), func(int) int64 { return unit })
		pricer := newPricer(m)
		for range 4 {
			for r := range m.rows {
				pricer.price[r] = int64(d.upTo(8) * d.upTo(2) * unit / 2)
			}
			var most int64 // that any trade is worth above the prices
			for _, one := range all {
				most = max(most, int64(one.Gain)*unit-priceOf(p, m, pricer.price, one))
			}
			offers, bound := pricer.run()
			var found int64
			for _, o := range offers {
				one := m.trade(&o.column)
				if broken, gain := referee(p, []Trade{one}); len(broken) > 0 || int64(gain)*unit-priceOf(p, m, pricer.price, one) != o.over {
					t.Fatalf("%+v is offered at %d: %q, it gains %d", one, o.over, broken, gain)
				}
				found = max(found, o.over)
			}
			if found != most {
				t.Fatalf("%d members, ring %d, chain %d: the best offer is worth %d, of %d trades the best %d", len(p.Members), p.Ring, p.Chain, found, len(all), most)
			}
			if most > 0 {
				priced++
				if len(p.Members) > 7 {
					large++
				}
			}
			if len(all) <= 40 {
				if best, _ := bestPlan(p, slices.Clone(all)); bound < int64(best)*unit {
					t.Fatalf("the prices prove %d, the best plan is worth %d", bound, int64(best)*unit)
				}
			}
		}
	})
	if priced == 0 || large == 0 {
		t.Errorf("%d prices left a trade of worth, %d of them in larger pools", priced, large)
	}
}

// priceOf adds up the prices of all that a trade uses: by the pool, spares come first, then wants, then members.
func priceOf(p *Pool, m *market, price []int64, t Trade) (sum int64) {
	for _, leg := range t.Legs {
		for _, item := range leg.Items {
			sum += price[slices.IndexFunc(p.Spares, func(s Spare) bool { return s.Member == leg.From && s.Piece == item.Piece })]
			sum += price[int(m.firstRow.want)+item.Want]
		}
	}
	for _, id := range t.Members() {
		sum += price[int(m.firstRow.trader)+slices.IndexFunc(p.Members, func(m Trader) bool { return m.ID == id })]
	}
	return sum
}
