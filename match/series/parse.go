package series

// Parse reads the grammar of a list. An error is a *SyntaxError.
func Parse(text string) (List, error) {
	terms, err := parse(text, tokens(text))
	return List{terms}, err
}

// parse puts tokens of a text together into terms.
func parse(text string, all []token) ([]Term, error) {
	p := parser{text: text}
	for i := range all {
		if err := p.take(&all[i]); err != nil {
			return nil, err
		}
	}
	if err := p.finish(); err != nil {
		return nil, err
	}
	if p.waiting != nil {
		return nil, p.wrong(p.waiting, say("something should follow this."))
	}
	if p.bracket != nil {
		return nil, p.wrong(p.bracket, say("its other half is missing."))
	}
	return p.terms, nil
}

// parser is at one place in a line.
type parser struct {
	text    string
	terms   []Term
	now     *Term  // the term being read
	lead    Term   // what was said before the year or name it belongs to
	first   *token // of lead
	last    *token // of lead
	all     bool   // lead is or begins with "all"
	except  bool
	or      bool
	group   int
	waiting *token // "to", "or" or "except", which something must follow
	bracket *token // the open bracket
	within  bool   // the exception stands in brackets
}

func (p *parser) wrong(t *token, reason Wording) error {
	return &SyntaxError{t.col, p.text[t.col:t.end], reason}
}

// take reads the next token.
func (p *parser) take(t *token) error {
	if p.waiting != nil && p.waiting.kind == tokenTo {
		return p.endOfRange(t)
	}
	switch t.kind {
	case tokenComma, tokenAnd:
		return p.finish()
	case tokenGroup:
		if err := p.finish(); err != nil {
			return err
		}
		if p.waiting != nil {
			return p.wrong(p.waiting, say("something should follow this."))
		}
		p.group++
		p.except = false
		return nil
	case tokenBracket, tokenBracketed:
		return p.brackets(t)
	case tokenExcept, tokenOr:
		return p.joint(t)
	}
	p.waiting = nil
	switch t.kind {
	case tokenTo:
		if p.now == nil || p.now.Kind != Years || p.now.To != "" || p.now.Letters != "" || len(p.now.parts) > 0 || p.now.extra {
			return p.wrong(t, say("a year should stand before this."))
		}
		p.waiting = t
	case tokenYear, tokenRange, tokenOpen, tokenSlash, tokenCross, tokenGlued:
		return p.year(t)
	case tokenUndated:
		return p.begin(Term{Kind: Undated}, t)
	case tokenWord, tokenOf:
		return p.word(t)
	case tokenName:
		return p.name(t)
	case tokenRest:
		return p.begin(Term{Kind: Rest}, t)
	case tokenAll:
		if err := p.finish(); err != nil {
			return err
		}
		p.leads(t)
		p.all = true
	case tokenSize:
		return p.size(t)
	case tokenCount, tokenLead:
		return p.count(t)
	case tokenAny, tokenBoth:
		p.anyOrBoth(t)
	case tokenDigits:
		return p.wrong(t, say(`not a year: write two or four digits, "x3" for how many, "5oz" for a weight.`))
	default:
		return p.wrong(t, t.reason)
	}
	return nil
}

func (p *parser) endOfRange(t *token) error {
	if t.kind != tokenYear {
		return p.wrong(t, say("a year should stand here."))
	}
	p.now.To, p.now.Open, p.now.End = t.from, false, t.end
	p.waiting = nil
	return nil
}

func (p *parser) brackets(t *token) error {
	if t.kind == tokenBracket {
		if p.bracket != nil {
			return p.wrong(t, say("one pair of brackets inside another."))
		}
		p.bracket, p.within = t, false
		return nil
	}
	switch {
	case p.bracket == nil:
		return p.wrong(t, say("its other half is missing."))
	case p.waiting != nil:
		return p.wrong(p.waiting, say("something should follow this."))
	}
	if p.now != nil && p.opensWithin() {
		p.now.End = t.end
	}
	p.bracket = nil
	if !p.within {
		return nil
	}
	err := p.finish()
	p.except, p.within = false, false
	return err
}

// joint reads "except" and "or", which stand between terms.
func (p *parser) joint(t *token) error {
	if err := p.finish(); err != nil {
		return err
	}
	if p.waiting != nil {
		return p.wrong(t, say("this follows another such word."))
	}
	p.waiting = t
	if t.kind == tokenExcept {
		p.within = p.bracket != nil && !p.except
		p.except = true
		return nil
	}
	if len(p.terms) == 0 || p.terms[len(p.terms)-1].Group != p.group {
		return p.wrong(t, say("something should stand before this."))
	}
	p.or = true
	return nil
}

// begin starts a term, with what was said before it.
func (p *parser) begin(t Term, at *token) error {
	lead, first, all := p.lead, p.first, p.all
	p.lead, p.first, p.last, p.all = Term{}, nil, nil, false
	if err := p.finish(); err != nil {
		return err
	}
	t.Quantity, t.Except, t.Or, t.Group, t.Col, t.End = 1, p.except, p.or, p.group, at.col, at.end
	p.or = false
	if first != nil {
		t.Col, t.Size, t.Any, t.Both = first.col, lead.Size, lead.Any, lead.Both || all && t.Kind != Rest
		if lead.Counted {
			t.Quantity, t.Counted = lead.Quantity, true
		}
	}
	p.now = &t
	return nil
}

