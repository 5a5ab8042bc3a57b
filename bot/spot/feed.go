package spot

import (
	"errors"
	"math/big"
	"net/url"
	"regexp"
	"strings"

	"spareounce/match/melt"
)

// Feed describes a source: where it is, what of its answer is the price, and in what the price is counted.
type Feed struct {
	URL      string
	List     bool    // a list of dates and prices (CSV); otherwise JSON
	Price    Pointer // of the price, in JSON
	Inverse  bool    // the number is ounces for one unit of money
	Per      melt.Weight
	Currency melt.Currency
	Scale    *big.Rat // the number times this is in major units: 0.01 for cents
	Time     *Pointer // of the price's time, in JSON; nil when the feed gives none
	Against  *Pointer // of the same price the other way round, in JSON
	Key      string   // the name of a key in the environment; "" for none
	Header   string   // the header or the query parameter that carries the key: one of the two,
	Query    string   // or neither, for "Authorization: Bearer"
}

// longestFeed is the most we read of a description, in bytes.
const longestFeed = 1000

var (
	keyName    = regexp.MustCompile(`^[A-Z][A-Z0-9_]{0,30}$`)
	headerName = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9-]{0,60}$`)
	queryName  = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_.-]{0,60}$`)
)

// ParseFeed reads a description as a keeper types it. The address comes first; after it, in any order:
//
//	at /rates/XAG        where in the JSON the price is (RFC 6901); or: list, for a list of dates and prices
//	inverse              the number is ounces for one unit of money
//	per g                the price is of this weight; of a troy ounce unless said
//	in EUR               its currency; usual unless said
//	scale 0.01           the number times this is in major units
//	time /timestamp      where the price's time is
//	against /usd/xag     where the same price stands the other way round, to hold one against the other
//	key NAME             a key from the environment, sent as "Authorization: Bearer", or with
//	header X-Key         in this header, or with
//	query apikey         as this parameter of the address
//
// Errors are *Refusal and point at a word.
func ParseFeed(line string, usual melt.Currency) (Feed, error) {
	f := Feed{Per: melt.TroyOunce, Currency: usual, Scale: big.NewRat(1, 1)}
	r := words{line: line}
	if len(line) > longestFeed {
		return f, &Refusal{Why: UnknownWord, Word: line[:20], Detail: "too long"}
	}
	address := r.next()
	if err := f.setAddress(address); err != nil {
		return f, r.at(err)
	}
	pointed := false
	for {
		w := r.next()
		if w == "" {
			break
		}
		pointed = pointed || strings.EqualFold(w, "at")
		if err := f.set(strings.ToLower(w), &r); err != nil {
			return f, r.at(err)
		}
	}
	switch {
	case pointed == f.List:
		return f, &Refusal{Why: NoPrice}
	case f.List && (f.Time != nil || f.Against != nil):
		return f, &Refusal{Why: UnknownWord, Word: "list"}
	case f.Key == "" && (f.Header != "" || f.Query != ""), f.Header != "" && f.Query != "":
		return f, &Refusal{Why: BadKey, Word: f.Header + f.Query}
	}
	return f, nil
}

func (f *Feed) setAddress(text string) error {
	u, err := url.Parse(text)
	bad := err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" || u.User != nil || u.Fragment != "" || u.Opaque != ""
	if bad || strings.ContainsAny(text, "\"<>{}|\\^`") {
		return &Refusal{Why: NoAddress, Word: text}
	}
	f.URL = text
	return nil
}

