package app

import (
	"bytes"
	"compress/gzip"
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

// program is the real program in a folder of its own, with a fixed clock.
type program struct {
	t   *testing.T
	dir string
	now string
	env map[string]string
}

func newProgram(t *testing.T, now string) *program {
	t.Helper()
	return &program{t: t, dir: t.TempDir(), now: now, env: map[string]string{}}
}

func (p *program) path(name string) string { return filepath.Join(p.dir, name) }

// run runs a command; words of args are split at spaces, those after it are
// taken whole.
func (p *program) run(args string, more ...string) (code int, stdout, stderr string) {
	p.t.Helper()
	line := append(strings.Fields(args), more...)
	if !slices.Contains(line, "--farm") {
		line = append(line, "--farm", p.path("farm.db"))
	}
	return p.exec("", line)
}

// exec runs a command line as it stands.
func (p *program) exec(stdin string, args []string) (code int, stdout, stderr string) {
	p.t.Helper()
	now, err := time.Parse(time.RFC3339, p.now)
	if err != nil {
		p.t.Fatal(err)
	}
	var out, errs bytes.Buffer
	code = Run(p.t.Context(), Options{Args: args, Stdin: strings.NewReader(stdin), Stdout: &out, Stderr: &errs,
		Getenv: func(k string) string { return p.env[k] }, Now: func() time.Time { return now }, Members: 40})
	return code, out.String(), errs.String()
}

// ok runs a command that must succeed.
func (p *program) ok(args string, more ...string) string {
	p.t.Helper()
	code, out, errs := p.run(args, more...)
	if code != ExitOK || errs != "" {
		p.t.Fatalf("budward %s %q: exit %d\n%s%s", args, more, code, out, errs)
	}
	return out
}

// fails runs a command that must fail with a code and one line that says each of
// the wants.
func (p *program) fails(code int, args string, more []string, wants ...string) {
	p.t.Helper()
	got, out, errs := p.run(args, more...)
	if got != code {
		p.t.Errorf("budward %s %q: exit %d, want %d\n%s%s", args, more, got, code, out, errs)
	}
	if lines := strings.Count(errs, "\n"); lines != 1 || !strings.HasPrefix(errs, "budward: ") {
		p.t.Errorf("budward %s %q: stderr has %d lines, want one: %s", args, more, lines, errs)
	}
	said := strings.Join(strings.Fields(errs+out), " ")
	for _, want := range wants {
		if !strings.Contains(said, want) {
			p.t.Errorf("budward %s %q: %q is not said in: %s%s", args, more, want, errs, out)
		}
	}
}

func (p *program) write(name, text string) string {
	p.t.Helper()
	path := p.path(name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		p.t.Fatal(err)
	}
	return path
}

// sample unpacks one of the weather samples that the decoders are tested with;
// their provenance stands beside them.
func (p *program) sample(name string) string {
	p.t.Helper()
	f, err := os.Open(filepath.Join("..", "feed", "testdata", name))
	if err != nil {
		p.t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		p.t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		p.t.Fatal(err)
	}
	return p.write(strings.TrimSuffix(name, ".gz"), string(text))
}

// templateFarm imports the template.
func templateFarm(t *testing.T, now string) *program {
	p := newProgram(t, now)
	p.ok("farm export --template", p.path("mine"))
	p.ok("farm import", p.path("mine"))
	return p
}

const fgzNow = "2024-02-20T18:00:00Z"

// As a real user would: a farm from CSV, a real forecast, a season of real
// readings, stages, and the three answers.
func TestFromCSVToTonight(t *testing.T) {
	p := templateFarm(t, fgzNow)
	p.fails(ExitNoAnswer, "tonight", nil, "no block could be answered", "budward feed forecast")
	out := p.ok("feed forecast", p.sample("gridpoint_FGZ_74_89.json.gz"))
	for _, want := range []string{"2130 m", "issued", "Tue 27 Feb 2024"} {
		if !strings.Contains(out, want) {
			t.Errorf("feeding the forecast does not say %q:\n%s", want, out)
		}
	}
	out = p.ok("feed readings", p.sample("hourly02_spring_2013.txt.gz"))
	if !strings.Contains(out, "2013") {
		t.Errorf("feeding the readings: %s", out)
	}
	p.ok("stage record --block B1", "EL 3=60%, EL 7=40%")
	out = p.ok("tonight")
	for _, want := range []string{"Tue 20 - Wed 21 Feb", "B1 Lower bench", "UNKNOWN  B2 Upper bench", "budward stage record", "°F"} {
		if !strings.Contains(out, want) {
			t.Errorf("tonight does not say %q:\n%s", want, out)
		}
	}
	p.ok("stage record --block B2", "woolly=30, first leaf=20")
	pages := []string{p.ok("tonight --notes"), p.ok("farm show"), p.ok("farm show --block B1"), p.ok("feed list")}
	if strings.Contains(pages[0], "UNKNOWN") {
		t.Errorf("a block is still unknown:\n%s", pages[0])
	}
	if out = p.ok("tonight --block B1"); !strings.Contains(out, "When to start wetting") || !strings.Contains(out, "May I work the floor") {
		t.Errorf("the block's page lacks its start table or its floor work:\n%s", out)
	}
	pages = append(pages, out)
	if out = p.ok("nights"); strings.Count(out, "▲")+strings.Count(out, "◆") < 5 {
		t.Errorf("a week of hard frosts is not marked:\n%s", out)
	}
	pages = append(pages, out)
	out = p.ok("whatif --block B1", "--floor", "bare firm", "--floor", "cover 12in")
	if !strings.Contains(out, "1 bare firm") || !strings.Contains(out, "2 cover 12in") {
		t.Errorf("whatif: %s", out)
	}
	noLongLines(t, append(pages, out)...)
}

func noLongLines(t *testing.T, pages ...string) {
	t.Helper()
	for _, page := range pages {
		for _, line := range strings.Split(page, "\n") {
			if n := len([]rune(line)); n > 80 {
				t.Errorf("%d columns: %s", n, line)
			}
		}
	}
}

// The same inputs, moment and seed give the same answer, byte for byte.
func TestSameQuestionSameAnswer(t *testing.T) {
	p := templateFarm(t, fgzNow)
	p.ok("feed forecast", p.sample("gridpoint_FGZ_74_89.json.gz"))
	p.ok("stage record --block B1", "EL 7")
	first := p.ok("tonight --json")
	if second := p.ok("tonight --json"); first != second {
		t.Error("the same question has two answers")
	}
	if other := p.ok("tonight --json --seed 2"); first == other {
		t.Error("another seed gives the same scenarios")
	}
	if later := p.ok("tonight --json --now 2024-02-21T18:00:00Z"); !strings.Contains(later, "2024-02-21T10:00:00-08:00") {
		t.Error("--now is not the moment of the answer")
	}
}

// What was exported is read back as the same farm, with the weather as open
// files.
func TestExportIsReadBack(t *testing.T) {
	p := templateFarm(t, fgzNow)
	p.ok("feed forecast", p.sample("gridpoint_FGZ_74_89.json.gz"))
	p.ok("stage record --block B1", "EL 7")
	out := p.ok("farm export", p.path("out"))
	for _, want := range []string{"farm/blocks.csv", "farm.json", "stages.csv", "forecasts-gate.csv"} {
		if !strings.Contains(out, want) {
			t.Errorf("export does not name %q:\n%s", want, out)
		}
	}
	before := p.ok("farm show --json")
	p.ok("farm import", p.path("out"))
	if after := p.ok("farm show --json"); before != after {
		t.Errorf("the farm read back differs:\n%s\n%s", before, after)
	}
	p.fails(ExitFile, "farm export", []string{p.path("out")}, "not empty")
}

func TestWithdrawing(t *testing.T) {
	p := templateFarm(t, fgzNow)
	file := p.sample("gridpoint_FGZ_74_89.json.gz")
	p.ok("feed forecast", file)
	p.fails(ExitData, "feed forecast", []string{file}, "already")
	p.ok("feed withdraw 1 --why wrong")
	p.fails(ExitNoAnswer, "tonight", nil, "no block could be answered")
	p.fails(ExitFile, "feed withdraw 1 --why again", nil, "1")
	p.fails(ExitFile, "feed withdraw 99 --why never", nil, "99")
	p.ok("stage record --block B1", "EL 7")
	p.ok("stage withdraw 1 --why misread")
	if out := p.ok("stage show --withdrawn"); !strings.Contains(out, "misread") {
		t.Errorf("what was withdrawn is gone:\n%s", out)
	}
}

// The fit of the bud-break model on the farm's own dates needs the weather of
// whole seasons, at least three; what is missing is said.
func TestStageFitSaysWhatIsMissing(t *testing.T) {
	p := templateFarm(t, "2013-06-20T18:00:00Z")
	p.fails(ExitNoAnswer, "stage fit --block B1 --burst 2013-04-20", nil, "no readings", "2013-04-20")
	p.ok("feed readings", p.sample("hourly02_spring_2013.txt.gz"))
	p.fails(ExitNoAnswer, "stage fit --block B1 --burst 2013-04-20", nil, "too few readings on 2013-01-01")
	p.fails(ExitUsage, "stage fit --block B1 --burst april", nil, "want a day")
}

// Springs made so that buds burst on the day when 150 degree-days over 5 degC are
// reached: the fit foretells each of them from the others within a few days. (The
// prior draws the base a little, and days are whole.)
func TestStageFitOnOwnDates(t *testing.T) {
	p := templateFarm(t, "2025-06-20T18:00:00Z")
	zone, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		t.Fatal(err)
	}
	args := "stage fit --block B1"
	for i, offset := range []float64{0, 1.5, -1, 3} {
		var b strings.Builder
		b.WriteString("time,air_temp_c\n")
		sum, burst := 0.0, ""
		start := time.Date(2021+i, time.January, 1, 0, 0, 0, 0, zone)
		for d := range 150 {
			day := start.AddDate(0, 0, d)
			mean := 3 + offset + 0.09*float64(d)
			for h := 1; h <= 24; h++ {
				fmt.Fprintf(&b, "%s,%.2f\n", day.Add(time.Duration(h)*time.Hour).Format(time.RFC3339),
					mean+4*math.Sin(2*math.Pi*float64(h)/24)) // the day's wave, zero in the mean
			}
			if sum += math.Max(0, mean-5); sum >= 150 && burst == "" {
				burst = day.Format(time.DateOnly)
			}
		}
		p.ok("feed readings", p.write(fmt.Sprintf("spring%d.csv", i), b.String()))
		args += " --burst " + burst
	}
	var got struct {
		Fit struct {
			BaseC     float64 `json:"base_c"`
			ErrorDays float64 `json:"error_days"`
			Seasons   int     `json:"seasons"`
		} `json:"fit"`
	}
	if err := json.Unmarshal([]byte(p.ok(args+" --json")), &got); err != nil {
		t.Fatal(err)
	}
	if got.Fit.Seasons != 4 || got.Fit.ErrorDays > 3 || math.Abs(got.Fit.BaseC-5) > 2 {
		t.Errorf("%+v; want four seasons, within 3 days, a base near 5 degC", got.Fit)
	}
	if out := p.ok(args); !strings.Contains(out, "4 seasons") {
		t.Errorf("the page of the fit: %s", out)
	}
}

