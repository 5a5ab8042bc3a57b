package bot

import (
	"context"
	"errors"
	"strings"

	"spareounce/bot/seriesfile"
	"spareounce/store"
)

// importSeries adds a series to the group's catalogue, or corrects it, from a series file pasted after the word. Every
// mistake is said at once, with its line and column, and then nothing is changed.
func (b *Bot) importSeries(ctx context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		return Reply{}, sentence(t.Say(importHow))
	}
	one, remarks := seriesfile.Read("line", []byte(t.rest+"\n"))
	lines := make([]string, len(remarks))
	for i, r := range remarks {
		lines[i] = r.String()
	}
	if seriesfile.Mistakes(remarks) {
		return Reply{}, sentence(t.Say(importRefused, "remarks", strings.Join(lines[:min(len(lines), 12)], "\n")))
	}
	err := b.store.SaveSeries(ctx, t.group.ID, one)
	if _, ok := errors.AsType[*store.PieceInUseError](err); ok {
		return Reply{}, sentence(t.Say(importInUse, "series", one.Code))
	}
	if err != nil {
		return Reply{}, err
	}
	lines = append([]string{t.Say(imported, "series", one.Code, "name", one.Name, "n", len(one.Pieces))}, lines...)
	return Reply{Text: strings.Join(lines, "\n"), Buttons: []Button{{Label: t.Say(pressShow), Says: "series " + one.Code}}}, nil
}

// exportSeries writes a series as the file that import reads.
func (b *Bot) exportSeries(_ context.Context, t turn) (Reply, error) {
	one, err := t.seriesNamed(t.rest)
	if err != nil {
		return Reply{}, err
	}
	return Reply{Text: string(seriesfile.Write(one))}, nil
}
