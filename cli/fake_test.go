package cli

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"budward/decide/nights"
	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/farm"
)

// desk is an office with answers made by hand.
type desk struct {
	Office
	farm     farm.Farm
	answer   nights.Answer
	now      time.Time
	zone     *time.Location
	asked    []nights.Alternative
	compared []nights.Compared
	stages   []store.StageRecord
}

func (d *desk) Farm(context.Context) (farm.Farm, error) { return d.farm, nil }
func (d *desk) Moment(context.Context) (time.Time, *time.Location, error) {
	return d.now, d.zone, nil
}
func (d *desk) Answer(context.Context, int, quantity.System) (Answered, error) {
	return Answered{Answer: d.answer, Farm: d.farm, Zone: d.zone}, nil
}
func (d *desk) Compare(_ context.Context, q Question) (Comparison, error) {
	d.asked = q.Alts
	return Comparison{Farm: d.farm, Zone: d.zone, Block: d.farm.Blocks[0], Night: d.answer.Nights[q.Night], Index: q.Night, Compared: d.compared, At: d.now}, nil
}
func (d *desk) Stages(context.Context, store.StageQuery) ([]store.StageRecord, error) {
	return d.stages, nil
}
func (d *desk) RecordStage(_ context.Context, r store.StageRecord) (store.StageRecord, error) {
	r.ID = 7
	d.stages = append(d.stages, r)
	return r, nil
}
func (d *desk) Close() error { return nil }

// run runs one command line at the desk.
func (d *desk) run(t *testing.T, color bool, env map[string]string, args ...string) (stdout string, err error) {
	t.Helper()
	var out, errs bytes.Buffer
	err = Run(t.Context(), Env{Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Color: color,
		Getenv:    func(k string) string { return env[k] },
		ExitCodes: "Exit codes: 0 answered.",
		Open:      func(context.Context, Settings) (Office, error) { return d, nil }})
	if errs.Len() > 0 {
		t.Errorf("%v wrote to stderr: %s", args, errs.String())
	}
	return out.String(), err
}

func ptr[T any](v T) *T { return &v }

// madeDesk is a farm of five blocks, one of each urgency, with long names.
func madeDesk(t *testing.T) *desk {
	t.Helper()
	zone, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, time.April, 8, 15, 0, 0, 0, zone)
	d := &desk{now: now, zone: zone}
	d.farm = farm.Farm{ID: "f", Name: "A Farm With a Very Long Name Indeed, of the Kind That Families Give", Zone: zone.String(), Currency: "USD",
		Defaults: []farm.Default{{Where: "block B1", Field: "species", Value: "vinifera", Why: "the register"}},
		Stations: []farm.Station{{ID: "gate", Name: "Gate"}}}
	for i := range 8 {
		sunset := time.Date(2026, time.April, 8+i, 19, 38, 0, 0, zone)
		d.answer.Nights = append(d.answer.Nights, weather.Night{Sunset: sunset, Sunrise: sunset.Add(11 * time.Hour), End: sunset.Add(13 * time.Hour),
			Label: sunset.Format("Mon 2") + " - " + sunset.AddDate(0, 0, 1).Format("Mon 2 Jan")})
	}
	d.answer.FarmName, d.answer.At, d.answer.Currency, d.answer.Zone = d.farm.Name, now, "USD", zone.String()
	d.answer.Stations = []nights.StationState{{StationID: "gate", ForecastFrom: "x.csv", IssuedAt: now.Add(-3 * time.Hour), ReadingsTo: now, LearnedNights: 12}}
	d.answer.Notes = []nights.Note{{Code: "a", Text: "Something was assumed that takes a long sentence to say, longer than one line of a terminal is wide."}}
	for i, u := range []nights.Urgency{nights.Act, nights.Watch, nights.Prepare, nights.Quiet, nights.Unknown} {
		id := "B" + string(rune('1'+i))
		d.farm.Blocks = append(d.farm.Blocks, farm.Block{ID: id, Name: "Block number " + id + " beyond the far hedge", Soil: farm.Soil{Texture: "loam"},
			Strips: []farm.Strip{{Name: "under-vine", Share: 0.3, Surface: farm.BareFirm}, {Name: "middle", Share: 0.7, Surface: farm.Cover, HeightM: 0.3}},
			System: farm.System{Kind: farm.Drip, SourceID: "well", RateMmH: 0.5}})
		d.answer.Blocks = append(d.answer.Blocks, madeBlock(d, id, u))
	}
	return d
}

