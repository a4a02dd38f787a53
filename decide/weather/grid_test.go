package weather

import (
	"errors"
	"math"
	"testing"
	"time"
)

var t0 = time.Date(2024, 4, 10, 0, 0, 0, 0, time.UTC)

func hr(h float64) time.Time { return t0.Add(time.Duration(h * float64(time.Hour))) }

func readings(vs ...Sample) Batch {
	return Batch{StationID: "s", Kind: Reading, Origin: "r", Samples: vs}
}

func issue(at float64, vs ...Sample) Batch {
	return Batch{StationID: "s", Kind: Forecast, Origin: "f", IssuedAt: hr(at), Samples: vs}
}

// same compares with NaN equal to NaN; sums of a few decimals round in the
// last digits only.
func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-12*(1+math.Abs(b))
}

func wantCol(t *testing.T, h *Hourly, v Variable, want ...float64) {
	t.Helper()
	if h.N != len(want) {
		t.Fatalf("N = %d, want %d", h.N, len(want))
	}
	for i, w := range want {
		if got := h.At(v, i); !same(got, w) {
			t.Errorf("%v at %d = %v, want %v", v, i, got, w)
		}
	}
}

func mustGrid(t *testing.T, from, to float64, bs ...Batch) (Hourly, GridReport) {
	t.Helper()
	h, rep, err := Grid(bs, hr(from), hr(to))
	if err != nil {
		t.Fatal(err)
	}
	return h, rep
}

// Readings every 15 minutes: means, rain sums and minima worked by hand.
func TestGridSubHourly(t *testing.T) {
	b := readings()
	for k := 1; k <= 8; k++ { // 00:15 .. 02:00
		at := hr(float64(k) / 4)
		b.Samples = append(b.Samples, Sample{at, AirTemp, float64(k)}, Sample{at, Rain, 0.1})
	}
	h, rep := mustGrid(t, 0, 3, b)
	wantCol(t, &h, AirTemp, nan, 2.5, 6.5, nan) // (1+2+3+4)/4, (5+6+7+8)/4
	wantCol(t, &h, Rain, nan, 0.4, 0.8-0.4, nan)
	wantCol(t, &h, AirTempMin, nan, 1, 5, nan)
	if h.FlagAt(AirTemp, 1) != FlagMean || h.FlagAt(AirTempMin, 1) != FlagDerived || rep.DerivedMinima != 2 {
		t.Errorf("flags %v %v, derived %d", h.FlagAt(AirTemp, 1), h.FlagAt(AirTempMin, 1), rep.DerivedMinima)
	}
}

// Less than half an hour of temperature, or any of the rain missing, is a gap.
func TestGridPartialHour(t *testing.T) {
	b := readings()
	for k := 1; k <= 24; k++ { // every 5 minutes for two hours
		at := t0.Add(time.Duration(k) * 5 * time.Minute)
		if k > 5 && k <= 12 { // first hour: five of twelve
			continue
		}
		b.Samples = append(b.Samples, Sample{at, AirTemp, 3})
		if k != 20 { // second hour: rain lacks one of twelve
			b.Samples = append(b.Samples, Sample{at, Rain, 1})
		}
	}
	h, rep := mustGrid(t, 0, 2, b)
	wantCol(t, &h, AirTemp, nan, nan, 3)
	// The gap before 01:40+5 is bridged by at most one and a half steps, so 11
	// readings speak for 57.5 of 60 minutes; 0.95 of the hour is 57.
	wantCol(t, &h, Rain, nan, nan, 11)
	if rep.PartialHours != 2 {
		t.Errorf("partial hours %d, want 2 (temperature and rain of the first)", rep.PartialHours)
	}
}

// Hourly readings at :53, as airports send them, belong to the hour ending next.
func TestGridOffMinute(t *testing.T) {
	b := readings(Sample{t0.Add(-7 * time.Minute), AirTemp, 1}, Sample{t0.Add(53 * time.Minute), AirTemp, 2}, Sample{t0.Add(173 * time.Minute), AirTemp, 4})
	h, _ := mustGrid(t, 0, 3, b)
	wantCol(t, &h, AirTemp, 1, 2, nan, 4)
}

func TestGridDuplicates(t *testing.T) {
	old := readings(Sample{hr(1), AirTemp, 5}, Sample{hr(1), AirTemp, 6}, Sample{hr(2), AirTemp, 7})
	again := readings(Sample{hr(1), AirTemp, 8}, Sample{hr(2), AirTemp, 7}, Sample{hr(3), AirTemp, math.NaN()})
	old.FedAt, again.FedAt = hr(10), hr(11)
	again.Origin = "again"
	h, rep := mustGrid(t, 1, 3, again, old) // the order handed over does not matter
	wantCol(t, &h, AirTemp, 8, 7, nan)
	if rep.Duplicates != 3 || rep.Conflicts != 2 || rep.NotNumbers != 1 {
		t.Errorf("report %+v, want 3 duplicates, 2 conflicts, 1 not a number", rep)
	}
	if s, ok := h.SourceAt(AirTemp, 0); !ok || s.Origin != "again" {
		t.Errorf("source %v %v, want again", s, ok)
	}
	if _, ok := h.SourceAt(AirTemp, 2); ok {
		t.Error("a gap has a source")
	}
}

func TestGridLaterIssueWins(t *testing.T) {
	early := issue(0, Sample{hr(1), AirTemp, 1}, Sample{hr(2), AirTemp, 2}, Sample{hr(3), AirTemp, 3})
	late := issue(1, Sample{hr(2), AirTemp, 20})
	h, rep := mustGrid(t, 1, 4, late, early)
	wantCol(t, &h, AirTemp, 1, 20, 3, nan)
	if rep.Superseded != 1 {
		t.Errorf("superseded %d, want 1", rep.Superseded)
	}
	if s, _ := h.SourceAt(AirTemp, 1); !s.IssuedAt.Equal(hr(1)) {
		t.Errorf("value at 2 h comes from issue %v", s.IssuedAt)
	}
	if s, _ := h.SourceAt(AirTemp, 2); !s.IssuedAt.Equal(hr(0)) {
		t.Errorf("value at 3 h comes from issue %v", s.IssuedAt)
	}
}

