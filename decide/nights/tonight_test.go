package nights_test

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"budward/decide/nights"
	"budward/decide/weather"
	"budward/physics/air"
	"budward/physics/quantity"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

var frost = clearWeek{low: -1, high: 17, dew: -4, wind: 1, cloud: 0.05}

func tonight(t testing.TB, in nights.Input) nights.Answer {
	t.Helper()
	a, err := nights.Tonight(in)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(a); err != nil { // NaN or Inf anywhere would fail here
		t.Fatal(err)
	}
	return a
}

func find(t testing.TB, a nights.Answer, id string) nights.BlockAnswer {
	t.Helper()
	for _, b := range a.Blocks {
		if b.BlockID == id {
			return b
		}
	}
	t.Fatalf("no block %s in the answer", id)
	return nights.BlockAnswer{}
}

func choice(b nights.BlockAnswer, kind nights.ChoiceKind) *nights.Choice {
	for i := range b.Choices {
		if b.Choices[i].Kind == kind {
			return &b.Choices[i]
		}
	}
	return nil
}

// A frost forecast: the block's numbers hang together as the design says.
func TestANightHangsTogether(t *testing.T) {
	b := find(t, tonight(t, input(t, frost, testBlock("A"))), "A")
	n := b.Nights[0]
	if !(n.Min.P10C < n.Min.P50C && n.Min.P50C < n.Min.P90C) {
		t.Errorf("quantiles %+v", n.Min)
	}
	// Station forecast -1 degC; height, offset and floor take it to the block.
	want := -1 + float64(n.HeightK+n.OffsetK+n.FloorGain.CentralK)
	if d := math.Abs(float64(n.Min.P50C) - want); d > 0.4 { // medians of sums are not sums of medians; a fifth of the spread
		t.Errorf("median %.2f, parts add to %.2f", n.Min.P50C, want)
	}
	if got := float64(*n.MarginK); math.Abs(got-float64(n.Min.P50C-*n.CriticalC)) > 1e-9 {
		t.Errorf("margin %.2f", got)
	}
	if *n.Critical50C >= *n.CriticalC {
		t.Errorf("half die at %.2f, a tenth at %.2f", *n.Critical50C, *n.CriticalC)
	}
	if r := n.Risk; !(r.LossLow <= r.LossShare && r.LossShare <= r.LossHigh && r.LossHigh <= 1 && r.LossShare <= r.KillShare) {
		t.Errorf("risk %+v: secondaries must leave crop where primaries die", r)
	}
	// The vinifera table is of tissue, and on a clear calm night buds are colder
	// than air by 0.5-2 K (common practice).
	if n.BudK < 0.5 || n.BudK > 2 {
		t.Errorf("buds %.2f K colder", n.BudK)
	}
	if got := n.Risk.LossT; math.Abs(got-n.Risk.LossShare*9*4) > 1e-9 {
		t.Errorf("%.2f t lost of 36", got)
	}
}

// Colder forecasts never lower the risk; a mild week is quiet.
func TestRiskFollowsForecast(t *testing.T) {
	last := -1.0
	for _, low := range []float64{14, 6, 3, 1, -1, -3} {
		w := frost
		w.low = low
		b := find(t, tonight(t, input(t, w, testBlock("A"))), "A")
		if r := b.Nights[0].Risk.LossShare; r < last {
			t.Errorf("lowest %.0f: loss %.3f, less than %.3f", low, r, last)
		} else {
			last = r
		}
		if low == 14 && (b.Urgency != nights.Quiet || b.Nights[0].Risk.Probability > 0.02) {
			t.Errorf("mild week: %s, %.2f", b.Urgency, b.Nights[0].Risk.Probability)
		}
	}
	if last < 0.5 {
		t.Errorf("-3 degC at first leaf: %.2f of crop lost", last)
	}
}

