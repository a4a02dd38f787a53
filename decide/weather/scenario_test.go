package weather

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// sevenNights is a week of 12 h nights, sunset 19:00, sunrise 07:00.
func sevenNights() []Night {
	var out []Night
	for k := range 7 {
		set := hr(19 + 24*float64(k))
		out = append(out, Night{Sunset: set, Sunrise: set.Add(12 * time.Hour), End: set.Add(14 * time.Hour)})
	}
	return out
}

// wave is an invented forecast: a daily wave with its minimum at 06:00.
func wave(hours int, drop ...Variable) Hourly {
	h := NewHourly(t0, hours, Forecast)
	h.Sources = []SourceRef{{Origin: "wave", IssuedAt: hr(12)}}
	for i := range hours {
		temp := 6 - 7*math.Cos(2*math.Pi*float64(i-6)/24)
		h.Col(AirTemp)[i] = temp
		h.setFrom(AirTemp, i, 0)
		h.Col(DewPoint)[i] = -2
		h.Col(Cloud)[i] = 0.4
		h.Col(Wind)[i] = 2
		h.Col(Rain)[i] = 0
	}
	for _, v := range drop {
		h.Cols[v] = nil
	}
	return h
}

func mustEnsemble(t *testing.T, h Hourly, m ErrorModel, n int, seed uint64) Ensemble {
	t.Helper()
	e, err := Scenarios(h, m, sevenNights(), hr(12.3), n, seed)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x))
	}
	return mean, math.Sqrt(sd)
}

func corr(x, y []float64) float64 {
	mx, sx := meanSD(x)
	my, sy := meanSD(y)
	c := 0.0
	for i := range x {
		c += (x[i] - mx) * (y[i] - my) / float64(len(x))
	}
	return c / (sx * sy)
}

// The members' night minima have the model's bias and spread: the draws are
// stratified and the minimum is pinned, so only rounding is left.
func TestScenarioMinimaMatchModel(t *testing.T) {
	m := Prior()
	for i := range m.Leads {
		m.Leads[i].BiasK = -0.8 + 0.1*float64(i)
	}
	h := wave(24 * 9)
	for _, n := range []int{100, 31} {
		e := mustEnsemble(t, h, m, n, 7)
		for k, nt := range e.Nights {
			low, at := math.Inf(1), time.Time{} // twin: the plain minimum of the forecast
			for i := range h.N {
				if tt := h.Time(i); !tt.Before(nt.Sunset) && !tt.After(nt.End) && h.Cols[AirTemp][i] < low {
					low, at = h.Cols[AirTemp][i], tt
				}
			}
			bias, sd, _ := m.At(at.Sub(hr(12)).Hours())
			gotMean, gotSD := meanSD(e.NightMinima(k))
			if math.Abs(gotMean-low-bias) > 1e-9 || math.Abs(gotSD/sd-1) > 1e-9 {
				t.Errorf("n %d night %d: mean error %v sd %v, want %v and %v", n, k+1, gotMean-low, gotSD, bias, sd)
			}
			if k > 0 && e.SpreadK[k] < e.SpreadK[k-1] {
				t.Errorf("night %d: spread %v falls below %v", k+1, e.SpreadK[k], e.SpreadK[k-1])
			}
		}
	}
}

func TestScenarioPhysicalBounds(t *testing.T) {
	e := mustEnsemble(t, wave(24*9), Prior(), 100, 3)
	for m, s := range e.Members {
		for i := range e.N {
			if !(s.DewPointC[i] <= s.AirTempC[i]) || !(s.Cloud[i] >= 0 && s.Cloud[i] <= 1) || !(s.WindMS[i] > 0) || !(s.RainMM[i] >= 0) {
				t.Fatalf("member %d hour %d: T %v Td %v cloud %v wind %v rain %v", m, i, s.AirTempC[i], s.DewPointC[i], s.Cloud[i], s.WindMS[i], s.RainMM[i])
			}
		}
	}
	sum := 0.0
	for _, w := range e.Weights() {
		sum += w
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("weights add up to %v", sum)
	}
}

