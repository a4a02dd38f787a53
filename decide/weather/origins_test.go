package weather

import (
	"math"
	"strings"
	"testing"
	"time"
)

// originCase builds forecasts of named origins for n past nights, each off by
// its own error, and the readings. Nights are invented, at hr's place.
func originCase(t *testing.T, n int, errs map[string]func(night int) float64) (forecasts, readings []Batch, nights []Night, now time.Time) {
	t.Helper()
	start := time.Date(2024, 3, 1, 0, 0, 0, 0, time.UTC)
	for k := range n {
		sunset := start.AddDate(0, 0, k).Add(1 * time.Hour)
		nights = append(nights, Night{Sunset: sunset, Sunrise: sunset.Add(12 * time.Hour), End: sunset.Add(14 * time.Hour)})
		var read Batch
		for h := -2; h < 18; h++ {
			read.Samples = append(read.Samples, Sample{At: sunset.Add(time.Duration(h) * time.Hour), Var: AirTemp, Value: 5 - float64(min(h, 24-h))/4})
		}
		read.Kind, read.Origin = Reading, "logger"
		readings = append(readings, read)
		for origin, e := range errs {
			f := Batch{Kind: Forecast, Origin: origin, IssuedAt: sunset.Add(-6 * time.Hour)}
			for _, s := range read.Samples {
				f.Samples = append(f.Samples, Sample{At: s.At, Var: AirTemp, Value: s.Value + e(k)})
			}
			forecasts = append(forecasts, f)
		}
	}
	return forecasts, readings, nights, nights[n-1].End.Add(time.Hour)
}

func alternate(size float64) func(int) float64 {
	return func(k int) float64 { return size * float64(1-2*(k%2)) }
}

func TestRankOrigins(t *testing.T) {
	fs, rs, ns, now := originCase(t, 30, map[string]func(int) float64{
		"good": alternate(0.5), "poor": alternate(3), "warm": func(int) float64 { return 4 },
	})
	got, err := RankOrigins(fs, rs, ns, now, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 3 || got[0].Origin == "poor" || got[2].Origin != "poor" {
		t.Fatalf("order %+v", got)
	}
	byName := map[string]OriginSkill{}
	for _, s := range got {
		byName[s.Origin] = s
		if s.Nights != 30 || s.Issues != 30 || !s.Fresh || s.Chosen != (s.Origin == got[0].Origin) || s.Why == "" {
			t.Errorf("%+v", s)
		}
	}
	// A steady error is a bias: as forecast it is 4 K too warm, corrected it is
	// good. ScorePairs has the other sign.
	w := byName["warm"]
	if math.Abs(w.Score.BiasK-4) > 1e-9 || math.Abs(w.Score.RMSEK-4) > 1e-9 || !(w.BiasK < -2 && w.BiasK > -4) {
		t.Errorf("warm: %+v", w)
	}
	if good := byName["good"]; math.Abs(good.Score.BiasK) > 1e-9 || math.Abs(good.Score.MAEK-0.5) > 1e-9 || !(good.SDK < byName["poor"].SDK) {
		t.Errorf("good: %+v", good)
	}
}

// The formula, written out for three nights by hand. The forecast minimum lies
// 18 h after issue (6 h before sunset plus 12), where the prior says 1.75 K (a
// quarter of the way from 1.7 at 12 h to 1.9 at 36 h); ages at `now` are 15 h
// past the last sunset and whole days more.
func TestOriginFormula(t *testing.T) {
	errs := []float64{1, -2, 3} // forecast minus measured
	fs, rs, ns, now := originCase(t, 3, map[string]func(int) float64{"a": func(k int) float64 { return errs[k] }})
	got, err := RankOrigins(fs, rs, ns, now, nil)
	if err != nil {
		t.Fatal(err)
	}
	w := []float64{math.Pow(0.5, 2.625/30), math.Pow(0.5, 1.625/30), math.Pow(0.5, 0.625/30)}
	total := 10 + w[0] + w[1] + w[2]
	bias := (-1*w[0] + 2*w[1] - 3*w[2]) / total
	sq := func(e float64) float64 { z := (e - bias) / 1.75; return z * z }
	sd := 1.7 * math.Sqrt((10+w[0]*sq(-1)+w[1]*sq(2)+w[2]*sq(-3))/total)
	const tol = 1e-9 // the same arithmetic in another order
	if math.Abs(got[0].BiasK-bias) > tol || math.Abs(got[0].SDK-sd) > tol {
		t.Errorf("bias %v, spread %v; want %v, %v", got[0].BiasK, got[0].SDK, bias, sd)
	}
	if !strings.HasPrefix(got[0].Why, "The only one") {
		t.Error(got[0].Why)
	}
}

// A newcomer starts at the prior: better than a poor old hand, worse than a good
// one. One lucky night is not enough to win.
func TestOriginShrinkage(t *testing.T) {
	fs, rs, ns, now := originCase(t, 30, map[string]func(int) float64{"good": alternate(0.8), "poor": alternate(3.5), "lucky": alternate(0)})
	var kept []Batch
	for _, f := range fs {
		if f.Origin != "lucky" || f.IssuedAt.After(ns[28].Sunset) {
			kept = append(kept, f)
		}
	}
	fresh := Batch{Kind: Forecast, Origin: "new", IssuedAt: now.Add(-time.Hour), Samples: fs[len(fs)-1].Samples}
	got, err := RankOrigins(append(kept, fresh), rs, ns, now, nil)
	if err != nil {
		t.Fatal(err)
	}
	order := ""
	for _, s := range got {
		order += s.Origin + " "
	}
	if order != "good lucky new poor " {
		t.Errorf("order %q: %+v", order, got)
	}
	if got[2].Nights != 0 || got[2].SDK != Prior().Leads[0].SDK || !math.IsNaN(got[2].Score.BiasK) {
		t.Errorf("a newcomer: %+v", got[2])
	}
}

func TestOriginFreshness(t *testing.T) {
	fs, rs, ns, now := originCase(t, 20, map[string]func(int) float64{"good": alternate(0.5), "poor": alternate(3)})
	var kept []Batch
	for _, f := range fs { // good falls silent for two days
		if f.Origin != "good" || f.IssuedAt.Before(now.Add(-48*time.Hour)) {
			kept = append(kept, f)
		}
	}
	got, err := RankOrigins(kept, rs, ns, now, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got[0].Origin != "poor" || got[1].Fresh || !strings.Contains(got[1].Why, "more than a day ago") {
		t.Errorf("%+v", got)
	}
	// with both silent the better one counts again
	got, err = RankOrigins(kept, rs, ns, now.AddDate(0, 0, 3), nil)
	if err != nil || got[0].Origin != "good" || !strings.Contains(got[0].Why, "older than a day") {
		t.Errorf("%+v, %v", got, err)
	}
	// what is issued after now is not known yet; names may be grouped
	got, err = RankOrigins(kept, rs, ns, ns[3].Sunset, func(*Batch) string { return "both" })
	if err != nil || len(got) != 1 || got[0].Issues != 8 {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err = RankOrigins(nil, rs, ns, now, nil); err != nil || len(got) != 0 {
		t.Errorf("%+v, %v", got, err)
	}
}
