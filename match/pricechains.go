package match

import "slices"

// chains finds the chains that are worth more than they cost, by depth-first search within what the best way on could add.
func (p *pricer) chains(offers []offer) []offer {
	m := p.m
	hasGift := slices.ContainsFunc(m.b.spares, func(s spare) bool { return s.gift && s.trader >= 0 && s.count > 0 })
	if m.b.chain < 2 || !hasGift {
		return offers
	}
	for size := 2; size <= m.b.chain && size <= p.upTo; size++ {
		p.found = p.found[:0]
		p.tops(size, true)
		gifts := slices.Clone(p.net)
		p.tops(size, false)
		p.scanChains(size, gifts)
		p.favour(size, Chain)
		offers = p.search(offers, size, Chain)
	}
	return offers
}

// scanChains finds chains of so many members, given what the arcs of gifts are worth.
func (p *pricer) scanChains(size int, gifts []int64) {
	m := p.m
	on := make([][]int64, size) // on[l][v]: the best walk of l arcs from v
	for l := range on {
		on[l] = make([]int64, m.n)
		for v := range m.n {
			if l == 0 {
				continue
			}
			on[l][v] = nothing
			for e := m.start[v]; e < m.start[v+1]; e++ {
				if on[l-1][m.to[e]] > nothing {
					on[l][v] = max(on[l][v], p.net[e]+on[l-1][m.to[e]])
				}
			}
		}
	}
	p.steps += 1 + size*len(m.arcs)/1000
	used := make([]bool, m.n)
	var path []int32
	var walk func(v int32, over int64)
	walk = func(v int32, over int64) {
		left := size - 1 - len(path)
		p.steps++
		if left == 0 {
			p.note(prospect{kind: Chain, long: slices.Clone(path), size: int32(len(path)), over: over})
			return
		}
		for e := m.start[v]; e < m.start[v+1]; e++ {
			net := p.net[e]
			if len(path) == 0 {
				net = gifts[e]
			}
			to := m.to[e]
			if used[to] || on[left-1][to] == nothing || over+net+on[left-1][to] <= 0 {
				continue
			}
			used[to] = true
			path = append(path, e)
			walk(to, over+net)
			path = path[:len(path)-1]
			used[to] = false
		}
	}
	for first := range m.n {
		used[first] = true
		walk(first, -p.trader(first))
		used[first] = false
	}
}
