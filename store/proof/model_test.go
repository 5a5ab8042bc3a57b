package proof

import (
	"errors"
	"fmt"
	"hash/maphash"
	"iter"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/anishathalye/porcupine"

	"spareounce/match"
	"spareounce/match/trade"
	"spareounce/store"
)

var monday = time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)

func still() time.Time { return monday }

// deed is what one member does. It and the answer travel as JSON to and from the bot under test.
type deed struct {
	By      int64 // the member's id
	Kind    kind
	Trade   int64 // its number
	Version int
	Piece   string // a trade's item for leave out, else the piece's code
}

type kind string

const (
	accept   kind = "accept"
	decline  kind = "decline"
	leaveOut kind = "leave out"
	takeBack kind = "take back"
	ship     kind = "sent"
	arrive   kind = "arrived"
	object   kind = "problem"
	receive  kind = "got"
	look     kind = "trade"
	shelf    kind = "shelf"
	offer    kind = "spare"
	keep     kind = "keep"
)

// event is the deed as a trade sees it; nil when it is about no trade, or only looks.
func (d deed) event() trade.Event {
	by := identity(d.By)
	switch d.Kind {
	case accept:
		return trade.Accept{By: by, Version: d.Version, At: monday}
	case decline:
		return trade.Decline{By: by}
	case leaveOut:
		return trade.LeaveOut{By: by, Piece: match.Piece(d.Piece), Version: d.Version, At: monday}
	case takeBack:
		return trade.TakeBack{By: by}
	case ship:
		return trade.Ship{By: by, At: monday}
	case arrive:
		return trade.Arrive{By: by, At: monday}
	case object:
		return trade.Object{By: by, Problem: trade.WrongPiece, At: monday}
	case receive:
		return trade.Receive{By: by, At: monday}
	}
	return nil
}

// answer is what the member learns.
type answer struct {
	Why     string // of a refusal; "" when it was done
	Seen    string // the trade, or the shelf, in one line
	Unknown bool   // no answer came: it may have been done, or be done later
}

// world is all that the deeds of some members can change: what the model knows.
type world struct {
	trades   map[int64]trade.Trade // by number
	holdings map[slot]holding
	wants    map[int64]want // by the store's id
	rows     map[int64]slot // of the holdings that trades name by the store's id; never changed

	text string // all that can change, in words: two worlds of one text are one
}

type slot struct {
	member int64
	piece  string
}

type (
	holding struct{ quantity, spare, taken int }
	want    struct {
		member          int64
		wanted          string
		quantity, taken int
	}
)

func (w world) clone() world {
	w.trades, w.holdings, w.wants = maps.Clone(w.trades), maps.Clone(w.holdings), maps.Clone(w.wants)
	return w
}

// after is the world after a deed, and the answer to it.
func (w world) after(d deed) (world, answer) {
	switch d.Kind {
	case look:
		return w, answer{Seen: describe(w.trades[d.Trade])}
	case shelf:
		return w, answer{Seen: w.shelf(d.By)}
	case offer, keep:
		next := w.clone()
		if why := next.spare(slot{d.By, d.Piece}, d.Kind == offer); why != "" {
			return w, answer{Why: why}
		}
		next.endHollow(d.By, trade.Withdraw{By: identity(d.By)})
		return next, answer{}
	}
	moved, _, err := w.trades[d.Trade].Apply(d.event())
	if refusal, ok := errors.AsType[*trade.Refusal](err); ok {
		return w, answer{Why: refusal.Why.String(), Seen: describe(w.trades[d.Trade])}
	}
	next := w.clone()
	before := next.trades[d.Trade]
	next.trades[d.Trade] = moved
	switch {
	case before.State == trade.Agreed:
		for i, p := range moved.Parties {
			if p.Stage == trade.Done && before.Parties[i].Stage != trade.Done {
				next.deliver(moved, p.Member)
			}
		}
	case moved.State == trade.Agreed:
		next.promise(moved)
		next.endHollow(0, trade.Overtake{})
	}
	return next, answer{Seen: describe(moved)}
}

// spare has a member offer one of a piece, or keep it back.
func (w world) spare(s slot, offers bool) (why string) {
	h := w.holdings[s]
	switch {
	case offers && h.taken > 1:
		return "promised"
	case offers:
		h.quantity, h.spare = max(h.quantity, 1), 1
	case h.spare == 0:
		return "not spared"
	case h.spare-1 < h.taken:
		return "promised"
	default:
		h.spare--
	}
	w.holdings[s] = h
	return ""
}

// promise takes what a trade gives and fills.
func (w world) promise(t trade.Trade) {
	for _, item := range t.Items {
		s := w.rows[item.Holding]
		h := w.holdings[s]
		h.taken++
		w.holdings[s] = h
		x := w.wants[item.Want]
		x.taken++
		w.wants[item.Want] = x
	}
}

// deliver moves the pieces that one member gave, when who gets them has accepted them.
func (w world) deliver(t trade.Trade, giver match.Member) {
	for _, item := range t.Items {
		if item.From != giver {
			continue
		}
		from := w.rows[item.Holding]
		to := slot{number(item.To), from.piece}
		h := w.holdings[to]
		h.quantity++
		w.holdings[to] = h
		h = w.holdings[from]
		h.quantity, h.spare, h.taken = h.quantity-1, h.spare-1, h.taken-1
		if w.holdings[from] = h; h.quantity == 0 {
			delete(w.holdings, from)
		}
		x := w.wants[item.Want]
		x.quantity, x.taken = x.quantity-1, x.taken-1
		if w.wants[item.Want] = x; x.quantity == 0 {
			delete(w.wants, item.Want)
		}
	}
}

