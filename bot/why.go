package bot

import (
	"context"
	"slices"
	"strings"

	"spareounce/match/series"
	"spareounce/store"
)

// mostWhys is how many wants one question is answered for.
const mostWhys = 5

// why says why wants of the speaker's have no trade yet.
func (b *Bot) why(ctx context.Context, t turn) (Reply, error) {
	shelf, picks, err := b.lookUp(ctx, t, series.ForWants)
	if err != nil {
		return Reply{}, err
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	spot, err := b.store.Spot(ctx, t.group)
	if err != nil {
		return Reply{}, err
	}
	v := b.viewOf(t.group, t.catalogue, t.speaker, store.Trade{}, names)
	if spot != nil {
		v.trade.Spot = &spot.Price
	}
	var reply Reply
	var lines []string
	for _, p := range picks[:min(len(picks), mostWhys)] {
		why, err := b.store.Why(ctx, t.speaker, wantFor(shelf, p.Pick))
		if err != nil {
			return Reply{}, err
		}
		lines = append(lines, t.because(v, p.Pick, why))
		if why.Kind == store.WhyNotWanted && len(picks) == 1 {
			reply.Buttons = []Button{{Label: t.Say(pressWant), Says: "want " + t.rest}}
		}
		if why.Kind == store.WhyAsked || why.Kind == store.WhyPromised {
			reply.Buttons = append(reply.Buttons, Button{Label: t.Say(pressTrade, "n", why.Trade), Says: "trade " + number(why.Trade)})
		}
	}
	if len(picks) > mostWhys {
		lines = append(lines, t.Say(andMore, "n", len(picks)-mostWhys))
	}
	reply.Text = strings.Join(lines, "\n")
	return reply, nil
}

// wantFor finds the want that the speaker means: the one of these very words, else one that the first piece would fill.
func wantFor(shelf *store.Shelf, p series.Pick) store.WantKey {
	key := wantKey(p)
	if _, ok := shelf.Wants[key]; ok || len(p.Pieces) == 0 {
		return key
	}
	for _, one := range sortedKeys(shelf.Wants) {
		if one.Series == p.Series && slices.Contains(shelf.Wants[one].Pieces, p.Pieces[0]) {
			return one
		}
	}
	return key
}

func sortedKeys(wants map[store.WantKey]store.Want) []store.WantKey {
	var keys []store.WantKey
	for key := range wants {
		keys = append(keys, key)
	}
	slices.SortFunc(keys, func(a, b store.WantKey) int {
		return strings.Compare(a.Series+"/"+a.Wanted, b.Series+"/"+b.Wanted)
	})
	return keys
}

// because words a reason. Of other members it tells what they offer and look for, as anyone may ask, and never a limit.
func (t turn) because(v view, p series.Pick, why store.Why) string {
	name := func(h store.WhyHolder) string { return v.name(store.Member{ID: h.Member}.Identity()) }
	piece := t.pickName(p)
	var first store.WhyHolder
	var holders []string
	for i, h := range why.Holders {
		if !slices.Contains(holders, name(h)) {
			holders = append(holders, name(h))
		}
		if i == 0 {
			first = h
		}
	}
	said, lacks := whyWords[why.Kind], ""
	switch {
	case why.Kind == store.WhyNear:
		lacks = v.lacks(first.Lacks)
	case why.Kind == store.WhyUnwanted && len(first.Wants) == 0:
		said = whyWantsNothing
	}
	wants := make([]string, len(first.Wants))
	for i, key := range first.Wants {
		wants[i] = t.wantName(key)
	}
	return v.Say(said, "piece", piece, "who", v.Or(holders), "first", name(first), "wants", strings.Join(wants, ", "),
		"lacks", lacks, "n", why.Trade, "until", v.when(t.group, why.Until))
}

// wantName is a want as members say it: "harbour 84 or 85".
func (t turn) wantName(key store.WantKey) string {
	labels := strings.Split(key.Wanted, "|")
	for i, code := range labels {
		labels[i] = t.labelOf(key.Series, code)
	}
	return key.Series + " " + strings.Join(labels, " or ")
}

var whyWords = map[store.WhyKind]phrase{
	store.WhyNotWanted: whyNotWanted, store.WhyPromised: whyPromised, store.WhyAsked: whyAsked, store.WhyResting: whyResting,
	store.WhyBusy: whyBusy, store.WhySoon: whySoon, store.WhyNobody: whyNobody, store.WhyCondition: whyCondition,
	store.WhyTooDear: whyTooDear, store.WhyUnwanted: whyUnwanted, store.WhyNear: whyNear,
}
