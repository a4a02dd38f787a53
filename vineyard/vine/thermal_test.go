package vine

import (
	"errors"
	"math"
	"math/rand"
	"testing"
	"time"

	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// dayRun is n days of one mean temperature from a date on.
func dayRun(from time.Time, n int, meanC quantity.Celsius) []Day {
	out := make([]Day, n)
	for i := range out {
		out[i] = Day{from.AddDate(0, 0, i), meanC}
	}
	return out
}

// Worked by hand. Without spread, base 10, 20 degC-days a leaf: five days at 18
// degC are 40 degC-days, two leaves; from first leaf (4) to third leaf (6).
// Below the base nothing moves. Before bud burst, base 5, 265 degC-days: full
// swell to bud burst takes a fifth, 53 degC-days, 5.3 days at 15 degC; of seven
// days 1.7 are left at 15 - 10 = 5 degC-days, 8.5, which are 0.425 of a leaf.
func TestAdvanceByHand(t *testing.T) {
	p := DefaultThermal(farm.BurstMid)
	p.Spread = 0
	for _, c := range []struct {
		from string
		days []Day
		want Step
	}{
		{"first leaf", dayRun(seen.AddDate(0, 0, 1), 5, 18), ThirdLeaf},
		{"first leaf", dayRun(seen.AddDate(0, 0, 1), 5, 9), FirstLeaf},
		{"woolly", dayRun(seen.AddDate(0, 0, 1), 7, 15), 3.425},
		{"woolly", dayRun(seen.AddDate(0, 0, 1), 7, 4), FullSwell},
	} {
		m, err := p.Advance(mixture(t, c.from), c.days)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(m.Mean()-c.want)) > 1e-9 || m.Source != Advanced || !has(m.Flags, FlagAdvanced) {
			t.Errorf("%s: mean step %v (%s), want %v", c.from, m.Mean(), m.Source, c.want)
		}
	}
}

// Order is kept, the spread grows, the mean moves at the common rate, moving on
// in two goes is moving on in one, and shares sum to one.
func TestAdvanceMixture(t *testing.T) {
	p := DefaultThermal(farm.BurstMid)
	start := mixture(t, "EL 7=30%, EL 4=70%")
	days := dayRun(seen.AddDate(0, 0, 1), 10, 16)
	once, err := p.Advance(start, days)
	if err != nil {
		t.Fatal(err)
	}
	half, err := p.Advance(start, days[:4])
	if err != nil {
		t.Fatal(err)
	}
	twice, err := p.Advance(half, days[4:])
	if err != nil {
		t.Fatal(err)
	}
	if len(once.Shares) != len(twice.Shares) {
		t.Fatalf("%d shares in one go, %d in two", len(once.Shares), len(twice.Shares))
	}
	sum := 0.0
	for i, s := range once.Shares {
		sum += s.Share
		if w := twice.Shares[i]; math.Abs(float64(s.Step-w.Step)) > 1e-9 || math.Abs(s.Share-w.Share) > 1e-9 {
			t.Errorf("share %d: %+v in one go, %+v in two", i, s, w)
		}
	}
	if math.Abs(sum-1) > sums || once.Validate() != nil {
		t.Errorf("shares sum to %v, %v", sum, once.Validate())
	}
	// 60 degC-days are three leaves for the mean shoot: rates average to one
	// (their quantile midpoints are symmetric), rounding apart
	if got := float64(once.Mean() - start.Mean()); math.Abs(got-3) > 1e-9 {
		t.Errorf("the mean moved %v steps, want 3", got)
	}
	width := func(m Mixture) Step { return m.Shares[0].Step - m.Shares[len(m.Shares)-1].Step }
	if !(width(once) > width(half) && width(half) > width(start)) {
		t.Errorf("widths %v, %v, %v: the spread must grow", width(start), width(half), width(once))
	}
	l, err := NewLedger(start)
	if err != nil {
		t.Fatal(err)
	}
	l, _, err = l.Advance(p, days)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Cohorts) != len(once.Shares) || l.Cohorts[0].Step != once.Shares[0].Step {
		t.Error("the book and the mixture must move alike")
	}
}

