package series

import (
	"slices"
	"strings"
)

// stretch is the tokens that one series is named for.
type stretch struct {
	series   int // -1 when none is named
	col, end int // of the words that name it
	tokens   []token
	before   bool // some of its tokens stand before its name: "all harbour"
}

// stretches cuts a line where words name a series. Series may stand before what is theirs, "harbour 82, lantern ND", or
// behind it, "82 harbour, ND lantern".
func (r reader) stretches(all []token) ([]stretch, error) {
	cut := []stretch{{series: -1}}
	last := &cut[0]
	for i := 0; i < len(all); {
		named, n := r.seriesAt(all, i, last.series)
		if n == 0 {
			last.tokens = append(last.tokens, all[i])
			i++
			continue
		}
		kept, leading := splitLead(last.tokens)
		last.tokens = kept
		cut = append(cut, stretch{series: named, col: all[i].col, end: all[i+n-1].end, tokens: leading, before: len(leading) > 0})
		last = &cut[len(cut)-1]
		i += n
	}
	switch {
	case len(cut) == 1:
		return cut, nil
	case isBlank(cut[0].tokens):
		return cut[1:], nil
	case isBlank(last.tokens): // "82 harbour"
		for i := len(cut) - 1; i > 0; i-- {
			if isBlank(cut[i-1].tokens) {
				return nil, &SyntaxError{cut[i].col, r.text[cut[i].col:cut[i].end], say("say its pieces before it, as with the others.")}
			}
			cut[i].tokens, cut[i].before = cut[i-1].tokens, true
		}
		return cut[1:], nil
	case !cut[0].tokens[len(cut[0].tokens)-1].kind.separates():
		return nil, &SyntaxError{cut[1].col, r.text[cut[1].col:cut[1].end], say("say the series before its pieces.")}
	}
	return cut, nil
}

// splitLead cuts off what leads at the end of tokens: "all", "2x" before the series' name.
func splitLead(all []token) (kept, leading []token) {
	i := len(all)
	for i > 0 {
		switch all[i-1].kind {
		case tokenAll, tokenRest, tokenOf, tokenLead, tokenAny, tokenBoth:
			i--
			continue
		}
		break
	}
	if i > 0 && !all[i-1].kind.separates() {
		return all, nil
	}
	return all[:i], slices.Clip(all[i:])
}

func isBlank(all []token) bool {
	return firstWord(all) < 0
}

// seriesAt finds the longest name of a series that begins at all[i]. A longer name of a piece goes first, and so does as
// long a one of the series that is being read, but at the beginning of a stretch of the line.
func (r reader) seriesAt(all []token, i, now int) (series, n int) {
	for n = min(r.c.longest, len(all)-i); n > 0; n-- {
		if all[i].kind != tokenWord && n == 1 {
			return 0, 0
		}
		key, _ := wordsOf(all[i : i+n])
		var ok bool
		if series, ok = r.c.words[key]; ok && !slices.ContainsFunc(all[i:i+n], func(t token) bool { return t.kind.separates() && t.kind != tokenAnd }) {
			break
		}
	}
	if n == 0 {
		return 0, 0
	}
	begins := i == 0 || all[i-1].kind == tokenGroup
	for k := range r.c.all {
		if now >= 0 && k != now {
			continue
		}
		if _, m := r.c.index[k].longestName(&r.c.all[k], all[i:]); m > n || m == n && now >= 0 && !begins {
			return 0, 0
		}
	}
	return series, n
}

// stretch reads the tokens of one series.
func (r reader) stretch(s stretch) ([]unit, error) {
	if s.series >= 0 {
		if isBlank(s.tokens) {
			return nil, r.whole(s)
		}
		return r.in(s.series, s)
	}
	if isBlank(s.tokens) {
		return nil, nil
	}
	if i := r.c.place(r.mine.Default); i >= 0 {
		if units, err := r.in(i, s); r.fits(i, s, err) {
			return units, err
		}
	}
	units, err := r.anywhere(s)
	if groups := byGroup(s); len(groups) > 1 && err != nil && !isQuestion(err) {
		return r.each(groups)
	}
	return units, err
}

// fits reports whether a stretch that names no series was understood in one, if perhaps but for a question that has an
// answer there.
func (r reader) fits(i int, s stretch, err error) bool {
	q, open := err.(*Question)
	if !open {
		return err == nil
	}
	first, last := s.tokens[0], s.tokens[len(s.tokens)-1]
	return slices.ContainsFunc(q.Choices, func(choice Choice) bool {
		answered := r
		answered.text = choice.Text[first.col : len(choice.Text)-len(r.text)+last.end]
		_, err := answered.in(i, stretch{series: -1, tokens: tokens(answered.text)})
		return err == nil || isQuestion(err)
	})
}