// set takes in one word of a description and what follows it.
func (f *Feed) set(word string, r *words) (err error) {
	switch word {
	case "list", "csv":
		f.List = true
		return nil
	case "inverse":
		f.Inverse = true
		return nil
	}
	known := map[string]func(value string) error{
		"at":      func(v string) (err error) { f.Price, err = ParsePointer(v); return err },
		"time":    func(v string) (err error) { f.Time, err = parsePointerTo(v); return err },
		"against": func(v string) (err error) { f.Against, err = parsePointerTo(v); return err },
		"per":     f.setUnit,
		"in":      f.setCurrency,
		"scale":   f.setScale,
		"key":     func(v string) error { f.Key = v; return match(keyName, v, BadKey) },
		"header":  func(v string) error { f.Header = v; return match(headerName, v, BadKey) },
		"query":   func(v string) error { f.Query = v; return match(queryName, v, BadKey) },
	}
	set, ok := known[word]
	if !ok {
		return &Refusal{Why: UnknownWord, Word: r.word}
	}
	said, start := r.word, r.start
	value := r.next()
	if value == "" {
		r.word, r.start = said, start
		return &Refusal{Why: MissingAfter, Word: said}
	}
	return set(value)
}

func parsePointerTo(text string) (*Pointer, error) {
	p, err := ParsePointer(text)
	return &p, err
}

func match(pattern *regexp.Regexp, text string, why Why) error {
	if !pattern.MatchString(text) {
		return &Refusal{Why: why, Word: text}
	}
	return nil
}

func (f *Feed) setUnit(text string) error {
	if strings.IndexFunc(text, func(r rune) bool { return r >= '0' && r <= '9' }) < 0 {
		text = "1 " + text
	}
	w, err := melt.ParseWeight(text)
	if err != nil {
		return &Refusal{Why: BadUnit, Word: strings.TrimPrefix(text, "1 "), Cause: err}
	}
	f.Per = w
	return nil
}

func (f *Feed) setCurrency(text string) error {
	c, err := melt.ParseCurrency(text)
	if err != nil {
		return &Refusal{Why: BadCurrency, Word: text, Cause: err}
	}
	f.Currency = c
	return nil
}

func (f *Feed) setScale(text string) error {
	n, ok := number(text)
	if !ok || n.Sign() <= 0 {
		return &Refusal{Why: BadScale, Word: text}
	}
	f.Scale = n
	return nil
}

// String writes the description so that ParseFeed reads it back, whatever currency is usual there.
func (f Feed) String() string {
	said := []string{f.URL}
	add := func(word, value string) { said = append(said, word, value) }
	if f.List {
		said = append(said, "list")
	} else {
		add("at", f.Price.String())
	}
	if f.Inverse {
		said = append(said, "inverse")
	}
	if f.Per != melt.TroyOunce {
		add("per", strings.ReplaceAll(f.Per.String(), " ", ""))
	}
	add("in", string(f.Currency))
	if f.Scale.Cmp(big.NewRat(1, 1)) != 0 {
		digits, _ := f.Scale.FloatPrec()
		add("scale", f.Scale.FloatString(digits))
	}
	if f.Time != nil {
		add("time", f.Time.String())
	}
	if f.Against != nil {
		add("against", f.Against.String())
	}
	for _, pair := range [][2]string{{"key", f.Key}, {"header", f.Header}, {"query", f.Query}} {
		if pair[1] != "" {
			add(pair[0], pair[1])
		}
	}
	return strings.Join(said, " ")
}

// Host is where the feed is, for saying who gave a price.
func (f Feed) Host() string {
	u, err := url.Parse(f.URL)
	if err != nil {
		return ""
	}
	return u.Hostname()
}

// words takes a line apart at its blanks.
type words struct {
	line  string
	i     int
	word  string // the last one taken
	start int    // where it begins
}

func (w *words) next() string {
	rest := strings.TrimLeft(w.line[w.i:], " \t\n")
	w.i = len(w.line) - len(rest)
	end := strings.IndexAny(rest, " \t\n")
	if end < 0 {
		end = len(rest)
	}
	w.word, w.start = rest[:end], w.i
	w.i += end
	return w.word
}

// at has a refusal point at the word that was taken last.
func (w *words) at(err error) error {
	if r, ok := errors.AsType[*Refusal](err); ok {
		r.Word, r.Col = w.word, w.start
	}
	return err
}
