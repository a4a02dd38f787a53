package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"time"

	"budward/cli"
	"budward/cli/calc"
	"budward/decide/hindcast"
	"budward/decide/trial"
	"budward/decide/weather"
	"budward/feed"
	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/vine"
)

const badNow = "2026-04-08T22:00:00Z" // 15:00 by the farm's clock

func forecastCSV(hours int) string {
	var b strings.Builder
	b.WriteString("time,air_temp_c,dew_point_c,wind_m_s,cloud_pct\n")
	at := time.Date(2026, time.April, 8, 22, 0, 0, 0, time.UTC)
	for i := range hours {
		fmt.Fprintf(&b, "%s,%d,-3,1,0\n", at.Add(time.Duration(i)*time.Hour).Format(time.RFC3339), 5-i%8)
	}
	return b.String()
}

// Bad files are refused with where, what and what was expected, or taken with
// what could not be read left out and said: never with a made-up number.
func TestBadWeatherFiles(t *testing.T) {
	p := templateFarm(t, badNow)
	good := "time,air_temp_c,rh_pct\n2026-04-08T18:00Z,8.0,50\n2026-04-08T19:00Z,8.5,49\n2026-04-08T20:00Z,9.0,48\n"
	whole := func(code int, name, text string, wants ...string) {
		t.Helper()
		p.fails(code, "feed readings --zone farm", []string{p.write(name, text)}, append(wants, name)...)
	}
	whole(ExitData, "empty.csv", "", "empty")
	whole(ExitData, "header.csv", "time,air_temp_c\n")
	whole(ExitData, "utf16.csv", "\xff\xfet\x00i\x00m\x00e\x00", "UTF-8")
	whole(ExitData, "columns.csv", "when,how cold\n2026-04-08T18:00Z,8\n", "time")
	whole(ExitData, "nounit.csv", "time,air_temp\n2026-04-08T18:00Z,8\n", "unit")
	whole(ExitData, "commas.csv", "time;air_temp_c\n2026-04-08T18:00Z;8,5\n2026-04-08T19:00Z;8,7\n", "decimal")
	whole(ExitData, "sentinel.csv", "time,air_temp_c\n2026-04-08T18:00Z,-9999\n2026-04-08T19:00Z,NA\n", "value")
	whole(ExitData, "garbage.csv", "\x00\x01\x02\x03\x04")
	p.fails(ExitData, "feed forecast", []string{p.write("short.json", `{"properties":{"temperature":{"uom":"wmoUnit:degC","val`)}, "short.json")
	p.fails(ExitData, "feed readings", []string{p.sample("gridpoint_FGZ_74_89.json.gz")}, "feed forecast")
	p.fails(ExitData, "feed forecast", []string{p.write("noissue.csv", forecastCSV(12))}, "issue")
	p.fails(ExitData, "feed readings", []string{p.write("nozone.csv", "time,air_temp_c\n2026-04-08 18:00,8\n")}, "zone")
	p.fails(ExitData, "feed forecast --issued 2026-04-09T06:00Z", []string{p.write("tomorrow.csv", forecastCSV(12))}, "after the present moment")

	taken := func(name, text string, wants ...string) {
		t.Helper()
		out := p.ok("feed readings --zone farm", p.write(name, text))
		for _, w := range wants {
			if !strings.Contains(out, w) {
				t.Errorf("%s: %q is not said in:\n%s", name, w, out)
			}
		}
	}
	taken("bom.csv", "\ufeff"+good)
	taken("twice.csv", "time,air_temp_c\n2026-04-01T18:00Z,8.0\n2026-04-01T18:00Z,9.0\n2026-04-01T19:00Z,8.2\n", "again")
	taken("gaps.csv", "time,air_temp_c\n2026-04-02T18:00Z,8.0\n2026-04-02T19:00Z,-9999\n2026-04-02T20:00Z,NaN\n2026-04-02T21:00Z,8\n", "missing")
	taken("mixed.csv", "time,air_temp_c\n2026-04-03T18:00Z,8.0\n2026-04-03T19:00Z,46F\n2026-04-03T20:00Z,8.4\n", "46F")
	taken("clock.csv", "time,air_temp_c\n2026-03-08 01:30,8.0\n2026-03-08 02:30,8.2\n2026-03-08 03:30,8.4\n", "02:30")
	taken("ahead.csv", "time,air_temp_c\n2026-04-08T21:00Z,8.0\n2026-04-09T21:00Z,8.2\n", "Left out")
}

// A forecast that ends before a night leaves that night unanswered, with why.
func TestForecastThatEndsBeforeTheNight(t *testing.T) {
	p := templateFarm(t, badNow)
	p.ok("stage record --block B1", "EL 7")
	p.ok("stage record --block B2", "EL 7")
	p.ok("feed forecast --issued 2026-04-08T20:00Z", p.write("f.csv", forecastCSV(34)))
	out := p.ok("nights --json")
	if got := strings.Count(out, `"covered": true`); got < 2 || !strings.Contains(out, `"covered": false`) {
		t.Fatalf("34 hours of forecast cover the coming night only:\n%s", out)
	}
	text := p.ok("nights")
	if !strings.Contains(text, " - ") || !strings.Contains(strings.Join(strings.Fields(text), " "), "Fri 10 - Sat 11 Apr") {
		t.Errorf("the nights that are not covered are not named:\n%s", text)
	}
	p.fails(ExitNoAnswer, "whatif --block B1 --night 4 --run water", nil, "covers")
}