// Clear, calm and dry go with cold; successive nights and hours hang together.
// Tolerance: 100 independent draws would scatter by 1/sqrt(100) = 0.1; the draws
// are decorrelated before they are mixed, so 0.1 is ample.
func TestScenarioCorrelations(t *testing.T) {
	m := Prior()
	e := mustEnsemble(t, wave(24*9), m, 100, 11)
	pick := func(k int, f func(s *Scenario) []float64) []float64 {
		a, b := e.NightRange(k)
		out := make([]float64, len(e.Members))
		for i := range e.Members {
			for _, x := range f(&e.Members[i])[a:b] {
				out[i] += x / float64(b-a)
			}
		}
		return out
	}
	for k := range e.Nights {
		low := e.NightMinima(k)
		cloud := corr(low, pick(k, func(s *Scenario) []float64 { return s.Cloud }))
		wind := corr(low, pick(k, func(s *Scenario) []float64 { return s.WindMS }))
		// Clipping of cloud and the lognormal of wind take a little away.
		if math.Abs(cloud-m.TempCloud) > 0.15 || math.Abs(wind-m.TempWind) > 0.15 {
			t.Errorf("night %d: correlation with the minimum: cloud %.2f, wind %.2f; model %.2f, %.2f", k+1, cloud, wind, m.TempCloud, m.TempWind)
		}
		if k > 0 {
			if r := corr(e.NightMinima(k-1), low); math.Abs(r-m.NightCorr) > 0.1 {
				t.Errorf("nights %d, %d: correlation %.2f, model %.2f", k, k+1, r, m.NightCorr)
			}
		}
	}
	// Within a night the errors of neighbouring hours are nearly the same error.
	a, _ := e.NightRange(2)
	x, y := make([]float64, 100), make([]float64, 100)
	for i := range x {
		x[i], y[i] = e.Members[i].AirTempC[a+3], e.Members[i].AirTempC[a+4]
	}
	if r := corr(x, y); r < 0.9 {
		t.Errorf("hour to hour correlation %.2f, want above 0.9", r)
	}
}

func TestScenarioSeed(t *testing.T) {
	h := wave(24 * 9)
	a, b, c := mustEnsemble(t, h, Prior(), 40, 5), mustEnsemble(t, h, Prior(), 40, 5), mustEnsemble(t, h, Prior(), 40, 6)
	if d := cmp.Diff(a, b); d != "" {
		t.Errorf("same seed, different members: %s", d)
	}
	if cmp.Equal(a.Members, c.Members) {
		t.Error("different seeds, same members")
	}
}

// A forecast that ends within night 4: nights before are covered, night 4 and
// later are not, say so, and hold no made-up number.
func TestScenarioForecastEndsBeforeNight(t *testing.T) {
	e := mustEnsemble(t, wave(24*4), Prior(), 20, 1)
	for k, c := range e.Coverage {
		if want := k < 3; c.Covered != want {
			t.Errorf("night %d covered %v, want %v (%+v)", k+1, c.Covered, want, c)
		}
		if !c.Covered && (!strings.Contains(c.Why, "ends at Sat 13 Apr 23:00") || e.NightMinima(k) != nil || !math.IsNaN(e.CentralMinC[k])) {
			t.Errorf("night %d: why %q minima %v", k+1, c.Why, e.NightMinima(k))
		}
	}
	for _, s := range e.Members {
		for i := range e.N {
			if past := e.Time(i).After(hr(95)); past != math.IsNaN(s.AirTempC[i]) || past != math.IsNaN(s.WindMS[i]) {
				t.Fatalf("hour %v: T %v wind %v", e.Time(i), s.AirTempC[i], s.WindMS[i])
			}
		}
	}
}

func TestScenarioGapInNight(t *testing.T) {
	h := wave(24 * 9)
	h.Cols[AirTemp][24+2] = nan // 02:00 in night 1
	e := mustEnsemble(t, h, Prior(), 20, 1)
	if c := e.Coverage[0]; c.Covered || c.Missing != 1 || !strings.Contains(c.Why, "1 of 15 hours") {
		t.Errorf("coverage %+v", c)
	}
	if !e.Coverage[1].Covered {
		t.Errorf("night 2: %+v", e.Coverage[1])
	}
}

