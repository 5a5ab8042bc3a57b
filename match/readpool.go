package match

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"spareounce/match/melt"
)

// largestTotal bounds the sum of all money in a pool, so that no sum of it, nor a thousand times one, overflows.
const largestTotal = 1 << 50

// mistakesShown is how many mistakes of one file are collected before the rest is left unread.
const mistakesShown = 50

// A PoolError lists what is wrong with a pool file.
type PoolError struct{ Mistakes []Mistake }

// Mistake is one thing wrong with a pool file, and the line, counted from 1, where it is.
type Mistake struct {
	Line   int
	Reason string
}

func (e *PoolError) Error() string {
	lines := make([]string, len(e.Mistakes))
	for i, m := range e.Mistakes {
		lines[i] = fmt.Sprintf("line %d: %s", m.Line, m.Reason)
	}
	return strings.Join(lines, "\n")
}

// ReadPool reads a pool file. It is strict: a key it does not know, a key given twice, a number out of bounds, a member or
// piece that is not listed, and a second spare of the same member and piece are mistakes. What is wrong with the file is
// a *PoolError with every mistake, up to fifty; other errors come from r. Left out, ring is 3, chain 0, min_gain 1, topup
// 0, trades 1, ounces 1, value 0, gift false.
func ReadPool(r io.Reader) (*Pool, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("read the pool: %w", err)
	}
	p := &poolReader{text: text, members: map[Member]bool{}, pieces: map[Piece]bool{}}
	pool := p.pool()
	if len(p.mistakes) > 0 {
		slices.SortStableFunc(p.mistakes, func(a, b Mistake) int { return a.Line - b.Line })
		return nil, &PoolError{p.mistakes}
	}
	return pool, nil
}

// poolReader gathers a pool and the mistakes in its file.
type poolReader struct {
	text     []byte
	mistakes []Mistake
	members  map[Member]bool
	pieces   map[Piece]bool
	total    melt.Minor // of all money, in magnitude
	full     bool       // the total is above largestTotal, and that has been said
}

// value is a JSON value and where it starts in the text.
type value struct {
	raw []byte
	at  int
}

// object is a JSON object's values by key.
type object struct {
	at   int
	what string // what it describes, for messages
	in   map[string]value
}

func (p *poolReader) wrong(at int, format string, args ...any) {
	if len(p.mistakes) < mistakesShown {
		line := 1 + bytes.Count(p.text[:min(at, len(p.text))], []byte("\n"))
		p.mistakes = append(p.mistakes, Mistake{line, fmt.Sprintf(format, args...)})
	}
}

func (p *poolReader) pool() *Pool {
	if err := p.wellFormed(); err {
		return nil
	}
	top := p.object(value{p.text, 0}, "the pool",
		"currency", "ring", "chain", "min_gain", "members", "pieces", "spares", "wants", "postage")
	pool := &Pool{
		Currency: p.word(top, "currency", true),
		Ring:     p.count(top, "ring", 3, 2, 1<<20),
		Chain:    p.count(top, "chain", 0, 0, 1<<20),
		MinGain:  p.money(top, "min_gain", 1),
	}
	pool.Members, pool.Pieces, pool.Spares, pool.Wants = []Trader{}, []PieceInfo{}, []Spare{}, []Want{}
	if pool.Currency != "" {
		if _, ok := melt.Currency(pool.Currency).Digits(); !ok {
			p.wrong(top.in["currency"].at, "%q is no ISO 4217 code with a minor unit", pool.Currency)
		}
	}
	for _, v := range p.list(top, "members", true) {
		pool.Members = append(pool.Members, p.trader(v))
	}
	for _, v := range p.list(top, "pieces", true) {
		pool.Pieces = append(pool.Pieces, p.piece(v))
	}
	seen := map[Spare]bool{}
	for _, v := range p.list(top, "spares", true) {
		pool.Spares = append(pool.Spares, p.spare(v, seen))
	}
	for _, v := range p.list(top, "wants", true) {
		pool.Wants = append(pool.Wants, p.want(v))
	}
	pairs := map[[2]string]bool{}
	for _, v := range p.list(top, "postage", false) {
		pool.Postage = append(pool.Postage, p.tariff(v, pairs))
	}
	if len(p.mistakes) == 0 && !countable(pool) {
		p.wrong(top.in["postage"].at, "the postage of this pool could add up to more than can be counted")
	}
	return pool
}

// countable reports whether even the dearest parcels for every want add up to no more than largestTotal.
func countable(p *Pool) bool {
	var parcel, ounce, ounces float64
	for _, t := range p.Postage {
		parcel, ounce = max(parcel, float64(t.Parcel)), max(ounce, float64(t.Ounce))
	}
	for _, m := range p.Pieces {
		ounces = max(ounces, m.Ounces)
	}
	return float64(len(p.Wants)+1)*(2*parcel+ounce*ounces+1) <= largestTotal
}

