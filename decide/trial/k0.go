package trial

import (
	"fmt"
	"math"

	"budward/physics/floor"
	"budward/physics/quantity"
)

// K0 is what a trial says of the mixing K0, W m-2 K-1.
type K0 struct {
	LowWM2K     float64 `json:"low_w_m2k"` // 10th, 50th and 90th of a hundred
	CentralWM2K float64 `json:"central_w_m2k"`
	HighWM2K    float64 `json:"high_w_m2k"`
	Factor      float64 `json:"spread_factor"` // one standard deviation of its logarithm, as a factor
	// ModelledK is the gain that the model gives with the prior's K0; Ratio is the
	// measured gain over it, with the ends of the measured interval.
	ModelledK float64 `json:"modelled_gain_k"`
	RatioLow  float64 `json:"ratio_low"`
	Ratio     float64 `json:"ratio"`
	RatioHigh float64 `json:"ratio_high"`
	// PriorOnly says that the trial adds next to nothing, and Why.
	PriorOnly bool   `json:"prior_only"`
	Why       string `json:"why"`
	// Doubt is set where no K0 near the prior gives the measured gain.
	Doubt string `json:"doubt"`
}

// Measured is a gain with its uncertainty.
type Measured struct {
	Gain Interval
	SEK  float64
	DF   float64
}

// Measured returns the result's gain for K0From; where the place's own difference
// is in it, PlaceSDK is added to its standard error.
func (r *Result) Measured() Measured {
	m := Measured{r.Gain, r.SEK, r.DF}
	if r.PlaceIncluded {
		m.SEK = math.Hypot(m.SEK, PlaceSDK)
	}
	return m
}

const (
	// K0SpreadFactor is the spread of the prior of K0 (floor.DefaultMixing): a factor
	// of 1.6 either way is one standard deviation.
	K0SpreadFactor = 1.6
	// modelShare: what a modelled gain is off by for other reasons than K0, as a share
	// of it (one standard deviation): the spread over published formulas of sky
	// emissivity (stated, see docs/physics.md).
	modelShare = 0.2
	askedSteps = 24  // of ln K0 at which the model is asked
	fineSteps  = 20  // between two of these, on a straight line
	gridSDs    = 4.0 // the steps reach so many prior standard deviations either way
	doubtSDs   = 2.0 // a measured gain so far off is doubted
	contrastK  = 0.3 // floors whose modelled gain is less do not contrast
	learned    = 0.9 // share of the prior's spread above which nothing was learned
)

// K0From draws the prior of K0 towards the value with which the model gives the
// measured gain. gainOf is the modelled gain (K) of the trial's floors by K0 (W
// m-2 K-1); it is asked some thirty times between 0.8 and 33. With x = ln K0,
//
//	weight(x) ~ N(x; ln 5, ln 1.6) t((gain - gainOf(e^x)) / se) / se,
//	se^2 = standard error^2 + (0.2 gainOf)^2
//
// t being Student's density with the degrees of freedom of the measured gain; the
// result is the median of these weights with the 10th and 90th of a hundred. Two
// floors that hardly differ, or nights that scatter widely, leave the prior as it
// was: PriorOnly. Sentences are in the units given.
//
// It speaks for plots of the trial's size on nights like its nights. Accuracy: that
// of the sums, a fiftieth of the prior's spread (TestK0AgainstFineSum).
func K0From(gainOf func(k0 float64) (float64, error), m Measured, u quantity.System) (K0, error) {
	k := func(v float64) string { return u.SignedDifference(quantity.Kelvin(v)) }
	prior := floor.DefaultMixing()
	base, err := gainOf(prior.K0WM2K)
	if err != nil {
		return K0{}, err
	}
	out := K0{ModelledK: base, Ratio: m.Gain.Central / base, RatioLow: m.Gain.Low / base, RatioHigh: m.Gain.High / base}
	if base < 0 {
		out.RatioLow, out.RatioHigh = out.RatioHigh, out.RatioLow
	}
	sd := math.Log(K0SpreadFactor)
	var asked [askedSteps + 1]float64
	for i := range asked {
		z := gridSDs * (2*float64(i)/askedSteps - 1)
		if asked[i], err = gainOf(prior.K0WM2K * math.Exp(z*sd)); err != nil {
			return K0{}, err
		}
	}
	const n = askedSteps * fineSteps
	var x, gain, weight [n + 1]float64
	top := math.Inf(-1)
	for i := range x {
		z := gridSDs * (2*float64(i)/n - 1)
		k, f := min(i/fineSteps, askedSteps-1), float64(i%fineSteps)/fineSteps
		if i == n {
			f = 1
		}
		x[i], gain[i] = math.Log(prior.K0WM2K)+z*sd, asked[k]+f*(asked[k+1]-asked[k])
		weight[i] = -z*z/2 + likelihood(m, gain[i])
		top = math.Max(top, weight[i])
	}
	for i := range weight {
		weight[i] = math.Exp(weight[i] - top)
	}
	quantile, spread := summarise(x[:], weight[:])
	out.LowWM2K, out.CentralWM2K, out.HighWM2K = math.Exp(quantile(0.1)), math.Exp(quantile(0.5)), math.Exp(quantile(0.9))
	out.Factor = math.Exp(spread)
	at := int(math.Round((quantile(0.5) - x[0]) / (x[1] - x[0])))
	if off := m.Gain.Central - gain[at]; math.Abs(off) > doubtSDs*math.Hypot(m.SEK, modelShare*gain[at]) {
		out.Doubt = fmt.Sprintf("no mixing near the prior gives %s (with this one the model has %s): were the floors as described, the plots as large, and nothing else warming or cooling one of them?", k(m.Gain.Central), k(gain[at]))
	}
	switch {
	case math.Abs(base) < contrastK:
		out.PriorOnly, out.Why = true, "the model has these floors differ by "+k(base)+": they do not contrast enough to tell"
	case spread > learned*sd:
		out.PriorOnly, out.Why = true, "the nights leave it as wide as it was"
	}
	return out, nil
}

// likelihood is the logarithm of how well a modelled gain g fits.
func likelihood(m Measured, g float64) float64 {
	se := math.Hypot(m.SEK, modelShare*g)
	return tLogDensity((m.Gain.Central-g)/se, m.DF) - math.Log(se)
}

// summarise returns quantiles and the standard deviation of evenly spaced points
// with weights. Between points the weights are joined by straight lines.
func summarise(x, weight []float64) (quantile func(p float64) float64, sd float64) {
	cum := make([]float64, len(x))
	sum, sx, sxx := 0.0, 0.0, 0.0
	for i, w := range weight {
		sum, sx, sxx = sum+w, sx+w*x[i], sxx+w*x[i]*x[i]
		if i > 0 {
			cum[i] = cum[i-1] + (weight[i-1]+w)/2
		}
	}
	mean := sx / sum
	quantile = func(p float64) float64 {
		want := p * cum[len(cum)-1]
		for i := 1; i < len(cum); i++ {
			if cum[i] >= want {
				return x[i-1] + (x[i]-x[i-1])*(want-cum[i-1])/(cum[i]-cum[i-1])
			}
		}
		return x[len(x)-1]
	}
	return quantile, math.Sqrt(math.Max(0, sxx/sum-mean*mean))
}
