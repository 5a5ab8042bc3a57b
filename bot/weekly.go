package bot

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"spareounce/bot/picture"
	"spareounce/bot/spot"
	"spareounce/match/melt"
	"spareounce/store"
)

// weekly says when the weekly post comes; a keeper sets it: "weekly Monday 18:00", "weekly Monday 18:00 wait", "weekly off".
func (b *Bot) weekly(ctx context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		w, err := b.store.Weekly(ctx, t.group.ID)
		if err != nil || w == nil {
			return Reply{Text: t.Say(weeklyNone)}, err
		}
		return Reply{Text: b.weeklySaid(t.voice, t.group, *w)}, nil
	}
	if !t.speaker.Keeper {
		return Reply{}, sentence(t.Say(keepersOnly, "verb", t.Say(weeklyAt)))
	}
	if strings.EqualFold(t.rest, "off") {
		return Reply{Text: t.Say(weeklyOff)}, b.store.StopWeekly(ctx, t.group.ID)
	}
	w, ok := readWeekly(t.rest)
	if !ok {
		return Reply{}, sentence(t.Say(weeklyHow))
	}
	w, err := b.store.SetWeekly(ctx, t.group, w)
	if err != nil {
		return Reply{}, err
	}
	return Reply{Text: b.weeklySaid(t.voice, t.group, w)}, nil
}

// readWeekly reads a day by its first three letters or more, a time of day, and perhaps "wait".
func readWeekly(text string) (w store.Weekly, ok bool) {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return r == ' ' || r == ',' || r == '\t' })
	words = slices.DeleteFunc(words, func(word string) bool { return word == "at" || word == "on" })
	if len(words) == 3 && (words[2] == "wait" || words[2] == "waits") {
		w.Waits, words = true, words[:2]
	}
	if len(words) != 2 {
		return w, false
	}
	for day := range time.Saturday + 1 {
		if word := strings.TrimSuffix(words[0], "s"); len(word) >= 3 && strings.HasPrefix(strings.ToLower(day.String()), word) {
			w.Weekday = (int(day)+6)%7 + 1
		}
	}
	w.At, ok = readClock(words[1])
	return w, ok && w.Weekday != 0
}

func (b *Bot) weeklySaid(in voice, g store.Group, w store.Weekly) string {
	waits := in.Say(weeklyPost)
	if w.Waits {
		waits = in.Say(weeklyWait, "hours", int(store.WaitsAtMost.Hours()))
	}
	return in.Say(weeklyIs, "day", in.Weekday(time.Weekday(w.Weekday%7)), "time", w.At, "zone", g.Zone, "next", in.when(g, w.NextAt), "waits", waits)
}

// week shows what the weekly post would say now.
func (b *Bot) week(ctx context.Context, t turn) (Reply, error) {
	w, err := b.store.WeekSoFar(ctx, t.group)
	if err != nil {
		return Reply{}, err
	}
	return b.weekPost(ctx, t.voice, w)
}

// PostWeek says the weekly post to the group. It is the store's Duties.
func (b *Bot) PostWeek(ctx context.Context, w store.Week) error {
	in := voiceFor(w.Group.Language)
	reply, err := b.weekPost(ctx, in, w)
	if err != nil {
		return err
	}
	reply = in.spoken(reply)
	reply.Key = "week " + w.Name
	return b.chat.Post(ctx, w.Group.Chat, reply)
}

// weekPost words a week: the price, what a piece is worth, what has become possible, what was done.
func (b *Bot) weekPost(ctx context.Context, in voice, w store.Week) (Reply, error) {
	t := turn{voice: in, group: w.Group, catalogue: w.Catalogue}
	lines := []string{in.Say(weekHead, "week", w.Name)}
	if b.now().Sub(w.Due) > time.Hour {
		lines[0] += " " + in.Say(weekLate, "at", in.when(w.Group, w.Due))
	}
	if w.Passed > 0 {
		lines[0] += " " + in.Say(weekPassed, "n", w.Passed)
	}
	lines = append(lines, b.weekPrices(in, w)...)
	for _, c := range w.Common {
		one, _ := w.Catalogue.Series(c.Series)
		said := weekCommon
		if c.Observed > 0 {
			said = weekSeen
		}
		lines = append(lines, in.Say(said, "piece", t.nameOf(c.Series, c.Piece), "weight", one.Metal.Gross, "n", c.Observed,
			"melt", w.Group.Currency.Format(c.Melt), "usual", w.Group.Currency.Format(c.Usual)))
	}
	lines = append(lines, t.weekNews(w)...)
	helps, err := b.mostUseful(ctx, t, 1)
	if err != nil {
		return Reply{}, err
	}
	for _, line := range helps {
		lines = append(lines, in.Say(weekUseful)+" "+line)
	}
	lines = append(lines, t.weekDeeds(w)...)
	if w.Spot != nil {
		lines = append(lines, in.Say(weekAdvice))
	}
	reply := Reply{Text: strings.Join(lines, "\n"), Buttons: []Button{{in.Say(pressMelt), "melt"}, {in.Say(pressTrades), "trades"}}}
	chart, ok := b.yearChart(in, w.Group, w.History, w.Rules)
	if !ok {
		return reply, nil
	}
	png, err := chart.PNG()
	if err != nil {
		return reply, err
	}
	reply.Pictures = []Picture{{Name: "silver.png", PNG: png, Alt: chart.Alt()}}
	return reply, nil
}

