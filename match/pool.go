// Package match finds trades that leave every member in them better off: swaps, rings in which each gives to the next,
// and chains begun by a gift; one member's best trades, or the best plan for a whole group with a proven bound on any
// other. It is pure: the same pool gives the same trades in the same order; it reads no clock, draws no random numbers
// but those seeded by its input, and never touches a database, a chat or the network. A budget is counted in steps of
// work, not in seconds.
//
// Every trade it returns keeps these rules. In a ring each member gives the next a bundle of at least one piece, and
// every piece fills a want of the receiver; nobody gives more of a piece than they can spare, and no want is filled
// twice. Who gets more value than they give tops it up with money, never above their limit. In a chain the first gives
// what they offer as gifts, each of the others passes on no more value than came in, and the last gives nothing. Each
// member's gains, less the postage of what they send, come to at least the pool's least gain; only who begins a chain
// asks for nothing.
package match

import (
	"cmp"

	"spareounce/match/melt"
)

// Pool is what a group could trade. Money is in the currency's minor unit.
type Pool struct {
	Currency string      `json:"currency"`
	Ring     int         `json:"ring"`     // most members in a ring; below 2 there are none
	Chain    int         `json:"chain"`    // most members in a chain begun by a gift; below 2 there are none
	MinGain  melt.Minor  `json:"min_gain"` // the least that a trade must be worth to each member in it
	Members  []Trader    `json:"members"`
	Pieces   []PieceInfo `json:"pieces"`
	Spares   []Spare     `json:"spares"`
	Wants    []Want      `json:"wants"`
	Postage  []Tariff    `json:"postage,omitempty"` // none between two regions means that it costs nothing
}

// Trader is a member with the limits they set.
type Trader struct {
	ID     Member     `json:"id"`
	Region string     `json:"region,omitempty"`
	TopUp  melt.Minor `json:"topup"`  // the most they would pay to even up a trade
	Trades int        `json:"trades"` // the most trades they would be in at once
}

// PieceInfo is what a piece weighs, in troy ounces for its postage, and what it is worth.
type PieceInfo struct {
	ID     Piece      `json:"id"`
	Series string     `json:"series,omitempty"`
	Ounces float64    `json:"ounces"` // counted to the millionth
	Value  melt.Minor `json:"value"`
}

// Spare is what a member can spare of a piece, and what one counts for when they give it.
type Spare struct {
	Member Member     `json:"member"`
	Piece  Piece      `json:"piece"`
	Count  int        `json:"count"`
	Value  melt.Minor `json:"value"`
	Gift   bool       `json:"gift,omitempty"`
}

// Want is one place to fill, once, by any of some pieces.
type Want struct {
	Member Member `json:"member"`
	Fill   []Fill `json:"fill"`
}

// Fill is a piece that will do, and what filling the want with it is worth to the member beyond the piece's value.
type Fill struct {
	Piece Piece      `json:"piece"`
	Gain  melt.Minor `json:"gain"`
}

// Tariff is what a parcel costs its sender from one region to another: so much for the parcel and so much for each
// ounce, the part of each piece rounded up to a whole minor unit.
type Tariff struct {
	From   string     `json:"from"`
	To     string     `json:"to"`
	Parcel melt.Minor `json:"parcel"`
	Ounce  melt.Minor `json:"ounce"`
}

// Kind is the shape of a trade.
type Kind int

// In a Ring the last member gives to the first; in a Chain the last gives nothing.
const (
	Ring Kind = iota
	Chain
)

func (k Kind) String() string { return [...]string{"ring", "chain"}[k] }

// Trade is what the matcher finds.
type Trade struct {
	Kind   Kind
	Legs   []Leg      // each from the member to whom the one before goes
	TopUps []TopUp    // what makes a ring even; none in a chain
	Gain   melt.Minor // what all members gain, less all postage
}

// Leg is a parcel.
type Leg struct {
	From, To Member
	Items    []Item
}

// Item is a piece in a parcel, and the want of the receiver that it fills by its place in the pool.
type Item struct {
	Piece Piece
	Want  int
}

// TopUp is money one member owes another for a trade to be even.
type TopUp struct {
	From, To Member
	Amount   melt.Minor
}

// Members lists who is in a trade, in the order of its legs.
func (t Trade) Members() []Member {
	ids := make([]Member, 0, len(t.Legs)+1)
	for _, leg := range t.Legs {
		ids = append(ids, leg.From)
	}
	if t.Kind == Chain && len(t.Legs) > 0 {
		ids = append(ids, t.Legs[len(t.Legs)-1].To)
	}
	return ids
}

// settle pairs those who owe with those who are owed, in order, so that no more payments are made than need be.
func settle(owes []melt.Minor, ids []Member) []TopUp {
	var paid []TopUp
	left := append([]melt.Minor(nil), owes...)
	to := 0
	for from := range left {
		for left[from] > 0 {
			for left[to] >= 0 {
				to++ // what is owed adds up to what is owing, so someone is left
			}
			amount := min(left[from], -left[to])
			paid = append(paid, TopUp{From: ids[from], To: ids[to], Amount: amount})
			left[from] -= amount
			left[to] += amount
		}
	}
	return paid
}

// compareItems orders the pieces of a parcel for print.
func compareItems(a, b Item) int {
	return cmp.Or(cmp.Compare(a.Piece, b.Piece), cmp.Compare(a.Want, b.Want))
}
