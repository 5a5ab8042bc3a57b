package bot

import (
	"context"
	"strconv"
	"strings"

	"spareounce/match/series"
)

// luck says how many more pieces pulled at random finish a set, alone and with swaps.
func (b *Bot) luck(ctx context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		return Reply{}, sentence(t.Say(luckNeeds))
	}
	one, err := t.seriesNamed(t.rest)
	if err != nil {
		return Reply{}, err
	}
	shelf, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	completion := shelf.Completion(one)
	missing := completion.Missing()
	if len(missing) == 0 {
		return Reply{Text: t.Say(luckDone, "series", one.Code)}, nil
	}
	free, err := b.store.FreeSpares(ctx, t.speaker, []string{one.Code})
	if err != nil {
		return Reply{}, err
	}
	spare := map[string]int{}
	for key, n := range free {
		spare[key.Piece] = n
	}
	swaps := series.Complete(missing, spare).Had
	l := series.Luck{Kinds: len(completion.Slots), Lacking: len(missing)}
	lines := []string{t.Say(luckAlone, "series", one.Code, "lacking", l.Lacking, "kinds", l.Kinds,
		"mean", t.decimals(l.Mean(), 1), "median", l.Median())}
	if swaps == 0 {
		lines = append(lines, t.Say(luckNoSwaps))
	} else {
		lines = append(lines, t.Say(luckSwaps, "n", strconv.Itoa(swaps), "mean", t.decimals(l.MeanWithSwaps(swaps), 1)))
	}
	return Reply{Text: strings.Join(append(lines, t.Say(luckAssuming)), "\n")}, nil
}
