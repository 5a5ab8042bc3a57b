package match

import (
	"cmp"
	"slices"

	"spareounce/match/melt"
)

// Index answers which trades a member could be in. It is made of a pool, which must not change after; it is then only
// read, by any number of goroutines.
type Index struct {
	pool    *Pool
	place   map[Member]int // traders by identity
	spares  [][]offer      // by trader, in the pool's order
	wants   [][]int        // by trader, places in the pool's wants
	wanters map[Piece][]filling
	holders map[Piece][]int // traders who can spare a piece, ascending
	tariffs map[[2]string]Tariff
	ounces  map[Piece]float64
}

// offer is a spare of one trader.
type offer struct {
	piece Piece
	count int
	value melt.Minor
	gift  bool
}

// filling is a want that a piece would fill.
type filling struct {
	trader, want int
	gain         melt.Minor
}

// candidate is a piece that one trader could give another, for one of the other's wants.
type candidate struct {
	Item
	value, gain melt.Minor
	ounces      float64
	count       int // how many of the piece there are to give
	gift        bool
}

// NewIndex makes an index.
func NewIndex(p *Pool) *Index {
	x := &Index{
		pool: p, place: map[Member]int{}, spares: make([][]offer, len(p.Members)), wants: make([][]int, len(p.Members)),
		wanters: map[Piece][]filling{}, holders: map[Piece][]int{}, tariffs: map[[2]string]Tariff{}, ounces: map[Piece]float64{},
	}
	for i, m := range p.Members {
		x.place[m.ID] = i
	}
	for _, piece := range p.Pieces {
		x.ounces[piece.ID] = piece.Ounces
	}
	for _, t := range p.Postage {
		x.tariffs[[2]string{t.From, t.To}] = t
	}
	for _, s := range p.Spares {
		i, ok := x.place[s.Member]
		if ok && s.Count > 0 {
			x.spares[i] = append(x.spares[i], offer{s.Piece, s.Count, s.Value, s.Gift})
			x.holders[s.Piece] = append(x.holders[s.Piece], i)
		}
	}
	for n, w := range p.Wants {
		i, ok := x.place[w.Member]
		if !ok {
			continue
		}
		x.wants[i] = append(x.wants[i], n)
		for _, f := range w.Fill {
			x.wanters[f.Piece] = append(x.wanters[f.Piece], filling{i, n, f.Gain})
		}
	}
	return x
}

// receivers lists the traders who want anything that i can spare, ascending.
func (x *Index) receivers(i int) []int {
	found := map[int]bool{}
	for _, o := range x.spares[i] {
		for _, f := range x.wanters[o.piece] {
			if f.trader != i {
				found[f.trader] = true
			}
		}
	}
	return sortedKeys(found)
}

// givers lists the traders who can spare anything that i wants, ascending.
func (x *Index) givers(i int) []int {
	found := map[int]bool{}
	for _, n := range x.wants[i] {
		for _, f := range x.pool.Wants[n].Fill {
			for _, holder := range x.holders[f.Piece] {
				if holder != i {
					found[holder] = true
				}
			}
		}
	}
	return sortedKeys(found)
}

func sortedKeys(set map[int]bool) []int {
	keys := make([]int, 0, len(set))
	for k := range set {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// candidates lists what from could give to: for each want of to the piece that gains it most, the greatest gain first.
func (x *Index) candidates(from, to int) []candidate {
	best := map[int]candidate{}
	for _, o := range x.spares[from] {
		for _, f := range x.wanters[o.piece] {
			if f.trader != to {
				continue
			}
			c := candidate{Item{o.piece, f.want}, o.value, f.gain, x.ounces[o.piece], o.count, o.gift}
			if old, ok := best[f.want]; !ok || c.gain > old.gain || c.gain == old.gain && c.value < old.value {
				best[f.want] = c
			}
		}
	}
	all := make([]candidate, 0, len(best))
	for _, c := range best {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(b.gain, a.gain), cmp.Compare(a.value, b.value), cmp.Compare(a.Want, b.Want))
	})
	return all
}

// postage is what a bundle costs its sender; parts of a minor unit count as one.
func (x *Index) postage(from, to int, ounces float64) melt.Minor {
	t, ok := x.tariffs[[2]string{x.pool.Members[from].Region, x.pool.Members[to].Region}]
	if !ok {
		return 0
	}
	perOunce := float64(t.Ounce) * ounces
	whole := melt.Minor(perOunce)
	if float64(whole) < perOunce {
		whole++
	}
	return t.Parcel + whole
}
