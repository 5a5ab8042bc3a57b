package trade

import (
	"slices"
	"time"

	"spareounce/match"
)

// Stage is how far what one party gives has come.
type Stage int

// The stages, in the order in which a leg goes through them. Those of the middle are only where there is one.
const (
	Waiting    Stage = iota // not their turn to send yet
	ToSend                  // to be sent
	WithMiddle              // sent to the middle, who waits for the others
	ToPassOn                // everything is sent to the middle, who is to send it on
	OnItsWay                // sent to who gets it
	ToCheck                 // it has arrived, and waits for a yes or a problem
	InTrouble               // who gets it says that something is wrong
	Done                    // accepted, or there is nothing to give
)

var stages = [...]string{"waiting", "to send", "with middle", "to pass on", "on its way", "to check", "in trouble", "done"}

func (s Stage) String() string { return nameIn(stages[:], int(s)) }

// ParseStage reads what String writes.
func ParseStage(text string) (Stage, bool) {
	i := slices.Index(stages[:], text)
	return Stage(i), i >= 0
}

// Problem is what may be wrong with what a party gets.
type Problem int

// The problems.
const (
	NoProblem Problem = iota
	NotArrived
	NotAsDescribed
	WrongPiece
)

var problems = [...]string{"", "not arrived", "not as described", "wrong piece"}

func (p Problem) String() string { return nameIn(problems[:], int(p)) }

// ParseProblem reads what String writes.
func ParseProblem(text string) (Problem, bool) {
	i := slices.Index(problems[:], text)
	return Problem(i), i >= 0
}

// stage works out how far the leg of the i-th party has come in an agreed trade.
func (t Trade) stage(i int) Stage {
	giver, getter := t.Parties[i], t.next(i)
	switch {
	case !t.gives(i) || getter.Received:
		return Done
	case getter.Problem != NoProblem:
		return InTrouble
	case getter.Arrived:
		return ToCheck
	case giver.Shipped && t.Middle != "" && !t.PassedOn && t.allSent():
		return ToPassOn
	case giver.Shipped && t.Middle != "" && !t.PassedOn:
		return WithMiddle
	case giver.Shipped:
		return OnItsWay
	case t.turnHasCome(i):
		return ToSend
	}
	return Waiting
}

func (t Trade) allSent() bool {
	for i, p := range t.Parties {
		if t.gives(i) && !p.Shipped {
			return false
		}
	}
	return true
}

// turnHasCome reports whether all that is given in an earlier turn has been accepted. Parcels that meet in the middle risk
// nothing, so there nobody waits.
func (t Trade) turnHasCome(i int) bool {
	for j, p := range t.Parties {
		if t.Middle == "" && t.gives(j) && p.Turn < t.Parties[i].Turn && !t.next(j).Received {
			return false
		}
	}
	return true
}

// wind brings every leg to its stage and sets the clock of each that has moved; it tells whose turn has come.
func (t *Trade) wind(at time.Time) (notices []Notice) {
	for i := range t.Parties {
		p := &t.Parties[i]
		was := p.Stage
		if p.Stage = t.stage(i); p.Stage == was {
			continue
		}
		p.Clock = Clock{}
		if p.Stage != ToPassOn {
			p.Clock = clockOf(within[p.Stage], at)
		}
		if was == Waiting && p.Stage == ToSend {
			notices = append(notices, Notice{p.Member, YourTurn, t.next(i).Member})
		}
	}
	if i := t.firstWithMiddle(); i >= 0 && t.Parties[i].Due.IsZero() { // the middle is asked once for all, by the first
		t.Parties[i].Clock = clockOf(within[ToPassOn], at)
	}
	t.setDeadline()
	return notices
}

// firstWithMiddle is the place of the first leg that the middle is to send on.
func (t Trade) firstWithMiddle() int {
	return slices.IndexFunc(t.Parties, func(p Party) bool { return p.Stage == ToPassOn })
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
	case !t.turnHasCome(i) && !e.Anyway:
		return refuse(NotYourTurn, e.By)
	}
	t.Parties[i].Shipped = true
	to := t.next(i).Member
	if t.Middle != "" {
		to = t.Middle
	}
	return t, append([]Notice{{to, ShippedToYou, e.By}}, t.wind(e.At)...), nil
}

