package series

import (
	"slices"
	"strconv"
	"strings"
)

// index is what the words of one series mean.
type index struct {
	names   map[string]name  // by its tokens as spelt writes them
	spoken  []spoken         // the same, to be suggested
	begins  map[string]int   // how many tokens the longest name has that begins with one spelt so
	years   []int            // ascending, without doubles
	byDigit map[string][]int // years by their last two digits, and by all four
	usual   map[int][]int    // pieces by year, 0 for the undated: those of the usual size, or all when none is
	place   map[string]int   // pieces by code
	sizes   []string         // by piece, its weight as people write it, "" when it is odd
	// labelYear is the year that a label is, of those that are one.
	labelYear map[string]int
}

// name is what goes by some words.
type name struct {
	pieces []int // ascending
	slot   int   // the place from 1 of the slot that goes by it and no piece does
	whole  bool  // a code, label or alias; else a motif or variety, which many may share
}

// spoken is a name as it is compared, and as it is written.
type spoken struct{ key, text string }

func indexOf(s Series) index {
	x := index{names: map[string]name{}, usual: map[int][]int{}, place: map[string]int{}, labelYear: map[string]int{}, begins: map[string]int{}, byDigit: map[string][]int{}}
	for i, p := range s.Pieces {
		x.place[p.Code] = i
		x.sizes = append(x.sizes, sizeOf(s, p))
		if p.Year != 0 {
			x.years = append(x.years, p.Year)
		}
	}
	slices.Sort(x.years)
	x.years = slices.Compact(x.years)
	for _, year := range x.years {
		if word := strconv.Itoa(year); len(word) == 4 {
			x.byDigit[word] = []int{year}
			x.byDigit[word[2:]] = append(x.byDigit[word[2:]], year)
		}
	}
	for _, year := range append([]int{0}, x.years...) {
		x.usual[year] = usual(s, year)
	}
	for i, p := range s.Pieces {
		x.add(p.Label, i, true)
		x.add(p.Code, i, true)
		for _, alias := range p.Aliases {
			x.add(alias, i, true)
		}
	}
	for i, p := range s.Pieces {
		x.add(p.Motif, i, false)
		x.add(p.Variety, i, false)
		if short := withoutFillers(p.Variety); short != p.Variety {
			x.add(short, i, false)
		}
	}
	for i, slot := range s.Slots {
		x.addSlot(slot, i)
		x.noteYear(slot.Label)
	}
	for _, p := range s.Pieces {
		x.noteYear(p.Label)
	}
	return x
}

// usual lists the pieces of a year that a bare year means.
func usual(s Series, year int) []int {
	var all, plain []int
	for i, p := range s.Pieces {
		if p.Year == year {
			all = append(all, i)
			if p.Size == "" {
				plain = append(plain, i)
			}
		}
	}
	if len(plain) > 0 {
		return plain
	}
	return all
}

// sizeOf is a piece's weight as people write it: what the piece states, else the nearest whole troy ounces when they are
// within one in a hundred.
func sizeOf(s Series, p Piece) string {
	if p.Size != "" {
		for _, t := range tokens(p.Size) {
			return t.plain
		}
	}
	const ounce, slack = 31_103_476_800, 311_034_768 // nanograms
	gross := int64(s.MetalOf(p).Gross)
	whole := (gross + ounce/2) / ounce
	if off := gross - whole*ounce; whole == 0 || off > slack*whole || off < -slack*whole {
		return ""
	}
	return strconv.FormatInt(whole, 10) + "oz"
}

// add makes a piece go by some words. A code, label or alias is never shared with what is called so only by its motif.
func (x *index) add(text string, piece int, whole bool) {
	key, n := x.nameOf(text)
	if n == 0 {
		return
	}
	was, known := x.names[key]
	switch {
	case known && was.whole && !whole:
		return
	case !known:
		x.spoken = append(x.spoken, spoken{key, text})
	}
	x.begin(text, n)
	if !slices.Contains(was.pieces, piece) {
		was.pieces = append(slices.Clip(was.pieces), piece)
	}
	slices.Sort(was.pieces)
	x.names[key] = name{pieces: was.pieces, whole: whole}
}

