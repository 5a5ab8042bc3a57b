package match

import (
	"cmp"
	"slices"

	"spareounce/match/melt"
)

// Useful says how much more a group could gain if one member had one more of a piece to spare. Money is what plans are
// expected to gain: with everyone's yes that is their Gain.
type Useful struct {
	Piece  Piece
	Holder Member     // with whom it would help most, as far as is known
	Gain   melt.Minor // what the best plan found with it gains more than the best found without; 0 where none was looked for
	Bound  melt.Minor // the best plan with it, whoever holds it, gains at most so much more than the best without
	Exact  bool       // with that holder, Gain is just what the best plan would gain more than the best without
}

// MostUseful says which piece would help a group most, the greatest gain first: of every piece that is wanted more often
// than it is on offer, what the best plan would gain if one member had one more of it to spare. It counts for what the
// piece is worth, or for what its holder already asks, and is no gift unless theirs are. Nobody is asked to let go of what
// they want themselves. The group is cleared once as it is and short times with one more piece, each time with o's steps;
// all other pieces are only bounded. What could not help is left out.
func MostUseful(p *Pool, o Options, short int) []Useful {
	u := newUsefulness(p, o)
	for range short {
		w := u.next()
		if w == nil {
			break
		}
		u.clear(w)
	}
	return u.result()
}

// usefulness is the work of MostUseful.
type usefulness struct {
	p      *Pool
	o      Options
	base   Plan
	bound  Bound
	wishes []wish
}

// wish is one more of a piece with one member.
type wish struct {
	piece   Piece
	holder  Member
	ranked  int64 // what the best trade found with it is worth above the program's prices, in units
	gain    melt.Minor
	bound   melt.Minor
	cleared bool
	exact   bool
}

func newUsefulness(p *Pool, o Options) *usefulness {
	p, _ = p.inOrder()
	c := newClearing(p, o)
	c.run()
	u := &usefulness{p: p, o: o}
	u.base, u.bound = c.result()
	values := make([]int64, len(c.m.b.names))
	for _, x := range p.Pieces {
		values[c.m.b.pieces[x.ID]] = int64(x.Value)
	}
	prices, bound := c.priced()
	gap := bound - int64(u.base.Expected)*unit
	at, free := newPromise(c.m, prices, values), newPromise(c.m, make([]int64, c.m.rows), values)
	for _, x := range scarce(c.m.b) {
		u.wish(c.m.b, x, gap, at, free)
	}
	slices.SortFunc(u.wishes, func(a, b wish) int {
		return cmp.Or(cmp.Compare(b.ranked, a.ranked), cmp.Compare(b.bound, a.bound),
			cmp.Compare(a.piece, b.piece), cmp.Compare(a.holder, b.holder))
	})
	return u
}

// priced gives the prices that the clearing ended with, and what they prove of any plan, in units.
func (c *clearing) priced() (prices []int64, bound int64) {
	p := newPricer(c.m)
	copy(p.price, c.prices())
	_, bound = p.run()
	return p.price, bound
}

// wish adds the wishes for a piece, one for each who could have one more.
func (u *usefulness) wish(b *book, x int32, gap int64, at, free *promise) {
	var holders []int32
	alone := make([]int64, len(b.traders))
	for h := range int32(len(b.traders)) {
		if b.traders[h].trades <= 0 || b.wanted(h, x) {
			continue
		}
		if alone[h], _ = free.atMost(h, x); alone[h] > 0 {
			holders = append(holders, h)
		}
	}
	above := at.look(x, holders)
	for _, h := range holders {
		most := min(alone[h], max(0, gap+above[h].most))
		u.wishes = append(u.wishes, wish{
			piece: b.names[x], holder: b.ids[h], ranked: max(0, above[h].found), bound: melt.Minor((most + unit - 1) / unit),
		})
	}
}

// scarce lists the pieces that are wanted more often than they are on offer.
func scarce(b *book) []int32 {
	var all []int32
	for x := range int32(len(b.names)) {
		offered := 0
		for _, s := range b.holders[x] {
			offered += int(b.spares[s].count)
		}
		if len(b.takers[x]) > offered {
			all = append(all, x)
		}
	}
	return all
}

// wanted reports whether a piece fills a want of a trader.
func (b *book) wanted(trader, piece int32) bool {
	return slices.ContainsFunc(b.takers[piece], func(t taker) bool { return t.trader == trader })
}

// next is the most promising wish that is yet to be cleared: those of pieces that were cleared less often come first, as
// long as they could help at all.
func (u *usefulness) next() *wish {
	tries := map[Piece]int{}
	found := map[Piece]melt.Minor{}
	for i := range u.wishes {
		if w := &u.wishes[i]; w.cleared {
			tries[w.piece]++
			found[w.piece] = max(found[w.piece], w.gain)
		}
	}
	var best *wish
	for i := range u.wishes {
		w := &u.wishes[i]
		if w.cleared || w.bound <= found[w.piece] {
			continue
		}
		if best == nil || w.share(tries) > best.share(tries) {
			best = w
		}
	}
	return best
}

// share is what a wish promises, halved for every other holder of the piece that was tried.
func (w *wish) share(tries map[Piece]int) int64 {
	promised := min(w.ranked, int64(w.bound)*unit)
	return promised >> min(62, tries[w.piece])
}

// clear clears the group anew with the wish come true.
func (u *usefulness) clear(w *wish) {
	plan, bound := Clear(u.p.withOneMore(w.holder, w.piece), u.o)
	w.cleared = true
	w.bound = max(0, min(w.bound, bound.Gain-u.base.Expected))
	w.gain = min(max(0, plan.Expected-u.base.Expected), w.bound)
	if bound.Optimal && u.bound.Optimal {
		w.bound, w.exact = w.gain, true
	}
}

// withOneMore is the pool with one more of a piece with a member.
func (p *Pool) withOneMore(m Member, piece Piece) *Pool {
	more := *p
	more.Spares = slices.Clone(p.Spares)
	for i := range more.Spares {
		if s := &more.Spares[i]; s.Member == m && s.Piece == piece {
			s.Count++
			return &more
		}
	}
	made := Spare{Member: m, Piece: piece, Count: 1}
	for _, x := range p.Pieces {
		if x.ID == piece {
			made.Value = x.Value
		}
	}
	more.Spares = append(more.Spares, made)
	return &more
}

// result sums up the wishes by piece.
func (u *usefulness) result() []Useful {
	at := map[Piece]int{}
	var all []Useful
	for _, w := range u.wishes {
		i, ok := at[w.piece]
		if !ok {
			i = len(all)
			at[w.piece] = i
			all = append(all, Useful{Piece: w.piece, Holder: w.holder})
		}
		if one := &all[i]; w.cleared && w.gain > one.Gain {
			one.Holder, one.Gain, one.Exact = w.holder, w.gain, w.exact
		}
		all[i].Bound = max(all[i].Bound, w.bound)
	}
	all = slices.DeleteFunc(all, func(one Useful) bool { return one.Bound == 0 })
	slices.SortStableFunc(all, func(a, b Useful) int {
		return cmp.Or(cmp.Compare(b.Gain, a.Gain), cmp.Compare(b.Bound, a.Bound), cmp.Compare(a.Piece, b.Piece))
	})
	return all
}
