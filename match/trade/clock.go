package trade

import (
	"time"

	"spareounce/match"
)

const day = 24 * time.Hour

// How long members have, and what comes after, is common practice among those who trade by post.
const (
	// AgainAfter is how long a reminder waits for an answer.
	AgainAfter = 3 * day
	// KeeperWithin is how long the keepers have before the clock ends what nobody moves.
	KeeperWithin = 7 * day
	// PayWithin is how long a top-up may take, and then how long it may take to say that it came.
	PayWithin = 7 * day
	// Reminders is how many reminders go out before the keepers are told.
	Reminders = 2
)

// within is how long each stage may last before somebody is asked. Where it is zero nobody is.
var within = [...]time.Duration{
	ToSend: 7 * day, ToPassOn: 7 * day, OnItsWay: 21 * day, ToCheck: 2 * day, InTrouble: 7 * day, Done: 0,
}

// Within is how long a leg may stay in a stage before somebody is asked; zero for one in which nobody is.
func Within(s Stage) time.Duration { return within[s] }

func clockOf(wait time.Duration, at time.Time) Clock {
	if wait == 0 {
		return Clock{}
	}
	return Clock{Due: at.Add(wait).UTC()}
}

// setDeadline makes the first thing due the trade's deadline.
func (t *Trade) setDeadline() {
	t.Deadline = time.Time{}
	sooner := func(c Clock) {
		if !c.Due.IsZero() && (t.Deadline.IsZero() || c.Due.Before(t.Deadline)) {
			t.Deadline = c.Due
		}
	}
	for _, p := range t.Parties {
		sooner(p.Clock)
	}
	for _, pay := range t.TopUps {
		sooner(pay.Clock)
	}
}

// stopClocks is for a trade that is over: nobody is asked for anything any more.
func (t *Trade) stopClocks() {
	for i := range t.Parties {
		t.Parties[i].Clock = Clock{}
	}
	for i := range t.TopUps {
		t.TopUps[i].Clock = Clock{}
	}
	t.Deadline = time.Time{}
}

// matter is something that an agreed trade waits for: who is asked for it, in which words, and for whom.
type matter struct {
	clock *Clock
	ask   []match.Member
	kind  NoticeKind
	about match.Member
	slow  match.Member // on whom it waits; "" for a problem, which two have to settle
	check int          // the party whose silence counts as a yes, -1 for none
}

// matters lists what an agreed trade waits for, legs in ring order and then payments. The clocks are t's own.
func (t *Trade) matters() (all []matter) {
	for i := range t.Parties {
		giver, getter := t.Parties[i].Member, t.next(i).Member
		m := matter{clock: &t.Parties[i].Clock, check: -1}
		switch t.Parties[i].Stage {
		case ToSend:
			m.ask, m.kind, m.about, m.slow = []match.Member{giver}, SendDue, getter, giver
		case ToPassOn:
			m.ask, m.kind, m.about, m.slow = []match.Member{t.Middle}, PassOnDue, giver, t.Middle
		case OnItsWay:
			m.ask, m.kind, m.about, m.slow = []match.Member{getter}, ArrivalDue, giver, getter
		case ToCheck:
			m.ask, m.kind, m.about, m.slow, m.check = []match.Member{getter}, CheckDue, giver, getter, t.party(getter)
		case InTrouble:
			m.ask, m.kind, m.about = []match.Member{giver, getter}, ProblemDue, getter
		default:
			continue
		}
		all = append(all, m)
	}
	for i := range t.TopUps {
		pay := &t.TopUps[i]
		switch {
		case pay.Got:
		case pay.Paid:
			all = append(all, matter{&pay.Clock, []match.Member{pay.To}, MoneyDue, pay.From, pay.To, -1})
		default:
			all = append(all, matter{&pay.Clock, []match.Member{pay.From}, PayDue, pay.To, pay.From, -1})
		}
	}
	return all
}

// first is what has been due longest, nil when nothing has a time.
func (t *Trade) first() (m *matter) {
	for _, next := range t.matters() {
		if !next.clock.Due.IsZero() && (m == nil || next.clock.Due.Before(m.clock.Due)) {
			m = &next
		}
	}
	return m
}

// apply takes what has been due longest one step on: a reminder, a second one, the keepers, the end. However late the
// clock comes, it is one step, and the next waits its full time: who could not be reminded is not hurried. What has arrived
// counts as accepted when the second reminder would be due. Whoever has the clock repeats the event until it is refused.
func (e Due) apply(t Trade) (Trade, []Notice, error) {
	switch {
	case t.State != Agreed:
		return refuse(NotAgreed, "")
	case e.At.Before(t.Deadline):
		return refuse(TooEarly, "")
	}
	m := t.first()
	if m == nil { // agreed when no clock was kept: it begins now
		return t, t.wind(e.At), nil
	}
	m.clock.Nudges++
	m.clock.Due = e.At.Add(AgainAfter).UTC()
	var notices []Notice
	switch {
	case m.check >= 0 && m.clock.Nudges > 1:
		return t.receive(m.check, e.At, []Notice{{t.Parties[m.check].Member, CountedDone, m.about}})
	case m.clock.Nudges <= Reminders:
		for _, to := range m.ask {
			notices = append(notices, Notice{to, m.kind, m.about})
		}
	case m.clock.Nudges == Reminders+1:
		m.clock.Due = e.At.Add(KeeperWithin).UTC()
		notices = append(t.tell(KeeperNeeded, m.slow, everyone), Notice{Keepers, KeeperNeeded, m.slow})
	default:
		return t.end(Unfinished, m.slow)
	}
	t.setDeadline()
	return t, notices, nil
}