func madeBlock(d *desk, id string, u nights.Urgency) nights.BlockAnswer {
	b := nights.BlockAnswer{BlockID: id, Name: "Block number " + id + " beyond the far hedge", AreaHa: 4.85, Cultivar: "Chardonnay", StationID: "gate", Urgency: u,
		Reason: "Watch: one plain sentence that says why, in words that go on for longer than a line of a terminal is wide.",
		Notes:  []nights.Note{{Code: "n", Text: "A note about this block."}}}
	for i := range d.answer.Nights {
		n := nights.BlockNight{Label: d.answer.Nights[i].Label, Covered: true, Min: &nights.Quantiles{P10C: -3, P50C: -1, P90C: 1}, MinAt: d.answer.Nights[i].Sunrise,
			ColdSpotC: ptr(quantity.Celsius(-2))}
		if u != nights.Unknown {
			n.CriticalC, n.Critical50C, n.MarginK = ptr(quantity.Celsius(0)), ptr(quantity.Celsius(-1.5)), ptr(quantity.Kelvin(-1))
			n.Risk = &nights.Risk{Probability: 0.6, LossShare: 0.2, LossHigh: 0.5, LossMoney: 12345}
		}
		if u == nights.Quiet || u == nights.Prepare && i == 0 {
			n.Risk.Probability = 0.01
		}
		if i == 7 {
			n = nights.BlockNight{Label: n.Label, Why: "The forecast ends before it"}
		}
		b.Nights = append(b.Nights, n)
	}
	if u == nights.Unknown {
		b.Unknown = "no stage on record"
		return b
	}
	b.Choices = []nights.Choice{{Kind: nights.Nothing, Label: "nothing more", Open: true}}
	if u == nights.Act {
		b.Choices = append(b.Choices, nights.Choice{Kind: nights.RunFan, Label: "run the fan", Open: true, Chosen: true, Gain: nights.Worth{LowK: 0.3, CentralK: 1, HighK: 1.6},
			StartAt: d.now.Add(9 * time.Hour), StopAt: d.answer.Nights[0].End, StartAirC: ptr(quantity.Celsius(0.5)), StopRule: "Stop after sunrise.",
			Avoided: 4321, Cost: 123, Conditions: []string{"calm"}, Cautions: []string{"Keep people clear of the blades."}},
			nights.Choice{Kind: nights.OverVine, Label: "over-vine sprinklers", WhyNot: "do not start: the rate does not hold"})
		b.Starts = []nights.StartCurve{{Night: 1, Label: d.answer.Nights[1].Label, SpreadK: 1.5, Text: "Start now.", Points: []nights.StartPoint{
			{StartAt: d.now, FinishAt: d.now.Add(30 * time.Hour), StartH: 62, LeadH: 32, Label: "now", WetShare: 0.34, Gain: nights.Worth{LowK: 0.1, CentralK: 0.4, HighK: 0.7}, Best: true},
			{StartAt: d.now.Add(52 * time.Hour), FinishAt: d.now.Add(64 * time.Hour), StartH: 10, LeadH: -2, Label: "that evening, all night", WetShare: 0.1, Gain: nights.Worth{LowK: 0, CentralK: 0.1, HighK: 0.2}}}}}
		b.FloorWork = []nights.Verdict{{Work: "disk", Text: "No: it would cost a degree."}}
		b.Floor = []nights.StripState{{Name: "middle", Share: 0.7, Surface: "cover 0.3048m", Moisture: 0.2, FieldCapacity: 0.28, RefillMM: 24, Source: "reading"}}
	}
	return b
}
