package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"budward/cli"
	"budward/cli/calc"
	"budward/decide/hindcast"
	"budward/decide/predict"
	"budward/decide/weather"
	"budward/feed"
	"budward/store"
	"budward/vineyard/farm"
)

// farmZone is how the zone of the farm is asked for by name.
const farmZone = "farm"

// Hindcast replays a station's record: the files given, or what was fed for a
// station of the farm.
func (o *office) Hindcast(ctx context.Context, q cli.HindcastRequest) (cli.Hindcasted, error) {
	var got cli.Hindcasted
	in := hindcast.Input{Season: q.Season, ThresholdsC: q.ThresholdsC, Seed: o.set.Seed, Progress: q.Progress,
		Stop: func() bool { return ctx.Err() != nil }}
	if q.PastOnly {
		in.Training = hindcast.PastOnly
	}
	if q.ReportDir != "" {
		if err := os.MkdirAll(q.ReportDir, 0o755); err != nil {
			return got, err
		}
	}
	st, err := o.stationOf(ctx, q.StationID, len(q.Files) > 0, &got)
	if err != nil {
		return got, err
	}
	if in.Zone, err = recordZone(q.Zone, got.Farm, got.HasFarm); err != nil {
		return got, err
	}
	if in.Now, err = o.now(zoneOr(in.Zone, time.UTC)); err != nil {
		return got, err
	}
	read, err := o.readRecord(ctx, &q.RecordRequest, stationName(st, q.StationID), in.Zone, in.Now)
	if err != nil {
		return got, err
	}
	in.Records = read
	for i := range in.Records {
		got.Files = append(got.Files, in.Records[i].Origin)
		for _, n := range in.Records[i].Notes {
			got.Notes = append(got.Notes, in.Records[i].Origin+": "+n)
		}
	}
	if in.Zone == nil && got.HasFarm {
		if in.Zone, err = zoneOf(got.Farm); err != nil {
			return got, err
		}
	}
	switch {
	case q.Place != nil:
		in.Place = &predict.Place{LatDeg: float64(q.Place.Lat), LonDeg: float64(q.Place.Lon)}
	case st != nil:
		in.Place = &predict.Place{LatDeg: st.LatDeg, LonDeg: st.LonDeg}
		if err := samePlace(in.Records, *st); err != nil {
			return got, err
		}
	}
	if st != nil {
		if err := o.fed(ctx, *st, &in); err != nil {
			return got, err
		}
	}
	got.Report, err = hindcast.Run(in)
	return got, hindcastError(ctx, err, got.Files, in.Now)
}

