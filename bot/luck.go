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
		return Reply{}, sentence(luckNeeds.with())
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
		return Reply{Text: luckDone.with("series", one.Code)}, nil
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
	lines := []string{luckAlone.with("series", one.Code, "lacking", l.Lacking, "kinds", l.Kinds,
		"mean", t.decimals(l.Mean(), 1), "median", l.Median())}
	if swaps == 0 {
		lines = append(lines, luckNoSwaps.with())
	} else {
		lines = append(lines, luckSwaps.with("n", strconv.Itoa(swaps), "mean", t.decimals(l.MeanWithSwaps(swaps), 1)))
	}
	return Reply{Text: strings.Join(append(lines, luckAssuming.with()), "\n")}, nil
}
