// Package demo is an invented farm in an invented valley, on an afternoon in
// April with frost ahead: its description, what was seen of its vines, and the
// weather of two stations, all as the files a grower would have.
package demo

import (
	"bytes"
	"embed"
	"encoding/csv"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
)

//go:embed farm/*.csv stages.csv
var files embed.FS

// Now is the demo's present moment, by the farm's clock.
const Now = "2026-04-08 15:00"

// zoneName is the farm's zone, as in farm.csv.
const zoneName = "America/Los_Angeles"

// seed is that of the invented weather's noise.
const seed = 20260408

// Farm returns the CSV files of the farm by name.
func Farm() map[string]string {
	out := map[string]string{}
	names, err := fs.Glob(files, "farm/*.csv")
	if err != nil {
		panic("demo: " + err.Error()) // the pattern is fixed
	}
	for _, name := range names {
		out[name[len("farm/"):]] = read(name)
	}
	return out
}

func read(name string) string {
	b, err := files.ReadFile(name)
	if err != nil {
		panic("demo: " + err.Error()) // embedded above
	}
	return string(b)
}

// Look is one look at a block's vines.
type Look struct {
	Block, At, Who, Seen string
}

// Looks returns what was seen of the vines. One block was not looked at.
func Looks() []Look {
	rows, err := csv.NewReader(bytes.NewReader([]byte(read("stages.csv")))).ReadAll()
	if err != nil {
		panic("demo: " + err.Error()) // embedded above
	}
	var out []Look
	for _, r := range rows[1:] {
		out = append(out, Look{r[0], r[1], r[2], r[3]})
	}
	return out
}

// File is one file of weather.
type File struct {
	Name     string
	Station  string
	Kind     weather.Kind
	IssuedAt time.Time // forecasts
	FedAt    time.Time
	Text     string
}

const (
	pastDays      = 15
	pastAheadH    = 66  // of the forecasts of days gone by
	newestAheadH  = 184 // of the newest
	morningIssueH = 5   // o'clock
)

// Weather returns the weather of both stations, in the order it was fed: the
// readings of two weeks, a forecast from each morning, and the newest.
func Weather() []File {
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		panic("demo: " + err.Error()) // a zone of the tz database
	}
	now, err := time.ParseInLocation("2006-01-02 15:04", Now, zone)
	if err != nil {
		panic("demo: " + err.Error()) // a constant above
	}
	var out []File
	for k, s := range sites {
		v := invented{s: s, zone: zone}
		r := rand.New(rand.NewPCG(seed, uint64(k)))
		for i := pastDays; i >= 1; i-- {
			d := now.AddDate(0, 0, -i)
			issue := time.Date(d.Year(), d.Month(), d.Day(), morningIssueH, 0, 0, 0, zone)
			out = append(out, v.file(issue, pastAheadH, 1, issue.Add(time.Hour), r))
		}
		first := time.Date(now.Year(), now.Month(), now.Day()-pastDays+1, 0, 0, 0, 0, zone)
		out = append(out, File{Name: "readings-" + s.id + ".csv", Station: s.id, Kind: weather.Reading, FedAt: now, Text: v.readings(first, now, r)})
		newest := now.Add(-3 * time.Hour)
		out = append(out, v.file(newest, newestAheadH, 0, now, r))
	}
	return out
}

func (v *invented) file(issue time.Time, hours int, spread float64, fed time.Time, r *rand.Rand) File {
	return File{Name: fmt.Sprintf("forecast-%s-%s.csv", v.s.id, issue.In(v.zone).Format("2006-01-02-1504")), Station: v.s.id, Kind: weather.Forecast,
		IssuedAt: issue, FedAt: fed, Text: v.forecast(issue, hours, spread, r)}
}

func deg(x float64) quantity.Degree { return quantity.Degree(x) }