// begin remembers how a name begins.
func (x *index) begin(text string, n int) {
	first := x.spelling(tokens(text)[0])
	x.begins[first] = max(x.begins[first], n)
}

// addSlot makes a slot go by its label and code when no piece does.
func (x *index) addSlot(slot Slot, i int) {
	for _, text := range []string{slot.Label, slot.Code} {
		key, n := x.nameOf(text)
		if _, known := x.names[key]; n == 0 || known {
			continue
		}
		var pieces []int
		for _, code := range slot.Fill {
			if p, ok := x.place[code]; ok {
				pieces = append(pieces, p)
			}
		}
		if len(pieces) == 0 {
			continue
		}
		slices.Sort(pieces)
		x.names[key] = name{pieces: slices.Compact(pieces), slot: i + 1, whole: true}
		x.spoken = append(x.spoken, spoken{key, text})
		x.begin(text, n)
	}
}

// noteYear remembers a label that is a year of the series.
func (x *index) noteYear(label string) {
	if all := tokens(label); len(all) == 1 && all[0].kind == tokenYear {
		if years := x.year(all[0].from); len(years) == 1 {
			x.labelYear[label] = years[0]
		}
	}
}

// nameOf is a name as names are compared, and how many tokens it has; none when it cannot be typed as one.
func (x *index) nameOf(text string) (key string, n int) {
	all := tokens(text)
	for _, t := range all {
		if !inName(t.kind) {
			return "", 0
		}
	}
	return x.spelt(all), len(all)
}

// inName reports whether a token may be part of a name.
func inName(kind tokenKind) bool {
	switch kind {
	case tokenBad, tokenComma, tokenGroup, tokenBracket, tokenBracketed, tokenName:
		return false
	}
	return true
}

// spelt writes tokens as names are compared: years of the series with four digits.
func (x *index) spelt(all []token) string {
	if len(all) == 1 {
		return x.spelling(all[0])
	}
	var b strings.Builder
	for i, t := range all {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(x.spelling(t))
	}
	return b.String()
}

func (x *index) spelling(t token) string {
	switch t.kind {
	case tokenYear:
		return x.fourDigits(t.from)
	case tokenGlued:
		return x.fourDigits(t.from) + t.to
	case tokenSlash:
		from := x.fourDigits(t.from)
		return from + "/" + from[:max(len(from)-len(t.to), 0)] + t.to
	}
	return t.plain
}

// fourDigits writes a year in full when the series has just one that ends in two digits.
func (x *index) fourDigits(digits string) string {
	if years := x.year(digits); len(years) == 1 {
		return strconv.Itoa(years[0])
	}
	return digits
}

// year lists the years of the series that digits may mean: four stand as they are, two are any that end in them.
func (x *index) year(digits string) []int { return x.byDigit[digits] }

// yearWord writes a year with two digits, with four when the series has another that ends in them.
func (x *index) yearWord(year int) string {
	word := strconv.Itoa(year)
	if len(word) != 4 || len(x.year(word[2:])) != 1 {
		return word
	}
	return word[2:]
}

// after is the next year of the series; -1 after the last.
func (x *index) after(year int) int {
	if i, ok := slices.BinarySearch(x.years, year); ok && i+1 < len(x.years) {
		return x.years[i+1]
	}
	return -1
}

// size reads a year with a g, "50g", as the weight that it is in a series that has it.
func (x *index) size(t token) (size string, ok bool) {
	if t.kind != tokenGlued || t.to != "g" {
		return "", false
	}
	size, _ = sized(t.from, "g")
	return size, slices.Contains(x.sizes, size)
}

