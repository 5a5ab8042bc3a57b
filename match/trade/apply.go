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
	// Counter is a counter-offer to one version of the terms: the same members with other pieces, and the payments that
	// go with them. Who makes it says yes to it. Version 0 means the terms as they stand.
	Counter struct {
		By      match.Member
		Items   []Item
		TopUps  []TopUp
		Version int
		At      time.Time
	}
	// TakeBack takes a yes back while others have still to say theirs.
	TakeBack struct{ By match.Member }
	// Conclude comes when all have said yes to every trade of a round whose trades are agreed together.
	Conclude struct{ At time.Time }
	// CallOff comes when another trade of such a round has ended.
	CallOff struct{}
	// Overtake comes when another agreement takes a piece or a want of this one.
	Overtake struct{}
	// Withdraw comes when a party leaves the group, or a spare or a want that this proposal counts on goes away. By is
	// "" when that is nobody's deed. An agreed trade ends with it if nothing is on its way yet; else it goes on, and the
	// clock ends it if who left does not finish it.
	Withdraw struct{ By match.Member }
	// Ship says that what By gives is on its way. Out of turn it is refused unless it was sent Anyway.
	Ship struct {
		By     match.Member
		Anyway bool
		At     time.Time
	}
	// PassOn says that who stands in the middle has sent everything on.
	PassOn struct {
		By match.Member
		At time.Time
	}
	// Arrive says that what By gets has come, and is still to be checked. What has arrived counts as shipped.
	Arrive struct {
		By match.Member
		At time.Time
	}
	// Object says that something is wrong with what By gets.
	Object struct {
		By      match.Member
		Problem Problem
		At      time.Time
	}
	// Receive says that what By gets has arrived, been checked and is accepted, whatever was said of it before.
	Receive struct {
		By match.Member
		At time.Time
	}
	// Pay says that By has paid what they owe To, or with To "" all that they owe.
	Pay struct {
		By, To match.Member
		At     time.Time
	}
	// GetPaid says that what From owes By has come, or with From "" all that By is owed.
	GetPaid struct {
		By, From match.Member
		At       time.Time
	}
	// Due is the clock's: something that the agreed trade waits for may be due.
	Due struct{ At time.Time }
	// Break is a keeper's: an agreed trade that cannot be finished ends. A keeper who is a party is refused. Who is a
	// keeper is not known here; whoever makes the event has checked it.
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

// end ends a trade and tells everyone; who stands in the middle of an agreed one is to send nothing on.
func (t Trade) end(why Ending, about match.Member) (Trade, []Notice, error) {
	notices := t.tell(EndedNow, t.unlessSilent(about), everyone)
	if t.State == Agreed {
		t.stopClocks()
		if t.Middle != "" {
			notices = append(notices, Notice{t.Middle, EndedNow, about})
		}
	}
	t.State, t.Ending = Ended, why
	return t, notices, nil
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
	if t.Together || !t.allSaidYes() {
		return t, nil, nil
	}
	return t.agree(e.By, e.At)
}

func (t Trade) allSaidYes() bool {
	return !slices.ContainsFunc(t.Parties, func(p Party) bool { return !p.Accepted })
}

// agree makes a promise of a trade to which all have said yes, last of them about, who is "" where it was nobody's deed.
func (t Trade) agree(about match.Member, at time.Time) (Trade, []Notice, error) {
	t.State = Agreed
	for i := range t.TopUps {
		t.TopUps[i].Clock = clockOf(PayWithin, at)
	}
	t.wind(at) // whose turn it is to send is in what all are told now
	notices := t.tell(AgreedNow, about, everyone)
	if t.Middle != "" {
		notices = append(notices, Notice{t.Middle, AgreedNow, about})
	}
	return t, notices, nil
}

func (e TakeBack) apply(t Trade) (Trade, []Notice, error) {
	i := t.party(e.By)
	switch {
	case i < 0:
		return refuse(NotYours, e.By)
	case t.State != Proposed:
		return refuse(NotOpen, e.By)
	case !t.Parties[i].Accepted:
		return refuse(AlreadyDone, e.By)
	}
	t.Parties[i].Accepted = false
	return t, nil, nil
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
	if err := t.mayChange(e.By, e.Version, e.At); err != nil {
		return Trade{}, nil, err
	}
	out := t.itemFor(e.By, e.Piece)
	if out < 0 {
		return refuse(NoSuchPiece, e.By)
	}
	t.Items = slices.Delete(t.Items, out, out+1)
	return t.change(e.By, e.At)
}

func (e Counter) apply(t Trade) (Trade, []Notice, error) {
	if err := t.mayChange(e.By, e.Version, e.At); err != nil {
		return Trade{}, nil, err
	}
	if t.Together {
		return refuse(OfARound, e.By)
	}
	pays := asPutForward(e.TopUps)
	if slices.Equal(t.Items, e.Items) && slices.Equal(t.TopUps, pays) {
		return refuse(SameTerms, e.By)
	}
	t.Items, t.TopUps, t.Fixed = slices.Clone(e.Items), pays, true
	return t.change(e.By, e.At)
}

// mayChange refuses who may not change the terms now.
func (t Trade) mayChange(by match.Member, version int, at time.Time) error {
	switch {
	case t.party(by) < 0:
		return &Refusal{Why: NotYours, By: by}
	case t.State != Proposed:
		return &Refusal{Why: NotOpen, By: by}
	case version != 0 && version != t.Version:
		return &Refusal{Why: StaleVersion, By: by}
	case !at.Before(t.Deadline):
		return &Refusal{Why: TooLate, By: by}
	}
	return nil
}

// change makes the terms that are now in t a new version, and asks everyone but who made it.
func (t Trade) change(by match.Member, at time.Time) (Trade, []Notice, error) {
	if err := t.settle(); err != nil {
		return Trade{}, nil, err
	}
	t.Version++
	t.Deadline = at.Add(t.Lapse).UTC()
	for i, p := range t.Parties {
		t.Parties[i].Accepted = p.Member == by
	}
	return t, t.tell(AskedAgain, t.unlessSilent(by), func(p Party) bool { return p.Member != by }), nil
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
	i := t.party(e.By)
	switch {
	case e.By != "" && i < 0:
		return refuse(NotYours, e.By)
	case t.State == Proposed, t.State == Agreed && i >= 0 && !t.underWay():
		return t.end(Withdrawn, e.By)
	case t.State != Agreed || i < 0:
		return refuse(NotOpen, e.By)
	case t.Parties[i].Left:
		return refuse(AlreadyDone, e.By)
	}
	t.Parties[i].Left = true
	others := t.tell(PartyLeft, e.By, func(p Party) bool { return p.Member != e.By })
	return t, append(others, Notice{Keepers, PartyLeft, e.By}), nil
}

// underWay reports whether anything has been sent or paid.
func (t Trade) underWay() bool {
	return slices.ContainsFunc(t.Parties, func(p Party) bool { return p.Shipped }) ||
		slices.ContainsFunc(t.TopUps, func(pay TopUp) bool { return pay.Paid || pay.Got })
}

func (e Break) apply(t Trade) (Trade, []Notice, error) {
	switch {
	case t.State != Agreed:
		return refuse(NotAgreed, e.By)
	case t.party(e.By) >= 0 || e.By == t.Middle && e.By != "":
		return refuse(OwnCase, e.By)
	}
	return t.end(Broken, e.By)
}