// At a high latitude there is a time without nights: it is said.
func TestNightThatNeverComes(t *testing.T) {
	p := newProgram(t, "2026-06-20T12:00:00Z")
	p.ok("farm export --template", p.path("mine"))
	text := "id,name,zone,lat,lon,elevation,currency,worst_loss,labour,hands_tonight\nnorth,North,Europe/Oslo,69.6N,19.0E,20m,EUR,,,\n"
	p.write("mine/farm.csv", text)
	p.ok("farm import", p.path("mine"))
	for _, cmd := range []string{"tonight", "nights", "whatif --block B1 --run water"} {
		p.fails(ExitNoAnswer, cmd, nil, "sun")
	}
}

// The errors of a farm's files are all listed at once, each with its line.
func TestBadFarmFiles(t *testing.T) {
	p := newProgram(t, badNow)
	p.ok("farm export --template", p.path("mine"))
	p.write("mine/blocks.csv", "id,area,cultivar,station\nB1,12,Chardonnay,gate\nB1,5ha,Merlot,nowhere\n")
	p.fails(ExitData, "farm import", []string{p.path("mine")}, "blocks.csv", "line 2", "line 3", "area", "12", "nowhere", "nothing was kept")
	p.fails(ExitData, "farm check", []string{p.path("mine")}, "line 2")
	p.fails(ExitFile, "farm show", nil, "farm import")
	p.fails(ExitFile, "farm import", []string{p.path("elsewhere")}, "elsewhere")
}

func TestBadFarmFile(t *testing.T) {
	p := newProgram(t, badNow)
	p.fails(ExitFile, "tonight", nil, "there is none", "farm import")
	p.write("farm.db", "this is no farm")
	p.fails(ExitFile, "tonight", nil, "farm.db")
}

func TestUsage(t *testing.T) {
	p := templateFarm(t, badNow)
	for _, c := range []struct{ args, want string }{
		{"tonite", "tonite"},
		{"feed readings x.csv --station nowhere", "gate"},
		{"feed readings --format punched " + p.write("a.csv", "x"), "gridpoint"},
		{"feed readings --zone Mars " + p.write("a.csv", "x"), "time zone"},
		{"feed readings --map temp " + p.write("a.csv", "x"), "--map"},
		{"stage record --block B9 woolly", "B1, B2"},
		{"stage record --block B1 --at 2026-05-01T12:00Z woolly", "yet to come"},
		{"tonight --now soon", "want a moment"},
		{"tonight --units imperial", "us or metric"},
		{"calc wetbulb t=2", "t = 2"},
	} {
		if c.args == "feed readings x.csv --station nowhere" {
			c.args = "feed readings --station nowhere " + p.write("a.csv", "x")
		}
		p.fails(ExitUsage, c.args, nil, c.want)
	}
	code, out, errs := p.run("--help")
	if code != ExitOK || errs != "" {
		t.Errorf("--help: exit %d, %s", code, errs)
	}
	for _, x := range exits {
		if !strings.Contains(strings.Join(strings.Fields(out), " "), fmt.Sprintf("%d %s", x.code, x.means)) {
			t.Errorf("--help does not explain exit code %d:\n%s", x.code, out)
		}
	}
}

// One table turns every kind of error into its code, however deep it is wrapped.
func TestExitCodes(t *testing.T) {
	for _, c := range []struct {
		err  error
		want int
	}{
		{&cli.UsageError{}, ExitUsage}, {&cli.MomentError{}, ExitUsage}, {&calc.InputError{}, ExitUsage}, {&hindcast.InputError{}, ExitUsage}, {&trial.InputError{}, ExitUsage}, {&trial.TooFewError{}, ExitNoAnswer},
		{&cli.NoAnswerError{}, ExitNoAnswer}, {&cli.ProblemsError{}, ExitData},
		{&feed.Error{}, ExitData}, {&store.AlreadyFedError{}, ExitData}, {&store.InvalidError{}, ExitData}, {&vine.StageError{}, ExitData},
		{&store.NotFoundError{}, ExitFile}, {&store.ConflictError{}, ExitFile}, {&store.BusyError{}, ExitFile}, {&store.CorruptError{}, ExitFile},
		{&store.NewerError{}, ExitFile}, {&store.DiskError{}, ExitFile}, {&fs.PathError{Err: fs.ErrPermission}, ExitFile},
		{&weather.NoNightError{Err: errors.New("never")}, ExitNoAnswer}, {&quantity.RangeError{}, ExitNoAnswer}, {&vine.GapError{}, ExitNoAnswer},
		{context.Canceled, ExitStopped}, {errors.New("something else"), ExitNoAnswer},
	} {
		for _, err := range []error{c.err, fmt.Errorf("block B1: %w", c.err), errors.Join(nil, c.err)} {
			if got := exitCode(err); got != c.want {
				t.Errorf("%T: exit code %d, want %d", c.err, got, c.want)
			}
		}
	}
	lines := errorLines(errors.Join(errors.New("one\ntwo"), fmt.Errorf("three: %w", errors.New("four"))))
	if strings.Join(lines, "|") != "one two|three: four" {
		t.Errorf("errors are written as %q", lines)
	}
}
