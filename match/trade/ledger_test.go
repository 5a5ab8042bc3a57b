package trade_test

import (
	"time"

	"spareounce/match"
	"spareounce/match/trade"
)

// ledger remembers what was heard, and works out from that alone where a trade stands: a second telling of the rules, to
// hold the first one to.
type ledger struct {
	terms    trade.Terms
	version  int
	deadline time.Time
	yes      map[match.Member]bool
	sent     map[match.Member]bool
	got      map[match.Member]bool
	ending   trade.Ending
}

func newLedger(terms trade.Terms) *ledger {
	return &ledger{
		terms: terms, version: 1, deadline: start.Add(terms.Lapse),
		yes: map[match.Member]bool{}, sent: map[match.Member]bool{}, got: map[match.Member]bool{},
	}
}

func (l *ledger) place(m match.Member) (int, bool) {
	for i, p := range l.terms.Parties {
		if p.Member == m {
			return i, true
		}
	}
	return 0, false
}

// sender is who gives to m, false when nobody does; receiver the other way round.
func (l *ledger) sender(m match.Member) (match.Member, bool) {
	i, ok := l.place(m)
	n := len(l.terms.Parties)
	return l.terms.Parties[(i+n-1)%n].Member, ok && !(l.terms.Chain && i == 0)
}

func (l *ledger) receiver(m match.Member) (match.Member, bool) {
	i, ok := l.place(m)
	n := len(l.terms.Parties)
	return l.terms.Parties[(i+1)%n].Member, ok && !(l.terms.Chain && i == n-1)
}

func (l *ledger) state() trade.State {
	if l.ending != trade.None {
		return trade.Ended
	}
	if len(l.yes) < len(l.terms.Parties) {
		return trade.Proposed
	}
	for _, p := range l.terms.Parties {
		if _, waits := l.sender(p.Member); waits && !l.got[p.Member] {
			return trade.Agreed
		}
	}
	return trade.Closed
}

// without is the terms less one piece; false when it is not in them.
func (l *ledger) without(piece match.Piece) (trade.Terms, bool) {
	less := l.terms
	less.Items = nil
	for _, x := range l.terms.Items {
		if x.Piece != piece {
			less.Items = append(less.Items, x)
		}
	}
	return less, len(less.Items) < len(l.terms.Items)
}

// hears reports whether an event may happen now.
func (l *ledger) hears(e trade.Event) bool {
	open, agreed := l.state() == trade.Proposed, l.state() == trade.Agreed
	of := func(m match.Member) bool { _, ok := l.place(m); return ok }
	switch e := e.(type) {
	case trade.Accept:
		return open && of(e.By) && e.Version == l.version && l.deadline.After(e.At) && !l.yes[e.By]
	case trade.LeaveOut:
		if !open || !of(e.By) || e.Version != 0 && e.Version != l.version || !l.deadline.After(e.At) {
			return false
		}
		less, ok := l.without(e.Piece)
		_, _, err := trade.Propose(less, e.At) // a counter stands if it could have been proposed
		return ok && err == nil
	case trade.Decline:
		return open && of(e.By)
	case trade.Lapse:
		return open && !l.deadline.After(e.At)
	case trade.Overtake:
		return open
	case trade.Withdraw:
		return open && (e.By == "" || of(e.By))
	case trade.Ship:
		_, gives := l.receiver(e.By)
		return agreed && gives && !l.sent[e.By]
	case trade.Receive:
		_, gets := l.sender(e.By)
		return agreed && gets && !l.got[e.By]
	case trade.Break:
		return agreed
	}
	return false
}

// write records an event that was heard.
func (l *ledger) write(e trade.Event) {
	switch e := e.(type) {
	case trade.Accept:
		l.yes[e.By] = true
	case trade.LeaveOut:
		l.terms, _ = l.without(e.Piece)
		l.version++
		l.deadline = e.At.Add(l.terms.Lapse)
		l.yes = map[match.Member]bool{e.By: true}
	case trade.Decline:
		l.ending = trade.Declined
	case trade.Lapse:
		l.ending = trade.Lapsed
	case trade.Overtake:
		l.ending = trade.Overtaken
	case trade.Withdraw:
		l.ending = trade.Withdrawn
	case trade.Ship:
		l.sent[e.By] = true
	case trade.Receive:
		l.got[e.By] = true
		sender, _ := l.sender(e.By)
		l.sent[sender] = true
	case trade.Break:
		l.ending = trade.Broken
	}
}

// trade is the whole trade as it should be by now; the top-ups are a new proposal's.
func (l *ledger) trade() trade.Trade {
	fresh, _, err := trade.Propose(l.terms, start)
	if err != nil {
		panic(err) // hears has let in only what could be proposed
	}
	fresh.Version, fresh.State, fresh.Ending, fresh.Deadline = l.version, l.state(), l.ending, l.deadline
	for i, p := range fresh.Parties {
		fresh.Parties[i].Accepted, fresh.Parties[i].Shipped, fresh.Parties[i].Received = l.yes[p.Member], l.sent[p.Member], l.got[p.Member]
	}
	return fresh
}
