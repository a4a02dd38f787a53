package feed

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"budward/decide/weather"
)

// layers are the parts of a gridpoint forecast that are taken, in fixed order.
var layers = []struct {
	name string
	v    weather.Variable
}{
	{"temperature", weather.AirTemp},
	{"dewpoint", weather.DewPoint},
	{"relativeHumidity", weather.RelHumidity},
	{"windSpeed", weather.Wind},
	{"skyCover", weather.Cloud},
	{"quantitativePrecipitation", weather.Rain},
}

// maxInterval bounds one interval of a gridpoint forecast.
const maxInterval = 16 * 24 * time.Hour

type gridLayer struct {
	UOM    string `json:"uom"`
	Values []struct {
		ValidTime string   `json:"validTime"`
		Value     *float64 `json:"value"`
	} `json:"values"`
}

// decodeGridpoint reads the forecast grid data JSON of the US weather service
// (api.weather.gov, /gridpoints/{office}/{x},{y}). A value holds over an
// interval "start/duration" and is written to each hour that begins in it; rain
// is a total over the interval and is spread evenly over its hours. A null is a
// gap. The issue time is updateTime. Units are those the file states; one that
// is not known stops the reading.
func decodeGridpoint(b *weather.Batch, text []byte) error {
	b.Kind = weather.Forecast
	var doc map[string]json.RawMessage
	if err := strictJSON(text, &doc); err != nil {
		return jsonError(b.Origin, text, err)
	}
	props := doc
	if raw, ok := doc["properties"]; ok {
		props = nil
		if err := json.Unmarshal(raw, &props); err != nil || props == nil {
			return &Error{Origin: b.Origin, Field: "properties", Value: short(string(raw)), Want: "an object", Err: err}
		}
	}
	if err := gridHead(b, props); err != nil {
		return err
	}
	for _, l := range layers {
		raw, ok := props[l.name]
		if !ok || string(raw) == "null" {
			if l.v == weather.AirTemp {
				return &Error{Origin: b.Origin, Field: l.name, Value: "missing", Want: "a forecast with temperature"}
			}
			b.Notes = append(b.Notes, "no "+l.name+" in the forecast")
			continue
		}
		var layer gridLayer
		if err := json.Unmarshal(raw, &layer); err != nil {
			return &Error{Origin: b.Origin, Field: l.name, Value: short(err.Error()), Want: "uom and a list of validTime and value", Err: err}
		}
		if len(layer.Values) == 0 {
			if l.v == weather.AirTemp {
				return &Error{Origin: b.Origin, Field: l.name, Value: "no values", Want: "a forecast with temperature"}
			}
			b.Notes = append(b.Notes, "no "+l.name+" in the forecast")
			continue
		}
		if err := expandLayer(b, l.name, l.v, &layer); err != nil {
			return err
		}
	}
	return nil
}

// strictJSON decodes one JSON value and nothing after it.
func strictJSON(text []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	if err := d.Decode(into); err != nil {
		return err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("more text after the end of the JSON value")
	}
	return nil
}

func jsonError(origin string, text []byte, err error) error {
	e := &Error{Origin: origin, Value: err.Error(), Want: "a whole JSON file", Err: err}
	var syn *json.SyntaxError
	switch {
	case errors.As(err, &syn) && syn.Offset <= int64(len(text)):
		e.Line = 1 + bytes.Count(text[:syn.Offset], []byte("\n"))
	case errors.Is(err, io.ErrUnexpectedEOF):
		e.Value = "cut off before its end"
	}
	return e
}

// gridHead reads issue time and elevation.
func gridHead(b *weather.Batch, props map[string]json.RawMessage) error {
	var update string
	if err := json.Unmarshal(props["updateTime"], &update); err != nil {
		return &Error{Origin: b.Origin, Field: "updateTime", Value: "missing", Want: "the time of issue, such as 2024-02-20T17:13:54+00:00", Err: err}
	}
	issued, err := time.Parse(time.RFC3339, update)
	if err != nil {
		return &Error{Origin: b.Origin, Field: "updateTime", Value: short(update), Want: wantTime(update), Err: err}
	}
	b.IssuedAt = issued.UTC()
	raw, ok := props["elevation"]
	if !ok {
		return nil
	}
	var elev struct {
		UnitCode string   `json:"unitCode"`
		Value    *float64 `json:"value"`
	}
	if err := json.Unmarshal(raw, &elev); err != nil || elev.Value == nil {
		b.Refuse(weather.Refusal{Origin: b.Origin, Field: "elevation", Value: short(string(raw)), Why: "not a value with a unit"})
		return nil
	}
	if unitCode(elev.UnitCode) != "m" {
		b.Refuse(weather.Refusal{Origin: b.Origin, Field: "elevation", Value: short(elev.UnitCode), Why: "unit not known; want wmoUnit:m"})
		return nil
	}
	b.ElevationM, b.HasElevation = *elev.Value, true
	return nil
}

func wantTime(got string) string {
	want := "a time such as 2024-02-20T11:00:00+00:00"
	if strings.HasPrefix(got, "date:") {
		want += "; this is a template with placeholders for times, not a forecast"
	}
	return want
}

