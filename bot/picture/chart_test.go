package picture

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

func date(text string) time.Time {
	at, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return at
}

// charts are the golden charts. The months are of the World Bank's Commodity Markets ("Pink Sheet"), edition of 2 July 2026,
// CC BY 4.0; the other prices are invented.
func charts() map[string]Chart {
	monthly := Chart{Title: "Silver", Unit: "USD a troy ounce", From: date("2025-07-15"), To: date("2026-07-15"), Stale: true,
		Sources: []string{"World Bank, Commodity Markets (monthly averages)"}}
	for i, price := range []melt.Price{3770, 3820, 4280, 4920, 5040, 6230, 9210, 8190, 7790, 7590, 7800, 6670} {
		monthly.Points = append(monthly.Points, Point{time.Date(2025, time.Month(7+i), 20, 0, 0, 0, 0, time.UTC), price * melt.PriceUnit / 100})
	}
	daily := Chart{Title: "Silver", Unit: "EUR a troy ounce", From: date("2025-11-25"), To: date("2026-11-25"), Sources: []string{"prices.example", "a list given by Ann"}}
	price, chance := melt.Price(3400), uint32(7)
	for i := range 365 {
		chance = chance*1664525 + 1013904223 // Numerical Recipes' generator: the same walk everywhere
		price += melt.Price(chance>>16%121) - 58
		if i > 120 && i < 160 || i > 250 && i < 280 {
			continue
		}
		daily.Points = append(daily.Points, Point{daily.From.AddDate(0, 0, i+1).Add(10 * time.Hour), price * melt.PriceUnit / 100})
	}
	dark := daily
	dark.Dark = true
	flat := Chart{Title: "Silver", Unit: "JPY a troy ounce", From: date("2025-11-25"), To: date("2026-11-25"), Sources: []string{"Ann"},
		Points: []Point{{date("2026-10-01"), 9546 * melt.PriceUnit}, {date("2026-10-02"), 9546 * melt.PriceUnit}}}
	german, japanese := monthly, daily
	german.In, german.Title, german.Unit = spoken("de"), "Silber", "EUR je Feinunze"
	japanese.In, japanese.Title, japanese.Unit, japanese.Stale = spoken("ja"), "銀", "JPY／トロイオンス", true
	return map[string]Chart{"chart-german": german, "chart-japanese": japanese, "chart-year": monthly, "chart-days": daily, "chart-dark": dark, "chart-flat": flat}
}

func TestChartIsSaidInWords(t *testing.T) {
	c := charts()["chart-year"]
	want := "Chart: Silver in USD a troy ounce from 15 Jul 2025 to 15 Jul 2026. First 37.70 on 20 Jul 2025. Lowest 37.70 on 20 Jul 2025, " +
		"highest 92.10 on 20 Jan 2026. Last 66.70 on 20 Jun 2026, which is not today's price: 76.9 % higher since 20 Jul 2025. 12 prices. " +
		"For 11 stretches no price is known. From World Bank, Commodity Markets (monthly averages)."
	if got := c.Alt(); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	if got := charts()["chart-flat"].Alt(); !strings.Contains(got, "Last 9546 on 2 Oct 2026: unchanged since 1 Oct 2026.") {
		t.Error(got)
	}
	if _, err := (Chart{}).PNG(); err == nil {
		t.Error("a chart of nothing is drawn")
	}
}

// Whatever the prices, every point lies in the plot, the scale has two to six lines of round figures, and the words fit.
func TestEveryPriceHasItsPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Chart{Title: "Silver", Unit: "XXX", From: date("2025-11-25"), To: date("2026-11-25"), Sources: []string{"x"}}
		top := melt.Price(rapid.Int64Range(1, 900_000).Draw(t, "units")) * melt.PriceUnit / 1000
		for i := range rapid.IntRange(1, 20).Draw(t, "points") {
			price := max(melt.Price(rapid.Int64Range(1, 1000).Draw(t, "share"))*top/1000, 1)
			c.Points = append(c.Points, Point{c.From.AddDate(0, 0, 1+i*18), price})
		}
		s := c.scale()
		if lines := (s.high - s.low) / s.step; lines < 1 || lines > 5 {
			t.Fatalf("%d steps from %v to %v", lines, s.low, s.high)
		}
		for _, p := range c.Points {
			if x, y := s.x(p.At), s.y(p.Price); x < plotLeft || x > plotRight || y < plotTop || y > plotBottom {
				t.Fatalf("%v lies at %v, %v", p, x, y)
			}
		}
		if n := len([]rune(c.Alt())); n > longestAlt {
			t.Fatalf("%d characters", n)
		}
	})
}
