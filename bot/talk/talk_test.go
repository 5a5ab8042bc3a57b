package talk_test

import (
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"spareounce/bot/seriesfile"
	"spareounce/bot/talk"
	"spareounce/match/series"
	"spareounce/testdata"
)

var update = flag.Bool("update", false, "rewrite the bot's half of the transcripts")

// TestMain plays several transcripts at once even on few processors: a play waits for its database far more than it computes.
func TestMain(m *testing.M) {
	flag.Parse()
	if err := flag.Set("test.parallel", "6"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// TestTranscripts plays every transcript; together they are the conversation's specification. With -update the bot's half
// is rewritten: the difference is the review of our wording. Each is then played in another language as well.
func TestTranscripts(t *testing.T) {
	files, err := filepath.Glob("../../testdata/talk/*.talk")
	if err != nil || len(files) == 0 {
		t.Fatal("no transcripts", err)
	}
	all := shipped(t)
	for n, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".talk")
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			script := parse(t, file)
			player, out := play(t, script, all, nil, "")
			if *update {
				if err := os.WriteFile(file, []byte(strings.Join(out, "\n")+"\n"), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if difference := talk.Compare(script, out); difference != "" {
				t.Error(difference)
			}
			if !strings.HasPrefix(name, "in_") || *language != "" {
				translated(t, name, n, script, all, player)
			}
		})
	}
}

func parse(t *testing.T, file string) []talk.Line {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	script, err := talk.Parse(f)
	if err != nil {
		t.Fatal(err)
	}
	return script
}

func shipped(t *testing.T) []series.Series {
	t.Helper()
	names, err := fs.Glob(testdata.Series, "series/*.toml")
	if err != nil {
		t.Fatal(err)
	}
	var all []series.Series
	for _, name := range names {
		text, err := testdata.Series.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		one, _ := seriesfile.Read(name, text)
		all = append(all, one)
	}
	return all
}

func TestUnreadableLinesAreRefused(t *testing.T) {
	for _, text := range []string{"ann", "ann presses", "--- soon", "--- 99999999999999 days later"} {
		if _, err := talk.Parse(strings.NewReader(text)); err == nil {
			t.Errorf("%q was read", text)
		}
	}
	if talk.Begin.Weekday() != time.Monday {
		t.Error("transcripts begin on a Monday")
	}
}
