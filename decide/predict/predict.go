package predict

import (
	"fmt"
	"math"
	"time"

	"budward/decide/weather"
)

// Query asks for a prediction.
type Query struct {
	H     *weather.Hourly // readings; nothing after Now is looked at
	Night weather.Night
	Now   time.Time // from sunset to the end of the night

	// Fold is the season of the night. With OtherFolds nights of other folds are
	// learned from even if they come later: for scoring with one season left out.
	// Without, nights that had ended by Now alone are.
	Fold       int
	OtherFolds bool
}

// Band is a range for the minimum.
type Band struct {
	LowC  float64 `json:"low_c"`
	HighC float64 `json:"high_c"`
}

// Forecast is what is known of a night's minimum at one moment.
type Forecast struct {
	ReadAt   time.Time `json:"read_at"` // the reading predicted from
	LeftH    float64   `json:"left_h"`  // from it to sunrise; negative after
	NowC     float64   `json:"now_c"`
	LowC     float64   `json:"low_so_far_c"`
	MeanC    float64   `json:"mean_c"`
	MedianC  float64   `json:"median_c"`
	Band50   Band      `json:"band_50"`
	Band80   Band      `json:"band_80"`
	MembersC []float64 `json:"members_c"`
	Passed   float64   `json:"passed_share"` // probability that the minimum is past
	Nights   float64   `json:"learned_from_nights"`
	Folds    int       `json:"-"`
	Terms    []Term    `json:"terms,omitempty"`
	Unused   []string  `json:"unused,omitempty"`
}

// Term is one feature's part in a prediction.
type Term struct {
	Name    string  `json:"name"`
	Label   string  `json:"label"`
	EffectK float64 `json:"effect_k"`
}

// TimeError is a moment for which there is no prediction.
type TimeError struct {
	Night string
	Now   time.Time
	Want  string
}

func (e *TimeError) Error() string {
	return fmt.Sprintf("predict: night of %s, %s: want %s", e.Night, e.Now.UTC().Format("2006-01-02T15:04Z"), e.Want)
}

// maxAgeH is how old, in hours, the last air temperature may be.
const maxAgeH = 2

// Predict returns the forecast.
func (p *History) Predict(q Query) (Forecast, error) {
	if q.Now.Before(q.Night.Sunset) || !q.Now.Before(q.Night.End) {
		return Forecast{}, &TimeError{q.Night.Label, q.Now, "a moment from sunset to two hours past sunrise"}
	}
	first := q.H.Index(q.Night.Sunset)
	last := q.H.Index(q.Now)
	if last >= q.H.N || q.H.Time(last).After(q.Now) {
		last--
	}
	var w row
	ok := false
	for i := last; i >= first && i > last-maxAgeH && !ok; i-- {
		w, ok = rowAt(q.H, q.Night, p.place, first, i)
	}
	if !ok {
		return Forecast{}, &TimeError{q.Night.Label, q.Now, "air temperature in this hour and the six before"}
	}
	use, s := choose(&w, p.samples(&q, &w))
	f := newFit(use, w.leftH)
	f.learn(s, w.leftH)
	sc := learnScale(f)
	out := Forecast{ReadAt: q.Now, LeftH: w.leftH, NowC: w.airC, LowC: w.lowC, Nights: f.eff, Folds: f.folds}
	x := f.x(&w)
	mu := w.airC + f.sol.value(x)
	sd := f.sd * sc.at(&w)
	sd = math.Sqrt(sd*sd + f.sd*f.sd*f.sol.variance(x, make([]float64, len(x))))
	out.MembersC = shape(f, &sc)
	past := 0.0
	for k, u := range out.MembersC {
		m := mu + sd*u
		if m >= w.lowC {
			m = w.lowC
			past++
		}
		out.MembersC[k] = m
		out.MeanC += m / Members
	}
	out.Passed = past / Members
	out.MedianC = quantile(out.MembersC, 0.5)
	out.Band50, out.Band80 = band(&out, 0.5), band(&out, 0.8)
	for k, j := range f.cols {
		out.Terms = append(out.Terms, Term{features[j].name, features[j].label, f.sol.beta[k] * (x[k] - f.mean[k])})
		if debug != nil {
			debug(features[j].name, f.sol.beta[k], w.leftH)
		}
	}
	return out, nil
}

var debug func(string, float64, float64)

func Debug(f func(string, float64, float64)) { debug = f }

// quantile of sorted equally likely members.
func quantile(m []float64, p float64) float64 {
	pos := p*float64(len(m)) - 0.5
	i := int(math.Floor(pos))
	switch {
	case i < 0:
		return m[0]
	case i+1 >= len(m):
		return m[len(m)-1]
	}
	return m[i] + (m[i+1]-m[i])*(pos-float64(i))
}

// band returns the range that holds share of the probability.
func band(f *Forecast, share float64) Band {
	tail := (1 - share) / 2
	up := math.Max(0, tail-f.Passed)
	return Band{quantile(f.MembersC, 1-share-up), quantile(f.MembersC, 1-up)}
}
