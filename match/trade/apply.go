package trade

import (
	"fmt"
	"slices"
	"time"

	"spareounce/match"
	"spareounce/match/melt"
)

// Event is something that happens to a trade. Buttons, commands, timers and transcripts are only ways to make one.
type Event interface {
	apply(t Trade) (Trade, []Notice, error)
}

// The events. By is who did it; At is when, where that matters.
type (
	// Accept is a yes to one version of the terms.
	Accept struct {
		By      match.Member
		Version int
		At      time.Time
	}
	// Decline is a no.
	Decline struct{ By match.Member }
	// LeaveOut is a counter-offer: the same trade without one piece. Who makes it says yes to it.
	LeaveOut struct {
		By    match.Member
		Piece match.Piece
		At    time.Time
	}
	// Lapse is the clock's: the deadline may have passed.
	Lapse struct{ At time.Time }
	// Overtake comes when another agreement takes a piece or a want of this one.
	Overtake struct{}
	// Withdraw comes when a party leaves the group, or takes away a spare or a want that this trade counts on.
	Withdraw struct{ By match.Member }
	// Ship says that what By gives is on its way.
	Ship struct{ By match.Member }
	// Receive says that what By gets has arrived and been checked.
	Receive struct{ By match.Member }
	// Break is a keeper's: an agreed trade that cannot be finished ends.
	Break struct{ By match.Member }
)

// NoticeKind is what a notice tells.
type NoticeKind int

// The kinds of notice.
const (
	Asked        NoticeKind = iota // a trade is proposed: say yes or no
	AskedAgain                     // the terms have changed: say yes or no again
	AgreedNow                      // everyone said yes
	EndedNow                       // over; the trade's Ending says why
	ShippedToYou                   // what you get is on its way
	ClosedNow                      // everything has arrived
)

// Notice is who must be told what; About is whose deed it was, "" when it was nobody's.
type Notice struct {
	To    match.Member
	Kind  NoticeKind
	About match.Member
}

// Why is the reason for a refusal.
type Why int

// The reasons.
const (
	NoRing          Why = iota // not the shape of a ring or a chain
	NotYours                   // who says it is no party
	AlreadyDone                // said before: harmless
	StaleVersion               // a yes to terms that have changed since
	NotOpen                    // no longer proposed
	NotAgreed                  // not agreed, or no longer
	TooLate                    // after the deadline
	TooEarly                   // the deadline has not passed
	NoSuchPiece                // not in the trade
	EmptiesALeg                // somebody would give nothing
	AboveLimit                 // somebody would pay more than they set as their limit
	PassesOnTooMuch            // somebody in a chain would pass on more than came in
	NothingToSend              // the last of a chain gives nothing
	NothingToGet               // the first of a chain gets nothing
)

// Refusal says why an event changed nothing. By is whom the reason is about, Amount and Limit the money if it is about
// money.
type Refusal struct {
	Why           Why
	By            match.Member
	Amount, Limit melt.Minor
}

func (r *Refusal) Error() string {
	return fmt.Sprintf("refused: reason %d, about member %q, amount %d, limit %d", r.Why, r.By, r.Amount, r.Limit)
}

// Apply returns t as it is after e, and who must be told. It changes nothing else, and t itself not at all. On a
// *Refusal the trade is t and nobody is told.
func (t Trade) Apply(e Event) (Trade, []Notice, error) {
	next, notices, err := e.apply(t.clone())
	if err != nil {
		return t, nil, err
	}
	return next, notices, nil
}

// tell makes a notice for every party that fits.
func (t Trade) tell(kind NoticeKind, about match.Member, fits func(Party) bool) []Notice {
	var notices []Notice
	for _, p := range t.Parties {
		if fits(p) {
			notices = append(notices, Notice{p.Member, kind, about})
		}
	}
	return notices
}

func everyone(Party) bool { return true }

func (t Trade) end(why Ending, about match.Member) (Trade, []Notice, error) {
	t.State, t.Ending = Ended, why
	return t, t.tell(EndedNow, about, everyone), nil
}

func refuse(why Why, by match.Member) (Trade, []Notice, error) {
	return Trade{}, nil, &Refusal{Why: why, By: by}
}

