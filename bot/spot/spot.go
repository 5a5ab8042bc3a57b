// Package spot finds today's silver price where a group says it is to be found: a JSON feed described by its address and
// an RFC 6901 pointer, or a list of dates and prices.
//
// It promises: a number becomes a price exactly, or is refused with a Refusal that says why; what a Guard lets through is
// positive, inside its band, not from the future, not stale and no unexplained jump; a key comes from the environment, goes
// to the one host it was given for, over TLS, and appears in no error; and no feed, whatever it answers or redirects to,
// makes us call an address that is not public unless the operator has named that host. It reads no clock of its own.
package spot

import (
	"fmt"
	"time"

	"spareounce/match/melt"
)

// Quote is what a source says a troy ounce of fine silver costs.
type Quote struct {
	Price    melt.Price
	Currency melt.Currency
	At       time.Time // zero when the source gives no time
}

// Refusal says why a description, an answer or a price was not taken. It never holds a key.
type Refusal struct {
	Why    Why
	Word   string // what was wrong, as it was written; where it stands in a description is Col
	Col    int    // byte offset of Word in a description
	Price  melt.Price
	Detail string // a limit, a status, a host: what the reason needs to be said in full
	Cause  error  // for the operator's log; keys are blotted out
}

// Why is a reason for a refusal.
type Why int

// The reasons: of descriptions, of answers, of prices.
const (
	NoAddress       Why = iota + 1 // Word is no https address
	NoPointer                      // Word is no RFC 6901 pointer
	NoPrice                        // the description does not say where the price is
	UnknownWord                    // Word means nothing in a description
	MissingAfter                   // something is missing after Word
	BadUnit                        // Word is no unit of weight, or one with two meanings
	BadCurrency                    // Word is no currency of ISO 4217 with a minor unit
	BadScale                       // Word is no factor above zero
	BadKey                         // Word is no name of a key, or the key is not in the environment
	KeyElsewhere                   // the key was given for another host: Detail
	Unreachable                    // no answer: Detail is the host
	NotPublic                      // the address leads where only this machine or its network is: Detail is the host
	BadStatus                      // Detail is the HTTP status
	TooLarge                       // the answer is longer than Detail
	NotJSON                        // the answer is no JSON
	NothingThere                   // nothing at the pointer Word
	NoNumber                       // what stands at the pointer is no number: Word
	NotTheSameBack                 // the price and the one the other way round do not agree: Detail is their product
	NoTime                         // what stands at the time pointer is no time: Word
	NoRows                         // a list without a row
	BadRow                         // Word is a row that is no date and price; Detail is its number
	TwicePriced                    // two prices for one time: Word
	NotPositive                    // zero, negative, or too small or large to hold
	OutsideBand                    // Detail is the band
	Stale                          // Detail is the age
	FromTheFuture                  // Detail is the time
	Jump                           // Detail is the change; the price is kept aside until somebody confirms it
	UnknownCurrency                // no band is known for the currency Detail: somebody must set one
)

var whyNames = [...]string{
	"", "no address", "no pointer", "no price pointer", "unknown word", "missing", "bad unit", "bad currency", "bad scale",
	"bad key", "key of another host", "unreachable", "not a public address", "bad status", "too large", "not JSON",
	"nothing at the pointer", "no number", "both directions disagree", "no time", "no rows", "bad row", "priced twice",
	"not positive", "outside the band", "stale", "from the future", "jump", "no band",
}

func (w Why) String() string { return whyNames[w] }

func (r *Refusal) Error() string {
	text := r.Why.String()
	if r.Word != "" {
		text += fmt.Sprintf(" %q", r.Word)
	}
	if r.Detail != "" {
		text += ": " + r.Detail
	}
	if r.Cause != nil {
		text += ": " + r.Cause.Error()
	}
	return text
}

func (r *Refusal) Unwrap() error { return r.Cause }
