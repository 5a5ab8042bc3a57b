package trade

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"spareounce/match"
)

// Chart draws the life of a trade as a table: in which state which event leads where, and who is told. What is not in it
// is refused. It is found by trying every event in every state that a small ring and a small chain can come to, so it
// cannot differ from what Apply does. The table is Markdown.
func Chart() string {
	var steps []step
	for _, t := range samples() {
		for _, s := range explore(t) {
			if plain := t.Middle == "" && !t.Together; plain || t.Middle != "" && s.aboutMiddle() || t.Together && s.aboutTogether() {
				steps = append(steps, s)
			}
		}
	}
	slices.SortFunc(steps, compareSteps)
	var chart strings.Builder
	chart.WriteString("| state | event | state after | who is told |\n|---|---|---|---|\n")
	last := ""
	for _, s := range steps {
		if row := s.row(); row != last {
			chart.WriteString(row)
			last = row
		}
	}
	return chart.String()
}

// samples are trades to try events on: a ring of three with a piece to spare on one leg and turns to take; a chain of three;
// a ring of three in which all pieces have come and money has not; a swap with somebody in the middle; and one of a round whose trades are agreed together.
func samples() []Trade {
	items := []Item{
		{From: "a", To: "b", Piece: "s/1"}, {From: "a", To: "b", Piece: "s/2"}, {From: "b", To: "c", Piece: "s/3"}, {From: "c", To: "a", Piece: "s/4"},
	}
	a, b, c := Party{Member: "a"}, Party{Member: "b", Turn: 1}, Party{Member: "c", Turn: 2}
	pays := []TopUp{{From: "a", To: "b", Amount: 1}, {From: "a", To: "c", Amount: 1}}
	ring := sample(Terms{Parties: []Party{a, b, {Member: "c"}}, Items: items})
	chain := sample(Terms{Parties: []Party{a, b, c}, Items: items[:3], Chain: true})
	paid := sample(Terms{Parties: []Party{a, b, c}, Items: items, Fixed: true, TopUps: pays}, Receive{By: "a"}, Receive{By: "b"}, Receive{By: "c"})
	middle := sample(Terms{Parties: []Party{a, b}, Items: []Item{items[0], {From: "b", To: "a", Piece: "s/3"}}, Middle: "m"})
	together := sample(Terms{Parties: []Party{a, b}, Items: []Item{items[0], {From: "b", To: "a", Piece: "s/3"}}, Together: true})
	return []Trade{ring, chain, paid, middle, together}
}

// sample proposes terms; where something has happened, after all have said yes.
func sample(terms Terms, happened ...Event) Trade {
	terms.Lapse = time.Hour
	start := time.Unix(0, 0)
	t, _, err := Propose(terms, start)
	for i := 0; err == nil && len(happened) > 0 && i < len(t.Parties); i++ {
		t, _, err = t.Apply(Accept{By: t.Parties[i].Member, Version: 1, At: start})
	}
	for _, e := range happened {
		if err == nil {
			t, _, err = t.Apply(e)
		}
	}
	if err != nil {
		panic(fmt.Errorf("a sample for the chart is no trade: %w", err))
	}
	return t
}

// step is an event that a trade took.
type step struct {
	from    State
	kind    int // the event's place among the kinds of event
	event   Event
	to      Trade
	notices []Notice
}

// explore tries every event on t and on every trade that comes of it, and lists what was not refused.
func explore(t Trade) []step {
	var steps []step
	seen := map[string]bool{t.outline(): true}
	for open := []Trade{t}; len(open) > 0; open = open[1:] {
		for kind, events := range tries(open[0]) {
			for _, e := range events {
				to, notices, err := open[0].Apply(e)
				if err != nil {
					continue
				}
				steps = append(steps, step{open[0].State, kind, e, to, notices})
				if key := to.outline(); !seen[key] && to.Version == t.Version { // other terms live the same life
					seen[key] = true
					open = append(open, to)
				}
			}
		}
	}
	return steps
}

// outline is what decides what may happen to t, so that trades which differ in dates alone are explored once.
func (t Trade) outline() string {
	var text strings.Builder
	fmt.Fprint(&text, t.State, t.Ending, t.PassedOn)
	left := false
	for _, p := range t.Parties {
		fmt.Fprint(&text, " ", p.Accepted, p.Shipped, p.Stage, p.Nudges)
		left = left || p.Left
	}
	fmt.Fprint(&text, " ", left)
	for _, pay := range t.TopUps {
		fmt.Fprint(&text, " ", pay.Amount, pay.Paid, pay.Got, pay.Nudges)
	}
	return text.String()
}

