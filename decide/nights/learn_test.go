package nights_test

import (
	"math"
	"strings"
	"testing"

	"budward/decide/nights"
	"budward/decide/weather"
	"budward/vineyard/farm"
)

// A thermometer in the block teaches its offset; without one it is zero with
// room for a degree.
func TestBlockThermometer(t *testing.T) {
	in := input(t, frost, testBlock("A"))
	plain := find(t, tonight(t, in), "A").Nights[0]
	if plain.OffsetK != 0 {
		t.Errorf("offset %.2f from nothing", plain.OffsetK)
	}
	st := testStation()
	st.ID, st.BlockID = "T", "A"
	in.Farm.Stations = append(in.Farm.Stations, st)
	cold := frost
	cold.low -= 2.5
	in.Stations["T"] = nights.StationInput{Readings: cold.grid(in.Stations["S"].Readings.Start, 241, weather.Reading)}
	learned := find(t, tonight(t, in), "A").Nights[0]
	if learned.OffsetK > -1 || learned.OffsetK < -2.6 {
		t.Errorf("offset %.2f K from nights 2.5 K colder, floor and height apart", learned.OffsetK)
	}
	if learned.SpreadK >= plain.SpreadK {
		t.Errorf("spread %.2f K with a thermometer, %.2f without", learned.SpreadK, plain.SpreadK)
	}
}

// Shrinkage by hand: prior 0 +- 1 K, four nights of -2 K with 0.8 K of noise:
// weights 1 and 4/0.64 = 6.25; mean -2 x 6.25/7.25 = -1.724, spread
// 1/sqrt(7.25) = 0.371.
func TestLearnOffset(t *testing.T) {
	o := nights.LearnOffset(0, 1, false, []float64{-2, -2, -2, -2})
	if math.Abs(o.MeanK+1.724) > 0.001 || math.Abs(o.SpreadK-0.3714) > 0.001 || o.Nights != 4 {
		t.Errorf("%+v", o)
	}
	if o := nights.LearnOffset(-0.5, 0.7, true, nil); o.MeanK != -0.5 || math.Abs(o.SpreadK-0.7) > 1e-12 || !o.Stated {
		t.Errorf("no nights: %+v", o)
	}
}

// Starts: listed in order of time up to the evening itself, each with its
// finish, amounts within what the rate can give, beside the forecast's error.
func TestStartCurve(t *testing.T) {
	b := testBlock("A")
	dripOn(&b)
	b.AreaHa = 40
	b.Strips = []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: moist(0.15)}}
	a := find(t, tonight(t, input(t, frost, b)), "A")
	if len(a.Starts) == 0 {
		t.Fatal("no start table")
	}
	for _, c := range a.Starts {
		if c.SpreadK < 1 || !strings.Contains(c.Text, "forecast's own error") {
			t.Errorf("%s: %s (%.2f K)", c.Label, c.Text, c.SpreadK)
		}
		for i, p := range c.Points {
			if i > 0 && !p.StartAt.After(c.Points[i-1].StartAt) {
				t.Errorf("%s: starts out of order", c.Label)
			}
			if p.FinishAt.Before(p.StartAt) || p.WaterMM > b.System.RateMmH*p.FinishAt.Sub(p.StartAt).Hours()+0.2 {
				t.Errorf("%s %s: %+v", c.Label, p.Label, p)
			}
			if p.Gain.LowK > p.Gain.CentralK || p.Gain.CentralK > p.Gain.HighK {
				t.Errorf("%s %s: %+v", c.Label, p.Label, p.Gain)
			}
		}
		if last := c.Points[len(c.Points)-1]; !last.AllNight {
			t.Errorf("%s ends with %q", c.Label, last.Label)
		}
	}
}
