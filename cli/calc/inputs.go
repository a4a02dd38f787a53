package calc

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"budward/physics/quantity"
	"budward/physics/sky"
)

// inputs are the texts given for one formula. Its readers return zero once
// anything has gone wrong; the first error is kept.
type inputs struct {
	f        *Formula
	text     map[string]string
	used     map[string]bool
	err      error
	echo     []Item
	defaults []string
}

// fail keeps the first error.
func (in *inputs) fail(err error) {
	if in.err == nil {
		in.err = err
	}
}

func (in *inputs) refuse(key, want string) {
	in.fail(&InputError{Formula: in.f.Name, Key: key, Value: in.text[key], Want: want})
}

// has says whether a key was given.
func (in *inputs) has(keys ...string) bool {
	for _, k := range keys {
		if _, ok := in.text[k]; !ok {
			return false
		}
	}
	return true
}

// or gives a key a default, which is listed in the answer.
func (in *inputs) or(key, text, why string) {
	if !in.has(key) {
		in.text[key] = text
		in.defaults = append(in.defaults, fmt.Sprintf("%s = %s (%s)", key, text, why))
	}
}

// unused refuses keys that the other inputs leave without a meaning.
func (in *inputs) unused() {
	for _, k := range in.f.Keys {
		if in.has(k.Name) && !in.used[k.Name] {
			in.refuse(k.Name, "not used beside the other inputs; "+in.f.Sets)
			return
		}
	}
}

// take returns the text of a key that must be there.
func (in *inputs) take(key string) (string, bool) {
	in.used[key] = true
	if in.err != nil {
		return "", false
	}
	v, ok := in.text[key]
	if !ok {
		example := ""
		for _, k := range in.f.Keys {
			if k.Name == key {
				example = k.Means + ", such as " + key + "=" + k.Example
			}
		}
		in.refuse(key, "is missing: "+example)
	}
	return v, ok
}

// parsed reads a key with parse and echoes it under echo, its name with the
// unit.
func parsed[Q ~float64](in *inputs, key, echo string, parse func(string) (Q, error)) Q {
	text, ok := in.take(key)
	if !ok {
		return 0
	}
	v, err := parse(text)
	if err != nil {
		var ue *quantity.UnitError
		want := err.Error()
		if errors.As(err, &ue) {
			want = fmt.Sprintf("%s; write a number and one of %s, such as %s=%s", ue.Why, strings.Join(ue.Accepted, ", "), key, ue.Example)
		}
		in.fail(&InputError{in.f.Name, key, text, want, err})
		return 0
	}
	in.echo = append(in.echo, Item{echo, key, float64(v), plain(text)})
	return v
}

func (in *inputs) celsius(key string) quantity.Celsius {
	return parsed(in, key, key+"_c", quantity.ParseCelsius)
}

func (in *inputs) percent(key string) quantity.Share {
	return parsed(in, key, key+"_fraction", quantity.ParsePercent)
}

func (in *inputs) share(key string) float64 {
	return float64(parsed(in, key, key+"_fraction", quantity.ParseShare))
}

func (in *inputs) moisture(key string) float64 {
	return float64(parsed(in, key, key+"_m3_m3", quantity.ParseShare))
}

func (in *inputs) metres(key string) quantity.Metre {
	return parsed(in, key, key+"_m", quantity.ParseLength)
}

func (in *inputs) kilopascal(key string) quantity.Kilopascal {
	return parsed(in, key, key+"_kpa", quantity.ParsePressure)
}

func (in *inputs) wind(key string) quantity.MetrePerSecond {
	return parsed(in, key, key+"_m_s", quantity.ParseWind)
}

func (in *inputs) rate(key string) quantity.MillimetrePerHour {
	return parsed(in, key, key+"_mm_h", quantity.ParseRate)
}

func (in *inputs) lat() quantity.Degree { return parsed(in, "lat", "lat_deg", quantity.ParseLatitude) }
func (in *inputs) lon() quantity.Degree { return parsed(in, "lon", "lon_deg", quantity.ParseLongitude) }

