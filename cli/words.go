package cli

import (
	"fmt"
	"math"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// Severity is a word, a shape and a colour; the colour may be missing.
type severity struct {
	shape string
	word  string
	style style
}

var severities = map[nights.Urgency]severity{
	nights.Act:     {"▲", "ACT", vermilion},
	nights.Watch:   {"◆", "WATCH", orange},
	nights.Prepare: {"◇", "prepare", orange},
	nights.Quiet:   {"○", "quiet", bluegreen},
	nights.Unknown: {"?", "UNKNOWN", skyblue},
}

func (v severity) text() string { return v.shape + " " + v.word }

// bare is a quantity without its unit, for columns whose head names it.
func bare(text string) string {
	number, _, _ := strings.Cut(text, " ")
	return number
}

// unitOf is the unit of a quantity as printed.
func unitOf(text string) string {
	_, unit, _ := strings.Cut(text, " ")
	return unit
}

func degrees(s quantity.System) string {
	if s == quantity.US {
		return "°F"
	}
	return "°C"
}

// between writes a range: "25.9 to 28.8".
func between(lo, hi string) string { return bare(lo) + " to " + bare(hi) }

// worth writes a gain with its range: "+0.6 °F (0.2 to 0.9)".
func worth(w nights.Worth, s quantity.System) string {
	if w == (nights.Worth{}) {
		return s.SignedDifference(0)
	}
	return fmt.Sprintf("%s (%s)", s.SignedDifference(w.CentralK), between(s.Difference(w.LowK), s.Difference(w.HighK)))
}

// money writes an amount with thousands apart: "USD 12,300". Amounts are
// rounded: nobody knows a frost's cost to the dollar.
func money(v float64, currency string) string {
	switch a := math.Abs(v); {
	case math.IsNaN(v):
		return quantity.Unknown
	case a >= 10000:
		v = math.Round(v/100) * 100
	case a >= 1000:
		v = math.Round(v/10) * 10
	default:
		v = math.Round(v)
	}
	sign := ""
	if v < 0 {
		sign, v = "-", -v
	}
	digits := fmt.Sprintf("%.0f", v)
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	return strings.TrimSpace(currency + " " + sign + digits)
}

// percent writes a probability or share as a whole percentage.
func percent(p float64) string { return quantity.Percent(quantity.Share(p)) }

// surface writes a floor's state in the reader's units.
func surface(text string, s quantity.System) string {
	st, err := farm.ParseSurface(text)
	if err != nil {
		return text
	}
	switch st.Surface {
	case farm.Disked:
		return "disked " + s.Length(quantity.Metre(st.DepthM))
	case farm.Cover:
		return "cover " + s.Length(quantity.Metre(st.HeightM))
	case farm.Residue:
		return "shredded " + s.Length(quantity.Metre(st.HeightM))
	}
	return string(st.Surface)
}

// soon writes a moment as near as it is: the clock alone for the hours around
// now, the day with it beyond.
func soon(t, now time.Time, zone *time.Location) string {
	switch d := t.Sub(now); {
	case t.IsZero():
		return "unknown"
	case d > -10*time.Minute && d < 10*time.Minute:
		return "now"
	case t.In(zone).YearDay() == now.In(zone).YearDay() && d < 24*time.Hour && d > -24*time.Hour:
		return t.In(zone).Format("15:04")
	}
	return clockText(t, zone)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// sentence ends a text with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "?") {
		return capital(s)
	}
	return capital(s) + "."
}