// The same input gives the same answer; another seed gives nearly the same.
func TestSameSeedSameAnswer(t *testing.T) {
	in := input(t, frost, twenty()[:5]...)
	a, b := tonight(t, in), tonight(t, in)
	if d := cmp.Diff(a, b); d != "" {
		t.Error(d)
	}
	in.Seed = 99
	c := tonight(t, in)
	for _, x := range a.Blocks {
		y := find(t, c, x.BlockID)
		// 100 stratified scenarios: the median wanders by less than a tenth of
		// the 2 K spread.
		if d := math.Abs(float64(x.Nights[0].Min.P50C - y.Nights[0].Min.P50C)); d > 0.3 {
			t.Errorf("%s: median moved %.2f K with the seed", x.BlockID, d)
		}
	}
}

// Changing one block's floor changes that block's answer and no other's.
func TestFloorChangesAnswer(t *testing.T) {
	a, b := testBlock("A"), testBlock("B")
	before := tonight(t, input(t, frost, a, b))
	a.Strips = []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: moist(0.28)}}
	after := tonight(t, input(t, frost, a, b))
	x, y := find(t, before, "A"), find(t, after, "A")
	if d := float64(y.Nights[0].Min.P50C - x.Nights[0].Min.P50C); d < 0.2 {
		t.Errorf("bare moist floor against tall cover: %+.2f K", d)
	}
	if y.Nights[0].Risk.LossShare >= x.Nights[0].Risk.LossShare {
		t.Error("a warmer floor did not lower the loss")
	}
	if choice(x, nights.MowFloor) == nil || choice(y, nights.MowFloor) != nil {
		t.Error("mowing must be open to the tall cover and only to it")
	}
	if d := cmp.Diff(find(t, before, "B"), find(t, after, "B")); d != "" {
		t.Errorf("the other block changed:\n%s", d)
	}
}

func TestUnknownIsShownAsUnknown(t *testing.T) {
	a, b, c := testBlock("A"), testBlock("B"), testBlock("C")
	b.StationID = "none"
	in := input(t, frost, a, b, c)
	delete(in.Stages, "A")
	ans := tonight(t, in)
	x := find(t, ans, "A")
	if x.Urgency != nights.Unknown || !strings.Contains(x.Unknown, "stage") || x.Nights[0].Min == nil || x.Nights[0].CriticalC != nil || x.Nights[0].Risk != nil {
		t.Errorf("block without stage: %+v", x.Nights[0])
	}
	if y := find(t, ans, "B"); y.Urgency != nights.Unknown || y.Nights[0].Covered || y.Nights[0].Min != nil {
		t.Errorf("block without station: %+v", y)
	}
	if z := find(t, ans, "C"); z.Urgency == nights.Unknown {
		t.Error("a block that can be answered was not, because others could not")
	}
	if ans.Blocks[0].Urgency == nights.Quiet {
		t.Error("unknown blocks must stand before quiet ones")
	}
}

func TestForecastThatEndsEarly(t *testing.T) {
	in := input(t, frost, testBlock("A"))
	s := in.Stations["S"]
	s.Forecast = frost.grid(s.Forecast.Start, 30, weather.Forecast) // ends in the second night
	in.Stations["S"] = s
	b := find(t, tonight(t, in), "A")
	if !b.Nights[0].Covered {
		t.Fatal("first night should be covered")
	}
	for n, x := range b.Nights[1:] {
		if x.Covered || x.Min != nil || x.Risk != nil || x.Why == "" {
			t.Errorf("night %d: %+v", n+2, x)
		}
	}
}