func (p *parser) year(t *token) error {
	y := Term{Kind: Years, From: t.from, To: t.to}
	switch t.kind {
	case tokenOpen:
		y.Open = true
	case tokenSlash:
		y.Slash = true
	case tokenCross:
		y.Cross = true
		if p.lead.Counted {
			return p.wrong(t, say("a number of pieces is said twice."))
		}
	case tokenGlued:
		y.To, y.Letters, y.parts = "", t.to, []token{*t}
	}
	return p.begin(y, t)
}

// word belongs to the year or the words before it, unless something was said after those.
func (p *parser) word(t *token) error {
	takes := p.now != nil && !p.now.extra && p.now.names == 0 && (p.now.Kind == Years || p.now.Kind == Undated || p.now.Kind == Named)
	if !takes {
		return p.add(Term{Kind: Named}, t)
	}
	p.said(t)
	return nil
}

// name belongs to the year before it when it is not a whole piece's, and to the name before it when some piece goes by
// both.
func (p *parser) name(t *token) error {
	takes := false
	if n := p.now; n != nil && !t.dated {
		switch {
		case n.names > 0:
			takes = shared(n.parts[len(n.parts)-1].pieces, t.pieces)
		case n.Kind == Years || n.Kind == Undated:
			takes = !t.undated || n.Kind == Undated
		case n.Kind == Named:
			takes = !n.extra
		}
	}
	if !takes {
		if err := p.begin(Term{Kind: Named}, t); err != nil {
			return err
		}
	}
	p.said(t)
	p.now.names++
	return nil
}

func (p *parser) add(term Term, t *token) error {
	err := p.begin(term, t)
	if err == nil {
		p.said(t)
	}
	return err
}

// said adds a word to the term being read.
func (p *parser) said(t *token) {
	p.now.Words, p.now.parts, p.now.End = append(p.now.Words, t.plain), append(p.now.parts, *t), t.end
}

// leads notes what belongs to the year or name that follows.
func (p *parser) leads(t *token) {
	if p.first == nil {
		p.first = t
	}
	p.last = t
}

// size belongs to the term before it in the same entry if that has none, else to what follows.
func (p *parser) size(t *token) error {
	if p.now != nil && p.now.Size == "" {
		p.now.Size, p.now.End, p.now.extra = t.plain, t.end, true
		return nil
	}
	if p.now != nil || p.lead.Size != "" {
		if err := p.finish(); err != nil {
			return err
		}
	}
	p.lead.Size = t.plain
	p.leads(t)
	return nil
}

// count belongs to the term before it in the same entry, "3x" to what follows unless nothing does.
func (p *parser) count(t *token) error {
	switch {
	case t.count < 1 || t.count > most:
		return p.wrong(t, say("how many? Say a number from 1 to {most}.", "most", most))
	case p.now != nil && (p.now.Counted || p.now.Cross) && t.kind == tokenCount, p.now == nil && p.lead.Counted:
		return p.wrong(t, say("a number of pieces is said twice."))
	case p.now != nil && t.kind == tokenCount:
		p.now.Quantity, p.now.Counted, p.now.End, p.now.extra = t.count, true, t.end, true
		return nil
	case p.now != nil:
		if err := p.finish(); err != nil {
			return err
		}
	}
	ends := t.kind == tokenCount && (p.lead.Size != "" || p.all) // "1/2oz x3", "all x2"
	p.lead.Quantity, p.lead.Counted = t.count, true
	p.leads(t)
	if ends {
		return p.finish()
	}
	return nil
}

func (p *parser) anyOrBoth(t *token) {
	to := p.now
	if to == nil {
		to = &p.lead
		p.leads(t)
	} else {
		to.End, to.extra = t.end, true
	}
	if t.kind == tokenAny {
		to.Any = true
	} else {
		to.Both = true
	}
}

// finish ends the term being read. What was said with no year or name after it is a term of its own if it can be: "all",
// a weight.
func (p *parser) finish() error {
	if p.opensWithin() {
		return p.wrong(p.bracket, say("a list in brackets: write it without them."))
	}
	if p.now != nil {
		p.terms = append(p.terms, *p.now)
		p.now = nil
	}
	if p.first == nil {
		return nil
	}
	t := p.lead
	switch {
	case t.Size != "":
		t.Kind, t.Both = Sized, t.Both || p.all
	case p.all && !t.Any && !t.Both:
		t.Kind = All
	default:
		return &SyntaxError{p.first.col, p.text[p.first.col:p.last.end], say("of what?")}
	}
	t.Except, t.Or, t.Group, t.Col, t.End = p.except, p.or, p.group, p.first.col, p.last.end
	if !t.Counted {
		t.Quantity = 1
	}
	p.lead, p.first, p.last, p.all, p.or = Term{}, nil, nil, false, false
	p.terms = append(p.terms, t)
	return nil
}

// opensWithin reports whether the open bracket stands within the term being read.
func (p *parser) opensWithin() bool {
	return p.bracket != nil && (p.now != nil && p.now.Col < p.bracket.col && p.bracket.col < p.now.End ||
		p.first != nil && p.first.col < p.bracket.col && p.bracket.col < p.last.end)
}

// shared reports whether two ascending lists have something in common.
func shared(a, b []int) bool {
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i] == b[j]:
			return true
		case a[i] < b[j]:
			i++
		default:
			j++
		}
	}
	return false
}
