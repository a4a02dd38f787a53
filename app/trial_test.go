package app

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

const trialNow = "2026-05-01T12:00:00Z"

// thermometers writes thirty invented nights of spring from 10 March 2026 as two
// files: side by side for three, then A over the measured floor for thirteen, then
// B. A reads 0.3 K too much and the floor is worth gainK; every third night of the
// trial is dull.
func thermometers(p *program, gainK float64) (a, b string) {
	p.t.Helper()
	var fa, fb strings.Builder
	fa.WriteString("time,air_temp_c,wind_m_s\n")
	fb.WriteString("time,air_temp_c\n")
	zone := time.FixedZone("", -8*3600)
	start := time.Date(2026, time.March, 10, 12, 0, 0, 0, zone)
	for i := range 30 * 48 {
		at := start.Add(time.Duration(i) * 30 * time.Minute)
		d := i / 48
		fall, way := 12.0, 0.0
		switch {
		case d >= 16:
			way = -0.5
		case d >= 3:
			way = 0.5
		}
		if d > 3 && d%3 == 1 {
			fall = 3
		}
		hour := float64(at.Hour()) + float64(at.Minute())/60
		base := 12 + 2*math.Sin(math.Pi*(hour-9)/12) // by day
		if share := math.Mod(hour-18+24, 24) / 12.5; share <= 1 {
			base = 12 - fall*math.Sqrt(share)
		} else {
			way = 0
		}
		wobble := 0.1 * math.Sin(float64(d)*2.3)
		fmt.Fprintf(&fa, "%s,%.2f,%.1f\n", at.Format(time.RFC3339), base+0.3+way*(gainK+wobble), 0.7+0.3*math.Sin(float64(i)))
		fmt.Fprintf(&fb, "%s,%.2f\n", at.Format(time.RFC3339), base-way*(gainK+wobble))
	}
	return p.write("a.csv", fa.String()), p.write("b.csv", fb.String())
}

const (
	hangings = " --side 2026-03-10..2026-03-12 --trial A:2026-03-13..2026-03-25 --trial B:2026-03-26..2026-04-08"
	where    = " --place 38.5N,122.4W,60m --zone America/Los_Angeles"
)

// From two files to the gain that they were made of, every night listed.
func TestTrialFromFiles(t *testing.T) {
	p := newProgram(t, trialNow)
	a, b := thermometers(p, 0.9)
	args := "trial estimate --units metric --a " + a + " --b " + b + where + hangings
	text := p.ok(args, "--over", "bare firm, moist", "--beside", "cover 12in, moist", "--soil", "loam", "--area", "10ac")
	noLongLines(t, text)
	for _, want := range []string{"Gain +0.9", "swapped half-way", "Thermometer A reads +0.3", "Left out: 9 nights", "fell by only", "Modelled for these floors: +", "! No night before"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q:\n%s", want, text)
		}
	}
	var got struct {
		Schema string
		Result struct {
			Gain struct {
				Low     float64 `json:"low_k"`
				Central float64 `json:"central_k"`
				High    float64 `json:"high_k"`
			}
			Offset struct {
				Central float64 `json:"central_k"`
			}
			Used []struct{ Evening string } `json:"nights_used"`
			Left []struct{ Why string }     `json:"nights_left_out"`
		}
		Mixing *struct {
			Modelled float64 `json:"modelled_gain_k"`
			Central  float64 `json:"central_w_m2k"`
		}
	}
	if err := json.Unmarshal([]byte(p.ok(args+" --json")), &got); err != nil {
		t.Fatal(err)
	}
	r := got.Result
	// The wobble of 0.1 K is what is left of the truth.
	if got.Schema != "budward.trial-estimate/1" || math.Abs(r.Gain.Central-0.9) > 0.1 || math.Abs(r.Offset.Central-0.3) > 0.05 || !(r.Gain.Low < r.Gain.Central) || len(r.Used) != 21 || len(r.Left) != 9 {
		t.Errorf("%+v", r)
	}
	if got.Mixing != nil {
		t.Errorf("no floors were named, and the mixing is %+v", got.Mixing)
	}
}