func (e PassOn) apply(t Trade) (Trade, []Notice, error) {
	switch {
	case t.Middle == "" || e.By != t.Middle:
		return refuse(NotTheMiddle, e.By)
	case t.State != Agreed:
		return refuse(NotAgreed, e.By)
	case !t.allSent():
		return refuse(NotAllSent, e.By)
	}
	var notices []Notice
	for i, p := range t.Parties {
		if p.Stage == ToPassOn {
			notices = append(notices, Notice{t.next(i).Member, ShippedToYou, e.By})
		}
	}
	if notices == nil {
		return refuse(AlreadyDone, e.By) // sent on, or arrived already
	}
	t.PassedOn = true
	return t, append(notices, t.wind(e.At)...), nil
}

// getter finds the party that says something of what they get.
func (t Trade) getter(m match.Member) (int, error) {
	i := t.party(m)
	switch {
	case i < 0:
		return i, &Refusal{Why: NotYours, By: m}
	case t.State != Agreed && !t.Parties[i].Received:
		return i, &Refusal{Why: NotAgreed, By: m}
	case !t.gets(i):
		return i, &Refusal{Why: NothingToGet, By: m}
	}
	return i, nil
}

// sender is the place of who gives to the i-th party.
func (t Trade) sender(i int) int { return (i + len(t.Parties) - 1) % len(t.Parties) }

func (e Arrive) apply(t Trade) (Trade, []Notice, error) {
	i, err := t.getter(e.By)
	switch {
	case err != nil:
		return Trade{}, nil, err
	case t.Parties[i].Arrived || t.Parties[i].Received:
		return refuse(AlreadyDone, e.By)
	}
	t.arrived(i)
	t.Parties[i].Problem = NoProblem // it has come after all
	return t, t.wind(e.At), nil
}

// arrived notes that what the i-th party gets has come: so it was sent, even if nobody said so.
func (t *Trade) arrived(i int) {
	t.Parties[i].Arrived = true
	t.Parties[t.sender(i)].Shipped = true
}

func (e Receive) apply(t Trade) (Trade, []Notice, error) {
	i, err := t.getter(e.By)
	switch {
	case err != nil:
		return Trade{}, nil, err
	case t.Parties[i].Received:
		return refuse(AlreadyDone, e.By)
	}
	return t.receive(i, e.At, nil)
}

// receive accepts what the i-th party gets. Told is what else must be told.
func (t Trade) receive(i int, at time.Time, told []Notice) (Trade, []Notice, error) {
	t.arrived(i)
	t.Parties[i].Received, t.Parties[i].Problem = true, NoProblem
	told = append(told, Notice{t.Parties[t.sender(i)].Member, AcceptedNow, t.Parties[i].Member})
	return t.closeIfAll(t.Parties[i].Member, at, told)
}

// closeIfAll closes a trade when the last piece is accepted and the last money has come. The closing tells all.
func (t Trade) closeIfAll(last match.Member, at time.Time, told []Notice) (Trade, []Notice, error) {
	open := slices.ContainsFunc(t.TopUps, func(pay TopUp) bool { return !pay.Got })
	for i, p := range t.Parties {
		open = open || t.gets(i) && !p.Received
	}
	turns := t.wind(at)
	if open {
		return t, append(told, turns...), nil
	}
	t.State = Closed
	t.stopClocks()
	return t, t.tell(ClosedNow, last, everyone), nil
}

func (e Object) apply(t Trade) (Trade, []Notice, error) {
	i, err := t.getter(e.By)
	if err != nil {
		return Trade{}, nil, err
	}
	me := &t.Parties[i]
	switch {
	case me.Received:
		return refuse(AlreadyAccepted, e.By)
	case e.Problem <= NoProblem || int(e.Problem) >= len(problems) || e.Problem == me.Problem:
		return refuse(AlreadyDone, e.By)
	case e.Problem == NotArrived && me.Arrived:
		return refuse(HasArrived, e.By)
	case e.Problem == NotArrived && !t.Parties[t.sender(i)].Shipped:
		return refuse(NotSent, e.By)
	}
	if e.Problem != NotArrived {
		t.arrived(i)
	}
	me.Problem = e.Problem
	notices := []Notice{{t.Parties[t.sender(i)].Member, ProblemSaid, e.By}, {Keepers, ProblemSaid, e.By}}
	return t, append(notices, t.wind(e.At)...), nil
}
