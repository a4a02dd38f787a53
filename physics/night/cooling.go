// Package night is the course of the air temperature through one radiative
// night where nothing but an evening reading and an expected minimum is known:
// the quick rule for desk checks. The hourly physics of a floor is package
// floor.
package night

import (
	"math"

	"budward/physics/quantity"
)

// Cooling is a night's fall of temperature from two hours after sunset to
// sunrise.
type Cooling struct {
	StartC   quantity.Celsius // two hours after sunset
	MinimumC quantity.Celsius // expected at sunrise
	SpanH    float64          // from two hours after sunset to sunrise
}

// maxNightH is the longest stretch the rule is used for: from two hours after
// sunset to sunrise in midwinter at 55 degrees of latitude.
const maxNightH = 15

const coolingSource = "square-root cooling, FAO frost protection book (2005), ch. 5"

// At returns the temperature hours after the start:
//
//	T(t) = T0 + (Tp - T0) sqrt(t / H)
//
// the square root of time that follows from a constant loss of heat at the
// surface of a half-space (Brunt). Valid on clear nights with light wind, for
// 0 <= hours <= H, 1 <= H <= 15 h, minimum at or below the start, both within
// -30..35 degC; otherwise, and for NaN, a *quantity.RangeError and no number.
// Cloud, fog, wind and cold-air drainage break it: it tells a usual course, good
// to a degree or two between its two ends.
//
// Source: Snyder & de Melo-Abreu (2005), ch. 5 (from memory); the same idea in
// Reuter (1947, 1951).
func (c Cooling) At(hours float64) (quantity.Celsius, error) {
	for _, r := range []struct {
		name      string
		v, lo, hi float64
		unit      string
	}{
		{"start temperature", float64(c.StartC), -30, 35, "degC"},
		{"minimum temperature", float64(c.MinimumC), -30, float64(c.StartC), "degC"},
		{"hours from start to sunrise", c.SpanH, 1, maxNightH, "h"},
		{"hours after start", hours, 0, c.SpanH, "h"},
	} {
		if err := quantity.InRange(r.name, r.v, r.lo, r.hi, r.unit, coolingSource); err != nil {
			return 0, err
		}
	}
	return c.StartC + (c.MinimumC-c.StartC)*quantity.Celsius(math.Sqrt(hours/c.SpanH)), nil
}
