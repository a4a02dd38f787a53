package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"budward/cli"
	"budward/decide/nights"
	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/physics/sky"
	"budward/store"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// How far back the store is asked. What is older says little of this season's
// forecasts and nothing of this week's soil.
const (
	learnDays    = 120 // past forecasts and readings that the forecast error is learned from
	issueDays    = 10  // forecasts issued within these days may speak for the nights ahead
	aheadDays    = 15  // hours of forecast beyond now
	staleHours   = 12.0
	silentHours  = 3.0
	behindHours  = 24 // hours of forecast before now that are kept, to begin on the grid
	learnAtLeast = 3  // nights: fewer are not worth a search
)

// Answer works out the nights ahead for every block.
func (o *office) Answer(ctx context.Context, ahead int, units quantity.System) (cli.Answered, error) {
	in, err := o.input(ctx)
	if err != nil {
		return cli.Answered{}, err
	}
	in.Ahead, in.Units = ahead, units
	done := o.set.Progress(fmt.Sprintf("working out %d blocks", len(in.Farm.Blocks)))
	a, err := nights.Tonight(in)
	done()
	return cli.Answered{Answer: a, Farm: in.Farm, Zone: in.Zone}, err
}

// Compare works out choices for one block and night.
func (o *office) Compare(ctx context.Context, q cli.Question) (cli.Comparison, error) {
	in, err := o.input(ctx)
	if err != nil {
		return cli.Comparison{}, err
	}
	in.Units = q.Units
	in.Ahead = max(7, q.Night+1)
	got := cli.Comparison{Farm: in.Farm, Zone: in.Zone, Index: q.Night, At: in.Now}
	for _, b := range in.Farm.Blocks {
		if b.ID == q.BlockID {
			got.Block = b
		}
	}
	ahead, err := weather.NightsAhead(in.Now, in.Farm.LatDeg, in.Farm.LonDeg, in.Zone, in.Ahead)
	if len(ahead) <= q.Night {
		if err == nil {
			err = &cli.UsageError{Text: fmt.Sprintf("--night %d: want 1 to %d", q.Night+1, nights.MaxAhead)}
		}
		return got, err
	}
	got.Night = ahead[q.Night]
	done := o.set.Progress(fmt.Sprintf("comparing %d choices", len(q.Alts)))
	got.Compared, err = nights.WhatIf(in, q.BlockID, q.Night, q.Alts)
	done()
	return got, err
}

// input gathers what an answer rests on from the store. Readings were screened
// when they were fed and are taken as they are; dew points are worked out from
// humidity where only that was read. What was fed after the moment asked about is
// used if it speaks of times before it: a night can be answered again later.
func (o *office) input(ctx context.Context) (nights.Input, error) {
	st, err := o.open(ctx)
	if err != nil {
		return nights.Input{}, err
	}
	f, err := o.Farm(ctx)
	if err != nil {
		return nights.Input{}, err
	}
	now, zone, err := o.Moment(ctx)
	if err != nil {
		return nights.Input{}, err
	}
	in := nights.Input{Farm: f, Zone: zone, Now: now, Members: o.set.Members, Seed: o.set.Seed,
		Stations: map[string]nights.StationInput{}, Stages: map[string][]vine.Mixture{}}
	done := o.set.Progress("reading the weather that was fed")
	defer done()
	for _, s := range f.Stations {
		if in.Stations[s.ID], err = stationInput(ctx, st, f, s, now, zone); err != nil {
			return in, err
		}
	}
	records, err := st.Stages(ctx, store.StageQuery{To: now.Add(time.Millisecond)})
	if err != nil {
		return in, err
	}
	for _, r := range records {
		m, err := r.Mixture()
		if err != nil {
			return in, fmt.Errorf("stage record %d of block %s: %w", r.ID, r.BlockID, err)
		}
		in.Stages[r.BlockID] = append(in.Stages[r.BlockID], m)
	}
	return in, nil
}

// stationInput loads the weather of one station around now.
func stationInput(ctx context.Context, st store.Store, f farm.Farm, s farm.Station, now time.Time, zone *time.Location) (nights.StationInput, error) {
	var out nights.StationInput
	forecasts, err := loadBatches(ctx, st, store.BatchQuery{StationID: s.ID, Kind: weather.Forecast,
		IssuedFrom: now.AddDate(0, 0, -learnDays), IssuedTo: now.Add(time.Millisecond)})
	if err != nil {
		return out, err
	}
	readings, err := loadBatches(ctx, st, store.BatchQuery{StationID: s.ID, Kind: weather.Reading,
		SamplesFrom: learnFrom(now, f.LatDeg, zone), SamplesTo: now.Add(time.Millisecond)})
	if err != nil {
		return out, err
	}
	if err := takeForecast(&out, forecasts, s, now); err != nil {
		return out, err
	}
	if err := takeReadings(&out, readings, now); err != nil {
		return out, err
	}
	out.Pairs, err = pairs(forecasts, readings, s, now, zone)
	return out, err
}

