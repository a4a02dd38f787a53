package weather

import (
	"errors"
	"fmt"
	"math"
	"time"

	"budward/physics/quantity"
	"budward/physics/sky"
)

// Night runs from sunset to two hours past sunrise.
type Night struct {
	Sunset  time.Time `json:"sunset_at"`
	Sunrise time.Time `json:"sunrise_at"`
	End     time.Time `json:"end_at"` // Sunrise + AfterSunrise
	// Label is the night with both local dates, such as "Tue 20 - Wed 21 Feb".
	Label string `json:"label"`
	// Begun is set when the night was under way at the present moment.
	Begun bool `json:"begun"`
}

// AfterSunrise is how long past sunrise a night lasts: the minimum is often at
// or just after sunrise.
const AfterSunrise = sky.AfterSunrise

// MaxNights bounds the nights asked for at once.
const MaxNights = 400

// NoNightError says that a night asked for does not come: at high latitude the
// sun does not set, or does not rise again. Unwrap gives the *sky.NeverError.
type NoNightError struct {
	Date string // the evening, local
	Err  error
}

func (e *NoNightError) Error() string {
	return "no night on " + e.Date + ": " + e.Err.Error()
}

// Unwrap returns the reason.
func (e *NoNightError) Unwrap() error { return e.Err }

// NightsAhead returns the next n nights at a place; a night already begun at
// now, up to two hours past sunrise, is the first. Times are in zone. Where a
// night does not come it returns the nights before it and a *NoNightError;
// a place or date out of range is a *quantity.RangeError. A nil zone panics.
func NightsAhead(now time.Time, lat, lon float64, zone *time.Location, n int) ([]Night, error) {
	if n < 1 || n > MaxNights {
		return nil, &InputError{"number of nights", fmt.Sprint(n), fmt.Sprintf("1 to %d", MaxNights)}
	}
	la, lo := quantity.Degree(lat), quantity.Degree(lon)
	first := sky.DateOf(now.In(zone))
	if last, err := sky.NightOf(first.AddDays(-1), la, lo, zone); err == nil && now.Before(last.End) {
		first = first.AddDays(-1)
	}
	out := make([]Night, 0, n)
	for k := range n {
		date := first.AddDays(k)
		s, err := sky.NightOf(date, la, lo, zone)
		if err != nil {
			var never *sky.NeverError
			if errors.As(err, &never) {
				err = &NoNightError{Date: date.String(), Err: err}
			}
			return out, err
		}
		out = append(out, nightFrom(s, now))
	}
	return out, nil
}

// NightOn returns the night that begins on the local evening of date.
func NightOn(date sky.Date, lat, lon float64, zone *time.Location) (Night, error) {
	s, err := sky.NightOf(date, quantity.Degree(lat), quantity.Degree(lon), zone)
	if err != nil {
		var never *sky.NeverError
		if errors.As(err, &never) {
			err = &NoNightError{Date: date.String(), Err: err}
		}
		return Night{}, err
	}
	return nightFrom(s, time.Time{}), nil
}

func nightFrom(s sky.Night, now time.Time) Night {
	return Night{Sunset: s.Sunset, Sunrise: s.Sunrise, End: s.End, Label: nightLabel(s.Date, s.Morning()),
		Begun: !now.IsZero() && !now.Before(s.Sunset)}
}

// nightLabel writes both dates of a night; month and year once if they are the
// same.
func nightLabel(evening, morning sky.Date) string {
	day := func(d sky.Date, layout string) string {
		return time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC).Format(layout)
	}
	first := "Mon 2"
	switch {
	case evening.Year != morning.Year:
		return day(evening, "Mon 2 Jan 2006") + " - " + day(morning, "Mon 2 Jan 2006")
	case evening.Month != morning.Month:
		first = "Mon 2 Jan"
	}
	return day(evening, first) + " - " + day(morning, "Mon 2 Jan")
}

// Coverage says how much of a night a forecast speaks for.
type Coverage struct {
	Hours   int  `json:"hours"`   // grid points of the night (from now on, if begun)
	Missing int  `json:"missing"` // of these, without air temperature
	Covered bool `json:"covered"` // none missing and at least one there
	// Why is empty when Covered; else one plain sentence.
	Why string `json:"why,omitempty"`
}

// nightPoints returns the grid points [a,b) of h's grid, continued beyond its
// ends, that lie inside night and not before from.
func nightPoints(h *Hourly, n Night, from time.Time) (a, b int) {
	start := n.Sunset
	if from.After(start) {
		start = from
	}
	a = floorHours(start.Sub(h.Start)-1) + 1 // the first at or after start
	b = floorHours(n.End.Sub(h.Start)) + 1
	return a, max(a, b)
}

// nightRange is nightPoints cut to the grid.
func nightRange(h *Hourly, n Night, from time.Time) (a, b int) {
	a, b = nightPoints(h, n, from)
	a, b = min(max(a, 0), h.N), min(max(b, 0), h.N)
	return a, max(a, b)
}

// floorHours returns the whole hours in d, rounded down.
func floorHours(d time.Duration) int {
	n := int(d / time.Hour)
	if d%time.Hour < 0 {
		n--
	}
	return n
}

// Cover says for each night whether h has every hour of it, from `from` on if
// the night has begun by then. A night that h ends before is never covered.
func Cover(h Hourly, nights []Night, from time.Time) []Coverage {
	out := make([]Coverage, len(nights))
	lastAt := lastValue(&h, AirTemp)
	for k, n := range nights {
		a, b := nightPoints(&h, n, from)
		c := Coverage{Hours: b - a}
		for i := a; i < b; i++ {
			if math.IsNaN(h.At(AirTemp, i)) {
				c.Missing++
			}
		}
		c.Covered = c.Missing == 0 && c.Hours > 0
		if !c.Covered {
			c.Why = whyUncovered(&h, n, c, lastAt)
		}
		out[k] = c
	}
	return out
}

func whyUncovered(h *Hourly, n Night, c Coverage, lastAt time.Time) string {
	word := string(h.Kind)
	if word == "" {
		word = "series"
	}
	switch {
	case lastAt.IsZero():
		return "the " + word + " has no air temperature: night not covered"
	case lastAt.Before(n.End.Add(-time.Hour)):
		return fmt.Sprintf("%s ends at %s: night not covered", word, lastAt.In(n.End.Location()).Format("Mon 2 Jan 15:04 MST"))
	case c.Hours == 0:
		return "no hour of the night is left"
	}
	return fmt.Sprintf("%d of %d hours have no air temperature: night not covered", c.Missing, c.Hours)
}

// lastValue returns the instant of the last value of v; zero if there is none.
func lastValue(h *Hourly, v Variable) time.Time {
	for i := h.N - 1; i >= 0; i-- {
		if !math.IsNaN(h.At(v, i)) {
			return h.Time(i)
		}
	}
	return time.Time{}
}

// NightMin returns the lowest air temperature of the night from `from` on, and
// when; ok is false unless every hour is there. Readings use AirTempMin where
// it is known.
func NightMin(h *Hourly, n Night, from time.Time) (min_c float64, at time.Time, ok bool) {
	if !Cover(*h, []Night{n}, from)[0].Covered {
		return nan, time.Time{}, false
	}
	a, b := nightRange(h, n, from)
	min_c = math.Inf(1)
	for i := a; i < b; i++ {
		x := h.At(AirTemp, i)
		if m := h.At(AirTempMin, i); h.Kind == Reading && m < x {
			x = m
		}
		if x < min_c {
			min_c, at = x, h.Time(i)
		}
	}
	return min_c, at, true
}
