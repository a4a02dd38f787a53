package hindcast

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"budward/decide/weather"
	"budward/physics/sky"
)

func TestSeason(t *testing.T) {
	spring := DefaultSeason(42)
	winter := Season{time.November, 15, time.February, 20}
	date := func(y int, m time.Month, d int) sky.Date { return sky.Date{Year: y, Month: m, Day: d} }
	for _, c := range []struct {
		s    Season
		d    sky.Date
		in   bool
		year int
	}{
		{spring, date(2014, 3, 14), false, 2014},
		{spring, date(2014, 3, 15), true, 2014},
		{spring, date(2014, 5, 31), true, 2014},
		{spring, date(2014, 6, 1), false, 2014},
		{spring, date(2014, 12, 31), false, 2015}, // nearer to the spring to come
		{spring, date(2014, 9, 1), false, 2014},
		{DefaultSeason(-34), date(2014, 9, 14), false, 2014},
		{DefaultSeason(-34), date(2014, 10, 10), true, 2014},
		{winter, date(2014, 11, 15), true, 2015}, // its middle, early January, is in 2015
		{winter, date(2015, 2, 20), true, 2015},
		{winter, date(2015, 2, 21), false, 2015},
	} {
		if got := c.s.has(c.d); got != c.in {
			t.Errorf("%v in %v: %v", c.d, c.s, got)
		}
		if got := c.s.year(c.d); got != c.year {
			t.Errorf("%v belongs to the season of %d of %v, want %d", c.d, got, c.s, c.year)
		}
	}
	for _, s := range []Season{spring, winter} {
		if back, err := ParseSeason(s.String()); err != nil || back != s {
			t.Errorf("%q comes back as %v, %v", s, back, err)
		}
	}
	for _, bad := range []string{"", "03-15", "03-15..02-29", "3-15..5-31", "13-01..01-01", "03-15..05-31x", "spring"} {
		_, err := ParseSeason(bad)
		if e := (*InputError)(nil); !errors.As(err, &e) {
			t.Errorf("%q: error %v, want *InputError", bad, err)
		}
	}
}

// Worked by hand: 100 nights, 20 with frost, acting costs a tenth of the loss. The
// fixed habit acts always: 0.1 a night. Perfect: 0.1 x 0.2 = 0.02. Alarms on 15 of
// the 20 and on 10 others: 0.1 x 0.25 + 0.05 = 0.075. Value (0.1 - 0.075)/(0.1 -
// 0.02) = 0.3125.
func TestValue(t *testing.T) {
	const tol = 1e-12
	c := Calls{Hits: 15, Misses: 5, FalseAlarms: 10, Quiet: 70}
	if v := float64(c.value(0.1)); math.Abs(v-0.3125) > tol {
		t.Errorf("value %g, want 0.3125", v)
	}
	if v := float64((Calls{Hits: 20, Quiet: 80}).value(0.3)); math.Abs(v-1) > tol {
		t.Errorf("a perfect forecast is worth %g, want 1", v)
	}
	if v := float64((Calls{Hits: 20, FalseAlarms: 80}).value(0.1)); math.Abs(v) > tol {
		t.Errorf("always acting is worth %g, want 0 where it is the fixed habit", v)
	}
	if v := (Calls{Quiet: 80}).value(0.1); v.Known() {
		t.Errorf("value %g without an event, want unknown", v)
	}
}

