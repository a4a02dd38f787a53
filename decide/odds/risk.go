// Package odds says how often something that may happen in any one year is to be
// expected over the life of vines or of equipment.
package odds

import (
	"math"

	"budward/physics/quantity"
)

// MaxYears bounds the period Risk speaks of.
const MaxYears = 1000

const riskSource = "risk over independent years"

// Risk returns the chance (0..1) that an event with probability p in any one
// year happens at least once in a run of years:
//
//	R = 1 - (1 - p)^n
//
// It takes the years as independent and alike; a warming climate, or springs
// that come in runs, break that. Valid for 0 <= p <= 1 and 0 <= n <= 1000 (n need
// not be whole); otherwise, and for NaN, a *quantity.RangeError.
// Source: an identity of probability; the words "probability" (of one year) and
// "risk" (of the period) as in Snyder & de Melo-Abreu (2005), vol. 2.
func Risk(p quantity.Share, years float64) (quantity.Share, error) {
	if err := quantity.InRange("probability in a year", float64(p), 0, 1, "", riskSource); err != nil {
		return 0, err
	}
	if err := quantity.InRange("years", years, 0, MaxYears, "a", riskSource); err != nil {
		return 0, err
	}
	if years == 0 {
		return 0, nil
	}
	// -expm1(n log1p(-p)) keeps the digits of a small p.
	return quantity.Share(-math.Expm1(years * math.Log1p(-float64(p)))), nil
}
