package feed

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"strings"
	"testing"

	"budward/decide/weather"
)

// Counts and sums were worked out apart from this code, with awk, from the same
// file.
func TestHourly02Spring(t *testing.T) {
	b := must(t, string(load(t, "hourly02_spring_2013.txt.gz")), Options{StationID: "ithaca"})
	if b.Kind != weather.Reading || b.StationID != "ithaca" {
		t.Errorf("kind %v station %v", b.Kind, b.StationID)
	}
	// Line 881 is the only one with flags other than 0: on SOLARAD and SUR_TEMP.
	if b.RefusedTotal != 2 || b.Refused[0].Line != 881 || b.Refused[0].Field != "SOLARAD" || b.Refused[1].Field != "SUR_TEMP" {
		t.Errorf("refused %v", b.Refused)
	}
	n, sum, low, rain, moist := 0, 0.0, math.Inf(1), 0.0, 0
	for _, s := range b.Samples {
		switch s.Var {
		case weather.AirTemp:
			n, sum, low = n+1, sum+s.Value, math.Min(low, s.Value)
		case weather.Rain:
			rain += s.Value
		case weather.SoilMoist5:
			moist++
		case weather.Wind:
			t.Fatal("the product has no wind")
		}
	}
	// Sums of 2230 tenths round far below 1e-6.
	if n != 2230 || math.Abs(sum-19871.9) > 1e-6 || low != -14 || math.Abs(rain-229.4) > 1e-6 || moist != 1836 {
		t.Errorf("n %d sum %v low %v rain %v moisture %d", n, sum, low, rain, moist)
	}
	// The line "20130413 0300" as it stands in the file: END of the hour, UTC.
	h, rep, err := weather.Grid([]weather.Batch{b}, utc("2013-03-15T00:00Z"), utc("2013-06-15T23:00Z"))
	if err != nil || rep.Duplicates != 0 {
		t.Fatal(err, rep)
	}
	i := h.Index(utc("2013-04-13T03:00Z"))
	for v, want := range map[weather.Variable]float64{weather.AirTemp: 4.3, weather.AirTempMin: 4.3, weather.Rain: 0.6, weather.Solar: 0,
		weather.SurfaceTemp: 5.1, weather.RelHumidity: 90, weather.SoilMoist5: 0.365, weather.SoilMoist100: 0.368, weather.SoilTemp5: 5.4, weather.SoilTemp100: 4.2} {
		if got := h.At(v, i); got != want {
			t.Errorf("%v: %v, want %v", v, got, want)
		}
	}
	// The hardest night after 1 May stated with the record: 2013-05-14, -4.7.
	low = math.Inf(1)
	for k := h.Index(utc("2013-05-14T00:00Z")); k <= h.Index(utc("2013-05-14T14:00Z")); k++ {
		low = math.Min(low, h.At(weather.AirTempMin, k))
	}
	if math.Abs(low-(-4.7)) > 0.05 {
		t.Errorf("minimum of 14 May %v, want -4.7", low)
	}
}

// A good network's spring loses next to nothing to the screening.
func TestHourly02SpringScreened(t *testing.T) {
	b := must(t, string(load(t, "hourly02_spring_2013.txt.gz")), Options{})
	out, rep := weather.Screen(b, utc("2013-06-16T00:00Z"), nil)
	// One in a thousand is the allowance for true oddities of a good station.
	if lost := len(b.Samples) - len(out.Samples); lost > len(b.Samples)/1000 {
		t.Errorf("%d of %d samples lost: %v", lost, len(b.Samples), rep.Excluded)
		for _, r := range rep.Runs[:min(10, len(rep.Runs))] {
			t.Log(r.Text)
		}
	}
}

func TestHourly02WeekWithoutHumidity(t *testing.T) {
	b := must(t, string(load(t, "hourly02_week_2008.txt")), Options{})
	seen := map[weather.Variable]int{}
	for _, s := range b.Samples {
		seen[s.Var]++
		if !s.Var.Plausible(s.Value) {
			t.Errorf("%v %v let through", s.Var, s.Value)
		}
	}
	if seen[weather.AirTemp] != 168 || seen[weather.RelHumidity] != 0 || seen[weather.SoilTemp5] != 0 || b.Gaps < 168*11 {
		t.Errorf("seen %v gaps %d; want 168 temperatures and eleven absent variables as gaps", seen, b.Gaps)
	}
}

