package store

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Shelf is all that one member told us: what they hold, what of it they can spare, what they want, and what counts as
// complete for them. Its methods are the member's own deeds, pure: Change loads a shelf, lets one edit it, and saves
// what differs.
type Shelf struct {
	Holdings map[HoldingKey]Holding
	Wants    map[WantKey]Want
	Sets     map[string]series.Edits // by series; only where it differs from the series' own list
}

// HoldingKey names one row of a shelf: examples of a piece in different condition are different rows.
type HoldingKey struct {
	Series, Piece string
	Condition     series.Condition
}

// Holding is what a member has of a piece. 0 <= Taken <= Spare <= Quantity.
type Holding struct {
	ID       int64
	Quantity int
	Spare    int         // what of it they let go
	Taken    int         // what of that is promised in agreed trades
	Ask      *melt.Minor // what the owner asks for one
	Gift     bool        // given for nothing
	Quiet    bool        // matched like others, and shown to nobody
	Note     string
}

// Free is how many can still be promised.
func (h Holding) Free() int { return h.Spare - h.Taken }

// WantKey names a want: the series and what is wanted, the code of a slot or piece, or codes joined by |.
type WantKey struct{ Series, Wanted string }

// Want is a slot to fill, Quantity times, by any of its pieces.
type Want struct {
	ID       int64
	Pieces   []string
	Quantity int
	Taken    int // promised in agreed trades
	Priority Priority
	Least    series.Condition
	Top      *melt.Minor       // the most the member would give for it
	Quiet    bool              // matched like others, and shown to nobody
	Replaces *series.Condition // the condition of the example that becomes spare when this is met; nil for none
	Note     string
}

// Priority is how much a want matters to its member.
type Priority int

// In the words members type.
const (
	Someday Priority = iota
	Normal
	Soon
)

// PromisedError refuses a change that would break a promise: Promised of the piece or want stand in agreed trades.
type PromisedError struct {
	Series, Piece string
	Promised      int
}

func (e *PromisedError) Error() string {
	return fmt.Sprintf("%d of %s/%s promised in agreed trades", e.Promised, e.Series, e.Piece)
}

// NotHeldError refuses to take away what is not there.
type NotHeldError struct{ Series, Piece string }

func (e *NotHeldError) Error() string {
	return "nothing of " + e.Series + "/" + e.Piece + " on the shelf"
}

func newShelf() *Shelf {
	return &Shelf{Holdings: map[HoldingKey]Holding{}, Wants: map[WantKey]Want{}, Sets: map[string]series.Edits{}}
}

func (s *Shelf) clone() *Shelf {
	c := &Shelf{Holdings: maps.Clone(s.Holdings), Wants: maps.Clone(s.Wants), Sets: maps.Clone(s.Sets)}
	for k, w := range c.Wants {
		w.Pieces = slices.Clone(w.Pieces)
		c.Wants[k] = w
	}
	return c
}

// Row finds the row that a member means by a piece and the condition they said: without a condition, the only row of
// the piece if there is just one.
func (s *Shelf) Row(code, piece string, condition series.Condition) HoldingKey {
	key := HoldingKey{code, piece, condition}
	if condition != series.Unsaid {
		return key
	}
	if rows := s.rows(code, piece); len(rows) == 1 {
		return rows[0]
	}
	return key
}

// rows lists the rows of a piece, worst condition first.
func (s *Shelf) rows(code, piece string) []HoldingKey {
	var rows []HoldingKey
	for c := series.Unsaid; c <= series.Sealed; c++ {
		if _, ok := s.Holdings[HoldingKey{code, piece, c}]; ok {
			rows = append(rows, HoldingKey{code, piece, c})
		}
	}
	return rows
}

// Hold says that the member owns a piece: exactly quantity if they counted, at least one if not. Fewer than before
// shortens the spare too.
func (s *Shelf) Hold(key HoldingKey, quantity int, counted bool) error {
	h := s.Holdings[key]
	if !counted {
		quantity = max(quantity, h.Quantity)
	}
	if quantity < h.Taken {
		return &PromisedError{key.Series, key.Piece, h.Taken}
	}
	h.Quantity, h.Spare = quantity, min(h.Spare, quantity)
	s.put(key, h)
	return nil
}

// Add says that so many more have come in.
func (s *Shelf) Add(key HoldingKey, more int) {
	h := s.Holdings[key]
	h.Quantity += more
	s.put(key, h)
}

// Offer says that the member can spare a piece: exactly spare if they counted, at least one if not. What is spared is
// owned, so the quantity follows.
func (s *Shelf) Offer(key HoldingKey, spare int, counted bool) error {
	h := s.Holdings[key]
	if !counted {
		spare = max(spare, h.Spare)
	}
	if spare < h.Taken {
		return &PromisedError{key.Series, key.Piece, h.Taken}
	}
	h.Spare, h.Quantity = spare, max(h.Quantity, spare)
	s.put(key, h)
	return nil
}

