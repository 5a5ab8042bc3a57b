package series

import "testing"

func TestHoldings(t *testing.T) {
	t.Parallel()
	readAll(t, ForHoldings, Mine{}, []typed{
		{"wick 82-86, ND", "wick 82 83 84 85 86 nd"},
		{"wick '82 '87-'89", "wick 82 87 88 89"},
		{"pier 84g x2", "pier 84g*2"},
		{"pier 84gx2", "pier 84g*2"},
		{"wick 2x84", "wick 84*2"},
		{"wick 1982–85", "wick 82 83 84 85"},
		{"wick 82-6", "wick 82 83 84 85 86"},
		{"wick 1982-1984", "wick 82 83 84"},
		{"yearbook 98-02", "yearbook 98 99 00 01 02"},
		{"wick 82-86 except 84", "wick 82 83 85 86"},
		{"pier 1/2oz 86", "pier 86-half"},
		{"pier 86 1/2 oz", "pier 86-half"},
		{"pier ½ oz 86", "pier 86-half"},
		{"pier half ounce 86", "pier 86-half"},
		{"pier 86 half", "pier 86-half"},
		{"pier tenth", "pier 86-tenth"},
		{"pier 1/10 86, 86", "pier 86 86-tenth"},
		{"pier 84 reverse heron", "pier 84h"},
		{"pier heron 84", "pier 84h"},
		{"pier 84 herons x 3", "pier 84h*3"},
		{"pier 1984h", "pier 84h"},
		{"pier 84 (heron)", "pier 84h"},
		{"pier lightship, breakwater x2", "pier 82 83*2"},
		{"pier 82 lightship", "pier 82"},
		{"pier 84 both", "pier 84g 84h"},
		{"pier both 84s", "pier 84g 84h"},
		{"needle 91-92 star", "needle 91s 92s"},
		{"needle 91s, 91c", "needle 91s 91c"},
		{"needle 91 star tide table", "needle 91s tide"},
		{"needle all stars", "needle 91s 92s"},
		{"hedge wren linnet hip x2", "hedge wren linnet hip*2"},
		{"hedge 2 x wren linnet", "hedge wren*2 linnet"},
		{"hedge wrenS & rose hip", "hedge wren hip"},
		{"hedge all the birds", "hedge wren linnet"},
		{"wick No Date", "wick nd"},
		{"wick open door", "wick nd"},
		{"wick all", "wick 82 83 84 85 86 87 88 89 nd"},
		{"all wick", "wick 82 83 84 85 86 87 88 89 nd"},
		{"wick all x2 except ND", "wick 82*2 83*2 84*2 85*2 86*2 87*2 88*2 89*2"},
		{"all but 83-89 wick", "wick 82 nd"},
		{"ingots 1oz, 10 oz x2", "ingots 1oz 10oz*2"},
		{"ingot 5oz (3)", "ingots 5oz*3"},
		{"3 x 5 oz ingots", "ingots 5oz*3"},
		{"wick 12x84", "wick 84*12"},
		{"wick 84x12", "wick 84*12"},
		{"wick 84 x 12", "wick 84*12"},
		{"wick: 82 x2; 83.", "wick 82*2 83"},
		{"WICK\n- 82\n- 83 x2\n• nd\n", "wick 82 83*2 nd"},
		{"wick 82-84, 84-86", "wick 82 83 84 85 86"},
		{"wick 82-84, 84 x2", "wick 82 83 84*2"},
		{"wick 84 x2, 84 x3", "wick 84*5"},
		{"wick 82-86 (not 84) ND", "wick 82 83 85 86 nd"},
		{"wick 82-86 except 84, ND", "wick 82 83 85 86 nd"},
		{"wick 82-86 except 84, 85", "wick 82 83 86"},
		{"wick 1982-84, 1887", "~1887: 82-89"},
		{"pier 82-86 except 84 gull", "pier 82 83 84h 85 86"},
		{"pier all but 84", "pier 82 83 85 86 87"},
		{"century 2010-12, 1911-12", "century 1911 1912 2010 2011 2012"},
		{"century 1914-10", "century 1914 2010"},
		{"", ""},
		{" , ; ", ""},
	})
}