const goodLine = "64758 20120101 0100 20111231 2000  2.402  -76.25   42.44     5.6     5.4     5.6     5.0     0.0    120 0      0 0      0 0 R     4.4 0     4.6 0     4.2 0    83 0   0.366   0.387   0.388   0.391   0.373     2.7     2.6     2.5     2.6     4.0\n"

func TestHourly02BadLines(t *testing.T) {
	later := strings.Replace(goodLine, "20120101 0100", "20120101 0200", 1)
	flagged := strings.Replace(later, "83 0", "83 3", 1)
	text := goodLine +
		later[:150] + "\n" + // cut off
		goodLine + // the same time again
		strings.Replace(later, "64758", "12345", 1) + // another station
		strings.Replace(later, "20120101 0200", "20121301 0200", 1) + // no such month
		strings.Replace(flagged, "2.7     2.6", "2.7     abc", 1)
	b := must(t, text, Options{})
	want := []struct {
		line       int
		field, why string
	}{
		{2, "", "38 columns"}, {3, "UTC_DATE UTC_TIME", "line 1 again"}, {4, "WBANNO", "another station"},
		{5, "UTC_DATE UTC_TIME", "not a date"}, {6, "RH_HR_AVG", "erroneous"}, {6, "SOIL_TEMP_10", "not a number"},
	}
	if len(b.Refused) != len(want) || b.RefusedTotal != len(want) {
		t.Fatalf("refused %+v", b.Refused)
	}
	for i, w := range want {
		if r := b.Refused[i]; r.Line != w.line || r.Field != w.field || !strings.Contains(r.Why, w.why) || r.Origin != "f" {
			t.Errorf("refusal %d: %+v, want line %d %q %q", i, r, w.line, w.field, w.why)
		}
	}
	if len(b.Samples) != 16+14 || b.Samples[0].At.Sub(utc("2012-01-01T01:00Z")) != 0 {
		t.Errorf("%d samples, first %v", len(b.Samples), b.Samples[0])
	}
}

// The place is what columns 8 and 7 state, and never a guess.
func TestHourly02Place(t *testing.T) {
	later := func(old, new string) string {
		return strings.Replace(strings.Replace(goodLine, "20120101 0100", "20120101 0200", 1), old, new, 1)
	}
	for name, c := range map[string]struct {
		text     string
		lat, lon float64
		has      bool
		refused  int
		note     string
	}{
		"stated":         {goodLine, 42.44, -76.25, true, 0, ""},
		"rounded":        {goodLine + later("-76.25   42.44", "-76.26   42.45"), 42.44, -76.25, true, 0, ""},
		"missing first":  {later("-76.25   42.44", "-9999.0  -9999.0") + goodLine, 42.44, -76.25, true, 0, ""},
		"never stated":   {later("-76.25   42.44", "-9999.0  -9999.0"), 0, 0, false, 0, ""},
		"moved":          {goodLine + later("-76.25   42.44", "-76.25   43.44"), 0, 0, false, 0, "line 2 at 43.44"},
		"not on earth":   {later("-76.25   42.44", "-76.25   94.44"), 0, 0, false, 1, ""},
		"no number":      {later("-76.25   42.44", "west     42.44"), 0, 0, false, 1, ""},
		"south and east": {later("-76.25   42.44", "176.25  -42.44"), -42.44, 176.25, true, 0, ""},
	} {
		b := must(t, c.text, Options{})
		if b.HasPlace != c.has || b.LatDeg != c.lat || b.LonDeg != c.lon || b.RefusedTotal != c.refused {
			t.Errorf("%s: place %v %v %v, refused %v", name, b.HasPlace, b.LatDeg, b.LonDeg, b.Refused)
		}
		if c.note != "" && !strings.Contains(strings.Join(b.Notes, "; "), c.note) {
			t.Errorf("%s: notes %q do not say %q", name, b.Notes, c.note)
		}
		if len(b.Samples) < 16 {
			t.Errorf("%s: %d values left", name, len(b.Samples))
		}
	}
}

