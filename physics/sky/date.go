package sky

import (
	"fmt"
	"time"
)

// Date is a day of the civil calendar, free of any zone.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// DateOf returns the calendar day that t shows in its own location.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// ParseDate reads a day written as 2026-04-13.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return Date{}, &DateError{Text: text}
	}
	return DateOf(t), nil
}

// DateError says that a text or three numbers are not a day of the calendar.
type DateError struct{ Text string }

// Error says what was given and how a day is written.
func (e *DateError) Error() string {
	return fmt.Sprintf("date %q is not a day of the calendar; write it as 2026-04-13", e.Text)
}

// Valid reports whether the day exists.
func (d Date) Valid() bool { return d == DateOf(d.utc()) }

func (d Date) utc() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// AddDays returns the day n days later.
func (d Date) AddDays(n int) Date { return DateOf(d.utc().AddDate(0, 0, n)) }

// YearDay returns the day of the year, 1 to 366 (J in FAO-56).
func (d Date) YearDay() int { return d.utc().YearDay() }

// At returns hour:minute of that day in zone; across a change of the clock it
// follows time.Date.
func (d Date) At(hour, minute int, zone *time.Location) time.Time {
	return time.Date(d.Year, d.Month, d.Day, hour, minute, 0, 0, zone)
}

// Before reports whether d is an earlier day than o.
func (d Date) Before(o Date) bool { return d.utc().Before(o.utc()) }

// String writes the day as 2026-04-13.
func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day) }

// MarshalText writes the day as 2026-04-13.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads a day written as 2026-04-13.
func (d *Date) UnmarshalText(b []byte) error {
	v, err := ParseDate(string(b))
	if err != nil {
		return err
	}
	*d = v
	return nil
}