func TestAdvanceGaps(t *testing.T) {
	p := DefaultThermal(farm.BurstMid)
	m := mixture(t, "woolly")
	good := dayRun(seen.AddDate(0, 0, 1), 5, 12)
	for name, days := range map[string][]Day{
		"NaN":       append(append([]Day(nil), good[:2]...), Day{good[2].Date, quantity.Celsius(math.NaN())}),
		"sentinel":  {{good[0].Date, -9999}},
		"hole":      {good[0], good[2]},
		"repeated":  {good[0], good[0]},
		"late":      good[2:],
		"backwards": {good[1], good[0]},
	} {
		if _, err := p.Advance(m, days); !errors.As(err, new(*GapError)) {
			t.Errorf("%s: error %v, want *GapError", name, err)
		}
	}
	if same, err := p.Advance(m, nil); err != nil || same.Source != m.Source {
		t.Errorf("no days: %+v, %v", same, err)
	}
	p.LeafDD = 0
	if _, err := p.Advance(m, good); !errors.As(err, new(*InputError)) {
		t.Errorf("bad parameter: %v", err)
	}
}

func TestAdvanceFlags(t *testing.T) {
	p := DefaultThermal(farm.BurstMid)
	m, err := p.Advance(mixture(t, "dormant"), dayRun(seen.AddDate(0, 0, 1), 25, 12))
	if err != nil || !has(m.Flags, FlagDormantHeat) || !has(m.Flags, FlagOldObservation) {
		t.Errorf("dormant without earlier warmth: %+v, %v", m.Flags, err)
	}
	// with warmth from 1 January known, dormant buds start where it has brought them
	jan := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	warm, err := p.Advance(mixture(t, "dormant"), dayRun(jan, 110, 6))
	if err != nil || has(warm.Flags, FlagDormantHeat) {
		t.Fatalf("dormant with earlier warmth: %+v, %v", warm.Flags, err)
	}
	cold, err := p.Advance(mixture(t, "dormant"), append(dayRun(jan, 100, 0), dayRun(seen.AddDate(0, 0, 1), 10, 6)...))
	if err != nil || !(warm.Mean() > cold.Mean()) {
		t.Errorf("a warm winter must be ahead of a cold one: %v, %v", warm.Mean(), cold.Mean())
	}
	// however warm it was, a bud seen dormant has not swollen: with no warmth
	// after the day it was seen it stays short of first swell
	held, err := p.Advance(mixture(t, "dormant"), append(dayRun(jan, 100, 20), dayRun(seen.AddDate(0, 0, 1), 3, 0)...))
	if err != nil || !(held.Mean() > 0.9 && held.Shares[0].Step < FirstSwell) {
		t.Errorf("seen dormant after a warm winter: %v, %v", held.Shares, err)
	}
	past, err := p.Advance(mixture(t, "EL 19"), dayRun(seen.AddDate(0, 0, 1), 20, 25))
	if err != nil || !has(past.Flags, FlagPastModel) || past.Mean() != Bloom {
		t.Errorf("past bloom: %v %+v, %v", past.Mean(), past.Flags, err)
	}
}

// seasonOf makes daily means that rise from winter, with noise, and the day on
// which heat above base reaches sum: a truth made apart from the fit.
func seasonOf(rng *rand.Rand, year int, base, sum float64) Season {
	s := Season{}
	total := 0.0
	shift := rng.NormFloat64() * 2
	for d := range 180 {
		date := time.Date(year, 1, 1+d, 0, 0, 0, 0, time.UTC)
		mean := 4 + shift + 0.11*float64(d) + 3*rng.NormFloat64()
		s.Days = append(s.Days, Day{date, quantity.Celsius(mean)})
		if mean > base {
			total += mean - base
		}
		if s.Burst.IsZero() && total >= sum {
			s.Burst = date
		}
	}
	return s
}

// The fit finds dates it was not shown when the truth is of its own kind: a sum
// is only reached to within the step of one day, so errors of a day or two are
// the least there can be; three days leaves room for the noise of the mean sum.
func TestFitBudbreak(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	for _, truth := range []struct{ base, sum float64 }{{5, 250}, {8, 150}, {2, 420}} {
		var seasons []Season
		for y := range 12 {
			seasons = append(seasons, seasonOf(rng, 2010+y, truth.base, truth.sum))
		}
		fit, err := FitBudbreak(seasons)
		if err != nil {
			t.Fatal(err)
		}
		if fit.ErrorDays > 3 || has(fit.Flags, FlagFewDates) || fit.Seasons != 12 {
			t.Errorf("truth %+v: %+v", truth, fit)
		}
		p := fit.Thermal(DefaultThermal(farm.BurstMid))
		if err := p.Validate(); err != nil || p.BurstBaseC != fit.BaseC {
			t.Errorf("fitted parameters: %+v, %v", p, err)
		}
	}
}

