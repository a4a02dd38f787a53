package predict

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"budward/decide/weather"
)

// Members is the number of equally likely minima a Forecast holds.
const Members = 100

// Query asks for a prediction.
type Query struct {
	H     *weather.Hourly // readings; nothing later than Now is looked at
	Night weather.Night
	Now   time.Time // from sunset to before the end of the night

	// Fold is the season of the night. With OtherFolds nights of other folds are
	// learned from even if they come later: for scoring with a season left out.
	// Without it, only nights that had ended by Now are. Nights of the same fold are
	// learned from once they have ended, either way.
	Fold       int
	OtherFolds bool
}

// Band is a range of temperature.
type Band struct {
	LowC  float64 `json:"low_c"`
	HighC float64 `json:"high_c"`
}

// Forecast is what is known of a night's minimum at one moment.
type Forecast struct {
	IssuedAt time.Time `json:"issued_at"`
	ReadAt   time.Time `json:"read_at"`      // the last reading used
	LeftH    float64   `json:"left_h"`       // from it to sunrise; negative after
	AirC     float64   `json:"air_c"`        // that reading
	LowC     float64   `json:"low_so_far_c"` // lowest reading of the night so far

	// MeanC is the number to state: the mean of the members, of least squared error.
	// Where much of the chance is that the minimum is past, it lies between the two.
	MeanC   float64 `json:"mean_c"`
	MedianC float64 `json:"median_c"`
	Band50  Band    `json:"band_50"`
	Band80  Band    `json:"band_80"`
	// MembersC are Members equally likely minima, lowest first.
	MembersC []float64 `json:"members_c"`
	// PassedShare is the chance that the minimum has already been read.
	PassedShare float64 `json:"passed_share"`

	// Nights is the number of past nights it rests on, each by its weight.
	Nights float64        `json:"learned_from_nights"`
	Terms  []Term         `json:"terms"`  // what makes tonight differ from the usual, largest first
	Unused []string       `json:"unused"` // what is not known, or not for enough past nights
	Notes  []weather.Note `json:"notes"`
}

// Term is one feature's part in a prediction: how much warmer (positive) or colder
// the rest of the night gets for it than on the nights learned from.
type Term struct {
	Name    string  `json:"name"`
	Label   string  `json:"label"`
	Value   float64 `json:"value"` // in Unit
	Unit    string  `json:"unit"`
	EffectK float64 `json:"effect_k"`
}

// MomentError is a moment for which there is no prediction.
type MomentError struct {
	Night string
	Now   time.Time
	Want  string
}

func (e *MomentError) Error() string {
	return fmt.Sprintf("predict: night of %s, moment %s: want %s", e.Night, e.Now.UTC().Format("2006-01-02T15:04Z"), e.Want)
}

// maxAge is how old the last air temperature may be.
const maxAge = 2 * time.Hour

// few is the number of nights below which a Forecast says that it rests on few.
const few = 20.0

// Predict tells the night's minimum from what was read up to q.Now. A
// *MomentError is returned outside the night and where there is no air
// temperature in the two hours before.
func (p *History) Predict(q Query) (Forecast, error) {
	if q.Now.Before(q.Night.Sunset) || !q.Now.Before(q.Night.End) {
		return Forecast{}, &MomentError{q.Night.Label, q.Now, "a moment from sunset to two hours past sunrise"}
	}
	first, last := q.H.Index(q.Night.Sunset), q.H.Index(q.Now)
	if last == q.H.N || q.H.Time(last).After(q.Now) {
		last--
	}
	var w row
	at, ok := last, false
	for ; at >= first && q.Now.Sub(q.H.Time(at)) <= maxAge; at-- {
		if w, ok = rowAt(q.H, q.Night, p.place, first, at); ok {
			break
		}
	}
	if !ok {
		return Forecast{}, &MomentError{q.Night.Label, q.Now, "an air temperature of this night, at most two hours old"}
	}
	use, s := choose(&w, p.samples(&q, &w))
	f := newFit(use, s, w.leftH)
	out := f.forecast(&w)
	out.IssuedAt, out.ReadAt = q.Now, q.H.Time(at)
	for g := range numGroups {
		if !use.has(g) {
			out.Unused = append(out.Unused, g.String())
		}
	}
	gaps := 0
	for i := first; i < at; i++ {
		if math.IsNaN(q.H.At(weather.AirTemp, i)) {
			gaps++
		}
	}
	out.note(f, gaps)
	return out, nil
}