// A night under way is covered from now on, even when the forecast starts at
// the next whole hour.
func TestScenarioNightBegun(t *testing.T) {
	h := wave(24 * 9)
	now := hr(24 + 2.5)
	for i := 0; i <= 26; i++ {
		h.Cols[AirTemp][i] = nan
	}
	e, err := Scenarios(h, Prior(), sevenNights(), now, 20, 1)
	if err != nil {
		t.Fatal(err)
	}
	if c := e.Coverage[0]; !c.Covered || c.Hours != 7 { // 03:00 .. 09:00
		t.Errorf("coverage %+v, want 7 hours covered", c)
	}
	if a, b := e.NightRange(0); !e.Time(a).Equal(hr(27)) || !e.Time(b-1).Equal(hr(33)) {
		t.Errorf("night from %v to %v", e.Time(a), e.Time(b-1))
	}
}

func TestScenarioMissingVariables(t *testing.T) {
	full := mustEnsemble(t, wave(24*9), Prior(), 100, 2)
	if len(full.Notes) != 0 {
		t.Errorf("nothing is missing, notes %v", full.Notes)
	}
	e := mustEnsemble(t, wave(24*9, DewPoint, Cloud, Wind, Rain), Prior(), 100, 2)
	codes := map[string]bool{}
	for _, n := range e.Notes {
		codes[n.Code] = true
	}
	for _, want := range []string{"no_dew_point_c", "no_cloud_frac", "no_wind_m_s", "no_rain_mm"} {
		if !codes[want] {
			t.Errorf("no note %s among %v", want, e.Notes)
		}
	}
	a, _ := e.NightRange(0)
	sdOf := func(e *Ensemble, f func(s *Scenario) []float64) float64 {
		x := make([]float64, len(e.Members))
		for m := range x {
			x[m] = f(&e.Members[m])[a+5]
		}
		_, sd := meanSD(x)
		return sd
	}
	for name, f := range map[string]func(s *Scenario) []float64{
		"cloud": func(s *Scenario) []float64 { return s.Cloud },
		"log of wind": func(s *Scenario) []float64 {
			ln := make([]float64, len(s.WindMS))
			for i, w := range s.WindMS {
				ln[i] = math.Log(w)
			}
			return ln
		},
	} {
		if assumed, known := sdOf(&e, f), sdOf(&full, f); assumed <= known {
			t.Errorf("%s: spread %.2f when missing, %.2f when known", name, assumed, known)
		}
	}
	gap := wave(24 * 9)
	for i := 60; i < gap.N; i++ {
		gap.Cols[Cloud][i] = nan
	}
	e = mustEnsemble(t, gap, Prior(), 10, 2)
	if len(e.Notes) != 1 || e.Notes[0].Code != "gap_cloud_frac" || !strings.Contains(e.Notes[0].Text, "Fri 12 Apr 11:00") {
		t.Errorf("notes %v", e.Notes)
	}
}

// Humidity given as RH serves as well as the dew point it stands for.
func TestScenarioDewFromRH(t *testing.T) {
	h := wave(24*9, DewPoint)
	for i := range h.N {
		h.Col(RelHumidity)[i] = RHFromDew(h.Cols[AirTemp][i], math.Min(-2, h.Cols[AirTemp][i]))
	}
	want := wave(24 * 9)
	for i := range want.N {
		want.Cols[DewPoint][i] = math.Min(-2, want.Cols[AirTemp][i])
	}
	a, b := mustEnsemble(t, h, Prior(), 10, 2), mustEnsemble(t, want, Prior(), 10, 2)
	for i := range a.N {
		// The Magnus pair inverts to rounding.
		if x, y := a.Members[3].DewPointC[i], b.Members[3].DewPointC[i]; math.Abs(x-y) > 1e-9 {
			t.Fatalf("hour %d: dew point %v from RH, %v given", i, x, y)
		}
	}
	if a.Notes[0].Code != "dew_from_rh" {
		t.Errorf("notes %v", a.Notes)
	}
}

