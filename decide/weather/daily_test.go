package weather

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"budward/physics/sky"
)

// tenYears is an invented record: a yearly wave with noise of 2.5 K (a usual
// day-to-day spread), without fault.
func tenYears() DailyRecord {
	r := DailyRecord{StationID: "s", Origin: "invented"}
	rng := rand.New(rand.NewPCG(4, 2))
	for d := (sky.Date{Year: 2001, Month: 1, Day: 1}); d.Year < 2013; d = d.AddDays(1) {
		mid := 8 - 7*math.Cos(2*math.Pi*float64(d.YearDay()-15)/365)
		low := mid + 2.5*rng.NormFloat64()
		r.Days = append(r.Days, Daily{Date: d, TMinC: low, TMaxC: low + 9 + 3*rng.Float64(), PrecipMM: 0})
	}
	return r
}

var afterTenYears = time.Date(2013, 6, 1, 0, 0, 0, 0, time.UTC)

func TestScreenDailyClean(t *testing.T) {
	r := tenYears()
	out, rep := ScreenDaily(r, afterTenYears)
	if len(rep.Excluded) != 0 || !rep.SeasonKnown || len(out.Days) != len(r.Days) {
		t.Errorf("a clean record loses %v of %d", rep.Excluded, rep.Days)
	}
	// beyond 4 robust spreads of a normal law: 6e-5 of the values, of some 8800
	if rep.Doubtful > 5 {
		t.Errorf("%d values are questioned", rep.Doubtful)
	}
}

func TestScreenDailyReasons(t *testing.T) {
	set := func(r *DailyRecord, d sky.Date, low, high float64) {
		i, ok := r.find(d)
		if !ok {
			t.Fatal(d)
		}
		r.Days[i].TMinC, r.Days[i].TMaxC = low, high
	}
	may := sky.Date{Year: 2005, Month: time.May, Day: 10}
	for name, c := range map[string]struct {
		spoil func(r *DailyRecord)
		why   Reason
		n     int
		kept  bool
	}{
		"impossible":    {func(r *DailyRecord) { set(r, may, -200, 15) }, Impossible, 1, false},
		"max below min": {func(r *DailyRecord) { set(r, may, 12, 11.9) }, MaxBelowMin, 2, false},
		"spike":         {func(r *DailyRecord) { set(r, may, -17.8, 24) }, Spike, 1, false},
		"a run of odd days": {func(r *DailyRecord) {
			for i := range 4 {
				set(r, may.AddDays(i), -20, 20)
			}
		}, Outlier, 4, false},
		"a cold day is kept and questioned": {func(r *DailyRecord) {
			// 5 of the window's spreads: noise and season together 2.9 K
			for i := range 2 {
				set(r, may.AddDays(i), 11.2-5*2.9, 15)
			}
		}, Outlier, 2, true},
		"repeated": {func(r *DailyRecord) { r.Days = append(r.Days, Daily{Date: may, TMinC: 1, TMaxC: 20}) }, Repeated, 1, false},
		"future": {func(r *DailyRecord) {
			r.Days = append(r.Days, Daily{Date: sky.Date{Year: 2014, Month: 1, Day: 1}, TMinC: 1, TMaxC: 9, PrecipMM: nan})
		}, Future, 2, false},
	} {
		t.Run(name, func(t *testing.T) {
			clean, base := ScreenDaily(tenYears(), afterTenYears)
			r := tenYears()
			c.spoil(&r)
			before := len(r.Days)
			out, rep := ScreenDaily(r, afterTenYears)
			got := rep.Excluded[c.why]
			if c.kept {
				got = rep.Doubtful - base.Doubtful
			}
			if got != c.n || !c.kept && len(rep.Excluded) != 1 || c.kept && len(rep.Excluded) != 0 {
				t.Errorf("excluded %v, doubtful %d; want %d of %s", rep.Excluded, rep.Doubtful, c.n, c.why)
			}
			if len(r.Days) != before {
				t.Error("the input was changed")
			}
			if i, ok := out.find(may); !ok || c.kept && out.Days[i].Flags&DailyMinDoubtful == 0 {
				t.Errorf("10 May after screening: %+v", out.Days[i])
			}
			if c.why == Repeated && out.At(may).TMinC != clean.At(may).TMinC {
				t.Error("the second row of the date counted")
			}
			if _, err := json.Marshal(rep.Listed); err != nil {
				t.Error(err)
			}
		})
	}
}

// A short record has no known season: a run of odd days cannot be told from
// weather and stays, which the report says.
func TestScreenDailyShortRecord(t *testing.T) {
	r := tenYears()
	r.Days = r.Days[:400]
	for i := 100; i < 104; i++ {
		r.Days[i].TMinC = -20
	}
	_, rep := ScreenDaily(r, afterTenYears)
	if rep.SeasonKnown || len(rep.Excluded) != 0 || rep.Doubtful != 0 {
		t.Errorf("report %+v", rep)
	}
}

// A real frost lasts or comes between like days: two cold nights in a row, or one
// 9 K below its neighbours, are weather.
func TestScreenDailyKeepsFrost(t *testing.T) {
	r := tenYears()
	at := func(k int) *Daily { return &r.Days[k] }
	k, _ := r.find(sky.Date{Year: 2006, Month: time.April, Day: 14})
	for i, low := range []float64{7, 7, -2, 7, 7} {
		at(k+i).TMinC, at(k+i).TMaxC = low, 18
	}
	out, rep := ScreenDaily(r, afterTenYears)
	if got := out.Days[k+2].TMinC; got != -2 {
		t.Errorf("the frost became %v: %v", got, rep.Excluded)
	}
}

func TestDailyRecordAt(t *testing.T) {
	r := DailyRecord{}
	d := r.At(sky.Date{Year: 2001, Month: 2, Day: 3})
	if !isNaN(d.TMinC) || !isNaN(d.TMaxC) || !isNaN(d.PrecipMM) {
		t.Errorf("%+v", d)
	}
	for range MaxRefused + 5 {
		r.Refuse(Refusal{})
	}
	if len(r.Refused) != MaxRefused || r.RefusedTotal != MaxRefused+5 {
		t.Errorf("%d listed, %d counted", len(r.Refused), r.RefusedTotal)
	}
}
