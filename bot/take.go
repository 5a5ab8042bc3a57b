package bot

import (
	"context"
	"encoding/csv"
	"strings"

	"spareounce/match/series"
)

// TakeText reads a text that somebody wrote for people, and says what pieces it found in it, with buttons that say so.
// Nothing is stored until one is pressed. Lines that cannot be read are named and left out.
func (b *Bot) TakeText(ctx context.Context, h Heard, text string) Reply {
	in := voiceFor(h.From.Language)
	text = strings.Map(printable, strings.ToValidUTF8(text, "\uFFFD"))
	if len(text) > longestLine {
		return in.spoken(Reply{Private: true, Text: in.Say(tooLong, "runes", len([]rune(text)))})
	}
	t, err := b.begin(ctx, h)
	if err != nil {
		return b.refuse(ctx, in, h, err)
	}
	var read, unread []string
	mine := series.Mine{}
	for _, line := range strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == ';' }) {
		line = bareList(line)
		if line == "" {
			continue
		}
		if _, _, rest := findVerb(line, t.voice); rest != "" {
			line = rest
		}
		reading, err := t.catalogue.Read(line, series.ForHoldings, mine)
		if err != nil || len(reading.Picks) == 0 {
			if len(unread) < 5 {
				unread = append(unread, "\""+shortened(line, 40)+"\"")
			}
			continue
		}
		mine.Default = reading.Picks[len(reading.Picks)-1].Series
		read = append(read, t.pickList(reading.Picks))
	}
	if len(read) == 0 {
		return t.spoken(Reply{Private: true, Text: t.Say(takeNothing)})
	}
	list := strings.Join(read, ", ")
	lines := []string{t.Say(takeRead, "list", list)}
	if len(unread) > 0 {
		lines = append(lines, t.Say(takeUnread, "words", strings.Join(unread, ", ")))
	}
	return t.spoken(Reply{Private: true, Text: strings.Join(append(lines, t.Say(takeAsk)), "\n"), Buttons: []Button{
		{t.Say(pressHave), "have " + list}, {t.Say(pressSpare), "spare " + list}, {t.Say(pressWant), "want " + list},
	}})
}

// pickList writes picks in the shorthand, so that reading it again gives the same.
func (t turn) pickList(picks []series.Pick) string {
	var lists []string
	for _, code := range codesOf(asPicks(picks)) {
		one, _ := t.catalogue.Series(code)
		counts := map[string]int{}
		for _, p := range picks {
			if p.Series == code {
				counts[p.Pieces[0]] += max(p.Quantity, 1)
			}
		}
		lists = append(lists, code+" "+one.Shorthand(counts))
	}
	return strings.Join(lists, ", ")
}

func asPicks(picks []series.Pick) []pick {
	all := make([]pick, len(picks))
	for i, p := range picks {
		all[i] = pick{Pick: p}
	}
	return all
}

// bareList takes away what people put around a list: bullets, quotation marks, bold print.
func bareList(line string) string {
	return strings.TrimSpace(strings.Trim(strings.TrimSpace(line), "*_~`>-•·|#"))
}

func shortened(text string, most int) string {
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most-1]) + "…"
	}
	return text
}

// SparesForMe answers what another member can spare that the speaker lacks or wants.
func (b *Bot) SparesForMe(ctx context.Context, h Heard, account, name string) Reply {
	t, err := b.begin(ctx, h)
	if err != nil {
		return b.refuse(ctx, voiceFor(h.From.Language), h, err)
	}
	reply, err := b.sparesForMe(ctx, t, account, tidyName(name, account))
	if err != nil {
		reply = b.refuse(ctx, t.voice, h, err)
	}
	return t.spoken(reply)
}

