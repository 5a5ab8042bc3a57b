package meetup

// edge is two places that are to be at one table.
type edge [2]int

// colour colours the edges of a simple graph so that no two at one place have the same colour, with colours from 0 up, and
// reports whether fewer are impossible. Parts of the graph that do not touch are coloured each for itself.
func colour(places int, edges []edge) (colours []int, count int, fewest bool) {
	colours = make([]int, len(edges))
	fewest = true
	for _, part := range parts(places, edges) {
		own := make([]edge, len(part))
		for i, e := range part {
			own[i] = edges[e]
		}
		c, n, least := colourPart(places, own)
		for i, e := range part {
			colours[e] = c[i]
		}
		if n > count {
			count, fewest = n, least
		} else if n == count {
			fewest = fewest || least // one part that needs them all is enough
		}
	}
	return colours, count, fewest
}

// parts lists the edges of each connected part, in order.
func parts(places int, edges []edge) (all [][]int) {
	root := make([]int, places)
	for p := range root {
		root[p] = p
	}
	var find func(p int) int
	find = func(p int) int {
		if root[p] != p {
			root[p] = find(root[p])
		}
		return root[p]
	}
	for _, e := range edges {
		root[find(e[0])] = find(e[1])
	}
	at := map[int]int{}
	for i, e := range edges {
		r := find(e[0])
		if _, ok := at[r]; !ok {
			at[r] = len(all)
			all = append(all, nil)
		}
		all[at[r]] = append(all[at[r]], i)
	}
	return all
}

// colourPart colours a connected graph: with as many colours as its busiest place has edges where it has two sides, and
// otherwise with one more at most, unless a search finds that it can do without.
func colourPart(places int, edges []edge) (colours []int, count int, fewest bool) {
	degree := make([]int, places)
	busiest, seated := 0, 0
	for _, e := range edges {
		for _, p := range e {
			if degree[p]++; degree[p] == 1 {
				seated++
			}
			busiest = max(busiest, degree[p])
		}
	}
	if twoSided(places, edges) {
		return newPainting(places, busiest, edges).konig(), busiest, true
	}
	// A round has room for half of those seated: if that is too few tables, one more round is needed.
	if len(edges) > busiest*(seated/2) {
		return newPainting(places, busiest+1, edges).vizing(), busiest + 1, true
	}
	found, proved := search(places, edges, busiest)
	if found != nil {
		return found, busiest, true
	}
	vizing := newPainting(places, busiest+1, edges).vizing()
	for _, c := range vizing {
		if c == busiest {
			return vizing, busiest + 1, proved
		}
	}
	return vizing, busiest, true // it did without the last colour
}

// twoSided reports whether the places fall into two sides with no edge inside either.
func twoSided(places int, edges []edge) bool {
	next := make([][]int, places)
	for _, e := range edges {
		next[e[0]], next[e[1]] = append(next[e[0]], e[1]), append(next[e[1]], e[0])
	}
	side := make([]int, places) // 0: not yet known
	for p := range places {
		if side[p] != 0 {
			continue
		}
		side[p] = 1
		for queue := []int{p}; len(queue) > 0; queue = queue[1:] {
			for _, q := range next[queue[0]] {
				if side[q] == side[queue[0]] {
					return false
				}
				if side[q] == 0 {
					side[q] = -side[queue[0]]
					queue = append(queue, q)
				}
			}
		}
	}
	return true
}

const none = -1

// painting is a colouring in the making.
type painting struct {
	edges   []edge
	colours []int   // by edge, or none
	at      [][]int // by place and colour, the edge, or none
}

func newPainting(places, colours int, edges []edge) *painting {
	p := &painting{edges: edges, colours: make([]int, len(edges)), at: make([][]int, places)}
	for i := range p.colours {
		p.colours[i] = none
	}
	for i := range p.at {
		p.at[i] = make([]int, colours)
		for c := range p.at[i] {
			p.at[i][c] = none
		}
	}
	return p
}

// paint gives an edge a colour, or with none takes its colour away.
func (p *painting) paint(e, c int) {
	for _, place := range p.edges[e] {
		if old := p.colours[e]; old != none && p.at[place][old] == e {
			p.at[place][old] = none
		}
		if c != none {
			p.at[place][c] = e
		}
	}
	p.colours[e] = c
}

// free is the first colour that no edge at a place has.
func (p *painting) free(place int) int {
	for c, e := range p.at[place] {
		if e == none {
			return c
		}
	}
	return none
}

func (p *painting) other(e, place int) int { return p.edges[e][0] + p.edges[e][1] - place }

// flip exchanges two colours along the path of edges that have them by turns, from a place at which the second is free.
func (p *painting) flip(place, first, second int) {
	var path []int
	for c := first; p.at[place][c] != none; {
		e := p.at[place][c]
		path = append(path, e)
		place = p.other(e, place)
		c = first + second - c
	}
	was := make([]int, len(path))
	for i, e := range path {
		was[i] = p.colours[e]
		p.paint(e, none)
	}
	for i, e := range path {
		p.paint(e, first+second-was[i])
	}
}

// konig colours a graph of two sides. Where the two ends of an edge have no colour free in common, flipping the path from
// one end makes one: on two sides it can never come round to the other end in the wrong colour (König 1916).
func (p *painting) konig() []int {
	for e, ends := range p.edges {
		a, b := p.free(ends[0]), p.free(ends[1])
		if a != b {
			p.flip(ends[1], a, b)
		}
		p.paint(e, a)
	}
	return p.colours
}

// vizing colours any graph with one more colour than its busiest place has edges, by fans (Misra & Gries 1992).
func (p *painting) vizing() []int {
	for e := range p.edges {
		u := p.edges[e][0]
		fan := p.fan(e, u)
		last := p.other(fan[len(fan)-1], u)
		c, d := p.free(u), p.free(last)
		if c != d {
			p.flip(u, d, c)
		}
		w := 0
		for p.at[p.other(fan[w], u)][d] != none {
			w++
			if !p.follows(fan[w-1], fan[w], u) {
				panic("meetup: no fan ends in the free colour, which Misra and Gries prove to be impossible")
			}
		}
		for i := range w { // turn the fan: each edge takes the colour of the next
			next := p.colours[fan[i+1]]
			p.paint(fan[i+1], none)
			p.paint(fan[i], next)
		}
		p.paint(fan[w], d)
	}
	return p.colours
}

// fan lists edges at u, as many as can be, each with a colour that is free at the far end of the one before, from one that
// has no colour yet.
func (p *painting) fan(e, u int) []int {
	fan := []int{e}
	in := map[int]bool{e: true}
	for grown := true; grown; {
		grown = false
		far := p.at[p.other(fan[len(fan)-1], u)]
		for c, next := range p.at[u] {
			if next != none && !in[next] && far[c] == none {
				fan, in[next], grown = append(fan, next), true, true
				break
			}
		}
	}
	return fan
}

// follows reports whether an edge at u has a colour that is free at the far end of another.
func (p *painting) follows(before, e, u int) bool {
	return p.at[p.other(before, u)][p.colours[e]] == none
}
