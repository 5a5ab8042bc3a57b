package tongue

import (
	"slices"
	"strings"
	"testing"
	"time"
)

func TestTheLanguageOfATag(t *testing.T) {
	t.Parallel()
	for tag, want := range map[string]string{
		"de": "de", "de-CH": "de", "de_AT": "de", "DE": "de", "es-419": "es", "es-ES": "es", "fr-CA": "fr", "ja": "ja", "en-GB": "en", "en": "en",
	} {
		if in, known := In(tag); !known || in.Tag() != want {
			t.Errorf("%s is %s, %v", tag, in.Tag(), known)
		}
	}
	for _, tag := range []string{"", "nl", "x", "deutsch", "-", "e"} {
		if in, known := In(tag); known || in.Tag() != English {
			t.Errorf("%q is known as %s", tag, in.Tag())
		}
	}
	if tags := Tags(); !slices.Equal(tags, []string{"en", "de", "es", "fr", "ja"}) {
		t.Error(tags)
	}
}

func TestPlacesAreFilledOnce(t *testing.T) {
	t.Parallel()
	var english *Tongue
	if got := english.Say("{a} and {b}, {a}", "a", "{b}", "b", 2); got != "{b} and 2, {b}" {
		t.Error(got) // what fills a place is never read as a place: a member may be called {b}
	}
	if got := english.Say("100 % of {n}"); got != "100 % of {n}" {
		t.Error(got)
	}
	if got := Phrase("{n} left").With("n", 3); got != "3 left" {
		t.Error(got)
	}
}

// The dates as each language writes them: Unicode CLDR 48, dateFormats "medium" (yMMMd) of de, es, fr and ja, less the comma of
// English, which this project writes day first.
func TestDates(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, time.March, 5, 18, 30, 0, 0, time.UTC)
	for tag, want := range map[string]string{"en": "5 Mar 2026", "de": "5. März 2026", "es": "5 mar 2026", "fr": "5 mars 2026", "ja": "2026年3月5日"} {
		in, _ := In(tag)
		if got := in.Date(at); got != want {
			t.Errorf("%s: %q, want %q", tag, got, want)
		}
	}
}

func BenchmarkReadEveryFile(b *testing.B) {
	for b.Loop() {
		read()
	}
}

func TestRows(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ tag, names, and, or string }{
		{"en", "Ann", "Ann", "Ann"},
		{"en", "Ann Bo Ivo", "Ann, Bo and Ivo", "Ann, Bo or Ivo"},
		{"de", "Ann Bo", "Ann und Bo", "Ann oder Bo"},
		{"fr", "Ann Ivo", "Ann et Ivo", "Ann ou Ivo"},
		// The examples of the rule in the grammar named in row.go: padre e hijo, agua y hielo, siete u ocho, ayer u hoy.
		{"es", "Ann Bo", "Ann y Bo", "Ann o Bo"},
		{"es", "padre hijo", "padre e hijo", "padre o hijo"},
		{"es", "agua hielo", "agua y hielo", "agua o hielo"},
		{"es", "siete ocho", "siete y ocho", "siete u ocho"},
		{"es", "ayer hoy", "ayer y hoy", "ayer u hoy"},
		{"es", "Ann Íñigo", "Ann e Íñigo", "Ann o Íñigo"},
	} {
		in, _ := In(c.tag)
		names := strings.Fields(c.names)
		if and, or := in.And(names), in.Or(names); and != c.and || or != c.or {
			t.Errorf("%s: %q and %q, want %q and %q", c.tag, and, or, c.and, c.or)
		}
	}
}