func TestRefusalsAreBounded(t *testing.T) {
	b := must(t, goodLine+strings.Repeat("64758 20120101 0100 20111231 2000  rest\n", 5000), Options{})
	if b.RefusedTotal != 5000 || len(b.Refused) != weather.MaxRefused {
		t.Errorf("%d counted, %d listed", b.RefusedTotal, len(b.Refused))
	}
}

func pack(t *testing.T, text []byte) []byte {
	t.Helper()
	var buf bytes.Buffer
	w := gzip.NewWriter(&buf)
	if _, err := w.Write(text); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestGzip(t *testing.T) {
	plain := must(t, goodLine, Options{})
	packed := pack(t, []byte(goodLine))
	b, err := Decode("f", bytes.NewReader(packed), Options{})
	if err != nil || len(b.Samples) != len(plain.Samples) {
		t.Errorf("packed: %d samples, %v", len(b.Samples), err)
	}
	_, err = Decode("f", bytes.NewReader(packed[:len(packed)-6]), Options{})
	wantError(t, "cut off gzip", err, "damaged or cut off")
	// A small file that unpacks to a great one is refused, not swallowed.
	bomb := pack(t, make([]byte, 1<<20))
	_, err = Decode("f", bytes.NewReader(bomb), Options{MaxBytes: 1 << 16})
	wantError(t, "bomb", err, "larger than 65536 bytes")
	_, err = Decode("f", io.LimitReader(zeros{}, 1<<20), Options{MaxBytes: 1 << 16})
	wantError(t, "too big", err, "larger than 65536 bytes")
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestDetect(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want Format
	}{
		"gridpoint":       {"\n {\"a\":1}", Gridpoint},
		"hourly02":        {goodLine, Hourly02},
		"hourly02 packed": {string(pack(t, []byte(goodLine))), Hourly02},
		"csv":             {"time,temp_c\n", CSV},
		"csv BOM":         {"\xEF\xBB\xBFtime;temp_c\n", CSV},
		"csv packed":      {string(pack(t, []byte("time,temp_c\n1,2\n"))), CSV},
		"prose":           {"hello there\nworld", Unknown},
		"numbers":         {"1,2,3\n4,5,6", Unknown},
		"empty":           {"", Unknown},
	} {
		if got := Detect("f", []byte(c.text)); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	if got := Detect("readings.csv.gz", []byte("1,2,3\n")); got != CSV {
		t.Errorf("by name: %q", got)
	}
	_, err := decode("hello there", Options{})
	wantError(t, "prose", err, "hello there", "gridpoint JSON")
}

func TestTextChecks(t *testing.T) {
	opts := Options{Kind: weather.Reading}
	for name, c := range map[string]struct {
		text  string
		parts []string
	}{
		"empty":       {"", []string{"empty"}},
		"blank":       {" \n\t\n", []string{"empty"}},
		"BOM only":    {"\xEF\xBB\xBF", []string{"empty"}},
		"UTF-16":      {"\xFF\xFEt\x00i\x00", []string{"UTF-16", "UTF-8"}},
		"UTF-16 bare": {"t\x00i\x00m\x00e\x00", []string{"zero byte"}},
		"Latin-1":     {"time,temp\n2024-04-10T05:00:00Z,3 \xB0F\n", []string{"line 2", "0xB0", "UTF-8"}},
	} {
		_, err := decode(c.text, opts)
		wantError(t, name, err, c.parts...)
	}
	b := must(t, "\xEF\xBB\xBFtime,temp_c\n2024-04-10T05:00:00Z,3\n", opts)
	if len(b.Samples) != 1 {
		t.Errorf("BOM: %v", b)
	}
}

func TestReadFailure(t *testing.T) {
	_, err := Decode("f", io.MultiReader(strings.NewReader("time"), broken{}), Options{})
	wantError(t, "broken reader", err, "cannot be read")
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, io.ErrClosedPipe }
