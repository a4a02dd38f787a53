package predict

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"budward/decide/weather"
)

// The law of the invented world is found. The twin is a least-squares fit made for
// this world, on the three features that matter in it, with the same year left out.
// The model knows neither which features matter nor how much, so it may do worse:
// by a quarter, as the shrinkage of some twenty effects costs about p/n of 240
// nights and pulls the three towards the prior. The prior alone, which knows nothing
// of this world, is off by more than twice what the model is.
func TestLearnsTheLawOfAWorld(t *testing.T) {
	w := newWorld(t, 1, 5, 60, 0)
	p, empty := w.history(t), NewHistory(testPlace)
	row := func(k int) []float64 {
		i := w.h.Index(w.nights[k].Sunset.Add(5*time.Hour)) - 1
		air := w.h.At(weather.AirTemp, i)
		return []float64{1, w.h.At(weather.SurfaceTemp, i) - air, air - w.h.At(weather.AirTemp, i-4), w.nights[k].Sunrise.Sub(w.h.Time(i)).Hours(),
			w.min(t, k) - air, air}
	}
	sum, twin, prior, n := 0.0, 0.0, 0.0, 0.0
	for k := 0; k < len(w.nights); k += 3 {
		const size = 4
		a, b := make([][]float64, size), make([]float64, size)
		for r := range a {
			a[r] = make([]float64, size)
		}
		for j := range w.nights {
			if w.folds[j] == w.folds[k] {
				continue
			}
			x := row(j)
			for r := range a {
				for c := range a {
					a[r][c] += x[r] * x[c]
				}
				b[r] += x[r] * x[4]
			}
		}
		beta, x := gauss(a, b), row(k)
		m := w.min(t, k)
		dTwin := x[5] + beta[0] + beta[1]*x[1] + beta[2]*x[2] + beta[3]*x[3] - m
		d := w.predict(t, p, k, 5).MeanC - m
		e := w.predict(t, empty, k, 5).MeanC - m
		sum, twin, prior, n = sum+d*d, twin+dTwin*dTwin, prior+e*e, n+1
	}
	sum, twin, prior = math.Sqrt(sum/n), math.Sqrt(twin/n), math.Sqrt(prior/n)
	if sum > 1.25*twin || prior < 2*sum {
		t.Errorf("RMSE %.3f K learned, %.3f K twin, %.3f K prior alone", sum, twin, prior)
	}
}

// Bands hold what they promise where the weather of all years has one law, with a
// front on every fifth night that nothing foretells.
func TestBandsHold(t *testing.T) {
	w := newWorld(t, 2, 6, 60, 0.2)
	p := w.history(t)
	for _, sinceH := range []float64{2, 5, 9} {
		in50, in80, n := 0.0, 0.0, 0.0
		for k := range w.nights {
			f, m := w.predict(t, p, k, sinceH), w.min(t, k)
			const eps = 1e-9 // the lowest so far is a member and may be the minimum
			if m >= f.Band50.LowC-eps && m <= f.Band50.HighC+eps {
				in50++
			}
			if m >= f.Band80.LowC-eps && m <= f.Band80.HighC+eps {
				in80++
			}
			n++
		}
		// Three standard errors of a binomial share: sqrt(0.8*0.2/360) = 0.021,
		// sqrt(0.25/360) = 0.026.
		if c := in80 / n; math.Abs(c-0.80) > 0.063 {
			t.Errorf("%g h after sunset the 80 %% band held on %.3f of %g nights", sinceH, c, n)
		}
		if c := in50 / n; math.Abs(c-0.50) > 0.078 {
			t.Errorf("%g h after sunset the 50 %% band held on %.3f of %g nights", sinceH, c, n)
		}
	}
}