// hours reads a length of time; the key says hours, so a bare number is one.
func (in *inputs) hours(key string) float64 {
	return parsed(in, key, key+"_h", func(s string) (float64, error) {
		if v, err := strconv.ParseFloat(s, 64); err == nil && !math.IsInf(v, 0) {
			return v, nil
		}
		d, err := quantity.ParseDuration(s)
		return d.Hours(), err
	})
}

// bare reads a number that has no unit.
func (in *inputs) bare(key string) float64 {
	return parsed(in, key, key, func(s string) (float64, error) {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
			return 0, &InputError{in.f.Name, key, s, "a number without a unit", err}
		}
		return v, nil
	})
}

// whole reads a whole number.
func (in *inputs) whole(key string) int {
	v := in.bare(key)
	if in.err == nil && (v != math.Trunc(v) || math.Abs(v) > 1e9) {
		in.refuse(key, "a whole number")
	}
	return int(v)
}

// word reads one of a few words.
func (in *inputs) word(key string, allowed ...string) string {
	text, ok := in.take(key)
	if !ok {
		return ""
	}
	text = strings.ToLower(text)
	for _, a := range allowed {
		if text == a {
			in.echo = append(in.echo, Item{key, key, text, plain(text)})
			return text
		}
	}
	in.refuse(key, "one of "+strings.Join(allowed, ", "))
	return ""
}

// name reads free text.
func (in *inputs) name(key string) string {
	text, ok := in.take(key)
	if ok {
		in.echo = append(in.echo, Item{key, key, text, plain(text)})
	}
	return text
}

func (in *inputs) date() sky.Date {
	text, ok := in.take("date")
	if !ok {
		return sky.Date{}
	}
	d, err := sky.ParseDate(text)
	if err != nil {
		in.fail(&InputError{in.f.Name, "date", text, err.Error(), err})
		return d
	}
	in.echo = append(in.echo, Item{"date", "date", d.String(), plain(d.String())})
	return d
}

// zone reads an IANA zone or a fixed offset such as UTC-8 or +05:30.
func (in *inputs) zone() *time.Location {
	text, ok := in.take("zone")
	if !ok {
		return time.UTC
	}
	z, err := Zone(text)
	if err != nil {
		in.fail(&InputError{in.f.Name, "zone", text, err.Error(), err})
		return time.UTC
	}
	in.echo = append(in.echo, Item{"zone", "zone", text, plain(text)})
	return z
}

// Zone reads an IANA time zone such as America/Los_Angeles, or a fixed offset
// such as UTC-8 or +05:30.
func Zone(text string) (*time.Location, error) {
	s := strings.TrimSpace(text)
	off := strings.TrimPrefix(strings.TrimPrefix(strings.ToUpper(s), "UTC"), "GMT")
	switch {
	case s == "" || strings.EqualFold(s, "local"):
		return nil, fmt.Errorf("a time zone such as America/Los_Angeles, UTC or UTC-8")
	case off == "" || off == "Z":
		return time.UTC, nil
	}
	for _, layout := range []string{"-07:00", "-0700", "-07", "-7"} {
		if t, err := time.Parse(layout, off); err == nil {
			_, seconds := t.Zone()
			return time.FixedZone(s, seconds), nil
		}
	}
	// "-8" with one digit.
	if n, err := strconv.Atoi(off); err == nil && n >= -12 && n <= 14 && (off[0] == '-' || off[0] == '+') {
		return time.FixedZone(s, n*3600), nil
	}
	z, err := time.LoadLocation(s)
	if err != nil {
		return nil, fmt.Errorf("a time zone such as America/Los_Angeles, UTC or UTC-8; %q is not known", s)
	}
	return z, nil
}

// significant prints a number to about four digits, never as 1e-05 within the
// sizes met here.
func significant(v float64) string {
	a := math.Abs(v)
	switch {
	case math.IsNaN(v):
		return quantity.Unknown
	case a != 0 && a < 1e-4:
		return strconv.FormatFloat(v, 'e', 3, 64)
	case a >= 1000:
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	digits := 3
	for limit := 10.0; a >= limit && digits > 1; limit *= 10 {
		digits--
	}
	if a < 1 {
		digits = 4
	}
	return strconv.FormatFloat(v, 'f', digits, 64)
}

func percent(v float64) string { return quantity.Percent(quantity.Share(v)) }
