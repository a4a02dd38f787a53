package hindcast

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"budward/decide/predict"
	"budward/decide/weather"
)

// look prepares records and lists the findings that cost something.
func look(t *testing.T, b ...weather.Batch) (*record, []Finding) {
	t.Helper()
	in := Input{Records: b, Now: testNow}
	if err := in.check(); err != nil {
		t.Fatal(err)
	}
	rec, err := prepare(&in)
	if err != nil {
		t.Fatal(err)
	}
	return rec, slices.DeleteFunc(slices.Clone(rec.findings), func(f Finding) bool { return f.Kept })
}

// lost counts the nights of the season left out for a reason, and those of them
// with an evening outside from..to.
func lost(rec *record, why string, from, to time.Time) (n, outside int) {
	for k := range rec.nights {
		u := &rec.nights[k]
		if u.inside && u.why == why {
			n++
			if u.Sunset.Before(from) || u.Sunset.After(to) {
				outside++
			}
		}
	}
	return n, outside
}

func shift(b weather.Batch, by time.Duration, from, to time.Time) weather.Batch {
	out := b
	out.Samples = nil
	for _, s := range b.Samples {
		if !s.At.Before(from) && s.At.Before(to) {
			s.At = s.At.Add(by)
		}
		out.Samples = append(out.Samples, s)
	}
	slices.SortStableFunc(out.Samples, func(a, b weather.Sample) int { return a.At.Compare(b.At) })
	return out
}

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 12, 0, 0, 0, time.UTC) }

// A clock one hour ahead for a month, as when a logger is set to summer time: the
// month's 30 nights are left out, and of those on either side at most four: the
// change is found by the median of seven days, and a day more is left out. The size and direction of the
// shift are named.
func TestShiftedClock(t *testing.T) {
	from, to := day(2014, 4, 10), day(2014, 5, 10)
	for _, c := range []struct {
		by   time.Duration
		want string
	}{{time.Hour, "1.0 h ahead of"}, {-time.Hour, "1.0 h behind"}, {5 * time.Hour, "5.0 h ahead of"}} {
		rec, found := look(t, spring(t, 2013), shift(spring(t, 2014), c.by, from, to))
		var hit []Finding
		for _, f := range found {
			if f.Kind == "clock-shift" {
				hit = append(hit, f)
			}
		}
		if len(hit) != 1 || !strings.Contains(hit[0].Text, "The clock runs ") {
			t.Fatalf("shift of %v: found %v", c.by, found)
		}
		// Cloud moves the middle of the light by some minutes: a tenth of an hour.
		if near := strings.Contains(hit[0].Text, c.want) || strings.Contains(hit[0].Text, strings.Replace(c.want, ".0", ".1", 1)) ||
			strings.Contains(hit[0].Text, map[string]string{"1.0 h ahead of": "0.9 h ahead of", "1.0 h behind": "0.9 h behind", "5.0 h ahead of": "4.9 h ahead of"}[c.want]); !near {
			t.Errorf("shift of %v: %s", c.by, hit[0].Text)
		}
		n, outside := lost(rec, whyClock, from.Add(-96*time.Hour), to.Add(96*time.Hour))
		if n < 30 || n > 38 || outside > 0 {
			t.Errorf("shift of %v: %d nights lost, %d of them away from the shift; want 30 to 38 and none", c.by, n, outside)
		}
	}
}

// A file written in local time and read as UTC is named whole; the other years
// stay.
func TestClockShiftedThroughout(t *testing.T) {
	all := day(2015, 1, 1)
	rec, found := look(t, spring(t, 2014), shift(spring(t, 2015), -5*time.Hour, all, all.AddDate(1, 0, 0)), spring(t, 2016))
	n, outside := lost(rec, whyClock, all, all.AddDate(1, 0, 0))
	if n != 78 || outside > 0 || !slices.Equal(rec.years(), []int{2014, 2016}) {
		t.Errorf("%d nights lost, %d of other years; years left %v", n, outside, rec.years())
	}
	if !slices.ContainsFunc(found, func(f Finding) bool { return f.Kind == "missing-season" && strings.Contains(f.Text, "2015") }) {
		t.Errorf("the season that is lost is not named: %v", found)
	}
}

// Without sunshine a shift of several hours still shows in the daily course of the
// temperature.
func TestShiftedClockWithoutSunshine(t *testing.T) {
	from, to := day(2014, 4, 10), day(2014, 5, 10)
	dark := func(b weather.Batch) weather.Batch {
		return change(b, weather.Solar, func(*weather.Sample) bool { return false })
	}
	rec, _ := look(t, dark(spring(t, 2013)), shift(dark(spring(t, 2014)), 7*time.Hour, from, to))
	if n, outside := lost(rec, whyClock, from.Add(-96*time.Hour), to.Add(96*time.Hour)); n < 20 || outside > 0 {
		t.Errorf("%d nights lost, %d away from the shift", n, outside)
	}
}