// The interval of the gain against theory. Errors of a are half those of b, night by
// night: the gain is a half in every draw. With errors drawn independently it varies:
// the standard error of ln(RMSEa/RMSEb) of n normal errors each is sqrt(2 * 1/(2n)),
// so the interval is about +-1.96 of that times the ratio.
func TestGainInterval(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	const n = 400
	p := &replay{in: &Input{Seed: 1}, obs: make([]float64, n)}
	a, b, c := make([]said, n), make([]said, n), make([]said, n)
	nights := make([]int, n)
	for i := range n {
		e := rng.NormFloat64()
		nights[i] = i
		a[i], b[i] = said{ok: true, meanC: e}, said{ok: true, meanC: 2 * e}
		c[i] = said{ok: true, meanC: 2 * rng.NormFloat64()}
	}
	const tol = 1e-9 // rounding
	if g := p.gain(a, b, nights); math.Abs(float64(g.Low)-0.5) > tol || math.Abs(float64(g.High)-0.5) > tol {
		t.Errorf("paired errors: %+v, want a half throughout", g)
	}
	g := p.gain(a, c, nights)
	want := 2 * 1.96 * 0.5 * math.Sqrt(1.0/n)
	// A quarter: the normal approximation and 2000 draws are good to a tenth each.
	if w := float64(g.High - g.Low); math.Abs(w/want-1) > 0.25 {
		t.Errorf("interval %.3f wide, theory %.3f", w, want)
	}
	b[3].ok = false
	if g := p.gain(a, b, nights[:10]); g.N != 9 || g.Low.Known() || !g.Central.Known() {
		t.Errorf("nine nights: %+v, want no interval", g)
	}
	if g := p.gain(a, b, nil); g.Central.Known() {
		t.Errorf("no nights: %+v", g)
	}
}

// Least squares on points that lie on a plane, and on too few of them.
func TestLeastSquares(t *testing.T) {
	xs := [][]float64{{1, 0, 0}, {1, 1, 0}, {1, 0, 1}, {1, 2, 3}}
	var ys []float64
	for _, x := range xs {
		ys = append(ys, 4-2*x[1]+0.5*x[2])
	}
	got := leastSquares(xs, ys)
	for i, want := range []float64{4, -2, 0.5} {
		if math.Abs(got[i]-want) > 1e-9 {
			t.Errorf("coefficient %d is %g, want %g", i, got[i], want)
		}
	}
	if leastSquares(xs[:1], ys[:1]) != nil {
		t.Error("one point has a plane")
	}
}

// What the square-root curve says of a night that follows it exactly is its own
// end, from any reading on; later than its end nothing is known of it.
func TestSquareRootCurveOfItself(t *testing.T) {
	b := weather.Batch{Kind: weather.Reading, LatDeg: 40, LonDeg: -105, HasPlace: true}
	place := sky.Date{Year: 2010, Month: time.April, Day: 1}
	zone := time.FixedZone("UTC-7", -7*3600)
	n, err := weather.NightOn(place, 40, -105, zone)
	if err != nil {
		t.Fatal(err)
	}
	i0 := n.Sunset.Add(2 * time.Hour).Truncate(time.Hour)
	end := 8 - 2.5*math.Sqrt(n.Sunrise.Sub(i0).Hours())
	for at := n.Sunset.Add(-40 * time.Hour).Truncate(time.Hour); at.Before(n.End.Add(30 * time.Hour)); at = at.Add(time.Hour) {
		x := 8 + 0.1*float64(at.Hour()%5) // never the same for long, or it would count as stuck
		switch since := at.Sub(i0).Hours(); {
		case since >= 0 && !at.After(n.Sunrise):
			x = 8 - 2.5*math.Sqrt(since)
		case at.After(n.Sunrise):
			x = 6 + 0.1*float64(at.Hour()%5)
		}
		b.Samples = append(b.Samples, weather.Sample{At: at, Var: weather.AirTemp, Value: x})
	}
	in := Input{Records: []weather.Batch{b}, Now: testNow, Season: Season{time.April, 1, time.April, 1}}
	if err := in.check(); err != nil {
		t.Fatal(err)
	}
	rec, err := prepare(&in)
	if err != nil {
		t.Fatal(err)
	}
	p := newReplay(&in, rec)
	if len(p.idx) != 1 {
		t.Fatalf("%d nights, want 1", len(p.idx))
	}
	const tol = 1e-9 // rounding
	for _, k := range []int{1, 2, 3} {
		if got := p.ref.curve(k)[0]; math.Abs(got-end) > tol {
			t.Errorf("%s: curve ends at %.4f, want %.4f", leads[k].label, got, end)
		}
	}
	if got := p.ref.curve(0)[0]; !math.IsNaN(got) {
		t.Errorf("in the evening, with no other year, the curve says %.2f", got)
	}
}