func TestScenarioRefuses(t *testing.T) {
	ok, nights := wave(24*9), sevenNights()
	bad := Prior()
	bad.Leads[3].SDK = math.NaN()
	readings := wave(24 * 9)
	readings.Kind = Reading
	swapped := []Night{nights[1], nights[0]}
	for name, c := range map[string]struct {
		h      Hourly
		m      ErrorModel
		nights []Night
		now    time.Time
		n      int
	}{
		"one member":        {ok, Prior(), nights, hr(12), 1},
		"too many members":  {ok, Prior(), nights, hr(12), MaxMembers + 1},
		"no nights":         {ok, Prior(), nil, hr(12), 10},
		"nights out of row": {ok, Prior(), swapped, hr(12), 10},
		"readings":          {readings, Prior(), nights, hr(12), 10},
		"no temperature":    {wave(24*9, AirTemp), Prior(), nights, hr(12), 10},
		"forecast over":     {wave(10), Prior(), nights, hr(12), 10},
		"issued later":      {ok, Prior(), nights, hr(11), 10},
		"bad model":         {ok, bad, nights, hr(12), 10},
		"night over":        {ok, Prior(), nights, hr(40), 10},
	} {
		if _, err := Scenarios(c.h, c.m, c.nights, c.now, c.n, 1); !errors.As(err, new(*InputError)) {
			t.Errorf("%s: error %v, want *InputError", name, err)
		}
	}
}

// Learn converges to a known bias and spread and equals the prior on nothing.
func TestLearn(t *testing.T) {
	prior := Prior()
	got, rep := Learn(prior, nil)
	if got != prior || rep != (LearnReport{}) {
		t.Errorf("nothing learned: %+v, %+v", got, rep)
	}
	const bias, sd, n = -2.0, 0.9, 4000
	var pairs []ForecastPair
	for i, z := range normalScores(n) { // mean 0, standard deviation 1
		pairs = append(pairs, ForecastPair{Night: t0.AddDate(0, 0, i), LeadH: 36, ForecastMinC: 1, MeasuredMinC: 1 + bias + sd*z})
	}
	got, rep = Learn(prior, pairs)
	// What is left of the prior: 10/4010 of 2 K, and 20/4020 of the variance.
	if l := got.Leads[1]; math.Abs(l.BiasK-bias) > 0.006 || math.Abs(l.SDK-sd) > 0.02 || l.Nights != n || rep.Used[1] != n {
		t.Errorf("learned %+v, want bias %v sd %v from %d nights", l, bias, sd, n)
	}
	if got.Leads[0] != prior.Leads[0] || got.Leads[7] != prior.Leads[7] {
		t.Error("buckets without nights moved")
	}
	// Ten nights: the bias is halfway, by the stated pseudo-count.
	got, _ = Learn(prior, []ForecastPair{{t0, 10, 0, 2}, {t0.AddDate(0, 0, 1), 10, 0, 2}, {t0.AddDate(0, 0, 2), 10, 0, 2},
		{t0.AddDate(0, 0, 3), 10, 0, 2}, {t0.AddDate(0, 0, 4), 10, 0, 2}, {t0.AddDate(0, 0, 5), 10, 0, 2}, {t0.AddDate(0, 0, 6), 10, 0, 2},
		{t0.AddDate(0, 0, 7), 10, 0, 2}, {t0.AddDate(0, 0, 8), 10, 0, 2}, {t0.AddDate(0, 0, 9), 10, 0, 2}})
	if b := got.Leads[0].BiasK; math.Abs(b-1) > 1e-12 {
		t.Errorf("bias after ten nights of +2 K: %v, want 1", b)
	}
}

func TestLearnOneNightOnce(t *testing.T) {
	pairs := []ForecastPair{
		{t0, 3, 0, 5}, {t0, 11, 0, 1}, {t0, 20, 0, 3}, // one night, one bucket: the lead nearest 12 h counts
		{t0, 200, 0, 1}, {t0, -1, 0, 1}, {t0, 30, 0, math.NaN()}, {t0, 30, 0, 25}, {t0, 30, -9999, 0},
	}
	got, rep := Learn(Prior(), pairs)
	if rep.Used[0] != 1 || rep.Repeated != 2 || rep.Refused != 5 {
		t.Errorf("report %+v", rep)
	}
	if b := got.Leads[0].BiasK; math.Abs(b-1.0/11) > 1e-12 {
		t.Errorf("bias %v, want 1/11", b)
	}
}
