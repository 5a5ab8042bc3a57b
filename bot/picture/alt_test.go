package picture

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestAltSaysWhatThePictureShows(t *testing.T) {
	for name, c := range map[string]struct {
		card SetCard
		want string
	}{
		"each state and remark": {
			SetCard{Title: "Harbour Lights", Owner: "Ann", Summary: "3 of 5", AsOf: "25 Nov 2026", Tiles: []Tile{
				{Label: "82", Key: true},
				{Label: "83", State: Wanted},
				{Label: "84", State: Spare, Count: 2},
				{Label: "85", State: Had, Note: "1/10oz", SemiKey: true},
				{Label: "86 gull", State: Had, Substitute: "86 heron"},
			}},
			"Set card of Ann, Harbour Lights: 3 of 5. Missing: 82 (key). Missing and wanted: 83. Had with spares: 84 x2. " +
				"Had: 85 (1/10oz, semi-key), 86 gull (filled by 86 heron). As of 25 Nov 2026.",
		},
		"years in a row, over the turn of the century": {
			SetCard{Title: "Orchard Almanac", Owner: "Bo", Summary: "8 of 9", Tiles: append(years(96, 8, Had), Tile{Label: "ND"})},
			"Set card of Bo, Orchard Almanac: 8 of 9. Missing: ND. Had: 96 to 03.",
		},
		"a hole ends a run": {
			SetCard{Title: "Orchard Almanac", Summary: "9 of 10", Tiles: append(years(80, 5, Had), append([]Tile{{Label: "85"}}, years(86, 4, Had)...)...)},
			"Set card, Orchard Almanac: 9 of 10. Missing: 85. Had: 80 to 84, 86, 87, 88, 89.",
		},
		"a year that does not count ends a run": {
			SetCard{Title: "Orchard Almanac", Summary: "10 of 10", Tiles: append(years(80, 5, Had), years(86, 5, Had)...)},
			"Set card, Orchard Almanac: 10 of 10. Complete. Had: 80 to 84, 86 to 90.",
		},
		"years of four digits": {
			SetCard{Title: "Orchard Almanac", Summary: "0 of 6", Tiles: []Tile{
				{Label: "1998"}, {Label: "1999"}, {Label: "2000"}, {Label: "2001"}, {Label: "2002"}, {Label: "03"},
			}},
			"Set card, Orchard Almanac: 0 of 6. Missing: 1998 to 2002, 03.",
		},
		"complete": {
			SetCard{Title: "Compass Rose", Owner: "Cy", Summary: "1 of 1", Tiles: years(91, 1, Had)},
			"Set card of Cy, Compass Rose: 1 of 1. Complete. Had: 91.",
		},
		"nothing counts": {
			SetCard{Title: "Compass Rose", Owner: "Cy", Summary: "0 of 0"},
			"Set card of Cy, Compass Rose: 0 of 0. Nothing counts on this checklist.",
		},
		"names in any script are said in full": {
			SetCard{Title: "Hedgerow", Owner: "Ünal 🦊 שלום", Summary: "0 of 1", Tiles: years(91, 1, Missing)},
			"Set card of Ünal 🦊 שלום, Hedgerow: 0 of 1. Missing: 91.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.card.Alt(); got != c.want {
				t.Errorf("%s\nwant %s", got, c.want)
			}
		})
	}
}

// A list too long to be heard out ends in a number, and what is said and what is counted make up the whole.
func TestLongAltCountsWhatItLeavesOut(t *testing.T) {
	c := SetCard{Title: "Long", Owner: "Di", Summary: "1 of 301"}
	for i := range 300 {
		c.Tiles = append(c.Tiles, Tile{Label: fmt.Sprintf("%d gull", i)})
	}
	c.Tiles = append(c.Tiles, Tile{Label: "ND", State: Had})
	alt := c.Alt()
	if n := utf8.RuneCountInString(alt); n > longestAlt || n < longestAlt*9/10 {
		t.Errorf("%d characters", n)
	}
	var more int
	_, end, _ := strings.Cut(alt, " and ")
	if _, err := fmt.Sscanf(end, "%d more. Had: ND.", &more); err != nil {
		t.Fatalf("%v in %q", err, alt)
	}
	if said := strings.Count(alt, "gull"); said+more != 300 {
		t.Errorf("%d said and %d counted", said, more)
	}
}

// Every slot is either said or counted, runs included.
func TestAltLeavesNoSlotOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c SetCard
		for year := 0; len(c.Tiles) < mostTiles*4; {
			n := rapid.IntRange(1, 9).Draw(t, "years in a row")
			c.Tiles = append(c.Tiles, years(year, n, Missing)...)
			year += n + rapid.IntRange(1, 9).Draw(t, "years left out")
		}
		_, said, _ := strings.Cut(strings.TrimSuffix(c.Alt(), "."), "Missing: ")
		said, counted, _ := strings.Cut(said, " and ")
		slots, _ := strconv.Atoi(strings.TrimSuffix(counted, " more"))
		for part := range strings.SplitSeq(said, ", ") {
			var from, to int
			switch n, _ := fmt.Sscanf(part, "%d to %d", &from, &to); n {
			case 1:
				slots++
			case 2:
				slots += (to-from+100)%100 + 1
			default:
				t.Fatalf("%q says no year", part)
			}
		}
		if slots != len(c.Tiles) {
			t.Fatalf("%d of %d slots in %q", slots, len(c.Tiles), said)
		}
	})
}

func TestAltOfAnyCard(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := weirdCard.Draw(t, "card")
		c.Tiles = append(c.Tiles, rapid.SliceOfN(weirdTile, 0, 200).Draw(t, "more tiles")...)
		alt := c.Alt()
		if n := utf8.RuneCountInString(alt); n == 0 || n > longestAlt {
			t.Fatalf("%d characters", n)
		}
		if !utf8.ValidString(alt) || strings.ContainsAny(alt, "\n\t") {
			t.Fatalf("%q", alt)
		}
	})
}
