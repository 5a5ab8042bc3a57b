package trade_test

import (
	"slices"
	"time"

	"spareounce/match"
	"spareounce/match/trade"
)

// ledger remembers what was heard, and works out from that alone where a trade stands: a second telling of the rules, to
// hold the first one to. It knows no clock after the agreement: what the clock does then has properties of its own.
type ledger struct {
	terms    trade.Terms
	version  int
	deadline time.Time
	yes      map[match.Member]bool
	sent     map[match.Member]bool
	came     map[match.Member]bool
	got      map[match.Member]bool
	wrong    map[match.Member]trade.Problem
	left     map[match.Member]bool
	paid     map[[2]match.Member]bool
	money    map[[2]match.Member]bool
	passedOn bool
	together bool // all others of the round have every yes too
	ending   trade.Ending
}

func newLedger(terms trade.Terms) *ledger {
	l := &ledger{
		terms: terms, version: 1, deadline: start.Add(terms.Lapse),
		yes: map[match.Member]bool{}, sent: map[match.Member]bool{}, came: map[match.Member]bool{}, got: map[match.Member]bool{},
		wrong: map[match.Member]trade.Problem{}, left: map[match.Member]bool{},
		paid: map[[2]match.Member]bool{}, money: map[[2]match.Member]bool{},
	}
	if terms.By != "" {
		l.yes[terms.By] = true
	}
	return l
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
	if len(l.yes) < len(l.terms.Parties) || l.terms.Together && !l.together {
		return trade.Proposed
	}
	for _, p := range l.terms.Parties {
		if _, waits := l.sender(p.Member); waits && !l.got[p.Member] {
			return trade.Agreed
		}
	}
	for _, pay := range l.pays() {
		if !l.money[[2]match.Member{pay.From, pay.To}] {
			return trade.Agreed
		}
	}
	return trade.Closed
}

// pays are the payments of the terms as they are now.
func (l *ledger) pays() []trade.TopUp { return l.fresh().TopUps }