// forecast turns a fit into the distribution of the night's minimum.
func (f *fit) forecast(w *row) Forecast {
	x := f.x(w)
	later := w.airC + f.sol.value(x)
	wd := learnWidth(f)
	sd := f.sdK * wd.at(w)
	sd = math.Sqrt(sd*sd + f.sdK*f.sdK*f.sol.variance(x, make([]float64, len(x))))
	out := Forecast{LeftH: w.leftH, AirC: w.airC, LowC: w.lowC, Nights: f.nights}
	out.MembersC = members(f.shape(&wd, w, later), Members)
	past := 0
	for k, u := range out.MembersC {
		m := later + sd*u
		if m >= w.lowC {
			m = w.lowC
			past++
		}
		out.MembersC[k] = m
		out.MeanC += m / Members
	}
	out.PassedShare = float64(past) / Members
	out.MedianC = quantile(out.MembersC, 0.5)
	out.Band50, out.Band80 = out.Band(0.5), out.Band(0.8)
	for k, j := range f.cols {
		ft := &features[j]
		if j == fOne {
			continue
		}
		out.Terms = append(out.Terms, Term{ft.name, ft.label, ft.centre + ft.scale*x[k], ft.unit, f.sol.beta[k] * (x[k] - f.mean[k])})
	}
	slices.SortStableFunc(out.Terms, func(a, b Term) int { return cmp.Compare(math.Abs(b.EffectK), math.Abs(a.EffectK)) })
	return out
}

func (out *Forecast) note(f *fit, gaps int) {
	add := func(code, text string) { out.Notes = append(out.Notes, weather.Note{Code: code, Text: text}) }
	switch {
	case len(f.res) == 0:
		add("prior-only", "No past night of this station is known: this is the stated prior alone.")
	case f.nights < few:
		add("few-nights", fmt.Sprintf("It rests on %.0f past nights and leans on the stated prior.", f.nights))
	}
	if f.blocks && len(f.res) > 0 {
		add("one-season", "Fewer than three seasons are known: the band is calibrated on stretches of nights left out, not on seasons.")
	}
	if gaps > 0 {
		add("gaps", fmt.Sprintf("%d hours of this night have no air temperature: the lowest so far may have been lower.", gaps))
	}
}

// ProbBelow returns the probability that the night's minimum is at or below c: the
// share of members, each standing for the middle of its hundredth.
func (f *Forecast) ProbBelow(c float64) float64 {
	n := 0
	for _, m := range f.MembersC {
		if m <= c {
			n++
		}
	}
	return float64(n) / float64(len(f.MembersC))
}

// Band returns the range that holds share (0..1) of the probability. Both tails
// are cut alike, unless the minimum may be past with more chance than a tail has:
// then the range ends at the lowest so far, and all that is cut off is below.
// Where that one value has more than share, the range is that value.
func (f *Forecast) Band(share float64) Band {
	if !(share > 0 && share < 1) {
		panic("predict: Band: share out of range")
	}
	tail := (1 - share) / 2
	if f.PassedShare > tail {
		return Band{quantile(f.MembersC, 1-share), f.MembersC[len(f.MembersC)-1]}
	}
	return Band{quantile(f.MembersC, tail), quantile(f.MembersC, 1-tail)}
}

// quantile of sorted, equally likely members, each at the middle of its share.
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