// Past forecasts that are always 1.5 K too warm, one day ahead and two.
func TestDaysAhead(t *testing.T) {
	b := spring(t, 2013)
	var forecasts []weather.Batch
	for d := range 20 {
		issued := time.Date(2013, 4, 1+d, 20, 0, 0, 0, time.UTC) // three hours before sunset
		f := weather.Batch{StationID: "test", Kind: weather.Forecast, IssuedAt: issued, FedAt: issued}
		for _, s := range b.Samples {
			if s.Var == weather.AirTempMin && !s.At.Before(issued) && s.At.Before(issued.Add(42*time.Hour)) {
				f.Samples = append(f.Samples, weather.Sample{At: s.At, Var: weather.AirTemp, Value: s.Value + 1.5})
			}
		}
		forecasts = append(forecasts, f)
	}
	r, err := Run(Input{Records: []weather.Batch{b}, Forecasts: forecasts, Now: testNow, Season: Season{time.April, 1, time.April, 25}})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.DaysAhead) != 2 || r.DaysAhead[0].N != 20 || r.DaysAhead[1].N != 20 {
		t.Fatalf("days ahead %+v, want 20 nights at each of two", r.DaysAhead)
	}
	for _, d := range r.DaysAhead {
		// The minimum is taken of the same hours, so the error is exact but for rounding
		// and for the hour of sunset, whose lowest may lie before it.
		if math.Abs(float64(d.BiasK)-1.5) > 0.1 {
			t.Errorf("%d days ahead: bias %.3f K, want 1.5", d.AheadDays, d.BiasK)
		}
	}
	f := r.Leads[0].Feed
	rmse := float64(r.Leads[0].All[byModel].RMSEK)
	// Two independent errors weighted by their variances: 1/left^2 = 1/a^2 + 1/b^2.
	want := math.Pow(math.Pow(rmse, -2)+math.Pow(float64(f.ForecastK), -2), -0.5)
	if !f.Measured || math.Abs(float64(f.LeftK)-want) > 1e-9 {
		t.Errorf("with that forecast: %+v, want measured and %.3f left", f, want)
	}
}

// A bin of probabilities, and the share of members at or below a temperature.
func TestProbBelow(t *testing.T) {
	s := said{ok: true, members: []float64{-2, -1, -1, 0, 3}}
	for c, want := range map[float64]float64{-3: 0, -1: 0.6, -0.5: 0.6, 3: 1} {
		if got := s.probBelow(c); got != want {
			t.Errorf("at or below %g: %g, want %g", c, got, want)
		}
	}
	point := said{ok: true, meanC: 1}
	if point.probBelow(1) != 1 || point.probBelow(0.9) != 0 {
		t.Error("a point is certain")
	}
}

func TestNum(t *testing.T) {
	text, err := json.Marshal([]Num{1.25, Num(math.NaN()), Num(math.Inf(1))})
	if err != nil || string(text) != "[1.25,null,null]" {
		t.Errorf("%s, %v", text, err)
	}
}

func TestProgress(t *testing.T) {
	var seen []int
	total := 0
	_, err := Run(Input{Records: springs(t, 2013), Now: testNow, Season: Season{time.May, 1, time.May, 5}, Progress: func(done, all int) {
		seen, total = append(seen, done), all
	}})
	if err != nil || total != 20 || len(seen) != 20 || !slices.IsSorted(seen) || seen[19] != 20 {
		t.Errorf("progress %v of %d, %v", seen, total, err)
	}
}
