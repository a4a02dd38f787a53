package cli

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"budward/decide/weather"
	"budward/store"
)

type feedCmd struct {
	Forecast feedForecastCmd `cmd:"" help:"Take in an hourly forecast: gridpoint JSON of the US weather service, or CSV."`
	Readings feedReadingsCmd `cmd:"" help:"Take in readings: CSV, or hourly02 text of the US climate reference network."`
	List     feedListCmd     `cmd:"" help:"What was fed."`
	Withdraw feedWithdrawCmd `cmd:"" help:"Make one batch stop counting; it is kept."`
}

// feedOptions are shared by forecasts and readings.
type feedOptions struct {
	File         string `arg:"" help:"File, packed with gzip or not; - reads standard input."`
	Station      string `help:"Station it is for (may be left out where there is one only)." placeholder:"S"`
	Map          string `help:"CSV: which column is what, such as 'time=Date Time, air_temp=Outside unit F, rh=Hum unit %'." placeholder:"MAP"`
	Zone         string `help:"CSV: zone of times without an offset; 'farm' for the farm's own." placeholder:"ZONE"`
	Format       string `help:"gridpoint, csv or hourly02 (else found out)." placeholder:"FORMAT"`
	DateOrder    string `help:"CSV: mdy or dmy, for dates written with strokes." placeholder:"ORDER"`
	DecimalComma bool   `help:"CSV: numbers are written 3,5."`
}

type feedForecastCmd struct {
	feedOptions `embed:""`
	Issued      string `help:"CSV: when the forecast was issued." placeholder:"TIME"`
}

type feedReadingsCmd struct {
	feedOptions `embed:""`
}

// Run takes in a forecast.
func (c *feedForecastCmd) Run(r *run) error { return c.run(r, weather.Forecast, c.Issued) }

// Run takes in readings.
func (c *feedReadingsCmd) Run(r *run) error { return c.run(r, weather.Reading, "") }

func (c *feedOptions) run(r *run, kind weather.Kind, issued string) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	var data io.Reader = r.env.Stdin
	name := c.File
	if c.File == "-" {
		name = "standard input"
	} else {
		f, err := os.Open(c.File)
		if err != nil {
			return err
		}
		defer f.Close()
		data = f
	}
	done := r.progress("reading " + name)
	got, err := o.Feed(r.ctx, FeedRequest{Kind: kind, Name: name, Data: data, StationID: c.Station, Map: c.Map, Zone: c.Zone,
		Issued: issued, Format: c.Format, DateOrder: c.DateOrder, DecimalComma: c.DecimalComma})
	done()
	if err != nil {
		return err
	}
	if r.g.JSON {
		return r.json("budward.fed/1", object{{"batch", batchObject(got.Info)}, {"refused", append([]weather.Refusal{}, got.Refused...)},
			{"screened_out", append([]weather.Exclusion{}, got.Screening.Runs...)}, {"assumed", append([]string{}, got.Assumed...)}})
	}
	return r.print(fedPage(r.page(), got))
}

func batchObject(b store.BatchInfo) object {
	o := object{{"batch", b.ID}, {"station_id", b.StationID}, {"kind", b.Kind}, {"origin", b.Origin}, {"issued_at", b.IssuedAt}, {"fed_at", b.FedAt},
		{"samples_count", b.Samples}, {"gaps_count", b.Gaps}, {"refused_count", b.Refused}, {"first_at", b.FirstAt}, {"last_at", b.LastAt},
		{"notes", append([]string{}, b.Notes...)}}
	if !b.Withdrawn.At.IsZero() {
		o = append(o, member{"withdrawn_at", b.Withdrawn.At}, member{"withdrawn_why", b.Withdrawn.Why})
	}
	return o
}

const maxShown = 8 // lines of one kind shown before the rest are only counted

