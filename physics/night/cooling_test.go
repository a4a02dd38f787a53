package night

import (
	"errors"
	"math"
	"testing"

	"budward/physics/quantity"
)

// Want: the example worked out by hand from the equation in the project's
// collection of sources (T0 = 4, Tp = -4, 11 h), to two decimals.
func TestCoolingExample(t *testing.T) {
	const tol = 0.005 // the example is rounded to 0.01
	c := Cooling{StartC: 4, MinimumC: -4, SpanH: 11}
	for _, x := range []struct {
		at   float64
		want quantity.Celsius
	}{{0, 4}, {1, 1.59}, {3, -0.18}, {6, -1.91}, {9, -3.24}, {11, -4}} {
		got, err := c.At(x.at)
		if err != nil || math.Abs(float64(got-x.want)) > tol {
			t.Errorf("after %g h: %v, %v; want %v", x.at, got, err, x.want)
		}
	}
}

// Half of the fall is reached after a quarter of the time: sqrt(1/4) = 1/2.
func TestCoolingHalfAtQuarter(t *testing.T) {
	for _, h := range []float64{4, 8, 12} {
		got, err := Cooling{StartC: 7, MinimumC: -3, SpanH: h}.At(h / 4)
		if err != nil || math.Abs(float64(got-2)) > 1e-12 { // rounding only
			t.Errorf("H = %g: %v, %v; want 2", h, got, err)
		}
	}
}

func TestCoolingRefuses(t *testing.T) {
	nan := math.NaN()
	for name, x := range map[string]struct {
		c  Cooling
		at float64
	}{
		"past sunrise":         {Cooling{4, -4, 11}, 11.01},
		"before the start":     {Cooling{4, -4, 11}, -0.1},
		"minimum above start":  {Cooling{4, 5, 11}, 3},
		"no hours":             {Cooling{4, -4, 0}, 0},
		"a day long":           {Cooling{4, -4, 24}, 3},
		"unknown start":        {Cooling{quantity.Celsius(nan), -4, 11}, 3},
		"unknown minimum":      {Cooling{4, quantity.Celsius(nan), 11}, 3},
		"unknown hours":        {Cooling{4, -4, nan}, 3},
		"unknown moment":       {Cooling{4, -4, 11}, nan},
		"hotter than an April": {Cooling{36, -4, 11}, 3},
	} {
		if _, err := x.c.At(x.at); !errors.As(err, new(*quantity.RangeError)) {
			t.Errorf("%s: error %v, want *quantity.RangeError", name, err)
		}
	}
}
