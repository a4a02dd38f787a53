package cli

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"budward/decide/nights"
	"budward/store"
	"budward/vineyard/farm"
)

func nan() float64 { return math.NaN() }

func personWith(units string) farm.Person { return farm.Person{ID: "p", Units: units} }

func TestMoney(t *testing.T) {
	for v, want := range map[float64]string{0: "USD 0", 3.4: "USD 3", 999.6: "USD 1,000", 1234: "USD 1,230", 12345: "USD 12,300", 1234567: "USD 1,234,600", -45: "USD -45", nan(): "unknown"} {
		if got := money(v, "USD"); got != want && !(math.IsNaN(v) && got == "unknown") {
			t.Errorf("money(%v) = %q; want %q", v, got, want)
		}
	}
	if got := money(nan(), "USD"); got != "unknown" {
		t.Errorf("an unknown amount is %q", got)
	}
}

func TestWrap(t *testing.T) {
	text := "a few words and one-that-is-longer-than-the-line to break"
	for _, l := range wrap(text, 20) {
		if runes(l) > 20 && strings.Contains(l, " ") {
			t.Errorf("%q is wider than 20", l)
		}
	}
	if got := strings.Join(wrap(text, 20), " "); got != text {
		t.Errorf("wrapping lost or made words: %q", got)
	}
	if got := cut("Gewürztraminer", 8); got != "Gewürzt…" {
		t.Errorf("cut gives %q", got)
	}
}

func TestMoments(t *testing.T) {
	zone, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"2026-04-08T15:00-07:00":    "2026-04-08T22:00:00Z",
		"2026-04-08T15:00:30Z":      "2026-04-08T15:00:30Z",
		"2026-04-08 15:00":          "2026-04-08T22:00:00Z",
		"2026-01-08 15:00":          "2026-01-08T23:00:00Z",
		"2026-11-01 01:30-07:00":    "2026-11-01T08:30:00Z",
		"2026-02-28T23:59":          "2026-03-01T07:59:00Z",
		"2024-02-29 12:00":          "2024-02-29T20:00:00Z",
		"2026-04-08T15:00:00+05:30": "2026-04-08T09:30:00Z",
	} {
		got, err := ParseMoment(text, zone)
		if err != nil || got.UTC().Format(time.RFC3339) != want {
			t.Errorf("%s = %v, %v; want %s", text, got.UTC(), err, want)
		}
	}
	for text, want := range map[string]string{
		"2026-03-08 02:30": "skips it",       // put forward
		"2026-11-01 01:30": "shows it twice", // put back
		"2026-02-30 12:00": "want a moment",
		"tomorrow":         "want a moment",
		"2026-04-08":       "want a moment",
		"":                 "want a moment",
	} {
		_, err := ParseMoment(text, zone)
		if !errors.As(err, new(*MomentError)) || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want an error that says %q", text, err, want)
		}
	}
	// Lord Howe changes its clock by half an hour.
	howe, err := time.LoadLocation("Australia/Lord_Howe")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ParseMoment("2026-04-05 01:45", howe); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("a half-hour change: %v; want the time to be there twice", err)
	}
}

func TestAlternatives(t *testing.T) {
	d := madeDesk(t)
	ask := func(args ...string) error {
		_, err := d.run(t, false, nil, append([]string{"whatif", "--block", "B1"}, args...)...)
		return err
	}
	if err := ask("--floor", "Bare Firm", "--floor", "middle: cover 12in, 18%; under-vine: disked 4in", "--refill", "none", "--refill", "24h from 18:00"); err != nil {
		t.Fatal(err)
	}
	var labels []string
	for _, a := range d.asked {
		labels = append(labels, a.Label)
	}
	want := []string{"as it is", "bare firm", "bare firm, refill 24h from 18:00", "middle: cover 12in, 18%; under-vine: disked 4in",
		"middle: cover 12in, 18%; under-vine: disked 4in, refill 24h from 18:00"}
	if strings.Join(labels, "|") != strings.Join(want, "|") {
		t.Fatalf("asked for %q; want %q", labels, want)
	}
	last := d.asked[4]
	mid := last.Floor["middle"]
	if mid.Surface != farm.Cover || math.Abs(mid.HeightM-0.3048) > 1e-9 || math.Abs(mid.Moisture.Value-0.18) > 1e-9 || last.Floor["under-vine"].Surface != farm.Disked {
		t.Errorf("floor %+v", last.Floor)
	}
	if s := last.RefillStart; s.In(d.zone).Format("Mon 15:04") != "Wed 18:00" || last.RefillStop.Sub(s) != 24*time.Hour {
		t.Errorf("refill from %v to %v", last.RefillStart, last.RefillStop)
	}
	if err := ask("--refill", "1in from tue 06:00", "--run", "water 40gpm/ac", "--run", "fan"); err != nil {
		t.Fatal(err)
	}
	if a := d.asked[1]; math.Abs(a.RefillMM-25.4) > 1e-9 || a.RefillStart.In(d.zone).Format("2006-01-02 15:04") != "2026-04-14 06:00" || a.Run != nights.RunWater || !(a.RunMmH > 2 && a.RunMmH < 2.5) {
		t.Errorf("%+v", a) // 40 gpm/ac is 2.24 mm/h
	}
	if a := d.asked[2]; a.Run != nights.RunFan || a.RunMmH != 0 {
		t.Errorf("%+v", a)
	}
}

