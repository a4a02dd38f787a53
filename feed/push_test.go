package feed

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"budward/decide/weather"
)

func push(t *testing.T, text string, limits PushLimits) Pushed {
	t.Helper()
	p, err := DecodePush(strings.NewReader(text), limits)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestPush(t *testing.T) {
	fed := utc("2026-04-09T12:30Z")
	p := push(t, `[
	 {"station": "flat", "at": "2026-04-09T05:20:00-07:00", "air_temp_f": 31.1, "rh_pct": null, "wind_m_s": -9999},
	 {"station": "FLAT", "at": "2026-04-09T12:10:00Z", "air_temp_c": -0.4, "rh_pct": 93, "pressure_hpa": 1013},
	 {"station": "bench", "at": "2026-04-09T12:10:00Z", "soil_moist_5cm_pct": 21}
	]`, PushLimits{Origin: "push from the shed", FedAt: fed, Stations: []string{"bench", "flat"}})
	if len(p.Batches) != 2 || p.Rows != 3 || p.Taken != 3 || p.RefusedTotal != 0 {
		t.Fatalf("%+v", p)
	}
	bench, flat := p.Batches[0], p.Batches[1]
	if bench.StationID != "bench" || flat.StationID != "flat" || flat.Kind != weather.Reading || flat.Origin != "push from the shed" || !flat.FedAt.Equal(fed) || flat.Gaps != 2 {
		t.Errorf("%+v %+v", bench, flat)
	}
	want := []weather.Sample{{At: utc("2026-04-09T12:10Z"), Var: weather.AirTemp, Value: -0.4}, {At: utc("2026-04-09T12:10Z"), Var: weather.RelHumidity, Value: 93},
		{At: utc("2026-04-09T12:10Z"), Var: weather.Pressure, Value: 101.3}, {At: utc("2026-04-09T12:20Z"), Var: weather.AirTemp, Value: -0.5}}
	if len(flat.Samples) != len(want) {
		t.Fatalf("%+v", flat.Samples)
	}
	for i, s := range flat.Samples {
		if !s.At.Equal(want[i].At) || s.Var != want[i].Var || math.Abs(s.Value-want[i].Value) > 1e-9 { // one conversion
			t.Errorf("%+v, want %+v", s, want[i])
		}
	}
	if math.Abs(bench.Samples[0].Value-0.21) > 1e-12 {
		t.Errorf("%+v", bench.Samples)
	}
}

// Each bad row or value is refused alone, with its place and a reason.
func TestPushRefusals(t *testing.T) {
	const head = `"station": "s", "at": "2026-04-09T12:00:00Z"`
	good := `{"station": "s", "at": "2026-04-09T13:00:00Z", "air_temp_c": 1}`
	for name, c := range map[string]struct{ row, field, why string }{
		"no unit":          {`{` + head + `, "air_temp": 1}`, "air_temp", "no unit"},
		"unknown name":     {`{` + head + `, "airtemp_c": 1}`, "airtemp_c", "not a name"},
		"wrong unit":       {`{` + head + `, "air_temp_kpa": 1}`, "air_temp_kpa", "not a name"},
		"text":             {`{` + head + `, "air_temp_c": "1"}`, "air_temp_c", "not a number"},
		"yes":              {`{` + head + `, "air_temp_c": true}`, "air_temp_c", "not a number"},
		"list":             {`{` + head + `, "air_temp_c": [1, {"a": [2]}]}`, "air_temp_c", "not a number"},
		"too large":        {`{` + head + `, "air_temp_c": 1e999}`, "air_temp_c", "not a number"},
		"rain rate":        {`{` + head + `, "rain_mm_h": 1}`, "rain_mm_h", "over what time"},
		"name twice":       {`{` + head + `, "air_temp_c": 1, "air_temp_c": 2}`, "air_temp_c", "twice"},
		"two units of one": {`{` + head + `, "air_temp_c": 1, "air_temp_f": 2}`, "air_temp_f", "row 1 already"},
		"time twice":       {`{"station": "S", "at": "2026-04-09T06:00:00-07:00", "air_temp_c": 1}`, "", ""},
		"no time":          {`{"station": "s", "air_temp_c": 1}`, "at", "offset"},
		"local time":       {`{"station": "s", "at": "2026-04-09T12:00:00", "air_temp_c": 1}`, "at", "offset"},
		"time as a number": {`{"station": "s", "at": 1775736000, "air_temp_c": 1}`, "at", "offset"},
		"year":             {`{"station": "s", "at": "0026-04-09T12:00:00Z", "air_temp_c": 1}`, "at", "offset"},
		"no station":       {`{"at": "2026-04-09T12:00:00Z", "air_temp_c": 1}`, "station", "ID of a station"},
		"station a number": {`{"station": 5, "at": "2026-04-09T12:00:00Z", "air_temp_c": 1}`, "station", "ID of a station"},
		"another station":  {`{"station": "x", "at": "2026-04-09T12:00:00Z", "air_temp_c": 1}`, "station", "no such station"},
		"not an object":    {`[1, 2]`, "", "not an object"},
		"a bare number":    {`7`, "", "not an object"},
		"a great many":     {`{` + head + strings.Repeat(`, "x": 1`, 1) + manyNames(80) + `}`, "", "at most 64"},
	} {
		t.Run(name, func(t *testing.T) {
			rows := []string{c.row, good}
			if name == "time twice" {
				rows = []string{good, c.row}
				c.field, c.why = "air_temp_c", "row 1 already"
			}
			p := push(t, "["+strings.Join(rows, ",")+"]", PushLimits{Stations: []string{"s"}})
			found := false
			for _, r := range p.Refused {
				found = found || r.Field == c.field && strings.Contains(r.Why, c.why) && r.Line > 0
			}
			if !found || p.RefusedTotal != len(p.Refused) || p.Rows != 2 {
				t.Errorf("%+v", p)
			}
			if len(p.Batches) != 1 || len(p.Batches[0].Samples) < 1 {
				t.Errorf("the good row was lost: %+v", p)
			}
		})
	}
}

func manyNames(n int) (s string) {
	for i := range n {
		s += fmt.Sprintf(`, "n%d": 1`, i)
	}
	return s
}

func TestPushErrors(t *testing.T) {
	row := `{"station": "s", "at": "2026-04-09T13:00:00Z", "air_temp_c": 1}`
	for name, c := range map[string]struct {
		text   string
		limits PushLimits
		want   string
	}{
		"empty":      {"", PushLimits{}, "empty"},
		"object":     {row, PushLimits{}, "an array of rows"},
		"number":     {"5", PushLimits{}, "an array of rows"},
		"truncated":  {"[" + row, PushLimits{}, "cut off"},
		"half a row": {"[" + row[:30], PushLimits{}, "cut off"},
		"two":        {"[" + row + "] []", PushLimits{}, "more text"},
		"syntax":     {"[" + row + ",]", PushLimits{}, "invalid"},
		"too large":  {"[" + row + "]", PushLimits{MaxBytes: 20}, "larger than 20"},
		"rows":       {"[" + row + "," + row + "]", PushLimits{MaxRows: 1}, "more than 1 rows"},
		"UTF-16":     {"\xff\xfe[\x00]\x00", PushLimits{}, "UTF-16"},
	} {
		_, err := DecodePush(strings.NewReader(c.text), c.limits)
		wantError(t, name, err, c.want)
	}
	if p := push(t, "[]", PushLimits{}); p.Rows != 0 || len(p.Batches) != 0 {
		t.Errorf("%+v", p)
	}
	deep := "[" + strings.Repeat("[", 9000) + strings.Repeat("]", 9000) + "]"
	if p := push(t, deep, PushLimits{}); p.RefusedTotal != 1 {
		t.Errorf("deep nesting: %+v", p)
	}
	var b strings.Builder
	for i := range 150 {
		fmt.Fprintf(&b, `,{"station": "s%d", "at": "2026-04-09T13:00:00Z", "air_temp_c": 1}`, i)
	}
	if p := push(t, "["+b.String()[1:]+"]", PushLimits{}); len(p.Batches) != maxPushStations || p.RefusedTotal != 50 {
		t.Errorf("%d batches, %d refused", len(p.Batches), p.RefusedTotal)
	}
}

// Every variable can be pushed under the name it has everywhere.
func TestPushNames(t *testing.T) {
	for _, name := range weather.VariableNames() {
		p := push(t, `[{"station": "s", "at": "2026-04-09T13:00:00Z", "`+name+`": 0.5}]`, PushLimits{})
		if p.RefusedTotal != 0 || len(p.Batches) != 1 || len(p.Batches[0].Samples) != 1 || p.Batches[0].Samples[0].Var.String() != name || p.Batches[0].Samples[0].Value != 0.5 {
			t.Errorf("%s: %+v", name, p)
		}
	}
}

func FuzzPush(f *testing.F) {
	f.Add([]byte(`[{"station": "s", "at": "2026-04-09T13:00:00Z", "air_temp_c": -0.4, "rh_pct": null}]`))
	f.Add([]byte(`[[], {"station": "s", "at": "x"}, {"a": {"b": []}}, 5, null, "x"]`))
	f.Fuzz(func(t *testing.T, text []byte) {
		fed := time.Date(2026, 4, 9, 14, 0, 0, 0, time.UTC)
		p, err := DecodePush(strings.NewReader(string(text)), PushLimits{FedAt: fed})
		if err != nil {
			if _, ok := err.(*Error); !ok || err.Error() == "" || len(p.Batches) != 0 {
				t.Fatalf("error %T %v", err, err)
			}
			return
		}
		if p.Taken > p.Rows || len(p.Refused) > weather.MaxRefused || p.RefusedTotal < len(p.Refused) {
			t.Fatalf("%+v", p)
		}
		for _, b := range p.Batches {
			checkBatch(t, b, nil)
		}
	})
}
