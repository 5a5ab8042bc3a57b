package bot

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strconv"
	"strings"

	"spareounce/match/series"
	"spareounce/store"
)

// who answers who can spare a piece, and who holds it among those who chose to be seen.
func (b *Bot) who(ctx context.Context, t turn) (Reply, error) {
	shelf, picks, err := b.lookUp(ctx, t, series.ForWants)
	if err != nil {
		return Reply{}, err
	}
	var lines []string
	for _, p := range picks {
		holders, err := b.store.Who(ctx, t.speaker, p.Series, p.Pieces)
		if err != nil {
			return Reply{}, err
		}
		lines = append(lines, t.holders(p.Pick, holders))
	}
	const most = 12
	if len(lines) > most {
		lines = append(lines[:most], t.Say(andMore, "n", len(lines)-most))
	}
	reply := Reply{Text: strings.Join(lines, "\n")}
	if unasked := unaskedWants(shelf, picks); len(picks) == 1 && unasked {
		reply.Buttons = []Button{{Label: t.Say(pressWant), Says: "want " + t.rest}}
	}
	return reply, nil
}

// unaskedWants reports whether the speaker neither holds nor wants the pieces they ask about.
func unaskedWants(shelf *store.Shelf, picks []pick) bool {
	for _, p := range picks {
		held := shelf.Held(p.Series)
		for _, piece := range p.Pieces {
			if held[piece] > 0 || isWanted(shelf, p.Series, series.Slot{Fill: []string{piece}}) {
				return false
			}
		}
	}
	return true
}

// holders says in a line who has a piece.
func (t turn) holders(p series.Pick, holders []store.Holder) string {
	name := t.pickName(p)
	if len(holders) == 0 {
		return t.Say(nobodyHas, "piece", name)
	}
	var spare, held []string
	for _, h := range holders {
		if h.Spare == 0 {
			held = append(held, h.Name)
			continue
		}
		words := []string{h.Name}
		if h.Spare > 1 {
			words = append(words, "x"+strconv.Itoa(h.Spare))
		}
		if len(p.Pieces) > 1 {
			words = append(words, t.labelOf(h.Key.Series, h.Key.Piece))
		}
		words = append(words, t.aboutHolding(h.Key.Condition, store.Holding{Ask: h.Ask, Gift: h.Gift, Note: h.Note})...)
		if h.WantsBack > 0 {
			words = append(words, "("+t.Say(wantsBack, "n", h.WantsBack)+")")
		}
		spare = append(spare, strings.Join(words, " "))
	}
	switch {
	case len(spare) == 0:
		return t.Say(onlyHeld, "piece", name, "who", t.Or(unique(held)))
	case len(held) == 0:
		return t.Say(canBeSpared, "piece", name, "who", strings.Join(spare, "; "))
	}
	return t.Say(canBeSpared, "piece", name, "who", strings.Join(spare, "; ")) + " " + t.Say(alsoHeld, "who", t.And(unique(held)))
}

func unique(names []string) []string {
	slices.Sort(names)
	return slices.Compact(names)
}

// aboutHolding is what is said about a piece, in the words that can be typed.
func (t turn) aboutHolding(c series.Condition, h store.Holding) []string {
	var words []string
	if c != series.Unsaid {
		words = append(words, c.String())
	}
	if h.Quiet {
		words = append(words, t.Say(quietWord))
	}
	if h.Gift {
		words = append(words, "gift")
	}
	if h.Ask != nil {
		words = append(words, "ask "+t.group.Currency.Format(*h.Ask))
	}
	if h.Note != "" {
		words = append(words, "note "+h.Note)
	}
	return words
}

// spares lists what a member can spare: the one named, or the speaker.
func (b *Bot) spares(ctx context.Context, t turn) (Reply, error) {
	whose, shelf, err := b.shelfOf(ctx, t)
	if err != nil {
		return Reply{}, err
	}
	shelf = t.shown(shelf, whose)
	spare := t.everySeries(func(one series.Series) string { return t.sparesOf(shelf, one) })
	if spare == "" {
		return Reply{Text: t.Say(sparesNothing, "name", whose.Name)}, nil
	}
	return Reply{Text: t.Say(maySpare, "name", whose.Name, "list", spare)}, nil
}

// sparesOf lists the free spares of one series: plain ones compressed, those with something said about them on their own.
func (t turn) sparesOf(shelf *store.Shelf, one series.Series) string {
	plain := map[string]int{}
	var told []string
	for _, key := range sortedHoldings(shelf, one) {
		h := shelf.Holdings[key]
		if h.Free() <= 0 {
			continue
		}
		words := t.aboutHolding(key.Condition, h)
		if len(words) == 0 {
			plain[key.Piece] += h.Free()
			continue
		}
		told = append(told, one.Shorthand(map[string]int{key.Piece: h.Free()})+" "+strings.Join(words, " "))
	}
	if len(plain) > 0 {
		told = append([]string{one.Shorthand(plain)}, told...)
	}
	if len(told) == 0 {
		return ""
	}
	return one.Code + " " + strings.Join(told, ", ")
}

