package app

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"budward/cli"
	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

const (
	afterBurst = 14 // days of weather wanted beyond bud burst
	wholeDay   = 21 // hours with a reading that make a day's mean
)

// FitStage fits the bud-break model to a block's own dates and the readings of
// its station.
func (o *office) FitStage(ctx context.Context, blockID string, burst []time.Time) (cli.Fitted, error) {
	st, err := o.open(ctx)
	if err != nil {
		return cli.Fitted{}, err
	}
	f, err := o.Farm(ctx)
	if err != nil {
		return cli.Fitted{}, err
	}
	zone, err := zoneOf(f)
	if err != nil {
		return cli.Fitted{}, err
	}
	var b farm.Block
	for _, x := range f.Blocks {
		if x.ID == blockID {
			b = x
		}
	}
	got := cli.Fitted{}
	if got.Station, err = station(f, b.StationID); err != nil {
		return got, err
	}
	var seasons []vine.Season
	for _, day := range burst {
		s, err := season(ctx, st, got.Station, f.LatDeg, day, zone)
		if err != nil {
			return got, err
		}
		if gap, ok := firstGap(s.Days); ok { // a season is whole or is not used
			got.Left = append(got.Left, fmt.Sprintf("%s: too few readings on %s", day.Format(time.DateOnly), gap.Format(time.DateOnly)))
			continue
		}
		seasons = append(seasons, s)
	}
	if len(seasons) == 0 {
		return got, &cli.NoAnswerError{Text: "no season has a temperature for every day; " + strings.Join(got.Left, "; ")}
	}
	got.Fit, err = vine.FitBudbreak(seasons)
	return got, err
}

// firstGap finds the first day without a mean.
func firstGap(days []vine.Day) (time.Time, bool) {
	for _, d := range days {
		if math.IsNaN(float64(d.MeanC)) {
			return d.Date, true
		}
	}
	return time.Time{}, false
}

// season is the run of daily means from the season's start to beyond bud burst.
func season(ctx context.Context, st store.Store, s farm.Station, latDeg float64, burst time.Time, zone *time.Location) (vine.Season, error) {
	start := time.Date(burst.Year(), time.January, 1, 0, 0, 0, 0, zone)
	if latDeg < 0 {
		start = time.Date(burst.Year(), time.July, 1, 0, 0, 0, 0, zone)
		if start.After(burst) {
			start = start.AddDate(-1, 0, 0)
		}
	}
	end := time.Date(burst.Year(), burst.Month(), burst.Day()+afterBurst, 0, 0, 0, 0, zone)
	batches, err := loadBatches(ctx, st, store.BatchQuery{StationID: s.ID, Kind: weather.Reading, SamplesFrom: start, SamplesTo: end})
	if err != nil {
		return vine.Season{}, err
	}
	if len(batches) == 0 {
		return vine.Season{}, &cli.NoAnswerError{Text: fmt.Sprintf("station %s has no readings for the season of %s", s.ID, burst.Format(time.DateOnly))}
	}
	grid, _, err := weather.Grid(batches, weather.GridStart(start), end)
	if err != nil {
		return vine.Season{}, err
	}
	return vine.Season{Burst: burst, Days: dailyMeans(&grid, start, end)}, nil
}

// dailyMeans returns the mean of every day from start to end; NaN where too few
// hours are known.
func dailyMeans(h *weather.Hourly, start, end time.Time) (out []vine.Day) {
	for day := start; day.Before(end); day = day.AddDate(0, 0, 1) {
		sum, n := 0.0, 0
		for t := day.Add(time.Hour); !t.After(day.AddDate(0, 0, 1)); t = t.Add(time.Hour) {
			if v := h.At(weather.AirTemp, h.Index(t)); !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		mean := math.NaN()
		if n >= wholeDay {
			mean = sum / float64(n)
		}
		out = append(out, vine.Day{Date: day, MeanC: quantity.Celsius(mean)})
	}
	return out
}
