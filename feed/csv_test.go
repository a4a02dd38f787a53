package feed

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"budward/decide/weather"
)

var asReadings = Options{Kind: weather.Reading}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// one returns the only value of v in b.
func one(t *testing.T, b weather.Batch, v weather.Variable) float64 {
	t.Helper()
	var out []float64
	for _, s := range b.Samples {
		if s.Var == v {
			out = append(out, s.Value)
		}
	}
	if len(out) != 1 {
		t.Fatalf("%v: %v, want one value", v, out)
	}
	return out[0]
}

// Clear names carry their units; wanted values by the definitions of the units.
func TestCSVClearNames(t *testing.T) {
	for _, c := range []struct {
		col  string
		in   float64
		v    weather.Variable
		want float64
	}{
		{"air_temp_c", -1.5, weather.AirTemp, -1.5},
		{"temp_f", 31, weather.AirTemp, -5.0 / 9},
		{"Air temperature (°F)", 32, weather.AirTemp, 0},
		{"Temp [F]", 50, weather.AirTemp, 10},
		{"Temperature degC", 4, weather.AirTemp, 4},
		{"air_temp_min_c", 4, weather.AirTempMin, 4},
		{"Dew Point (°F)", 23, weather.DewPoint, -5},
		{"RH (%)", 81, weather.RelHumidity, 81},
		{"humidity_pct", 81, weather.RelHumidity, 81},
		{"Wind Speed (mph)", 10, weather.Wind, 4.4704},
		{"wind_m_s", 2, weather.Wind, 2},
		{"wind_km_h", 36, weather.Wind, 10},
		{"ws kt", 1, weather.Wind, 1852.0 / 3600},
		{"Cloud cover (%)", 40, weather.Cloud, 0.4},
		{"cloud_okta", 4, weather.Cloud, 0.5},
		{"cloud_frac", 0.3, weather.Cloud, 0.3},
		{"Rainfall (in)", 0.5, weather.Rain, 12.7},
		{"rain_mm", 2, weather.Rain, 2},
		{"solar_w_m2", 400, weather.Solar, 400},
		{"Solar radiation (W/m²)", 400, weather.Solar, 400},
		{"soil_temp_10cm_f", 50, weather.SoilTemp10, 10},
		{"soil_moist_5cm_m3_m3", 0.3, weather.SoilMoist5, 0.3},
		{"soil_moist_5cm_pct", 30, weather.SoilMoist5, 0.3},
		{"Barometric pressure (inHg)", 30, weather.Pressure, 30 * 3.386389},
		{"pressure_hpa", 1000, weather.Pressure, 100},
	} {
		b := must(t, fmt.Sprintf("time,%s,note\n2024-04-10T05:00:00Z,%v,x\n", c.col, c.in), asReadings)
		if got := one(t, b, c.v); math.Abs(got-c.want) > 1e-12*(1+math.Abs(c.want)) {
			t.Errorf("%s %v: %v, want %v", c.col, c.in, got, c.want)
		}
		if len(b.Notes) != 1 || !strings.Contains(b.Notes[0], "note") {
			t.Errorf("%s: the unused column is not named: %v", c.col, b.Notes)
		}
	}
}

// The JSON name of every variable is a clear column name.
func TestCSVEveryVariable(t *testing.T) {
	for v := range weather.NumVariables {
		b := must(t, "time,"+v.String()+"\n2024-04-10T05:00:00Z,0.5\n", asReadings)
		if got := one(t, b, v); got != 0.5 {
			t.Errorf("%v: %v, want 0.5", v, got)
		}
	}
}

func TestCSVHeaderRefused(t *testing.T) {
	for name, c := range map[string]struct {
		header string
		parts  []string
	}{
		"bare temperature": {"time,temp", []string{"line 1", `"temp" has no unit`, "air_temp_c", "air_temp_f", "air_temp=temp unit c"}},
		"bare humidity":    {"time,rh", []string{"no unit", "rh_pct"}},
		"unit of another":  {"time,temp_mph", []string{`unit "mph"`, "air_temp_c"}},
		"no time":          {"temp_c,rh_pct", []string{"no column of time", "header map"}},
		"no variable":      {"time,remark", []string{"no variable", "air_temp"}},
		"two temperatures": {"time,temp_c,air_temp_f", []string{"both", "header map"}},
		"date alone":       {"clock,temp_c", []string{"columns of time"}},
	} {
		_, err := decode(c.header+"\n2024-04-10T05:00:00Z,3,4\n", asReadings)
		wantError(t, name, err, c.parts...)
	}
	_, err := decode("time,rh_pct\n2024-04-10T05:00:00Z,3\n", Options{Kind: weather.Forecast, IssuedAt: utc("2024-04-10T00:00Z")})
	wantError(t, "forecast without temperature", err, "no air temperature")
	_, err = decode("time,temp_c\n2024-04-10T05:00:00Z,3\n", Options{Kind: weather.Forecast})
	wantError(t, "forecast without issue", err, "issue time")
	_, err = decode("time,temp_c\n2024-04-10T05:00:00Z,3\n", Options{})
	wantError(t, "no kind", err, "reading or forecast")
}