// Three-hourly forecasts stay three-hourly; FillShort fills on request.
func TestGridThreeHourlyAndFill(t *testing.T) {
	b := issue(0, Sample{hr(0), AirTemp, 0}, Sample{hr(3), AirTemp, 3}, Sample{hr(7), AirTemp, 7}, Sample{hr(0), Rain, 1}, Sample{hr(2), Rain, 1})
	h, _ := mustGrid(t, 0, 8, b)
	wantCol(t, &h, AirTemp, 0, nan, nan, 3, nan, nan, nan, 7, nan)
	f, rep := FillShort(h, 2)
	wantCol(t, &f, AirTemp, 0, 1, 2, 3, nan, nan, nan, 7, nan)
	wantCol(t, &f, Rain, 1, nan, 1, nan, nan, nan, nan, nan, nan)
	if rep.Filled[AirTemp] != 2 || rep.Left[AirTemp] != 3 || f.FlagAt(AirTemp, 1) != FlagFilled || f.FlagAt(AirTemp, 0) != 0 {
		t.Errorf("fill report %+v, flags %v", rep, f.Flags[AirTemp])
	}
	wantCol(t, &h, AirTemp, 0, nan, nan, 3, nan, nan, nan, 7, nan) // the original is untouched
}

// A zone with half hours: local whole hours fall on :30 of the grid.
func TestGridHalfHourZone(t *testing.T) {
	b := issue(0, Sample{hr(0.5), AirTemp, 1}, Sample{hr(1.5), AirTemp, 3}, Sample{hr(2.5), AirTemp, 4}, Sample{hr(4.5), AirTemp, 6})
	h, rep := mustGrid(t, 0, 4, b)
	wantCol(t, &h, AirTemp, nan, 2, 3.5, nan, nan)
	if rep.Interpolated != 2 || h.FlagAt(AirTemp, 1) != FlagInterpolated {
		t.Errorf("interpolated %d, flag %v", rep.Interpolated, h.FlagAt(AirTemp, 1))
	}
	onGrid, _ := mustGrid(t, 0.5, 2.5, b) // or the grid itself may start at :30
	wantCol(t, &onGrid, AirTemp, 1, 3, 4)
}

// Rain is conserved: what falls in the samples falls on the grid.
func TestGridForecastRainQuarterHours(t *testing.T) {
	b := issue(0)
	for k := range 8 {
		b.Samples = append(b.Samples, Sample{hr(float64(k) / 4), Rain, float64(k)})
	}
	h, _ := mustGrid(t, 0, 2, b)
	wantCol(t, &h, Rain, 0+1+2+3, 4+5+6+7, nan)
}

func TestGridRefuses(t *testing.T) {
	ok := readings(Sample{hr(1), AirTemp, 1})
	other := ok
	other.StationID = "t"
	for name, c := range map[string]struct {
		bs       []Batch
		from, to float64
	}{
		"nothing":         {nil, 0, 1},
		"mixed kinds":     {[]Batch{ok, issue(0)}, 0, 1},
		"mixed stations":  {[]Batch{ok, other}, 0, 1},
		"empty window":    {[]Batch{ok}, 1, 1},
		"too long":        {[]Batch{ok}, 0, MaxHours + 1},
		"no issue time":   {[]Batch{{StationID: "s", Kind: Forecast}}, 0, 1},
		"kind left empty": {[]Batch{{StationID: "s"}}, 0, 1},
	} {
		if _, _, err := Grid(c.bs, hr(c.from), hr(c.to)); !errors.As(err, new(*InputError)) {
			t.Errorf("%s: error %v, want *InputError", name, err)
		}
	}
}

func TestVariableTable(t *testing.T) {
	seen := map[string]bool{}
	for v := range NumVariables {
		name := v.String()
		if name == "" || v.Label() == "" || v.Unit() == "" || seen[name] {
			t.Errorf("variable %d: name %q label %q unit %q", v, name, v.Label(), v.Unit())
		}
		seen[name] = true
		if got, err := ParseVariable(name); err != nil || got != v {
			t.Errorf("ParseVariable(%q) = %v, %v", name, got, err)
		}
		lo, hi, src := v.PlausibleRange()
		if !(lo < hi) || src == "" || v.Plausible(math.NaN()) || v.Plausible(-9999) {
			t.Errorf("%v: range %v..%v from %q", v, lo, hi, src)
		}
	}
	if _, err := ParseVariable("air_temp"); !errors.As(err, new(*InputError)) {
		t.Errorf("unknown name: %v", err)
	}
}

func TestHourlySliceAndIndex(t *testing.T) {
	b := issue(0)
	for k := range 10 {
		b.Samples = append(b.Samples, Sample{hr(float64(k)), AirTemp, float64(k)})
	}
	h, _ := mustGrid(t, 0, 9, b)
	s := h.Slice(hr(2.5), hr(5))
	wantCol(t, &s, AirTemp, 3, 4, 5)
	if !s.Start.Equal(hr(3)) || s.Gaps(AirTemp) != 0 || s.Gaps(Wind) != 3 || h.Index(hr(99)) != 10 || h.Index(hr(-1)) != 0 {
		t.Errorf("slice starts %v, gaps %d %d", s.Start, s.Gaps(AirTemp), s.Gaps(Wind))
	}
}