func TestBadQuestions(t *testing.T) {
	good := input(t, frost, testBlock("A"))
	for name, spoil := range map[string]func(*nights.Input){
		"no zone":          func(in *nights.Input) { in.Zone = nil },
		"no present":       func(in *nights.Input) { in.Now = time.Time{} },
		"a hundred nights": func(in *nights.Input) { in.Ahead = 100 },
		"no blocks":        func(in *nights.Input) { in.Farm.Blocks = nil },
	} {
		in := good
		spoil(&in)
		if _, err := nights.Tonight(in); !errors.As(err, new(*nights.InputError)) {
			t.Errorf("%s: %v", name, err)
		}
	}
	far := good
	far.Farm.LatDeg = 75
	far.Now = time.Date(2024, 6, 20, 12, 0, 0, 0, zone)
	if _, err := nights.Tonight(far); !errors.As(err, new(*weather.NoNightError)) {
		t.Errorf("midsummer at 75 N: %v", err)
	}
}

// Over-vine: open where the rate holds, with the start temperature of the
// psychrometer equation; closed with "do not start" where it does not.
func TestOverVine(t *testing.T) {
	strong, weak := testBlock("A"), testBlock("B")
	strong.System = farm.System{Kind: farm.OverVine, SourceID: "W", RateMmH: 7}
	weak.Strips = []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: moist(0.28)}} // nothing to mow
	weak.System = farm.System{Kind: farm.OverVine, SourceID: "W", RateMmH: 1.5}
	ans := tonight(t, input(t, frost, strong, weak))
	c := choice(find(t, ans, "A"), nights.OverVine)
	if c == nil || !c.Open || len(c.Cautions) == 0 || c.StopRule == "" {
		t.Fatalf("7 mm/h: %+v", c)
	}
	// Dew points of the scenarios spread about -4 degC; the drier quarter is used.
	start, err := air.StartTemperature(0, -4, quantity.Kilopascal(air.PressureKPa(60)))
	if err != nil || *c.StartAirC < start || *c.StartAirC > start+2 {
		t.Errorf("start at %.2f, formula at the forecast dew point %.2f (%v)", *c.StartAirC, start, err)
	}
	if c.Risk.LossShare > 0.5*find(t, ans, "A").Choices[0].Risk.LossShare {
		t.Errorf("sprinklers leave %.2f of %.2f", c.Risk.LossShare, find(t, ans, "A").Choices[0].Risk.LossShare)
	}
	w := choice(find(t, ans, "B"), nights.OverVine)
	if w.Open || !strings.Contains(w.WhyNot, "do not start") {
		t.Errorf("1.5 mm/h: %+v", w)
	}
	if chosen := find(t, ans, "B"); chosen.Urgency != nights.Watch {
		t.Errorf("weak sprinklers: %s", chosen.Urgency)
	}
}

// A source that cannot serve all gives to the blocks worth most per litre, and
// says who goes without.
func TestShortSource(t *testing.T) {
	var blocks []farm.Block
	for i, price := range []float64{500, 3000, 1500} {
		b := testBlock(string(rune('A' + i)))
		b.System = farm.System{Kind: farm.MicroSprinkler, SourceID: "W", RateMmH: 3, WetShare: 0.7}
		b.PricePerT = price
		blocks = append(blocks, b)
	}
	in := input(t, frost, blocks...)
	in.Farm.Sources[0].FlowLPS = 70 // one block of 4 ha at 3 mm/h takes 33 L/s
	ans := tonight(t, in)
	if len(ans.Shared) == 0 {
		t.Fatal("nobody was told that the source is short")
	}
	a := choice(find(t, ans, "A"), nights.RunWater)
	if a.Open || a.Chosen || a.WhyNot == "" {
		t.Errorf("the block worth least: %+v", a)
	}
	for _, id := range []string{"B", "C"} {
		if c := choice(find(t, ans, id), nights.RunWater); !c.Chosen {
			t.Errorf("block %s went without: %+v", id, c)
		}
	}
}

