package series

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

func codes(slots []Slot) string {
	var all []string
	for _, s := range slots {
		all = append(all, s.Code)
	}
	return strings.Join(all, " ")
}

func TestSlotsForAMembersIdeaOfComplete(t *testing.T) {
	t.Parallel()
	pier := shapes()[0]
	for _, c := range []struct {
		says string
		e    Edits
		want string
	}{
		{"nothing", Edits{}, "82 83 84g 84h 85 86 87"},
		{"by year", Edits{Checklist: "years"}, "82 83 84 85 86 87"},
		{"with fractionals", Edits{Checklist: "fractionals"}, "82 83 84g 84h 85 86 86-tenth 86-half 87"},
		{"a checklist that is gone", Edits{Checklist: "gone"}, "82 83 84g 84h 85 86 87"},
		{"one struck off", Edits{Without: []string{"82", "gone"}}, "83 84g 84h 85 86 87"},
		{"a piece added", Edits{With: []string{"86-half", "gone"}}, "82 83 84g 84h 85 86 86-half 87"},
		{"by year and one variety", Edits{Checklist: "years", With: []string{"84h"}}, "82 83 84 84h 85 86 87"},
		{"added and struck off", Edits{With: []string{"86-half"}, Without: []string{"86-half"}}, "82 83 84g 84h 85 86 87"},
	} {
		if got := codes(pier.SlotsFor(c.e)); got != c.want {
			t.Errorf("%s: %s, want %s", c.says, got, c.want)
		}
	}
	wide := pier.SlotsFor(Edits{Also: map[string][]string{"82": {"83", "82", "gone"}}})
	if !slices.Equal(wide[0].Fill, []string{"82", "83"}) || len(pier.Slots[0].Fill) != 1 {
		t.Errorf("a substitute: %v, and the series says %v", wide[0].Fill, pier.Slots[0].Fill)
	}
	if got := codes(Series{Slots: []Slot{{Code: "empty"}}}.SlotsFor(Edits{})); got != "empty" {
		t.Errorf("a slot that nothing fills: %q", got)
	}
}

// Stores keep series as JSON: a field that is renamed is lost. This is what one looked like when the first was kept.
func TestJSONKeepsItsNames(t *testing.T) {
	t.Parallel()
	const kept = `{"Code":"c","Name":"n","Maker":"m","Country":"k","Aliases":["a"],"MetalName":"silver","Metal":{"Gross":31103476800,"Fineness":9990,"Fine":0},` +
		`"PremiumPercent":12,"Declared":1,"Pieces":[{"Code":"82","Label":"82","Year":1982,"Variety":"v","Motif":"o","Size":"1/2oz","Metal":{"Gross":1,"Fineness":2,"Fine":3},` +
		`"Mintage":4,"Scarcity":2,"PremiumPercent":5,"TellApart":"t","Aliases":["b"]}],"Slots":[{"Code":"82","Label":"82","Fill":["82"]}],` +
		`"Checklists":[{"Code":"l","Name":"list","Slots":["82"]}],"Sources":["s"]}`
	var s Series
	decoder := json.NewDecoder(strings.NewReader(kept))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&s); err != nil {
		t.Fatal(err)
	}
	if again, err := json.Marshal(s); err != nil || string(again) != kept {
		t.Fatalf("%v\n%s\n%s", err, again, kept)
	}
	if s.Pieces[0].Scarcity != Key || s.Pieces[0].Metal.Fine != 3 {
		t.Fatalf("%+v", s)
	}
}

func TestMetalOf(t *testing.T) {
	t.Parallel()
	own := melt.Metal{Gross: melt.Gram, Fineness: 9250}
	s := Series{Metal: ounce}
	if s.MetalOf(Piece{}) != ounce || s.MetalOf(Piece{Metal: own}) != own {
		t.Fatal("a piece's own metal comes first, then the series'")
	}
}

