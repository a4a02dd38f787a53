package cli

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"budward/decide/nights"
	"budward/physics/quantity"
)

// Everything printed fits 80 columns and reads without colour.
func TestPagesFitAndReadWithoutColour(t *testing.T) {
	d := madeDesk(t)
	for _, label := range []string{"as it is", "bare firm, moist, refill 24h from now, run water"} {
		c := nights.Compared{Label: label, Night: d.answer.Blocks[0].Nights[0], Choice: d.answer.Blocks[0].Choices[1]}
		c.Night.Min = &nights.Quantiles{P10C: -23.4, P50C: -18.8, P90C: -10.1}
		d.compared = append(d.compared, c)
	}
	for _, args := range [][]string{{"whatif", "--block", "B1", "--run", "fan"}, {"whatif", "--block", "B1", "--run", "fan", "--units", "metric"},
		{"tonight"}, {"tonight", "--notes"}, {"tonight", "--block", "B1"}, {"tonight", "--block", "B5"}, {"tonight", "--units", "metric"},
		{"nights"}, {"nights", "--ahead", "8"}, {"nights", "--units", "metric"}, {"--help"}, {"tonight", "--help"}, {"whatif", "--help"}, {"hindcast", "--help"}, {"trial", "plan"}, {"trial", "plan", "--help"}, {"trial", "estimate", "--help"}, {"farm", "show"}, {"farm", "show", "--block", "B1"},
		{"calc"}, {"calc", "wettedshare", "flow=1gph", "hours=24h", "spacing=5ftx9ft", "texture=loam", "deficit=16%"}} {
		out, err := d.run(t, false, nil, args...)
		if err != nil {
			t.Errorf("%v: %v", args, err)
		}
		if len(out) < 100 {
			t.Errorf("%v printed only %q", args, out)
		}
		for _, line := range strings.Split(out, "\n") {
			if runes(line) > Width {
				t.Errorf("%v: %d columns: %s", args, runes(line), line)
			}
		}
		if strings.Contains(out, "\x1b") {
			t.Errorf("%v prints colours where none were asked for", args)
		}
	}
}

// Severity is a word and a shape; colour comes on top of the same text.
func TestSeverityIsWordAndShape(t *testing.T) {
	d := madeDesk(t)
	plain, _ := d.run(t, false, nil, "tonight")
	for _, u := range []nights.Urgency{nights.Act, nights.Watch, nights.Prepare, nights.Quiet, nights.Unknown} {
		s := severities[u]
		if s.shape == "" || s.word == "" || !strings.Contains(plain, s.shape+" "+s.word) {
			t.Errorf("%s: the page does not show %q %q", u, s.shape, s.word)
		}
		for v, o := range severities {
			if v != u && (o.shape == s.shape || o.word == s.word) {
				t.Errorf("%s and %s look alike", u, v)
			}
		}
	}
	coloured, _ := d.run(t, true, nil, "tonight")
	if !strings.Contains(coloured, "\x1b[") || uncolour(coloured) != plain {
		t.Error("with colour the words are not the same")
	}
	if none, _ := d.run(t, true, map[string]string{"NO_COLOR": "1"}, "tonight"); none != plain {
		t.Error("NO_COLOR is not respected")
	}
}

func uncolour(s string) string {
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(s, "\x1b[")
		b.WriteString(before)
		if !found {
			return b.String()
		}
		_, s, _ = strings.Cut(rest, "m")
	}
}

func TestTonightSaysWhatBringsWhen(t *testing.T) {
	out, err := madeDesk(t).run(t, false, nil, "tonight")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Tonight, Wed 8 - Thu 9 Apr", // both dates
		"ACT ON 1 OF 5 BLOCKS", "as of Wed 8 Apr 2026 15:00",
		"30.2", "26.6 to 33.8", // -1 degC and its range in Fahrenheit
		"-1.8",                        // a margin of -1 K: no 32-degree offset
		"1.8 °F below",                // the same in words
		"+1.8 °F (0.5 to 2.9)",        // a gain
		"Thu 00:00", "32.9 °F upwind", // when, and at which air
		"Keep people clear of the blades.", "Stop after sunrise.",
		"Do not start: the rate does not hold.",
		"No stage on record.", "Nothing is open to it", "error learned from 12 nights", "1 value taken for want of better",
	} {
		if !strings.Contains(strings.Join(strings.Fields(out), " "), want) {
			t.Errorf("tonight does not say %q:\n%s", want, out)
		}
	}
	if first := strings.Index(out, "ACT ON"); first < 0 || first > strings.Index(out, "B1 Block") {
		t.Error("the answer does not come before the blocks")
	}
}

