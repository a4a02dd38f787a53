package nights_test

import (
	"encoding/json"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"budward/decide/nights"
	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// at returns input with another present moment; the forecast keeps its start.
func at(t testing.TB, w clearWeek, when time.Time, blocks ...farm.Block) nights.Input {
	in := input(t, w, blocks...)
	in.Now = when
	s := in.Stations["S"]
	s.Readings = w.grid(when.UTC().Truncate(time.Hour).Add(-10*24*time.Hour), 241, weather.Reading)
	in.Stations["S"] = s
	return in
}

func sprinklers(id string, mmH float64) farm.Block {
	b := testBlock(id)
	b.System = farm.System{Kind: farm.OverVine, SourceID: "W", RateMmH: mmH}
	return b
}

// Water on vines that are below freezing already chills them further: never
// "start now" into it.
func TestSprinklersAreNotStartedTooLate(t *testing.T) {
	in := at(t, frost, time.Date(2024, 4, 9, 5, 5, 0, 0, zone), sprinklers("A", 7)) // about -1 degC
	c := choice(find(t, tonight(t, in), "A"), nights.OverVine)
	if c.Open || c.Chosen || !strings.Contains(c.WhyNot, "do not start") {
		t.Errorf("at -1 degC: %+v", c)
	}
	// At dusk it is open, and the start is neither past nor after the crossing.
	in = at(t, frost, time.Date(2024, 4, 8, 19, 5, 0, 0, zone), sprinklers("A", 7))
	c = choice(find(t, tonight(t, in), "A"), nights.OverVine)
	if !c.Open || c.StartAt.Before(in.Now) || !c.StopAt.After(c.StartAt) {
		t.Errorf("at dusk: %+v", c)
	}
}

// What should run already starts now, not at the next full hour; what is over
// is closed and costs nothing.
func TestStartsAndStopsAreInOrder(t *testing.T) {
	b := testBlock("A")
	b.Protection = []string{"F", "H"}
	equip := []farm.Equipment{{ID: "F", Name: "Fan", Kind: farm.Fan, AreaHa: 4, Count: 1, CostPerH: 40}, {ID: "H", Name: "Heaters", Kind: farm.Heaters, PowerKW: 4000, CostPerH: 300}}
	drip := testBlock("B")
	dripOn(&drip)
	for _, clock := range []string{"15:00", "19:10", "22:25", "02:05", "03:40", "05:20", "05:50", "06:20", "06:35"} {
		when, err := time.ParseInLocation("15:04", clock, zone)
		if err != nil {
			t.Fatal(err)
		}
		day := 8
		if when.Hour() < 12 {
			day = 9
		}
		now := time.Date(2024, 4, day, when.Hour(), when.Minute(), 0, 0, zone)
		in := at(t, frost, now, b, drip, sprinklers("C", 7))
		in.Farm.Equipment = equip
		for _, a := range tonight(t, in).Blocks {
			for _, c := range a.Choices {
				if !c.Open || c.Kind == nights.Nothing {
					continue
				}
				if c.StartAt.Before(now) || c.Cost < 0 || !c.Ahead && !c.StopAt.After(c.StartAt) {
					t.Errorf("%s, %s: %s from %v to %v costs %.0f", clock, a.BlockID, c.Kind, c.StartAt, c.StopAt, c.Cost)
				}
				cold := map[string]bool{"02:05": true, "03:40": true}[clock] // below the limit by then
				if cold && !c.Ahead && c.Kind != nights.OverVine && c.StartAt.Sub(now) > 5*time.Minute {
					t.Errorf("%s, %s: %s waits until %v", clock, a.BlockID, c.Kind, c.StartAt)
				}
			}
		}
	}
}

// From an hour past sunrise the coming night is answered for, not the one gone.
func TestMorningAnswersForTheNextNight(t *testing.T) {
	in := at(t, frost, time.Date(2024, 4, 9, 7, 30, 0, 0, zone), testBlock("A"))
	a := tonight(t, in)
	if a.Nights[0].Begun || !strings.HasPrefix(a.Nights[0].Label, "Tue 9") {
		t.Errorf("at 07:30 on Tuesday: %+v", a.Nights[0])
	}
	if b := find(t, a, "A"); b.Urgency == nights.Unknown {
		t.Errorf("%s", b.Reason)
	}
}

// A frost read an hour ago is not forgotten because the air has warmed.
func TestLowSoFarIsKept(t *testing.T) {
	in := at(t, frost, time.Date(2024, 4, 9, 6, 20, 0, 0, zone), testBlock("A"))
	a := tonight(t, in)
	if low := a.Stations[0].LowSoFar; low == nil || *low > -0.5 {
		t.Fatalf("low so far %v, read -0.9", low)
	}
	n := find(t, a, "A").Nights[0]
	if n.Min.P90C > 0.5 || n.Risk.LossShare < 0.2 {
		t.Errorf("after -1 degC: %+v, loss %.2f", n.Min, n.Risk.LossShare)
	}
}

// One station's bad forecast leaves the other station's blocks answered.
func TestOneBadStationDoesNotSilenceTheOthers(t *testing.T) {
	b := testBlock("B")
	b.StationID = "T"
	in := input(t, frost, testBlock("A"), b)
	st := testStation()
	st.ID = "T"
	in.Farm.Stations = append(in.Farm.Stations, st)
	in.Stations["T"] = nights.StationInput{Forecast: frost.grid(now.UTC().Truncate(time.Hour).Add(-96*time.Hour), 40, weather.Forecast), IssuedAt: now.Add(-96 * time.Hour)}
	a := tonight(t, in)
	if x := find(t, a, "A"); x.Urgency == nights.Unknown {
		t.Errorf("A: %s", x.Reason)
	}
	if y := find(t, a, "B"); y.Urgency != nights.Unknown || y.Unknown == "" {
		t.Errorf("B: %+v", y)
	}
}

// One pair of hands is warned, not refused; none stated is no limit.
func TestLoneGrower(t *testing.T) {
	b := testBlock("A")
	b.Protection = []string{"F"}
	in := input(t, frost, b)
	in.Farm.Equipment = []farm.Equipment{{ID: "F", Name: "Fan", Kind: farm.Fan, AreaHa: 4, Count: 1, CostPerH: 40}}
	in.Farm.HandsTonight = 1
	c := choice(find(t, tonight(t, in), "A"), nights.RunFan)
	if !c.Open || !c.Chosen || len(c.Cautions) == 0 || !strings.Contains(c.Cautions[0], "No one works alone") {
		t.Errorf("%+v", c)
	}
}

// Without a price nothing can be weighed in money: the share saved decides.
func TestNoPriceGiven(t *testing.T) {
	b := testBlock("A")
	b.PricePerT = 0
	b.Protection = []string{"F"}
	in := input(t, frost, b)
	in.Farm.Equipment = []farm.Equipment{{ID: "F", Name: "Fan", Kind: farm.Fan, AreaHa: 4, Count: 1, CostPerH: 40}}
	a := find(t, tonight(t, in), "A")
	if c := choice(a, nights.RunFan); !c.Chosen || a.Urgency != nights.Act {
		t.Errorf("%s: %+v", a.Urgency, c)
	}
}

// A fan named by four blocks of its own size serves each by a quarter.
func TestSharedFan(t *testing.T) {
	gain := func(n int) float64 {
		var blocks []farm.Block
		for i := range n {
			b := testBlock(string(rune('A' + i)))
			b.Protection = []string{"F"}
			blocks = append(blocks, b)
		}
		in := input(t, frost, blocks...)
		in.Farm.Equipment = []farm.Equipment{{ID: "F", Name: "Fan", Kind: farm.Fan, AreaHa: 4, Count: 1, CostPerH: 40}}
		c := choice(find(t, tonight(t, in), "A"), nights.RunFan)
		return float64(c.Gain.CentralK)
	}
	if one, four := gain(1), gain(4); math.Abs(four-one/4) > 0.02 {
		t.Errorf("alone %.2f K, one of four %.2f K", one, four)
	}
}

// The block's own water is not promised twice at one time.
func TestOneValveOnce(t *testing.T) {
	b := testBlock("A")
	dripOn(&b)
	b.AreaHa = 40
	b.Strips = []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: moist(0.15)}}
	x := find(t, tonight(t, input(t, frost, b)), "A")
	now, ahead := choice(x, nights.RunWater), choice(x, nights.WetFloor)
	if now.Chosen && ahead.Chosen && ahead.StartAt.Before(now.StopAt) && now.StartAt.Before(ahead.StopAt) {
		t.Errorf("both %v-%v and %v-%v", now.StartAt, now.StopAt, ahead.StartAt, ahead.StopAt)
	}
}

