package trial

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// tQuantile is the two-sided quantile of Student's t: a t beyond which, on either
// side, lies 1 - conf. df may be broken (Satterthwaite) and is above 0.
//
// If x is the conf-quantile of t^2/(df + t^2), which is Beta(1/2, df/2),
//
//	t = sqrt(df x / (1 - x)).
//
// Reference: Abramowitz & Stegun 26.7.1 (from memory); held against a published
// table in TestTQuantile.
func tQuantile(conf, df float64) float64 {
	x := mathext.InvRegIncBeta(0.5, df/2, conf)
	return math.Sqrt(df * x / (1 - x))
}

// tLogDensity is the logarithm of Student's t density, up to a constant that does
// not depend on t.
func tLogDensity(t, df float64) float64 { return -(df + 1) / 2 * math.Log1p(t*t/df) }
