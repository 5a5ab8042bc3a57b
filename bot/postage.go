package bot

import (
	"context"
	"slices"
	"strings"

	"spareounce/match"
	"spareounce/match/melt"
)

// longestRegion is how many characters the name of a region may have.
const longestRegion = 20

// region says from and to where the speaker's parcels go: one of the regions in the group's postage table.
func (b *Bot) region(ctx context.Context, t turn) (Reply, error) {
	table, err := b.store.Postage(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	known := regions(table)
	m := t.speaker
	word := regionName(t.rest)
	switch {
	case word == "" && m.Region == "":
		return Reply{Text: t.Say(regionUnset, "regions", t.Or(known))}, nil
	case word == "":
		return Reply{Text: t.Say(regionIs, "region", m.Region)}, nil
	case len(known) == 0:
		return Reply{}, sentence(t.Say(postageNone))
	case !slices.Contains(known, word):
		return Reply{}, pointed{0, t.rest, t.Say(regionUnknown, "regions", t.Or(known))}
	}
	m.Region = word
	return Reply{Text: t.Say(regionIs, "region", word)}, b.store.SaveMember(ctx, m)
}

// postage shows what parcels cost between regions; a keeper sets it: "postage EU US 13.50 0.90", "postage EU US off".
func (b *Bot) postage(ctx context.Context, t turn) (Reply, error) {
	words := strings.Fields(t.rest)
	if len(words) == 0 {
		return b.postageTable(ctx, t)
	}
	if !t.speaker.Keeper {
		return Reply{}, sentence(t.Say(keepersOnly, "verb", t.Say(postageOf)))
	}
	if len(words) < 3 || len(words) > 4 {
		return Reply{}, sentence(t.Say(postageHow))
	}
	one := match.Tariff{From: regionName(words[0]), To: regionName(words[1])}
	if len([]rune(one.From)) > longestRegion || len([]rune(one.To)) > longestRegion {
		return Reply{}, sentence(t.Say(postageHow))
	}
	if len(words) == 3 && strings.EqualFold(words[2], "off") {
		if err := b.store.DropPostage(ctx, t.group.ID, one.From, one.To); err != nil {
			return Reply{}, err
		}
		return b.postageTable(ctx, t)
	}
	for i, into := range []*melt.Minor{&one.Parcel, &one.Ounce}[:len(words)-2] {
		amount, err := t.amount(words[2+i])
		if err != nil {
			return Reply{}, err
		}
		*into = amount
	}
	if err := b.store.SetPostage(ctx, t.group.ID, one); err != nil {
		return Reply{}, err
	}
	return b.postageTable(ctx, t)
}

func (b *Bot) postageTable(ctx context.Context, t turn) (Reply, error) {
	table, err := b.store.Postage(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	if len(table) == 0 {
		return Reply{Text: t.Say(postageNone)}, nil
	}
	lines := []string{t.Say(postageHead)}
	for _, one := range table {
		lines = append(lines, t.Say(postageLine, "from", one.From, "to", one.To,
			"parcel", t.group.Currency.Format(one.Parcel), "ounce", t.group.Currency.Format(one.Ounce)))
	}
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

// regions are those that a table names.
func regions(table []match.Tariff) []string {
	var all []string
	for _, one := range table {
		all = append(all, one.From, one.To)
	}
	return unique(all)
}

func regionName(word string) string { return strings.ToUpper(strings.TrimSpace(word)) }
