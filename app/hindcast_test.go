package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// record is one packed spring of readings, beside the package that replays it.
func record(year int) string {
	return filepath.Join("..", "decide", "hindcast", "testdata", fmt.Sprintf("hourly02_spring_%d.txt.gz", year))
}

const hindcastNow = "2020-01-01T00:00:00Z" // after all records

// hours is a CSV of hourly readings over days, from 1 April 2019 0:00 UTC.
func hours(days int, value func(i int) string) string {
	var b strings.Builder
	b.WriteString("time,air_temp_c\n")
	at := time.Date(2019, time.April, 1, 0, 0, 0, 0, time.UTC)
	for i := range 24 * days {
		fmt.Fprintf(&b, "%s,%s\n", at.Add(time.Duration(i)*time.Hour).Format(time.RFC3339), value(i))
	}
	return b.String()
}

// wave is a regular day, warmest at 15:00, with a little disorder.
func wave(i int) string {
	return fmt.Sprintf("%.1f", 6+7*math.Sin(2*math.Pi*float64(i-9)/24)+float64(i*7%5)/3)
}

// A spring of real readings is replayed and scored; the report holds the same
// numbers as the page, in files that open.
func TestHindcastOfASpring(t *testing.T) {
	p := newProgram(t, hindcastNow)
	dir := p.path("out")
	text := p.ok("hindcast --units metric --threshold -1C --threshold 0C --report "+dir+" --record", record(2013))
	for _, want := range []string{"42.440, -76.250 (as the record states)", "2013", "handbook regression", "last night again", "At or below -1.0 °C", "Wrote "} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q:\n%s", want, text)
		}
	}
	noLongLines(t, strings.ReplaceAll(text, dir, "out"))
	for _, name := range []string{"report.txt", "report.json", "nights.csv", "rmse.svg", "reliability.svg"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Size() < 500 {
			t.Errorf("report file %s: %v", name, err)
		}
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*.part")); len(left) > 0 {
		t.Errorf("half-written files are left: %v", left)
	}
	var got, kept struct {
		Schema string
		Leads  []struct {
			Name string `json:"lead_name"`
			All  []struct {
				Method string
				N      int
				RMSEK  *float64 `json:"rmse_k"`
			} `json:"all_nights"`
			Thresholds []struct {
				C float64 `json:"threshold_c"`
			}
		}
		Files []string
	}
	data, err := os.ReadFile(filepath.Join(dir, "report.json"))
	if err != nil || json.Unmarshal(data, &kept) != nil {
		t.Fatal(err)
	}
	// Written again over the first: a report may be repeated.
	if err := json.Unmarshal([]byte(p.ok("hindcast --json --threshold -1C,0C --report "+dir+" --record", record(2013))), &got); err != nil {
		t.Fatal(err)
	}
	if got.Schema != "budward.hindcast/1" || len(got.Leads) != 4 || len(got.Leads[0].Thresholds) != 2 || got.Leads[0].Thresholds[0].C != -1 {
		t.Fatalf("schema %q, %d leads", got.Schema, len(got.Leads))
	}
	if got.Files[0] != "hourly02_spring_2013.txt.gz" {
		t.Errorf("files %q", got.Files)
	}
	for k, l := range got.Leads {
		if l.All[0].Method != "model" || l.All[0].RMSEK == nil || *l.All[0].RMSEK != *kept.Leads[k].All[0].RMSEK {
			t.Errorf("%s: %+v; the report has %+v", l.Name, l.All[0], kept.Leads[k].All[0])
		}
	}
	// Errors shrink through the night: the minimum two hours before sunrise is
	// nearly there.
	if first, last := *got.Leads[0].All[0].RMSEK, *got.Leads[3].All[0].RMSEK; !(last < first) {
		t.Errorf("RMSE %.2f in the evening, %.2f before sunrise", first, last)
	}
}

