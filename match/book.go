package match

import (
	"cmp"
	"math"
	"slices"

	"spareounce/match/melt"
)

// book is a pool by places instead of names: what every search reads.
type book struct {
	ring, chain int
	minGain     int64
	ids         []Member
	traders     []trader
	names       []Piece // pieces by place
	spares      []spare
	counts      []int64 // by spare
	wants       []want
	place       map[Member]int32
	pieces      map[Piece]int32
	micro       []int64   // by piece, millionths of an ounce
	holders     [][]int32 // by piece, spares
	takers      [][]taker // by piece
	regions     map[string]int32
	tariffs     map[[2]int32]tariff
	postage     []tariff // the same, of region a to region b at a*width+b
	width       int
	gifts       int // spares offered as gifts
}

type trader struct {
	region int32
	topUp  int64
	trades int32
	spares []int32
	wants  []int32
}

type spare struct {
	trader, piece, count int32
	gift                 bool
	value                int64
}

type want struct {
	trader int32
	fill   []fill
}

type fill struct {
	piece int32
	gain  int64
}

// taker is a want that a piece would fill.
type taker struct {
	want, trader int32
	gain         int64
}

type tariff struct{ parcel, ounce int64 }

// newBook reads a pool. Spares and wants of members who are not listed, and spares of nothing, stand in it at their
// places but can never be traded.
func newBook(p *Pool) *book {
	b := &book{
		ring: p.Ring, chain: p.Chain, minGain: int64(p.MinGain), place: make(map[Member]int32, len(p.Members)),
		pieces: make(map[Piece]int32, len(p.Pieces)), regions: map[string]int32{}, tariffs: map[[2]int32]tariff{},
	}
	for _, t := range p.Postage {
		b.tariffs[[2]int32{b.region(t.From), b.region(t.To)}] = tariff{int64(t.Parcel), int64(t.Ounce)}
	}
	b.spread()
	for _, m := range p.Members {
		b.addTrader(m)
	}
	for _, m := range p.Pieces {
		b.micro[b.piece(m.ID)] = microOunces(m.Ounces)
	}
	for _, s := range p.Spares {
		b.addSpare(s)
	}
	for _, w := range p.Wants {
		b.addWant(w)
	}
	return b
}

// microOunces is a weight to the millionth of an ounce, so that all that follows is whole.
func microOunces(ounces float64) int64 { return int64(math.Round(ounces * 1e6)) }

func (b *book) region(name string) int32 {
	r, ok := b.regions[name]
	if !ok {
		r = int32(len(b.regions))
		b.regions[name] = r
		b.spread()
	}
	return r
}

// regionsSpread is how many regions have their tariffs laid out in a table.
const regionsSpread = 64

// spread lays the tariffs out for all regions there are, unless there are too many.
func (b *book) spread() {
	if b.width = len(b.regions); b.width > regionsSpread {
		b.postage = nil
		return
	}
	b.postage = make([]tariff, b.width*b.width)
	for pair, t := range b.tariffs {
		b.postage[int(pair[0])*b.width+int(pair[1])] = t
	}
}

func (b *book) piece(id Piece) int32 {
	p, ok := b.pieces[id]
	if !ok {
		p = int32(len(b.names))
		b.pieces[id] = p
		b.names = append(b.names, id)
		b.micro = append(b.micro, 0)
		b.holders = append(b.holders, nil)
		b.takers = append(b.takers, nil)
	}
	return p
}

func (b *book) addTrader(m Trader) int32 {
	i, ok := b.place[m.ID]
	if !ok {
		i = int32(len(b.traders))
		b.place[m.ID] = i
		b.ids = append(b.ids, m.ID)
		b.traders = append(b.traders, trader{})
	}
	t := &b.traders[i]
	t.region, t.topUp, t.trades = b.region(m.Region), int64(m.TopUp), int32(m.Trades)
	return i
}

func (b *book) addSpare(s Spare) int32 {
	at := int32(len(b.spares))
	owner, ok := b.place[s.Member]
	if !ok {
		owner = -1
	}
	piece := b.piece(s.Piece)
	b.spares = append(b.spares, spare{trader: owner, piece: piece, count: int32(s.Count), gift: s.Gift, value: int64(s.Value)})
	b.counts = append(b.counts, int64(s.Count))
	if ok && s.Count > 0 {
		b.traders[owner].spares = append(b.traders[owner].spares, at)
		if s.Gift {
			b.gifts++
		}
		b.holders[piece] = append(b.holders[piece], at)
	}
	return at
}