// drift lets a variable run away by perDay from a day on.
func drift(b weather.Batch, perDay float64, from time.Time, vars ...weather.Variable) weather.Batch {
	for _, v := range vars {
		b = change(b, v, func(s *weather.Sample) bool {
			if d := s.At.Sub(from).Hours() / 24; d > 0 {
				s.Value += perDay * d
			}
			return true
		})
	}
	return b
}

// An air thermometer that runs away by a tenth of a degree a day: from the time the
// drift has reached what weather can do, and back to a degree of it, its readings
// are left out and it is named; the surface thermometer stays.
func TestDriftingAirThermometer(t *testing.T) {
	from := day(2016, 3, 20)
	for _, perDay := range []float64{0.1, -0.1} {
		rec, found := look(t, append(springs(t, 2012, 2013, 2014, 2015, 2017), drift(spring(t, 2016), perDay, from, weather.AirTemp, weather.AirTempMin))...)
		f := slices.IndexFunc(found, func(f Finding) bool { return f.Kind == "drift" })
		if f < 0 || found[f].Variable != "air_temp_c" || !strings.Contains(found[f].Text, "the air thermometer drifts") {
			t.Fatalf("drift of %g K a day: found %v", perDay, found)
		}
		// 3 K beyond the weather's 2.3 is reached after some 50 days: by 10 May all is out,
		// nothing before the drift begins, nothing of other years.
		n, outside := lost(rec, whyDrift, from.Add(-10*24*time.Hour), day(2016, 6, 1))
		if n < 21 || outside > 0 {
			t.Errorf("drift of %g K a day: %d nights lost, %d outside", perDay, n, outside)
		}
		if i := rec.h.Index(day(2016, 5, 20)); !math.IsNaN(rec.h.At(weather.AirTemp, i)) || math.IsNaN(rec.h.At(weather.SurfaceTemp, i)) {
			t.Error("the wrong thermometer is left out")
		}
	}
}

// A surface thermometer that is off by 6 K: it is left out, no night is lost.
func TestDriftingSurfaceThermometer(t *testing.T) {
	b := change(spring(t, 2016), weather.SurfaceTemp, func(s *weather.Sample) bool {
		if s.At.After(day(2016, 4, 1)) {
			s.Value -= 6
		}
		return true
	})
	rec, found := look(t, append(springs(t, 2012, 2013, 2014, 2015, 2017), b)...)
	f := slices.IndexFunc(found, func(f Finding) bool { return f.Kind == "drift" })
	if f < 0 || found[f].Variable != "surface_temp_c" || found[f].Count < 24*60 {
		t.Fatalf("found %v", found)
	}
	if n, _ := lost(rec, whyDrift, testNow, testNow); n != 0 {
		t.Errorf("%d nights lost for a surface thermometer", n)
	}
}

// An air thermometer stuck for eight days, a year that is missing, values the
// network flagged: each is named, left out and counted.
func TestStuckMissingFlagged(t *testing.T) {
	from, to := day(2013, 4, 20), day(2013, 4, 28)
	stuck := spring(t, 2013)
	for _, v := range []weather.Variable{weather.AirTemp, weather.AirTempMin} {
		stuck = change(stuck, v, func(s *weather.Sample) bool {
			if s.At.After(from) && s.At.Before(to) {
				s.Value = 7.3
			}
			return true
		})
	}
	flagged := spring(t, 2017)
	flagged.Refuse(weather.Refusal{Origin: "x", Line: 12, Field: "SUR_TEMP", Value: "9.0", Why: "flag 3"})
	rec, found := look(t, spring(t, 2012), stuck, flagged)
	kinds := map[string]int{}
	for _, f := range found {
		kinds[f.Kind]++
	}
	// 2014, 2015 and 2016 have no night.
	if kinds["stuck"] != 2 || kinds["missing-season"] != 3 || kinds["refused"] != 1 {
		t.Errorf("found %v", kinds)
	}
	if n, outside := lost(rec, "air temperature left out: thermometer stuck", from.Add(-time.Hour), to); n != 8 || outside > 0 {
		t.Errorf("%d nights lost to a stuck thermometer, %d outside; want the 8 it was stuck on", n, outside)
	}
	if !slices.Equal(rec.years(), []int{2012, 2013, 2017}) {
		t.Errorf("years %v", rec.years())
	}
}

