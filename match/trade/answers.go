package trade

import (
	"fmt"
	"strings"

	"spareounce/match"
	"spareounce/match/melt"
)

// Notice is who must be told what; To is Keepers for whoever keeps the group and has no part in the trade. About is whose
// deed it was or on whom it waits, "" when it is nobody.
type Notice struct {
	To    match.Member
	Kind  NoticeKind
	About match.Member
}

// Keepers stands for the keepers of the group in a notice.
const Keepers match.Member = ""

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
	YourTurn                       // what had to come first has: send what you give
	AcceptedNow                    // what you gave has been accepted
	ProblemSaid                    // About says that something is wrong with what they get
	PaidToYou                      // About says that your top-up is paid
	MoneyCame                      // About says that your top-up has come
	PartyLeft                      // About has left the group while things are on their way
	SendDue                        // send what you give, or say that you have
	ArrivalDue                     // say whether what you get has come
	CheckDue                       // check what has come, and say whether you accept it
	PassOnDue                      // send on what you hold in the middle
	ProblemDue                     // the two of you: settle what is wrong
	PayDue                         // pay, or say that you have
	MoneyDue                       // say whether the money has come
	CountedDone                    // nobody objected in time: what has arrived counts as accepted
	KeeperNeeded                   // it waits for About, or for two to settle a problem, and reminders were in vain
)

var noticeKinds = [...]string{
	"asked", "asked again", "agreed now", "ended now", "shipped to you", "closed now", "your turn", "accepted now", "problem said",
	"paid to you", "money came", "party left", "send due", "arrival due", "check due", "pass on due", "problem due", "pay due",
	"money due", "counted done", "keeper needed",
}

// String is the kind's name, for operators.
func (k NoticeKind) String() string { return nameIn(noticeKinds[:], int(k)) }

// tell makes a notice for every party that fits, in ring order.
func (t Trade) tell(kind NoticeKind, about match.Member, fits func(Party) bool) []Notice {
	var notices []Notice
	for _, p := range t.Parties {
		if fits(p) {
			notices = append(notices, Notice{To: p.Member, Kind: kind, About: about})
		}
	}
	return notices
}

func everyone(Party) bool { return true }

// Refusal says why an event changed nothing, or why terms make no trade. By is whom the reason is about, Amount and Limit
// the money if it is about money.
type Refusal struct {
	Why           Why
	By            match.Member
	Amount, Limit melt.Minor
}

// Error is for operators; members are told in other words.
func (r *Refusal) Error() string {
	var text strings.Builder
	fmt.Fprint(&text, "refused: ", r.Why)
	if r.By != "" {
		fmt.Fprintf(&text, ", member %q", string(r.By))
	}
	if r.Amount != 0 {
		fmt.Fprintf(&text, ", amount %d, limit %d", r.Amount, r.Limit)
	}
	return text.String()
}

func refuse(why Why, by match.Member) (Trade, []Notice, error) {
	return Trade{}, nil, &Refusal{Why: why, By: by}
}

// Why is the reason for a refusal.
type Why int

// The reasons.
const (
	NoRing          Why = iota // terms that make no ring or chain
	NotYours                   // who says it is no party
	AlreadyDone                // said before: harmless
	StaleVersion               // an answer to terms that have changed since
	NotOpen                    // no longer proposed
	NotAgreed                  // not agreed, or no longer
	TooLate                    // at or after the deadline
	TooEarly                   // the deadline has not come
	NoSuchPiece                // not in the trade
	EmptiesALeg                // By would give nothing
	AboveLimit                 // By would pay Amount, which is more than the Limit they set
	PassesOnTooMuch            // By in a chain would pass on Amount more than comes in
	NothingToSend              // the last of a chain gives nothing
	NothingToGet               // the first of a chain gets nothing
	TooLarge                   // the values add up to more than can be counted
	NoTopUp                    // a payment put forward that is none: to oneself, to a stranger, of nothing, twice, or in a chain
	NotYourTurn                // By sends when what comes first has been accepted
	NotSent                    // what By gets has not been sent yet
	HasArrived                 // By said that it has arrived
	AlreadyAccepted            // By accepted what they got
	NothingToPay               // By owes nothing of that kind
	NoMoneyDue                 // By is owed nothing of that kind
	NotTheMiddle               // By is not who stands in the middle
	NotAllSent                 // not everything has been sent to the middle
	OwnCase                    // a keeper does not judge a trade they stand in
	SameTerms                  // a counter-offer that changes nothing
	OfARound                   // its pieces are those that its round has planned, for it is agreed with the others or not at all
)

var whys = [...]string{
	"no ring", "not yours", "already done", "stale version", "not open", "not agreed", "too late", "too early", "no such piece",
	"empties a leg", "above limit", "passes on too much", "nothing to send", "nothing to get", "too large",
	"no top-up", "not your turn", "not sent", "has arrived", "already accepted", "nothing to pay", "no money due", "not the middle",
	"not all sent", "own case", "same terms", "of a round",
}

// String is the reason's name, for operators.
func (w Why) String() string { return nameIn(whys[:], int(w)) }
