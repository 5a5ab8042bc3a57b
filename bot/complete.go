package bot

import (
	"context"
	"slices"
	"strings"

	"spareounce/match/series"
)

// mostCompletions is how many lines are offered at once.
const mostCompletions = 8

// Complete offers whole lines that begin with what is typed so far: words of ours, then series, pieces, members or open
// trades, as the word before them asks. It changes nothing, and offers nothing rather than fail.
func (b *Bot) Complete(ctx context.Context, h Heard) []string {
	typed := strings.TrimLeft(h.Text, " ")
	t, err := b.begin(ctx, h)
	if err != nil {
		return nil
	}
	verb, said, rest := findVerb(typed, t.voice)
	if verb.run == nil || rest == "" && !strings.HasSuffix(typed, " ") {
		return t.beginnings(typed)
	}
	if strings.HasSuffix(typed, " ") && rest != "" {
		rest += " "
	}
	head, last := splitLast(rest)
	if verb.name == "accept" || verb.name == "decline" || verb.name == "trade" || verb.name == "sent" || verb.name == "arrived" || verb.name == "leave out" {
		return lines(said, head, last, b.tradeNumbers(ctx, t))
	}
	if verb.name == "spares" || verb.name == "wants" {
		return lines(said, head, last, b.names(ctx, t))
	}
	one, named := t.seriesOf(head)
	switch {
	case !named && head == "":
		return lines(said, head, last, t.codes())
	case named && verb.list:
		return lines(said, head, last, append([]string{"rest", "all"}, t.catalogue.Words(one.Code)...))
	}
	return nil
}

// beginnings are the words of ours that begin with what is typed.
func (in voice) beginnings(typed string) []string {
	var all []string
	for _, v := range verbs {
		for _, word := range slices.Compact([]string{in.command(v.name), v.name}) {
			if strings.HasPrefix(word, strings.ToLower(typed)) && !v.keeper && len(all) < mostCompletions {
				all = append(all, word+" ")
				break
			}
		}
	}
	return all
}

// splitLast splits a line before the word that is being typed; a label may hold spaces, so entries end at commas.
func splitLast(rest string) (head, last string) {
	cut := strings.LastIndexAny(rest, ",;") + 1
	head, last = rest[:cut], strings.TrimLeft(rest[cut:], " ")
	if cut == 0 { // the series' word comes first
		if at := strings.Index(rest, " "); at >= 0 {
			head, last = rest[:at], strings.TrimLeft(rest[at:], " ")
		}
	}
	return head, last
}

// seriesOf finds the last series that a text names.
func (t turn) seriesOf(text string) (found series.Series, ok bool) {
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == ';' }) {
		if one, known, _ := t.catalogue.FindSeries(word); known {
			found, ok = one, true
		}
	}
	return found, ok
}

func (t turn) codes() []string {
	var codes []string
	for _, one := range t.catalogue.All() {
		codes = append(codes, one.Code)
	}
	return codes
}

func (b *Bot) names(ctx context.Context, t turn) []string {
	all, err := b.store.Members(ctx, t.group.ID)
	if err != nil {
		return nil
	}
	names := make([]string, len(all))
	for i, m := range all {
		names[i] = m.Name
	}
	return names
}

func (b *Bot) tradeNumbers(ctx context.Context, t turn) []string {
	open, err := b.store.OpenTrades(ctx, t.speaker)
	if err != nil {
		return nil
	}
	numbers := make([]string, len(open))
	for i, one := range open {
		numbers[i] = number(one.Number)
	}
	return numbers
}

// lines puts each word that begins with last behind what is typed before it.
func lines(said, head, last string, words []string) []string {
	var all []string
	for _, word := range words {
		if len(all) == mostCompletions {
			break
		}
		if strings.HasPrefix(strings.ToLower(word), strings.ToLower(last)) {
			line := said + " "
			if head != "" {
				line += strings.TrimRight(head, " ") + " "
			}
			all = append(all, line+word)
		}
	}
	return all
}
