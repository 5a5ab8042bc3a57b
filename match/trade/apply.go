package trade

import (
	"slices"
	"time"

	"spareounce/match"
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
	// LeaveOut is a counter-offer to one version of the terms: the same trade without one piece. Who makes it says yes
	// to what is left. Version 0 means the terms as they stand. Where several such pieces are in the trade, the first
	// that By gives is left out, else the first that By gets, else the first.
	LeaveOut struct {
		By      match.Member
		Piece   match.Piece
		Version int
		At      time.Time
	}
	// Lapse is the clock's: the deadline may have passed.
	Lapse struct{ At time.Time }
	// Overtake comes when another agreement takes a piece or a want of this one.
	Overtake struct{}
	// Withdraw comes when a party leaves the group, or a spare or a want that this trade counts on goes away. By is ""
	// when that is nobody's deed.
	Withdraw struct{ By match.Member }
	// Ship says that what By gives is on its way.
	Ship struct{ By match.Member }
	// Receive says that what By gets has arrived and been checked. What has arrived counts as shipped.
	Receive struct{ By match.Member }
	// Break is a keeper's: an agreed trade that cannot be finished ends. Who is a keeper is not known here; whoever
	// makes the event has checked it.
	Break struct{ By match.Member }
)

// Apply returns t as it is after e, and who must be told. It changes nothing else, and t itself not at all. On a
// *Refusal the trade is t and nobody is told.
func (t Trade) Apply(e Event) (Trade, []Notice, error) {
	next, notices, err := e.apply(t.clone())
	if err != nil {
		return t, nil, err
	}
	return next, notices, nil
}

func (t Trade) end(why Ending, about match.Member) (Trade, []Notice, error) {
	t.State, t.Ending = Ended, why
	return t, t.tell(EndedNow, about, everyone), nil
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
	case e.Version != 0 && e.Version != t.Version:
		return refuse(StaleVersion, e.By)
	case !e.At.Before(t.Deadline):
		return refuse(TooLate, e.By)
	}
	out := t.itemFor(e.By, e.Piece)
	if out < 0 {
		return refuse(NoSuchPiece, e.By)
	}
	t.Items = slices.Delete(t.Items, out, out+1)
	if err := t.settle(); err != nil {
		return Trade{}, nil, err
	}
	t.Version++
	t.Deadline = e.At.Add(t.Lapse).UTC()
	for j := range t.Parties {
		t.Parties[j].Accepted = j == i
	}
	return t, t.tell(AskedAgain, e.By, func(p Party) bool { return p.Member != e.By }), nil
}

// itemFor is the place of a piece among the items, one that m gives or gets before any other, -1 when it is not there.
func (t Trade) itemFor(m match.Member, piece match.Piece) int {
	for _, fits := range []func(Item) bool{
		func(item Item) bool { return item.From == m },
		func(item Item) bool { return item.To == m },
		func(Item) bool { return true },
	} {
		if i := slices.IndexFunc(t.Items, func(item Item) bool { return item.Piece == piece && fits(item) }); i >= 0 {
			return i
		}
	}
	return -1
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
	case e.By != "" && t.party(e.By) < 0:
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