// sortedHoldings lists a shelf's rows of a series in catalogue order, worst condition first.
func sortedHoldings(shelf *store.Shelf, one series.Series) []store.HoldingKey {
	place := map[string]int{}
	for i, p := range one.Pieces {
		place[p.Code] = i
	}
	var keys []store.HoldingKey
	for key := range shelf.Holdings {
		if key.Series == one.Code {
			keys = append(keys, key)
		}
	}
	slices.SortFunc(keys, func(a, b store.HoldingKey) int {
		return cmp.Or(cmp.Compare(place[a.Piece], place[b.Piece]), cmp.Compare(a.Condition, b.Condition))
	})
	return keys
}

// wants lists what a member wants: the one named, or the speaker.
func (b *Bot) wants(ctx context.Context, t turn) (Reply, error) {
	whose, shelf, err := b.shelfOf(ctx, t)
	if err != nil {
		return Reply{}, err
	}
	shelf = t.shown(shelf, whose)
	wanted := t.everySeries(func(one series.Series) string { return t.wantsOf(shelf, one.Code) })
	if wanted == "" {
		return Reply{Text: t.Say(wantsNothing, "name", whose.Name)}, nil
	}
	return Reply{Text: t.Say(wantsNow, "name", whose.Name, "list", wanted)}, nil
}

// shown is what of a shelf may be seen where the answer is: what is quiet is for its owner alone.
func (t turn) shown(shelf *store.Shelf, whose store.Member) *store.Shelf {
	if whose.ID == t.speaker.ID && t.heard.Private {
		return shelf
	}
	seen := &store.Shelf{Holdings: maps.Clone(shelf.Holdings), Wants: maps.Clone(shelf.Wants), Sets: shelf.Sets}
	maps.DeleteFunc(seen.Holdings, func(_ store.HoldingKey, h store.Holding) bool { return h.Quiet })
	maps.DeleteFunc(seen.Wants, func(_ store.WantKey, w store.Want) bool { return w.Quiet })
	return seen
}

// shelfOf finds the member whom the line names, or the speaker, and what they told us.
func (b *Bot) shelfOf(ctx context.Context, t turn) (store.Member, *store.Shelf, error) {
	whose := t.speaker
	if t.rest != "" && !strings.EqualFold(t.rest, "mine") && !strings.EqualFold(t.rest, "me") {
		all, err := b.store.Members(ctx, t.group.ID)
		if err != nil {
			return whose, nil, err
		}
		if whose, err = memberNamed(t.voice, all, t.rest); err != nil {
			return whose, nil, err
		}
	}
	shelf, err := b.store.Shelf(ctx, whose)
	return whose, shelf, err
}

// memberNamed finds a member by name or the beginning of it.
func memberNamed(in voice, all []store.Member, word string) (store.Member, error) {
	word = strings.TrimPrefix(word, "@")
	var begun []store.Member
	for _, m := range all {
		if strings.EqualFold(m.Name, word) || m.Account == word {
			return m, nil
		}
		if len(word) < len(m.Name) && strings.EqualFold(m.Name[:len(word)], word) {
			begun = append(begun, m)
		}
	}
	if len(begun) == 1 {
		return begun[0], nil
	}
	if len(begun) > 1 {
		names := make([]string, len(begun))
		for i, m := range begun {
			names[i] = m.Name
		}
		return store.Member{}, sentence(in.Say(manyMembers, "word", word, "names", in.Or(names)))
	}
	return store.Member{}, sentence(in.Say(noMember, "word", word))
}

// scarce lists the wanted pieces that spares cover least.
func (b *Bot) scarce(ctx context.Context, t turn) (Reply, error) {
	code := ""
	if t.rest != "" {
		one, err := t.seriesNamed(t.rest)
		if err != nil {
			return Reply{}, err
		}
		code = one.Code
	}
	all, err := b.store.Scarcest(ctx, t.group.ID, code, 8)
	if err != nil {
		return Reply{}, err
	}
	if len(all) == 0 {
		return Reply{Text: t.Say(nothingWanted)}, nil
	}
	lines := []string{t.Say(scarcestAre)}
	for _, s := range all {
		lines = append(lines, t.Say(scarceLine, "piece", t.nameOf(s.Series, s.Piece), "wanted", s.Wanted, "spare", s.Spare))
	}
	return Reply{Text: strings.Join(lines, "\n")}, nil
}
