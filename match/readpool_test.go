package match

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

const goodPool = `{"currency":"USD","members":[{"id":"ann","region":"US"},{"id":"bo"}],
"pieces":[{"id":"harbour/82","value":3570},{"id":"harbour/82e","ounces":0.5}],
"spares":[{"member":"ann","piece":"harbour/82","count":2,"value":3570}],
"wants":[{"member":"bo","fill":[{"piece":"harbour/82","gain":900},{"piece":"harbour/82e","gain":500}]}]}`

func TestReadPoolFillsInWhatIsLeftOut(t *testing.T) {
	p, err := ReadPool(strings.NewReader(goodPool))
	if err != nil {
		t.Fatal(err)
	}
	if p.Ring != 3 || p.Chain != 0 || p.MinGain != 1 || p.Members[0].Trades != 1 || p.Members[0].TopUp != 0 ||
		p.Pieces[0].Ounces != 1 || p.Pieces[1].Ounces != 0.5 || p.Spares[0].Gift {
		t.Errorf("%+v", p)
	}
}

func TestReadPoolPointsAtEveryMistake(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"unknown member", `"member":"bo"`, `"member":"cy"`, `line 4: member "cy" is not listed`},
		{"unknown piece", `{"member":"ann","piece":"harbour/82"`, `{"member":"ann","piece":"harbour/83"`, `line 3: piece "harbour/83" is not listed`},
		{"negative count", `"count":2`, `"count":-2`, "line 3: count is below zero"},
		{"no count", `"count":2,`, ``, "line 3: a spare has no count"},
		{"part of a cent", `"value":3570}]`, `"value":35.7}]`, "line 3: value must be a whole number, not 35.7"},
		{"duplicate spare", `"value":3570}],
"wants"`, `"value":3570},
{"member":"ann","piece":"harbour/82","count":1}],"wants"`, `line 4: "ann" spares "harbour/82" twice; give one line with the count`},
		{"value overflow", `"value":3570}]`, `"value":1125899906842624}]`, "line 3: the money in this pool adds up to more than can be counted"},
		{"value beyond integers", `"value":3570}]`, `"value":99999999999999999999}]`, "line 3: value must be a whole number, not 99999999999999999999"},
		{"many of great value", `"count":2`, `"count":1048576`, ""},
		{"unknown key", `"region":"US"`, `"regio":"US"`, `line 1: a member has no "regio"`},
		{"key in other letters", `"region":"US"`, `"Region":"US"`, `line 1: a member has no "Region"`},
		{"key twice", `"region":"US"`, `"region":"US","region":"EU"`, `line 1: a member has "region" twice`},
		{"member twice", `{"id":"bo"}`, `{"id":"ann"}`, `line 1: member "ann" is listed twice` + "\n" + `line 4: member "bo" is not listed`},
		{"piece twice in a want", `harbour/82e","gain`, `harbour/82","gain`, `line 4: a want names "harbour/82" twice`},
		{"two mistakes", `"US"},{"id":"bo"}`, `1},{"id":""}`, "line 1: region must be a text in quotes\nline 1: id is empty\n" + `line 4: member "bo" is not listed`},
		{"no ring", `"USD"`, `"USD","ring":1`, "line 1: ring must be from 2 to 1048576"},
		{"no currency", `"USD"`, `"XAG"`, `line 1: "XAG" is no ISO 4217 code with a minor unit`},
		{"null", `[{"id":"ann","region":"US"},{"id":"bo"}]`, `null`, `line 1: members must be a list in brackets` + "\n" + `line 3: member "ann" is not listed` + "\n" + `line 4: member "bo" is not listed`},
		{"cut short", `500}]}]}`, `500}]`, "line 4: this is not JSON: unexpected EOF"},
		{"more after it", `500}]}]}`, "500}]}]}\n{}", "line 5: the pool has ended, yet there is more"},
		{"dear postage", `500}]}]}`, `500}]}],"postage":[{"from":"US","to":"US","ounce":900000000000000}]}`, "line 4: the postage of this pool could add up to more than can be counted"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(goodPool, c.old, c.new, 1)
			if text == goodPool {
				t.Fatal("nothing to replace")
			}
			_, err := ReadPool(strings.NewReader(text))
			got := ""
			if bad, ok := errors.AsType[*PoolError](err); ok {
				got = bad.Error()
			}
			if got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// A pool written as JSON is read back as it was.
func TestReadPoolReadsWhatIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallPool(5).Draw(t, "pool")
		text, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		again, err := ReadPool(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		if written, err := json.Marshal(again); err != nil || !bytes.Equal(written, text) {
			t.Fatalf("%v\n%s\n%s", err, text, written)
		}
	})
}

// Whatever is typed, a pool comes out whole or every mistake has a line of the text.
func FuzzReadPool(f *testing.F) {
	f.Add(goodPool)
	f.Add(`{"currency":"USD","members":[],"pieces":[],"spares":[],"wants":[]}`)
	f.Add(`[1,{"a":"b"}`)
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ReadPool(strings.NewReader(text))
		if err == nil {
			for _, m := range p.Members {
				NewIndex(p).For(m.ID, 2)
			}
			return
		}
		bad, ok := errors.AsType[*PoolError](err)
		if !ok || len(bad.Mistakes) == 0 {
			t.Fatalf("refused without a reason: %v", err)
		}
		for _, m := range bad.Mistakes {
			if m.Line < 1 || m.Line > 1+strings.Count(text, "\n") || m.Reason == "" {
				t.Fatalf("points astray: %+v", m)
			}
		}
	})
}
