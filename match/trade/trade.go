// Package trade knows what may happen to a trade, and when.
//
// A Trade is a value. Apply returns the trade as it is after an event and who must be told, and never changes the trade
// it is given; it reads no clock (events carry the time they need), draws no random numbers and does no I/O. A refused
// event changes nothing and tells nobody: the Refusal says why in data, for others have the words.
//
// Nobody ships before every party has said yes to the same terms. What is closed or ended stays so. Until then the end
// is never out of reach: a proposal lapses at its deadline; an agreed trade closes when every piece is accepted and all
// money has come, a keeper who has no part in it ends it, or the clock does after its reminders. Chart draws all of it.
package trade

import (
	"fmt"
	"math"
	"slices"
	"time"

	"spareounce/match"
	"spareounce/match/melt"
)

// State is where a trade stands.
type State int

// The life of a trade: proposed, then agreed, then closed; or ended on the way.
const (
	Proposed State = iota // waiting for every party's yes
	Agreed                // promised: the pieces are on their way
	Closed                // every piece is accepted, and all money has come
	Ended                 // over without effect; Ending says why
)

var states = [...]string{"proposed", "agreed", "closed", "ended"}

func (s State) String() string { return nameIn(states[:], int(s)) }

// ParseState reads what String writes.
func ParseState(text string) (State, bool) {
	i := slices.Index(states[:], text)
	return State(i), i >= 0
}

// Ending is why a trade ended.
type Ending int

// None is the ending of a trade that has not ended.
const (
	None       Ending = iota
	Declined          // a party said no
	Lapsed            // a party did not answer in time
	Overtaken         // a piece or a want in it went into another agreement
	Withdrawn         // a party left, or a spare or want in it went away
	Broken            // a keeper ended it after it was agreed
	Unfinished        // it was agreed, and somebody did not do their part in time
	CalledOff         // another trade of its round ended, and they are agreed together or not at all
)

var endings = [...]string{"", "declined", "lapsed", "overtaken", "withdrawn", "broken", "unfinished", "called off"}

func (e Ending) String() string { return nameIn(endings[:], int(e)) }

// ParseEnding reads what String writes.
func ParseEnding(text string) (Ending, bool) {
	i := slices.Index(endings[:], text)
	return Ending(i), i >= 0
}

// nameIn is a number's name, or the number where it has none.
func nameIn(names []string, i int) string {
	if i < 0 || i >= len(names) {
		return fmt.Sprint("unknown ", i)
	}
	return names[i]
}

// Trade is who gives what to whom, and how far it has come.
type Trade struct {
	Version  int // raised by every change of terms; a yes names the version it is for
	State    State
	Ending   Ending
	Currency melt.Currency
	Chain    bool         // a gift chain: the last party gives nothing, and no money moves
	Together bool         // agreed with all others of its round or not at all
	Silent   bool         // until all have said yes, nobody is told who said what
	Fixed    bool         // the top-ups are what a member put forward, not worked out from the values
	Middle   match.Member // who is trusted to take all parcels in and send them on, "" for nobody; no party
	PassedOn bool         // the middle has sent everything on
	Parties  []Party      // each gives to the next, and the last to the first unless Chain
	Items    []Item
	TopUps   []TopUp
	Deadline time.Time     // when the clock next matters, UTC: for answers, or the first thing due; zero if nothing is
	Lapse    time.Duration // how long members have to answer; a change of terms starts it anew
}

// Party is one member of a trade. Of a party that gives nothing Shipped is always false, of one that gets nothing
// Arrived, Received and Problem are.
type Party struct {
	Member     match.Member
	TopUpLimit melt.Minor // the most they would pay to even up, where the top-ups are worked out
	Turn       int        // they send when all that is given in an earlier turn has been accepted
	Accepted   bool       // the present version
	Shipped    bool       // what they give is on its way
	Arrived    bool       // what they get has come
	Received   bool       // what they get has been checked and accepted
	Problem    Problem    // what they say is wrong with what they get
	Left       bool       // they left the group when something was on its way already
	Stage      Stage      // of what they give, once the trade is agreed
	Clock                 // on what they give
}

// Clock is when somebody is next asked for something, zero if nobody is, and how often they have been.
type Clock struct {
	Due    time.Time // UTC
	Nudges int
}

// Item is one piece that one party gives to the next, at the value that was frozen when the trade was proposed. Holding
// and Want are the rows of a store that it comes out of and goes into.
type Item struct {
	From, To      match.Member
	Holding, Want int64
	Piece         match.Piece
	Value         melt.Minor
}

