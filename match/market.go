package match

import (
	"cmp"
	"slices"
)

// unit is how many parts of a minor unit prices and scores are counted in while a group is cleared.
const unit = 1024

// market is a book with all its arcs laid out, for clearing a whole group.
type market struct {
	b        *book
	n        int32
	arcs     []arc
	to       []int32 // by arc: where it leads
	start    []int32 // arcs from trader i are start[i] to start[i+1], by where they lead
	back     []int32 // by arc: the arc the other way, or -1
	into     [][]int32
	all      []candidate
	factor   []int64 // by members of a trade: what a minor unit of its gain counts for, in units
	firstRow struct{ want, trader int32 }
	rows     int32 // spares, then wants, then traders
	capacity []int64
}

// arc is a way from one trader to another, with all that could travel along it.
type arc struct {
	from, to, lo, hi int32
	parcel           int64
}

// newMarket lays out the arcs between traders who may still trade. A trade of k members counts with factor(k) units for
// each minor unit it gains.
func newMarket(b *book, factor func(members int) int64) *market {
	m := &market{b: b, n: int32(len(b.traders))}
	m.start = append(m.start, 0)
	m.into = make([][]int32, m.n)
	for from := range m.n {
		if b.traders[from].trades > 0 {
			m.addArcs(from)
		}
		m.start = append(m.start, int32(len(m.arcs)))
	}
	for e, a := range m.arcs {
		m.to = append(m.to, a.to)
		m.into[a.to] = append(m.into[a.to], int32(e))
		m.back = append(m.back, m.arcBetween(a.to, a.from))
	}
	m.factor = []int64{0, 0}
	for k := 2; k <= max(b.ring, b.chain, 2) && k <= len(b.traders)+1; k++ {
		m.factor = append(m.factor, factor(k))
	}
	m.firstRow.want = int32(len(b.spares))
	m.firstRow.trader = m.firstRow.want + int32(len(b.wants))
	m.rows = m.firstRow.trader + m.n
	for _, s := range b.spares {
		m.capacity = append(m.capacity, int64(s.count))
	}
	for range b.wants {
		m.capacity = append(m.capacity, 1)
	}
	for _, t := range b.traders {
		m.capacity = append(m.capacity, int64(t.trades))
	}
	return m
}

func (m *market) addArcs(from int32) {
	var found []pairing
	for _, s := range m.b.traders[from].spares {
		for _, t := range m.b.takers[m.b.spares[s].piece] {
			if t.trader != from && m.b.traders[t.trader].trades > 0 {
				found = append(found, pairing{t.trader, m.b.candidate(s, t, m.b.tariff(from, t.trader))})
			}
		}
	}
	slices.SortFunc(found, func(a, b pairing) int {
		return cmp.Or(cmp.Compare(a.partner, b.partner), cmp.Compare(b.gain-b.ship, a.gain-a.ship), cmp.Compare(a.spare, b.spare), cmp.Compare(a.want, b.want))
	})
	for i := 0; i < len(found); {
		a := arc{from: from, to: found[i].partner, lo: int32(len(m.all)), parcel: m.b.tariff(from, found[i].partner).parcel}
		for ; i < len(found) && found[i].partner == a.to; i++ {
			m.all = append(m.all, found[i].candidate)
		}
		a.hi = int32(len(m.all))
		m.arcs = append(m.arcs, a)
	}
}

// arcBetween finds the arc from one trader to another, or -1.
func (m *market) arcBetween(from, to int32) int32 {
	if int(from)+1 >= len(m.start) {
		from = m.n - 1
	}
	at, ok := slices.BinarySearchFunc(m.arcs[m.start[from]:m.start[from+1]], to, func(a arc, to int32) int { return cmp.Compare(a.to, to) })
	if !ok {
		return -1
	}
	return m.start[from] + int32(at)
}

// allWants is what every want filled with the best there is would be worth, with no postage: no plan is worth more.
func (m *market) allWants() (sum int64) {
	best := make([]int64, len(m.b.wants))
	for i := range m.all {
		best[m.all[i].want] = max(best[m.all[i].want], m.all[i].gain)
	}
	for _, gain := range best {
		if gain > 0 {
			sum += gain * m.factor[2] // no longer trade counts for more
		}
	}
	return sum
}

func (m *market) candidates(e int32) []candidate { return m.all[m.arcs[e].lo:m.arcs[e].hi] }

// column is a trade by places: a circuit and a bundle on each of its arcs.
type column struct {
	kind  Kind
	arcs  []int32
	items []uint64
	gain  int64 // in minor units
	worth int64 // what it counts for, in units
}

func (m *market) members(c *column) []int32 {
	ring := make([]int32, 0, len(c.arcs)+1)
	for _, e := range c.arcs {
		ring = append(ring, m.arcs[e].from)
	}
	if c.kind == Chain {
		ring = append(ring, m.to[c.arcs[len(c.arcs)-1]])
	}
	return ring
}

// weigh works out what a column gains.
func (m *market) weigh(c *column) {
	c.gain = 0
	for k, e := range c.arcs {
		c.gain -= m.arcs[e].parcel
		for i, one := range m.candidates(e) {
			if c.items[k]>>i&1 != 0 {
				c.gain += one.gain - one.ship
			}
		}
	}
	size := len(c.arcs)
	if c.kind == Chain {
		size++
	}
	c.worth = c.gain * m.factor[size]
}

// uses appends to rows every resource that a column takes one of; what it takes two of stands there twice.
func (m *market) uses(rows []int32, c *column) []int32 {
	for k, e := range c.arcs {
		for i, one := range m.candidates(e) {
			if i < mostCandidates && c.items[k]>>i&1 != 0 {
				rows = append(rows, one.spare, m.firstRow.want+one.want)
			}
		}
		rows = append(rows, m.firstRow.trader+m.arcs[e].from)
	}
	if c.kind == Chain {
		rows = append(rows, m.firstRow.trader+m.to[c.arcs[len(c.arcs)-1]])
	}
	return rows
}

// trade writes a column with names.
func (m *market) trade(c *column) Trade {
	var arcs [][]candidate
	var parcels []int64
	var chosen []bundle
	for k, e := range c.arcs {
		arcs = append(arcs, m.candidates(e))
		parcels = append(parcels, m.arcs[e].parcel)
		chosen = append(chosen, bundle{items: c.items[k]})
	}
	return m.b.trade(c.kind, m.members(c), arcs, parcels, chosen)
}

// circuitKey tells circuits apart, whatever their bundles.
func circuitKey(kind Kind, arcs []int32) string {
	key := make([]byte, 0, 4*len(arcs)+1)
	for _, e := range arcs {
		key = append(key, byte(e), byte(e>>8), byte(e>>16), byte(e>>24))
	}
	return string(append(key, byte(kind)))
}

// pathOf reads the arcs of a circuit's key.
func pathOf(key string) []int32 {
	var path []int32
	for i := 0; i+4 <= len(key); i += 4 {
		path = append(path, int32(key[i])|int32(key[i+1])<<8|int32(key[i+2])<<16|int32(key[i+3])<<24)
	}
	return path
}

// key tells columns apart.
func (c *column) key() string {
	key := make([]byte, 0, 12*len(c.arcs)+1)
	for k, e := range c.arcs {
		key = append(key, byte(e), byte(e>>8), byte(e>>16), byte(e>>24))
		for s := 0; s < 64; s += 8 {
			key = append(key, byte(c.items[k]>>s))
		}
	}
	return string(append(key, byte(c.kind)))
}