// Nothing read after the moment of a prediction has any part in it, neither of the
// night itself nor, without OtherFolds, of any later night.
func TestNoLookingAhead(t *testing.T) {
	w := newWorld(t, 3, 3, 40, 0.2)
	k := 80 + 20
	now := w.nights[k].Sunset.Add(4*time.Hour + 20*time.Minute)
	ask := func(h *weather.Hourly, other bool) Forecast {
		p := NewHistory(testPlace)
		for j, n := range w.nights {
			p.Add(h, n, w.folds[j])
		}
		f, err := p.Predict(Query{H: h, Night: w.nights[k], Now: now, Fold: w.folds[k], OtherFolds: other})
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	changed := w.h.Clone()
	for v := range weather.NumVariables {
		for i := range changed.Cols[v] {
			if changed.Time(i).After(now) {
				changed.Cols[v][i] = -30 + 0.01*float64(i%7)
			}
		}
	}
	for _, other := range []bool{false, true} {
		a, b := ask(&w.h, other), ask(&changed, other)
		if !slices.Equal(a.MembersC, b.MembersC) || a.Nights != b.Nights {
			t.Errorf("other folds %v: what is read later changes the prediction from %.3f to %.3f", other, a.MeanC, b.MeanC)
		}
	}
	// With other folds allowed, years to come do count.
	k = 10
	now = w.nights[k].Sunset.Add(4 * time.Hour)
	if a, b := ask(&w.h, false), ask(&w.h, true); a.Nights >= b.Nights {
		t.Errorf("%g nights with other folds, %g without", b.Nights, a.Nights)
	}
}

// Each reading updates: as the night goes on the band narrows, the mean error
// shrinks, and no member is ever above the lowest reading.
func TestEachReadingUpdates(t *testing.T) {
	w := newWorld(t, 4, 4, 50, 0.1)
	p := w.history(t)
	last := math.Inf(1)
	for _, sinceH := range []float64{1, 4, 7, 10} {
		width := 0.0
		for k := 0; k < len(w.nights); k += 5 {
			f := w.predict(t, p, k, sinceH)
			width += f.Band80.HighC - f.Band80.LowC
			if !slices.IsSorted(f.MembersC) || f.MembersC[len(f.MembersC)-1] > f.LowC {
				t.Fatalf("members %v with %.2f already read", f.MembersC, f.LowC)
			}
			if f.ReadAt.After(f.IssuedAt) || f.IssuedAt.Sub(f.ReadAt) >= time.Hour {
				t.Fatalf("issued at %v from a reading of %v", f.IssuedAt, f.ReadAt)
			}
		}
		if width >= last {
			t.Errorf("%g h after sunset the bands are wider than before: %.2f after %.2f", sinceH, width, last)
		}
		last = width
	}
}

// The order in which nights are learned makes no difference, and a night counts
// once.
func TestOrderOfLearning(t *testing.T) {
	w := newWorld(t, 5, 3, 30, 0.1)
	a, b := w.history(t), NewHistory(testPlace)
	for k := len(w.nights) - 1; k >= 0; k-- {
		b.Add(&w.h, w.nights[k], w.folds[k])
	}
	if b.Add(&w.h, w.nights[3], w.folds[3]) || b.Nights() != len(w.nights) {
		t.Error("a night was taken twice")
	}
	if x, y := w.predict(t, a, 40, 3), w.predict(t, b, 40, 3); !slices.Equal(x.MembersC, y.MembersC) {
		t.Errorf("forward %.6f, backward %.6f", x.MeanC, y.MeanC)
	}
}

// Missing instruments are named and done without; a gap in the last hours costs
// the features that need it and no more.
func TestMissingInstruments(t *testing.T) {
	w := newWorld(t, 6, 3, 40, 0)
	full := w.predict(t, w.history(t), 90, 4)
	if !slices.Contains(full.Unused, "humidity") || slices.Contains(full.Unused, "surface temperature") {
		t.Errorf("unused %q", full.Unused)
	}
	bare := *w
	bare.h = w.h.Clone()
	bare.h.Cols[weather.SurfaceTemp], bare.h.Cols[weather.AirTempMin] = nil, nil
	f := bare.predict(t, bare.history(t), 90, 4)
	if !slices.Contains(f.Unused, "surface temperature") || math.IsNaN(f.MeanC) {
		t.Errorf("mean %v without a surface thermometer, unused %q", f.MeanC, f.Unused)
	}

	p := w.history(t)
	gap := *w
	gap.h = w.h.Clone()
	i := gap.h.Index(gap.nights[90].Sunset.Add(3 * time.Hour))
	gap.h.Cols[weather.AirTemp][i-1] = math.NaN()
	f = gap.predict(t, p, 90, 4)
	if !slices.Contains(f.Unused, "air temperature of the last hours") || math.Abs(f.MeanC-full.MeanC) > 1.5 {
		t.Errorf("mean %.2f with a gap, %.2f without; unused %q", f.MeanC, full.MeanC, f.Unused)
	}
	if !slices.ContainsFunc(f.Notes, func(n weather.Note) bool { return n.Code == "gaps" }) {
		t.Errorf("notes %v do not tell of the gap", f.Notes)
	}
	gap.h.Cols[weather.AirTemp][i-1], gap.h.Cols[weather.AirTemp][i] = w.h.Cols[weather.AirTemp][i-1], math.NaN()
	f = gap.predict(t, p, 90, 4)
	if f.IssuedAt.Sub(f.ReadAt) < time.Hour {
		t.Errorf("issued at %v from a missing reading of %v", f.IssuedAt, f.ReadAt)
	}
	for k := range 4 {
		gap.h.Cols[weather.AirTemp][i-k] = math.NaN()
	}
	now := gap.nights[90].Sunset.Add(4 * time.Hour)
	_, err := p.Predict(Query{H: &gap.h, Night: gap.nights[90], Now: now})
	if e := (*MomentError)(nil); !errors.As(err, &e) {
		t.Errorf("error %v after hours without a reading, want *MomentError", err)
	}
	if q := NewHistory(testPlace); q.Add(&gap.h, gap.nights[90], 1) || q.Nights() != 0 {
		t.Error("a night with gaps was learned from")
	}
}

// An instrument that only few past nights had is left out as long as the nights
// without it teach more.
func TestNewInstrumentWaits(t *testing.T) {
	w := newWorld(t, 7, 5, 60, 0)
	skin := w.h.Cols[weather.SurfaceTemp]
	for i := range skin {
		if w.h.Time(i).Before(w.nights[290].Sunset.Add(-2 * time.Hour)) {
			skin[i] = math.NaN()
		}
	}
	if f := w.predict(t, w.history(t), 295, 4); !slices.Contains(f.Unused, "surface temperature") {
		t.Errorf("a surface thermometer of five nights is used; unused %q", f.Unused)
	}
}

// The prior alone, worked out by hand. A night like this one: 5 degC now and for
// two days before, no other instrument, five hours to sunrise, 21 March. All
// features of the table are then zero but the level, so the remaining minimum is
// 5 - 3.5 (5/8)^0.9 = 2.707 degC; the members lie symmetrically about it.
func TestPriorAlone(t *testing.T) {
	night := weather.Night{Sunset: time.Date(2003, 3, 21, 1, 0, 0, 0, time.UTC), Sunrise: time.Date(2003, 3, 21, 13, 0, 0, 0, time.UTC),
		End: time.Date(2003, 3, 21, 15, 0, 0, 0, time.UTC)}
	h := weather.NewHourly(night.Sunset.Add(-60*time.Hour), 90, weather.Reading)
	air := h.Col(weather.AirTemp)
	for i := range air {
		air[i] = 5
	}
	f, err := NewHistory(testPlace).Predict(Query{H: &h, Night: night, Now: night.Sunrise.Add(-5 * time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	middle := (f.MembersC[Members/2-1] + f.MembersC[Members/2]) / 2
	const tol = 0.001 // the worked value is rounded to it
	if math.Abs(middle-2.707) > tol {
		t.Errorf("middle %.4f, want 2.707", middle)
	}
	if f.Notes[0].Code != "prior-only" || f.Nights != 0 {
		t.Errorf("notes %v, %g nights", f.Notes, f.Nights)
	}
	for _, term := range f.Terms {
		if math.Abs(term.EffectK) > 1e-9 {
			t.Errorf("%s has an effect of %g K", term.Name, term.EffectK)
		}
	}
}

func TestOutsideTheNight(t *testing.T) {
	w := newWorld(t, 8, 1, 3, 0)
	p := w.history(t)
	n := w.nights[1]
	for _, now := range []time.Time{n.Sunset.Add(-time.Second), n.End} {
		_, err := p.Predict(Query{H: &w.h, Night: n, Now: now})
		if e := (*MomentError)(nil); !errors.As(err, &e) {
			t.Errorf("%v: error %v, want *MomentError", now, err)
		}
	}
}
