package trial

import (
	"math"
	"testing"
)

// Critical values of Student's t as printed in the NIST/SEMATECH e-Handbook of
// Statistical Methods, 1.3.6.7.2, upper tail 0.05, 0.025, 0.005.
func TestTQuantile(t *testing.T) {
	const tol = 0.0006 // printed to three digits
	for _, c := range []struct{ df, p90, p95, p99 float64 }{
		{1, 6.314, 12.706, 63.657}, {2, 2.920, 4.303, 9.925}, {3, 2.353, 3.182, 5.841}, {5, 2.015, 2.571, 4.032}, {8, 1.860, 2.306, 3.355},
		{10, 1.812, 2.228, 3.169}, {18, 1.734, 2.101, 2.878}, {30, 1.697, 2.042, 2.750}, {100, 1.660, 1.984, 2.626},
	} {
		for conf, want := range map[float64]float64{0.9: c.p90, 0.95: c.p95, 0.99: c.p99} {
			if got := tQuantile(conf, c.df); math.Abs(got-want) > tol {
				t.Errorf("t(%v, %v) = %.4f, want %.3f", conf, c.df, got, want)
			}
		}
	}
}

// With broken degrees of freedom the area between -t and t, by Simpson's rule on
// the density itself, is the confidence.
func TestTQuantileBrokenFreedom(t *testing.T) {
	for _, df := range []float64{1.5, 2.7, 7.3, 17.776, 44.4} {
		for _, conf := range []float64{0.5, 0.8, 0.95} {
			edge := tQuantile(conf, df)
			a, _ := math.Lgamma((df + 1) / 2)
			b, _ := math.Lgamma(df / 2)
			scale := math.Exp(a-b) / math.Sqrt(df*math.Pi)
			const n = 2000
			sum := 0.0
			for i := 0; i <= n; i++ {
				w := 2.0
				if i%2 == 1 {
					w = 4
				}
				if i == 0 || i == n {
					w = 1
				}
				sum += w * scale * math.Exp(tLogDensity(edge*float64(i)/n, df))
			}
			// Simpson with 2000 steps of a smooth density is good to 1e-9 by far.
			if area := 2 * sum * edge / n / 3; math.Abs(area-conf) > 1e-9 {
				t.Errorf("t(%v, %v): area %.12f", conf, df, area)
			}
		}
	}
}
