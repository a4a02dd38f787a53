package predict

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// gauss solves a z = b by elimination with pivots: the simple twin.
func gauss(a [][]float64, b []float64) []float64 {
	n := len(b)
	for i := range n {
		best := i
		for k := i + 1; k < n; k++ {
			if math.Abs(a[k][i]) > math.Abs(a[best][i]) {
				best = k
			}
		}
		a[i], a[best] = a[best], a[i]
		b[i], b[best] = b[best], b[i]
		for k := i + 1; k < n; k++ {
			f := a[k][i] / a[i][i]
			for j := i; j < n; j++ {
				a[k][j] -= f * a[i][j]
			}
			b[k] -= f * b[i]
		}
	}
	z := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		z[i] = b[i]
		for j := i + 1; j < n; j++ {
			z[i] -= a[i][j] * z[j]
		}
		z[i] /= a[i][i]
	}
	return z
}

// The shrunken fit, and the variance of a prediction from it, against plain
// elimination of (X'WX + Q) beta = X'Wy + Qm.
func TestSolveAgainstElimination(t *testing.T) {
	const tol = 1e-9 // rounding of sums of some hundred numbers of order one
	rng := rand.New(rand.NewPCG(1, 2))
	for round := range 50 {
		p, rows := 1+rng.IntN(8), rng.IntN(40)
		n := newNormal(p)
		full := make([][]float64, p)
		for i := range full {
			full[i] = make([]float64, p)
		}
		rhs, m, q, x := make([]float64, p), make([]float64, p), make([]float64, p), make([]float64, p)
		for i := range p {
			m[i], q[i] = rng.NormFloat64(), 0.1+rng.Float64()
			full[i][i] += q[i]
			rhs[i] += q[i] * m[i]
		}
		for range rows {
			for i := range x {
				x[i] = rng.NormFloat64()
			}
			y, w := rng.NormFloat64(), rng.Float64()
			n.add(x, y, w)
			for i := range p {
				rhs[i] += w * x[i] * y
				for j := range p {
					full[i][j] += w * x[i] * x[j]
				}
			}
		}
		clone := func() [][]float64 {
			out := make([][]float64, p)
			for i := range out {
				out[i] = slices.Clone(full[i])
			}
			return out
		}
		var s solution
		n.solve(m, q, &s)
		for i, want := range gauss(clone(), slices.Clone(rhs)) {
			if math.Abs(s.beta[i]-want) > tol {
				t.Errorf("round %d: effect %d is %g, want %g", round, i, s.beta[i], want)
			}
		}
		want := 0.0
		for i, v := range gauss(clone(), slices.Clone(x)) {
			want += x[i] * v
		}
		if got := s.variance(x, make([]float64, p)); math.Abs(got-want) > tol {
			t.Errorf("round %d: variance %g, want %g", round, got, want)
		}
	}
}

// With no data the answer is the prior; taking away what was added leaves nothing.
func TestSolveWithoutData(t *testing.T) {
	a, b, none := newNormal(2), newNormal(2), newNormal(2)
	a.add([]float64{1, 3}, 5, 2)
	b.plus(&a)
	none.minus(&a, &b)
	var s solution
	none.solve([]float64{7, -2}, []float64{1, 4}, &s)
	if s.beta[0] != 7 || s.beta[1] != -2 {
		t.Errorf("effects %v, want the prior 7 and -2", s.beta)
	}
}

// Members against hand-set quantiles: two items of weight 1 and 3 sit at 1/8 and
// 5/8 of the weight, the line between them passes the quarter at u = 0.25.
func TestMembers(t *testing.T) {
	got := members([]weighted{{0, 1}, {1, 3}}, 2) // at 0.25 and 0.75
	const tol = 1e-12
	if math.Abs(got[0]-0.25) > tol || got[1] != 1 {
		t.Errorf("members %v, want 0.25 and 1", got)
	}
}

// The band holds its share whatever part of the distribution is cut off at the
// lowest so far: members within it, counted. A member at each end may fall in or
// out, since the ends lie between members; and where more than the share is at the
// lowest so far, the band is that one value.
func TestBandShare(t *testing.T) {
	for past := 0; past <= Members; past += 4 {
		f := Forecast{PassedShare: float64(past) / Members}
		for k := range Members {
			f.MembersC = append(f.MembersC, math.Min(float64(k), float64(Members-past)))
		}
		for _, share := range []float64{0.5, 0.8} {
			b := f.Band(share)
			in := 0.0
			for _, m := range f.MembersC {
				if m >= b.LowC && m <= b.HighC {
					in++
				}
			}
			if want := math.Max(share*Members, float64(past)); math.Abs(in-want) > 2 {
				t.Errorf("%d past: %g members in the %g band %v", past, in, share, b)
			}
		}
	}
	f := Forecast{MembersC: []float64{1, 2, 3, 4}}
	if p := f.ProbBelow(2); p != 0.5 {
		t.Errorf("probability %g, want 0.5", p)
	}
}
