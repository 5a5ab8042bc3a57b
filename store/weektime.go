package store

import (
	"fmt"
	"time"
)

// localInstant is when the clocks of a zone show a time of a day, as RFC 5545 section 3.3.5 has it: a time that comes
// twice means the first, one that is skipped is read with the offset from before the gap. The time package leaves the
// choice open and makes another in half of all cases.
func localInstant(zone *time.Location, day time.Time, c Clock) time.Time {
	naive := time.Date(day.Year(), day.Month(), day.Day(), int(c)/60, int(c)%60, 0, 0, time.UTC)
	// Offsets lie between -12 and +14 hours, so the instant lies between these two, whatever the zone does in the meantime.
	before, after := offset(zone, naive.Add(-15*time.Hour)), offset(zone, naive.Add(13*time.Hour))
	first, second := naive.Add(-before), naive.Add(-after)
	if offset(zone, first) != before && offset(zone, second) == after {
		return second
	}
	return first
}

// offset is how far the clocks of a zone are ahead of UTC at an instant.
func offset(zone *time.Location, at time.Time) time.Duration {
	_, seconds := at.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}

// mondayOf is the Monday of the ISO 8601 week in which a zone is at an instant, as a date: midnight UTC.
func mondayOf(zone *time.Location, at time.Time) time.Time {
	local := at.In(zone)
	day := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC)
	return day.AddDate(0, 0, -(int(day.Weekday())+6)%7)
}

// weekName is the ISO 8601 name of a date's week: "2026-W53".
func weekName(day time.Time) string {
	year, week := day.ISOWeek()
	return fmt.Sprintf("%04d-W%02d", year, week)
}
