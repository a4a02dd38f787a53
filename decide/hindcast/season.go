package hindcast

import (
	"fmt"
	"time"

	"budward/physics/sky"
)

// Season is the part of the year whose nights are scored, by the date of the
// evening, both ends included. It may cross the new year.
type Season struct {
	FromMonth time.Month
	FromDay   int
	ToMonth   time.Month
	ToDay     int
}

// DefaultSeason is 15 March to 31 May, and south of the equator 15 September to
// 30 November: from bud swell to the last frosts (common practice).
func DefaultSeason(latDeg float64) Season {
	if latDeg < 0 {
		return Season{time.September, 15, time.November, 30}
	}
	return Season{time.March, 15, time.May, 31}
}

// ParseSeason reads "03-15..05-31".
func ParseSeason(text string) (Season, error) {
	var a, b, c, d int
	n, err := fmt.Sscanf(text, "%d-%d..%d-%d", &a, &b, &c, &d)
	s := Season{time.Month(a), b, time.Month(c), d}
	if err != nil || n != 4 || !s.valid() || s.String() != text {
		return Season{}, &InputError{"season", fmt.Sprintf("%q", text), "month and day of the first and the last evening, such as 03-15..05-31"}
	}
	return s, nil
}

// String writes the season as ParseSeason reads it.
func (s Season) String() string {
	return fmt.Sprintf("%02d-%02d..%02d-%02d", int(s.FromMonth), s.FromDay, int(s.ToMonth), s.ToDay)
}

func (s Season) valid() bool {
	// 29 February is no end: it does not come every year.
	return sky.Date{Year: 2001, Month: s.FromMonth, Day: s.FromDay}.Valid() && sky.Date{Year: 2001, Month: s.ToMonth, Day: s.ToDay}.Valid()
}

// has says whether a date is in the season.
func (s Season) has(d sky.Date) bool {
	of := func(m time.Month, day int) int { return int(m)*100 + day }
	from, to, at := of(s.FromMonth, s.FromDay), of(s.ToMonth, s.ToDay), of(d.Month, d.Day)
	if from <= to {
		return at >= from && at <= to
	}
	return at >= from || at <= to
}

// crosses says whether the season goes past the new year.
func (s Season) crosses() bool {
	return s.ToMonth < s.FromMonth || (s.ToMonth == s.FromMonth && s.ToDay < s.FromDay)
}

// year returns the season a date belongs to, named by the year of the season's
// middle: the half year before and after that middle.
func (s Season) year(d sky.Date) int {
	from := sky.Date{Year: 2001, Month: s.FromMonth, Day: s.FromDay}
	to := sky.Date{Year: 2001, Month: s.ToMonth, Day: s.ToDay}
	if s.crosses() {
		to.Year++
	}
	length := int(noon(to).Sub(noon(from)).Hours() / 24)
	middle := from.AddDays(length / 2)
	// Bring the middle to 1 July; the civil year then is the season's.
	shift := 182 - sky.Date{Year: 2001, Month: middle.Month, Day: middle.Day}.YearDay()
	return d.AddDays(shift).Year
}

func noon(d sky.Date) time.Time { return d.At(12, 0, time.UTC) }
