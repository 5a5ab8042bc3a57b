package series

import "maps"

// Completion is how far a set has come.
type Completion struct {
	Slots  []Slot
	Filled []string       // by place in Slots, the code of the piece that stands there; "" when missing
	Had    int            // slots filled
	Extra  map[string]int // pieces held that stand in no slot, by code
}

// Missing lists the slots that are not filled.
func (c Completion) Missing() []Slot {
	var missing []Slot
	for i, slot := range c.Slots {
		if c.Filled[i] == "" {
			missing = append(missing, slot)
		}
	}
	return missing
}

// Complete puts held pieces, counted by code, into slots: one piece fills one slot, and as many slots are filled as can
// be. That is a maximum matching in a bipartite graph, found by augmenting paths (Berge 1957): a slot that finds its
// pieces taken asks whoever took them to move over. The same input gives the same answer.
func Complete(slots []Slot, held map[string]int) Completion {
	m := matching{slots: slots, free: maps.Clone(held), filled: make([]string, len(slots)), standing: map[string][]int{}}
	if m.free == nil {
		m.free = map[string]int{}
	}
	for i := range slots {
		m.seen = map[string]bool{}
		m.place(i)
	}
	c := Completion{Slots: slots, Filled: m.filled, Extra: map[string]int{}}
	for _, code := range m.filled {
		if code != "" {
			c.Had++
		}
	}
	for code, n := range m.free {
		if n > 0 {
			c.Extra[code] = n
		}
	}
	return c
}

type matching struct {
	slots    []Slot
	free     map[string]int   // pieces not standing anywhere
	filled   []string         // by slot
	standing map[string][]int // by piece, the slots it stands in
	seen     map[string]bool  // pieces already asked for on this path
}

// place fills slot i if it can be filled, moving pieces between slots where that makes room.
func (m *matching) place(i int) bool {
	for _, code := range m.slots[i].Fill {
		if m.free[code] > 0 {
			m.free[code]--
			m.put(i, code)
			return true
		}
	}
	for _, code := range m.slots[i].Fill {
		if m.seen[code] {
			continue
		}
		m.seen[code] = true
		for at, other := range m.standing[code] {
			if m.place(other) {
				m.standing[code][at] = i
				m.filled[i] = code
				return true
			}
		}
	}
	return false
}

// put stands a free piece in slot i.
func (m *matching) put(i int, code string) {
	m.filled[i] = code
	m.standing[code] = append(m.standing[code], i)
}