// A right that does not cover frost closes the water, whatever it is worth.
func TestWaterRight(t *testing.T) {
	b := testBlock("A")
	dripOn(&b)
	in := input(t, frost, b)
	in.Farm.Sources[0].FrostUse = false
	for _, kind := range []nights.ChoiceKind{nights.RunWater, nights.WetFloor} {
		if c := choice(find(t, tonight(t, in), "A"), kind); c.Open || !strings.Contains(c.WhyNot, "right") {
			t.Errorf("%s: %+v", kind, c)
		}
	}
}

// With a worst acceptable loss the cheapest choice that respects it is taken
// even where it does not pay.
func TestWorstAcceptableLoss(t *testing.T) {
	b := testBlock("A")
	b.PricePerT = 1 // nothing pays
	b.Protection = []string{"F"}
	in := input(t, frost, b)
	in.Farm.Equipment = []farm.Equipment{{ID: "F", Name: "Fan", Kind: farm.Fan, AreaHa: 4, Count: 1, CostPerH: 40}}
	if c := choice(find(t, tonight(t, in), "A"), nights.RunFan); c.Chosen {
		t.Errorf("a fan for a crop worth nothing: %+v", c)
	}
	in.Farm.WorstLossShare = 0.05
	if c := choice(find(t, tonight(t, in), "A"), nights.RunFan); !c.Chosen {
		t.Error("the owner's limit was not respected")
	}
}

// May I disk, mow, drive? Not disk with damage in sight; yes to the tall cover.
func TestFloorWork(t *testing.T) {
	b := find(t, tonight(t, input(t, frost, testBlock("A"))), "A")
	for _, v := range b.FloorWork {
		if v.Work == "disk" && v.OK || v.Work == "mow" && (!v.OK || v.WorthK <= 0) || v.Text == "" {
			t.Errorf("%+v", v)
		}
	}
	bare := testBlock("B")
	bare.Strips = []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: moist(0.28)}}
	for _, v := range find(t, tonight(t, input(t, frost, bare)), "B").FloorWork {
		if v.Work == "disk" && v.WorthK >= 0 {
			t.Errorf("disking bare moist ground: %+.2f K", v.WorthK)
		}
	}
}

