package cli

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"budward/decide/hindcast"
	"budward/physics/quantity"
)

func TestParsePlace(t *testing.T) {
	for text, want := range map[string]PlaceDeg{
		"38.5N,122.4W": {38.5, -122.4, 0}, "38.5,-122.4": {38.5, -122.4, 0}, "-33.9, 18.4": {-33.9, 18.4, 0}, "33.9S,18.4E,120m": {-33.9, 18.4, 120}, "0,0": {0, 0, 0},
	} {
		if got, err := parsePlace(text); err != nil || got != want {
			t.Errorf("%s = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "38.5", "38.5N 122.4W", "122.4W,38.5N", "91,0", "0,181", "38.5N,122.4W,60", "38.5N,122.4W,60m,1", "here,there"} {
		if _, err := parsePlace(text); !errors.As(err, new(*UsageError)) || !strings.Contains(err.Error(), "--place") {
			t.Errorf("%q: %v; want a usage error", text, err)
		}
	}
}

func TestJoined(t *testing.T) {
	for in, want := range map[string]string{
		"a --threshold -2C":     "a --threshold=-2C",
		"--place -33.9,18.4 x":  "--place=-33.9,18.4 x",
		"--json --units us -h":  "--json --units us -h",
		"t=-2C -5":              "t=-2C -5",
		"--threshold=-2C -0.5C": "--threshold=-2C -0.5C",
		"":                      "",
		"h --record a b --json": "h --record=a --record=b --json",
		"--record a - --x 1 c":  "--record=a --record=- --x 1 c",
		"--record":              "--record",
		"--record --json":       "--record --json",
	} {
		if got := strings.Join(joined(strings.Fields(in)), " "); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

// replayDesk answers every replay alike and keeps what it was asked.
type replayDesk struct {
	*desk
	asked HindcastRequest
	wrote map[string]string
}

func (d *replayDesk) Hindcast(_ context.Context, q HindcastRequest) (Hindcasted, error) {
	d.asked = q
	q.Progress(1, 2)
	r := hindcast.Report{Station: q.StationID, Season: q.Season.String(), DaysAheadWhy: "none"}
	return Hindcasted{Report: r, Notes: []string{"a note of the reading, in words that go on for longer than a line of a terminal is wide, as they do"}}, nil
}

func (d *replayDesk) WriteFiles(_ context.Context, _ string, texts map[string]string) ([]string, error) {
	d.wrote = texts
	return []string{"out/report.txt"}, nil
}

// What is written on the command line is what is asked.
func TestHindcastQuestion(t *testing.T) {
	d := &replayDesk{desk: madeDesk(t)}
	run := func(args ...string) string {
		t.Helper()
		var out bytes.Buffer
		err := Run(t.Context(), Env{Args: append([]string{"hindcast"}, args...), Stdin: strings.NewReader("text"), Stdout: &out, Stderr: io.Discard,
			Open: func(context.Context, Settings) (Office, error) { return d, nil }})
		if err != nil {
			t.Fatalf("%v: %v", args, err)
		}
		for line := range strings.Lines(out.String()) {
			if runes(strings.TrimRight(line, "\n")) > Width && !slices.Contains(args, "--json") {
				t.Errorf("%d columns: %s", runes(line), line)
			}
		}
		return out.String()
	}
	out := run("--record", "a.csv", "b.csv", "--record", "c.csv", "-", "--place", "-33.9,18.4", "--season", "09-15..11-30", "--threshold", "31F", "--threshold", "-2C",
		"--past-only", "--station", "S", "--zone", "UTC+2", "--map", "time=T, air_temp=A unit F", "--report", "out")
	q := d.asked
	var names []string
	for _, f := range q.Files {
		names = append(names, f.Name)
	}
	if slices.Sort(names); strings.Join(names, " ") != "a.csv b.csv c.csv standard input" {
		t.Errorf("files %q", names)
	}
	// 31 degF is -0.5556 degC; the arithmetic is good to many more digits.
	if len(q.ThresholdsC) != 2 || q.ThresholdsC[0] > -0.5555 || q.ThresholdsC[0] < -0.5556 || q.ThresholdsC[1] != -2 {
		t.Errorf("thresholds %v", q.ThresholdsC)
	}
	if *q.Place != (PlaceDeg{quantity.Degree(-33.9), 18.4, 0}) || q.Season != (hindcast.Season{FromMonth: 9, FromDay: 15, ToMonth: 11, ToDay: 30}) || !q.PastOnly || q.Zone != "UTC+2" || q.StationID != "S" {
		t.Errorf("%+v", q)
	}
	for _, f := range q.Files {
		if f.Name == "standard input" {
			r, err := f.Open()
			if text, _ := io.ReadAll(r); err != nil || string(text) != "text" {
				t.Errorf("standard input is %q, %v", text, err)
			}
		}
	}
	if !strings.Contains(out, "Wrote out/report.txt") || !strings.Contains(d.wrote["report.txt"], "A note of the reading") || !strings.Contains(d.wrote["report.json"], `"budward.hindcast/1"`) || d.wrote["nights.csv"] == "" {
		t.Errorf("wrote %v\n%s", d.wrote, out)
	}
	if out = run("--record", "a.csv", "--json"); !strings.HasPrefix(out, "{\n  \"schema\": \"budward.hindcast/1\"") || d.asked.Place != nil || d.asked.ThresholdsC != nil {
		t.Errorf("%.80s %+v", out, d.asked)
	}
}
