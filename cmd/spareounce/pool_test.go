package main

import (
	"bytes"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"spareounce/bot"
	"spareounce/bot/talk"
	"spareounce/match"
	"spareounce/store"
	"spareounce/store/storetest"
)

// A group goes out as a pool that "clear" takes, in which nobody's name or account occurs, the same every time; who is who
// stands in a file apart.
func TestPoolNamesNobody(t *testing.T) {
	t.Parallel()
	database := storetest.Database(t)
	var out bytes.Buffer
	if status := run(t.Context(), []string{"--database-url", database, "series", "import", "../../testdata/series/hedgerow.toml"}, nil, &out, &out); status != 0 {
		t.Fatal(&out)
	}
	st, err := store.Open(t.Context(), database, time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	lines, err := talk.Parse(strings.NewReader("zenobia> double wren note ask zenobia\nzenobia> want sloe\n" +
		"quillon> double haw\nquillon> want wren\nxanthe> double sloe\nxanthe> want haw\nxanthe to bot> want robin quietly\n"))
	if err != nil {
		t.Fatal(err)
	}
	talk.Recite(t.Context(), bot.New(st, nil, time.Now, slog.New(slog.DiscardHandler)), roomGroup, lines)
	who := filepath.Join(t.TempDir(), "who.txt")
	export := func(more ...string) string {
		var out, errs bytes.Buffer
		if status := run(t.Context(), append([]string{"--database-url", database, "pool"}, more...), nil, &out, &errs); status != 0 {
			t.Fatal(&errs)
		}
		return out.String()
	}
	text := export()
	if again := export("--who", who); again != text {
		t.Errorf("two exports differ:\n%s\n%s", text, again)
	}
	for _, name := range []string{"zenobia", "quillon", "xanthe"} {
		if strings.Contains(strings.ToLower(text), name) {
			t.Errorf("%s is named in\n%s", name, text)
		}
	}
	pool, err := match.ReadPool(strings.NewReader(text))
	if err != nil || len(pool.Members) != 3 || len(pool.Spares) != 3 || len(pool.Wants) != 3 {
		t.Fatalf("%v\n%s", err, text)
	}
	status, plan, errs := clearing(t, text, "-")
	if status != 0 || !strings.Contains(plan, "Trade 1, a ring of 3") {
		t.Fatalf("status %d\n%s%s", status, plan, errs)
	}
	names, err := os.ReadFile(who)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range pool.Members {
		if !bytes.Contains(names, []byte(string(m.ID)+"\t")) {
			t.Errorf("nobody is said to be %s:\n%s", m.ID, names)
		}
	}
	if n := bytes.Count(names, []byte("\n")); n != 3 || !bytes.Contains(names, []byte("\tZenobia\n")) {
		t.Errorf("%s", names)
	}
}
