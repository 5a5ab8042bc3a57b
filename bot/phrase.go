package bot

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"spareounce/bot/tongue"
	"spareounce/match/series"
	"spareounce/store"
)

// phrase is a sentence of ours with {named} places in it. All of them stand in words*.go, in English.
type phrase = tongue.Phrase

// voice says phrases in the language of whom we speak to. The zero voice speaks English.
type voice struct{ *tongue.Tongue }

// voiceFor is the voice for a language tag; a language that we don't speak is answered in English.
func voiceFor(tag string) voice {
	t, _ := tongue.In(tag)
	return voice{t}
}

// when writes an instant on the group's clock, "2 Jan 15:04".
func (v voice) when(g store.Group, at time.Time) string { return v.DayAndTime(at.In(g.Location())) }

// date writes the day of an instant on the group's clock, "2 Jan 2006".
func (v voice) date(g store.Group, at time.Time) string { return v.Date(at.In(g.Location())) }

// spoken is a reply as it leaves us: it says in which language it is, and the sentences of Japanese follow each other without a
// space.
func (v voice) spoken(r Reply) Reply {
	r.Language = cmp.Or(r.Language, v.Tag())
	if r.Language == "ja" {
		r.Text = strings.ReplaceAll(r.Text, "。 ", "。")
		r.Pictures = slices.Clone(r.Pictures)
		for i := range r.Pictures {
			r.Pictures[i].Alt = strings.ReplaceAll(r.Pictures[i].Alt, "。 ", "。")
		}
	}
	return r
}

// worded says what the reader of shorthand says.
func (v voice) worded(w series.Wording) string { return v.Say(phrase(w.Text), w.Places...) }

// several writes a count of something, with the words for one and for more.
func (v voice) several(n int, one, more phrase) string {
	if n == 1 {
		return v.Say(one)
	}
	return v.Say(more, "n", n)
}

// age writes a length of time in the one unit that tells most, each how often something is done.
func (v voice) age(d time.Duration) string {
	n, unit := wholeUnits(d)
	return v.several(n, [...]phrase{aMinute, anHour, aDay}[unit], [...]phrase{minutesLong, hoursLong, daysLong}[unit])
}

func (v voice) each(d time.Duration) string {
	n, unit := wholeUnits(d)
	return v.several(n, [...]phrase{everyMinute, everyHour, everyDay}[unit], [...]phrase{everyMinutes, everyHours, everyDays}[unit])
}

// wholeUnits is a length of time in minutes (unit 0), hours (1) or days (2).
func wholeUnits(d time.Duration) (n, unit int) {
	switch {
	case d < time.Hour:
		return max(int(d.Minutes()), 0), 0
	case d < 48*time.Hour:
		return int(d.Hours()), 1
	}
	return int(d.Hours()) / 24, 2
}
