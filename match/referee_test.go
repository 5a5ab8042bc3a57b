package match

import (
	"fmt"
	"math"
	"slices"

	"spareounce/match/melt"
)

// referee checks a set of trades against every rule, by the pool alone and by none of the package's own working, and
// returns what is broken and the gain. It is written from the rules, slowly and plainly.
func referee(p *Pool, trades []Trade) (broken []string, gain melt.Minor) {
	r := refereeing{p: p, given: map[[2]string]int{}, filled: map[int]bool{}, in: map[Member]int{}}
	seen := map[string]bool{}
	for n, t := range trades {
		got := r.trade(t)
		if got != t.Gain {
			r.wrong("trade %d says it gains %d, it gains %d", n, t.Gain, got)
		}
		gain += got
		ids := t.Members()
		if t.Kind == Ring {
			least := slices.Index(ids, slices.Min(ids))
			ids = append(ids[least:len(ids):len(ids)], ids[:least]...)
		}
		key := fmt.Sprintf("%d %q", t.Kind, ids)
		if seen[key] {
			r.wrong("%s stands twice", key)
		}
		seen[key] = true
	}
	for key, n := range r.given {
		for _, s := range p.Spares {
			if string(s.Member) == key[0] && string(s.Piece) == key[1] && n > s.Count {
				r.wrong("%s gives %d of %s", key[0], n, key[1])
			}
		}
	}
	for m, n := range r.in {
		if t := r.trader(m); n > t.Trades {
			r.wrong("%s is in %d trades", m, n)
		}
	}
	return r.broken, gain
}

type refereeing struct {
	p      *Pool
	broken []string
	given  map[[2]string]int
	filled map[int]bool
	in     map[Member]int
}

func (r *refereeing) wrong(format string, args ...any) {
	r.broken = append(r.broken, fmt.Sprintf(format, args...))
}

func (r *refereeing) trader(m Member) Trader {
	for _, t := range r.p.Members {
		if t.ID == m {
			return t
		}
	}
	r.wrong("%q is no member", m)
	return Trader{}
}

// account is one member's side of a trade.
type account struct{ gets, gives, gains, ships melt.Minor }

func (r *refereeing) trade(t Trade) melt.Minor {
	ids := t.Members()
	most := r.p.Ring
	if t.Kind == Chain {
		most = r.p.Chain
	}
	if len(ids) < 2 || len(ids) > most {
		r.wrong("%d members in a %v of at most %d", len(ids), t.Kind, most)
		return 0
	}
	accounts := map[Member]*account{}
	for _, m := range ids {
		if accounts[m] != nil {
			r.wrong("%s stands twice in a trade", m)
		}
		accounts[m] = &account{}
		r.in[m]++
	}
	for i, leg := range t.Legs {
		if leg.From != ids[i] || leg.To != ids[(i+1)%len(ids)] {
			r.wrong("leg %d goes from %s to %s in %q", i, leg.From, leg.To, ids)
			return 0
		}
		r.leg(leg, t.Kind == Chain && i == 0, accounts[leg.From], accounts[leg.To])
	}
	r.topUps(t, accounts)
	var total melt.Minor
	for i, m := range ids {
		a := accounts[m]
		total += a.gains - a.ships
		if t.Kind == Chain && i == 0 {
			continue
		}
		if a.gains-a.ships < r.p.MinGain {
			r.wrong("%s nets %d", m, a.gains-a.ships)
		}
		if t.Kind == Chain && i < len(ids)-1 && a.gives > a.gets {
			r.wrong("%s passes on %d of %d", m, a.gives, a.gets)
		}
		if limit := r.trader(m).TopUp; t.Kind == Ring && a.gets-a.gives > limit {
			r.wrong("%s pays %d, limit %d", m, a.gets-a.gives, limit)
		}
	}
	return total
}

func (r *refereeing) leg(leg Leg, gift bool, from, to *account) {
	if len(leg.Items) == 0 {
		r.wrong("%s gives %s nothing", leg.From, leg.To)
	}
	var by Tariff
	for _, t := range r.p.Postage {
		if t.From == r.trader(leg.From).Region && t.To == r.trader(leg.To).Region {
			by = t
		}
	}
	from.ships += by.Parcel
	for _, item := range leg.Items {
		r.given[[2]string{string(leg.From), string(item.Piece)}]++
		at := slices.IndexFunc(r.p.Spares, func(s Spare) bool { return s.Member == leg.From && s.Piece == item.Piece })
		if at < 0 {
			r.wrong("%s has no %s", leg.From, item.Piece)
			continue
		}
		if gift && !r.p.Spares[at].Gift {
			r.wrong("%s is no gift of %s", item.Piece, leg.From)
		}
		from.gives += r.p.Spares[at].Value
		to.gets += r.p.Spares[at].Value
		for _, piece := range r.p.Pieces {
			if piece.ID == item.Piece {
				from.ships += melt.Minor(math.Ceil(float64(by.Ounce)*piece.Ounces - 1e-6))
			}
		}
		if item.Want < 0 || item.Want >= len(r.p.Wants) || r.p.Wants[item.Want].Member != leg.To || r.filled[item.Want] {
			r.wrong("want %d is not a free want of %s", item.Want, leg.To)
			continue
		}
		r.filled[item.Want] = true
		fill := slices.IndexFunc(r.p.Wants[item.Want].Fill, func(f Fill) bool { return f.Piece == item.Piece })
		if fill < 0 {
			r.wrong("%s does not fill want %d", item.Piece, item.Want)
			continue
		}
		to.gains += r.p.Wants[item.Want].Fill[fill].Gain
	}
}

// topUps checks that what is paid is what makes each member even.
func (r *refereeing) topUps(t Trade, accounts map[Member]*account) {
	if t.Kind == Chain {
		if len(t.TopUps) > 0 {
			r.wrong("money in a chain")
		}
		return
	}
	pays := map[Member]melt.Minor{}
	for _, u := range t.TopUps {
		if u.Amount <= 0 || accounts[u.From] == nil || accounts[u.To] == nil {
			r.wrong("top-up %v", u)
		}
		pays[u.From] += u.Amount
		pays[u.To] -= u.Amount
	}
	for m, a := range accounts {
		if pays[m] != a.gets-a.gives {
			r.wrong("%s pays %d to make up for %d", m, pays[m], a.gets-a.gives)
		}
	}
}
