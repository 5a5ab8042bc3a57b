package bot

import (
	"errors"
	"strings"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// part is a stretch of a line: pieces, and what is said about them.
type part struct {
	text  string // the pieces, in the shorthand
	start int    // where text begins in the rest of the line
	end   int    // where what is said about them ends
	about about
}

// about is what may be said after pieces: "toned ask 38 note small nick".
type about struct {
	condition series.Condition
	ask       *melt.Minor
	gift      bool
	least     series.Condition
	top       *melt.Minor
	priority  *store.Priority
	note      string
	quiet     bool
	price     *melt.Minor // of one: "@62"
	count     int         // said after the price; 0 when it was not
	tap       string      // of the button that says the line: "#m3k9"
	any       bool        // something was said
}

// pointed is a refusal that points at a word of the line.
type pointed struct {
	col    int // byte offset in the rest of the line
	word   string
	reason string
}

func (p pointed) Error() string { return p.word + ": " + p.reason }

// parts splits a line into stretches: words about a piece go with what stands since the last comma; after "each" they go
// with the whole line.
func (t turn) parts() ([]part, error) {
	var all []part
	line := t.rest
	start := 0
	for i := 0; i < len(line); {
		word, next := wordAt(line, i)
		each := strings.EqualFold(word, "each")
		if !each && !aboutWord(line, i) {
			i = next
			continue
		}
		from := i
		if each {
			from = next
		}
		said, end, err := t.readAbout(line, from)
		if err != nil {
			return nil, err
		}
		all = append(all, cutParts(line, start, i, end, said, each)...)
		for end < len(line) && strings.ContainsRune(" ,;", rune(line[end])) {
			end++
		}
		start, i = end, end
	}
	if rest := strings.Trim(line[start:], " ,;"); rest != "" || len(all) == 0 {
		all = append(all, part{text: line[start:], start: start, end: len(line)})
	}
	return all, nil
}

// cutParts gives what was said to the pieces after the last comma, and the pieces before it a part of their own.
func cutParts(line string, start, tail, end int, said about, each bool) []part {
	comma := strings.LastIndexAny(line[start:tail], ",;")
	if each || comma < 0 {
		return []part{{text: line[start:tail], start: start, end: end, about: said}}
	}
	middle := start + comma + 1
	return []part{
		{text: line[start : middle-1], start: start, end: middle - 1},
		{text: line[middle:tail], start: middle, end: end, about: said},
	}
}

// wordAt returns the word that begins at or after i, and where the next one may begin.
func wordAt(line string, i int) (word string, next int) {
	for i < len(line) && strings.ContainsRune(" ,;\t\n", rune(line[i])) {
		i++
	}
	next = i
	for next < len(line) && !strings.ContainsRune(" ,;\t\n", rune(line[next])) {
		next++
	}
	return line[i:next], next
}

// aboutWord reports whether the word at i begins what is said about pieces.
func aboutWord(line string, i int) bool {
	word, next := wordAt(line, i)
	word = strings.ToLower(word)
	if beginsPrice(word) || isTap(word) {
		return true
	}
	switch word {
	case "ask", "asking", "note", "gift", "free", "least", "upto", "max", "soon", "someday", "urgent", "quietly":
		return true
	case "at":
		following, _ := wordAt(line, next)
		return strings.EqualFold(following, "least")
	case "up":
		following, _ := wordAt(line, next)
		return strings.EqualFold(following, "to")
	}
	_, ok := series.ParseCondition(word)
	return ok
}

// readAbout reads words about a piece from i up to a comma or the end of the line.
func (t turn) readAbout(line string, i int) (said about, end int, err error) {
	said.any = true
	for i < len(line) {
		for i < len(line) && (line[i] == ' ' || line[i] == '\t' || line[i] == '\n') {
			i++
		}
		if i == len(line) || line[i] == ',' || line[i] == ';' {
			break
		}
		word, next := wordAt(line, i)
		lower := strings.ToLower(word)
		if end, ok, err := t.readPrice(line, i, &said); ok || err != nil {
			if err != nil {
				return said, i, err
			}
			i = end
			continue
		}
		switch lower {
		case "ask", "asking":
			said.ask, next, err = t.money(line, next)
		case "upto", "max":
			said.top, next, err = t.money(line, next)
		case "up":
			_, next = wordAt(line, next) // "to"
			said.top, next, err = t.money(line, next)
		case "at":
			_, next = wordAt(line, next) // "least"
			said.least, next, err = condition(t.voice, line, next)
		case "least":
			said.least, next, err = condition(t.voice, line, next)
		case "quietly":
			said.quiet = true
		case "gift", "free":
			said.gift = true
		case "soon", "urgent":
			said.priority = new(store.Soon)
		case "someday":
			said.priority = new(store.Someday)
		case "note":
			said.note, next = strings.TrimSpace(line[next:]), len(line)
			if runes := []rune(said.note); len(runes) > 200 {
				err = pointed{i, word, t.Say(noteTooLong)}
			}
		default:
			c, ok := series.ParseCondition(lower)
			if !ok {
				err = pointed{i, word, t.Say(aboutUnknown)}
			}
			said.condition = c
		}
		if err != nil {
			return said, i, err
		}
		i = next
	}
	return said, i, nil
}

// money reads an amount in the group's currency. A comma inside it belongs to it when digits follow.
func (t turn) money(line string, i int) (*melt.Minor, int, error) {
	word, next := wordAt(line, i)
	if word == "" {
		return nil, i, pointed{max(i-1, 0), "", t.Say(moneyMissing)}
	}
	if next+1 < len(line) && line[next] == ',' && isDigit(line[next+1]) {
		end := next + 1
		for end < len(line) && isDigit(line[end]) {
			end++
		}
		word, next = line[next-len(word):end], end
	}
	amount, err := t.group.Currency.Parse(word)
	if err != nil {
		return nil, i, pointed{next - len(word), word, t.Say(amountUnread, "currency", t.group.Currency)}
	}
	return &amount, next, nil
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

func condition(in voice, line string, i int) (series.Condition, int, error) {
	word, next := wordAt(line, i)
	c, ok := series.ParseCondition(word)
	if !ok {
		return 0, i, pointed{next - len(word), word, in.Say(conditionUnknown)}
	}
	return c, next, nil
}

// pick is what a line means by some pieces, with what it says about them.
type pick struct {
	series.Pick
	about about
}

// read reads the pieces of a whole line. An error points into the line or asks back.
func (t turn) read(purpose series.For, shelf *store.Shelf) ([]pick, error) {
	parts, err := t.parts()
	if err != nil {
		return nil, err
	}
	var picks []pick
	mine := t.mine(shelf)
	mine.Default = t.fallback
	for _, p := range parts {
		reading, err := t.catalogue.Read(p.text, purpose, mine)
		if err != nil {
			return nil, t.inLine(p, err)
		}
		for _, one := range reading.Picks {
			picks = append(picks, pick{one, p.about})
			mine.Default = one.Series
		}
	}
	if len(picks) == 0 {
		return nil, sentence(t.Say(noPieces, "example", t.line(t.verb.example)))
	}
	return picks, nil
}

// mine tells the reader what the speaker counts as theirs.
func (t turn) mine(shelf *store.Shelf) series.Mine {
	completion := func(code string) (one series.Series, c series.Completion) {
		one, _ = t.catalogue.Series(code)
		return one, shelf.Completion(one)
	}
	return series.Mine{
		Slots:   func(code string) []series.Slot { _, c := completion(code); return c.Slots },
		Missing: func(code string) []series.Slot { _, c := completion(code); return c.Missing() },
	}
}

// inLine moves what the reader says about a part to where the part stands in the line.
func (t turn) inLine(p part, err error) error {
	if bad, ok := errors.AsType[*series.SyntaxError](err); ok {
		return pointed{p.start + bad.Col, bad.Word, t.worded(bad.Reason)}
	}
	if bad, ok := errors.AsType[*series.UnknownWord](err); ok {
		return pointed{p.start + bad.Col, bad.Word, unknownReason(t.voice, bad)}
	}
	question, ok := errors.AsType[*series.Question](err)
	if !ok {
		return err
	}
	reply := Reply{Text: t.worded(question.Ask)}
	for _, c := range question.Choices {
		line := t.said + " " + strings.TrimSpace(t.rest[:p.start]+padded(c.Text)+t.rest[p.start+len(p.text):])
		reply.Buttons = append(reply.Buttons, Button{Label: t.worded(c.Label), Says: line})
	}
	return asking{reply}
}

// padded keeps a rewritten stretch apart from its neighbours.
func padded(text string) string { return " " + strings.TrimSpace(text) + " " }

func unknownReason(in voice, bad *series.UnknownWord) string {
	switch {
	case bad.Series == "" && len(bad.Near) == 0:
		return in.Say(wordNowhere)
	case bad.Series == "":
		return in.Say(wordNowhereNear, "near", in.Or(bad.Near))
	case len(bad.Near) == 0:
		return in.Say(wordUnknown, "series", bad.Series)
	}
	return in.Say(wordUnknownNear, "series", bad.Series, "near", in.Or(bad.Near))
}

// point turns a refusal that points at a word into a sentence that shows where it stands.
func (t turn) point(err error) error {
	bad, ok := errors.AsType[pointed](err)
	if !ok {
		return err
	}
	before := strings.TrimLeft(t.rest[:min(bad.col, len(t.rest))], " ")
	if bad.word == "" {
		return sentence(t.Say(pointsNowhere, "reason", bad.reason))
	}
	if runes := []rune(before); len(runes) > 24 {
		before = "…" + string(runes[len(runes)-24:])
	}
	return sentence(t.Say(pointsAt, "before", t.said+" "+before, "word", bad.word, "reason", bad.reason))
}