func TestFindSeries(t *testing.T) {
	t.Parallel()
	c := NewCatalogue(shapes())
	for word, want := range map[string]string{"pier": "pier", "PIER": "pier", "The Old  Pier": "pier", "the pier series": "pier", "ingot": "ingots"} {
		if s, ok, _ := c.FindSeries(word); !ok || s.Code != want {
			t.Errorf("%q finds %q", word, s.Code)
		}
	}
	for word, want := range map[string]string{"peir": "pier", "yearbok": "yearbook", "year": "yearbook", "zebra": "", "": ""} {
		if _, ok, near := c.FindSeries(word); ok || strings.Join(near, " ") != want {
			t.Errorf("%q is near %v, want %q", word, near, want)
		}
	}
	if _, ok := c.Series("the old pier"); ok {
		t.Error("an alias is no code")
	}
	if len(c.All()) != len(shapes()) {
		t.Error("some series are lost")
	}
	two := NewCatalogue([]Series{{Code: "a", Name: "b"}, {Code: "b", Name: "other"}, {Code: "c", Name: "a"}})
	for _, code := range []string{"a", "b", "c"} {
		if s, ok := two.Series(code); !ok || s.Code != code {
			t.Errorf("a name took the code %q", code)
		}
	}
}

// Every word that is offered while one types means a piece of the series.
func TestWordsMeanPieces(t *testing.T) {
	t.Parallel()
	c := NewCatalogue(shapes())
	for _, s := range c.All() {
		words := c.Words(s.Code)
		for _, word := range words {
			r, err := c.Read(s.Code+" "+word, ForHoldings, Mine{})
			if err != nil && !isQuestion(err) || err == nil && len(r.Picks) != 1 {
				t.Errorf("%s %q: %v %v", s.Code, word, r, err)
			}
		}
		for _, p := range s.Pieces {
			if !slices.Contains(words, p.Label) {
				t.Errorf("%s: %q is not offered", s.Code, p.Label)
			}
		}
	}
	if c.Words("none") != nil {
		t.Error("words of no series")
	}
}

func TestNearest(t *testing.T) {
	t.Parallel()
	names := []string{"fieldfare", "linnet", "tide table", "wren"}
	for word, want := range map[string]string{
		"wern": "wren", "wrn": "wren", "wrenn": "wren", "fieldfair": "fieldfare", "fild fare": "fieldfare", "linet": "linnet", "tide": "tide table",
		"owl": "", "w": "", "": "", "xxxx": "", "linden": "linnet",
	} {
		if got := strings.Join(nearest(word, names), " "); got != want {
			t.Errorf("%q is near %q, want %q", word, got, want)
		}
	}
}

// distance is a metric as far as it counts: no distance only to itself, the same there and back.
func TestDistance(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b string
		want int
	}{{"ca", "ac", 1}, {"ca", "abc", 3}, {"gull", "gulls", 1}, {"heron", "hreon", 1}, {"", "ab", 2}, {"štika", "stika", 1}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringOfN(rapid.RuneFrom([]rune("abc")), 0, 6, -1)
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := distance(a, b)
		if d != distance(b, a) || (d == 0) != (a == b) || d < 0 {
			t.Fatalf("%q to %q is %d, back %d", a, b, d, distance(b, a))
		}
	})
}

func TestConditions(t *testing.T) {
	t.Parallel()
	for c := Unsaid + 1; c <= Sealed; c++ {
		if back, ok := ParseCondition(strings.ToUpper(c.String())); !ok || back != c {
			t.Errorf("%v is read back as %v", c, back)
		}
		if !c.Meets(Unsaid) || !c.Meets(c) || Unsaid.Meets(c) || c.Meets(c+1) {
			t.Errorf("%v meets what it should not, or does not meet what it should", c)
		}
	}
	if _, ok := ParseCondition("shiny"); ok {
		t.Error("shiny is no condition")
	}
	if Common.String() != "common" || SemiKey.String() != "semi-key" || Key.String() != "key" {
		t.Error("scarcity is said in other words")
	}
}