// Nights that cannot give a gain are listed all the same, and the exit code says
// that there is no answer.
func TestTrialWithoutASwap(t *testing.T) {
	p := newProgram(t, trialNow)
	a, b := thermometers(p, 0.9)
	args := "trial estimate --a " + a + " --b " + b + where + " --trial A:2026-03-13..2026-03-25"
	p.fails(ExitNoAnswer, args, nil, "swap them", "Nights that count")
	code, out, _ := p.run(args + " --json")
	var got struct {
		Result struct {
			Gain *struct{}
			Used []struct{} `json:"nights_used"`
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != ExitNoAnswer || got.Result.Gain != nil || len(got.Result.Used) != 9 {
		t.Errorf("exit %d, %v, %+v; want no gain and nine nights", code, err, got)
	}
}

func TestTrialPlan(t *testing.T) {
	p := newProgram(t, trialNow)
	var got struct {
		Schema string
		Plan   struct {
			Each   int     `json:"each_nights"`
			SDK    float64 `json:"night_sd_k"`
			Clear  float64 `json:"clear_share"`
			Learnt int     `json:"learned_freedom"`
		}
		Steps []struct{ Title string }
	}
	ask := func(args string) {
		t.Helper()
		if err := json.Unmarshal([]byte(p.ok(args+" --json")), &got); err != nil {
			t.Fatal(err)
		}
	}
	ask("trial plan --precision 0.2K")
	// Worked by hand beside the formula, in package trial.
	if got.Schema != "budward.trial-plan/1" || got.Plan.Each != 9 || got.Plan.SDK != 0.4 || len(got.Steps) < 6 {
		t.Errorf("%+v", got)
	}
	noLongLines(t, p.ok("trial plan --of wetting --with-before --units us"), p.ok("trial plan --units metric"))
	// With nights that are there the guesses give way.
	a, b := thermometers(p, 0.9)
	ask("trial plan --precision 0.2K --a " + a + " --b " + b + where + hangings)
	if got.Plan.Learnt != 16 || got.Plan.SDK > 0.25 || math.Abs(got.Plan.Clear-0.7) > 1e-9 || got.Plan.Each >= 9 {
		t.Errorf("learned %+v; want 16 degrees of freedom, a spread below the guess, 21 of 30 nights", got.Plan)
	}
}

func TestTrialRefuses(t *testing.T) {
	p := newProgram(t, trialNow)
	a, b := thermometers(p, 0.9)
	files := "--a " + a + " --b " + b
	for _, c := range []struct {
		code       int
		args, want string
	}{
		{ExitUsage, "trial estimate", "--a FILE and --b FILE"},
		{ExitUsage, "trial estimate --a " + a + " --trial A:2026-03-13", "--b FILE"},
		{ExitUsage, "trial estimate " + files + where, "--trial A:FROM..TO"},
		{ExitUsage, "trial estimate " + files + " --trial A:2026-03-13", "--place is missing"},
		{ExitUsage, "trial estimate " + files + where + " --trial 2026-03-13..2026-03-20", "what hung over"},
		{ExitUsage, "trial estimate " + files + where + " --trial C:2026-03-13..2026-03-20", "what hung over"},
		{ExitUsage, "trial estimate " + files + where + " --trial A:13.3.2026", "want evenings"},
		{ExitUsage, "trial estimate " + files + where + " --trial A:2026-03-20..2026-03-13", "before the first"},
		{ExitUsage, "trial estimate " + files + where + " --trial A:2026-03-13..2026-03-20 --trial B:2026-03-20..2026-03-25", "2026-03-20 is in two sessions"},
		{ExitUsage, "trial estimate " + files + where + hangings + " --confidence 5%", "50%"},
		{ExitUsage, "trial estimate " + files + where + hangings + " --over bare_firm,_moist", "all of"},
		{ExitUsage, "trial estimate " + files + where + hangings + " --over bare_firm --beside bare_firm,_dry --soil loam --area 10ac", "moisture"},
		{ExitUsage, "trial estimate " + files + where + hangings + " --over lava,_dry --beside bare_firm,_dry --soil loam --area 10ac", "lava"},
		{ExitUsage, "trial estimate " + files + where + hangings + " --over bare_firm,_moist --beside bare_firm,_dry --soil gravelly --area 10ac", "gravelly"},
		{ExitUsage, "trial estimate " + files + where + hangings + " --over bare_firm,_moist --beside bare_firm,_dry --soil loam --area 10", "10"},
		{ExitUsage, "trial plan --precision 0.2", "0.2"},
		{ExitUsage, "trial plan --precision 0.01K", "0.05"},
		{ExitUsage, "trial plan --of candles", "candles"},
		{ExitFile, "trial estimate --a nowhere.csv --b " + b + where + hangings, "nowhere.csv"},
		{ExitFile, "trial estimate --station gate " + files + hangings, "there is none"},
		{ExitData, "trial estimate --a " + p.write("empty.csv", "") + " --b " + b + where + hangings, "empty"},
		{ExitData, "trial estimate --now 2020-01-01T00:00Z " + files + where + hangings, "without readings"},
		{ExitNoAnswer, "trial estimate " + files + where + " --trial A:2025-03-13..2025-03-20 --trial B:2025-03-21..2025-03-25", "no night with the floors different"},
	} {
		args := strings.Fields(c.args)
		for i := range args {
			if !strings.Contains(args[i], "/") { // not a file's name
				args[i] = strings.ReplaceAll(args[i], "_", " ")
			}
		}
		p.fails(c.code, "", append(args, "--farm", p.path("farm.db")), c.want)
	}
}

// Records that state their place need not be told it: two copies of one, swapped,
// are worth exactly nothing.
func TestTrialOfARecordWithItsPlace(t *testing.T) {
	p := newProgram(t, hindcastNow)
	out := p.ok("trial estimate --units metric --a " + record(2013) + " --b " + record(2013) + " --trial A:2013-04-01..2013-04-20 --trial B:2013-04-21..2013-05-10")
	if !strings.Contains(out, "Gain +0.00 K (") || !strings.Contains(out, "Left out: ") {
		t.Errorf("a thermometer against itself:\n%s", out)
	}
}

// A station of the farm lends its place, zone and the units its people read.
func TestTrialAtAStation(t *testing.T) {
	p := templateFarm(t, trialNow)
	a, b := thermometers(p, 0.9)
	out := p.ok("trial estimate --station gate --a " + a + " --b " + b + hangings)
	if !strings.Contains(out, "Gain +1.6") && !strings.Contains(out, "Gain +0.9") {
		t.Errorf("the page: %s", out)
	}
}
