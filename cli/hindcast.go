package cli

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"sync/atomic"

	"budward/decide/hindcast"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

type hindcastCmd struct {
	Record    []string `sep:"none" help:"File of readings, packed with gzip or not; may be given again, and more may follow it. - reads standard input." placeholder:"FILE"`
	More      []string `arg:"" optional:"" name:"file" help:"More files of the same record."`
	Report    string   `help:"Folder to write the report to: text, JSON, every number as CSV, plots. What a report left there is replaced." placeholder:"DIR"`
	Station   string   `help:"Station of the farm: its place and zone, its past forecasts, and without --record its readings." placeholder:"S"`
	Place     string   `help:"Where the station stands, such as 38.5N,122.4W (else as the record or the farm states)." placeholder:"LAT,LON"`
	Zone      string   `help:"Zone of midnight and, in CSV, of times without an offset; 'farm' for the farm's (else the whole hour nearest the sun)." placeholder:"ZONE"`
	Season    string   `help:"First and last evening scored, every year, such as 03-15..05-31." placeholder:"FROM..TO"`
	Threshold []string `help:"Temperature whose passing is scored, such as 31F; may be given again (else -2, 0 and 2 °C)." placeholder:"TEMP"`
	PastOnly  bool     `help:"Learn only from nights that had ended, not from other years, earlier and later."`
	fileWords `embed:""`
}

// HindcastRequest is a record to replay and what to ask of it.
type HindcastRequest struct {
	RecordRequest
	StationID   string          // "" = none of the farm's
	Season      hindcast.Season // zero = the usual one
	ThresholdsC []float64       // nil = the usual ones
	PastOnly    bool
	ReportDir   string // made before the work begins, so that a folder that cannot be made is found soon
	Progress    func(done, total int)
}

// Hindcasted is what a replay found.
type Hindcasted struct {
	Report  hindcast.Report
	Farm    farm.Farm // with HasFarm
	HasFarm bool
	Notes   []string // what the decoders and the wiring took for granted
	Files   []string // names of what was read
}

// Help is shown below the usage.
func (c *hindcastCmd) Help() string {
	return `Each evening uses only what was known by then. Scored are bias, RMSE, MAE, the
bands, thresholds and what acting on them is worth, beside last night again, the
usual for the date and two methods of the handbooks.

    budward hindcast --record 2012.txt.gz 2013.txt.gz 2014.txt.gz --report out
    budward hindcast --record readings.csv --place 38.5N,122.4W \
        --zone America/Los_Angeles --threshold 31F --threshold 28F`
}

// Run replays a record.
func (c *hindcastCmd) Run(r *run) error {
	q, err := c.question(r)
	if err != nil {
		return err
	}
	o, err := r.open()
	if err != nil {
		return err
	}
	var did, of atomic.Int64
	q.Progress = func(done, total int) { did.Store(int64(done)); of.Store(int64(total)) }
	done := r.telling(func() string {
		if n := of.Load(); n > 0 {
			return fmt.Sprintf("replaying the record: %d %%", 100*did.Load()/n)
		}
		return "reading the record"
	})
	got, err := o.Hindcast(r.ctx, q)
	done()
	if err != nil {
		return err
	}
	if got.HasFarm {
		r.useUnits(got.Farm)
	}
	var wrote []string
	if c.Report != "" {
		files, err := reportFiles(&got, r.system)
		if err != nil {
			return err
		}
		if wrote, err = o.WriteFiles(r.ctx, c.Report, files); err != nil {
			return err
		}
	}
	if r.g.JSON {
		return r.json(hindcastSchema, hindcastObject(&got))
	}
	p := r.page()
	p.b.WriteString(hindcastText(&got, r.system))
	for _, f := range wrote {
		p.para("Wrote ", "  ", f)
	}
	return r.print(p)
}

func (c *hindcastCmd) question(r *run) (HindcastRequest, error) {
	files := append(append([]string{}, c.Record...), c.More...)
	q := HindcastRequest{StationID: c.Station, PastOnly: c.PastOnly, ReportDir: c.Report}
	if len(files) == 0 && c.Station == "" {
		return q, usage("hindcast: want --record FILE, or --station S of the farm to replay what was fed for it")
	}
	var err error
	if q.RecordRequest, err = c.request(r, files, c.Place, c.Zone); err != nil {
		return q, err
	}
	if c.Season != "" {
		if q.Season, err = hindcast.ParseSeason(c.Season); err != nil {
			return q, usage("--season %s: want month and day of the first and the last evening, such as 03-15..05-31", c.Season)
		}
	}
	for _, t := range c.Threshold {
		v, err := quantity.ParseCelsius(t)
		if err != nil {
			return q, usage("--threshold: %v", err)
		}
		q.ThresholdsC = append(q.ThresholdsC, float64(v))
	}
	if len(c.Threshold) > hindcast.MaxThresholds {
		return q, usage("%d thresholds; want at most %d", len(c.Threshold), hindcast.MaxThresholds)
	}
	return q, nil
}

const hindcastSchema = "budward.hindcast/1"

func hindcastObject(h *Hindcasted) object {
	return append(object{{"files", append([]string{}, h.Files...)}, {"reading_notes", append([]string{}, h.Notes...)}}, members(reflect.ValueOf(h.Report))...)
}

// hindcastText is the report with what is to be known about its files.
func hindcastText(h *Hindcasted, s quantity.System) string {
	p := &page{}
	p.line("Predictions of each night's minimum against what was measured")
	p.blank()
	p.b.WriteString(h.Report.Text(s))
	for _, n := range h.Notes {
		p.para("* ", "  ", sentence(n))
	}
	return p.b.String()
}

// reportFiles are the files of a report by name.
func reportFiles(h *Hindcasted, s quantity.System) (map[string]string, error) {
	var b bytes.Buffer
	if err := writeJSON(&b, hindcastSchema, hindcastObject(h)); err != nil {
		return nil, err
	}
	out := map[string]string{"report.txt": hindcastText(h, s), "report.json": b.String(), "nights.csv": h.Report.CSV()}
	for _, p := range h.Report.Plots(s) {
		out[strings.ToLower(p.Name)+".svg"] = p.SVG
	}
	return out, nil
}
