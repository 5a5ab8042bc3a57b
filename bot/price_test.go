package bot_test

import (
	"strings"
	"testing"

	"spareounce/bot"
)

// Earlier prices are pasted below the words, several lines at once, and are in the chart that the week shows.
func TestEarlierPricesArePastedBelowTheWords(t *testing.T) {
	t.Parallel()
	b, _ := newBot(t)
	say := func(line string) bot.Reply {
		return b.Hear(t.Context(), bot.Heard{Group: "quay", Text: line, From: bot.Speaker{Account: "ann", Name: "Ann", Keeper: true}})
	}
	if got := say("prices past\ndate,price\n2020-01-05,30.10\n2020-01-06,31.20\n"); got.Text != "2 prices kept, from 5 Jan 2020 to 6 Jan 2020." {
		t.Fatal(got.Text)
	}
	for line, want := range map[string]string{
		"prices past\n2020-01-07,31\n2020-01-07,32\n": "there are two prices for 2020-01-07",
		"prices past\n2020-01-07,31\nsoon,32\n":       "row 2 is not a date and a price: soon 32",
		"prices past\n2020-01-07,-31\n":               "no price above zero",
	} {
		if got := say(line).Text; !strings.HasPrefix(got, "Nothing was kept: ") || !strings.Contains(got, want) {
			t.Errorf("%q: %s", line, got)
		}
	}
	if got := say("spot").Text; !strings.Contains(got, "31.20 USD a troy ounce, said by a list given by Ann") {
		t.Error(got)
	}
}
