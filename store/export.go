package store

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"budward/decide/weather"
	"budward/vineyard/farm"
)

// ExportSchema names the layout of an exported folder, in its manifest.json.
const ExportSchema = "budward.export/1"

// Manifest is the contents of an export's manifest.json.
type Manifest struct {
	Schema     string    `json:"schema"`
	ExportedAt time.Time `json:"exported_at"`
	FarmID     string    `json:"farm_id"`
	Revision   Revision  `json:"revision"`
	Files      []string  `json:"files"`
}

// Export writes everything a store keeps as open files into a new folder: the
// farm as CSV (farm/, as farm.ImportCSV reads it) and as JSON, stages, floors, batches with what was refused,
// and the readings and forecasts of each station, every value under a name that
// ends in its unit, times in UTC, a gap as an empty field, what was withdrawn
// marked as such. The folder must not exist or be empty. It appears whole or not
// at all; what is written to the store meanwhile may be in some files only.
func Export(ctx context.Context, s Store, dir string, now time.Time) (Manifest, error) {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return Manifest{}, &ConflictError{"folder", dir, "it is not empty"}
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return Manifest{}, &DiskError{dir, err}
	}
	tmp, err := os.MkdirTemp(filepath.Dir(dir), ".budward-export-*")
	if err != nil {
		return Manifest{}, &DiskError{dir, err}
	}
	defer os.RemoveAll(tmp)
	e := exporter{ctx: ctx, s: s, dir: tmp, used: map[string]bool{}}
	m, err := e.all(now)
	if err != nil {
		return Manifest{}, err
	}
	if err := os.Chmod(tmp, 0o755); err != nil { // MkdirTemp keeps others out
		return Manifest{}, &DiskError{dir, err}
	}
	if err := os.Remove(dir); err != nil && !os.IsNotExist(err) { // an empty folder
		return Manifest{}, &DiskError{dir, err}
	}
	if err := os.Rename(tmp, dir); err != nil {
		return Manifest{}, &DiskError{dir, err}
	}
	return m, nil
}

type exporter struct {
	ctx context.Context
	s   Store
	dir string
	// used holds the names of the weather files so far, in small letters.
	used map[string]bool
}

func (e *exporter) all(now time.Time) (Manifest, error) {
	f, rev, err := e.s.Farm(e.ctx)
	if err != nil {
		return Manifest{}, err
	}
	m := Manifest{Schema: ExportSchema, ExportedAt: now.UTC(), FarmID: f.ID, Revision: rev}
	if err := e.json("farm.json", f); err != nil {
		return Manifest{}, err
	}
	sub := filepath.Join(e.dir, "farm")
	if err := os.Mkdir(sub, 0o755); err != nil {
		return Manifest{}, &DiskError{sub, err}
	}
	for name, text := range farm.ExportCSV(f) {
		path := filepath.Join(sub, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			return Manifest{}, &DiskError{path, err}
		}
	}
	for _, part := range []func() error{e.stages, e.floors, e.weather} {
		if err := part(); err != nil {
			return Manifest{}, err
		}
	}
	m.Files, err = filesIn(e.dir)
	if err != nil {
		return Manifest{}, &DiskError{e.dir, err}
	}
	return m, e.json("manifest.json", m)
}

// filesIn lists the files below dir, with forward slashes, in order.
func filesIn(dir string) ([]string, error) {
	var out []string
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		out = append(out, filepath.ToSlash(rel))
		return err
	})
	return out, err
}

func (e *exporter) json(name string, v any) error {
	doc, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	path := filepath.Join(e.dir, name)
	if err := os.WriteFile(path, append(doc, '\n'), 0o644); err != nil {
		return &DiskError{path, err}
	}
	return nil
}

func (e *exporter) csv(name string, head []string, rows [][]string) error {
	path := filepath.Join(e.dir, name)
	f, err := os.Create(path)
	if err != nil {
		return &DiskError{path, err}
	}
	w := csv.NewWriter(f)
	err = w.WriteAll(append([][]string{head}, rows...)) // flushes
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return &DiskError{path, err}
	}
	return nil
}

func (e *exporter) stages() error {
	list, err := e.s.Stages(e.ctx, StageQuery{Withdrawn: true})
	if err != nil {
		return err
	}
	var rows [][]string
	for _, r := range list {
		for _, c := range r.Counts {
			rows = append(rows, []string{idString(r.ID), r.BlockID, stamp(r.At), r.Who, string(c.Stage.Scale), strconv.Itoa(c.Stage.Code),
				number(c.Amount), string(r.Unit), r.Note, stamp(r.Withdrawn.At), r.Withdrawn.Why})
		}
	}
	return e.csv("stages.csv", []string{"record_id", "block_id", "observed_at", "who", "scale", "code",
		"amount", "unit", "note", "withdrawn_at", "withdrawn_why"}, rows)
}