// named replaces words of a line that name pieces by the names that they are, the longest there is from each on.
func (x *index) named(s *Series, all []token) []token {
	out := make([]token, 0, len(all))
	for i := 0; i < len(all); {
		t, n := x.longestName(s, all[i:])
		if n == 0 {
			t, n = x.alone(s, all[i])
		}
		if last := len(out) - 1; last >= 0 && t.kind == tokenYear && out[last].kind == tokenName && (last == 0 || !describable(out[last-1].kind)) {
			if joined, ok := x.ofYear(s, out[last], t); ok { // "gull 84"
				out[last] = joined
				i += n
				continue
			}
		}
		out = append(out, t)
		i += n
	}
	return out
}

// describable reports whether a name after a token describes it, "84 gull".
func describable(kind tokenKind) bool {
	switch kind {
	case tokenYear, tokenRange, tokenOpen, tokenSlash, tokenCross, tokenGlued, tokenUndated, tokenWord, tokenOf:
		return true
	}
	return false
}

// longestName is the longest name that tokens begin with, and of how many it is made.
func (x *index) longestName(s *Series, all []token) (t token, n int) {
	if !inName(all[0].kind) {
		return token{}, 0
	}
	first := x.spelling(all[0])
	longest := max(x.begins[first], x.begins[strings.TrimSuffix(first, "s")])
	most := 0
	for most < min(longest, len(all)) && inName(all[most].kind) {
		most++
	}
	for n = most; n > 0; n-- {
		if !hasWord(all[:n]) {
			continue
		}
		key := x.spelt(all[:n])
		found, ok := x.names[key]
		if !ok {
			one := strings.TrimSuffix(key, "s") // more than one of it
			if found, ok = x.names[one]; ok && isDigit(one[len(one)-1]) {
				ok = false // "90s"
			}
		}
		if !ok {
			continue
		}
		return x.nameToken(s, all[:n], found), n
	}
	return token{}, 0
}

func (x *index) nameToken(s *Series, of []token, found name) token {
	t := token{kind: tokenName, col: of[0].col, end: of[len(of)-1].end, plain: x.spelt(of), pieces: found.pieces, slot: found.slot, undated: true}
	for _, part := range of {
		t.dated = t.dated || found.whole && (part.kind == tokenYear || part.kind == tokenGlued || part.kind == tokenSlash)
	}
	for _, p := range t.pieces {
		t.undated = t.undated && s.Pieces[p].Year == 0
	}
	return t
}

// hasWord reports whether tokens can be a name: a year, weight or keyword alone means what it means everywhere.
func hasWord(all []token) bool {
	return len(all) > 1 || all[0].kind == tokenWord || all[0].kind == tokenGlued
}

// alone reads a year with a letter that is no name: a weight, a variety of that year, or more than one of it, "84s".
func (x *index) alone(s *Series, t token) (token, int) {
	if size, ok := x.size(t); ok {
		t.kind, t.plain = tokenSize, size
		return t, 1
	}
	if t.kind != tokenGlued {
		return t, 1
	}
	if found, ok := x.names[t.to]; ok {
		of := token{kind: tokenName, col: t.col, end: t.end, plain: t.to, pieces: found.pieces}
		if joined, ok := x.ofYear(s, of, t); ok {
			return joined, 1
		}
	}
	if t.to == "s" && t.from[len(t.from)-1] != '0' { // the eighties are not several of the year 80
		t.kind, t.plain, t.to = tokenYear, t.from, ""
	}
	return t, 1
}

// ofYear narrows a name to the year said after it, if any of its pieces is of that year and it says none itself.
func (x *index) ofYear(s *Series, t, year token) (token, bool) {
	years := x.year(year.from)
	if t.dated || len(years) != 1 {
		return t, false
	}
	var pieces []int
	for _, p := range t.pieces {
		if s.Pieces[p].Year == years[0] {
			pieces = append(pieces, p)
		}
	}
	if len(pieces) == 0 {
		return t, false
	}
	t.pieces, t.dated, t.end, t.slot, t.plain = pieces, true, year.end, 0, year.from+" "+t.plain
	return t, true
}