// endHollow ends every proposal that counts on more than is free: of one member alone if there is one.
func (w world) endHollow(member int64, e trade.Event) {
	for n, t := range w.trades {
		if t.State != trade.Proposed || member != 0 && !slices.ContainsFunc(t.Parties, func(p trade.Party) bool { return p.Member == identity(member) }) {
			continue
		}
		holdings, wants := map[int64]int{}, map[int64]int{}
		hollow := false
		for _, item := range t.Items {
			holdings[item.Holding]++
			wants[item.Want]++
			h, x := w.holdings[w.rows[item.Holding]], w.wants[item.Want]
			hollow = hollow || holdings[item.Holding] > h.spare-h.taken || wants[item.Want] > x.quantity-x.taken
		}
		if hollow {
			w.trades[n], _, _ = t.Apply(e)
		}
	}
}

// shelf describes what a member has and wants.
func (w world) shelf(member int64) string {
	var lines []string
	for s, h := range w.holdings {
		if s.member == member {
			lines = append(lines, describeHolding(s.piece, h.quantity, h.spare, h.taken))
		}
	}
	for _, x := range w.wants {
		if x.member == member {
			lines = append(lines, describeWant(x.wanted, x.quantity, x.taken))
		}
	}
	slices.Sort(lines)
	return strings.Join(lines, ", ")
}

func describeHolding(piece string, quantity, spare, taken int) string {
	return fmt.Sprintf("%s: %d held, %d spare, %d promised", piece, quantity, spare, taken)
}

func describeWant(wanted string, quantity, taken int) string {
	return fmt.Sprintf("wants %d of %s, %d promised", quantity, wanted, taken)
}

// describe is a trade in a line: all of it that a deed can change.
func describe(t trade.Trade) string {
	line := fmt.Sprintf("version %d %s %s, %d items:", t.Version, t.State, t.Ending, len(t.Items))
	for _, p := range t.Parties {
		line += fmt.Sprintf("; %s %t %s %s", p.Member, p.Accepted, p.Stage, p.Problem)
	}
	return line
}

func identity(member int64) match.Member { return store.Member{ID: member}.Identity() }

func number(m match.Member) (n int64) {
	_, _ = fmt.Sscan(string(m), &n)
	return n
}

// told writes the world down.
func (w world) told() world {
	var text strings.Builder
	for _, n := range slices.Sorted(maps.Keys(w.trades)) {
		fmt.Fprintln(&text, n, describe(w.trades[n]))
	}
	var lines []string
	for s, h := range w.holdings {
		lines = append(lines, fmt.Sprint(s, h))
	}
	for id, x := range w.wants {
		lines = append(lines, fmt.Sprint(id, x))
	}
	slices.Sort(lines)
	text.WriteString(strings.Join(lines, "\n"))
	w.text = text.String()
	return w
}

var seed = maphash.MakeSeed()

// model is the world as a sequential specification.
func model(begin world) porcupine.Model {
	return porcupine.Model{
		Init: func() any { return begin.told() },
		Step: func(state, input, output any) (bool, any) {
			before, got := state.(world), output.(answer)
			next, want := before.after(input.(deed))
			if !got.Unknown && got != want {
				return false, nil
			}
			if want.Why != "" || input.(deed).Kind == look || input.(deed).Kind == shelf {
				return true, before
			}
			return true, next.told()
		},
		Equal: func(a, b any) bool { return a.(world).text == b.(world).text },
		Hash:  func(state any) uint64 { return maphash.String(seed, state.(world).text) },
		DescribeOperation: func(input, output any) string {
			return fmt.Sprintf("%+v → %+v", input, output)
		},
	}
}

// answered are the operations that were, and the ends of the others: those that may or may not have been done.
func answered(history []porcupine.Operation) (known, unknown []porcupine.Operation) {
	for _, o := range history {
		if o.Output.(answer).Unknown {
			unknown = append(unknown, o)
		} else {
			known = append(known, o)
		}
	}
	return known, unknown
}

// possible reports whether a history can have been. Each deed without an answer may have been done or not, which makes
// many cases; as few of them are done, those in which the fewest are come first.
func possible(begin world, history []porcupine.Operation) porcupine.CheckResult {
	known, unknown := answered(history)
	since := time.Now()
	for n := 0; n <= min(len(unknown), 3) && time.Since(since) < time.Minute; n++ {
		for some := range choices(unknown, n) {
			if porcupine.CheckOperationsTimeout(model(begin), append(slices.Clip(known), some...), 10*time.Second) == porcupine.Ok {
				return porcupine.Ok
			}
		}
	}
	return porcupine.CheckOperationsTimeout(model(begin), history, 5*time.Minute)
}

// choices yields every choice of n operations.
func choices(all []porcupine.Operation, n int) iter.Seq[[]porcupine.Operation] {
	return func(yield func([]porcupine.Operation) bool) {
		if n == 0 {
			yield(nil)
			return
		}
		for i := range all {
			for rest := range choices(all[i+1:], n-1) {
				if !yield(append([]porcupine.Operation{all[i]}, rest...)) {
					return
				}
			}
		}
	}
}