func (b *Bot) weekPrices(in voice, w store.Week) []string {
	if w.Spot == nil {
		return []string{in.Say(weekNoPrice)}
	}
	line := in.Say(weekPrice, "price", price(w.Spot.Price), "currency", w.Spot.Currency, "source", w.Spot.Source, "at", in.when(w.Group, w.Spot.At),
		"age", in.age(b.now().Sub(w.Spot.At)))
	if w.Rules.Stale(w.Spot.At, b.now()) {
		line += " " + in.Say(weekStale)
	}
	if w.WeekAgo != nil && !w.WeekAgo.At.Equal(w.Spot.At) {
		line += " " + in.Say(weekBefore, "price", price(w.WeekAgo.Price), "change", spot.Change(w.WeekAgo.Price, w.Spot.Price))
	}
	return []string{line}
}

// mostFills is how many pieces the post names; the rest is counted.
const mostFills = 8

// weekNews says what has become possible since the last post.
func (t turn) weekNews(w store.Week) []string {
	var news []string
	for i, f := range w.Fills {
		if i == mostFills {
			news = append(news, t.Say(weekFillsMore, "n", len(w.Fills)-mostFills))
			break
		}
		news = append(news, t.Say(weekFill, "piece", t.nameOf(f.Series, f.Piece), "n", f.Wanters))
	}
	var shapes []string
	for shape, words := range map[store.Shape][2]phrase{
		store.ShapeSwap: {oneSwap, manySwaps}, store.ShapeRing: {oneRing, manyRings}, store.ShapeChain: {oneGiftChain, manyGiftChains},
	} {
		if n := w.Proposed[shape]; n > 0 {
			shapes = append(shapes, t.several(n, words[0], words[1]))
		}
	}
	if slices.Sort(shapes); len(shapes) > 0 {
		news = append(news, t.Say(weekProposed, "list", strings.Join(shapes, ", ")))
	}
	for _, s := range w.OneShort {
		news = append(news, t.Say(weekOneShort, "series", s.Series, "n", t.several(s.Sets, oneSet, manySets)))
	}
	switch {
	case len(news) == 0 && !w.First:
		return []string{t.Say(weekNothing)}
	case len(news) == 0:
		return nil
	case w.First:
		return append([]string{t.Say(weekFirst)}, news...)
	}
	return append([]string{t.Say(weekNew)}, news...)
}

// weekDeeds says what was done: sets completed, trades closed, gifts given; and the totals of who agreed to be counted.
func (t turn) weekDeeds(w store.Week) (lines []string) {
	var done []string
	for _, d := range w.Completed {
		who := slices.Clone(d.Names)
		switch {
		case d.Others == 1:
			who = append(who, t.Say(weekSomeone))
		case d.Others > 1:
			who = append(who, t.Say(weekOthers, "n", d.Others))
		}
		done = append(done, t.Say(weekDoneSet, "series", d.Series, "who", strings.Join(who, ", ")))
	}
	if len(done) > 0 {
		lines = append(lines, t.Say(weekDone, "list", strings.Join(done, "; ")))
	}
	if w.Closed > 0 {
		lines = append(lines, t.Say(weekClosed, "n", w.Closed))
	}
	var gifts []string
	for _, g := range w.Gifts {
		name := g.Name
		if g.Pieces > 1 {
			name = fmt.Sprintf("%s (%d)", g.Name, g.Pieces)
		}
		gifts = append(gifts, name)
	}
	if len(gifts) > 0 {
		lines = append(lines, t.Say(weekGifts, "list", strings.Join(gifts, ", ")))
	}
	if all := w.Totals; all != nil {
		value := ""
		if all.Melt != nil {
			value = t.Say(weekTotalMelt, "melt", w.Group.Currency.Format(*all.Melt))
		}
		lines = append(lines, t.Say(weekTotals, "n", all.Members, "pieces", all.Pieces, "fine", ounces(all.Fine), "melt", value))
	}
	return lines
}

// ounces writes a weight of fine metal in troy ounces with two decimals.
func ounces(w melt.Weight) string {
	return (melt.Metal{Fine: w}).FineOunces().FloatString(2) + " ozt"
}

// yearChart is the chart of a group's prices in the last year; false when there are too few for a line.
func (b *Bot) yearChart(in voice, g store.Group, history []store.Spot, rules store.PriceRules) (picture.Chart, bool) {
	c := picture.Chart{Title: in.Say(chartTitle), Unit: in.Say(chartUnit, "currency", g.Currency), Zone: g.Location(), To: b.now(), In: in.Tongue}
	c.From = c.To.AddDate(-1, 0, 0)
	seen := map[string]bool{}
	for _, s := range history {
		c.Points = append(c.Points, picture.Point{At: s.At, Price: s.Price})
		if !seen[s.Source] {
			seen[s.Source] = true
			c.Sources = append(c.Sources, s.Source)
		}
	}
	if len(c.Points) > 0 {
		c.Stale = rules.Stale(c.Points[len(c.Points)-1].At, b.now())
	}
	return c, len(c.Points) >= 2
}