func (b *Bot) sparesForMe(ctx context.Context, t turn, account, name string) (Reply, error) {
	other, known, err := b.store.KnownMember(ctx, t.group.ID, account)
	if err != nil {
		return Reply{}, err
	}
	if !known || other.Gone || other.ID == t.speaker.ID {
		return Reply{Private: true, Text: t.Say(sparesNothing, "name", name)}, nil
	}
	mine, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	theirs, err := b.store.Shelf(ctx, other)
	if err != nil {
		return Reply{}, err
	}
	for key := range theirs.Holdings {
		one, ok := t.catalogue.Series(key.Series)
		if ok && !lacks(mine.Completion(one), key.Piece) && !isWanted(mine, key.Series, series.Slot{Fill: []string{key.Piece}}) {
			delete(theirs.Holdings, key)
		}
	}
	fills := t.everySeries(func(one series.Series) string { return t.sparesOf(theirs, one) })
	if fills == "" {
		return Reply{Private: true, Language: t.Tag(), Text: t.Say(fillsNothing, "name", other.Name)}, nil
	}
	return Reply{Private: true, Language: t.Tag(), Text: t.Say(fillsForYou, "name", other.Name, "list", fills)}, nil
}

// lacks reports whether a piece would fill a slot that is empty.
func lacks(c series.Completion, piece string) bool {
	for _, slot := range c.Missing() {
		for _, fills := range slot.Fill {
			if fills == piece {
				return true
			}
		}
	}
	return false
}

// columns are the words that a table may head its columns with, and what stands there.
var columns = map[string]string{
	"series": "series", "set": "series", "piece": "piece", "pieces": "piece", "year": "piece", "item": "piece", "label": "piece",
	"count": "count", "quantity": "count", "qty": "count", "number": "count", "x": "count", "condition": "condition", "grade": "condition",
	"ask": "ask", "asking": "ask", "price": "ask", "note": "", "notes": "",
}

// ListFromFile makes a line in the shorthand of a text file: the lines of a plain list, or the rows of a table with commas,
// semicolons or tabs (RFC 4180), whose first row may name its columns: series, piece, count, condition, ask. Without names
// a row's cells stand one after the other.
func ListFromFile(text string) string {
	first, _, _ := strings.Cut(text, "\n")
	comma := ','
	for _, c := range []rune{'\t', ';'} {
		if strings.ContainsRune(first, c) {
			comma = c
		}
	}
	heads := map[int]string{}
	for i, cell := range strings.Split(strings.ToLower(first), string(comma)) {
		if what, ok := columns[strings.Trim(cell, " \"\r\ufeff")]; ok {
			heads[i] = what
		}
	}
	if len(heads) == 0 && comma == ',' {
		return joinLines(text)
	}
	table := csv.NewReader(strings.NewReader(text))
	table.Comma, table.FieldsPerRecord, table.LazyQuotes, table.TrimLeadingSpace = comma, -1, true, true
	rows, err := table.ReadAll()
	if err != nil {
		return joinLines(text)
	}
	if len(heads) > 0 {
		rows = rows[1:]
	}
	var parts []string
	for _, cells := range rows {
		if part := rowWords(cells, heads); part != "" {
			parts = append(parts, part)
		}
	}
	return strings.Join(parts, ", ")
}

// rowWords puts a row's cells in the order in which the shorthand has them.
func rowWords(cells []string, heads map[int]string) string {
	if len(heads) == 0 {
		return strings.Join(strings.Fields(strings.Join(cells, " ")), " ")
	}
	said := map[string]string{}
	for i, cell := range cells {
		if cell = strings.TrimSpace(cell); cell != "" {
			said[heads[i]] = strings.NewReplacer(",", " ", "\n", " ").Replace(cell)
		}
	}
	if said["piece"] == "" {
		return ""
	}
	words := []string{said["series"], said["piece"]}
	if n := said["count"]; n != "" {
		words = append(words, "x"+strings.TrimLeft(n, "xX "))
	}
	if said["condition"] != "" {
		words = append(words, said["condition"])
	}
	if said["ask"] != "" {
		words = append(words, "ask", said["ask"])
	}
	return strings.Join(strings.Fields(strings.Join(words, " ")), " ")
}

// joinLines makes one line of many.
func joinLines(text string) string {
	var lines []string
	for _, line := range strings.Split(text, "\n") {
		if line = strings.Trim(bareList(line), ", "); line != "" {
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, ", ")
}
