package weather

import (
	"math"
	"math/rand/v2"
	"slices"
)

// normalScores returns n numbers that stand for the standard normal: the
// quantiles at (i+1/2)/n, scaled so that their mean is 0 and their standard
// deviation exactly 1. They are symmetric, so the mean is 0 by pairs.
func normalScores(n int) []float64 {
	z := make([]float64, n)
	ss := 0.0
	for i := range z {
		z[i] = normalQuantile((float64(i) + 0.5) / float64(n))
		ss += z[i] * z[i]
	}
	if ss == 0 {
		return z // n == 1: the middle
	}
	scale := math.Sqrt(float64(n) / ss)
	for i := range z {
		z[i] *= scale
	}
	return z
}

// normalQuantile is the inverse of the standard normal distribution function.
func normalQuantile(p float64) float64 { return -math.Sqrt2 * math.Erfinv(1-2*p) }

// normalCDF is the standard normal distribution function.
func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// shuffled returns scores in random order: one stratified (Latin hypercube)
// column.
func shuffled(scores []float64, rng *rand.Rand) []float64 {
	out := slices.Clone(scores)
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// restratify replaces x by scores of the same ranks, so that a sum of
// stratified columns is stratified again (Iman and Conover 1982, from memory).
func restratify(x, scores []float64) []float64 {
	idx := make([]int, len(x))
	for i := range idx {
		idx[i] = i
	}
	slices.SortFunc(idx, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return a - b
	})
	out := make([]float64, len(x))
	for rank, i := range idx {
		out[i] = scores[rank]
	}
	return out
}

// mix returns a*x + sqrt(1-a^2)*y, restratified: correlation a with x.
func mix(a float64, x, y, scores []float64) []float64 {
	b := math.Sqrt(1 - a*a)
	out := make([]float64, len(x))
	for i := range out {
		out[i] = a*x[i] + b*y[i]
	}
	return restratify(out, scores)
}

// decorrelate returns y with its sample correlation to each of xs taken out.
// Random permutations of 100 members are correlated by 0.1 or so by chance;
// without this the wanted correlations would wander by as much.
func decorrelate(y []float64, scores []float64, xs ...[]float64) []float64 {
	out := slices.Clone(y)
	n := float64(len(y))
	for range 2 { // the xs are not quite orthogonal: a second pass finishes
		for _, x := range xs {
			c := 0.0
			for i := range out {
				c += out[i] * x[i] / n
			}
			for i := range out {
				out[i] -= c * x[i]
			}
		}
	}
	return restratify(out, scores)
}

// nightDraws are the night-scale standard errors: [night][member].
type nightDraws struct {
	temp, dew, cloud, wind [][]float64
}

// drawNights draws correlated, stratified standard normal errors for each night
// and variable. Successive nights are correlated by m.NightCorr; dew point,
// cloud and wind with temperature of the same night as m says.
func drawNights(m *ErrorModel, nights, n int, rng *rand.Rand) nightDraws {
	scores := normalScores(n)
	chain := func(prev []float64, others ...[]float64) []float64 {
		g := shuffled(scores, rng)
		if prev == nil {
			return decorrelate(g, scores, others...)
		}
		g = decorrelate(g, scores, append([][]float64{prev}, others...)...)
		return mix(m.NightCorr, prev, g, scores)
	}
	var d nightDraws
	var temp []float64
	var own [3][]float64 // the parts of dew point, cloud and wind apart from temperature
	for range nights {
		temp = chain(temp)
		d.temp = append(d.temp, temp)
		for j, a := range [3]float64{m.TempDew, m.TempCloud, m.TempWind} {
			own[j] = decorrelate(chain(own[j], temp), scores, temp)
			z := mix(a, temp, own[j], scores)
			switch j {
			case 0:
				d.dew = append(d.dew, z)
			case 1:
				d.cloud = append(d.cloud, z)
			case 2:
				d.wind = append(d.wind, z)
			}
		}
	}
	return d
}
