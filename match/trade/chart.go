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
		steps = append(steps, explore(t)...)
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

// samples are trades to try events on: a ring of three with a piece to spare on one leg, and a chain of three.
func samples() []Trade {
	items := []Item{
		{From: "a", To: "b", Piece: "s/1", Value: 1},
		{From: "a", To: "b", Piece: "s/2"},
		{From: "b", To: "c", Piece: "s/3", Value: 1},
		{From: "c", To: "a", Piece: "s/4", Value: 1},
	}
	parties := []Party{{Member: "a"}, {Member: "b"}, {Member: "c"}}
	var trades []Trade
	for _, terms := range []Terms{
		{Parties: parties, Items: items, Lapse: time.Hour},
		{Parties: parties, Items: items[:3], Lapse: time.Hour, Chain: true},
	} {
		t, _, err := Propose(terms, time.Time{})
		if err != nil {
			panic(fmt.Errorf("a sample for the chart is no trade: %w", err))
		}
		trades = append(trades, t)
	}
	return trades
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
	seen := map[string]bool{fmt.Sprint(t): true}
	for open := []Trade{t}; len(open) > 0; open = open[1:] {
		for kind, events := range tries(open[0]) {
			for _, e := range events {
				to, notices, err := open[0].Apply(e)
				if err != nil {
					continue
				}
				steps = append(steps, step{open[0].State, kind, e, to, notices})
				if key := fmt.Sprint(to); !seen[key] {
					seen[key] = true
					open = append(open, to)
				}
			}
		}
	}
	return steps
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
	var counters []Event
	for _, item := range t.Items {
		counters = append(counters, each(func(m match.Member) Event { return LeaveOut{By: m, Piece: item.Piece, At: early} })...)
	}
	return [][]Event{
		append(accept(early), accept(late)...),
		counters,
		each(func(m match.Member) Event { return Decline{By: m} }),
		{Lapse{At: early}, Lapse{At: late}},
		{Overtake{}},
		append(each(func(m match.Member) Event { return Withdraw{By: m} }), Withdraw{}),
		each(func(m match.Member) Event { return Ship{By: m} }),
		each(func(m match.Member) Event { return Receive{By: m} }),
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

// told says which parties are told what.
func (s step) told() string {
	if len(s.notices) == 0 {
		return "nobody"
	}
	first, told := s.notices[0], make([]string, len(s.notices))
	others := true
	for i, n := range s.notices {
		told[i] = string(n.To)
		others = others && n.To != first.About
	}
	who := strings.Join(told, ", ")
	by := s.to.party(first.About)
	switch {
	case len(told) == len(s.to.Parties):
		who = "everyone"
	case len(told) == len(s.to.Parties)-1 && others:
		who = "everyone else"
	case len(told) == 1 && by >= 0 && first.To == s.to.next(by).Member:
		who = "the next"
	}
	return fmt.Sprintf("%s: %v", who, first.Kind)
}