// tries lists every event there is, kind by kind: by every party, about every piece, in time and too late.
func tries(t Trade) [][]Event {
	early, late := t.Deadline.Add(-t.Lapse), t.Deadline
	each := func(event func(m match.Member) Event) (events []Event) {
		for _, p := range t.Parties {
			events = append(events, event(p.Member))
		}
		return events
	}
	accept := func(at time.Time) []Event {
		return each(func(m match.Member) Event { return Accept{By: m, Version: t.Version, At: at} })
	}
	var without []Event
	for _, item := range t.Items {
		without = append(without, each(func(m match.Member) Event { return LeaveOut{By: m, Piece: item.Piece, At: early} })...)
	}
	counter := func(m match.Member) Event {
		return Counter{By: m, Items: t.Items, TopUps: []TopUp{{From: t.Parties[0].Member, To: t.Parties[1].Member, Amount: 1}}, At: early}
	}
	return [][]Event{
		append(accept(early), accept(late)...),
		each(func(m match.Member) Event { return TakeBack{By: m} }),
		without,
		each(counter),
		each(func(m match.Member) Event { return Decline{By: m} }),
		{Lapse{At: early}, Lapse{At: late}},
		{Conclude{At: early}},
		{CallOff{}},
		{Overtake{}},
		append(each(func(m match.Member) Event { return Withdraw{By: m} }), Withdraw{}),
		each(func(m match.Member) Event { return Ship{By: m, At: early} }),
		{PassOn{By: t.Middle, At: early}},
		each(func(m match.Member) Event { return Arrive{By: m, At: early} }),
		append(each(func(m match.Member) Event { return Object{By: m, Problem: NotArrived, At: early} }),
			each(func(m match.Member) Event { return Object{By: m, Problem: WrongPiece, At: early} })...),
		each(func(m match.Member) Event { return Receive{By: m, At: early} }),
		each(func(m match.Member) Event { return Pay{By: m, At: early} }),
		each(func(m match.Member) Event { return GetPaid{By: m, At: early} }),
		{Due{At: early}, Due{At: late}},
		{Break{By: "keeper"}},
	}
}

// row is the step's line of the chart.
func (s step) row() string {
	event := strings.TrimPrefix(fmt.Sprintf("%T", s.event), "trade.")
	after := s.to.State.String()
	if s.to.Ending != None {
		after += ", " + s.to.Ending.String()
	}
	return fmt.Sprintf("| %v | %s | %s | %s |\n", s.from, event, after, s.told())
}

// compareSteps orders the lines of the chart.
func compareSteps(a, b step) int {
	return cmp.Or(
		cmp.Compare(a.from, b.from), cmp.Compare(a.kind, b.kind), cmp.Compare(a.to.State, b.to.State), cmp.Compare(a.row(), b.row()),
	)
}

// told says which parties are told what, kind by kind.
func (s step) told() string {
	if len(s.notices) == 0 {
		return "nobody"
	}
	var kinds []NoticeKind
	by := map[NoticeKind][]Notice{}
	for _, n := range s.notices {
		if len(by[n.Kind]) == 0 {
			kinds = append(kinds, n.Kind)
		}
		by[n.Kind] = append(by[n.Kind], n)
	}
	slices.Sort(kinds)
	told := make([]string, len(kinds))
	for i, kind := range kinds {
		told[i] = fmt.Sprintf("%s: %v", s.who(by[kind]), kind)
	}
	return strings.Join(told, "; ")
}

// who names those who are told one thing: by their place in the ring, as seen from whom it is about.
func (s step) who(notices []Notice) string {
	about := notices[0].About
	i := s.to.party(about)
	var parties, names []string
	others := true
	for _, n := range notices {
		switch {
		case n.To == Keepers:
			names = append(names, "the keepers")
		case n.To == s.to.Middle:
			names = append(names, "the middle")
		case i >= 0 && n.To == about:
			parties, others = append(parties, "who it is about"), false
		case i >= 0 && len(s.to.Parties) > 2 && n.To == s.to.next(i).Member:
			parties = append(parties, "the next")
		case i >= 0 && len(s.to.Parties) > 2:
			parties = append(parties, "the one before")
		default:
			parties = append(parties, "the other")
		}
	}
	switch {
	case len(parties) == len(s.to.Parties):
		parties = []string{"everyone"}
	case len(parties) == len(s.to.Parties)-1 && others && len(parties) > 1:
		parties = []string{"everyone else"}
	}
	return strings.Join(append(parties, names...), " and ")
}

// aboutTogether is true of what concerns the trades of a round that wait for each other.
func (s step) aboutTogether() bool {
	_, concluded := s.event.(Conclude)
	_, calledOff := s.event.(CallOff)
	return concluded || calledOff
}

// aboutMiddle is true of what concerns somebody in the middle.
func (s step) aboutMiddle() bool {
	_, passedOn := s.event.(PassOn)
	return passedOn || slices.ContainsFunc(s.notices, func(n Notice) bool { return n.To == s.to.Middle })
}