// wellFormed reports, as a mistake, that the text is not one JSON value.
func (p *poolReader) wellFormed() (bad bool) {
	dec := json.NewDecoder(bytes.NewReader(p.text))
	var all json.RawMessage
	if err := dec.Decode(&all); err != nil {
		at := len(p.text)
		if syntax, ok := err.(*json.SyntaxError); ok {
			at = int(syntax.Offset)
		}
		p.wrong(at, "this is not JSON: %s", strings.TrimPrefix(err.Error(), "json: "))
		return true
	}
	if rest := p.text[dec.InputOffset():]; len(bytes.TrimSpace(rest)) > 0 {
		p.wrong(int(dec.InputOffset())+len(rest)-len(bytes.TrimLeft(rest, " \t\r\n")), "the pool has ended, yet there is more")
		return true
	}
	return false
}

func (p *poolReader) trader(v value) Trader {
	o := p.object(v, "a member", "id", "region", "topup", "trades")
	m := Trader{
		ID: Member(p.word(o, "id", true)), Region: p.word(o, "region", false),
		TopUp: p.money(o, "topup", 0), Trades: p.count(o, "trades", 1, 0, 1<<20),
	}
	if m.ID != "" && p.members[m.ID] {
		p.wrong(v.at, "member %q is listed twice", m.ID)
	}
	p.members[m.ID] = true
	return m
}

func (p *poolReader) piece(v value) PieceInfo {
	o := p.object(v, "a piece", "id", "series", "ounces", "value")
	m := PieceInfo{ID: Piece(p.word(o, "id", true)), Series: p.word(o, "series", false), Ounces: 1, Value: p.money(o, "value", 0)}
	if n, ok := o.in["ounces"]; ok {
		if err := json.Unmarshal(n.raw, &m.Ounces); err != nil || n.raw[0] == 'n' || m.Ounces < 0 || m.Ounces > mostOunces {
			p.wrong(n.at, "ounces must be a number from 0 to %d", mostOunces)
		}
	}
	if m.ID != "" && p.pieces[m.ID] {
		p.wrong(v.at, "piece %q is listed twice", m.ID)
	}
	p.pieces[m.ID] = true
	return m
}

func (p *poolReader) spare(v value, seen map[Spare]bool) Spare {
	o := p.object(v, "a spare", "member", "piece", "count", "value", "gift")
	if _, ok := o.in["count"]; !ok {
		p.wrong(v.at, "a spare has no count")
	}
	s := Spare{
		Member: p.knownMember(o), Piece: p.knownPiece(o), Count: p.count(o, "count", 0, 0, 1<<20),
		Value: p.money(o, "value", 0), Gift: p.flag(o, "gift"),
	}
	if s.Count > 1 && s.Value > (largestTotal-p.total)/melt.Minor(s.Count) {
		p.tooMuch(v.at)
	} else {
		p.total += s.Value * melt.Minor(max(0, s.Count-1))
	}
	if key := (Spare{Member: s.Member, Piece: s.Piece}); seen[key] {
		p.wrong(v.at, "%q spares %q twice; give one line with the count", s.Member, s.Piece)
	} else {
		seen[key] = true
	}
	return s
}

func (p *poolReader) want(v value) Want {
	o := p.object(v, "a want", "member", "fill")
	w := Want{Member: p.knownMember(o), Fill: []Fill{}}
	seen := map[Piece]bool{}
	for _, f := range p.list(o, "fill", true) {
		fo := p.object(f, "a fill", "piece", "gain")
		fill := Fill{Piece: p.knownPiece(fo), Gain: p.money(fo, "gain", 0)}
		if seen[fill.Piece] {
			p.wrong(f.at, "a want names %q twice", fill.Piece)
		}
		seen[fill.Piece] = true
		w.Fill = append(w.Fill, fill)
	}
	return w
}

func (p *poolReader) tariff(v value, pairs map[[2]string]bool) Tariff {
	o := p.object(v, "a postage", "from", "to", "parcel", "ounce")
	t := Tariff{
		From: p.word(o, "from", true), To: p.word(o, "to", true),
		Parcel: p.money(o, "parcel", 0), Ounce: p.money(o, "ounce", 0),
	}
	if pairs[[2]string{t.From, t.To}] {
		p.wrong(v.at, "postage from %q to %q is given twice", t.From, t.To)
	}
	pairs[[2]string{t.From, t.To}] = true
	return t
}

func (p *poolReader) knownMember(o object) Member {
	m := Member(p.word(o, "member", true))
	if m != "" && !p.members[m] {
		p.wrong(o.in["member"].at, "member %q is not listed", m)
	}
	return m
}

func (p *poolReader) knownPiece(o object) Piece {
	m := Piece(p.word(o, "piece", true))
	if m != "" && !p.pieces[m] {
		p.wrong(o.in["piece"].at, "piece %q is not listed", m)
	}
	return m
}