// Every string of a US answer is free of SI units, and the reverse.
func TestEveryStringInOneSystem(t *testing.T) {
	d := testBlock("D")
	dripOn(&d)
	f := testBlock("F")
	f.Protection = []string{"F", "H"}
	in := input(t, frost, d, f, sprinklers("S1", 7), sprinklers("S2", 1.5), testBlock("U"))
	delete(in.Stages, "U")
	in.Farm.Equipment = []farm.Equipment{{ID: "F", Name: "Fan", Kind: farm.Fan, Count: 1, CostPerH: 40}, {ID: "H", Name: "Heaters", Kind: farm.Heaters, PowerKW: 4000}}
	wrong := map[quantity.System]*regexp.Regexp{
		quantity.US:     regexp.MustCompile(`\d ?(°C|degC|km/h|m/s|cm|mm|mm/h|ha|L/s|m3)\b`),
		quantity.Metric: regexp.MustCompile(`\d ?(°F|degF|mph|in|ft|ac|acre|gpm|gpm/ac)\b`),
	}
	for sys, re := range wrong {
		in.Units = sys
		text, err := json.Marshal(tonight(t, in))
		if err != nil {
			t.Fatal(err)
		}
		var tree any
		if err := json.Unmarshal(text, &tree); err != nil {
			t.Fatal(err)
		}
		walk(tree, func(s string) {
			// Published sources and table remarks are quoted in their own units.
			if re.MatchString(s) && !strings.Contains(s, "table") && !strings.Contains(s, "above freezing") {
				t.Errorf("system %v: %q", sys, s)
			}
		})
	}
}

func walk(x any, f func(string)) {
	switch v := x.(type) {
	case string:
		f(v)
	case []any:
		for _, y := range v {
			walk(y, f)
		}
	case map[string]any:
		for _, y := range v {
			walk(y, f)
		}
	}
}

// Disking is not waved through on a week the forecast does not cover; a
// tractor not onto wet ground.
func TestFloorWorkErrsToNo(t *testing.T) {
	mild := frost
	mild.low = 10
	in := input(t, mild, testBlock("A"))
	s := in.Stations["S"]
	s.Forecast = mild.grid(s.Forecast.Start, 30, weather.Forecast)
	in.Stations["S"] = s
	for _, v := range find(t, tonight(t, in), "A").FloorWork {
		if v.Work == "disk" && v.OK {
			t.Errorf("one night of seven covered: %+v", v)
		}
	}
	wet := testBlock("B")
	wet.Strips[0].Moisture = moist(0.28)
	for _, v := range find(t, tonight(t, input(t, mild, wet)), "B").FloorWork {
		if v.Work == "drive" && v.OK {
			t.Errorf("at field capacity: %+v", v)
		}
	}
}