// TopUp is money that evens up values, paid between members. Nobody else touches it.
type TopUp struct {
	From, To match.Member
	Amount   melt.Minor
	Paid     bool // says From
	Got      bool // says To
	Clock         // on the payment
}

// Terms are what a trade is proposed with.
type Terms struct {
	Currency melt.Currency
	Chain    bool
	Together bool
	Silent   bool
	Middle   match.Member
	By       match.Member // who puts it forward, and so says yes to it; "" when it is nobody's offer
	Parties  []Party      // Member, TopUpLimit and Turn; the rest is ignored
	Items    []Item
	Fixed    bool // TopUps are as put forward, else they are worked out
	TopUps   []TopUp
	Lapse    time.Duration
}

// Propose makes a trade of terms and asks every party but who puts it forward. What it refuses, with a *Refusal: terms
// that are no ring or chain (fewer than two parties, a member twice or without an identity, an item that does not go from
// its giver to the next party, a value, a limit or a turn below zero, a middle who is a party, no time to answer); a party
// that would give nothing; a top-up above a party's limit, or one put forward that is none; in a chain, a party that would
// pass on more than comes in; values too large to add up.
func Propose(terms Terms, at time.Time) (Trade, []Notice, error) {
	t := Trade{
		Version: 1, Currency: terms.Currency, Chain: terms.Chain, Together: terms.Together, Silent: terms.Silent, Fixed: terms.Fixed, Middle: terms.Middle,
		Lapse: terms.Lapse, Deadline: at.Add(terms.Lapse).UTC(), Items: slices.Clone(terms.Items), TopUps: asPutForward(terms.TopUps),
	}
	for _, p := range terms.Parties {
		t.Parties = append(t.Parties, Party{Member: p.Member, TopUpLimit: p.TopUpLimit, Turn: p.Turn, Accepted: terms.By != "" && p.Member == terms.By})
	}
	if err := t.settle(); err != nil {
		return Trade{}, nil, err
	}
	if terms.By != "" && t.party(terms.By) < 0 {
		return refuse(NotYours, terms.By)
	}
	return t, t.tell(Asked, t.unlessSilent(terms.By), func(p Party) bool { return !p.Accepted }), nil
}

// unlessSilent is m where the others may know, else nobody.
func (t Trade) unlessSilent(m match.Member) match.Member {
	if t.Silent && t.State == Proposed {
		return ""
	}
	return m
}

// settle checks the terms and works out the top-ups, unless they are put forward.
func (t *Trade) settle() (err error) {
	if err := t.checkShape(); err != nil {
		return err
	}
	if t.Fixed {
		return t.checkTopUps()
	}
	t.TopUps, err = t.evenUp()
	return err
}

func (t Trade) checkShape() error {
	if len(t.Parties) < 2 || t.Lapse <= 0 || t.Middle != "" && t.party(t.Middle) >= 0 {
		return &Refusal{Why: NoRing}
	}
	for i, p := range t.Parties {
		if p.Member == "" || t.party(p.Member) != i || p.TopUpLimit < 0 || p.Turn < 0 {
			return &Refusal{Why: NoRing, By: p.Member}
		}
		if t.gives(i) && !slices.ContainsFunc(t.Items, func(item Item) bool { return item.From == p.Member }) {
			return &Refusal{Why: EmptiesALeg, By: p.Member}
		}
	}
	var sum melt.Minor
	for _, item := range t.Items {
		from := t.party(item.From)
		if from < 0 || !t.gives(from) || item.To != t.next(from).Member || item.Value < 0 {
			return &Refusal{Why: NoRing, By: item.From}
		}
		if item.Value > math.MaxInt64-sum {
			return &Refusal{Why: TooLarge, By: item.From, Amount: item.Value}
		}
		sum += item.Value
	}
	return nil
}

// party is the place of a member among the parties, -1 for a stranger.
func (t Trade) party(m match.Member) int {
	return slices.IndexFunc(t.Parties, func(p Party) bool { return p.Member == m })
}

func (t Trade) next(i int) Party { return t.Parties[(i+1)%len(t.Parties)] }
func (t Trade) gives(i int) bool { return !t.Chain || i < len(t.Parties)-1 }
func (t Trade) gets(i int) bool  { return !t.Chain || i > 0 }

// clone returns a trade that shares nothing with t.
func (t Trade) clone() Trade {
	t.Parties, t.Items, t.TopUps = slices.Clone(t.Parties), slices.Clone(t.Items), slices.Clone(t.TopUps)
	return t
}
