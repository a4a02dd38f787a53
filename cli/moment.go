package cli

import (
	"fmt"
	"time"
)

// MomentError says that a text is not a moment.
type MomentError struct{ Text, Want string }

func (e *MomentError) Error() string { return fmt.Sprintf("time %q: %s", e.Text, e.Want) }

const wantMoment = `want a moment such as 2026-04-08T15:00-07:00, or "2026-04-08 15:00" in the farm's zone`

// ParseMoment reads a moment with its offset from UTC, or a date and time by the
// clock of zone. A time that the clock skips or shows twice when it is changed is
// refused: it needs its offset.
func ParseMoment(text string, zone *time.Location) (time.Time, error) {
	for _, layout := range []string{time.RFC3339Nano, "2006-01-02T15:04Z07:00", "2006-01-02 15:04Z07:00", "2006-01-02 15:04:05Z07:00"} {
		if t, err := time.Parse(layout, text); err == nil {
			return t, nil
		}
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05"} {
		bare, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		return localMoment(text, bare, zone)
	}
	return time.Time{}, &MomentError{text, wantMoment}
}

// localMoment reads the clock shown by bare as a clock in zone.
func localMoment(text string, bare time.Time, zone *time.Location) (time.Time, error) {
	const clock = "2006-01-02 15:04:05"
	at := time.Date(bare.Year(), bare.Month(), bare.Day(), bare.Hour(), bare.Minute(), bare.Second(), 0, zone)
	var found []time.Time
	// The clocks of the world are changed by at most two hours.
	for d := -2 * time.Hour; d <= 2*time.Hour; d += 30 * time.Minute {
		if t := at.Add(d); t.Format(clock) == bare.Format(clock) {
			found = append(found, t)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return time.Time{}, &MomentError{text, fmt.Sprintf("the clock of %s skips it when it is put forward", zone)}
	}
	return time.Time{}, &MomentError{text, fmt.Sprintf("the clock of %s shows it twice when it is put back: add the offset, %s or %s",
		zone, found[0].Format("-07:00"), found[1].Format("-07:00"))}
}

// parseDate reads a day of the calendar as its noon in zone.
func parseDate(text string, zone *time.Location) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return time.Time{}, &MomentError{text, "want a day such as 2026-03-29"}
	}
	return time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, zone), nil
}

// Times on the page are the farm's local time.
func clockText(t time.Time, zone *time.Location) string { return t.In(zone).Format("Mon 15:04") }
func dayClock(t time.Time, zone *time.Location) string {
	return t.In(zone).Format("Mon 2 Jan 2006 15:04")
}

// dash writes a moment that may be unknown.
func dash(t time.Time, write func(time.Time) string) string {
	if t.IsZero() {
		return "-"
	}
	return write(t)
}
