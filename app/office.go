package app

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"budward/cli"
	"budward/store"
	"budward/store/sqlite"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// office answers the command line from one farm file, opened on first use.
type office struct {
	set   cli.Settings
	clock func() time.Time
	st    store.Store
}

func newOffice(s cli.Settings, clock func() time.Time) *office {
	if s.Progress == nil {
		s.Progress = func(string) func() { return func() {} }
	}
	return &office{set: s, clock: clock}
}

// Close closes the farm file.
func (o *office) Close() error {
	if o.st == nil {
		return nil
	}
	return o.st.Close()
}

func (o *office) open(ctx context.Context) (store.Store, error) {
	if o.st != nil {
		return o.st, nil
	}
	s, err := sqlite.Open(ctx, o.set.FarmPath)
	if err != nil {
		var none *store.NotFoundError
		if errors.As(err, &none) {
			return nil, &noFarmError{o.set.FarmPath, err}
		}
		return nil, err
	}
	o.st = s
	return s, nil
}

// noFarmError says that the farm file is not there, and how to make one.
type noFarmError struct {
	path string
	err  error
}

func (e *noFarmError) Error() string {
	return "farm file " + e.path + ": there is none; make one with `budward farm import DIR`, or name another with --farm FILE"
}

func (e *noFarmError) Unwrap() error { return e.err }

// now is the present moment: the clock's or the one asked for.
func (o *office) now(zone *time.Location) (time.Time, error) {
	if o.set.Now == "" {
		return o.clock().In(zone), nil
	}
	t, err := cli.ParseMoment(o.set.Now, zone)
	return t.In(zone), err
}

// Moment is the present one and the farm's zone.
func (o *office) Moment(ctx context.Context) (time.Time, *time.Location, error) {
	f, err := o.Farm(ctx)
	if err != nil {
		return time.Time{}, nil, err
	}
	zone, err := zoneOf(f)
	if err != nil {
		return time.Time{}, nil, err
	}
	t, err := o.now(zone)
	return t, zone, err
}

// zoneOf is the zone of a farm that has been checked; a zone that has become
// unknown since is an error.
func zoneOf(f farm.Farm) (*time.Location, error) {
	if err := knowZone(f.Zone); err != nil {
		return nil, err
	}
	return time.LoadLocation(f.Zone)
}

func knowZone(name string) error {
	if z, err := time.LoadLocation(name); err != nil || name == "" || z == time.Local {
		return &farm.FieldError{Field: "zone", Value: name, Want: "an IANA time zone such as America/Los_Angeles"}
	}
	return nil
}

// known is what the check of a farm cannot know by itself.
func known() farm.Known {
	return farm.Known{Zone: knowZone, Table: func(name string, sp farm.Species) error {
		_, _, err := vine.TableFor(name, sp, nil)
		return err
	}}
}

// Farm is the farm as kept.
func (o *office) Farm(ctx context.Context) (farm.Farm, error) {
	st, err := o.open(ctx)
	if err != nil {
		return farm.Farm{}, err
	}
	f, _, err := st.Farm(ctx)
	return f, err
}

// ReadFarm reads a folder of CSV files, or one that `farm export` wrote.
func (o *office) ReadFarm(_ context.Context, dir string) (farm.Farm, []farm.Problem, error) {
	if _, err := os.Stat(filepath.Join(dir, farm.FarmFile)); errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(filepath.Join(dir, "farm", farm.FarmFile)); err == nil {
			dir = filepath.Join(dir, "farm")
		}
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return farm.Farm{}, nil, err
	}
	files := map[string][]byte{}
	for _, e := range entries {
		if e.IsDir() || !strings.EqualFold(filepath.Ext(e.Name()), ".csv") {
			continue
		}
		data, err := readBounded(filepath.Join(dir, e.Name()), farm.MaxFileBytes+1)
		if err != nil {
			return farm.Farm{}, nil, err
		}
		files[e.Name()] = data
	}
	f, problems := farm.ImportCSV(files, known())
	return f, problems, nil
}

// readBounded reads at most limit bytes of a file.
func readBounded(path string, limit int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, limit))
}

// CheckFarm looks over the farm as kept.
func (o *office) CheckFarm(ctx context.Context) (farm.Farm, []farm.Problem, error) {
	f, err := o.Farm(ctx)
	if err != nil {
		return f, nil, err
	}
	return f, farm.Check(f, known()), nil
}