func fedPage(p *page, f Fed) *page {
	b := f.Info
	what := "Readings"
	if b.Kind == weather.Forecast {
		what = "Forecast"
	}
	p.para("", "", fmt.Sprintf("%s for %s (%s), batch %d: %d values", what, f.Station.ID, f.Station.Name, b.ID, b.Samples))
	if b.Samples > 0 {
		p.line("  from    %s", dayClock(b.FirstAt, f.Zone))
		p.line("  to      %s", dayClock(b.LastAt, f.Zone))
	}
	if b.Kind == weather.Forecast {
		p.line("  issued  %s", dayClock(b.IssuedAt, f.Zone))
	}
	if b.Gaps > 0 {
		p.line("  %s marked missing by the source", plural(b.Gaps, "value is", "values are"))
	}
	for _, n := range append(append([]string(nil), b.Notes...), f.Assumed...) {
		p.para("  note: ", "    ", n)
	}
	if b.Refused > 0 {
		p.para("", "  ", fmt.Sprintf("Not taken: %s", plural(b.Refused, "item", "items")))
		for i, x := range f.Refused {
			if i == maxShown {
				p.line("  ... and %d more; --json lists them", b.Refused-maxShown)
				break
			}
			where := ""
			if x.Line > 0 {
				where = fmt.Sprintf("line %d, ", x.Line)
			}
			p.para("  ", "    ", fmt.Sprintf("%s%s = %q: %s", where, x.Field, x.Value, x.Why))
		}
	}
	for i, x := range f.Screening.Runs {
		if i == maxShown {
			p.line("  ... and %d more; --json lists them", f.Screening.RunTotal-maxShown)
			break
		}
		word := "Left out"
		if x.Kept {
			word = "Look at"
		}
		p.para("  "+word+": ", "    ", x.Text)
	}
	return p
}

type feedListCmd struct {
	Station   string `help:"Of one station." placeholder:"S"`
	Kind      string `help:"forecast or reading." placeholder:"KIND"`
	Withdrawn bool   `help:"Also what was withdrawn."`
}

// Run lists batches.
func (c *feedListCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	kind := weather.Kind(strings.TrimSuffix(strings.ToLower(c.Kind), "s"))
	if kind != "" && kind != weather.Forecast && kind != weather.Reading {
		return usage("--kind %s: want forecast or reading", c.Kind)
	}
	if c.Station != "" {
		f, err := o.Farm(r.ctx)
		if err != nil {
			return err
		}
		if c.Station, err = findStation(f, c.Station); err != nil {
			return err
		}
	}
	list, err := o.Batches(r.ctx, store.BatchQuery{StationID: c.Station, Kind: kind, Withdrawn: c.Withdrawn})
	if err != nil {
		return err
	}
	if r.g.JSON {
		out := []object{}
		for _, b := range list {
			out = append(out, batchObject(b))
		}
		return r.json("budward.batches/1", object{{"batches", out}})
	}
	_, zone, err := o.Moment(r.ctx)
	if err != nil {
		return err
	}
	p := r.page()
	if len(list) == 0 {
		p.line("Nothing was fed.")
		return r.print(p)
	}
	g := &grid{right: []bool{true, false, false, true}, max: []int{6, 9, 9, 8, 9, 9, 18}}
	g.row("batch", "station", "kind", "values", "from", "to", "file")
	day := func(t time.Time) string {
		return dash(t, func(t time.Time) string { return t.In(zone).Format("2 Jan 06") })
	}
	for _, b := range list {
		kind := string(b.Kind)
		if !b.Withdrawn.At.IsZero() {
			kind = "withdrawn"
		}
		g.row(fmt.Sprint(b.ID), b.StationID, kind, fmt.Sprint(b.Samples), day(b.FirstAt), day(b.LastAt), fileEnd(b.Origin, 18))
	}
	p.grid(g, "")
	return r.print(p)
}

// fileEnd is a file's name, cut at the front where it is long: its end, with the
// date, tells files of one kind apart.
func fileEnd(path string, width int) string {
	name := []rune(lastPart(path))
	if len(name) <= width {
		return string(name)
	}
	return "…" + string(name[len(name)-width+1:])
}

// lastPart is a file's name without its folders.
func lastPart(path string) string { return path[strings.LastIndexAny(path, `/\`)+1:] }

type feedWithdrawCmd struct {
	Batch int64  `arg:"" help:"Number of the batch, as feed list shows it."`
	Why   string `help:"Why." required:""`
}

// Run withdraws a batch.
func (c *feedWithdrawCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	if err := o.WithdrawBatch(r.ctx, c.Batch, c.Why); err != nil {
		return err
	}
	return r.say("budward.withdrawn/1", object{{"batch", c.Batch}}, "Batch %d no longer counts.", c.Batch)
}

// say answers with one line, or its JSON.
func (r *run) say(schema string, o object, format string, a ...any) error {
	if r.g.JSON {
		return r.json(schema, o)
	}
	p := r.page()
	p.para("", "", fmt.Sprintf(format, a...))
	return r.print(p)
}
