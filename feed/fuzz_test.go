package feed

import (
	"bytes"
	"math"
	"testing"
	"time"

	"budward/decide/weather"
)

// Each target runs beyond its corpus with
//
//	go test ./feed -run '^$' -fuzz '^FuzzGridpoint$' -fuzztime 60s
//
// and likewise for the other targets of this folder. Plain
// go test runs the corpus, f.Add and testdata/fuzz.

// checkBatch holds what is true of every batch, whatever the bytes.
func checkBatch(t *testing.T, b weather.Batch, err error) {
	t.Helper()
	if err != nil {
		if _, ok := err.(*Error); !ok || err.Error() == "" {
			t.Fatalf("error %T %v, want a worded *Error", err, err)
		}
		if len(b.Samples) != 0 {
			t.Fatal("an error with samples")
		}
		return
	}
	if len(b.Samples) == 0 || len(b.Samples) > MaxSamples {
		t.Fatalf("%d samples", len(b.Samples))
	}
	if len(b.Refused) > weather.MaxRefused || b.RefusedTotal < len(b.Refused) || b.Gaps < 0 {
		t.Fatalf("%d listed, %d counted, %d gaps", len(b.Refused), b.RefusedTotal, b.Gaps)
	}
	var prev time.Time
	for _, s := range b.Samples {
		if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) || s.Var >= weather.NumVariables {
			t.Fatalf("sample %+v", s)
		}
		if s.At.Before(prev) || s.At.Year() < 1899 || s.At.Year() > 2201 {
			t.Fatalf("time %v after %v", s.At, prev)
		}
		prev = s.At
	}
	for _, r := range b.Refused {
		if r.Why == "" {
			t.Fatalf("a refusal without a reason: %+v", r)
		}
	}
	weather.Screen(b, time.Date(2024, 4, 10, 0, 0, 0, 0, time.UTC), nil)
}

func FuzzGridpoint(f *testing.F) {
	f.Add([]byte(oneTemp("wmoUnit:degC", "2024-04-10T05:00:00+00:00/P1DT6H", "1")))
	f.Add([]byte(oneTemp("wmoUnit:degF", "date:now:hour +3 hours / PT1H", "null")))
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := Decode("f", bytes.NewReader(text), Options{Format: Gridpoint, MaxBytes: 1 << 20})
		checkBatch(t, b, err)
		if err == nil && (b.Kind != weather.Forecast || b.IssuedAt.IsZero()) {
			t.Fatalf("kind %v issued %v", b.Kind, b.IssuedAt)
		}
	})
}

func FuzzHourly02(f *testing.F) {
	f.Add([]byte(goodLine))
	f.Add([]byte(goodLine[:100] + "\n" + goodLine))
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := Decode("f", bytes.NewReader(text), Options{Format: Hourly02, MaxBytes: 1 << 20})
		checkBatch(t, b, err)
	})
}

func FuzzCSV(f *testing.F) {
	la, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		f.Fatal(err)
	}
	f.Add([]byte("time,temp_c,rh_pct\n2024-11-03 01:00,3,80\n2024-11-03 01:00,NA,80\n2024-03-10 02:30,1,2\n"), "", false, true)
	f.Add([]byte("When;T\n2024-04-10T05:00:00Z;3,5\n"), "time=When, air_temp=T unit F", true, false)
	f.Fuzz(func(t *testing.T, text []byte, header string, comma, forecast bool) {
		opts := Options{Format: CSV, Kind: weather.Reading, Zone: la, DecimalComma: comma, MaxBytes: 1 << 20}
		if forecast {
			opts.Kind, opts.IssuedAt = weather.Forecast, time.Date(2024, 4, 9, 0, 0, 0, 0, time.UTC)
		}
		if header != "" {
			m, err := ParseHeaderMap(header)
			if err != nil {
				return
			}
			opts.Header = m
		}
		b, err := Decode("f", bytes.NewReader(text), opts)
		checkBatch(t, b, err)
	})
}

func FuzzHeaderMap(f *testing.F) {
	f.Add(`time=When, air_temp=T2 unit F, rh="Hum, out" unit %`)
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ParseHeaderMap(text)
		if err != nil {
			return
		}
		if m.check() != nil {
			t.Fatalf("a map that does not hold: %v", m)
		}
		for k, c := range m {
			if c.Name == "" {
				t.Fatalf("%s: no column", k)
			}
		}
	})
}

// FuzzDecode goes through detection and unpacking.
func FuzzDecode(f *testing.F) {
	f.Add("f.csv", []byte("time,temp_c\n2024-04-10T05:00:00Z,3\n"))
	f.Add("f", []byte(goodLine))
	f.Add("f", []byte{0x1f, 0x8b, 8, 0})
	f.Fuzz(func(t *testing.T, name string, text []byte) {
		Detect(name, text)
		b, err := Decode(name, bytes.NewReader(text), Options{Kind: weather.Reading, MaxBytes: 1 << 20})
		checkBatch(t, b, err)
	})
}