// Describe edits what is said about a row that is there.
func (s *Shelf) Describe(key HoldingKey, edit func(*Holding)) {
	h, ok := s.Holdings[key]
	if ok {
		edit(&h)
		s.put(key, h)
	}
}

// Keep takes a piece off the spares; the piece stays held.
func (s *Shelf) Keep(key HoldingKey, fewer int, counted bool) error {
	h := s.Holdings[key]
	if h.Spare == 0 {
		return &NotHeldError{key.Series, key.Piece}
	}
	if !counted {
		fewer = h.Spare
	}
	if h.Spare-fewer < h.Taken {
		return &PromisedError{key.Series, key.Piece, h.Taken}
	}
	h.Spare = max(h.Spare-fewer, 0)
	s.put(key, h)
	return nil
}

// Remove says that a piece is no longer held: so many if counted, all if not.
func (s *Shelf) Remove(key HoldingKey, fewer int, counted bool) error {
	h, ok := s.Holdings[key]
	if !ok {
		return &NotHeldError{key.Series, key.Piece}
	}
	if !counted {
		fewer = h.Quantity
	}
	return s.Hold(key, max(h.Quantity-fewer, 0), true)
}

// put stores a row, or forgets it when nothing is left.
func (s *Shelf) put(key HoldingKey, h Holding) {
	if h.Quantity == 0 {
		delete(s.Holdings, key)
		return
	}
	if h.Spare == 0 {
		h.Ask, h.Gift, h.Quiet = nil, false, false
	}
	s.Holdings[key] = h
}

// Wish adds a want, or changes the one that is there: edit sees it as it stands.
func (s *Shelf) Wish(key WantKey, pieces []string, quantity int, counted bool, edit func(*Want)) error {
	w, ok := s.Wants[key]
	if !ok {
		w = Want{Priority: Normal, Quantity: quantity}
	}
	if counted {
		w.Quantity = quantity
	}
	if w.Quantity < w.Taken {
		return &PromisedError{key.Series, key.Wanted, w.Taken}
	}
	w.Pieces = slices.Clone(pieces)
	slices.Sort(w.Pieces)
	edit(&w)
	s.Wants[key] = w
	return nil
}

// Unwish takes a want away.
func (s *Shelf) Unwish(key WantKey) error {
	w, ok := s.Wants[key]
	if !ok {
		return &NotHeldError{key.Series, key.Wanted}
	}
	if w.Taken > 0 {
		return &PromisedError{key.Series, key.Wanted, w.Taken}
	}
	delete(s.Wants, key)
	return nil
}

// Fulfil strikes off wants that n pieces which have come in satisfy: the want that fewest pieces fill goes first, and what
// is promised in an agreed trade stays. It says how many were struck off.
func (s *Shelf) Fulfil(key HoldingKey, n int) (struck int) {
	var fits []WantKey
	for k, w := range s.Wants {
		if k.Series == key.Series && slices.Contains(w.Pieces, key.Piece) && key.Condition.Meets(w.Least) {
			fits = append(fits, k)
		}
	}
	slices.SortFunc(fits, func(a, b WantKey) int {
		return cmp.Or(len(s.Wants[a].Pieces)-len(s.Wants[b].Pieces), compareWantKeys(a, b))
	})
	for _, k := range fits {
		w := s.Wants[k]
		met := min(n-struck, w.Quantity-w.Taken)
		struck += met
		if met > 0 && w.Replaces != nil {
			s.free(HoldingKey{key.Series, key.Piece, *w.Replaces})
		}
		if w.Quantity -= met; w.Quantity == 0 {
			delete(s.Wants, k)
		} else {
			s.Wants[k] = w
		}
	}
	return struck
}

// free makes one more of a row spare, if there is one that is not: a better example has come.
func (s *Shelf) free(key HoldingKey) {
	if h, ok := s.Holdings[key]; ok && h.Spare < h.Quantity {
		h.Spare++
		s.Holdings[key] = h
	}
}

// Upgrade finds the example of a piece that a better one would replace: the worst.
func (s *Shelf) Upgrade(code, piece string) (HoldingKey, error) {
	rows := s.rows(code, piece)
	if len(rows) == 0 {
		return HoldingKey{}, &NotHeldError{code, piece}
	}
	return rows[0], nil
}

// Held counts the pieces of a series by code, whatever their condition.
func (s *Shelf) Held(code string) map[string]int {
	held := map[string]int{}
	for key, h := range s.Holdings {
		if key.Series == code {
			held[key.Piece] += h.Quantity
		}
	}
	return held
}

// Spares counts what of a series can still be promised, by piece.
func (s *Shelf) Spares(code string) map[string]int {
	spare := map[string]int{}
	for key, h := range s.Holdings {
		if key.Series == code && h.Free() > 0 {
			spare[key.Piece] += h.Free()
		}
	}
	return spare
}

// Completion is the member's set of a series, their way.
func (s *Shelf) Completion(one series.Series) series.Completion {
	return series.Complete(one.SlotsFor(s.Sets[one.Code]), s.Held(one.Code))
}
