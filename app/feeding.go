package app

import (
	"context"
	"fmt"
	"time"

	"budward/cli"
	"budward/cli/calc"
	"budward/decide/weather"
	"budward/feed"
	"budward/store"
	"budward/vineyard/farm"
)

// screenBefore is how far back readings are looked at to judge the first new
// ones.
const screenBefore = 48 * time.Hour

// Feed takes in one file of weather. It is screened here, once, against what was
// fed before: what cannot be true is not kept as a value but as a refusal, with
// its reason, so that every later answer rests on the same readings.
func (o *office) Feed(ctx context.Context, r cli.FeedRequest) (cli.Fed, error) {
	st, err := o.open(ctx)
	if err != nil {
		return cli.Fed{}, err
	}
	now, zone, err := o.Moment(ctx)
	if err != nil {
		return cli.Fed{}, err
	}
	f, err := o.Farm(ctx)
	if err != nil {
		return cli.Fed{}, err
	}
	got := cli.Fed{Zone: zone}
	if got.Station, err = station(f, r.StationID); err != nil {
		return got, err
	}
	opts, err := feedOptions(r, got.Station, now, zone)
	if err != nil {
		return got, err
	}
	b, err := feed.Decode(r.Name, r.Data, opts)
	if err != nil {
		return got, err
	}
	if b.Kind != r.Kind {
		return got, &feed.Error{Origin: r.Name, Field: "kind", Value: string(b.Kind), Want: "a " + string(r.Kind) + "; use `budward feed " + feedNoun(b.Kind) + "`"}
	}
	before, err := o.before(ctx, st, b)
	if err != nil {
		return got, err
	}
	b, got.Screening = weather.Screen(b, now, before)
	for _, x := range got.Screening.Runs {
		if !x.Kept {
			b.Refuse(weather.Refusal{Origin: b.Origin, Field: x.Name, Value: fmt.Sprint(x.Value), Why: x.Text})
		}
	}
	if len(b.Samples) == 0 {
		return got, nothingLeft(r, b, got.Screening)
	}
	got.Assumed = assumedOf(b, got.Station)
	if got.Info, err = st.AddBatch(ctx, b); err != nil {
		return got, err
	}
	got.Refused = b.Refused
	return got, nil
}

func feedNoun(k weather.Kind) string {
	if k == weather.Forecast {
		return "forecast"
	}
	return "readings"
}

// nothingLeft says why a file gave no value at all.
func nothingLeft(r cli.FeedRequest, b weather.Batch, s weather.ScreenReport) error {
	e := &feed.Error{Origin: r.Name, Field: "values", Value: "none that can be used", Want: "at least one"}
	if len(s.Runs) > 0 {
		e.Want += "; " + s.Runs[0].Text
	} else if len(b.Refused) > 0 {
		x := b.Refused[0]
		e.Want += fmt.Sprintf("; line %d, %s = %q: %s", x.Line, x.Field, x.Value, x.Why)
	}
	return e
}

// assumedOf says what was taken for granted about where the weather is for.
func assumedOf(b weather.Batch, s farm.Station) (out []string) {
	const much = 50.0 // m: a third of a kelvin by the usual fall with height
	if d := b.ElevationM - s.ElevationM; b.HasElevation && (d > much || d < -much) {
		out = append(out, fmt.Sprintf("The file speaks for %.0f m above the sea, station %s stands at %.0f m; nothing was added or taken off for that.",
			b.ElevationM, s.ID, s.ElevationM))
	}
	return out
}

func (o *office) before(ctx context.Context, st store.Store, b weather.Batch) ([]weather.Sample, error) {
	if b.Kind != weather.Reading || len(b.Samples) == 0 {
		return nil, nil
	}
	first := b.Samples[0].At
	list, err := st.LoadBatches(ctx, store.BatchQuery{StationID: b.StationID, Kind: weather.Reading,
		SamplesFrom: first.Add(-screenBefore), SamplesTo: first})
	if err != nil {
		return nil, err
	}
	var out []weather.Sample
	for _, x := range list {
		out = append(out, x.Data.Samples...)
	}
	store.SortSamples(out)
	return out, nil
}

func feedOptions(r cli.FeedRequest, s farm.Station, now time.Time, zone *time.Location) (feed.Options, error) {
	o := feed.Options{StationID: s.ID, Kind: r.Kind, FedAt: now, Format: feed.Format(r.Format), DateOrder: feed.DateOrder(r.DateOrder), DecimalComma: r.DecimalComma}
	var err error
	switch o.Format {
	case feed.Unknown, feed.Gridpoint, feed.CSV, feed.Hourly02:
	default:
		return o, &cli.UsageError{Text: "--format " + r.Format + ": want gridpoint, csv or hourly02"}
	}
	if r.Map != "" {
		if o.Header, err = feed.ParseHeaderMap(r.Map); err != nil {
			return o, &cli.UsageError{Text: "--map: " + err.Error()}
		}
	}
	switch r.Zone {
	case "":
	case "farm":
		o.Zone = zone
	default:
		if o.Zone, err = calc.Zone(r.Zone); err != nil {
			return o, &cli.UsageError{Text: "--zone: want " + err.Error()}
		}
	}
	if r.Issued != "" {
		if o.IssuedAt, err = cli.ParseMoment(r.Issued, zone); err != nil {
			return o, err
		}
	}
	return o, nil
}

// Batches lists what was fed.
func (o *office) Batches(ctx context.Context, q store.BatchQuery) ([]store.BatchInfo, error) {
	st, err := o.open(ctx)
	if err != nil {
		return nil, err
	}
	return st.Batches(ctx, q)
}
