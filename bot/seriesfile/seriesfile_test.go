package seriesfile

import (
	"bytes"
	"io/fs"
	"reflect"
	"strings"
	"testing"

	"spareounce/match/series"
	"spareounce/testdata"
)

// shipped reads every series that we ship.
func shipped(t testing.TB) map[string]series.Series {
	t.Helper()
	names, err := fs.Glob(testdata.Series, "series/*.toml")
	if err != nil || len(names) < 6 {
		t.Fatalf("%d series files, %v", len(names), err)
	}
	all := map[string]series.Series{}
	for _, name := range names {
		text, err := testdata.Series.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		one, remarks := Read(name, text)
		if Mistakes(remarks) {
			t.Fatal(remarks)
		}
		all[one.Code] = one
	}
	return all
}

// The shapes are common practice in the trade: varieties within a year, undated pieces, families, marks, long runs, bars.
func TestShippedSeriesHaveTheirShapes(t *testing.T) {
	all := shipped(t)
	for _, c := range []struct {
		code                    string
		pieces, slots, declared int
	}{
		{"harbour", 10, 7, 10}, {"lantern", 9, 9, 9}, {"hedgerow", 11, 11, 10}, {"compass", 5, 4, 5}, {"almanac", 30, 30, 30}, {"bars", 4, 4, 4},
	} {
		s := all[c.code]
		if len(s.Pieces) != c.pieces || len(s.SlotsFor(series.Edits{})) != c.slots || s.Declared != c.declared {
			t.Errorf("%s: %d pieces, %d slots, %d declared, want %+v", c.code, len(s.Pieces), len(s.SlotsFor(series.Edits{})), s.Declared, c)
		}
	}
}

func TestDeclaredCountThatDisagreesNamesBothNumbers(t *testing.T) {
	text, err := testdata.Series.ReadFile("series/hedgerow.toml")
	if err != nil {
		t.Fatal(err)
	}
	_, remarks := Read("hedgerow.toml", text)
	if len(remarks) != 1 || remarks[0].String() != "hedgerow.toml:10:12: warning: the maker declares 10 pieces, 11 are listed" {
		t.Fatal(remarks)
	}
}

func TestWrittenIsReadBack(t *testing.T) {
	for code, one := range shipped(t) {
		text := Write(one)
		again, remarks := Read(code, text)
		if Mistakes(remarks) || !reflect.DeepEqual(one, again) {
			t.Errorf("%s: %v\n%+v\n%+v", code, remarks, one, again)
		}
		if !bytes.Equal(text, Write(again)) {
			t.Errorf("%s: written twice, it differs", code)
		}
	}
}

func TestEveryMistakeAtOnceWithItsPlace(t *testing.T) {
	const file = `code = "Harbour"
name = "Harbour"
makers = "Nobody"
maker = "Nobody"
metal = "silver"
gross = "1"
fineness = "very"
premium = "much"
declared = 0

[[piece]]
code = "82"
year = 82
aliases = ["first", "first"]

[[piece]]
code = "82"
scarcity = "rare"
size = "small"

[[slot]]
code = "84"
fill = []

[[slot]]
code = "85"
fill = ["nothing"]

[[checklist]]
code = "all"
name = "all"
slots = ["86"]

[table]
`
	_, remarks := Read("x.toml", []byte(file))
	var got []string
	for _, r := range remarks {
		got = append(got, r.String())
	}
	for _, want := range []string{
		`x.toml:1:8: mistake: a code is`, `x.toml:3:1: mistake: unknown key "makers"; is it "maker"?`, `x.toml:6:9: mistake: weight "1"`,
		`x.toml:7:12: mistake: a fineness`, `x.toml:8:11: mistake: a premium`, `x.toml:9:12: mistake: a whole number`, `x.toml:13:8: mistake: a whole number`,
		`x.toml:14:21: mistake: alias "first" stands already in line 14`, `x.toml:17:8: mistake: piece code "82" stands already in line 12`,
		`x.toml:18:12: mistake: a scarcity`, `x.toml:19:8: mistake: a size`, `mistake: no piece fills this slot`,
		`x.toml:27:9: mistake: no piece has the code "nothing"`, `x.toml:32:10: mistake: no slot or piece has the code "86"`,
		`x.toml:34:2: mistake: unknown table "[table]"`,
	} {
		found := false
		for _, g := range got {
			found = found || strings.Contains(g, want)
		}
		if !found {
			t.Errorf("no remark %q among\n%s", want, strings.Join(got, "\n"))
		}
	}
}

func TestLabelThatCannotBeTypedIsRefused(t *testing.T) {
	_, remarks := Read("x.toml", []byte(`code = "x"
name = "X"
maker = "Nobody"
metal = "silver"
gross = "1 ozt"
fineness = "999"
[[piece]]
code = "a"
label = "rest"
[[piece]]
code = "b"
`))
	if !Mistakes(remarks) || !strings.Contains(remarks[0].Text, "typed, does not mean this piece alone") || remarks[0].Line != 8 {
		t.Fatal(remarks)
	}
}

func FuzzRead(f *testing.F) {
	names, _ := fs.Glob(testdata.Series, "series/*.toml")
	for _, name := range names {
		text, _ := testdata.Series.ReadFile(name)
		f.Add(text)
	}
	f.Add([]byte("code = "))
	f.Fuzz(func(t *testing.T, text []byte) {
		one, remarks := Read("x.toml", text)
		if Mistakes(remarks) {
			return
		}
		again, remarks := Read("x.toml", Write(one))
		if Mistakes(remarks) || !reflect.DeepEqual(one, again) {
			t.Fatalf("%v\n%+v\n%+v", remarks, one, again)
		}
	})
}
