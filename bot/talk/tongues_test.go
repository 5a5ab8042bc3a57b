package talk_test

import (
	"flag"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"spareounce/bot/talk"
	"spareounce/bot/tongue"
	"spareounce/match/series"
	"spareounce/store/storetest"
)

var (
	language = flag.String("language", "", "play every transcript in this language, \"de\"; else each in the one whose turn it is")
	keep     = flag.String("keep", "", "a folder in which to keep the translated transcripts, to be read by who translates")
)

// translated plays a script in another language, the one whose turn it is, and looks for English that was left in what we say.
func translated(t *testing.T, name string, n int, script []talk.Line, all []series.Series, english *talk.Player) {
	tags := tongue.Tags()[1:]
	tag := tags[n%len(tags)]
	if *language != "" {
		tag = *language
	}
	_, out := play(t, script, all, english, tag)
	if *keep != "" {
		if err := os.WriteFile(filepath.Join(*keep, name+"."+tag+".txt"), []byte(strings.Join(out, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, line := range left(script, out, all) {
		t.Errorf("in %s, English is left in: %s", tag, line)
	}
}

// play plays a script in a language, "" for English, pressing what was pressed before.
func play(t *testing.T, script []talk.Line, all []series.Series, before *talk.Player, tag string) (*talk.Player, []string) {
	t.Helper()
	player, err := talk.NewPlayer(t.Context(), storetest.Database(t), slog.New(slog.DiscardHandler), all)
	if err != nil {
		t.Fatal(err)
	}
	defer player.Close()
	if before != nil {
		if err := player.Translate(t.Context(), tag, before); err != nil {
			t.Fatal(err)
		}
	}
	out, err := player.Play(t.Context(), script)
	if err != nil {
		t.Fatalf("%v\n%s", err, strings.Join(out, "\n"))
	}
	return player, out
}

// english are words that no other language we speak has ("has" is Spanish too), and that stand in most sentences of ours.
var english = regexp.MustCompile(`(?i)\b(the|of|you|your|and|are|which|this|that|from|with|nothing|trade|piece|pieces|wants)\b`)

// left finds the lines of ours in which English is left, beside what members said and what the catalogue says.
func left(script []talk.Line, out []string, all []series.Series) (lines []string) {
	data := []string{"as made", "with and", "of the middle"}
	for _, one := range all {
		data = append(data, one.Name, one.Maker, one.Country)
		for _, c := range one.Checklists {
			data = append(data, c.Name)
		}
		for _, p := range one.Pieces {
			data = append(data, p.TellApart, p.Label)
		}
	}
	var typed []string
	notLetter := func(r rune) bool { return !unicode.IsLetter(r) }
	for _, l := range script {
		_, words, _, _ := l.Says()
		typed = append(typed, strings.FieldsFunc(strings.ToLower(words), notLetter)...)
	}
	for _, said := range out {
		if !strings.HasPrefix(said, "bot") {
			continue
		}
		_, said, _ = strings.Cut(said, "> ")
		for _, line := range strings.Split(said, "\n") {
			for _, d := range data {
				if len(d) > 3 {
					line = strings.ReplaceAll(line, d, "…")
				}
			}
			for _, m := range english.FindAllString(line, -1) {
				if !slices.Contains(typed, strings.ToLower(m)) {
					lines = append(lines, line)
					break
				}
			}
		}
	}
	return lines
}
