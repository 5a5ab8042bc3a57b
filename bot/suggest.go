package bot

import (
	"context"
	"slices"
	"strings"
)

// Suggestion is something that may be filled into a field: what is shown, and what is filled in.
type Suggestion struct {
	Label string
	Value string
}

// Suggest offers values for a field of a command in which something has been typed, from what is remembered; h is who asks
// and where, and head is what has been filled in before it. It changes nothing, and offers nothing rather than fail.
func (b *Bot) Suggest(ctx context.Context, h Heard, c Command, f Field, typed string) []Suggestion {
	typed = strings.TrimLeft(strings.Map(narrow, strings.ToValidUTF8(typed, "")), " ")
	switch f.Kind {
	case ZoneName:
		return beginningWith(typed, zones)
	case VerbWord:
		var names []string
		for _, v := range verbs {
			names = append(names, v.name)
		}
		return beginningWith(typed, append(names, "shorthand", "all"))
	case OneOf:
		return beginningWith(typed, f.Choices)
	case Free:
		if h.From.Keeper {
			return beginningWith(typed, slices.Concat(f.Offers, f.KeeperOffers))
		}
		return beginningWith(typed, f.Offers)
	case WholeNumber, TextFile:
		return nil
	}
	t, err := b.begin(ctx, h)
	if err != nil {
		return nil
	}
	switch f.Kind {
	case SeriesCode:
		return t.suggestSeries(typed)
	case MemberName:
		return beginningWith(typed, b.names(ctx, t))
	case TradeNumber:
		return b.suggestTrades(ctx, t, typed)
	}
	return suggestPieces(b.Complete(ctx, Heard{Group: h.Group, From: h.From, Text: c.Name + " " + typed}), c.Name)
}

// suggestPieces makes values of completed lines.
func suggestPieces(lines []string, verb string) []Suggestion {
	var all []Suggestion
	for _, line := range lines {
		value := strings.TrimPrefix(line, verb+" ")
		all = append(all, Suggestion{value, value})
	}
	return all
}

// suggestSeries offers the series whose code or name holds what is typed.
func (t turn) suggestSeries(typed string) []Suggestion {
	var all []Suggestion
	for _, one := range t.catalogue.All() {
		if holdsFold(one.Code, typed) || holdsFold(one.Name, typed) {
			all = append(all, Suggestion{one.Code + ": " + one.Name, one.Code})
		}
	}
	return all
}

// suggestTrades offers the speaker's open trades, each with what it brings.
func (b *Bot) suggestTrades(ctx context.Context, t turn, typed string) []Suggestion {
	open, err := b.store.OpenTrades(ctx, t.speaker)
	if err != nil {
		return nil
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return nil
	}
	var all []Suggestion
	for _, one := range open {
		v := b.view(t, one, names)
		if n := number(one.Number); strings.HasPrefix(n, typed) {
			all = append(all, Suggestion{t.Say(tradeShort, "n", n, "give", v.gives(), "get", v.gets()), n})
		}
	}
	return all
}

func beginningWith(typed string, words []string) []Suggestion {
	var all, within []Suggestion
	for _, w := range words {
		switch {
		case len(w) >= len(typed) && strings.EqualFold(w[:len(typed)], typed):
			all = append(all, Suggestion{w, w})
		case holdsFold(w, typed):
			within = append(within, Suggestion{w, w})
		}
	}
	return slices.Concat(all, within)
}

func holdsFold(text, part string) bool {
	return strings.Contains(strings.ToLower(text), strings.ToLower(part))
}

// zones are offered while a zone is typed: one for each clock that many keep. Every other IANA name may be typed.
var zones = []string{
	"UTC", "Europe/London", "Europe/Lisbon", "Europe/Berlin", "Europe/Madrid", "Europe/Paris", "Europe/Rome", "Europe/Warsaw",
	"Europe/Athens", "Europe/Helsinki", "Europe/Istanbul", "Europe/Kyiv", "America/New_York", "America/Chicago", "America/Denver",
	"America/Phoenix", "America/Los_Angeles", "America/Anchorage", "Pacific/Honolulu", "America/Halifax", "America/St_Johns",
	"America/Toronto", "America/Vancouver", "America/Mexico_City", "America/Bogota", "America/Lima", "America/Santiago",
	"America/Sao_Paulo", "America/Argentina/Buenos_Aires", "Africa/Lagos", "Africa/Cairo", "Africa/Johannesburg", "Africa/Nairobi",
	"Asia/Dubai", "Asia/Karachi", "Asia/Kolkata", "Asia/Dhaka", "Asia/Bangkok", "Asia/Jakarta", "Asia/Singapore", "Asia/Hong_Kong",
	"Asia/Shanghai", "Asia/Taipei", "Asia/Tokyo", "Asia/Seoul", "Australia/Perth", "Australia/Adelaide", "Australia/Brisbane",
	"Australia/Sydney", "Pacific/Auckland",
}