func TestCSVHeaderMap(t *testing.T) {
	m, err := ParseHeaderMap(`time=When, air_temp=T2 unit F, wind_m_s=WS, rh="Hum, out" unit %, dew_point="Td (C)"`)
	if err != nil {
		t.Fatal(err)
	}
	b := must(t, "When,T2,WS,\"Hum, out\",Td (C),junk\n2024-04-10T05:00:00Z,50,3,80,-2,q\n", Options{Kind: weather.Reading, Header: m})
	for v, w := range map[weather.Variable]float64{weather.AirTemp: 10, weather.Wind: 3, weather.RelHumidity: 80, weather.DewPoint: -2} {
		if got := one(t, b, v); math.Abs(got-w) > 1e-12 {
			t.Errorf("%v: %v, want %v", v, got, w)
		}
	}
	_, err = decode("When,T2\n2024-04-10T05:00:00Z,50\n", Options{Kind: weather.Reading, Header: m})
	wantError(t, "missing column", err, `no column "Td (C)"`, "When, T2")
	bare, err := ParseHeaderMap("time=When, air_temp=T2")
	if err != nil {
		t.Fatal(err)
	}
	_, err = decode("When,T2\n2024-04-10T05:00:00Z,50\n", Options{Kind: weather.Reading, Header: bare})
	wantError(t, "mapped without unit", err, "has no unit", "air_temp=T2 unit c")
	two, err := ParseHeaderMap("date=D, clock=C, air_temp_c=T")
	if err != nil {
		t.Fatal(err)
	}
	b = must(t, "D,C,T\n2024-04-10,05:30,1\n", Options{Kind: weather.Reading, Header: two, Zone: time.UTC})
	if !b.Samples[0].At.Equal(utc("2024-04-10T05:30Z")) {
		t.Errorf("date and clock: %v", b.Samples[0].At)
	}
	for _, bad := range []string{"", "time=A", "air_temp=B unit F", "time=A, air_temp", "time=A, warmth=B", "time=A, air_temp=B unit mph", "time=A, air_temp=B, air_temp=C",
		"time=A unit F, air_temp=B", "time=A, date=B, air_temp=C", "date=A, air_temp=C", `time=A, air_temp="B`, `time=A, air_temp="" unit F`, "time=, air_temp=B"} {
		_, err := ParseHeaderMap(bad)
		wantError(t, bad, err, "header map")
	}
}

