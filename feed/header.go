package feed

import (
	"fmt"
	"strings"

	"budward/decide/weather"
)

// Column says which column of a CSV holds a variable and in what unit.
type Column struct {
	Name string // as in the header line
	Unit string // plain name such as "f"; empty: taken from the column's name
}

// HeaderMap says what the columns of a CSV are. Time, or Date and Clock, name
// the columns of time; Vars the columns of values.
type HeaderMap map[string]Column

// The keys of a HeaderMap that are not variables.
const (
	keyTime  = "time"
	keyDate  = "date"
	keyClock = "clock"
)

// ParseHeaderMap reads a map written as
//
//	time=Date Time, air_temp=Outside unit F, rh=Hum unit %, wind_m_s=WS
//
// that is key=column, optionally followed by "unit U". Keys are time (or date
// and clock, for two columns) and the names of variables, with or without
// their unit; with it (wind_m_s) that is the column's unit. A column name that
// holds a comma, or ends in what looks like a unit, is put in double quotes.
func ParseHeaderMap(text string) (HeaderMap, error) {
	m := HeaderMap{}
	parts, err := splitQuoted(text)
	if err != nil {
		return nil, err
	}
	for _, part := range parts {
		key, rest, ok := strings.Cut(part, "=")
		key, rest = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(rest)
		if !ok || key == "" || rest == "" {
			return nil, mapError(part, "key=column, such as air_temp=Outside unit F")
		}
		col, unit, err := splitColumn(rest)
		if err != nil {
			return nil, err
		}
		if key != keyTime && key != keyDate && key != keyClock {
			v, own, ok := variableKey(key)
			if !ok {
				return nil, mapError(key, "time, date, clock or one of "+strings.Join(variableKeys(), ", "))
			}
			if unit == "" {
				unit = own
			}
			if unit != "" {
				plain := plainUnit(unit)
				if _, ok := unitFor(v, plain); !ok {
					return nil, mapError(unit, "for "+key+" a unit out of "+strings.Join(unitsFor(v), ", "))
				}
				unit = plain
			}
			key = baseName(v)
		} else if unit != "" {
			return nil, mapError(part, "no unit for "+key)
		}
		if _, twice := m[key]; twice {
			return nil, mapError(key, "each key once")
		}
		m[key] = Column{Name: col, Unit: unit}
	}
	return m, m.check()
}

func (m HeaderMap) check() error {
	_, t := m[keyTime]
	_, d := m[keyDate]
	_, c := m[keyClock]
	switch {
	case t && (d || c), d != c:
		return mapError("columns of time", "either time, or both date and clock")
	case !t && !d:
		return mapError("no column of time", "time=..., or date=... and clock=...")
	case len(m) == 1 && t, len(m) == 2 && d:
		return mapError("no variable", "at least one of "+strings.Join(variableKeys(), ", "))
	}
	return nil
}

func mapError(value, want string) error {
	return &Error{Origin: "header map", Value: short(value), Want: want}
}

// splitQuoted cuts a text at commas outside double quotes.
func splitQuoted(text string) ([]string, error) {
	const longest = 10_000
	if len(text) > longest {
		return nil, mapError("longer than 10000 bytes", "a shorter header map")
	}
	var out []string
	start, quoted := 0, false
	for i := 0; i <= len(text); i++ {
		switch {
		case i == len(text) && quoted:
			return nil, mapError(text[start:], "a closing quote")
		case i == len(text) || text[i] == ',' && !quoted:
			if part := strings.TrimSpace(text[start:i]); part != "" {
				out = append(out, part)
			}
			start = i + 1
		case text[i] == '"':
			quoted = !quoted
		}
	}
	return out, nil
}

// splitColumn takes `Outside unit F` or `"Temp, out" unit F` apart.
func splitColumn(s string) (col, unit string, err error) {
	if s[0] == '"' {
		var ok bool
		col, s, ok = strings.Cut(s[1:], `"`)
		s = strings.TrimSpace(s)
		rest, hasUnit := strings.CutPrefix(s, "unit ")
		switch {
		case !ok, col == "", s != "" && !hasUnit:
			return "", "", mapError(s, `"column" unit U`)
		}
		return col, strings.TrimSpace(rest), nil
	}
	if i := strings.LastIndex(s, " unit "); i >= 0 {
		return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+len(" unit "):]), nil
	}
	return s, "", nil
}

// baseName is the variable's name without its unit: air_temp.
func baseName(v weather.Variable) string {
	s := v.String()
	for _, suf := range suffixes(v) {
		if b, ok := strings.CutSuffix(s, "_"+suf); ok {
			return b
		}
	}
	return s
}

func variableKeys() []string {
	var out []string
	for v := range weather.NumVariables {
		out = append(out, baseName(v))
	}
	return out
}

// variableKey reads a key of a header map: the base name, or with the ending of
// any unit.
func variableKey(key string) (v weather.Variable, unit string, ok bool) {
	for v := range weather.NumVariables {
		base := baseName(v)
		if key == base {
			return v, "", true
		}
		for _, suf := range suffixes(v) {
			if key == base+"_"+suf {
				return v, suf, true
			}
		}
	}
	return 0, "", false
}

// unitsFor lists the units a column of v may be in.
func unitsFor(v weather.Variable) []string {
	var out []string
	for _, d := range dimensions(v) {
		for _, u := range unitNames[d] {
			if unitFits(v, u.unit) {
				out = append(out, u.unit)
			}
		}
	}
	return out
}