// Every JSON answer names its schema and parses.
func TestJSONEverywhere(t *testing.T) {
	p := templateFarm(t, fgzNow)
	file := p.sample("gridpoint_FGZ_74_89.json.gz")
	for _, c := range []struct{ args, schema string }{
		{"feed forecast " + file, "budward.fed/1"}, {"feed list", "budward.batches/1"}, {"stage show", "budward.stages/1"}, {"farm show", "budward.farm/1"},
		{"farm check", "budward.check/1"}, {"farm import " + p.path("mine"), "budward.import/1"}, {"farm export " + p.path("x"), "budward.files/1"},
		{"farm export --template " + p.path("y"), "budward.files/1"}, {"stage record --block B1 bloom", "budward.stage/1"},
		{"tonight", "budward.tonight/1"}, {"nights", "budward.nights/1"}, {"whatif --block B1 --run water", "budward.whatif/1"},
		{"stage withdraw 1 --why x", "budward.withdrawn/1"}, {"feed withdraw 1 --why x", "budward.withdrawn/1"},
		{"calc kill table=concord-fao stage=woolly t=-6C", "budward.calc/1"},
	} {
		var got struct{ Schema string }
		out := p.ok(c.args + " --json")
		if err := json.Unmarshal([]byte(out), &got); err != nil || got.Schema != c.schema {
			t.Errorf("%s --json: schema %q, %v; want %q", c.args, got.Schema, err, c.schema)
		}
	}
}