func (b *book) addWant(w Want) int32 {
	at := int32(len(b.wants))
	owner, ok := b.place[w.Member]
	if !ok {
		owner = -1
	}
	made := want{trader: owner}
	for _, f := range w.Fill {
		piece := b.piece(f.Piece)
		made.fill = append(made.fill, fill{piece, int64(f.Gain)})
		if ok {
			b.takers[piece] = append(b.takers[piece], taker{at, owner, int64(f.Gain)})
		}
	}
	b.wants = append(b.wants, made)
	if ok {
		b.traders[owner].wants = append(b.traders[owner].wants, at)
	}
	return at
}

// tariff is what a parcel from one trader to another costs.
func (b *book) tariff(from, to int32) tariff {
	a, z := b.traders[from].region, b.traders[to].region
	if b.postage == nil {
		return b.tariffs[[2]int32{a, z}]
	}
	return b.postage[int(a)*b.width+int(z)]
}

// weightCost is what a piece adds to the cost of a parcel, rounded up.
func (t tariff) weightCost(micro int64) int64 {
	if t.ounce == 0 || micro == 0 {
		return 0
	}
	if micro <= math.MaxInt64/t.ounce-1 {
		return (t.ounce*micro + 999_999) / 1_000_000
	}
	return t.ounce * (micro/1_000_000 + 1) // a sum beyond all bounds that ReadPool sets
}

// candidate makes the candidate of a spare for a taker.
func (b *book) candidate(s int32, t taker, by tariff) candidate {
	return candidate{s, t.want, b.spares[s].value, t.gain, by.weightCost(b.micro[b.spares[s].piece])}
}

// candidates lists what one trader could give another, in the order of the spares and wants.
func (b *book) candidates(from, to int32) []candidate {
	by := b.tariff(from, to)
	spares, wants := b.traders[from].spares, b.traders[to].wants
	takers := 0
	for _, s := range spares {
		takers += len(b.takers[b.spares[s].piece])
	}
	var all []candidate
	if takers <= 8*len(wants) {
		for _, s := range spares {
			for _, t := range b.takers[b.spares[s].piece] {
				if t.trader == to {
					all = append(all, b.candidate(s, t, by))
				}
			}
		}
		return all
	}
	for _, w := range wants { // the same by way of the receiver's wants
		for _, f := range b.wants[w].fill {
			for _, s := range spares {
				if b.spares[s].piece == f.piece {
					all = append(all, b.candidate(s, taker{w, to, f.gain}, by))
				}
			}
		}
	}
	slices.SortStableFunc(all, func(x, y candidate) int { return slices.Index(spares, x.spare) - slices.Index(spares, y.spare) })
	return all
}

// trade writes a trade found by places with names.
func (b *book) trade(kind Kind, ring []int32, arcs [][]candidate, parcels []int64, chosen []bundle) Trade {
	t := Trade{Kind: kind}
	owes := make([]melt.Minor, len(ring))
	ids := make([]Member, len(ring))
	for i, m := range ring {
		ids[i] = b.ids[m]
	}
	for i, c := range chosen {
		to := (i + 1) % len(ring)
		leg := Leg{From: ids[i], To: ids[to]}
		t.Gain -= melt.Minor(parcels[i])
		for j, one := range arcs[i] {
			if c.items>>j&1 == 0 {
				continue
			}
			leg.Items = append(leg.Items, Item{b.names[b.spares[one.spare].piece], int(one.want)})
			t.Gain += melt.Minor(one.gain - one.ship)
			owes[to] += melt.Minor(one.value)
			owes[i] -= melt.Minor(one.value)
		}
		slices.SortFunc(leg.Items, compareItems)
		t.Legs = append(t.Legs, leg)
	}
	if kind == Ring {
		t.TopUps = settle(owes, ids)
	}
	return t
}

// compareTrades puts the greater gain first, then the shorter trade, then names.
func compareTrades(a, b Trade) int {
	return cmp.Or(cmp.Compare(b.Gain, a.Gain), cmp.Compare(len(a.Legs), len(b.Legs)), cmp.Compare(a.Kind, b.Kind),
		slices.Compare(a.Members(), b.Members()), slices.CompareFunc(a.Legs, b.Legs, func(x, y Leg) int {
			return slices.CompareFunc(x.Items, y.Items, compareItems)
		}))
}