// clearNames are column names that can mean one variable only, apart from the
// base names themselves; compared in lower case, with spaces for underscores
// and strokes.
var clearNames = map[string]weather.Variable{
	"temp": weather.AirTemp, "temperature": weather.AirTemp, "air temperature": weather.AirTemp, "tair": weather.AirTemp,
	"outdoor temperature": weather.AirTemp, "outside temperature": weather.AirTemp, "t air": weather.AirTemp,
	"temp min": weather.AirTempMin, "min temp": weather.AirTempMin, "minimum temperature": weather.AirTempMin, "low temp": weather.AirTempMin,
	"dewpoint": weather.DewPoint, "dew pt": weather.DewPoint, "dew point temperature": weather.DewPoint, "dewpoint temperature": weather.DewPoint,
	"humidity": weather.RelHumidity, "relative humidity": weather.RelHumidity,
	"wind speed": weather.Wind, "windspeed": weather.Wind, "ws": weather.Wind,
	"cloud cover": weather.Cloud, "sky cover": weather.Cloud, "clouds": weather.Cloud, "cloudcover": weather.Cloud,
	"precip": weather.Rain, "precipitation": weather.Rain, "rainfall": weather.Rain,
	"solar radiation": weather.Solar, "global radiation": weather.Solar, "ghi": weather.Solar,
	"surface temperature": weather.SurfaceTemp, "skin temperature": weather.SurfaceTemp,
	"barometric pressure": weather.Pressure, "station pressure": weather.Pressure,
}

var timeNames = map[string]bool{"time": true, "timestamp": true, "datetime": true, "date time": true, "valid time": true, "valid": true,
	"observed at": true, "at": true, "time utc": true, "utc": true, "utc time": true, "datetime utc": true, "local time": true, "time local": true}

// nameKey brings a column name to the form of clearNames.
func nameKey(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '_' || r == '-' || r == '\t' }), " ")
}

// splitUnit takes the unit off a column name: "Temp (°F)", "Temp [F]", temp_f.
func splitUnit(name string) (bare, unit string) {
	s := strings.TrimSpace(name)
	for _, br := range []string{"()", "[]"} {
		if i := strings.LastIndexByte(s, br[0]); i > 0 && s[len(s)-1] == br[1] {
			return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+1 : len(s)-1])
		}
	}
	low := strings.ToLower(s)
	best := ""
	for alias := range unitAlias {
		for _, sep := range []string{"_", " "} {
			if strings.HasSuffix(low, sep+alias) && len(alias) > len(best) && len(low) > len(alias)+1 {
				best = alias
			}
		}
	}
	if best == "" {
		return s, ""
	}
	return s[:len(s)-len(best)-1], best
}

// guess says what a column is from its name: a variable with or without a
// unit, or nothing.
func guess(name string) (v weather.Variable, unit string, ok bool) {
	bare, u := splitUnit(name)
	for _, try := range []struct{ bare, unit string }{{bare, u}, {name, ""}} {
		key := nameKey(try.bare)
		if v, found := clearNames[key]; found {
			return v, try.unit, true
		}
		if v, _, found := variableKey(strings.ReplaceAll(key, " ", "_")); found && nameKey(baseName(v)) == key {
			return v, try.unit, true
		}
	}
	return 0, "", false
}

// guessHeader makes a HeaderMap from clear names. Columns it does not know are
// returned as ignored. A variable without a unit, or named twice, is an error.
func guessHeader(origin string, line int, header []string) (m HeaderMap, ignored []string, err error) {
	m = HeaderMap{}
	add := func(key, name, unit string) error {
		if old, twice := m[key]; twice {
			return &Error{Origin: origin, Line: line, Field: "header", Value: fmt.Sprintf("both %q and %q could be %s", old.Name, name, key),
				Want: "a header map that says which"}
		}
		m[key] = Column{Name: name, Unit: unit}
		return nil
	}
	for _, name := range header {
		bare, _, _ := strings.Cut(name, "(")
		key := nameKey(bare)
		v, unit, ok := guess(name)
		switch {
		case timeNames[key]:
			err = add(keyTime, name, "")
		case key == "date":
			err = add(keyDate, name, "")
		case key == "clock" || key == "time of day":
			err = add(keyClock, name, "")
		case !ok:
			ignored = append(ignored, name)
		default:
			plain := plainUnit(unit)
			if _, fits := unitFor(v, plain); !fits {
				return nil, nil, noUnit(origin, line, name, unit, v)
			}
			err = add(baseName(v), name, plain)
		}
		if err != nil {
			return nil, nil, err
		}
	}
	// date and time as two columns: time is then the clock.
	if d, ok := m[keyDate]; ok {
		if t, two := m[keyTime]; two && m[keyClock].Name == "" {
			m[keyClock] = t
			delete(m, keyTime)
		} else if m[keyClock].Name == "" {
			m[keyTime] = d
			delete(m, keyDate)
		}
	}
	if err := m.check(); err != nil {
		e := err.(*Error)
		e.Origin, e.Line, e.Field = origin, line, "header"
		e.Value += fmt.Sprintf(" among the columns %q", header)
		e.Want += "; or a header map"
		e.Value = short2(e.Value, 300)
		return nil, nil, err
	}
	return m, ignored, nil
}

func short2(s string, most int) string {
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "..."
}

func noUnit(origin string, line int, name, unit string, v weather.Variable) error {
	value := fmt.Sprintf("column %q has no unit", short(name))
	if unit != "" {
		value = fmt.Sprintf("column %q: unit %q is not known for %s", short(name), short(unit), v.Label())
	}
	var accept []string
	for _, suf := range suffixes(v) {
		accept = append(accept, baseName(v)+"_"+suf)
	}
	return &Error{Origin: origin, Line: line, Field: "header", Value: value,
		Want: "one of " + strings.Join(accept, ", ") + `, a unit in brackets, or a header map such as ` + baseName(v) + "=" + short(name) + " unit " + unitsFor(v)[0]}
}