func TestCSVTimes(t *testing.T) {
	la := zone(t, "America/Los_Angeles")
	for _, c := range []struct {
		header, cell string
		opts         Options
		want         string // empty: refused
		why          string
	}{
		{"time", "2024-04-10T05:30:00Z", Options{}, "2024-04-10T05:30Z", ""},
		{"time", "2024-04-10T05:30:00-07:00", Options{}, "2024-04-10T12:30Z", ""},
		{"time", "2024-04-10 05:30:00+02:00", Options{}, "2024-04-10T03:30Z", ""},
		{"time", "2024-04-10 05:30 UTC", Options{}, "2024-04-10T05:30Z", ""},
		{"time", "2024-04-10 05:30", Options{Zone: la}, "2024-04-10T12:30Z", ""},
		{"time", "2024-04-10T05:30:15", Options{Zone: time.UTC}, "2024-04-10T05:30Z", ""},
		{"Time (UTC)", "2024-04-10 05:30", Options{}, "2024-04-10T05:30Z", ""},
		{"time_utc", "2024-04-10 05:30", Options{Zone: la}, "2024-04-10T05:30Z", ""},
		{"time", "4/10/2024 5:30 PM", Options{Zone: time.UTC, DateOrder: MonthFirst}, "2024-04-10T17:30Z", ""},
		{"time", "10.4.2024 17:30", Options{Zone: time.UTC, DateOrder: DayFirst}, "2024-04-10T17:30Z", ""},
		{"time", "2024-04-10 05:30", Options{}, "", "zone"},
		{"time", "4/10/2024 17:30", Options{Zone: time.UTC}, "", "two ways"},
		{"time", "2024-04-31 05:30", Options{Zone: time.UTC}, "", "not a time"},
		{"time", "2024-04-10 25:30", Options{Zone: time.UTC}, "", "not a time"},
		{"time", "0024-04-10 05:30", Options{Zone: time.UTC}, "", "year"},
		{"time", "2024-03-10 02:30", Options{Zone: la}, "", "does not exist"},
		{"time", "2024-11-03 01:30", Options{Zone: la}, "", "came twice"},
	} {
		c.opts.Kind = weather.Reading
		text := fmt.Sprintf("%s,temp_c\n%s,3\n", c.header, c.cell)
		b, err := decode(text, c.opts)
		if c.want == "" {
			wantError(t, c.cell, err, "line 2", c.why)
			continue
		}
		if err != nil || !b.Samples[0].At.Truncate(time.Minute).Equal(utc(c.want)) {
			t.Errorf("%q: %v, %v; want %s", c.cell, b.Samples, err, c.want)
		}
	}
}

// rowsOf decodes local clock times and returns the instants in order of value;
// value k is on line k+2.
func rowsOf(t *testing.T, z *time.Location, clocks ...string) (map[int]time.Time, weather.Batch) {
	t.Helper()
	var sb strings.Builder
	sb.WriteString("time,temp_c\n")
	for k, c := range clocks {
		fmt.Fprintf(&sb, "%s,%d\n", c, k)
	}
	b := must(t, sb.String(), Options{Kind: weather.Reading, Zone: z})
	out := map[int]time.Time{}
	for _, s := range b.Samples {
		out[int(s.Value)] = s.At
	}
	return out, b
}

// The night of 3 Nov 2024 in California: 02:00 PDT becomes 01:00 PST, at 09:00
// UTC (US Energy Policy Act 2005: first Sunday of November).
func TestCSVClockPutBack(t *testing.T) {
	la := zone(t, "America/Los_Angeles")
	d := "2024-11-03 "
	for name, c := range map[string]struct {
		clocks  []string
		want    []string // UTC hour and minute; empty = refused
		refused int
	}{
		"hourly": {[]string{d + "00:00", d + "01:00", d + "01:00", d + "02:00"}, []string{"07:00", "08:00", "09:00", "10:00"}, 0},
		"half-hourly": {[]string{d + "00:30", d + "01:00", d + "01:30", d + "01:00", d + "01:30", d + "02:00"},
			[]string{"07:30", "08:00", "08:30", "09:00", "09:30", "10:00"}, 0},
		"newest first": {[]string{d + "02:00", d + "01:30", d + "01:00", d + "01:30", d + "01:00", d + "00:30"},
			[]string{"10:00", "09:30", "09:00", "08:30", "08:00", "07:30"}, 0},
		"one of the two is missing": {[]string{d + "00:00", d + "01:00", d + "02:00", d + "03:00"}, []string{"07:00", "", "10:00", "11:00"}, 1},
		"out of order": {[]string{d + "03:00", d + "00:00", d + "01:00", d + "01:00", d + "02:00"},
			[]string{"11:00", "07:00", "", "", "10:00"}, 2},
		"a row written twice is not a clock put back": {[]string{d + "00:30", d + "00:45", d + "01:00", d + "01:00", d + "01:15", d + "02:00", d + "02:15"},
			[]string{"07:30", "07:45", "", "", "", "10:00", "10:15"}, 3},
		"back twice": {[]string{d + "00:00", d + "01:00", d + "01:00", d + "01:00", d + "02:00"}, []string{"07:00", "", "", "", "10:00"}, 3},
	} {
		got, b := rowsOf(t, la, c.clocks...)
		for k, w := range c.want {
			at, ok := got[k]
			if ok != (w != "") || ok && at.UTC().Format("15:04") != w {
				t.Errorf("%s: row %d (%s) = %v %v, want %q", name, k, c.clocks[k], at, ok, w)
			}
		}
		if b.RefusedTotal != c.refused {
			t.Errorf("%s: refused %+v, want %d", name, b.Refused, c.refused)
		}
	}
}

