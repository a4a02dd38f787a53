package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"budward/app/demo"
	"budward/cli"
	"budward/decide/weather"
	"budward/store"
	"budward/store/sqlite"
	"budward/vineyard/farm"
)

// The folders and the farm file of a demo.
const (
	demoFile    = "farm.db"
	demoFarm    = "farm"
	demoWeather = "weather"
)

// demoOffice is an office on a demo farm; one without a folder of its own is
// removed on closing.
type demoOffice struct {
	*office
	remove string
}

// Close closes the farm file and removes what is not to stay.
func (d demoOffice) Close() error {
	err := d.office.Close()
	if d.remove != "" {
		err = errors.Join(err, os.RemoveAll(d.remove))
	}
	return err
}

// Demo makes the demo farm in dir, or goes on with the one that is there; with
// no folder named it is made where it will be removed again. Every file goes the
// way a grower's own would: farm import, feed, stage record.
func (o *office) Demo(ctx context.Context, dir string) (cli.Demo, error) {
	remove := ""
	if dir == "" {
		tmp, err := os.MkdirTemp("", "budward-demo-*")
		if err != nil {
			return cli.Demo{}, err
		}
		dir, remove = tmp, tmp
	}
	set := o.set
	set.FarmPath = filepath.Join(dir, demoFile)
	if set.Now == "" {
		set.Now = demo.Now
	}
	office := newOffice(set, o.clock)
	d := cli.Demo{Office: demoOffice{office, remove}, Path: set.FarmPath, Dir: dir, Now: demo.Now}
	err := office.makeDemo(ctx, dir)
	if err == nil {
		d.Farm, err = office.Farm(ctx)
	}
	if err != nil {
		return d, errors.Join(err, d.Office.Close())
	}
	return d, nil
}

// makeDemo fills a folder, unless a farm file is there already.
func (o *office) makeDemo(ctx context.Context, dir string) error {
	if _, err := os.Stat(o.set.FarmPath); err == nil {
		return o.isDemo(ctx)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return &store.ConflictError{What: "folder", ID: dir, Why: "it is not empty and holds no demo farm; name another with --dir"}
	}
	done := o.set.Progress("making the demo farm")
	defer done()
	texts := demo.Farm()
	if _, err := writeFiles(filepath.Join(dir, demoFarm), texts); err != nil {
		return err
	}
	f, err := demoFarmOf(texts)
	if err != nil {
		return err
	}
	zone, err := zoneOf(f)
	if err != nil {
		return err
	}
	st, err := sqlite.Create(ctx, o.set.FarmPath)
	if err != nil {
		return err
	}
	o.st = st
	now, err := cli.ParseMoment(demo.Now, zone)
	if err != nil {
		return err
	}
	if _, err := st.SaveFarm(ctx, f, 0, store.Change{At: now.AddDate(0, 0, -30), Who: "Mara", Why: "first description"}); err != nil {
		return err
	}
	for _, l := range demo.Looks() {
		at, err := cli.ParseMoment(l.At, zone)
		if err != nil {
			return err
		}
		rec, err := cli.StageRecord(l.Block, l.Seen, at, l.Who)
		if err != nil {
			return err
		}
		if _, err := st.AddStage(ctx, rec); err != nil {
			return err
		}
	}
	return o.feedDemo(ctx, filepath.Join(dir, demoWeather))
}

func demoFarmOf(texts map[string]string) (farm.Farm, error) {
	files := map[string][]byte{}
	for name, text := range texts {
		files[name] = []byte(text)
	}
	f, problems := farm.ImportCSV(files, known())
	if farm.HasErrors(problems) {
		return f, fmt.Errorf("the demo's own files: %s", problems[0])
	}
	return f, nil
}

// isDemo refuses to take a farm of somebody's own for the demo.
func (o *office) isDemo(ctx context.Context) error {
	f, err := o.Farm(ctx)
	if err != nil {
		return err
	}
	own, err := demoFarmOf(demo.Farm())
	if err != nil {
		return err
	}
	if f.ID != own.ID {
		return &store.ConflictError{What: "farm file", ID: o.set.FarmPath, Why: "it is not the demo's; name another folder with --dir"}
	}
	return nil
}

// feedDemo writes the weather files into dir and feeds them, each at the moment
// it came.
func (o *office) feedDemo(ctx context.Context, dir string) error {
	texts := map[string]string{}
	list := demo.Weather()
	for _, x := range list {
		texts[x.Name] = x.Text
	}
	if _, err := writeFiles(dir, texts); err != nil {
		return err
	}
	for _, x := range list {
		set := o.set
		set.Now = x.FedAt.Format(time.RFC3339)
		then := &office{set: set, clock: o.clock, st: o.st}
		r := cli.FeedRequest{Kind: x.Kind, Name: x.Name, Data: strings.NewReader(x.Text), StationID: x.Station}
		if x.Kind == weather.Forecast {
			r.Issued = x.IssuedAt.Format(time.RFC3339)
		}
		if _, err := then.Feed(ctx, r); err != nil {
			return err
		}
	}
	return nil
}
