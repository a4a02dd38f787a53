package nights_test

import (
	"errors"
	"fmt"
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
	l := find(t, tonight(t, in), "A").Learned
	if l.Offset.Nights < 5 || l.Paired != l.Offset.Nights+l.Mild || l.Mild != 0 || len(l.Thermometers) != 1 || l.Thermometers[0] != "T" || l.Offset.MeanK != float64(learned.OffsetK) || l.MovedK != learned.OffsetK {
		t.Errorf("learned %+v", l)
	}
	// What the spread would have been is what it is without the thermometer: the same
	// scenarios, a tenth of a kelvin for how they fall together with the block's luck.
	if math.Abs(float64(l.BeforeK-plain.SpreadK)) > 0.1 {
		t.Errorf("spread before %.2f K; without a thermometer it is %.2f", l.BeforeK, plain.SpreadK)
	}
	if said := strings.Join(l.Text, " "); !strings.Contains(said, fmt.Sprintf("learned from %d cold nights", l.Offset.Nights)) || !strings.Contains(said, "prior only") || !strings.Contains(said, "It moved tonight's") {
		t.Errorf("said: %s", said)
	}
	if learned.SpreadK >= plain.SpreadK {
		t.Errorf("spread %.2f K with a thermometer, %.2f without", learned.SpreadK, plain.SpreadK)
	}
}

// Nights too mild for frost teach nothing and are counted; a block without a
// thermometer says that there is none; a stated offset is named.
func TestWhatTaughtNothing(t *testing.T) {
	mild := frost
	mild.low, mild.high = 8, 20
	b := testBlock("A")
	b.OffsetK, b.OffsetKnown = -0.5, true
	in := input(t, mild, b)
	l := find(t, tonight(t, in), "A").Learned
	if l.Offset.Nights != 0 || len(l.Thermometers) != 0 || l.MovedK != 0 || l.PriorK != -0.5 || !strings.Contains(strings.Join(l.Text, " "), "no thermometer hangs in the block; the stated -0.9 °F") {
		t.Errorf("%+v", l)
	}
	st := testStation()
	st.ID, st.BlockID = "T", "A"
	in.Farm.Stations = append(in.Farm.Stations, st)
	in.Stations["T"] = nights.StationInput{Readings: mild.grid(in.Stations["S"].Readings.Start, 241, weather.Reading)}
	l = find(t, tonight(t, in), "A").Learned
	if l.Offset.Nights != 0 || l.Mild < 5 || l.Mild != l.Paired || l.BeforeK != 0 || !strings.Contains(strings.Join(l.Text, " "), "nothing learned yet") {
		t.Errorf("%+v", l)
	}
	// An hour missing at ten in the evening of one night.
	h := in.Stations["T"].Readings
	for i := range h.N {
		if at := h.Time(i).In(zone); at.Day() == 5 && at.Hour() == 22 {
			h.Cols[weather.AirTemp][i] = math.NaN()
		}
	}
	if gap := find(t, tonight(t, in), "A").Learned; gap.Gaps != l.Gaps+1 || gap.Paired != l.Paired-1 {
		t.Errorf("%+v after %+v; want one night less", gap, l)
	}
}

// Mixing learned from a trial replaces the prior: more of it, less floor gain.
func TestMixingFromATrial(t *testing.T) {
	in := input(t, frost, testBlock("A"))
	before := find(t, tonight(t, in), "A")
	in.MixingK0 = &nights.MixingK0{WM2K: 15, Source: "a trial of 12 nights"}
	after := find(t, tonight(t, in), "A")
	a, b := float64(before.Nights[0].FloorGain.CentralK), float64(after.Nights[0].FloorGain.CentralK)
	if !(math.Abs(b) < 0.9*math.Abs(a)) || a*b < 0 {
		t.Errorf("floor gain %.2f K with threefold K0, %.2f before", b, a)
	}
	if m := before.Learned.Mixing; !m.PriorOnly || m.K0WM2K != 5 { // the stated prior
		t.Errorf("%+v", m)
	}
	if m := after.Learned.Mixing; m.PriorOnly || m.K0WM2K != 15 || !strings.Contains(strings.Join(after.Learned.Text, " "), "15.0 W/m2K, from a trial of 12 nights") {
		t.Errorf("%+v %q", m, after.Learned.Text)
	}
	for _, bad := range []float64{0, -1, 0.4, 51, math.NaN(), math.Inf(1)} {
		in.MixingK0 = &nights.MixingK0{WM2K: bad}
		if _, err := nights.Tonight(in); !errors.As(err, new(*nights.InputError)) {
			t.Errorf("K0 %v: %v, want an *InputError", bad, err)
		}
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