func (e *exporter) floors() error {
	list, err := e.s.Floors(e.ctx, "")
	if err != nil {
		return err
	}
	var rows [][]string
	for _, r := range list {
		lead := []string{idString(r.ID), r.BlockID, stamp(r.At), r.Who, r.Why}
		if len(r.Strips) == 0 { // no longer described
			rows = append(rows, append(lead, "", "", "", "", "", "", "", "", ""))
		}
		for _, s := range r.Strips {
			rows = append(rows, append(slices.Clip(lead), s.Name, number(s.Share), string(s.Surface), number(s.HeightM), number(s.DepthM),
				number(s.Moisture.Value), number(s.Moisture.Spread), string(s.Moisture.Source), stamp(s.Moisture.At)))
		}
	}
	return e.csv("floors.csv", []string{"record_id", "block_id", "changed_at", "who", "why", "strip", "share", "surface",
		"height_m", "depth_m", "moisture_m3_m3", "moisture_spread_m3_m3", "moisture_source", "moisture_at"}, rows)
}

func (e *exporter) weather() error {
	infos, err := e.s.Batches(e.ctx, BatchQuery{Withdrawn: true})
	if err != nil {
		return err
	}
	var batches [][]string
	stations := map[string]bool{}
	for _, b := range infos {
		stations[b.StationID] = true
		elevation := ""
		if b.HasElevation {
			elevation = number(b.ElevationM)
		}
		batches = append(batches, []string{idString(b.ID), b.StationID, string(b.Kind), b.Origin, stamp(b.IssuedAt), stamp(b.FedAt),
			strconv.Itoa(b.Samples), strconv.Itoa(b.Gaps), strconv.Itoa(b.Refused), stamp(b.FirstAt), stamp(b.LastAt),
			elevation, strings.Join(b.Notes, "\n"), stamp(b.Withdrawn.At), b.Withdrawn.Why})
	}
	if err := e.csv("batches.csv", []string{"batch_id", "station_id", "kind", "origin", "issued_at", "fed_at", "samples", "gaps",
		"refused", "first_at", "last_at", "elevation_m", "notes", "withdrawn_at", "withdrawn_why"}, batches); err != nil {
		return err
	}
	var refused [][]string
	for _, id := range sortedKeys(stations) {
		for _, kind := range []weather.Kind{weather.Reading, weather.Forecast} {
			more, err := e.station(id, kind)
			if err != nil {
				return err
			}
			refused = append(refused, more...)
		}
	}
	return e.csv("refused.csv", []string{"batch_id", "origin", "line", "field", "value", "why"}, refused)
}

// station writes the samples of one kind of one station, a row for each batch and
// moment, and returns the rows of what was refused.
func (e *exporter) station(id string, kind weather.Kind) (refused [][]string, err error) {
	list, err := e.s.LoadBatches(e.ctx, BatchQuery{StationID: id, Kind: kind, Withdrawn: true})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	var have [weather.NumVariables]bool
	for _, b := range list {
		for _, r := range b.Data.Refused {
			refused = append(refused, []string{idString(b.Info.ID), r.Origin, strconv.Itoa(r.Line), r.Field, r.Value, r.Why})
		}
		for _, s := range b.Data.Samples {
			have[s.Var] = true
		}
	}
	head := []string{"batch_id", "issued_at", "at"}
	column := [weather.NumVariables]int{}
	for v := range weather.NumVariables {
		if have[v] {
			column[v] = len(head)
			head = append(head, v.String())
		}
	}
	var rows [][]string
	for _, b := range list {
		var row []string
		var at time.Time
		for _, s := range b.Data.Samples {
			if row == nil || !s.At.Equal(at) {
				at, row = s.At, make([]string, len(head))
				row[0], row[1], row[2] = idString(b.Info.ID), stamp(b.Info.IssuedAt), stamp(at)
				rows = append(rows, row)
			}
			row[column[s.Var]] = number(s.Value)
		}
	}
	return refused, e.csv(e.freeName(string(kind)+"s-"+fileName(id)), head, rows)
}

// freeName gives a file name that no file of this export has, on file systems
// that take S1 and s1 for one too.
func (e *exporter) freeName(base string) string {
	name := base + ".csv"
	for n := 2; e.used[strings.ToLower(name)]; n++ {
		name = fmt.Sprintf("%s-%d.csv", base, n)
	}
	e.used[strings.ToLower(name)] = true
	return name
}

// fileName writes an ID so that it is a file name on every system: other characters as % and two hex digits for each byte.
func fileName(id string) string {
	var b strings.Builder
	for i := range len(id) {
		switch c := id[i]; {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', c == '-', c == '_':
			b.WriteByte(c)
		default:
			fmt.Fprintf(&b, "%%%02x", c)
		}
	}
	return b.String()
}

func sortedKeys(set map[string]bool) []string {
	out := make([]string, 0, len(set))
	for k := range set {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func idString(id int64) string { return strconv.FormatInt(id, 10) }

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02T15:04:05.999Z07:00")
}