// unitCode strips the vocabulary from a unit such as wmoUnit:degC.
func unitCode(uom string) string {
	for _, p := range []string{"wmoUnit:", "unit:", "nwsUnit:"} {
		if code, ok := strings.CutPrefix(uom, p); ok {
			return code
		}
	}
	return uom
}

// gridUnits maps WMO unit codes to the names used in units.go.
var gridUnits = map[string]string{
	"degC": "c", "degF": "f", "K": "k", "percent": "%",
	"km_h-1": "km/h", "m_s-1": "m/s", "kt": "kt", "mi_h-1": "mph", "mm": "mm", "m": "m", "in": "in",
}

func expandLayer(b *weather.Batch, name string, v weather.Variable, layer *gridLayer) error {
	code := unitCode(layer.UOM)
	conv, ok := unitFor(v, gridUnits[code])
	if !ok {
		return &Error{Origin: b.Origin, Field: name + ".uom", Value: strconv.Quote(short(layer.UOM)),
			Want: "one of " + strings.Join(gridUnitsFor(v), ", ")}
	}
	for i, val := range layer.Values {
		field := fmt.Sprintf("%s value %d", name, i+1)
		start, span, err := parseInterval(val.ValidTime)
		if err != nil {
			if strings.HasPrefix(val.ValidTime, "date:") {
				return &Error{Origin: b.Origin, Field: field, Value: short(val.ValidTime), Want: wantTime(val.ValidTime), Err: err}
			}
			b.Refuse(weather.Refusal{Origin: b.Origin, Line: i + 1, Field: field, Value: short(val.ValidTime), Why: err.Error()})
			continue
		}
		hours := int(span / time.Hour)
		if val.Value == nil {
			b.Gaps += hours
			continue
		}
		x := conv.apply(*val.Value)
		if math.IsInf(x, 0) {
			b.Refuse(weather.Refusal{Origin: b.Origin, Line: i + 1, Field: field, Value: fmt.Sprint(*val.Value), Why: "too large a number"})
			continue
		}
		if v == weather.Rain {
			x /= float64(hours)
		}
		if len(b.Samples)+hours > MaxSamples {
			return &Error{Origin: b.Origin, Field: field, Value: "too many values", Want: fmt.Sprintf("at most %d", MaxSamples)}
		}
		for h := range hours {
			b.Samples = append(b.Samples, weather.Sample{At: start.Add(time.Duration(h) * time.Hour), Var: v, Value: x})
		}
	}
	return nil
}

func gridUnitsFor(v weather.Variable) []string {
	var out []string
	for _, code := range []string{"degC", "degF", "K", "percent", "km_h-1", "m_s-1", "kt", "mi_h-1", "mm", "m", "in"} {
		if _, ok := unitFor(v, gridUnits[code]); ok {
			out = append(out, "wmoUnit:"+code)
		}
	}
	return out
}

// parseInterval reads "start/duration" with a duration of whole hours.
func parseInterval(s string) (time.Time, time.Duration, error) {
	a, d, ok := strings.Cut(s, "/")
	if !ok {
		return time.Time{}, 0, errors.New("not start/duration, such as 2024-02-20T11:00:00+00:00/PT3H")
	}
	start, err := time.Parse(time.RFC3339, a)
	if err != nil {
		return time.Time{}, 0, errors.New("start is not a time such as 2024-02-20T11:00:00+00:00")
	}
	if y := start.Year(); y < 1900 || y > 2200 {
		return time.Time{}, 0, errors.New("year outside 1900 to 2200")
	}
	span, err := parseDuration(d)
	if err != nil {
		return time.Time{}, 0, err
	}
	return start.UTC(), span, nil
}

// parseDuration reads an ISO 8601 duration of days, hours and minutes that
// comes to whole hours, at least one: PT1H, P1DT6H, P7D, PT120M.
func parseDuration(s string) (time.Duration, error) {
	bad := errors.New("duration is not like PT3H or P1DT6H, of whole hours, at most 16 days")
	rest, ok := strings.CutPrefix(s, "P")
	if !ok || rest == "" {
		return 0, bad
	}
	days, clock, hasT := strings.Cut(rest, "T")
	if hasT && clock == "" {
		return 0, bad
	}
	total := time.Duration(0)
	for _, part := range []struct {
		text, units string
	}{{days, "D"}, {clock, "HM"}} {
		text, units := part.text, part.units
		for text != "" {
			n := 0
			for n < len(text) && text[n] >= '0' && text[n] <= '9' {
				n++
			}
			if n == 0 || n > 4 || n == len(text) {
				return 0, bad
			}
			k := strings.IndexByte(units, text[n])
			if k < 0 {
				return 0, bad
			}
			count, err := strconv.Atoi(text[:n])
			if err != nil {
				return 0, bad
			}
			total += time.Duration(count) * map[byte]time.Duration{'D': 24 * time.Hour, 'H': time.Hour, 'M': time.Minute}[text[n]]
			units, text = units[k+1:], text[n+1:]
		}
	}
	if total < time.Hour || total > maxInterval || total%time.Hour != 0 {
		return 0, bad
	}
	return total, nil
}
