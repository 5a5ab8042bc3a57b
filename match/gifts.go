package match

// A look for one member tries chains of up to three members; longer ones are left to clearing a whole group.

// giftsOf keeps the candidates of an arc that are offered as gifts.
func (l *look) giftsOf(arc []candidate) []candidate {
	var gifts []candidate
	for _, c := range arc {
		if l.b.spares[c.spare].gift {
			gifts = append(gifts, c)
		}
	}
	return gifts
}

// giftsOut and giftsIn are my arcs with gifts alone, and what must be given or filled among them if anything.
func (l *look) giftsOut(i int) ([]candidate, listing) {
	arc := l.giftsOf(l.outArc(int32(i)))
	return arc, l.with(l.list(arc, l.out.parcels[i]), arc, l.spare, -1)
}

func (l *look) giftsIn(j int) ([]candidate, listing) {
	arc := l.giftsOf(l.inArc(int32(j)))
	return arc, l.with(l.list(arc, l.in.parcels[j]), arc, -1, l.want)
}

// chainsOfTwo tries what I could give, and be given, for nothing.
func (l *look) chainsOfTwo() {
	if l.want < 0 {
		for i, to := range l.out.partners {
			arc, gives := l.giftsOut(i)
			l.try(Chain, []int32{l.me, to}, [][]candidate{arc}, l.out.parcels[i:i+1], []listing{gives})
		}
	}
	if l.spare < 0 {
		for j, from := range l.in.partners {
			arc, gets := l.giftsIn(j)
			l.try(Chain, []int32{from, l.me}, [][]candidate{arc}, l.in.parcels[j:j+1], []listing{gets})
		}
	}
}

// chainsOfThree tries me in each place of a chain of three.
func (l *look) chainsOfThree() {
	for j, from := range l.in.partners {
		if arc, gets := l.giftsIn(j); len(arc) > 0 {
			for i, to := range l.out.partners {
				if to != from {
					l.try(Chain, []int32{from, l.me, to}, [][]candidate{arc, l.outArc(int32(i))},
						[]int64{l.in.parcels[j], l.out.parcels[i]}, []listing{gets, l.giving(int32(i))})
				}
			}
		}
		if l.spare >= 0 {
			continue
		}
		before := l.b.in(from, -1, true, nil, nil) // someone begins it, from passes on to me
		for k, first := range before.partners {
			if first != l.me {
				l.try(Chain, []int32{first, from, l.me}, [][]candidate{before.arcs[k], l.inArc(int32(j))},
					[]int64{before.parcels[k], l.in.parcels[j]},
					[]listing{l.list(before.arcs[k], before.parcels[k]), l.receiving(int32(j))})
			}
		}
	}
	if l.want >= 0 {
		return
	}
	for i, to := range l.out.partners {
		arc, gives := l.giftsOut(i)
		if len(arc) == 0 {
			continue
		}
		after := l.b.out(to, -1, false, nil, nil) // I begin it, they pass on
		for k, last := range after.partners {
			if last != l.me {
				l.try(Chain, []int32{l.me, to, last}, [][]candidate{arc, after.arcs[k]},
					[]int64{l.out.parcels[i], after.parcels[k]},
					[]listing{gives, l.list(after.arcs[k], after.parcels[k])})
			}
		}
	}
}
