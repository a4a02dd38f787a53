package feed

import (
	"math"
	"strings"
	"testing"
	"time"

	"budward/decide/weather"
)

// From the file to the scenarios of the nights, on the real forecast: seven
// nights are covered, the eighth is not, and nothing is assumed.
func TestGridpointToScenarios(t *testing.T) {
	b := must(t, string(load(t, "gridpoint_FGZ_74_89.json.gz")), Options{StationID: "s"})
	now := utc("2024-02-20T18:00Z")
	screened, rep := weather.Screen(b, now, nil)
	if rep.RunTotal != 0 {
		t.Errorf("screening: %+v", rep.Runs)
	}
	nights, err := weather.NightsAhead(now, 35.2, -111.7, zone(t, "America/Phoenix"), 8)
	if err != nil {
		t.Fatal(err)
	}
	if nights[0].Label != "Tue 20 - Wed 21 Feb" {
		t.Errorf("first night %q", nights[0].Label)
	}
	h, _, err := weather.Grid([]weather.Batch{screened}, weather.GridStart(now), nights[7].End)
	if err != nil {
		t.Fatal(err)
	}
	e, err := weather.Scenarios(h, weather.Prior(), nights, now, weather.DefaultMembers, 1)
	if err != nil {
		t.Fatal(err)
	}
	for k, c := range e.Coverage {
		if c.Covered != (k < 7) {
			t.Errorf("night %d: %+v", k+1, c)
		}
	}
	// The forecast's last hour is 28 Feb 00:00 UTC, 17:00 by the clock there.
	if why := e.Coverage[7].Why; !strings.Contains(why, "ends at Tue 27 Feb 17:00 MST") {
		t.Errorf("night 8: %q", why)
	}
	if len(e.Notes) != 0 { // every variable is there for every hour with a temperature
		t.Errorf("notes %v", e.Notes)
	}
	// Night 1: the lowest hour of the file between sunset (18:14 by the clock,
	// 01:14 UTC) and two hours past sunrise (08:59, 15:59 UTC), by a plain loop.
	low := math.Inf(1)
	for _, s := range b.Samples {
		if s.Var == weather.AirTemp && s.At.After(utc("2024-02-21T01:20Z")) && s.At.Before(utc("2024-02-21T15:50Z")) {
			low = math.Min(low, s.Value)
		}
	}
	if math.Abs(e.CentralMinC[0]-low) > 1e-9 {
		t.Errorf("night 1: centre %v, want %v", e.CentralMinC[0], low)
	}
	if lead := e.IssuedAt; !lead.Equal(b.IssuedAt) {
		t.Errorf("issue %v, want %v", lead, b.IssuedAt)
	}
}

func BenchmarkGridpointToScenarios(b *testing.B) {
	batch, err := decode(string(load(b, "gridpoint_FGZ_74_89.json.gz")), Options{})
	if err != nil {
		b.Fatal(err)
	}
	now := utc("2024-02-20T18:00Z")
	nights, err := weather.NightsAhead(now, 35.2, -111.7, time.UTC, 7)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		h, _, err := weather.Grid([]weather.Batch{batch}, now, nights[6].End)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := weather.Scenarios(h, weather.Prior(), nights, now, weather.DefaultMembers, 1); err != nil {
			b.Fatal(err)
		}
	}
}