func TestSeveralSeriesInALine(t *testing.T) {
	t.Parallel()
	readAll(t, ForHoldings, Mine{}, []typed{
		{"pier 82-83; wick ND", "pier 82 83; wick nd"},
		{"pier 82, wick ND", "pier 82; wick nd"},
		{"pier 82 wick nd, 83", "pier 82; wick 83 nd"},
		{"wick 82; pier 83; wick 84", "wick 82 84; pier 83"},
		{"82 pier, ND wick", "pier 82; wick nd"},
		{"82-83 the old pier", "pier 82 83"},
		{"pier 82, all wick", "pier 82; wick 82 83 84 85 86 87 88 89 nd"},
		{"wren x2", "hedge wren*2"},
		{"84 gull", "pier 84g"},
		{"98", "yearbook 98"},
		{"wren; 84 gull", "hedge wren; pier 84g"},
		{"wren, 84 gull", "~84: pier 84 gull"},
		{"wren; pier 84 gull", "hedge wren; pier 84g"},
		{"82 pier 83", "!pier"},
		{"82", "?82: pier / wick"},
		{"all", "?all: pier / wick / hedge / needle / yearbook / ingots / century"},
		{"pier", "?pier: pier all / pier rest"},
		{"pier wick 82", "?pier: pier all / pier rest"},
		{"wik 82", "~wik: wick"},
		{"pie 84 gull", "~pie: pier, pier pier head"},
	})
	c := NewCatalogue(shapes())
	for _, l := range []typed{{"82", "wick 82"}, {"84 gull", "pier 84g"}, {"pier 82", "pier 82"}, {"91", "?91: needle / yearbook"}} {
		if got := outcome(c.Read(l.text, ForHoldings, Mine{Default: "wick"})); got != l.want {
			t.Errorf("%q with wick in mind: %s, want %s", l.text, got, l.want)
		}
	}
}

func TestWants(t *testing.T) {
	t.Parallel()
	every := NewCatalogue(shapes())
	pier, _ := every.Series("pier")
	needle, _ := every.Series("needle")
	edits := map[string]Edits{}
	mine := Mine{
		Slots: func(code string) []Slot {
			s, _ := every.Series(code)
			return s.SlotsFor(edits[code])
		},
		Missing: func(code string) []Slot {
			s, _ := every.Series(code)
			return Complete(s.SlotsFor(edits[code]), map[string]int{"82": 1, "84g": 1, "91s": 2}).Missing()
		},
	}
	_, _ = pier, needle
	readAll(t, ForWants, mine, []typed{
		{"pier 82-84", "pier 82=82 83=83 84g=84g 84h=84h"},
		{"pier 84", "?84: 84 gull / 84 heron / both / either"},
		{"pier 84 either", "pier 84g|84h"},
		{"pier any 84", "pier 84g|84h"},
		{"pier 84 gull or 84 heron", "pier 84g|84h"},
		{"pier 84 gull or heron x2", "pier 84g|84h*2"},
		{"pier 82 or 83", "pier 82|83"},
		{"pier rest", "pier 83=83 84h=84h 85=85 86=86 87=87"},
		{"rest of the pier", "pier 83=83 84h=84h 85=85 86=86 87=87"},
		{"pier all but 84", "pier 82=82 83=83 85=85 86=86 87=87"},
		{"pier all but 84 gull", "pier 82=82 83=83 84h=84h 85=85 86=86 87=87"},
		{"pier 1/2oz 86", "pier 86-half"},
		{"pier 86", "pier 86=86"},
		{"needle 91", "needle 91=91s|91c"},
		{"needle 91-92", "needle 91=91s|91c 92=92s|92c"},
		{"needle 91 star", "needle 91s"},
		{"needle rest", "needle 92=92s|92c"},
		{"needle all but 91 star", "needle 91c 92=92s|92c"},
		{"needle 91 either", "needle 91=91s|91c"},
		{"needle 91 both", "needle 91s 91c"},
		{"needle star", "?star: 91 star / 92 star / both / either"},
		{"wick 84/85", "?84/85: 84 and 85 / either / one of 84"},
		{"wick 84 or", "!or"},
		{"wick or 84", "!or"},
	})
	edits["pier"] = Edits{Checklist: "years"}
	readAll(t, ForWants, mine, []typed{
		{"pier 84", "pier 84=84g|84h"},
		{"pier 82-84", "pier 82=82 83=83 84=84g|84h"},
		{"pier all but 84 gull", "pier 82=82 83=83 84h 85=85 86=86 87=87"},
	})
	edits["pier"] = Edits{Also: map[string][]string{"84g": {"84h"}}, Without: []string{"84h"}}
	readAll(t, ForWants, mine, []typed{
		{"pier 84", "pier 84g=84g|84h"},
		{"pier 84 gull", "pier 84g=84g|84h"},
		{"pier 84 heron", "pier 84h"},
		{"pier all but 84", "pier 82=82 83=83 85=85 86=86 87=87"},
	})
	edits["needle"] = Edits{Checklist: "marks", Without: []string{"91c"}, With: []string{"tide"}}
	readAll(t, ForWants, mine, []typed{
		{"needle 91", "needle 91s=91s"},
		{"needle 92", "?92: 92 star / 92 crescent / both / either"},
		{"needle all", "needle 91s=91s 92s=92s 92c=92c tide=tide"},
		{"needle 91 crescent", "needle 91c"},
	})
	edits["wick"] = Edits{Without: []string{"82", "83", "84", "85", "86", "87", "88", "89", "nd"}}
	readAll(t, ForWants, mine, []typed{{"wick rest", "!rest"}, {"wick 84", "wick 84"}})
}

