package tongue

import (
	"strconv"
	"time"
)

// What we say of days.
const (
	dayAndTime  Phrase = "{day} {month} {time}"
	dayOfYear   Phrase = "{day} {month} {year}"
	dayInFull   Phrase = "{weekday} {date}, {time}"
	firstDay    Phrase = "1"
	january     Phrase = "Jan"
	february    Phrase = "Feb"
	march       Phrase = "Mar"
	april       Phrase = "Apr"
	may         Phrase = "May"
	june        Phrase = "Jun"
	july        Phrase = "Jul"
	august      Phrase = "Aug"
	september   Phrase = "Sep"
	october     Phrase = "Oct"
	november    Phrase = "Nov"
	december    Phrase = "Dec"
	onSunday    Phrase = "Sunday"
	onMonday    Phrase = "Monday"
	onTuesday   Phrase = "Tuesday"
	onWednesday Phrase = "Wednesday"
	onThursday  Phrase = "Thursday"
	onFriday    Phrase = "Friday"
	onSaturday  Phrase = "Saturday"
)

var (
	months   = [...]Phrase{january, february, march, april, may, june, july, august, september, october, november, december}
	weekdays = [...]Phrase{onSunday, onMonday, onTuesday, onWednesday, onThursday, onFriday, onSaturday}
)

// Date writes the day of an instant as its own zone has it, "2 Jan 2006".
func (t *Tongue) Date(at time.Time) string {
	return t.Say(dayOfYear, "day", t.day(at), "month", t.Month(at.Month()), "year", strconv.Itoa(at.Year()))
}

// DayAndTime writes an instant in its own zone, without the year: "2 Jan 15:04".
func (t *Tongue) DayAndTime(at time.Time) string {
	return t.Say(dayAndTime, "day", t.day(at), "month", t.Month(at.Month()), "time", at.Format("15:04"))
}

// InFull writes an instant in its own zone with all there is to it: "Monday 2 Jan 2006, 15:04".
func (t *Tongue) InFull(at time.Time) string {
	return t.Say(dayInFull, "weekday", t.Weekday(at.Weekday()), "date", t.Date(at), "time", at.Format("15:04"))
}

// day is the day of the month. Some languages count the first of a month and not the others.
func (t *Tongue) day(at time.Time) string {
	if at.Day() == 1 {
		return t.Say(firstDay)
	}
	return strconv.Itoa(at.Day())
}

// Month is a month's short name, "Jan".
func (t *Tongue) Month(m time.Month) string { return t.Say(months[m-1]) }

// Weekday is a day's name, "Monday".
func (t *Tongue) Weekday(d time.Weekday) string { return t.Say(weekdays[d]) }