// byGroup cuts a stretch that no series is named for at its semicolons.
func byGroup(s stretch) []stretch {
	var all []stretch
	from := 0
	for i, t := range s.tokens {
		if t.kind == tokenGroup {
			all = append(all, stretch{series: -1, tokens: s.tokens[from:i]})
			from = i + 1
		}
	}
	all = append(all, stretch{series: -1, tokens: s.tokens[from:]})
	return slices.DeleteFunc(all, func(s stretch) bool { return isBlank(s.tokens) })
}

// each reads one stretch after another. What cannot be read comes before what is only open.
func (r reader) each(all []stretch) (units []unit, open error) {
	for _, s := range all {
		more, err := r.stretch(s)
		if err != nil && !isQuestion(err) {
			return nil, err
		}
		if open == nil {
			open = err
		}
		units = append(units, more...)
	}
	return units, open
}

// whole asks what is meant by a series alone.
func (r reader) whole(s stretch) error {
	code := r.c.all[s.series].Code
	q := &Question{Col: s.col, Word: r.text[s.col:s.end], Ask: say("All of {series}, or the rest that is missing?", "series", code)}
	rest := r.text[s.end:]
	if strings.TrimSpace(rest) != "" {
		rest = "," + rest // or the answer would be of the series named next
	}
	for _, what := range []string{"all", "rest"} {
		q.Choices = append(q.Choices, Choice{plain(code + " " + what), r.text[:s.end] + " " + what + rest})
	}
	return q
}

// anywhere reads tokens in whichever series they fit: if they fit one it is meant, if several it asks.
func (r reader) anywhere(s stretch) (units []unit, err error) {
	var fit []int
	var errs []error
	for i := range r.c.all {
		u, e := r.in(i, s)
		if r.fits(i, s, e) {
			fit = append(fit, i)
			units, err = u, e
		}
		errs = append(errs, e)
	}
	first := s.tokens[firstWord(s.tokens)]
	switch {
	case len(fit) == 1:
		return units, err
	case len(fit) > 1:
		q := &Question{Col: first.col, Word: r.text[first.col:first.end], Ask: say("Which series?")}
		for _, i := range fit[:min(len(fit), mostChoices)] {
			code := r.c.all[i].Code
			q.Choices = append(q.Choices, Choice{plain(code), r.text[:first.col] + code + " " + r.text[first.col:]})
		}
		return nil, q
	case len(errs) == 1:
		return nil, errs[0]
	}
	return nil, r.nowhere(errs, s.tokens)
}

// nowhere points at the word that stopped the series which got furthest, with what is near it anywhere.
func (r reader) nowhere(errs []error, all []token) error {
	var far *UnknownWord
	var bad *SyntaxError
	for _, err := range errs {
		switch e := err.(type) {
		case *UnknownWord:
			if far == nil || e.Col > far.Col {
				far = &UnknownWord{Col: e.Col, Word: e.Word}
			}
		case *SyntaxError:
			if bad == nil || e.Col > bad.Col {
				bad = e
			}
		}
	}
	switch {
	case far == nil && bad != nil: // no shorthand in any series
		return bad
	case far == nil: // there is no series
		first := all[firstWord(all)]
		return &UnknownWord{Col: first.col, Word: r.text[first.col:first.end]}
	}
	far.Near = r.c.near(far.Word)
	add := func(near string) {
		if !slices.Contains(far.Near, near) && len(far.Near) < 4 {
			far.Near = append(far.Near, near)
		}
	}
	entry, text := entryAt(r.text, all, far.Col)
	for i := range r.c.all {
		if _, err := r.in(i, stretch{series: -1, tokens: entry}); err == nil || isQuestion(err) {
			add(r.c.all[i].Code + " " + text)
		}
	}
	for _, err := range errs {
		if e, ok := err.(*UnknownWord); ok && e.Col == far.Col && !allDigits(plainly(far.Word).plain) {
			for _, near := range e.Near {
				add(e.Series + " " + near)
			}
		}
	}
	return far
}

// firstWord is the place of the first token that is more than a mark between entries.
func firstWord(all []token) int {
	return slices.IndexFunc(all, func(t token) bool { return !t.kind.separates() })
}

// entryAt is the entry that a place in the text belongs to: its tokens and how it is typed.
func entryAt(text string, all []token, col int) ([]token, string) {
	from, to := 0, len(all)
	for i, t := range all {
		if !t.kind.separates() {
			continue
		}
		if t.col < col {
			from = i + 1
		} else {
			to = i
			break
		}
	}
	return all[from:to], text[all[from].col:all[to-1].end]
}
