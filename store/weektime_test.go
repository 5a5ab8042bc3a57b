package store

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func rowsOf(t *testing.T, file string, want int) [][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != want+1 {
		t.Fatalf("%s: %d rows, %v", file, len(rows)-1, err)
	}
	return rows[1:]
}

// The cases in which a clock shows a time twice or never; see testdata/README.md. Half of them go another way with
// time.Date, so this test knows the difference.
func TestLocalTimesAreReadAsRFC5545Says(t *testing.T) {
	differ := 0
	for _, row := range rowsOf(t, "testdata/local_times.csv", 16) {
		zone, err := time.LoadLocation(row[0])
		if err != nil {
			t.Fatal(err)
		}
		local, err := time.Parse("2006-01-02T15:04", row[1])
		if err != nil {
			t.Fatal(err)
		}
		want, err := time.Parse("2006-01-02T15:04Z", row[3])
		if err != nil {
			t.Fatal(err)
		}
		got := localInstant(zone, local, Clock(local.Hour()*60+local.Minute()))
		if !got.Equal(want) {
			t.Errorf("%s %s (%s) is %v, want %v", row[0], row[1], row[2], got, want)
		}
		if !time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), 0, 0, zone).Equal(want) {
			differ++
		}
	}
	if differ != 8 {
		t.Errorf("the time package differs in %d cases; in 8 when this was written", differ)
	}
}

func TestWeeksAreNamedAsISO8601Says(t *testing.T) {
	for _, row := range rowsOf(t, "testdata/iso_weeks.csv", 22) {
		day, err := time.Parse(time.DateOnly, row[0])
		if err != nil {
			t.Fatal(err)
		}
		want := row[1] // 2026-W53-4
		weekday, err := strconv.Atoi(want[len(want)-1:])
		if err != nil {
			t.Fatal(err)
		}
		monday := mondayOf(time.UTC, day)
		if weekName(day)+"-"+strconv.Itoa(weekday) != want || weekName(monday) != weekName(day) || !monday.AddDate(0, 0, weekday-1).Equal(day) {
			t.Errorf("%s is in %s, its Monday is %v; want %s", row[0], weekName(day), monday, want)
		}
	}
}

// In any zone, at any time of the year: away from a change of the clocks the time package agrees; the next week's post comes
// after this week's, within the next week; and it is named after that week.
func TestAWeekFollowsAWeek(t *testing.T) {
	names := []string{"UTC", "America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "America/Santiago", "America/St_Johns",
		"Africa/Casablanca", "Asia/Kolkata", "Pacific/Kiritimati", "Pacific/Pago_Pago", "America/Phoenix", "Asia/Kathmandu"}
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom(names).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		w := Weekly{Weekday: rapid.IntRange(1, 7).Draw(t, "weekday"), At: Clock(rapid.IntRange(0, 24*60-1).Draw(t, "clock"))}
		at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.IntRange(0, 2*366*24).Draw(t, "hour")) * time.Hour)
		monday := mondayOf(zone, at)
		if monday.Weekday() != time.Monday || at.Before(localInstant(zone, monday, 0)) || !at.Before(localInstant(zone, monday.AddDate(0, 0, 7), 0)) {
			t.Fatalf("%v is not in the week of %v", at, monday)
		}
		this, next := w.due(zone, monday), w.due(zone, monday.AddDate(0, 0, 7))
		if gap := next.Sub(this); gap < 6*24*time.Hour || gap > 8*24*time.Hour {
			t.Fatalf("%v between posts", gap)
		}
		if name := weekName(mondayOf(zone, this)); name != weekName(monday) {
			t.Fatalf("the post of %s is due in %s", weekName(monday), name)
		}
		local := this.In(zone)
		if Clock(local.Hour()*60+local.Minute()) != w.At && offset(zone, this.Add(-3*time.Hour)) == offset(zone, this.Add(3*time.Hour)) {
			t.Fatalf("due at %v, not at %v, and no clock has changed", local, w.At)
		}
	})
}