func TestNightsShowsEveryNightWithBothDates(t *testing.T) {
	d := madeDesk(t)
	out, err := d.run(t, false, nil, "nights", "--ahead", "8")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Wed 8", "Thu 9", "Wed 15", "Thu 16", "30.2▲", "30.2?", "The forecast ends before it.", "No stage on record."} {
		if !strings.Contains(out, want) {
			t.Errorf("nights does not show %q:\n%s", want, out)
		}
	}
	if _, err := d.run(t, false, nil, "nights", "--ahead", "15"); !errors.As(err, new(*UsageError)) {
		t.Errorf("fifteen nights: %v, want a usage error", err)
	}
}

func TestUnitsOfThePeople(t *testing.T) {
	d := madeDesk(t)
	for _, c := range []struct {
		people []string
		env    string
		args   []string
		want   quantity.System
	}{
		{nil, "", nil, quantity.US},
		{[]string{"metric", "", "metric"}, "", nil, quantity.Metric},
		{[]string{"metric", "us"}, "", nil, quantity.US}, // they do not agree
		{[]string{"us"}, "metric", nil, quantity.Metric},
		{[]string{"metric"}, "metric", []string{"--units", "us"}, quantity.US},
	} {
		d.farm.People = nil
		for _, u := range c.people {
			d.farm.People = append(d.farm.People, personWith(u))
		}
		out, err := d.run(t, false, map[string]string{"BUDWARD_UNITS": c.env}, append([]string{"tonight"}, c.args...)...)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(out, "-1.0 °C"); got != (c.want == quantity.Metric) {
			t.Errorf("%v, environment %q, %v: metric is %v, want %v", c.people, c.env, c.args, got, c.want)
		}
	}
	if _, err := d.run(t, false, nil, "tonight", "--units", "imperial"); !errors.As(err, new(*UsageError)) {
		t.Errorf("--units imperial: %v, want a usage error", err)
	}
}

// JSON is in SI whatever the units, has its schema first, and null where nothing
// is known.
func TestJSONOfTheAnswer(t *testing.T) {
	d := madeDesk(t)
	d.answer.Blocks[4].Nights[0].OffsetK = quantity.Kelvin(nan())
	d.answer.Stations[0].ReadingsTo = d.now.Add(0)
	for _, args := range [][]string{{"tonight", "--json"}, {"tonight", "--json", "--units", "us"}} {
		out, err := d.run(t, false, nil, args...)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(out, "{\n  \"schema\": \"budward.tonight/1\"") {
			t.Errorf("%v begins with %.60q", args, out)
		}
		var got struct {
			At     string
			Blocks []struct {
				ID      string `json:"block_id"`
				Urgency string
				Nights  []struct {
					Min *struct {
						P50C float64 `json:"p50_c"`
					}
					OffsetK  *float64 `json:"offset_k"`
					MarginK  *float64 `json:"margin_k"`
					MinAt    *string  `json:"min_at"`
					Critical *float64 `json:"critical_t10_c"`
				}
				Choices []struct {
					StartAt *string `json:"start_at"`
				}
			}
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(err)
		}
		if len(got.Blocks) != 5 || got.Blocks[0].Nights[0].Min.P50C != -1 || *got.Blocks[0].Nights[0].MarginK != -1 || got.At != "2026-04-08T15:00:00-07:00" {
			t.Errorf("%v: %+v", args, got)
		}
		if u := got.Blocks[4]; u.Nights[0].OffsetK != nil || u.Nights[0].MarginK != nil || u.Nights[0].Critical != nil {
			t.Errorf("what is not known is not null: %+v", u.Nights[0])
		}
		if got.Blocks[0].Choices[0].StartAt != nil {
			t.Errorf("a moment that is not known is %s, want null", *got.Blocks[0].Choices[0].StartAt)
		}
	}
	for _, c := range []struct{ args, schema string }{
		{"nights", "budward.nights/1"}, {"tonight --block B1", "budward.tonight-block/1"}, {"farm show", "budward.farm/1"}, {"farm show --block B2", "budward.block/1"},
		{"calc risk p=20% years=5", "budward.calc/1"}, {"calc", "budward.formulas/1"}, {"stage show", "budward.stages/1"}, {"whatif --block B1 --run water", "budward.whatif/1"},
	} {
		out, err := d.run(t, false, nil, append(strings.Fields(c.args), "--json")...)
		var got struct{ Schema string }
		if err != nil || json.Unmarshal([]byte(out), &got) != nil || got.Schema != c.schema {
			t.Errorf("%s --json: schema %q, %v; want %q", c.args, got.Schema, err, c.schema)
		}
	}
}

// A farm of which nothing can be said exits with no answer, after saying why.
func TestNoBlockAnswered(t *testing.T) {
	d := madeDesk(t)
	d.answer.Blocks = d.answer.Blocks[4:]
	out, err := d.run(t, false, nil, "tonight")
	if !errors.As(err, new(*NoAnswerError)) || !strings.Contains(out, "NO ANSWER FOR 1 OF 1 BLOCK") || !strings.Contains(out, "No stage on record.") {
		t.Errorf("%v\n%s", err, out)
	}
}