// stationOf finds the station of the farm that is meant; nil where none is, or
// where there is no farm and need of none: the name is then a name and no more.
func (o *office) stationOf(ctx context.Context, id string, canDoWithout bool, got *cli.Hindcasted) (*farm.Station, error) {
	if id == "" {
		return nil, nil
	}
	f, err := o.Farm(ctx)
	if none := (*noFarmError)(nil); errors.As(err, &none) && canDoWithout {
		got.Notes = append(got.Notes, fmt.Sprintf("there is no farm file %s: %s is taken as a name, nothing is known of its place and past forecasts", none.path, id))
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	st, err := station(f, id)
	if err != nil {
		return nil, err
	}
	got.Farm, got.HasFarm = f, true
	return &st, nil
}

func stationName(st *farm.Station, asked string) string {
	if st != nil {
		return st.ID
	}
	return asked
}

// recordZone is the zone asked for; nil where none is.
func recordZone(text string, f farm.Farm, hasFarm bool) (*time.Location, error) {
	switch {
	case text == "":
		return nil, nil
	case text == farmZone && hasFarm:
		return zoneOf(f)
	case text == farmZone:
		return nil, &cli.UsageError{Text: "--zone farm: want --station S of a farm with it"}
	}
	z, err := calc.Zone(text)
	if err != nil {
		return nil, &cli.UsageError{Text: "--zone: want " + err.Error()}
	}
	return z, nil
}

func zoneOr(z, other *time.Location) *time.Location {
	if z != nil {
		return z
	}
	return other
}

// readRecord decodes files of readings without keeping them.
func (o *office) readRecord(ctx context.Context, q *cli.RecordRequest, stationID string, zone *time.Location, now time.Time) ([]weather.Batch, error) {
	opts := feed.Options{StationID: stationID, Kind: weather.Reading, FedAt: now, Zone: zone,
		Format: feed.Format(q.Format), DateOrder: feed.DateOrder(q.DateOrder), DecimalComma: q.DecimalComma}
	switch opts.Format {
	case feed.Unknown, feed.CSV, feed.Hourly02:
	default:
		return nil, &cli.UsageError{Text: "--format " + q.Format + ": want csv or hourly02"}
	}
	if q.Map != "" {
		var err error
		if opts.Header, err = feed.ParseHeaderMap(q.Map); err != nil {
			return nil, &cli.UsageError{Text: "--map: " + err.Error()}
		}
	}
	var out []weather.Batch
	for _, f := range q.Files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		b, err := readOne(f, opts)
		if err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	return out, nil
}

func readOne(f cli.RecordFile, opts feed.Options) (weather.Batch, error) {
	data, err := f.Open()
	if err != nil {
		return weather.Batch{}, err
	}
	defer data.Close()
	b, err := feed.Decode(f.Name, data, opts)
	if err != nil {
		return b, err
	}
	if b.Kind != weather.Reading {
		return b, &feed.Error{Origin: f.Name, Field: "kind", Value: string(b.Kind), Want: "readings; past forecasts are those fed for --station"}
	}
	b.Origin = filepath.Base(f.Name) // as it is shown from here on
	return b, nil
}

// placeTolDeg is how far a record may place a station from where the farm has it:
// about five kilometres, as between the files of one record.
const placeTolDeg = 0.05

func samePlace(records []weather.Batch, s farm.Station) error {
	for i := range records {
		b := &records[i]
		if b.HasPlace && (math.Abs(b.LatDeg-s.LatDeg) > placeTolDeg || math.Abs(b.LonDeg-s.LonDeg) > placeTolDeg) {
			return &feed.Error{Origin: b.Origin, Field: "place", Value: fmt.Sprintf("%g, %g", b.LatDeg, b.LonDeg),
				Want: fmt.Sprintf("that of station %s, %g, %g; or --place", s.ID, s.LatDeg, s.LonDeg)}
		}
	}
	return nil
}

// fed adds what the farm keeps for a station: its past forecasts, and where no
// file was given its readings.
func (o *office) fed(ctx context.Context, s farm.Station, in *hindcast.Input) error {
	st, err := o.open(ctx)
	if err != nil {
		return err
	}
	if in.Forecasts, err = loadBatches(ctx, st, store.BatchQuery{StationID: s.ID, Kind: weather.Forecast}); err != nil {
		return err
	}
	if len(in.Records) > 0 {
		return nil
	}
	if in.Records, err = loadBatches(ctx, st, store.BatchQuery{StationID: s.ID, Kind: weather.Reading}); err != nil {
		return err
	}
	if len(in.Records) == 0 {
		return &cli.NoAnswerError{Text: fmt.Sprintf("no readings were fed for station %s; feed some with `budward feed readings`, or give --record FILE", s.ID)}
	}
	return nil
}

// hindcastError says what to do about a record that cannot be replayed.
func hindcastError(ctx context.Context, err error, files []string, now time.Time) error {
	var bad *hindcast.InputError
	switch {
	case errors.Is(err, hindcast.ErrStopped):
		return ctx.Err()
	case !errors.As(err, &bad):
		return err
	case bad.Field == "place":
		return &cli.UsageError{Text: "--place is missing: the record does not state where its station stands; give --place 38.5N,122.4W, or --station S of the farm"}
	case strings.HasPrefix(bad.Field, "place of "):
		return &feed.Error{Origin: strings.TrimPrefix(bad.Field, "place of "), Field: "place", Value: bad.Value, Want: bad.Want + ": one record is of one station; --place overrules"}
	case bad.Field == "records":
		return &feed.Error{Origin: strings.Join(files, ", "), Field: "readings", Value: bad.Value, Want: bad.Want + ", up to " + now.Format("2 Jan 2006 15:04 MST")}
	case bad.Field == "nights":
		return &cli.NoAnswerError{Text: "no night can be scored: " + bad.Value + "; want " + bad.Want}
	}
	return err
}

// WriteFiles writes texts into a folder, each whole or not at all; files of these
// names are replaced, others left alone.
func (o *office) WriteFiles(_ context.Context, dir string, texts map[string]string) ([]string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	var out []string
	for name, text := range texts {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path+".part", []byte(text), 0o644); err != nil {
			return nil, err
		}
		if err := os.Rename(path+".part", path); err != nil {
			return nil, err
		}
		out = append(out, path)
	}
	sort.Strings(out)
	return out, nil
}