// ImportFarm keeps the farm of a folder, unless it has errors.
func (o *office) ImportFarm(ctx context.Context, dir string, c store.Change) (cli.Imported, error) {
	f, problems, err := o.ReadFarm(ctx, dir)
	got := cli.Imported{Farm: f, Problems: problems, Path: o.set.FarmPath}
	if err != nil || farm.HasErrors(problems) {
		return got, err
	}
	zone, err := zoneOf(f)
	if err != nil {
		return got, err
	}
	if c.At.IsZero() {
		if c.At, err = o.now(zone); err != nil {
			return got, err
		}
	}
	if _, err := os.Stat(o.set.FarmPath); errors.Is(err, fs.ErrNotExist) {
		got.New = true
	}
	if o.st == nil {
		st, err := sqlite.OpenOrCreate(ctx, o.set.FarmPath)
		if err != nil {
			return got, err
		}
		o.st = st
	}
	_, rev, err := o.st.Farm(ctx)
	var none *store.NotFoundError
	if err != nil && !errors.As(err, &none) {
		return got, err
	}
	if _, err := o.st.SaveFarm(ctx, f, rev, c); err != nil {
		return got, err
	}
	got.Kept = true
	return got, nil
}

// ExportFarm writes everything as open files.
func (o *office) ExportFarm(ctx context.Context, dir string) (store.Manifest, error) {
	st, err := o.open(ctx)
	if err != nil {
		return store.Manifest{}, err
	}
	at, _, err := o.Moment(ctx)
	if err != nil {
		return store.Manifest{}, err
	}
	return store.Export(ctx, st, dir, at)
}

// Template writes the CSV files of a small invented farm into a new folder.
func (o *office) Template(_ context.Context, dir string) ([]string, error) {
	return writeFiles(dir, farm.Template())
}

// writeFiles writes texts into a folder that is new or empty.
func writeFiles(dir string, texts map[string]string) ([]string, error) {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return nil, &store.ConflictError{What: "folder", ID: dir, Why: "it is not empty"}
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	var names []string
	for name := range texts {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(texts[name]), 0o644); err != nil {
			return nil, err
		}
	}
	return names, nil
}

// RecordStage keeps a look at a block.
func (o *office) RecordStage(ctx context.Context, r store.StageRecord) (store.StageRecord, error) {
	st, err := o.open(ctx)
	if err != nil {
		return r, err
	}
	if at, _, err := o.Moment(ctx); err != nil {
		return r, err
	} else if r.At.After(at) {
		return r, &cli.UsageError{Text: "the stage was seen at " + r.At.Format(time.RFC3339) + ", which is yet to come"}
	}
	return st.AddStage(ctx, r)
}

// Stages lists stage records.
func (o *office) Stages(ctx context.Context, q store.StageQuery) ([]store.StageRecord, error) {
	st, err := o.open(ctx)
	if err != nil {
		return nil, err
	}
	return st.Stages(ctx, q)
}

// WithdrawStage makes a record stop counting.
func (o *office) WithdrawStage(ctx context.Context, id int64, why string) error {
	st, w, err := o.withdrawal(ctx, why)
	if err != nil {
		return err
	}
	return st.WithdrawStage(ctx, id, w)
}

// WithdrawBatch makes a batch stop counting.
func (o *office) WithdrawBatch(ctx context.Context, id int64, why string) error {
	st, w, err := o.withdrawal(ctx, why)
	if err != nil {
		return err
	}
	return st.WithdrawBatch(ctx, id, w)
}

func (o *office) withdrawal(ctx context.Context, why string) (store.Store, store.Withdrawal, error) {
	st, err := o.open(ctx)
	if err != nil {
		return nil, store.Withdrawal{}, err
	}
	at, _, err := o.Moment(ctx)
	return st, store.Withdrawal{At: at, Why: why}, err
}

// station finds a station by ID in any capitals; "" is the only one there is.
func station(f farm.Farm, id string) (farm.Station, error) {
	var ids []string
	for _, s := range f.Stations {
		if strings.EqualFold(s.ID, id) || id == "" && len(f.Stations) == 1 {
			return s, nil
		}
		ids = append(ids, s.ID)
	}
	if id == "" {
		return farm.Station{}, &cli.UsageError{Text: "--station is missing; the farm has " + strings.Join(ids, ", ")}
	}
	return farm.Station{}, &cli.UsageError{Text: "there is no station \"" + id + "\"; the farm has " + strings.Join(ids, ", ")}
}