// learnFrom is where readings begin: learnDays back, or the start of the season
// of buds (1 January, 1 July in the south) if that is earlier.
func learnFrom(now time.Time, latDeg float64, zone *time.Location) time.Time {
	local := now.In(zone)
	start := time.Date(local.Year(), time.January, 1, 0, 0, 0, 0, zone)
	if latDeg < 0 {
		start = time.Date(local.Year(), time.July, 1, 0, 0, 0, 0, zone)
		if start.After(local) {
			start = start.AddDate(-1, 0, 0)
		}
	}
	if back := local.AddDate(0, 0, -learnDays); back.Before(start) {
		return back
	}
	return start
}

func loadBatches(ctx context.Context, st store.Store, q store.BatchQuery) ([]weather.Batch, error) {
	list, err := st.LoadBatches(ctx, q)
	if err != nil {
		return nil, err
	}
	var out []weather.Batch
	for _, b := range list {
		out = append(out, b.Data)
	}
	return out, nil
}

// takeForecast lays the newest forecasts on a grid.
func takeForecast(out *nights.StationInput, all []weather.Batch, s farm.Station, now time.Time) error {
	var recent []weather.Batch
	for _, b := range all {
		if b.IssuedAt.Before(now.AddDate(0, 0, -issueDays)) {
			continue
		}
		recent = append(recent, b)
		if b.IssuedAt.After(out.IssuedAt) {
			out.IssuedAt, out.Origin = b.IssuedAt, b.Origin
		}
	}
	if len(recent) == 0 {
		return nil
	}
	grid, report, err := weather.Grid(recent, weather.GridStart(now.Add(-behindHours*time.Hour)), now.AddDate(0, 0, aheadDays))
	if err != nil {
		return err
	}
	out.Forecast, _ = weather.WithDewPoint(grid)
	note := func(code, format string, a ...any) {
		out.Notes = append(out.Notes, nights.Note{Code: code, Text: fmt.Sprintf(format, a...)})
	}
	if age := now.Sub(out.IssuedAt).Hours(); age > staleHours {
		note("forecast-old", "The forecast for station %s was issued %.0f hours ago: feed a newer one.", s.ID, age)
	}
	if report.Interpolated > 0 {
		note("forecast-interpolated", "The forecast for station %s is not on whole hours of UTC: values between were taken.", s.ID)
	}
	return nil
}

// takeReadings lays the readings on a grid that ends now.
func takeReadings(out *nights.StationInput, all []weather.Batch, now time.Time) error {
	first := time.Time{}
	for _, b := range all {
		if len(b.Samples) > 0 && (first.IsZero() || b.Samples[0].At.Before(first)) {
			first = b.Samples[0].At
		}
	}
	if first.IsZero() || first.After(now) {
		return nil
	}
	grid, _, err := weather.Grid(all, weather.GridStart(first), now)
	if err != nil {
		return err
	}
	out.Readings, _ = weather.WithDewPoint(grid)
	last := lastKnown(&out.Readings, weather.AirTemp)
	if age := now.Sub(last).Hours(); !last.IsZero() && age > silentHours {
		out.Notes = append(out.Notes, nights.Note{Code: "readings-old", Text: fmt.Sprintf("The last reading is %.0f hours old: feed newer ones.", age)})
	}
	return nil
}

func lastKnown(h *weather.Hourly, v weather.Variable) time.Time {
	for i := h.N - 1; i >= 0; i-- {
		if x := h.At(v, i); x == x {
			return h.Time(i)
		}
	}
	return time.Time{}
}

// pairs sets past forecasts against what was measured, night by night.
func pairs(forecasts, readings []weather.Batch, s farm.Station, now time.Time, zone *time.Location) ([]weather.ForecastPair, error) {
	if len(forecasts) == 0 || len(readings) == 0 {
		return nil, nil
	}
	first := now
	for _, b := range forecasts {
		if b.IssuedAt.Before(first) {
			first = b.IssuedAt
		}
	}
	var past []weather.Night
	for d := sky.DateOf(first.In(zone)); len(past) < weather.MaxNights && d.Before(sky.DateOf(now.In(zone))); d = d.AddDays(1) {
		n, err := weather.NightOn(d, s.LatDeg, s.LonDeg, zone)
		var never *weather.NoNightError
		switch {
		case errors.As(err, &never):
			continue
		case err != nil:
			return nil, err
		}
		if n.End.After(now) {
			break
		}
		past = append(past, n)
	}
	if len(past) < learnAtLeast {
		return nil, nil
	}
	out, _, err := weather.Pairs(forecasts, readings, past)
	return out, err
}
