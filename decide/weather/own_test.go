package weather

import (
	"errors"
	"math"
	"slices"
	"testing"
)

// A feed's own members pass through: same minima, plus the bias.
func TestFromMembers(t *testing.T) {
	var members []Hourly
	for m := range 11 {
		h := wave(24*9, Cloud)
		for i := range h.N {
			h.Cols[AirTemp][i] += float64(m) - 5
		}
		members = append(members, h)
	}
	model := Prior()
	for i := range model.Leads {
		model.Leads[i].BiasK = 0.5
	}
	e, err := FromMembers(members, model, sevenNights(), hr(12.3), 1)
	if err != nil {
		t.Fatal(err)
	}
	for k := range e.Nights {
		for m, low := range e.NightMinima(k) {
			if want := -1 + float64(m) - 5 + 0.5; math.Abs(low-want) > 1e-9 { // 6 - 7 = -1 at 06:00
				t.Errorf("night %d member %d: %v, want %v", k+1, m+1, low, want)
			}
		}
		if want := math.Sqrt(10); math.Abs(e.SpreadK[k]-want) > 1e-9 { // 0..10 evenly: variance (11^2-1)/12
			t.Errorf("night %d: spread %v, want %v", k+1, e.SpreadK[k], want)
		}
	}
	var codes []string
	for _, n := range e.Notes {
		codes = append(codes, n.Code)
	}
	// Members 1 to 4 fall below the dew point of -2 somewhere; said once.
	if !slices.Equal(codes, []string{"no_cloud_frac", "dew_above_temp", "own_members"}) {
		t.Errorf("notes %v", e.Notes)
	}
	members[4] = wave(24 * 3)
	if _, err := FromMembers(members, model, sevenNights(), hr(12.3), 1); !errors.As(err, new(*InputError)) {
		t.Errorf("members on different grids: %v", err)
	}
	if _, err := FromMembers(nil, model, sevenNights(), hr(12.3), 1); !errors.As(err, new(*InputError)) {
		t.Errorf("no members: %v", err)
	}
}

// Quantiles of a normal forecast give back its mean and spread.
func TestFromQuantiles(t *testing.T) {
	h := wave(24 * 9)
	q := QuantileForecast{Forecast: h, Levels: []float64{0.1, 0.5, 0.9}}
	const sd, z90 = 2.0, 1.2815515655446004 // the 90 % point of the standard normal
	for _, z := range []float64{-z90, 0, z90} {
		col := make([]float64, h.N)
		for i := range col {
			col[i] = h.Cols[AirTemp][i] + sd*z
		}
		q.AirTempC = append(q.AirTempC, col)
	}
	e, err := FromQuantiles(q, Prior(), sevenNights(), hr(12.3), 100, 9)
	if err != nil {
		t.Fatal(err)
	}
	for k := range e.Nights {
		if math.Abs(e.CentralMinC[k]+1) > 1e-9 || math.Abs(e.SpreadK[k]-sd) > 1e-9 {
			t.Errorf("night %d: %v +- %v, want -1 +- 2", k+1, e.CentralMinC[k], e.SpreadK[k])
		}
	}
	for name, spoil := range map[string]func(q *QuantileForecast){
		"levels fall":    func(q *QuantileForecast) { q.Levels = []float64{0.5, 0.1, 0.9} },
		"one level":      func(q *QuantileForecast) { q.Levels, q.AirTempC = q.Levels[:1], q.AirTempC[:1] },
		"crossing":       func(q *QuantileForecast) { q.AirTempC = [][]float64{q.AirTempC[2], q.AirTempC[1], q.AirTempC[0]} },
		"short column":   func(q *QuantileForecast) { q.AirTempC = [][]float64{q.AirTempC[0], q.AirTempC[1], {1}} },
		"level of 100 %": func(q *QuantileForecast) { q.Levels = []float64{0.1, 0.5, 1} },
	} {
		bad := q
		spoil(&bad)
		if _, err := FromQuantiles(bad, Prior(), sevenNights(), hr(12.3), 100, 9); !errors.As(err, new(*InputError)) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestDewPointBothWays(t *testing.T) {
	// FAO-56 example 3: saturation vapour pressure 1.705 kPa at 15.0 degC and
	// 3.075 at 24.5, so air at 24.5 with 55.4 % has its dew point at 15.
	if d := DewFromRH(24.5, 100*1.705/3.075); math.Abs(d-15) > 0.01 { // four figures of the table
		t.Errorf("dew point %v, want 15.0", d)
	}
	if rh := RHFromDew(24.5, 15); math.Abs(rh-100*1.705/3.075) > 0.05 {
		t.Errorf("humidity %v", rh)
	}
	if d := DewFromRH(3, 103); d != 3 {
		t.Errorf("a sensor at 103 %%: dew point %v, want 3 (saturated)", d)
	}
	for _, v := range []float64{DewFromRH(3, 110), DewFromRH(3, 0), DewFromRH(nan, 50), RHFromDew(3, 4), RHFromDew(3, nan)} {
		if !math.IsNaN(v) {
			t.Errorf("got %v, want unknown", v)
		}
	}
	h := NewHourly(t0, 2, Reading)
	h.Col(AirTemp)[0], h.Col(RelHumidity)[0] = 10, 100
	w, n := WithDewPoint(h)
	if n != 1 || w.At(DewPoint, 0) != 10 || w.FlagAt(DewPoint, 0) != FlagDerived || !math.IsNaN(w.At(DewPoint, 1)) || h.Has(DewPoint) {
		t.Errorf("%d derived, %v", n, w.Cols[DewPoint])
	}
}