func TestAlternativesRefused(t *testing.T) {
	d := madeDesk(t)
	d.farm.Blocks[1].System = farm.System{}
	for _, c := range []struct{ args, want string }{
		{"--block B1", "at least one"},
		{"--block B1 --floor lava", "bare firm"},
		{"--block B1 --floor cover", "height"},
		{"--block B1 --floor headland:_bare_firm", "no strip"},
		{"--block B1 --floor bare_firm,_soggyish", "moist"},
		{"--block B1 --refill 24", "want hours"},
		{"--block B1 --refill 24h_from_yesterday", "18:00"},
		{"--block B1 --refill 24h_from_2026-04-01T10:00-07:00", "past"},
		{"--block B1 --refill 24h_from_Xyz_06:00", "day of the week"},
		{"--block B1 --run candles", "want none, water"},
		{"--block B1 --run fan_40gpm/ac", "only water"},
		{"--block B1 --run water_40", "rate"},
		{"--block B1 --run water --night 0", "--night 0"},
		{"--block B2 --refill 24h_from_now", "no water system"},
		{"--block B9 --run water", "no block"},
	} {
		args := strings.Fields(c.args)
		for i := range args {
			args[i] = strings.ReplaceAll(args[i], "_", " ")
		}
		_, err := d.run(t, false, nil, append([]string{"whatif"}, args...)...)
		if !errors.As(err, new(*UsageError)) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want a usage error that says %q", c.args, err, c.want)
		}
	}
}

func TestStageRecordKeepsScaleAndCounts(t *testing.T) {
	d := madeDesk(t)
	out, err := d.run(t, false, nil, "stage", "record", "--block", "b1", "EL 1977 5=12, BBCH 11=28", "--who", "Ines")
	if err != nil {
		t.Fatal(err)
	}
	r := d.stages[0]
	if r.BlockID != "B1" || r.Unit != store.Shoots || len(r.Counts) != 2 || r.Who != "Ines" || !r.At.Equal(d.now) {
		t.Errorf("%+v", r)
	}
	total, scales := 0.0, ""
	for _, c := range r.Counts {
		total += c.Amount
		scales += string(c.Stage.Scale) + " "
	}
	if total != 40 || !strings.Contains(scales, "el1977") || !strings.Contains(scales, "bbch") {
		t.Errorf("counts %+v", r.Counts)
	}
	if !strings.Contains(out, "E-L") || !strings.Contains(out, "BBCH") {
		t.Errorf("both scales are not shown: %s", out)
	}
	for _, bad := range []string{"5=12", "EL 4=60%, EL 7=50%", "EL 4=60%, EL 7=20", "EL 99=1", ""} {
		if _, err := d.run(t, false, nil, "stage", "record", "--block", "B1", bad); !errors.As(err, new(*UsageError)) {
			t.Errorf("%q: %v; want a usage error", bad, err)
		}
	}
	if out, err = d.run(t, false, nil, "stage", "show"); err != nil || !strings.Contains(out, "B2") || !strings.Contains(strings.Join(strings.Fields(out), " "), "unknown until somebody looks") {
		t.Errorf("%v: %s", err, out)
	}
}

func TestUsageErrorsNameWhatIsWrong(t *testing.T) {
	d := madeDesk(t)
	for _, args := range []string{"tonite", "tonight --frost", "farm", "tonight --block", "--seed x tonight", "tonight --block B9"} {
		if _, err := d.run(t, false, nil, strings.Fields(args)...); !errors.As(err, new(*UsageError)) {
			t.Errorf("budward %s: %v; want a usage error", args, err)
		}
	}
	if out, err := d.run(t, false, nil); err != nil || !strings.Contains(out, "tonight") || !strings.Contains(out, "Exit codes") {
		t.Errorf("without a command: %v\n%s", err, out)
	}
}

func TestJSONWriter(t *testing.T) {
	type inner struct {
		At    time.Time `json:"at"`
		Share float64   `json:"share"`
		Skip  string    `json:"skip,omitempty"`
		No    string    `json:"-"`
		Ptr   *float64  `json:"ptr"`
		Map   map[string]float64
	}
	type outer struct {
		inner
		List []inner `json:"list"`
	}
	v := 0.5
	var b bytes.Buffer
	err := writeJSON(&b, "s/1", outer{inner: inner{Share: nan(), No: "no", Ptr: &v, Map: map[string]float64{"b": math.Inf(1), "a": 1}}})
	if err != nil {
		t.Fatal(err)
	}
	got := strings.Join(strings.Fields(b.String()), "")
	want := `{"schema":"s/1","at":null,"share":null,"ptr":0.5,"Map":{"a":1,"b":null},"list":[]}`
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
