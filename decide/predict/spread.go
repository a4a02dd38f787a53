package predict

import (
	"math"
	"slices"
)

// Members is the number of equally likely minima a Forecast holds.
const Members = 100

// scaleFeatures are what the width of the band may depend on: how warm it is, how
// fast it falls, how clear and dry it is, how the days before went.
var scaleFeatures = []int{fOne, fAir, fRate1, fBelowMax, fHoursLeft, fMean48, fClear3, fGap, fDepression, fRain2}

const (
	scaleFloorK  = 0.3 // added to each residual before its logarithm is taken: a thermometer's own noise and rounding
	scalePrior   = 40  // nights' worth of belief that the width depends on nothing
	scaleMostLog = 1.0 // the width stays within a factor e of the pooled one
)

// scale is a multiplier of the pooled spread that depends on the row.
type scale struct {
	cols []int
	sol  solution
}

// learnScale regresses the logarithm of the squared residuals on what is known.
func learnScale(f *fit) scale {
	sc := scale{}
	for _, j := range scaleFeatures {
		if slices.Contains(f.cols, j) {
			sc.cols = append(sc.cols, j)
		}
	}
	p := len(sc.cols)
	n := newNormal(p)
	x := make([]float64, p)
	for i := range f.res {
		r := &f.res[i]
		sc.x(r.row, x)
		e2 := r.errK*r.errK + scaleFloorK*scaleFloorK
		n.add(x, math.Log(e2/(f.sd*f.sd)), r.weight)
	}
	prec := make([]float64, p)
	for k := range prec {
		prec[k] = scalePrior
	}
	prec[0] = 1
	// The logarithm of a squared normal deviate has a variance of pi^2/2.
	for k := range prec {
		prec[k] *= math.Pi * math.Pi / 2 / 5
	}
	n.solve(make([]float64, p), prec, &sc.sol)
	return sc
}

func (sc *scale) x(w *row, x []float64) {
	for k, j := range sc.cols {
		x[k] = w.x[j]
	}
}

// at returns the multiplier for a row; the level is left out, since the
// standardised residuals carry it.
func (sc *scale) at(w *row) float64 {
	v := 0.0
	for k, j := range sc.cols {
		if j != fOne {
			v += sc.sol.beta[k] * w.x[j]
		}
	}
	v /= 2
	return math.Exp(math.Max(-scaleMostLog, math.Min(scaleMostLog, v)))
}

// shape is the distribution of the standardised residuals: those of the samples,
// and a stated normal one with the weight of priorNights.
func shape(f *fit, sc *scale) []float64 {
	type item struct{ u, w float64 }
	items := make([]item, 0, len(f.res)+20)
	sum := 0.0
	for i := range f.res {
		r := &f.res[i]
		s := f.sd * sc.at(r.row)
		u := r.errK / math.Sqrt(s*s+r.varK2)
		items = append(items, item{u, r.weight})
		sum += r.weight
	}
	const points = 20
	for k := range points {
		p := (float64(k) + 0.5) / points
		items = append(items, item{math.Sqrt2 * math.Erfinv(2*p-1), priorNights / points})
		sum += priorNights / points
	}
	slices.SortFunc(items, func(a, b item) int {
		switch {
		case a.u < b.u:
			return -1
		case a.u > b.u:
			return 1
		}
		return 0
	})
	out := make([]float64, Members)
	cum, i := 0.0, 0
	for k := range out {
		want := (float64(k) + 0.5) / Members * sum
		// Each item sits at the middle of its weight; between two the value is on a
		// straight line.
		for i+1 < len(items) && cum+items[i].w+items[i+1].w/2 < want {
			cum += items[i].w
			i++
		}
		lo := cum + items[i].w/2
		if want <= lo || i+1 == len(items) {
			out[k] = items[i].u
			continue
		}
		hi := cum + items[i].w + items[i+1].w/2
		out[k] = items[i].u + (items[i+1].u-items[i].u)*(want-lo)/(hi-lo)
	}
	return out
}
