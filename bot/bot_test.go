package bot_test

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/bot"
	"spareounce/store"
	"spareounce/store/storetest"
)

// deaf is a chat that nobody listens to.
type deaf struct{}

func (deaf) Tell(context.Context, string, string, bot.Reply) error { return nil }
func (deaf) Post(context.Context, string, bot.Reply) error         { return nil }

const file = `code = "ferry"
name = "Ferry Tokens"
maker = "Quay Street"
metal = "silver"
gross = "1 ozt"
fineness = "999"
[[piece]]
code = "90"
year = 1990
[[piece]]
code = "91"
year = 1991
`

func newBot(t *testing.T) (*bot.Bot, string) {
	t.Helper()
	address := storetest.Database(t)
	s, err := store.Open(t.Context(), address, time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return bot.New(s, deaf{}, time.Now, slog.New(slog.DiscardHandler)), address
}

func says(t *testing.T, b *bot.Bot, who, text string) string {
	t.Helper()
	return b.Hear(t.Context(), bot.Heard{Group: "g", From: bot.Speaker{Account: who, Name: who, Keeper: who == "keeper"}, Text: text}).Text
}

func TestKeepersImportAndCorrectASeries(t *testing.T) {
	t.Parallel()
	b, _ := newBot(t)
	for _, c := range []struct{ who, line, want string }{
		{"ann", "import\n" + file, "Only a keeper"},
		{"keeper", "import\n" + strings.Replace(file, "1 ozt", "1 oz", 1), `line:5:9: mistake: weight "1 oz"`},
		{"keeper", "import\n" + file, "ferry: Ferry Tokens, 2 pieces."},
		{"ann", "want ferry 91", "ann wants ferry 91."},
		{"keeper", "import\n" + strings.SplitN(file, "[[piece]]\ncode = \"91\"", 2)[0], "lacks a piece that members hold or want"},
		{"keeper", "export ferry", "code = \"ferry\""},
		{"keeper", "import\n" + file + "[[piece]]\ncode = \"92\"\nyear = 1992\n", "3 pieces"},
		{"ann", "want ferry rest", "ann wants ferry 90-92."},
	} {
		if got := says(t, b, c.who, c.line); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.line, got, c.want)
		}
	}
}

// A database that goes away in the middle of things and comes back: a member is told to try again, and then it works.
func TestDatabaseGoesAwayAndComesBack(t *testing.T) {
	t.Parallel()
	b, address := newBot(t)
	says(t, b, "keeper", "import\n"+file)
	says(t, b, "ann", "have ferry 90")
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	for range 5 {
		if _, err := conn.Exec(t.Context(), `
			SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`); err != nil {
			t.Fatal(err)
		}
		got := says(t, b, "ann", "gaps")
		if !strings.Contains(got, "1 of 2") && !strings.Contains(got, "Something broke on our side, and nothing was changed.") {
			t.Fatal(got)
		}
	}
	for try := 0; !strings.Contains(says(t, b, "ann", "gaps"), "1 of 2"); try++ {
		if try == 20 {
			t.Fatal("it does not come back")
		}
	}
}

func TestOddSpeakersAndLines(t *testing.T) {
	t.Parallel()
	b, _ := newBot(t)
	says(t, b, "keeper", "import\n"+file)
	for _, name := range []string{"", "🦊", "שרה", "a\nb", strings.Repeat("long ", 50), "\x00\xff"} {
		r := b.Hear(t.Context(), bot.Heard{Group: "g", From: bot.Speaker{Account: fmt.Sprintf("%q", name), Name: name}, Text: "spare ferry 90"})
		if !strings.Contains(r.Text, "can spare ferry 90") || strings.Contains(strings.SplitN(r.Text, "can spare", 2)[0], "\n") {
			t.Errorf("%q: %q", name, r.Text)
		}
	}
	for _, line := range []string{"", "   ", "have " + strings.Repeat("90, ", 4000), strings.Repeat("x", 20_000), "want \x00\xff", "have ferry \u202e90"} {
		says(t, b, "ann", line) // answers or stays silent, but does not fall over
	}
}

func FuzzHear(f *testing.F) {
	for _, line := range []string{"have ferry 90", "want ferry rest up to 4", "spare ferry 91 toned ask", "accept 1.2", "leave out 1 x", "checklist ferry without 90", "quiet 22-7",
		"bin ferry 90 x3 @31.50, 91 toned each @30 budget 60", "bought ferry 90 @31.50 #m3k9x1", "bin ferry 90 @$ 31 2x ea", "check ferry 90 31.10 dry 28.14 wet 21C",
		"check 31.1g 40.6x2.98mm", "scale 50 x US 5c 249.8", "luck ferry", "numbers de-CH", "hunt ferry",
		"offer keeper ferry 90 for ferry 91 plus 5", "offer keeper ferry 90 + 2 for nothing", "counter 1.2 ferry 91 for 90, 91 plus 12,50",
		"sent 1 by Northpost 12/3", "sent 1 anyway", "problem 1 wrong piece", "money 1 keeper", "give ferry 90 to keeper", "upgrade ferry 90 bright",
		"want ferry 90 quietly", "ledger 2026 file", "standing keeper", "history 1", "undo"} {
		f.Add(line)
	}
	address := storetest.Database(f)
	s, err := store.Open(f.Context(), address, time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(s.Close)
	b := bot.New(s, deaf{}, time.Now, slog.New(slog.DiscardHandler))
	keeper := bot.Speaker{Account: "keeper", Name: "keeper", Keeper: true}
	b.Hear(f.Context(), bot.Heard{Group: "g", From: keeper, Text: "import\n" + file})
	b.Hear(f.Context(), bot.Heard{Group: "g", From: keeper, Text: "spot 31.20"})
	f.Fuzz(func(t *testing.T, line string) {
		r := b.Hear(t.Context(), bot.Heard{Group: "g", From: bot.Speaker{Account: "ann", Name: "Ann"}, Text: line})
		if strings.Contains(r.Text, "Something broke") || strings.Contains(r.Text, "{") && !strings.Contains(line, "{") {
			t.Fatalf("%q: %s", line, r.Text)
		}
	})
}