func TestWhatIf(t *testing.T) {
	b := testBlock("A")
	dripOn(&b)
	b.AreaHa = 40
	in := input(t, frost, b)
	bare := farm.Strip{Surface: farm.BareFirm, Moisture: moist(0.28)}
	tall := farm.Strip{Surface: farm.Cover, HeightM: 0.4}
	got, err := nights.WhatIf(in, "A", 0, []nights.Alternative{
		{Label: "as it is"}, {Label: "bare", Floor: map[string]farm.Strip{"": bare}}, {Label: "tall", Floor: map[string]farm.Strip{"": tall}},
		{Label: "bare, water", Floor: map[string]farm.Strip{"": bare}, Run: nights.RunWater, RunMmH: 2},
	})
	if err != nil {
		t.Fatal(err)
	}
	if got[0].Choice.Gain.CentralK != 0 || got[0].Choice.WaterMM != 0 {
		t.Errorf("as it is: %+v", got[0].Choice)
	}
	m := func(i int) float64 { return float64(got[i].Night.Min.P50C) }
	if !(m(2) < m(0) && m(0) < m(1) && m(1) < m(3)) {
		t.Errorf("medians: as is %.2f, bare %.2f, tall %.2f, bare with water %.2f", m(0), m(1), m(2), m(3))
	}
	for name, ask := range map[string]func() error{
		"block": func() error { _, err := nights.WhatIf(in, "Z", 0, nil); return err },
		"night": func() error { _, err := nights.WhatIf(in, "A", 9, nil); return err },
		"strip": func() error {
			_, err := nights.WhatIf(in, "A", 0, []nights.Alternative{{Floor: map[string]farm.Strip{"moon": bare}}})
			return err
		},
		"fan": func() error {
			_, err := nights.WhatIf(in, "A", 0, []nights.Alternative{{Run: nights.RunFan}})
			return err
		},
	} {
		if err := ask(); !errors.As(err, new(*nights.InputError)) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Metric sentences speak metric only, US ones US only.
func TestUnitsOfSentences(t *testing.T) {
	b := testBlock("A")
	dripOn(&b)
	in := input(t, frost, b)
	for sys, wrong := range map[quantity.System]string{quantity.US: "°C", quantity.Metric: "°F"} {
		in.Units = sys
		a := find(t, tonight(t, in), "A")
		text := a.Reason
		for _, s := range a.Starts {
			text += s.Text
		}
		for _, v := range a.FloorWork {
			text += v.Text
		}
		if strings.Contains(text, wrong) {
			t.Errorf("%v: %s", sys, text)
		}
	}
}

// Without readings the past is assumed, and said to be; without humidity, wind
// or cloud in them likewise.
func TestAssumptionsAreSaid(t *testing.T) {
	in := input(t, frost, testBlock("A"))
	s := in.Stations["S"]
	s.Readings = weather.Hourly{}
	in.Stations["S"] = s
	if !hasNote(tonight(t, in).Stations[0].Notes, "past-assumed") {
		t.Error("an assumed past was not noted")
	}
	bare := weather.NewHourly(in.Stations["S"].Forecast.Start.Add(-240*time.Hour), 241, weather.Reading)
	for i := range bare.N {
		bare.Col(weather.AirTemp)[i] = frost.air(bare.Time(i))
	}
	bare.Col(weather.AirTemp)[50] = math.NaN()
	s.Readings = bare
	in.Stations["S"] = s
	notes := tonight(t, in).Stations[0].Notes
	for _, code := range []string{"humidity-assumed", "wind-assumed", "cloud-assumed", "rain-unknown", "past-bridged"} {
		if !hasNote(notes, code) {
			t.Errorf("no note %s in %v", code, notes)
		}
	}
}

func hasNote(notes []nights.Note, code string) bool {
	for _, n := range notes {
		if n.Code == code {
			return true
		}
	}
	return false
}

// Stages move on with the days: warm days ahead raise the critical temperature
// of a later night.
func TestStagesAdvance(t *testing.T) {
	w := frost
	w.low, w.high = 6, 26
	in := input(t, w, testBlock("A"))
	in.Stages["A"] = staged(t, "EL 3=50%, EL 4=50%")
	b := find(t, tonight(t, in), "A")
	first, last := *b.Nights[0].CriticalC, *b.Nights[6].CriticalC
	if last <= first {
		t.Errorf("critical %.2f tonight, %.2f a warm week later", first, last)
	}
	if b.Stage.Tonight.Source != vine.Advanced {
		t.Errorf("stage tonight from %q", b.Stage.Tonight.Source)
	}
}

// The course's band is the night's: its lowest median is near the night's
// median minimum, and readings after the present are not shown.
func TestCourse(t *testing.T) {
	in := input(t, frost, testBlock("A"))
	c, err := nights.OneCourse(in, "A", 0)
	if err != nil {
		t.Fatal(err)
	}
	b := find(t, tonight(t, in), "A").Nights[0]
	low := math.Inf(1)
	for _, h := range c.Hours {
		if !(h.P10C < h.P50C && h.P50C < h.P90C) {
			t.Errorf("%+v", h)
		}
		low = math.Min(low, float64(h.P50C))
	}
	// The median of minima lies below the minimum of medians, by less than the
	// hour-to-hour wander of single scenarios (0.5 K) and some.
	if d := low - float64(b.Min.P50C); d < -0.1 || d > 1 {
		t.Errorf("band's lowest %.2f, night's %.2f", low, b.Min.P50C)
	}
	for _, p := range c.Observed {
		if p.At.After(in.Now) {
			t.Errorf("a reading from the future: %v", p.At)
		}
	}
	if *c.CriticalC != *b.CriticalC {
		t.Errorf("critical %v and %v", *c.CriticalC, *b.CriticalC)
	}
}
