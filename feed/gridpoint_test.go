package feed

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"budward/decide/weather"
)

func load(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func decode(text string, opts Options) (weather.Batch, error) {
	return Decode("f", strings.NewReader(text), opts)
}

func must(t *testing.T, text string, opts Options) weather.Batch {
	t.Helper()
	b, err := decode(text, opts)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// wantError checks that err is an *Error whose text holds every part.
func wantError(t *testing.T, what string, err error, parts ...string) {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) {
		t.Errorf("%s: error %v, want *Error", what, err)
		return
	}
	for _, p := range parts {
		if !strings.Contains(err.Error(), p) {
			t.Errorf("%s: error %q does not say %q", what, err, p)
		}
	}
}

func utc(s string) time.Time {
	t, err := time.Parse("2006-01-02T15:04Z", s)
	if err != nil {
		panic(err)
	}
	return t
}

// Counts, extremes and sums were worked out apart from this code, with Python's
// json and datetime, from the same file.
func TestGridpointFlagstaff(t *testing.T) {
	b := must(t, string(load(t, "gridpoint_FGZ_74_89.json.gz")), Options{StationID: "s"})
	if b.Kind != weather.Forecast || !b.IssuedAt.Equal(time.Date(2024, 2, 20, 17, 13, 54, 0, time.UTC)) || !b.HasElevation || math.Abs(b.ElevationM-2129.9424) > 1e-9 {
		t.Errorf("kind %v issued %v elevation %v", b.Kind, b.IssuedAt, b.ElevationM)
	}
	if b.RefusedTotal != 0 || b.Gaps != 0 || b.StationID != "s" {
		t.Errorf("refused %v gaps %d", b.Refused, b.Gaps)
	}
	type stat struct {
		n           int
		lo, hi, sum float64
	}
	got := map[weather.Variable]stat{}
	for _, s := range b.Samples {
		g, ok := got[s.Var]
		if !ok {
			g = stat{lo: math.Inf(1), hi: math.Inf(-1)}
		}
		got[s.Var] = stat{g.n + 1, math.Min(g.lo, s.Value), math.Max(g.hi, s.Value), g.sum + s.Value}
	}
	for v, w := range map[weather.Variable]stat{
		weather.AirTemp:     {182, -6.111111111111111, 12.222222222222221, 510.5555555555554},
		weather.DewPoint:    {182, -7.777777777777778, 0, -780},
		weather.RelHumidity: {182, 28, 100, 11560},
		weather.Wind:        {182, 7.408 / 3.6, 37.04 / 3.6, 3926.24 / 3.6},
		weather.Cloud:       {182, 0.22, 0.88, 105.64},
	} {
		g := got[v]
		// Sums of 182 doubles of size 12 round below 1e-9.
		if g.n != w.n || math.Abs(g.lo-w.lo) > 1e-9 || math.Abs(g.hi-w.hi) > 1e-9 || math.Abs(g.sum-w.sum) > 1e-9 {
			t.Errorf("%v: %+v, want %+v", v, g, w)
		}
	}
	// Rain spread over its intervals adds up to the total of the file.
	if g := got[weather.Rain]; g.n != 187 || math.Abs(g.sum-13.208) > 1e-9 {
		t.Errorf("rain %+v, want 187 hours and 13.208 mm", g)
	}
	h, _, err := weather.Grid([]weather.Batch{b}, utc("2024-02-20T11:00Z"), utc("2024-02-21T12:00Z"))
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range map[int]float64{0: -20.0 / 9, 1: -20.0 / 9, 2: -20.0 / 9, 3: -10.0 / 3, 24: -5.0 / 9, 25: -10.0 / 9} {
		if got := h.At(weather.AirTemp, i); math.Abs(got-w) > 1e-9 {
			t.Errorf("hour %d: %v, want %v", i, got, w)
		}
	}
}

func TestGridpointUntouchedReply(t *testing.T) {
	b := must(t, string(load(t, "gridpoint_TAE_58_65.json.gz")), Options{})
	if b.IssuedAt.Year() != 2022 || b.RefusedTotal != 0 {
		t.Errorf("issued %v, refused %v", b.IssuedAt, b.Refused)
	}
	low := math.Inf(1)
	for _, s := range b.Samples {
		if s.Var == weather.AirTemp {
			low = math.Min(low, s.Value)
		}
	}
	if math.Abs(low-3.3) > 0.05 { // the minimum stated with the sample, to a tenth
		t.Errorf("minimum %v, want 3.3", low)
	}
}

func TestGridpointPlaceholdersRefused(t *testing.T) {
	_, err := decode(string(load(t, "gridpoint_placeholders_OAX_59_58.json.gz")), Options{})
	wantError(t, "placeholders", err, "placeholders", "date:now")
	_, err = decode(grid(`"uom":"wmoUnit:degC","values":[{"validTime":"date:now:hour +3 hours / PT1H","value":1}]`), Options{})
	wantError(t, "placeholder in a value", err, "temperature value 1", "placeholders")
}

// grid is a small gridpoint file with this temperature layer.
func grid(temp string, more ...string) string {
	return `{"properties":{"updateTime":"2024-04-10T00:00:00+00:00","elevation":{"unitCode":"wmoUnit:m","value":100},"temperature":{` + temp + `}` + strings.Join(append([]string{""}, more...), ",") + `}}`
}

func oneTemp(uom, interval, value string) string {
	return grid(fmt.Sprintf(`"uom":%q,"values":[{"validTime":%q,"value":%s}]`, uom, interval, value))
}

// Unit codes are honoured; wanted values by the definitions of the units.
func TestGridpointUnits(t *testing.T) {
	const at = "2024-04-10T05:00:00+00:00/PT1H"
	for _, c := range []struct {
		layer, uom string
		v          weather.Variable
		in, want   float64
	}{
		{"temperature", "wmoUnit:degC", weather.AirTemp, -1.5, -1.5},
		{"temperature", "wmoUnit:degF", weather.AirTemp, 31, -5.0 / 9},
		{"temperature", "unit:degF", weather.AirTemp, 32, 0},
		{"temperature", "wmoUnit:K", weather.AirTemp, 273.15, 0},
		{"windSpeed", "wmoUnit:km_h-1", weather.Wind, 36, 10},
		{"windSpeed", "wmoUnit:m_s-1", weather.Wind, 3, 3},
		{"windSpeed", "wmoUnit:kt", weather.Wind, 1, 1852.0 / 3600},
		{"skyCover", "wmoUnit:percent", weather.Cloud, 40, 0.4},
		{"relativeHumidity", "wmoUnit:percent", weather.RelHumidity, 40, 40},
		{"quantitativePrecipitation", "wmoUnit:mm", weather.Rain, 2, 2},
		{"quantitativePrecipitation", "wmoUnit:m", weather.Rain, 0.002, 2},
	} {
		layer := fmt.Sprintf(`%q:{"uom":%q,"values":[{"validTime":%q,"value":%g}]}`, c.layer, c.uom, at, c.in)
		temp := `"uom":"wmoUnit:degC","values":[{"validTime":"2024-04-10T05:00:00+00:00/PT1H","value":7}]`
		text := grid(temp, layer)
		if c.layer == "temperature" {
			text = oneTemp(c.uom, at, fmt.Sprint(c.in))
		}
		found := false
		for _, s := range must(t, text, Options{}).Samples {
			if s.Var == c.v {
				found = true
				if math.Abs(s.Value-c.want) > 1e-12*(1+math.Abs(c.want)) || !s.At.Equal(utc("2024-04-10T05:00Z")) {
					t.Errorf("%v %s: %v at %v, want %v", c.in, c.uom, s.Value, s.At, c.want)
				}
			}
		}
		if !found {
			t.Errorf("%v %s: no sample", c.in, c.uom)
		}
	}
	_, err := decode(oneTemp("wmoUnit:furlong", at, "1"), Options{})
	wantError(t, "unknown unit", err, "temperature.uom", "wmoUnit:furlong", "wmoUnit:degC", "wmoUnit:degF")
	_, err = decode(oneTemp("wmoUnit:percent", at, "1"), Options{})
	wantError(t, "wrong kind of unit", err, "wmoUnit:percent")
	_, err = decode(oneTemp("", at, "1"), Options{})
	wantError(t, "no unit", err, "temperature.uom", `""`)
}

func TestGridpointIntervals(t *testing.T) {
	for s, want := range map[string]time.Duration{"PT1H": 1, "PT6H": 6, "P1DT6H": 30, "P7D": 168, "P7DT14H": 182, "PT120M": 2, "P1DT0H": 24} {
		if got, err := parseDuration(s); err != nil || got != want*time.Hour {
			t.Errorf("%s: %v, %v; want %d h", s, got, err, want)
		}
	}
	for _, s := range []string{"", "P", "PT", "1H", "PT0H", "PT30M", "PT1H30M", "P1M", "P1Y", "PT-1H", "P1DT", "P99999D", "P17D", "PT1H1H", "PT1.5H", "P1H", "PT1D", "PTH"} {
		if got, err := parseDuration(s); err == nil {
			t.Errorf("%q: %v, want an error", s, got)
		}
	}
	text := grid(`"uom":"wmoUnit:degC","values":[
		{"validTime":"2024-04-10T05:00:00-07:00/PT2H","value":1},
		{"validTime":"2024-04-10T14:00:00Z/PT3H","value":null},
		{"validTime":"yesterday","value":1},
		{"validTime":"2024-04-10T17:00:00Z/PT30M","value":1}]`)
	b := must(t, text, Options{})
	if len(b.Samples) != 2 || b.Gaps != 3 || b.RefusedTotal != 2 {
		t.Fatalf("samples %v gaps %d refused %v", b.Samples, b.Gaps, b.Refused)
	}
	if !b.Samples[0].At.Equal(utc("2024-04-10T12:00Z")) || !b.Samples[1].At.Equal(utc("2024-04-10T13:00Z")) {
		t.Errorf("hours %v", b.Samples)
	}
	if r := b.Refused[0]; r.Field != "temperature value 3" || r.Value != "yesterday" || r.Why == "" {
		t.Errorf("refusal %+v", r)
	}
}

func TestGridpointBroken(t *testing.T) {
	whole := grid(`"uom":"wmoUnit:degC","values":[{"validTime":"2024-04-10T05:00:00+00:00/PT1H","value":1}]`)
	if _, err := decode(whole, Options{}); err != nil {
		t.Fatal(err)
	}
	for i := 1; i < len(whole); i++ {
		if _, err := decode(whole[:i], Options{Format: Gridpoint}); err == nil {
			t.Fatalf("cut off after %d bytes: no error", i)
		}
	}
	for name, c := range map[string]struct{ text, want string }{
		"cut off":             {whole[:len(whole)-5], "cut off"},
		"more after the end":  {whole + "{}", "more text"},
		"no issue time":       {strings.Replace(whole, "updateTime", "updated", 1), "updateTime"},
		"no temperature":      {strings.Replace(whole, `"temperature"`, `"heat"`, 1), "temperature"},
		"temperature is text": {strings.Replace(whole, `"value":1}`, `"value":"1"}`, 1), "temperature"},
		"no values":           {grid(`"uom":"wmoUnit:degC","values":[]`), "no values"},
		"nulls only":          {strings.Replace(whole, `"value":1}`, `"value":null}`, 1), "no value could be taken (1 gaps"},
		"properties":          {`{"properties":3}`, "properties"},
		"syntax":              {"{\n\"a\":}", "line 2"},
	} {
		_, err := decode(c.text, Options{})
		wantError(t, name, err, c.want)
	}
}
