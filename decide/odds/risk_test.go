package odds

import (
	"errors"
	"math"
	"testing"

	"budward/physics/quantity"
)

func TestRisk(t *testing.T) {
	const tol = 1e-12 // rounding only
	for _, c := range []struct {
		p     quantity.Share
		years float64
		want  float64
	}{
		// By hand: 1 - 0.9^2; 1 - 0.5^3; 1 - 0.8^5 = 1 - 0.32768.
		{0.1, 2, 0.19}, {0.5, 3, 0.875}, {0.2, 5, 0.67232},
		{0.3, 1, 0.3}, {0, 40, 0}, {1, 1, 1}, {1, 0, 0}, {0.4, 0, 0},
		// n p for tiny p, to first order; the next term is 1e-24.
		{1e-13, 20, 2e-12},
	} {
		got, err := Risk(c.p, c.years)
		if err != nil || math.Abs(float64(got)-c.want) > tol {
			t.Errorf("Risk(%v, %v) = %v, %v; want %v", c.p, c.years, got, err, c.want)
		}
	}
}

// Simple twin: years drawn one after another.
func TestRiskAgainstYearByYear(t *testing.T) {
	for _, p := range []float64{0.03, 0.2, 0.65} {
		spared := 1.0
		for n := 1; n <= 60; n++ {
			spared *= 1 - p
			got, err := Risk(quantity.Share(p), float64(n))
			if err != nil || math.Abs(float64(got)-(1-spared)) > 1e-12 { // rounding only
				t.Fatalf("Risk(%v, %d) = %v, %v; want %v", p, n, got, err, 1-spared)
			}
		}
	}
}

func TestRiskRefuses(t *testing.T) {
	for _, c := range []struct {
		p     float64
		years float64
	}{{-0.1, 5}, {1.1, 5}, {math.NaN(), 5}, {0.1, -1}, {0.1, MaxYears + 1}, {0.1, math.NaN()}} {
		if _, err := Risk(quantity.Share(c.p), c.years); !errors.As(err, new(*quantity.RangeError)) {
			t.Errorf("Risk(%v, %v): error %v, want *quantity.RangeError", c.p, c.years, err)
		}
	}
}
