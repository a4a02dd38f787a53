package weather

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestScorePairs(t *testing.T) {
	// By hand: differences 1, -2, 4.
	s := ScorePairs([]float64{1, 0, 5, nan}, []float64{0, 2, 1, 3})
	if s.N != 3 || s.Left != 1 || !same(s.BiasK, 1) || !same(s.MAEK, 7.0/3) || !same(s.RMSEK, math.Sqrt(7)) {
		t.Errorf("score %+v", s)
	}
	if s := ScorePairs(nil, nil); s.N != 0 || !math.IsNaN(s.BiasK) {
		t.Errorf("no pairs: %+v", s)
	}
}

// CRPS against its definition, the integral of (F(z) - 1{z >= y})^2, which for
// a step function is a sum of rectangles between the sorted points.
func TestCRPSIntegralTwin(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(r, "n")
		x, w := make([]float64, n), make([]float64, n)
		total := 0.0
		for i := range x {
			x[i] = rapid.Float64Range(-20, 20).Draw(r, "x")
			w[i] = rapid.Float64Range(0.01, 1).Draw(r, "w")
			total += w[i]
		}
		y := rapid.Float64Range(-25, 25).Draw(r, "y")
		edges := append([]float64{y}, x...)
		want := 0.0
		for i := range edges {
			next := math.Inf(1)
			for _, e := range edges {
				if e > edges[i] && e < next {
					next = e
				}
			}
			twinSeen := false
			for k := range i {
				twinSeen = twinSeen || edges[k] == edges[i]
			}
			if math.IsInf(next, 1) || twinSeen {
				continue
			}
			F := 0.0
			for j := range x {
				if x[j] <= edges[i] {
					F += w[j] / total
				}
			}
			if y <= edges[i] {
				F--
			}
			want += F * F * (next - edges[i])
		}
		got, err := CRPS(x, w, y)
		// Both are sums of a dozen terms of size 40: rounding stays below 1e-10.
		if err != nil || math.Abs(got-want) > 1e-10 {
			r.Fatalf("CRPS(%v, %v, %v) = %v, %v; want %v", x, w, y, got, err, want)
		}
	})
}

// The CRPS of a normal forecast has a closed form (Gneiting and Raftery 2007,
// eq. 19, from memory): s [z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)].
func TestCRPSNormal(t *testing.T) {
	const s = 1.7
	x := normalScores(4000)
	for i := range x {
		x[i] *= s
	}
	for _, z := range []float64{-2, -0.5, 0, 1, 3} {
		want := s * (z*(2*normalCDF(z)-1) + 2*math.Exp(-z*z/2)/math.Sqrt(2*math.Pi) - 1/math.Sqrt(math.Pi))
		got, err := CRPS(x, nil, z*s)
		if err != nil || math.Abs(got-want) > 0.002 { // 4000 points stand for a continuum
			t.Errorf("z %v: %v, %v; want %v", z, got, err, want)
		}
	}
}

func TestQuantile(t *testing.T) {
	x := []float64{4, 1, 3, 2} // middles at 1/8, 3/8, 5/8, 7/8
	for _, c := range []struct{ p, want float64 }{{0, 1}, {0.125, 1}, {0.25, 1.5}, {0.5, 2.5}, {0.875, 4}, {1, 4}} {
		if got, err := Quantile(x, nil, c.p); err != nil || !same(got, c.want) {
			t.Errorf("quantile %v = %v, %v; want %v", c.p, got, err, c.want)
		}
	}
	// A weight of two is the member written twice, up to the plateau between
	// the twins: the middle of a double weight is the middle of the twins.
	got, err := Quantile([]float64{1, 5}, []float64{3, 1}, 3.0/8)
	if err != nil || !same(got, 1) {
		t.Errorf("weighted: %v, %v", got, err)
	}
	for name, f := range map[string]func() (float64, error){
		"empty":    func() (float64, error) { return Quantile(nil, nil, 0.5) },
		"p":        func() (float64, error) { return Quantile(x, nil, 1.1) },
		"NaN":      func() (float64, error) { return Quantile([]float64{1, nan}, nil, 0.5) },
		"weights":  func() (float64, error) { return Quantile(x, []float64{0, 0, 0, 0}, 0.5) },
		"measured": func() (float64, error) { return CRPS(x, nil, nan) },
	} {
		if v, err := f(); !errors.As(err, new(*InputError)) || !math.IsNaN(v) {
			t.Errorf("%s: %v, %v; want NaN and *InputError", name, v, err)
		}
	}
}

func TestBandCoverage(t *testing.T) {
	share, n := BandCoverage([]float64{0, 0, 0, nan}, []float64{1, 1, 1, 1}, []float64{0, 2, 1, 0.5})
	if n != 3 || !same(share, 2.0/3) {
		t.Errorf("%v of %d", share, n)
	}
	// An ensemble's own 80 % band holds 80 % of its members.
	x := normalScores(1000)
	lo, _ := Quantile(x, nil, 0.1)
	hi, _ := Quantile(x, nil, 0.9)
	in := 0
	for _, v := range x {
		if v >= lo && v <= hi {
			in++
		}
	}
	if in != 800 {
		t.Errorf("%d of 1000 members in the 80 %% band", in)
	}
}
