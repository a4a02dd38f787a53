// Package sheet writes an answer down for people and other programs: the night
// sheet, one printed page in black and white with what to do at what time; a
// calendar with alarms for the starts (iCalendar, RFC 5545); tables of tonight and
// of the nights ahead (XLSX, CSV); and a map (GeoJSON, RFC 7946). It computes
// nothing: every number is the answer's, in the units asked for.
package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// Options say for whom and how a sheet is written.
type Options struct {
	// Units of all numbers. The answer's own sentences are in the units it was
	// worked out in (nights.Input.Units): use the same, see UnitsOf.
	Units  quantity.System
	Person string // ID of who it is for; "" = nobody by name
	Paper  Paper  // of the night sheet; "" = by the units: Letter or A4
	// AlarmBefore is how long before a start the calendar wakes; 0 =
	// DefaultAlarmBefore.
	AlarmBefore time.Duration
}

// Paper is a size of paper.
type Paper string

// The sizes.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// InputError says what about an answer or the options cannot be written down.
type InputError struct {
	Field, Value, Want string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("sheet: %s is %q; want %s", e.Field, e.Value, e.Want)
}

// UnitsOf returns the units a person reads in.
func UnitsOf(f *farm.Farm, person string) (quantity.System, error) {
	for _, p := range f.People {
		if strings.EqualFold(p.ID, person) {
			return quantity.ParseSystem(p.Units)
		}
	}
	return 0, &InputError{"person", person, "the id of one of the farm's people"}
}

// view is an answer with what is needed to write it.
type view struct {
	a    *nights.Answer
	f    *farm.Farm
	o    Options
	zone *time.Location
}

func newView(a *nights.Answer, f *farm.Farm, o Options) (*view, error) {
	zone, err := time.LoadLocation(a.Zone)
	if err != nil || a.Zone == "" {
		return nil, &InputError{"zone", a.Zone, "an IANA time zone that this machine knows"}
	}
	if len(a.Nights) == 0 {
		return nil, &InputError{"nights", "none", "an answer for at least one night"}
	}
	if o.Person != "" {
		if _, err := UnitsOf(f, o.Person); err != nil {
			return nil, err
		}
	}
	switch o.Paper {
	case "":
		o.Paper = Letter
		if o.Units == quantity.Metric {
			o.Paper = A4
		}
	case A4, Letter:
	default:
		return nil, &InputError{"paper", string(o.Paper), "A4 or Letter"}
	}
	return &view{a, f, o, zone}, nil
}

// tonight is a block's first night; nil if it has none or it is not covered.
func tonight(b *nights.BlockAnswer) *nights.BlockNight {
	if len(b.Nights) == 0 || !b.Nights[0].Covered {
		return nil
	}
	return &b.Nights[0]
}

func (v *view) person() *farm.Person {
	i := slices.IndexFunc(v.f.People, func(p farm.Person) bool { return strings.EqualFold(p.ID, v.o.Person) })
	if v.o.Person == "" || i < 0 {
		return nil
	}
	return &v.f.People[i]
}

// clock writes a moment with its day: "Thu 05:40".
func (v *view) clock(t time.Time) string { return t.In(v.zone).Format("Mon 15:04") }

// bothDays writes a night with both its dates and the year.
func (v *view) bothDays() string {
	a, b := v.a.Nights[0].Sunset.In(v.zone), v.a.Nights[0].Sunrise.In(v.zone)
	switch {
	case a.Year() != b.Year():
		return a.Format("Monday 2 January 2006") + " to " + b.Format("Monday 2 January 2006")
	case a.Month() != b.Month():
		return a.Format("Monday 2 January") + " to " + b.Format("Monday 2 January 2006")
	}
	return a.Format("Monday 2") + " to " + b.Format("Monday 2 January 2006")
}

// five rounds a moment to five minutes: nobody opens a valve to the minute.
func five(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.Round(5 * time.Minute)
}

func (v *view) degrees() string {
	if v.o.Units == quantity.US {
		return "°F"
	}
	return "°C"
}

// bare is a quantity without its unit, for columns whose head names it. The minus
// sign is the typographic one.
func bare(text string) string {
	number, _, _ := strings.Cut(text, " ")
	return strings.Replace(number, "-", "\u2212", 1)
}

// temperature writes a temperature with its unit and a typographic minus.
func (v *view) temperature(c quantity.Celsius) string {
	return strings.Replace(v.o.Units.Temperature(c), "-", "\u2212", 1)
}

func percent(p float64) string { return quantity.Percent(quantity.Share(p)) }

// mark is an urgency as shape and word; colour is never needed.
func mark(u nights.Urgency) string {
	switch u {
	case nights.Act:
		return "▲ ACT"
	case nights.Watch:
		return "◆ WATCH"
	case nights.Prepare:
		return "□ PREPARE"
	case nights.Quiet:
		return "○ quiet"
	}
	return "? UNKNOWN"
}

// count is the number of blocks of an urgency.
func (v *view) count(u nights.Urgency) (n int) {
	for i := range v.a.Blocks {
		if v.a.Blocks[i].Urgency == u {
			n++
		}
	}
	return n
}

// coldest is the block with the lowest likely minimum tonight.
func (v *view) coldest() (low *nights.BlockAnswer) {
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		n := tonight(b)
		if n == nil || n.Min == nil || math.IsNaN(float64(n.Min.P50C)) {
			continue
		}
		if low == nil || n.Min.P50C < low.Nights[0].Min.P50C {
			low = b
		}
	}
	return low
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// sentence begins with a capital and ends with a stop.
func sentence(s string) string {
	s = capital(strings.TrimSpace(s))
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "?") || strings.HasSuffix(s, "!") {
		return s
	}
	return s + "."
}

// and joins words: "a", "a and b", "a, b and c".
func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// cut shortens a text to n signs, with an ellipsis where it was longer.
func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRight(string(r[:n-1]), " ") + "…"
}