// fresh is a new proposal of the terms.
func (l *ledger) fresh() trade.Trade {
	fresh, _, err := trade.Propose(l.terms, start)
	if err != nil {
		panic(err) // hears has let in only what could be proposed
	}
	return fresh
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

// with is the terms as a counter-offer puts them.
func (l *ledger) with(e trade.Counter) trade.Terms {
	other := l.terms
	other.Items, other.TopUps, other.Fixed = e.Items, e.TopUps, true
	return other
}

// hears reports whether an event may happen now.
func (l *ledger) hears(e trade.Event) bool {
	open, agreed := l.state() == trade.Proposed, l.state() == trade.Agreed
	of := func(m match.Member) bool { _, ok := l.place(m); return ok }
	could := func(terms trade.Terms, at time.Time) bool { // a counter stands if it could have been proposed
		_, _, err := trade.Propose(terms, at)
		return err == nil
	}
	changes := func(by match.Member, version int, at time.Time) bool {
		return open && of(by) && (version == 0 || version == l.version) && l.deadline.After(at)
	}
	gets := func(m match.Member) bool { _, ok := l.sender(m); return ok && of(m) }
	switch e := e.(type) {
	case trade.Accept:
		return open && of(e.By) && e.Version == l.version && l.deadline.After(e.At) && !l.yes[e.By]
	case trade.TakeBack:
		return open && of(e.By) && l.yes[e.By]
	case trade.LeaveOut:
		less, ok := l.without(e.Piece)
		return changes(e.By, e.Version, e.At) && ok && could(less, e.At)
	case trade.Counter:
		same := slices.Equal(e.Items, l.terms.Items) && slices.Equal(e.TopUps, l.pays())
		return changes(e.By, e.Version, e.At) && !l.terms.Together && !same && could(l.with(e), e.At)
	case trade.Decline:
		return open && of(e.By)
	case trade.Lapse:
		return open && !l.deadline.After(e.At)
	case trade.Overtake:
		return open
	case trade.Conclude:
		return open && l.terms.Together && len(l.yes) == len(l.terms.Parties)
	case trade.CallOff:
		return open && l.terms.Together
	case trade.Withdraw:
		return open && (e.By == "" || of(e.By)) || agreed && of(e.By) && !l.left[e.By]
	case trade.Ship:
		_, gives := l.receiver(e.By)
		return agreed && gives && !l.sent[e.By] && (e.Anyway || l.mayGo(e.By))
	case trade.PassOn:
		return agreed && l.terms.Middle != "" && e.By == l.terms.Middle && !l.passedOn && l.allSent() && l.someOnTheWay()
	case trade.Arrive:
		return agreed && gets(e.By) && !l.came[e.By]
	case trade.Object:
		sender, ok := l.sender(e.By)
		return agreed && ok && of(e.By) && !l.got[e.By] && e.Problem > trade.NoProblem && e.Problem <= trade.WrongPiece && e.Problem != l.wrong[e.By] &&
			!(e.Problem == trade.NotArrived && (l.came[e.By] || !l.sent[sender]))
	case trade.Receive:
		return agreed && gets(e.By) && !l.got[e.By]
	case trade.Pay:
		return agreed && l.somePayment(func(p [2]match.Member) bool {
			return p[0] == e.By && (e.To == "" || p[1] == e.To) && !l.paid[p]
		})
	case trade.GetPaid:
		return agreed && l.somePayment(func(p [2]match.Member) bool {
			return p[1] == e.By && (e.From == "" || p[0] == e.From) && !l.money[p]
		})
	case trade.Break:
		return agreed && !of(e.By) && (e.By == "" || e.By != l.terms.Middle)
	}
	return false
}

func (l *ledger) somePayment(fits func([2]match.Member) bool) bool {
	return slices.ContainsFunc(l.pays(), func(pay trade.TopUp) bool { return fits([2]match.Member{pay.From, pay.To}) })
}

// mayGo reports whether all that had to be accepted before a member sends has been.
func (l *ledger) mayGo(m match.Member) bool {
	me, _ := l.place(m)
	for _, p := range l.terms.Parties {
		to, gives := l.receiver(p.Member)
		if l.terms.Middle == "" && gives && p.Turn < l.terms.Parties[me].Turn && !l.got[to] {
			return false
		}
	}
	return true
}

func (l *ledger) allSent() bool {
	for _, p := range l.terms.Parties {
		if _, gives := l.receiver(p.Member); gives && !l.sent[p.Member] {
			return false
		}
	}
	return true
}

// someOnTheWay reports whether something has neither come nor been missed yet.
func (l *ledger) someOnTheWay() bool {
	return slices.ContainsFunc(l.terms.Parties, func(p trade.Party) bool {
		_, gets := l.sender(p.Member)
		return gets && !l.came[p.Member] && l.wrong[p.Member] == trade.NoProblem
	})
}

// write records an event that was heard.
func (l *ledger) write(e trade.Event) {
	switch e := e.(type) {
	case trade.Accept:
		l.yes[e.By] = true
	case trade.TakeBack:
		delete(l.yes, e.By)
	case trade.LeaveOut:
		l.terms, _ = l.without(e.Piece)
		l.changed(e.By, e.At)
	case trade.Counter:
		l.terms = l.with(e)
		l.changed(e.By, e.At)
	case trade.Decline:
		l.ending = trade.Declined
	case trade.Lapse:
		l.ending = trade.Lapsed
	case trade.Overtake:
		l.ending = trade.Overtaken
	case trade.Conclude:
		l.together = true
	case trade.CallOff:
		l.ending = trade.CalledOff
	case trade.Withdraw:
		if l.state() == trade.Proposed || len(l.sent)+len(l.paid) == 0 {
			l.ending = trade.Withdrawn
		} else {
			l.left[e.By] = true
		}
	case trade.Ship:
		l.sent[e.By] = true
	case trade.PassOn:
		l.passedOn = true
	case trade.Arrive:
		l.has(e.By)
		delete(l.wrong, e.By)
	case trade.Object:
		if e.Problem != trade.NotArrived {
			l.has(e.By)
		}
		l.wrong[e.By] = e.Problem
	case trade.Receive:
		l.has(e.By)
		l.got[e.By] = true
		delete(l.wrong, e.By)
	case trade.Pay:
		for _, pay := range l.pays() {
			if pay.From == e.By && (e.To == "" || pay.To == e.To) {
				l.paid[[2]match.Member{pay.From, pay.To}] = true
			}
		}
	case trade.GetPaid:
		for _, pay := range l.pays() {
			if pay.To == e.By && (e.From == "" || pay.From == e.From) {
				l.paid[[2]match.Member{pay.From, pay.To}] = true
				l.money[[2]match.Member{pay.From, pay.To}] = true
			}
		}
	case trade.Break:
		l.ending = trade.Broken
	}
}

// has notes that what a member gets has come, so was sent.
func (l *ledger) has(m match.Member) {
	sender, _ := l.sender(m)
	l.came[m], l.sent[sender] = true, true
}

func (l *ledger) changed(by match.Member, at time.Time) {
	l.version++
	l.deadline = at.Add(l.terms.Lapse)
	l.yes = map[match.Member]bool{by: true}
}

// trade is the whole trade as it should be by now, but for the clock's part; the top-ups are a new proposal's.
func (l *ledger) trade() trade.Trade {
	now := l.fresh()
	now.Version, now.State, now.Ending, now.Deadline, now.PassedOn = l.version, l.state(), l.ending, l.deadline, l.passedOn
	for i, p := range now.Parties {
		now.Parties[i] = trade.Party{
			Member: p.Member, TopUpLimit: p.TopUpLimit, Turn: p.Turn, Accepted: l.yes[p.Member], Shipped: l.sent[p.Member],
			Arrived: l.came[p.Member], Received: l.got[p.Member], Problem: l.wrong[p.Member], Left: l.left[p.Member],
		}
	}
	for i, pay := range now.TopUps {
		key := [2]match.Member{pay.From, pay.To}
		now.TopUps[i].Paid, now.TopUps[i].Got = l.paid[key], l.money[key]
	}
	return untimed(now)
}

// untimed is a trade without what the clock does to it once it is agreed.
func untimed(tr trade.Trade) trade.Trade {
	tr = copied(tr)
	if tr.State == trade.Agreed || tr.State == trade.Closed || tr.State == trade.Ended {
		tr.Deadline = time.Time{}
	}
	for i := range tr.Parties {
		tr.Parties[i].Stage, tr.Parties[i].Clock = 0, trade.Clock{}
	}
	for i := range tr.TopUps {
		tr.TopUps[i].Clock = trade.Clock{}
	}
	return tr
}