func TestCSVClockPutForward(t *testing.T) {
	got, b := rowsOf(t, zone(t, "America/Los_Angeles"), "2024-03-10 01:00", "2024-03-10 02:00", "2024-03-10 03:00")
	if len(got) != 2 || b.RefusedTotal != 1 || b.Refused[0].Line != 3 || !strings.Contains(b.Refused[0].Why, "does not exist") {
		t.Errorf("%v, refused %+v", got, b.Refused)
	}
	if d := got[2].Sub(got[0]); d != time.Hour {
		t.Errorf("01:00 to 03:00 across the change is %v, want 1h", d)
	}
	// A half-hour change: Lord Howe, 7 Apr 2024, 02:00 +11 becomes 01:30 +10:30.
	got, b = rowsOf(t, zone(t, "Australia/Lord_Howe"), "2024-04-07 01:00", "2024-04-07 01:30", "2024-04-07 01:30", "2024-04-07 02:00")
	if len(got) != 4 || got[2].Sub(got[1]) != 30*time.Minute || got[3].Sub(got[0]) != 90*time.Minute {
		t.Errorf("Lord Howe: %v, refused %+v", got, b.Refused)
	}
}

func TestCSVDuplicateTimes(t *testing.T) {
	b := must(t, "time,temp_c\n2024-04-10T05:00:00Z,3\n2024-04-10T05:00:00Z,4\n2024-04-09T22:00:00-07:00,5\n", asReadings)
	if one(t, b, weather.AirTemp) != 3 || b.RefusedTotal != 2 || b.Refused[0].Line != 3 || !strings.Contains(b.Refused[1].Why, "line 2 again") {
		t.Errorf("%v refused %+v", b.Samples, b.Refused)
	}
}

func TestCSVMissingValues(t *testing.T) {
	cells := []string{"", "NA", "N/A", "NaN", "nan", "null", "M", "-", "--", "-9999", "-9999.0", "-99.000", "-99", "-999.9", "missing"}
	var sb strings.Builder
	sb.WriteString("time,temp_c,rh_pct\n")
	for k, c := range cells {
		fmt.Fprintf(&sb, "2024-04-10T05:%02d:00Z,%s,50\n", k, c)
	}
	b := must(t, sb.String(), asReadings)
	if b.Gaps != len(cells) || b.RefusedTotal != 0 || len(b.Samples) != len(cells) {
		t.Errorf("gaps %d of %d, refused %+v", b.Gaps, len(cells), b.Refused)
	}
}

func TestCSVBadCells(t *testing.T) {
	cells := []string{"31F", "warm", "1e999", "0x10", "1_000", "Inf", "3 4", "--3", "1.2.3"}
	var sb strings.Builder
	sb.WriteString("time,temp_c,rh_pct\n")
	for k, c := range cells {
		fmt.Fprintf(&sb, "2024-04-10T05:%02d:00Z,%s,50\n", k, c)
	}
	b := must(t, sb.String(), asReadings)
	if b.RefusedTotal != len(cells) || len(b.Samples) != len(cells) {
		t.Fatalf("refused %+v, samples %v", b.Refused, b.Samples)
	}
	for k, r := range b.Refused {
		if r.Line != k+2 || r.Field != "temp_c" || r.Value != cells[k] || !strings.Contains(r.Why, "not a number") {
			t.Errorf("refusal %+v", r)
		}
	}
	b = must(t, "time,temp_c,rain_in\n2024-04-10T05:00:00Z,3,1e308\n", asReadings)
	if b.RefusedTotal != 1 || b.Refused[0].Field != "rain_in" || len(b.Samples) != 1 {
		t.Errorf("overflow in the conversion: %+v", b)
	}
	b = must(t, "time,temp_c\n2024-04-10T05:00:00Z,\u22123.5\n2024-04-10T06:00:00Z,+2e0\n", asReadings)
	if b.Samples[0].Value != -3.5 || b.Samples[1].Value != 2 {
		t.Errorf("typographic minus and exponent: %v", b.Samples)
	}
}

