package weather

import (
	"fmt"
	"math"
	"slices"
)

// Score sums up how forecasts did against what was measured.
type Score struct {
	N     int     `json:"n"`
	BiasK float64 `json:"bias_k"` // mean of forecast minus measured; NaN without pairs
	RMSEK float64 `json:"rmse_k"`
	MAEK  float64 `json:"mae_k"`
	Left  int     `json:"left_out"` // pairs with a gap on either side
}

// ScorePairs compares forecasts with measurements of the same things, pair by
// pair: bias = mean(f - o), RMSE = sqrt(mean((f-o)^2)), MAE = mean|f - o|.
// Pairs in which either is NaN are left out and counted. Note the sign: a
// positive bias is a forecast too warm (LeadError.BiasK, which is added to the
// forecast, has the other sign).
func ScorePairs(forecast, measured []float64) Score {
	if len(forecast) != len(measured) {
		panic("weather: ScorePairs: lengths differ")
	}
	s := Score{}
	sum, sq, abs := 0.0, 0.0, 0.0
	for i, f := range forecast {
		d := f - measured[i]
		if math.IsNaN(d) || math.IsInf(d, 0) {
			s.Left++
			continue
		}
		s.N++
		sum, sq, abs = sum+d, sq+d*d, abs+math.Abs(d)
	}
	n := float64(s.N) // 0/0 = NaN: unknown
	s.BiasK, s.RMSEK, s.MAEK = sum/n, math.Sqrt(sq/n), abs/n
	return s
}

// sortWeighted returns the members in order with weights that add up to one; w
// nil = equal weights.
func sortWeighted(x, w []float64) (xs, ws []float64, err error) {
	if len(x) == 0 {
		return nil, nil, &InputError{"ensemble", "empty", "at least one member"}
	}
	if w != nil && len(w) != len(x) {
		panic("weather: members and weights differ in length")
	}
	idx := make([]int, len(x))
	for i := range idx {
		idx[i] = i
	}
	slices.SortStableFunc(idx, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return 0
	})
	total := 0.0
	for _, i := range idx {
		wi := 1.0
		if w != nil {
			wi = w[i]
		}
		if math.IsNaN(x[i]) || !(wi >= 0) || math.IsInf(wi, 0) {
			return nil, nil, &InputError{"ensemble member", fmt.Sprintf("%v with weight %v", x[i], wi), "a number with a weight of zero or more"}
		}
		xs, ws = append(xs, x[i]), append(ws, wi)
		total += wi
	}
	if !(total > 0) {
		return nil, nil, &InputError{"ensemble weights", "all zero", "a positive sum"}
	}
	for i := range ws {
		ws[i] /= total
	}
	return xs, ws, nil
}

// Quantile returns the p-quantile (0..1) of weighted members; w nil = equal
// weights. Each member sits at the middle of its weight and values between are
// on straight lines (Hazen's plotting position; Hyndman and Fan 1996, type 5,
// from memory); before the first and after the last middle it is the end
// member, so no value outside the ensemble is made up.
func Quantile(x, w []float64, p float64) (float64, error) {
	if !(p >= 0 && p <= 1) {
		return nan, &InputError{"quantile", fmt.Sprint(p), "a share from 0 to 1"}
	}
	xs, ws, err := sortWeighted(x, w)
	if err != nil {
		return nan, err
	}
	cum := 0.0
	prevMid, prevX := math.Inf(-1), xs[0]
	for i, xi := range xs {
		mid := cum + ws[i]/2
		cum += ws[i]
		if ws[i] == 0 {
			continue
		}
		if p <= mid {
			if math.IsInf(prevMid, -1) {
				return xi, nil
			}
			return prevX + (xi-prevX)*(p-prevMid)/(mid-prevMid), nil
		}
		prevMid, prevX = mid, xi
	}
	return prevX, nil
}

// CRPS returns the continuous ranked probability score of an ensemble against
// what was measured, in the unit of the members; 0 is perfect, and for one
// member it is the absolute error.
//
//	CRPS = sum w_i |x_i - y| - 1/2 sum w_i w_j |x_i - x_j|
//
// Reference: Gneiting and Raftery (2007), J. Am. Stat. Assoc. 102:359-378,
// eq. 21 (kernel form, from memory).
func CRPS(x, w []float64, measured float64) (float64, error) {
	xs, ws, err := sortWeighted(x, w)
	if err != nil {
		return nan, err
	}
	if math.IsNaN(measured) {
		return nan, &InputError{"measured value", "NaN", "a number"}
	}
	abs, pair := 0.0, 0.0
	cumW, cumWX := 0.0, 0.0 // sums over the members below
	for i, xi := range xs {
		abs += ws[i] * math.Abs(xi-measured)
		pair += ws[i] * (xi*cumW - cumWX) // each unordered pair once
		cumW += ws[i]
		cumWX += ws[i] * xi
	}
	return abs - pair, nil
}

// BandCoverage returns how often what was measured lay within the band from lo
// to hi, and the number of cases; for the 80 % band of an honest forecast the
// share is 0.8. Cases with a NaN are left out; NaN without cases.
func BandCoverage(lo, hi, measured []float64) (share float64, n int) {
	if len(lo) != len(hi) || len(lo) != len(measured) {
		panic("weather: BandCoverage: lengths differ")
	}
	in := 0
	for i := range lo {
		if math.IsNaN(lo[i]) || math.IsNaN(hi[i]) || math.IsNaN(measured[i]) {
			continue
		}
		n++
		if measured[i] >= lo[i] && measured[i] <= hi[i] {
			in++
		}
	}
	return float64(in) / float64(n), n
}
