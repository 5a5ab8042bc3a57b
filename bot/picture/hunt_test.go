package picture

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const (
	caution  = "Not advice. A list proves no piece: check what you are shown."
	priceNow = "Silver 31.20 USD an ounce, said by Kay on 25 Nov 09:30, 2 hours ago."
)

var day = time.Date(2026, 11, 25, 11, 30, 0, 0, time.UTC)

// hunts are the golden hunt lists.
func hunts() map[string]HuntList {
	harbour := HuntSection{"Harbour Lights", "3 of 7", []HuntLine{
		{Label: "82", TellApart: "Only year with a plain edge.", Key: true, Most: "$87.28", Melt: "$31.17", Others: 4},
		{Label: "84 gull", TellApart: "A gull stands on the bollard.", Most: "$34.91", Melt: "$31.17"},
		{Label: "84 heron", TellApart: "A heron stands in the shallows; the bollard is bare.", SemiKey: true, Soon: true, Most: "$60.00", Own: true, Melt: "$31.17", Others: 1},
		{Label: "87", Most: "$34.91", Melt: "$31.17", Others: 2},
	}}
	bars := HuntSection{"Kiln Street Poured Bars", "1 of 4", []HuntLine{
		{Label: "5oz", TellApart: "The old foundry mark stands upright, the new one lies on its side, and the weight is stamped twice.", Most: "$163.64", Melt: "$155.84"},
		{Label: "10oz", SemiKey: true, Most: "$324.16", Melt: "$311.69", Others: 1},
	}}
	list := HuntList{Owner: "Ann", AsOf: "25 Nov 2026", At: day, Price: priceNow, Caution: caution, Sections: []HuntSection{harbour, bars}}

	japanese := list
	japanese.In, japanese.Owner, japanese.AsOf = spoken("ja"), "佐藤 健", "2026年11月25日"
	french := list
	french.In, french.AsOf = spoken("fr"), "25 nov. 2026"
	german := list
	german.In = spoken("de")
	german.Owner = "Ünal Schröder-Østergaard vom Unteren Moor"
	german.Sections = []HuntSection{{"Hedgerow Birds 鳥", "0 of 2", []HuntLine{
		{Label: "91 žuvėdra with a long name that breaks", TellApart: "Šalia krūmo.", Most: "1.234.567,89 €", Melt: "31,17 €", Others: 12},
		{Label: "92", Most: "34,91 €", Own: true},
	}}}
	unpriced := HuntList{Owner: "Bo", AsOf: "25 Nov 2026", At: day, Price: "Nobody has set a silver price here.", Caution: caution, Sections: []HuntSection{
		{"Compass Rose", "2 of 4", []HuntLine{{Label: "north"}, {Label: "91", Others: 1}}},
	}}
	return map[string]HuntList{
		"hunt": list, "hunt-french": french, "hunt-japanese": japanese, "hunt-german": german, "hunt-unpriced": unpriced, "hunt-nothing": {Owner: "Cy", AsOf: "25 Nov 2026", At: day, Caution: caution},
	}
}

// long is a hunt list of many lines.
func long(n int) HuntList {
	h := hunts()["hunt"]
	h.Sections = nil
	for s := range (n + 19) / 20 {
		section := HuntSection{Name: fmt.Sprintf("Tidewater Monthly %d", s+1), Summary: "9 of 29"}
		for i := range min(20, n-20*s) {
			section.Lines = append(section.Lines, HuntLine{
				Label: fmt.Sprintf("%02d/%02d", 11+s, 1+i), TellApart: strings.Repeat("Rope edge, second state. ", i%3), Most: "$34.91", Melt: "$31.17", Others: i % 4, Key: i == 7,
			})
		}
		h.Sections = append(h.Sections, section)
	}
	return h
}

func TestHuntListAlt(t *testing.T) {
	want := "Hunt list of Ann, Harbour Lights: 82 up to $87.28, 84 gull up to $34.91, 84 heron up to $60.00, 87 up to $34.91. " +
		"Kiln Street Poured Bars: 5oz up to $163.64, 10oz up to $324.16. As of 25 Nov 2026."
	if got := hunts()["hunt"].Alt(); got != want {
		t.Errorf("%q", got)
	}
	if got := hunts()["hunt-nothing"].Alt(); got != "Hunt list of Cy. Nothing is lacking. As of 25 Nov 2026." {
		t.Errorf("%q", got)
	}
	many := long(400).Alt()
	if n := len([]rune(many)); n > longestAlt || n < longestAlt-100 || !strings.Contains(many, "more.") {
		t.Errorf("%d letters: %q", n, many)
	}
}

// However long the words are, the picture is drawn, as high as it takes and no wider, and says how many lines it leaves out.
func TestHuntListsOfAnyWords(t *testing.T) {
	words := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "84 gull", strings.Repeat("wide ", 80), strings.Repeat("W", 300), "鳥🐦", "\x00\n"}))
	rapid.Check(t, func(t *rapid.T) {
		h := HuntList{Owner: words.Draw(t, "owner"), AsOf: words.Draw(t, "as of"), At: day, Price: words.Draw(t, "price"), Caution: words.Draw(t, "caution")}
		for range rapid.IntRange(0, 2).Draw(t, "sections") {
			s := HuntSection{Name: words.Draw(t, "name"), Summary: words.Draw(t, "summary")}
			for range rapid.IntRange(0, 3).Draw(t, "lines") {
				s.Lines = append(s.Lines, HuntLine{Label: words.Draw(t, "label"), TellApart: words.Draw(t, "tell"), Most: words.Draw(t, "most"), Melt: words.Draw(t, "melt"), Others: rapid.IntRange(-1, 3).Draw(t, "others")})
			}
			h.Sections = append(h.Sections, s)
		}
		if b := h.draw().Bounds(); b.Dx() != width || b.Dy() < 200 || b.Dy() > 20_000 {
			t.Fatalf("%v", b)
		}
		if n := len([]rune(h.Alt())); n > longestAlt {
			t.Fatalf("%d letters of alternative text", n)
		}
		if _, err := h.PDF(); err != nil {
			t.Fatal(err)
		}
	})
	if _, beyond := long(75).shown(); beyond != 15 {
		t.Errorf("%d lines are left out", beyond)
	}
}

func TestDraws(t *testing.T) {
	for text, want := range map[string]bool{"$1,234.50": true, "1.234,50 €": true, "1\u202f234,50\u00a0€": true, "−0,50 kr": true, "₹12": true, "৳12": false, "١٢": false, "¥12": true, "£3": true, "": true} {
		if Draws(nil, text) != want {
			t.Errorf("%q: %v", text, !want)
		}
	}
}