// Gaps: every third night without an hour near midnight is left out and counted,
// and the rest still scored.
func TestGaps(t *testing.T) {
	b := change(spring(t, 2013), weather.AirTemp, func(s *weather.Sample) bool { return s.At.Hour() != 5 || s.At.YearDay()%3 != 0 })
	rec, _ := look(t, spring(t, 2012), b)
	if n, _ := lost(rec, whyGap, testNow, testNow); n < 26 || n > 28 { // 78/3, and one night has a gap of its own
		t.Errorf("%d nights lost, want 26 or 27", n)
	}
}

// Holes anywhere: one value in two hundred gone at random, of every variable. What is
// scored, left out and asked for adds up, and every number said is a number.
func TestRandomHoles(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 0))
	b := springs(t, 2013, 2014)
	for k := range b {
		b[k].Samples = slices.DeleteFunc(slices.Clone(b[k].Samples), func(weather.Sample) bool { return rng.IntN(200) == 0 })
	}
	r, err := Run(Input{Records: b, Now: testNow})
	if err != nil {
		t.Fatal(err)
	}
	asked, scored, out := 0, 0, 0
	for _, s := range r.Seasons {
		asked, scored = asked+s.Nights, scored+s.Scored
	}
	for _, o := range r.LeftOut {
		out += o.Nights
	}
	if asked != 2*78 || scored+out != asked || scored < 100 || scored == asked {
		t.Errorf("%d asked for, %d scored, %d left out", asked, scored, out)
	}
	for _, row := range r.Table {
		if math.IsNaN(row.MeanC) || math.IsNaN(row.Band80.LowC) || row.Band80.LowC > row.Band80.HighC {
			t.Errorf("said %+v", row)
		}
	}
}

// Far north nights end in spring: evenings without one are counted, the others
// replayed.
func TestNightsThatNeverCome(t *testing.T) {
	in := Input{Records: springs(t, 2013), Now: testNow, Place: &predict.Place{LatDeg: 69, LonDeg: -76.25}, Season: Season{4, 1, 6, 10}}
	r, err := Run(in)
	if err != nil {
		t.Fatal(err)
	}
	// At 69 degrees north the sun stays up from about 18 May (almanac, from memory: 69.6
	// N, Tromso, 18 to 20 May; half a degree south some two days later).
	k := slices.IndexFunc(r.Findings, func(f Finding) bool { return f.Kind == "no-night" })
	if k < 0 || r.Findings[k].Count < 20 || r.Findings[k].Count > 32 || r.PlaceFrom != "as told" {
		t.Errorf("findings %v", r.Findings)
	}
	// Nights grow too short for four hours before sunrise to lie in them.
	for _, l := range r.Leads {
		if m := l.All[byModel]; m.N == 0 || m.N+m.Left != r.Seasons[0].Scored {
			t.Errorf("%s: %d nights, %d without a word, of %d", l.Label, m.N, m.Left, r.Seasons[0].Scored)
		}
	}
	if m := r.Leads[2].All[byModel]; m.Left == 0 {
		t.Error("four hours before sunrise there is a word on every night, however short")
	}
}

func TestWrongInput(t *testing.T) {
	good := spring(t, 2013)
	nowhere, forecast, elsewhere := good, good, spring(t, 2014)
	nowhere.HasPlace = false
	forecast.Kind = weather.Forecast
	elsewhere.LatDeg = -elsewhere.LatDeg
	empty := good
	empty.Samples = nil
	for name, in := range map[string]Input{
		"now":              {Records: []weather.Batch{good}},
		"records":          {Now: testNow},
		"training":         {Records: []weather.Batch{good}, Now: testNow, Training: "some"},
		"place":            {Records: []weather.Batch{nowhere}, Now: testNow},
		"place of":         {Records: []weather.Batch{good, elsewhere}, Now: testNow},
		"record test":      {Records: []weather.Batch{forecast}, Now: testNow},
		"records ":         {Records: []weather.Batch{empty}, Now: testNow},
		"threshold":        {Records: []weather.Batch{good}, Now: testNow, ThresholdsC: []float64{math.NaN()}},
		"cost share":       {Records: []weather.Batch{good}, Now: testNow, CostShares: []float64{1}},
		"number of":        {Records: []weather.Batch{good}, Now: testNow, CostShares: make([]float64, MaxCostShares+1)},
		"frost limit":      {Records: []weather.Batch{good}, Now: testNow, FrostC: 300, HasFrostC: true},
		"season":           {Records: []weather.Batch{good}, Now: testNow, Season: Season{2, 30, 5, 31}},
		"nights":           {Records: []weather.Batch{good}, Now: testNow, Season: Season{9, 1, 10, 31}},
		"forecast testdat": {Records: []weather.Batch{good}, Forecasts: []weather.Batch{good}, Now: testNow},
	} {
		_, err := Run(in)
		var e *InputError
		if !errors.As(err, &e) || !strings.HasPrefix(e.Field, strings.TrimSpace(name)) {
			t.Errorf("%s: error %v", name, err)
		}
	}
}
