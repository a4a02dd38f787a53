package predict

import (
	"math"
	"slices"
)

// fit is the model for one moment of one night: coefficients fitted to the
// samples, shrunk to the prior, and the residuals each sample had in a fit that
// had not seen its fold.
type fit struct {
	cols  []int // features used
	prior struct{ mean, prec []float64 }
	sol   solution
	mean  []float64 // weighted mean of x over the samples; 0 without any
	sd    float64   // K, pooled residual
	folds int

	res []residual
	eff float64 // sum of weights
}

// residual is what a sample's remaining minimum was above its prediction from the
// other folds.
type residual struct {
	errK   float64
	varK2  float64 // variance of that prediction from its coefficients
	weight float64
	row    *row
}

// blockNights is the length of the stretches that stand in for folds when there
// are fewer than three.
const blockNights = 10

// foldOf numbers the samples' folds from 0.
func foldOf(s []sample) ([]int, int) {
	out := make([]int, len(s))
	seen := map[int]int{}
	for i := range s {
		k, ok := seen[s[i].fold]
		if !ok {
			k = len(seen)
			seen[s[i].fold] = k
		}
		out[i] = k
	}
	if len(seen) >= 3 {
		return out, len(seen)
	}
	for i := range s { // stretches of successive nights
		out[i] = i / blockNights
	}
	return out, (len(s) + blockNights - 1) / blockNights
}

func newFit(use groupSet, leftH float64) *fit {
	f := &fit{}
	for j := range features {
		if use.has(features[j].group) {
			f.cols = append(f.cols, j)
			e := features[j].prior
			fade := e.fade(leftH)
			f.prior.mean = append(f.prior.mean, e.meanK*fade)
			f.prior.prec = append(f.prior.prec, 1/(e.sdK*fade*e.sdK*fade))
		}
	}
	f.mean = make([]float64, len(f.cols))
	return f
}

func (f *fit) x(w *row) []float64 {
	out := make([]float64, len(f.cols))
	for k, j := range f.cols {
		out[k] = w.x[j]
	}
	return out
}

// learn fits the samples. Two rounds: the first with the prior's residual spread,
// the second with the one found.
func (f *fit) learn(s []sample, leftH float64) {
	p := len(f.cols)
	f.sd = priorSpread(leftH)
	fold, folds := foldOf(s)
	f.folds = folds
	xs := make([][]float64, len(s))
	parts := make([]normal, folds)
	for k := range parts {
		parts[k] = newNormal(p)
	}
	all := newNormal(p)
	for i := range s {
		xs[i] = f.x(s[i].row)
		parts[fold[i]].add(xs[i], s[i].row.laterC-s[i].row.airC, s[i].weight)
		f.eff += s[i].weight
		for k, v := range xs[i] {
			f.mean[k] += s[i].weight * v
		}
	}
	for k := range parts {
		all.plus(&parts[k])
	}
	if f.eff > 0 {
		for k := range f.mean {
			f.mean[k] /= f.eff
		}
	}
	f.res = make([]residual, len(s))
	rest, tmp := newNormal(p), make([]float64, p)
	var sol solution
	for range 2 {
		prec := f.precision()
		for k := range parts {
			rest.minus(&all, &parts[k])
			rest.solve(f.prior.mean, prec, &sol)
			for i := range s {
				if fold[i] == k {
					w := s[i].row
					f.res[i] = residual{w.laterC - w.airC - sol.value(xs[i]), f.sd * f.sd * sol.variance(xs[i], tmp), s[i].weight, w}
				}
			}
		}
		f.sd = f.pooled(leftH)
	}
	all.solve(f.prior.mean, f.precision(), &f.sol)
}

// precision is the prior's precision in units of the residual variance.
func (f *fit) precision() []float64 {
	out := slices.Clone(f.prior.prec)
	for k := range out {
		out[k] *= f.sd * f.sd
	}
	return out
}

// priorNights is the weight, in nights, of the stated spread against the one
// found.
const priorNights = 12.0

// pooled is the residual spread: that of the samples in folds not seen, and the
// stated one.
func (f *fit) pooled(leftH float64) float64 {
	s0 := priorSpread(leftH)
	sum, n := priorNights*s0*s0, priorNights
	for i := range f.res {
		r := &f.res[i]
		sum += r.weight * math.Max(r.errK*r.errK-r.varK2, 0)
		n += r.weight
	}
	return math.Sqrt(sum / n)
}

// priorSpread is the stated spread, in K, of the remaining minimum about its
// prediction with leftH hours to sunrise, before any night is known.
func priorSpread(leftH float64) float64 {
	return 0.9 + 0.2*math.Max(leftH, 0)
}