func TestCSVDecimalCommas(t *testing.T) {
	text := "time;temp_c;rh_pct\n2024-04-10T05:00:00Z;3,5;80\n"
	_, err := decode(text, asReadings)
	wantError(t, "not announced", err, "line 2", "temp_c", "3,5", "decimal point")
	opts := asReadings
	opts.DecimalComma = true
	if got := one(t, must(t, text, opts), weather.AirTemp); got != 3.5 {
		t.Errorf("announced: %v, want 3.5", got)
	}
	_, err = decode("time,temp_c\n2024-04-10T05:00:00Z,3\n", opts)
	wantError(t, "announced with commas between columns", err, "semicolons")
	b := must(t, "time;temp_c\n2024-04-10T05:00:00Z;1.234,5\n2024-04-10T06:00:00Z;2\n", opts)
	if b.RefusedTotal != 1 || !strings.Contains(b.Refused[0].Why, "both a point and a comma") {
		t.Errorf("refused %+v", b.Refused)
	}
	_, err = decode("time,temp_c\n2024-04-10T05:00:00Z,\"3,5\"\n", asReadings)
	wantError(t, "quoted", err, "3,5", "decimal point")
	// Unquoted decimal commas between commas make rows too wide.
	_, err = decode("time,temp_c\n2024-04-10T05:00:00Z,3,5\n", asReadings)
	wantError(t, "unquoted", err, "line 2", "3 columns", "separator inside a value")
}

func TestCSVRows(t *testing.T) {
	b := must(t, "time,temp_c,rh_pct,\n2024-04-10T05:00:00Z,3,80,\n\n2024-04-10T06:00:00Z,4\n2024-04-10T07:00:00Z,5,81,\n2024-04-10T08:00:00Z,\"6\"x,1,\n2024-04-10T09:00", asReadings)
	if len(b.Samples) != 4 || b.RefusedTotal != 3 {
		t.Fatalf("samples %v refused %+v", b.Samples, b.Refused)
	}
	for i, line := range []int{4, 6, 7} {
		if b.Refused[i].Line != line {
			t.Errorf("refusal %+v, want line %d", b.Refused[i], line)
		}
	}
	_, err := decode("time,temp_c\n", asReadings)
	wantError(t, "header only", err, "no value could be taken")
	if b := must(t, "time\ttemp_c\r\n2024-04-10T05:00:00Z\t3\r\n", asReadings); one(t, b, weather.AirTemp) != 3 {
		t.Error("tabs and CRLF")
	}
}

// A column of Fahrenheit under a Celsius name reads without fault; the screening
// finds the step where the logger was switched.
func TestCSVUnitsMixed(t *testing.T) {
	var sb strings.Builder
	sb.WriteString("time,temp_c\n")
	for i := range 24 {
		x := 2 + math.Sin(float64(i)/4)
		if i >= 12 {
			x = 1.8*x + 32
		}
		fmt.Fprintf(&sb, "2024-04-10T%02d:00:00Z,%.1f\n", i, x)
	}
	b := must(t, sb.String(), asReadings)
	_, rep := weather.Screen(b, utc("2024-04-11T00:00Z"), nil)
	if rep.Excluded[weather.UnitChange] != 12 {
		t.Errorf("report %+v, want the 12 warm values left out", rep)
	}
}

func TestCSVRain(t *testing.T) {
	// A rate every 15 minutes: 4 mm/h for an hour is 4 mm.
	var sb strings.Builder
	sb.WriteString("time,rain_mm_h\n")
	for i := 1; i <= 4; i++ {
		fmt.Fprintf(&sb, "%s,4\n", utc("2024-04-10T05:00Z").Add(time.Duration(i)*15*time.Minute).Format(time.RFC3339))
	}
	sum := 0.0
	for _, s := range must(t, sb.String(), asReadings).Samples {
		sum += s.Value
	}
	if math.Abs(sum-4) > 1e-12 {
		t.Errorf("rate: %v mm, want 4", sum)
	}
	// Three-hourly amounts in a forecast do not say which hours they fall in.
	opts := Options{Kind: weather.Forecast, IssuedAt: utc("2024-04-10T00:00Z")}
	b := must(t, "time,temp_c,rain_mm\n2024-04-10T03:00:00Z,3,6\n2024-04-10T06:00:00Z,3,6\n2024-04-10T09:00:00Z,3,6\n", opts)
	if b.RefusedTotal != 1 || len(b.Samples) != 3 || !strings.Contains(b.Refused[0].Why, "hour by hour") {
		t.Errorf("refused %+v, samples %v", b.Refused, b.Samples)
	}
	if !b.IssuedAt.Equal(opts.IssuedAt) || b.Kind != weather.Forecast {
		t.Errorf("issue %v kind %v", b.IssuedAt, b.Kind)
	}
}