func TestQuestions(t *testing.T) {
	t.Parallel()
	readAll(t, ForHoldings, Mine{}, []typed{
		{"pier 84", "?84: 84 gull / 84 heron / both"},
		{"pier 82-86", "?82-86: 84 gull / 84 heron / both"},
		{"pier gull or heron", "!heron"},
		{"needle all", "?all: 91 star / 91 crescent / both"},
		{"pier pier head", "?pier head: 84 gull / 84 heron / both"},
		{"wick 2x 84-82", "?2x 84-82: 82-84 / just those two"},
		{"yearbook 12x84", "?12x84: 12 of 84 / 84 of 12"},
		{"yearbook 90s", "?90s: the year 90 / 90-99"},
		{"wick 84, 84", "?84: 1 / 2"},
		{"hedge wren, sloe and wren", "?wren: 1 / 2"},
		{"wick except 84", "?84: all but 84"},
		{"century 14", "?14: 1914 / 2014"},
		{"century 12-14", "?12-14: 1912 / 2012"},
		{"wick 1l84", "~1l84: 84"},
		{"wick 198l", "~198l: 82, 83, 84, 85"},
		{"yearbook l985", "?l985: 1985"},
	})
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	readAll(t, ForHoldings, Mine{}, []typed{
		{"wick 82 90", "~90: 82-89"},
		{"wick 82-90", "~90: 82-89"},
		{"wick 1882", "~1882: 82-89"},
		{"pier 84 hern", "~hern: 84 heron"},
		{"pier 84 owl", "~owl: 84 gull, 84 heron"},
		{"pier 85 gull", "~gull: 85"},
		{"pier 84e", "~84e: 84 gull, 84 heron"},
		{"pier 83 lightship", "~lightship: 83"},
		{"pier 82 foo", "~foo: "},
		{"hedge wern", "~wern: wren"},
		{"hedge rsoe hip", "~rsoe hip: rose hip"},
		{"needle tyde table", "~tyde table: tide table"},
		{"ingots 10", "~10: 1oz, 2oz, 5oz, 10oz"},
		{"ingots 3oz", "~3oz: 1oz, 2oz, 5oz, 10oz"},
		{"ingots 5", "!5"},
		{"wick 84 x0", "!x0"},
		{"wick 84 x10000", "!x10000"},
		{"wick 84 x2 x3", "!x3"},
		{"wick x3", "!x3"},
		{"wick 84 to", "!to"},
		{"wick to 84", "!to"},
		{"wick 84 except", "!except"},
		{"wick 82-84 except 85", "!85"},
		{"wick 82-84 except 83, 84-86", "!84-86"},
		{"wick 82 except 82", "!82"},
		{"wick (82", "!("},
		{"wick 82)", "!)"},
		{"wick 82 / 83", "~/: "},
		{"wick 84 💰", "~💰: "},
		{"wick 1½ 84", "~1½: "},
		{"wick שלום 84", "~שלום: "},
		{"wick \xff84", "~\xff84: "},
		{"wick both", "!both"},
		{"wick 84 x two", "~two: "},
		{"wick 84, x wren", "!x"},
	})
}

func TestKeyboardsFancies(t *testing.T) {
	t.Parallel()
	readAll(t, ForHoldings, Mine{}, []typed{
		{"wick ８２－８４、ＮＤ", "wick 82 83 84 nd"},
		{"wick　８２ー８４，８６～８７", "wick 82 83 84 86 87"},
		{"wick ’82–’84", "wick 82 83 84"},
		{"wick 82−84", "wick 82 83 84"},
		{"wick\u00a082\u202f–\u00a084", "wick 82 83 84"},
		{"\u200fwick 82\u200e, 84\u200e", "wick 82 84"},
		{"wick ٨٢، ٨٤", "wick 82 84"},
		{"wick 84 × 2", "wick 84*2"},
		{"wick 8️⃣4️⃣", "wick 84"},
		{"“wick” „82”", "wick 82"},
		{"wick 84⁄85⁄87", "wick 84 85 87"},
		{"wick 84 ×２", "wick 84*2"},
	})
}

func TestAllIsSaidSo(t *testing.T) {
	t.Parallel()
	c := NewCatalogue(shapes())
	for text, want := range map[string]bool{"wick all": true, "wick all, hedge all": true, "wick all but ND": false, "wick 82-89, ND": false, "wick all, 82": false} {
		r, err := c.Read(text, ForHoldings, Mine{})
		if err != nil || r.All != want {
			t.Errorf("%q: all is %v, %v", text, r.All, err)
		}
	}
}
