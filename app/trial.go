package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"budward/cli"
	"budward/decide/trial"
	"budward/decide/weather"
	"budward/feed"
	"budward/vineyard/farm"
)

// Trial works out a trial of two thermometers from their files.
func (o *office) Trial(ctx context.Context, q cli.TrialRequest) (cli.Trialed, error) {
	got := cli.Trialed{System: q.Input.Units}
	st, f, err := o.trialStation(ctx, q.StationID)
	if err != nil {
		return got, err
	}
	if st != nil {
		got.Farm, got.HasFarm = f, true
		if s, ok := cli.UnitsOf(f); ok && !q.Stated {
			got.System = s
		}
	}
	in := q.Input
	in.Units = got.System
	zone, err := recordZone(q.Zone, f, got.HasFarm)
	if err != nil {
		return got, err
	}
	if in.Zone = zone; in.Zone == nil && got.HasFarm {
		if in.Zone, err = zoneOf(f); err != nil {
			return got, err
		}
	}
	if in.Now, err = o.now(zoneOr(in.Zone, time.UTC)); err != nil {
		return got, err
	}
	for _, side := range []struct {
		files []cli.RecordFile
		to    *[]weather.Batch
	}{{q.A, &in.A}, {q.B, &in.B}} {
		r := q.RecordRequest
		r.Files = side.files
		if *side.to, err = o.readRecord(ctx, &r, "", zone, in.Now); err != nil {
			return got, err
		}
		for _, b := range *side.to {
			for _, n := range append(b.Notes, refusedNote(&b)...) {
				got.Notes = append(got.Notes, b.Origin+": "+n)
			}
		}
	}
	var elevation float64
	switch {
	case q.Place != nil:
		in.LatDeg, in.LonDeg, elevation = float64(q.Place.Lat), float64(q.Place.Lon), float64(q.Place.Elevation)
	case st != nil:
		in.LatDeg, in.LonDeg, elevation = st.LatDeg, st.LonDeg, st.ElevationM
	case statedPlace(&in):
	default:
		return got, &cli.UsageError{Text: "--place is missing: sunset and sunrise are wanted; give --place 38.5N,122.4W, or --station S of the farm"}
	}
	got.Zone = in.Zone
	if got.Result, err = trial.Estimate(in); err != nil {
		return got, trialError(err, q)
	}
	if q.Floors == nil {
		return got, nil
	}
	return got, o.holdAgainstModel(&got, *q.Floors, in, elevation)
}

// statedPlace takes the place that one of the records states.
func statedPlace(in *trial.Input) bool {
	for _, b := range slices.Concat(in.A, in.B) {
		if b.HasPlace {
			in.LatDeg, in.LonDeg = b.LatDeg, b.LonDeg
			return true
		}
	}
	return false
}

// trialStation is the station of the farm that is meant; nil where none is.
func (o *office) trialStation(ctx context.Context, id string) (*farm.Station, farm.Farm, error) {
	if id == "" {
		return nil, farm.Farm{}, nil
	}
	f, err := o.Farm(ctx)
	if err != nil {
		return nil, f, err
	}
	st, err := station(f, id)
	return &st, f, err
}

// holdAgainstModel adds what the gain says of the mixing.
func (o *office) holdAgainstModel(got *cli.Trialed, f trial.Floors, in trial.Input, elevationM float64) error {
	m, err := trial.NewModel(f, got.Result.Weather, in.LatDeg, in.LonDeg, elevationM)
	if err != nil {
		return err
	}
	for _, n := range m.Notes {
		got.Notes = append(got.Notes, "the model: "+n)
	}
	k, err := trial.K0From(m.Gain, got.Result.Measured(), in.Units)
	if err != nil {
		return err
	}
	got.K0 = &k
	return nil
}

// refusedNote says what of a file was not taken, the first of it in full.
func refusedNote(b *weather.Batch) []string {
	if b.RefusedTotal == 0 {
		return nil
	}
	f := b.Refused[0]
	return []string{fmt.Sprintf("%d items not taken; the first: line %d, %s = %q: %s", b.RefusedTotal, f.Line, f.Field, f.Value, f.Why)}
}

// trialError tells what is wrong with a file from what is wrong with the question.
func trialError(err error, q cli.TrialRequest) error {
	var bad *trial.InputError
	if errors.As(err, &bad) && (bad.Field == "records" || strings.HasPrefix(bad.Field, "record ")) {
		return &feed.Error{Origin: q.A[0].Name + " and " + q.B[0].Name, Field: bad.Field, Value: bad.Value, Want: bad.Want}
	}
	return err
}
