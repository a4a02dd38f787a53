package predict

import (
	"math"
	"slices"
)

// widthFeatures are what the width of the band may depend on: how warm it is and
// when in the year, how fast it falls, how clear and dry it is, how the days
// before went.
var widthFeatures = []int{fOne, fAir, fSeasonSin, fSeasonCos, fRate1, fBelowMax, fHoursLeft, fMean48, fClear3, fGap, fDepression, fRain2}

const (
	roundingK = 0.3 // added, squared, to a squared residual before its logarithm is taken: the noise of the thermometers
	// widthNights is the weight, in nights, of the belief that the width depends on
	// nothing; levelNights that on its level.
	widthNights = 15.0
	levelNights = 1.0
	// widthMostLn bounds the logarithm of the width's ratio to the pooled spread:
	// beyond a factor e the regression would be carried past what it was made from.
	widthMostLn = 1.0
)

// width is the multiplier of the pooled spread, by row.
type width struct {
	cols []int
	sol  solution
}

// learnWidth regresses the logarithm of the squared residuals on what is known.
func learnWidth(f *fit) width {
	wd := width{}
	for _, j := range widthFeatures {
		if slices.Contains(f.cols, j) {
			wd.cols = append(wd.cols, j)
		}
	}
	p := len(wd.cols)
	n := newNormal(p)
	x := make([]float64, p)
	for i := range f.res {
		r := &f.res[i]
		for k, j := range wd.cols {
			x[k] = r.row.x[j]
		}
		n.add(x, math.Log((r.errK*r.errK+roundingK*roundingK)/(f.sdK*f.sdK)), r.weight)
	}
	prec := make([]float64, p)
	for k, j := range wd.cols {
		prec[k] = widthNights
		if j == fOne {
			prec[k] = levelNights
		}
	}
	n.solve(make([]float64, p), prec, &wd.sol)
	return wd
}

// at returns the multiplier. The level is left out: the standardised residuals
// carry it.
func (wd *width) at(w *row) float64 {
	v := 0.0
	for k, j := range wd.cols {
		if j != fOne {
			v += wd.sol.beta[k] * w.x[j] / 2
		}
	}
	return math.Exp(math.Max(-widthMostLn, math.Min(widthMostLn, v)))
}

const (
	// likeSD is the width, in standard deviations of the predictions about their
	// seasonal course, of the normal curve by which residuals of like predictions
	// count.
	likeSD = 0.5
	// likeSeason sharpens the weight by season: its third power beside the weight
	// itself makes 50 days into 25.
	likeSeason = 3
	// likeFloor is the weight kept by any residual, so that a prediction unlike all
	// others still has some.
	likeFloor = 0.02
)

// alike weighs the residuals by how near their prediction and their date lie to
// those of row w, predicted at predictedC.
func (f *fit) alike(w *row, predictedC float64) []float64 {
	course := func(r *row) []float64 { return []float64{1, r.x[fSeasonSin], r.x[fSeasonCos]} }
	n := newNormal(3)
	for i := range f.res {
		n.add(course(f.res[i].row), f.res[i].predictedC(), f.res[i].weight)
	}
	var s solution
	n.solve(make([]float64, 3), []float64{1e-6, 0.1, 0.1}, &s)
	out := make([]float64, len(f.res))
	sum, sq := 0.0, 0.0
	for i := range f.res {
		r := &f.res[i]
		out[i] = r.predictedC() - s.value(course(r.row))
		sum += r.weight
		sq += r.weight * out[i] * out[i]
	}
	sd := math.Sqrt(sq/math.Max(sum, minWeight)) + roundingK
	at := predictedC - s.value(course(w))
	for i := range out {
		d := (out[i] - at) / (likeSD * sd)
		weight := f.res[i].weight
		out[i] = weight * (likeFloor + math.Pow(weight, likeSeason)*math.Exp(-d*d/2))
	}
	return out
}

type weighted struct{ u, w float64 }

// shape is the distribution of the standardised residuals: those of the samples,
// alike ones counting most, and a stated normal one with the weight of
// priorNights.
func (f *fit) shape(wd *width, w *row, predictedC float64) []weighted {
	like := f.alike(w, predictedC)
	out := make([]weighted, 0, len(f.res)+Members)
	for i := range f.res {
		r := &f.res[i]
		s := f.sdK * wd.at(r.row)
		out = append(out, weighted{r.errK / math.Sqrt(s*s+r.varK2), like[i]})
	}
	const points = 20
	for k := range points {
		p := (float64(k) + 0.5) / points
		out = append(out, weighted{math.Sqrt2 * math.Erfinv(2*p-1), priorNights / points})
	}
	slices.SortFunc(out, func(a, b weighted) int {
		switch {
		case a.u < b.u:
			return -1
		case a.u > b.u:
			return 1
		}
		return 0
	})
	return out
}

// members returns n equally likely values of a distribution given as sorted
// weighted items. Each item sits at the middle of its weight, values between lie
// on straight lines, none lies beyond the end items.
func members(items []weighted, n int) []float64 {
	sum := 0.0
	for i := range items {
		sum += items[i].w
	}
	out := make([]float64, n)
	below, i := 0.0, 0
	for k := range out {
		want := (float64(k) + 0.5) / float64(n) * sum
		for i+1 < len(items) && below+items[i].w+items[i+1].w/2 < want {
			below += items[i].w
			i++
		}
		lo := below + items[i].w/2
		if want <= lo || i+1 == len(items) {
			out[k] = items[i].u
			continue
		}
		hi := below + items[i].w + items[i+1].w/2
		out[k] = items[i].u + (items[i+1].u-items[i].u)*(want-lo)/(hi-lo)
	}
	return out
}