func (e Accept) apply(t Trade) (Trade, []Notice, error) {
	i := t.party(e.By)
	switch {
	case i < 0:
		return refuse(NotYours, e.By)
	case t.State == Agreed && e.Version == t.Version:
		return refuse(AlreadyDone, e.By)
	case t.State != Proposed:
		return refuse(NotOpen, e.By)
	case e.Version != t.Version:
		return refuse(StaleVersion, e.By)
	case !e.At.Before(t.Deadline):
		return refuse(TooLate, e.By)
	case t.Parties[i].Accepted:
		return refuse(AlreadyDone, e.By)
	}
	t.Parties[i].Accepted = true
	return t.agreeIfAll(e.By)
}

// agreeIfAll makes a trade agreed when the last yes has come.
func (t Trade) agreeIfAll(last match.Member) (Trade, []Notice, error) {
	if slices.ContainsFunc(t.Parties, func(p Party) bool { return !p.Accepted }) {
		return t, nil, nil
	}
	t.State = Agreed
	return t, t.tell(AgreedNow, last, everyone), nil
}

func (e Decline) apply(t Trade) (Trade, []Notice, error) {
	switch {
	case t.party(e.By) < 0:
		return refuse(NotYours, e.By)
	case t.State != Proposed:
		return refuse(NotOpen, e.By)
	}
	return t.end(Declined, e.By)
}

func (e LeaveOut) apply(t Trade) (Trade, []Notice, error) {
	i := t.party(e.By)
	switch {
	case i < 0:
		return refuse(NotYours, e.By)
	case t.State != Proposed:
		return refuse(NotOpen, e.By)
	case !e.At.Before(t.Deadline):
		return refuse(TooLate, e.By)
	}
	out := slices.IndexFunc(t.Items, func(item Item) bool { return item.Piece == e.Piece })
	if out < 0 {
		return refuse(NoSuchPiece, e.By)
	}
	t.Items = slices.Delete(t.Items, out, out+1)
	if err := t.checkShape(); err != nil {
		return Trade{}, nil, err
	}
	var err error
	if t.TopUps, err = t.evenUp(); err != nil {
		return Trade{}, nil, err
	}
	t.Version++
	t.Deadline = e.At.Add(t.Lapse).UTC()
	for j := range t.Parties {
		t.Parties[j].Accepted = j == i
	}
	return t, t.tell(AskedAgain, e.By, func(p Party) bool { return p.Member != e.By }), nil
}

func (e Lapse) apply(t Trade) (Trade, []Notice, error) {
	switch {
	case t.State != Proposed:
		return refuse(NotOpen, "")
	case e.At.Before(t.Deadline):
		return refuse(TooEarly, "")
	}
	return t.end(Lapsed, "")
}

func (e Overtake) apply(t Trade) (Trade, []Notice, error) {
	if t.State != Proposed {
		return refuse(NotOpen, "")
	}
	return t.end(Overtaken, "")
}

func (e Withdraw) apply(t Trade) (Trade, []Notice, error) {
	switch {
	case t.party(e.By) < 0:
		return refuse(NotYours, e.By)
	case t.State != Proposed:
		return refuse(NotOpen, e.By)
	}
	return t.end(Withdrawn, e.By)
}

func (e Ship) apply(t Trade) (Trade, []Notice, error) {
	i := t.party(e.By)
	switch {
	case i < 0:
		return refuse(NotYours, e.By)
	case t.State != Agreed:
		return refuse(NotAgreed, e.By)
	case !t.gives(i):
		return refuse(NothingToSend, e.By)
	case t.Parties[i].Shipped:
		return refuse(AlreadyDone, e.By)
	}
	t.Parties[i].Shipped = true
	return t, []Notice{{t.next(i).Member, ShippedToYou, e.By}}, nil
}

func (e Receive) apply(t Trade) (Trade, []Notice, error) {
	i := t.party(e.By)
	switch {
	case i < 0:
		return refuse(NotYours, e.By)
	case t.State != Agreed:
		return refuse(NotAgreed, e.By)
	case !t.gets(i):
		return refuse(NothingToGet, e.By)
	case t.Parties[i].Received:
		return refuse(AlreadyDone, e.By)
	}
	t.Parties[i].Received = true
	sender := (i + len(t.Parties) - 1) % len(t.Parties)
	t.Parties[sender].Shipped = true // what has arrived was sent, even if nobody said so
	for j, p := range t.Parties {
		if t.gets(j) && !p.Received {
			return t, nil, nil
		}
	}
	t.State = Closed
	return t, t.tell(ClosedNow, e.By, everyone), nil
}

func (e Break) apply(t Trade) (Trade, []Notice, error) {
	if t.State != Agreed {
		return refuse(NotAgreed, e.By)
	}
	return t.end(Broken, e.By)
}