// A simple twin of the fit, straight from its definition, on dates that no
// degree-day model explains (so that choosing the base matters).
func TestFitAgainstTwin(t *testing.T) {
	rng := rand.New(rand.NewSource(11))
	for round := range 5 {
		var seasons []Season
		for y := range 4 + round {
			s := seasonOf(rng, 2010+y, 5, 250)
			s.Burst = s.Burst.AddDate(0, 0, rng.Intn(31)-15)
			seasons = append(seasons, s)
		}
		heat := func(s Season, base float64, to time.Time) float64 {
			sum := 0.0
			for _, d := range s.Days {
				if !d.Date.After(to) && float64(d.MeanC) > base {
					sum += float64(d.MeanC) - base
				}
			}
			return sum
		}
		missed := func(s Season, base, need float64) float64 {
			for _, d := range s.Days {
				if heat(s, base, d.Date) >= need-1e-9 {
					return d.Date.Sub(s.Burst).Hours() / 24
				}
			}
			return s.Days[len(s.Days)-1].Date.AddDate(0, 0, 1).Sub(s.Burst).Hours() / 24
		}
		without := func(ss []Season, i int) []Season {
			return append(append([]Season(nil), ss[:i]...), ss[i+1:]...)
		}
		mean := func(ss []Season, base float64) float64 {
			sum := 0.0
			for _, s := range ss {
				sum += heat(s, base, s.Burst)
			}
			return sum / float64(len(ss))
		}
		choose := func(ss []Season) float64 {
			best, least := 0.0, math.Inf(1)
			for k := range 27 {
				b := float64(k) / 2
				cost := (b - 5) * (b - 5) / 9
				for i := range ss {
					e := missed(ss[i], b, mean(without(ss, i), b))
					cost += e * e / 25
				}
				if cost < least-1e-12 {
					best, least = b, cost
				}
			}
			return best
		}
		sum := 0.0
		for i, s := range seasons {
			rest := without(seasons, i)
			b := choose(rest)
			e := missed(s, b, mean(rest, b))
			sum += e * e
		}
		fit, err := FitBudbreak(seasons)
		if err != nil {
			t.Fatal(err)
		}
		want := math.Sqrt(sum / float64(len(seasons)))
		if base := choose(seasons); float64(fit.BaseC) != base || math.Abs(fit.ErrorDays-want) > 1e-9 || math.Abs(fit.SumDD-mean(seasons, base)) > 1e-9 {
			t.Errorf("fit %+v; twin says base %v, error %v days", fit, base, want)
		}
	}
}

func TestFitRefusals(t *testing.T) {
	rng := rand.New(rand.NewSource(4))
	var s []Season
	for y := range 3 {
		s = append(s, seasonOf(rng, 2015+y, 5, 250))
	}
	if _, err := FitBudbreak(s[:2]); !errors.As(err, new(*InputError)) {
		t.Errorf("two dates: %v", err)
	}
	if fit, err := FitBudbreak(s); err != nil || !has(fit.Flags, FlagFewDates) {
		t.Errorf("three dates must be flagged: %+v, %v", fit, err)
	}
	hole := s[1]
	hole.Days = append(append([]Day(nil), s[1].Days[:10]...), s[1].Days[11:]...)
	if _, err := FitBudbreak([]Season{s[0], hole, s[2]}); !errors.As(err, new(*GapError)) {
		t.Errorf("a hole: %v", err)
	}
	outside := s[1]
	outside.Burst = outside.Days[0].Date.AddDate(1, 0, 0)
	if _, err := FitBudbreak([]Season{s[0], outside, s[2]}); !errors.As(err, new(*InputError)) {
		t.Errorf("a date outside the days: %v", err)
	}
	late := s[1]
	late.Days = late.Days[5:]
	if _, err := FitBudbreak([]Season{s[0], late, s[2]}); !errors.As(err, new(*InputError)) {
		t.Errorf("another start: %v", err)
	}
}