// Readings as CSV, without humidity, wind or soil, and with a hole.
func TestHindcastOfCSV(t *testing.T) {
	p := newProgram(t, hindcastNow)
	file := p.write("mine.csv", hours(30, func(i int) string {
		if i > 200 && i < 230 {
			return ""
		}
		return wave(i)
	}))
	out := p.ok("hindcast --json --past-only --zone UTC --season 04-01..04-30 --place 51.5N,0.1W,20m", file)
	var got struct {
		Training string
		Zone     string
		Left     []struct {
			Why    string
			Nights int
		} `json:"nights_left_out"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if got.Training != "past-only" || got.Zone != "UTC" || len(got.Left) == 0 || got.Left[0].Nights < 2 {
		t.Errorf("%+v; want past nights only, UTC, the nights of the hole left out", got)
	}
}

func TestHindcastRefuses(t *testing.T) {
	p := newProgram(t, hindcastNow)
	csv := p.write("mine.csv", hours(30, wave))
	short := p.write("short.csv", hours(1, wave)[:200])
	far := p.write("far.txt", strings.Replace(farLine, "XX", "44.44", 1))
	for _, c := range []struct {
		code int
		args string
		more []string
		want string
	}{
		{ExitUsage, "hindcast", nil, "--record"},
		{ExitUsage, "hindcast --record " + csv, nil, "--place"},
		{ExitUsage, "hindcast --place 51.5 --record " + csv, nil, "latitude and longitude"},
		{ExitUsage, "hindcast --place 151N,3E --record " + csv, nil, "151"},
		{ExitUsage, "hindcast --place 51N,3E,20 --record " + csv, nil, "unit"},
		{ExitUsage, "hindcast --season spring --record " + csv, nil, "03-15..05-31"},
		{ExitUsage, "hindcast --threshold 31 --record " + csv, nil, "31"},
		{ExitUsage, "hindcast --threshold 0.5mm --record " + csv, nil, "mm"},
		{ExitUsage, "hindcast --threshold 900F --record", []string{record(2013)}, "a temperature in degC"},
		{ExitUsage, "hindcast --zone Mars --record " + csv, nil, "time zone"},
		{ExitUsage, "hindcast --zone farm --record " + csv, nil, "--station"},
		{ExitUsage, "hindcast --format gridpoint --record " + csv, nil, "hourly02"},
		{ExitUsage, "hindcast --map temp --record " + csv, nil, "--map"},
		{ExitFile, "hindcast --record", []string{p.path("nowhere.csv")}, "nowhere.csv"},
		{ExitFile, "hindcast --station gate", nil, "there is none"},
		{ExitFile, "hindcast --report " + csv + " --record " + csv, nil, "mine.csv"},
		{ExitData, "hindcast --record", []string{p.write("empty.csv", "")}, "empty"},
		{ExitData, "hindcast --record", []string{p.write("garbage.txt", "hello there")}, "begins with"},
		{ExitData, "hindcast --record", []string{p.sample("gridpoint_FGZ_74_89.json.gz")}, "want readings"},
		{ExitData, "hindcast --record", []string{record(2013), far}, "one station"},
		{ExitNoAnswer, "hindcast --place 51N,3E --record " + short, nil, "whole night"},
		{ExitNoAnswer, "hindcast --place 51N,3E --season 10-01..10-31 --record " + csv, nil, "no night can be scored"},
		{ExitData, "hindcast --place 51N,3E --now 2018-01-01T00:00Z --record " + csv, nil, "up to 1 Jan 2018"},
	} {
		p.fails(c.code, c.args, c.more, c.want)
	}
}

// farLine is a line of another place than the springs'.
const farLine = "64758 20120101 0100 20111231 2000  2.402  -76.25   XX     5.6     5.4     5.6     5.0     0.0    120 0      0 0      0 0 R     4.4 0     4.6 0     4.2 0    83 0   0.366   0.387   0.388   0.391   0.373     2.7     2.6     2.5     2.6     4.0\n"

// With a station of the farm its own readings are replayed, from its own place:
// a record of elsewhere is found out by its place, and where the file states none
// by the sun.
func TestHindcastOfAStation(t *testing.T) {
	p := templateFarm(t, hindcastNow)
	p.fails(ExitNoAnswer, "hindcast --station gate", nil, "no readings were fed")
	p.fails(ExitUsage, "hindcast --station nowhere", nil, "gate")
	p.fails(ExitData, "hindcast --station gate --record", []string{record(2013)}, "place", "gate")
	p.ok("feed readings", record(2013))
	p.fails(ExitNoAnswer, "hindcast --station gate", nil, "clock shifted")
	out := p.ok("hindcast --station gate --place 42.44N,76.25W --zone UTC-5 --json")
	if !strings.Contains(out, `"station": "gate"`) || !strings.Contains(out, "No past forecasts are stored") {
		t.Errorf("the replay of what was fed: %.600s", out)
	}
}

// A name for a station of no farm is a name.
func TestHindcastStationWithoutAFarm(t *testing.T) {
	p := newProgram(t, hindcastNow)
	out := p.ok("hindcast --station hilltop --season 04-10..04-20 --record", record(2013))
	if !strings.Contains(out, "Station      hilltop") || !strings.Contains(strings.Join(strings.Fields(out), " "), "taken as a name") {
		t.Errorf("the page: %s", out)
	}
	if entries, err := os.ReadDir(p.dir); err != nil || slices.ContainsFunc(entries, func(e os.DirEntry) bool { return e.Name() == "farm.db" }) {
		t.Errorf("a farm was made: %v %v", entries, err)
	}
}

// An interrupt ends the replay without an answer.
func TestHindcastInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var errs bytes.Buffer
	o := Options{Args: []string{"hindcast", "--record", record(2013)}, Stdin: strings.NewReader(""), Stdout: io.Discard, Stderr: &errs,
		Now: func() time.Time { cancel(); return time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC) }}
	if code := Run(ctx, o); code != ExitStopped {
		t.Errorf("exit %d, %s; want %d", code, errs.String(), ExitStopped)
	}
}
