package predict

import (
	"math"
	"slices"
)

// fit is the model for one moment of one night: effects fitted to the samples,
// shrunk to the prior, and the residual each sample had in a fit that had not
// seen its fold.
type fit struct {
	cols      []int     // features used
	priorMean []float64 // K
	priorPrec []float64 // 1/K2
	sol       solution
	mean      []float64 // weighted mean of x over the samples; 0 without any
	sdK       float64   // pooled spread of the residuals
	folds     int
	blocks    bool // stretches of nights stand in for folds
	res       []residual
	nights    float64 // sum of the samples' weights
}

// residual is what a sample's remaining minimum was above its prediction from the
// other folds.
type residual struct {
	errK   float64
	varK2  float64 // variance of that prediction from not knowing the effects
	weight float64
	row    *row
}

// predictedC is the prediction the residual is of.
func (r *residual) predictedC() float64 { return r.row.laterC - r.errK }

const (
	// blockNights is the length of the stretches that stand in for folds when there
	// are fewer than minFolds: weather that hangs together lasts a few days.
	blockNights = 10
	minFolds    = 3
	// priorNights is the weight, in nights, of the stated spread and shape of the
	// residuals against those found.
	priorNights = 12.0
	// outlierSD is how far off, in pooled spreads, a night may be before it begins
	// to count for less.
	outlierSD = 2.0
)

// numberFolds numbers the samples' folds from 0.
func numberFolds(s []sample) (fold []int, n int, blocks bool) {
	fold = make([]int, len(s))
	seen := map[int]int{}
	for i := range s {
		k, ok := seen[s[i].fold]
		if !ok {
			k = len(seen)
			seen[s[i].fold] = k
		}
		fold[i] = k
	}
	if len(seen) >= minFolds {
		return fold, len(seen), false
	}
	for i := range s {
		fold[i] = i / blockNights
	}
	return fold, (len(s) + blockNights - 1) / blockNights, true
}

// newFit fits samples, in order of time, for a moment with leftH hours to
// sunrise, by the features of the groups in use. Two rounds: the first with the
// stated spread, the second with the one found and with outliers counting less.
func newFit(use groupSet, s []sample, leftH float64) *fit {
	f := &fit{sdK: priorSpread(leftH)}
	for j := range features {
		if use.has(features[j].group) {
			e := features[j].prior
			f.cols = append(f.cols, j)
			f.priorMean = append(f.priorMean, e.meanK*e.fade(leftH))
			f.priorPrec = append(f.priorPrec, math.Pow(e.sdK*e.fade(leftH), -2))
		}
	}
	xs := make([][]float64, len(s))
	f.mean = make([]float64, len(f.cols))
	for i := range s {
		xs[i] = f.x(s[i].row)
		f.nights += s[i].weight
		for k, v := range xs[i] {
			f.mean[k] += s[i].weight * v
		}
	}
	for k := range f.mean {
		f.mean[k] /= math.Max(f.nights, minWeight)
	}
	var fold []int
	fold, f.folds, f.blocks = numberFolds(s)
	weights := make([]float64, len(s))
	for i := range s {
		weights[i] = s[i].weight
	}
	f.round(s, xs, fold, weights, false)
	f.sdK = f.pooled(priorSpread(leftH))
	for i := range s {
		z := f.res[i].errK / (outlierSD * f.sdK)
		weights[i] = s[i].weight / math.Sqrt(1+z*z)
	}
	f.round(s, xs, fold, weights, true)
	f.sdK = f.pooled(priorSpread(leftH))
	return f
}

// x lists the features in use of a row.
func (f *fit) x(w *row) []float64 {
	out := make([]float64, len(f.cols))
	for k, j := range f.cols {
		out[k] = w.x[j]
	}
	return out
}

// round fits all samples, and for each fold those of the others. The variances of
// the predictions, half of the work, are only worked out when asked for.
func (f *fit) round(s []sample, xs [][]float64, fold []int, weights []float64, variances bool) {
	p := len(f.cols)
	parts := make([]normal, f.folds)
	for k := range parts {
		parts[k] = newNormal(p)
	}
	for i := range s {
		parts[fold[i]].add(xs[i], s[i].row.laterC-s[i].row.airC, weights[i])
	}
	all := newNormal(p)
	for k := range parts {
		all.plus(&parts[k])
	}
	// The effects' precision, in units of the residual variance.
	prec := slices.Clone(f.priorPrec)
	for k := range prec {
		prec[k] *= f.sdK * f.sdK
	}
	f.res = make([]residual, len(s))
	rest, tmp := newNormal(p), make([]float64, p)
	var sol solution
	for k := range parts {
		rest.minus(&all, &parts[k])
		rest.solve(f.priorMean, prec, &sol)
		for i := range s {
			if fold[i] == k {
				w := s[i].row
				f.res[i] = residual{errK: w.laterC - w.airC - sol.value(xs[i]), weight: s[i].weight, row: w}
				if variances {
					f.res[i].varK2 = f.sdK * f.sdK * sol.variance(xs[i], tmp)
				}
			}
		}
	}
	all.solve(f.priorMean, prec, &f.sol)
}

// pooled is the spread of the residuals in folds not seen, less what not knowing
// the effects adds, held to the stated one.
func (f *fit) pooled(statedK float64) float64 {
	sum, n := 0.0, 0.0
	for i := range f.res {
		r := &f.res[i]
		sum += r.weight * (r.errK*r.errK - r.varK2)
		n += r.weight
	}
	return math.Sqrt((priorNights*statedK*statedK + math.Max(sum, 0)) / (priorNights + n))
}
