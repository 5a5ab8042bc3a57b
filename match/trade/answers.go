package trade

import (
	"fmt"
	"strings"

	"spareounce/match"
	"spareounce/match/melt"
)

// Notice is who must be told what; About is whose deed it was, "" when it was nobody's.
type Notice struct {
	To    match.Member
	Kind  NoticeKind
	About match.Member
}

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

var noticeKinds = [...]string{"asked", "asked again", "agreed now", "ended now", "shipped to you", "closed now"}

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
)

var whys = [...]string{
	"no ring", "not yours", "already done", "stale version", "not open", "not agreed", "too late", "too early", "no such piece",
	"empties a leg", "above limit", "passes on too much", "nothing to send", "nothing to get", "too large",
}

// String is the reason's name, for operators.
func (w Why) String() string { return nameIn(whys[:], int(w)) }
