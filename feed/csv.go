package feed

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"budward/decide/weather"
)

// decodeCSV reads forecasts or readings from text with a header line. What the
// columns are comes from opts.Header or from clear names with their unit. Rows
// that cannot be read are refused one by one; a column whose unit is not
// stated, or numbers with decimal commas that were not announced, stop the
// reading.
func decodeCSV(b *weather.Batch, text []byte, opts *Options) error {
	if err := csvOptions(b, opts); err != nil {
		return err
	}
	t, err := openTable(b.Origin, text, opts)
	if err != nil {
		return err
	}
	cols, err := t.columns(b, opts)
	if err != nil {
		return err
	}
	rows, err := t.rows(b, cols)
	if err != nil {
		return err
	}
	times := make([]rowTime, len(rows))
	for i, r := range rows {
		s := cols.timeText(r.fields)
		times[i].stamp, times[i].err = parseStamp(s, opts.DateOrder)
	}
	resolve(times, cols.zone)
	seen := make(map[int64]int)
	for i, r := range rows {
		if times[i].err != nil {
			b.Refuse(weather.Refusal{Origin: b.Origin, Line: r.line, Field: cols.timeName, Value: short(cols.timeText(r.fields)), Why: times[i].err.Error()})
			continue
		}
		key := times[i].at.UnixNano()
		if first, ok := seen[key]; ok {
			b.Refuse(weather.Refusal{Origin: b.Origin, Line: r.line, Field: cols.timeName, Value: short(cols.timeText(r.fields)),
				Why: fmt.Sprintf("the time of line %d again; the first counts", first)})
			continue
		}
		seen[key] = r.line
		if err := cols.values(b, r, times[i].at, opts); err != nil {
			return err
		}
	}
	return finishRain(b, cols)
}

func csvOptions(b *weather.Batch, opts *Options) error {
	b.Kind = opts.Kind
	switch {
	case opts.Kind != weather.Reading && opts.Kind != weather.Forecast:
		return &Error{Origin: b.Origin, Field: "kind", Value: fmt.Sprintf("%q", opts.Kind), Want: "reading or forecast; a CSV does not say which it is"}
	case opts.Kind == weather.Forecast && opts.IssuedAt.IsZero():
		return &Error{Origin: b.Origin, Field: "issue time", Value: "missing", Want: "when the forecast was issued; a CSV does not say"}
	case opts.DateOrder != "" && strokeLayouts[opts.DateOrder] == nil:
		return &Error{Origin: b.Origin, Field: "date order", Value: fmt.Sprintf("%q", opts.DateOrder), Want: "mdy or dmy"}
	}
	if opts.Kind == weather.Forecast {
		b.IssuedAt = opts.IssuedAt.UTC()
	}
	return nil
}

// table is a CSV opened at its header.
type table struct {
	origin string
	r      *csv.Reader
	sep    rune
	header []string
	line   int // of the header
}

func openTable(origin string, text []byte, opts *Options) (*table, error) {
	first, _, _ := bytes.Cut(bytes.TrimLeft(text, "\r\n"), []byte("\n"))
	t := &table{origin: origin, sep: ','}
	most := 0
	for _, sep := range []rune{',', ';', '\t'} {
		if n := bytes.Count(first, []byte(string(sep))); n > most {
			t.sep, most = sep, n
		}
	}
	if opts.DecimalComma && t.sep == ',' {
		return nil, &Error{Origin: origin, Line: 1, Value: "columns separated by commas, with decimal commas announced", Want: "columns separated by semicolons or tabs"}
	}
	t.r = csv.NewReader(bytes.NewReader(text))
	t.r.Comma = t.sep
	t.r.FieldsPerRecord = -1
	h, err := t.r.Read()
	if err != nil {
		return nil, &Error{Origin: origin, Line: 1, Field: "header", Value: err.Error(), Want: "a header line", Err: err}
	}
	t.line, _ = t.r.FieldPos(0)
	for i := range h {
		h[i] = strings.TrimSpace(h[i])
	}
	for len(h) > 1 && h[len(h)-1] == "" {
		h = h[:len(h)-1] // a separator at the end of every line
	}
	if len(h) > MaxColumns {
		return nil, &Error{Origin: origin, Line: t.line, Field: "header", Value: fmt.Sprintf("%d columns", len(h)), Want: fmt.Sprintf("at most %d", MaxColumns)}
	}
	t.header = h
	return t, nil
}

// columnSet says where in a row what is found.
type columnSet struct {
	time, clock int // clock is -1 when time holds both
	timeName    string
	zone        *time.Location // of times without an offset; nil = not known
	vars        []valueColumn
	width       int // columns in the header
	rainRate    bool
}

type valueColumn struct {
	at   int
	name string
	v    weather.Variable
	conv conversion
}

func (c *columnSet) timeText(fields []string) string {
	s := strings.TrimSpace(fields[c.time])
	if c.clock >= 0 {
		s += " " + strings.TrimSpace(fields[c.clock])
	}
	return s
}

func (t *table) columns(b *weather.Batch, opts *Options) (*columnSet, error) {
	m := opts.Header
	if m == nil {
		var ignored []string
		var err error
		if m, ignored, err = guessHeader(t.origin, t.line, t.header); err != nil {
			return nil, err
		}
		if len(ignored) > 0 {
			b.Notes = append(b.Notes, short2("columns not used: "+strings.Join(ignored, ", "), 500))
		}
	} else if err := m.check(); err != nil {
		return nil, err
	}
	c := &columnSet{clock: -1, width: len(t.header)}
	var err error
	if d, ok := m[keyDate]; ok {
		c.timeName = d.Name + " + " + m[keyClock].Name
		if c.time, err = t.find(d.Name); err == nil {
			c.clock, err = t.find(m[keyClock].Name)
		}
	} else {
		c.timeName = m[keyTime].Name
		c.time, err = t.find(c.timeName)
	}
	if err != nil {
		return nil, err
	}
	c.zone = zoneOf(b, c.timeName, opts.Zone)
	for v := range weather.NumVariables {
		col, ok := m[baseName(v)]
		if !ok {
			continue
		}
		at, err := t.find(col.Name)
		if err != nil {
			return nil, err
		}
		unit := col.Unit
		if unit == "" {
			_, written := splitUnit(col.Name)
			unit = plainUnit(written)
		}
		conv, ok := unitFor(v, plainOr(unit))
		if !ok {
			return nil, noUnit(t.origin, t.line, col.Name, col.Unit, v)
		}
		c.rainRate = c.rainRate || conv.dim == waterRate
		c.vars = append(c.vars, valueColumn{at, col.Name, v, conv})
	}
	if opts.Kind == weather.Forecast && m[baseName(weather.AirTemp)].Name == "" {
		return nil, &Error{Origin: t.origin, Line: t.line, Field: "header", Value: "no air temperature", Want: "a forecast with air temperature, such as a column air_temp_c"}
	}
	return c, nil
}

// zoneOf returns the zone of times without an offset: UTC where the name of the
// column says so, else the zone stated.
func zoneOf(b *weather.Batch, name string, stated *time.Location) *time.Location {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return r < 'a' || r > 'z' })
	if !slices.Contains(words, "utc") && !slices.Contains(words, "gmt") {
		return stated
	}
	if stated != nil && stated != time.UTC {
		b.Notes = append(b.Notes, fmt.Sprintf("times are taken as UTC, as column %q says, not as %s", short(name), stated))
	}
	return time.UTC
}

// plainOr lets a HeaderMap made in code carry any known way to write a unit.
func plainOr(unit string) string {
	if p := plainUnit(unit); p != "" {
		return p
	}
	return unit
}

// find returns the position of a column by its name, exact or but for case.
func (t *table) find(name string) (int, error) {
	var hits []int
	for i, h := range t.header {
		if h == name {
			hits = append(hits, i)
		}
	}
	if hits == nil {
		for i, h := range t.header {
			if strings.EqualFold(h, strings.TrimSpace(name)) {
				hits = append(hits, i)
			}
		}
	}
	switch len(hits) {
	case 1:
		return hits[0], nil
	case 0:
		return 0, &Error{Origin: t.origin, Line: t.line, Field: "header", Value: fmt.Sprintf("no column %q", short(name)),
			Want: short2("one of "+strings.Join(t.header, ", "), 300)}
	}
	return 0, &Error{Origin: t.origin, Line: t.line, Field: "header", Value: fmt.Sprintf("%d columns %q", len(hits), short(name)), Want: "each name once"}
}

type row struct {
	line   int
	fields []string
}

// rows reads all rows of the right width; others are refused.
func (t *table) rows(b *weather.Batch, c *columnSet) ([]row, error) {
	var out []row
	for {
		f, err := t.r.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			b.Refuse(weather.Refusal{Origin: t.origin, Line: pe.StartLine, Value: pe.Err.Error(), Why: "the line cannot be taken apart (quotes)"})
			continue
		}
		if err != nil {
			return nil, &Error{Origin: t.origin, Value: err.Error(), Want: "readable text", Err: err}
		}
		line, _ := t.r.FieldPos(0)
		extra := f[min(c.width, len(f)):]
		if len(f) < c.width || slices.ContainsFunc(extra, func(s string) bool { return strings.TrimSpace(s) != "" }) {
			if len(f) == 1 && strings.TrimSpace(f[0]) == "" {
				continue
			}
			why := fmt.Sprintf("the header has %d columns; cut off, or a separator inside a value", c.width)
			b.Refuse(weather.Refusal{Origin: t.origin, Line: line, Value: fmt.Sprintf("%d columns", len(f)), Why: why})
			continue
		}
		if len(out) >= MaxRows {
			return nil, &Error{Origin: t.origin, Line: line, Value: "too many rows", Want: fmt.Sprintf("at most %d", MaxRows)}
		}
		out = append(out, row{line, f})
	}
}

// values takes the values of one row.
func (c *columnSet) values(b *weather.Batch, r row, at time.Time, opts *Options) error {
	for _, col := range c.vars {
		s := strings.TrimSpace(r.fields[col.at])
		if isMissing(s, opts.DecimalComma) {
			b.Gaps++
			continue
		}
		x, why := parseNumber(s, opts.DecimalComma)
		if why == whyComma {
			return &Error{Origin: b.Origin, Line: r.line, Field: col.name, Value: short(s),
				Want: "numbers with a decimal point, or decimal commas announced and columns separated by semicolons or tabs"}
		}
		if why != "" {
			b.Refuse(weather.Refusal{Origin: b.Origin, Line: r.line, Field: col.name, Value: short(s), Why: why})
			continue
		}
		if len(b.Samples) >= MaxSamples {
			return &Error{Origin: b.Origin, Line: r.line, Value: "too many values", Want: fmt.Sprintf("at most %d", MaxSamples)}
		}
		x = col.conv.apply(x)
		if math.IsInf(x, 0) {
			b.Refuse(weather.Refusal{Origin: b.Origin, Line: r.line, Field: col.name, Value: short(s), Why: "too large a number"})
			continue
		}
		b.Samples = append(b.Samples, weather.Sample{At: at, Var: col.v, Value: x})
	}
	return nil
}

// missingWords and missingNumbers are ways in which files write "no value".
var missingWords = map[string]bool{"": true, "na": true, "n/a": true, "nan": true, "null": true, "none": true, "nil": true, "-": true, "--": true, "---": true, "m": true, "missing": true}

var missingNumbers = []float64{-9999, -99999, -999999, -9999.9, -999, -999.9, -999.99, -99, -99.9, -99.99}

func isMissing(s string, comma bool) bool {
	if missingWords[strings.ToLower(s)] {
		return true
	}
	x, why := parseNumber(s, comma)
	return why == "" && slices.Contains(missingNumbers, x)
}

const whyComma = "decimal comma"

// parseNumber reads a plain decimal number, with a decimal comma when comma is
// set. why is empty when it can be read.
func parseNumber(s string, comma bool) (x float64, why string) {
	s = strings.Replace(s, "\u2212", "-", 1) // the typographic minus
	if comma {
		if strings.Contains(s, ".") && strings.Contains(s, ",") {
			return 0, "both a point and a comma"
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	if len(s) > 40 {
		return 0, "not a number"
	}
	for i, r := range s {
		switch {
		case r >= '0' && r <= '9', r == '.', r == '-' && i == 0, r == '+' && i == 0:
		case (r == 'e' || r == 'E' || r == '-' || r == '+') && i > 0:
		case r == ',' && !comma:
			if _, w := parseNumber(s, true); w == "" {
				return 0, whyComma
			}
			return 0, "not a number"
		default:
			return 0, "not a number; a unit belongs in the header"
		}
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return 0, "not a number"
	}
	return x, ""
}

// finishRain turns rain rates into amounts, and refuses amounts whose hour is
// not known.
func finishRain(b *weather.Batch, c *columnSet) error {
	var at []time.Time
	for _, s := range b.Samples {
		if s.Var == weather.Rain {
			at = append(at, s.At)
		}
	}
	if len(at) == 0 {
		return nil
	}
	step := usualStep(at)
	if c.rainRate {
		hours := math.Min(1, step.Hours())
		for i := range b.Samples {
			if b.Samples[i].Var == weather.Rain {
				b.Samples[i].Value *= hours
			}
		}
		return nil
	}
	if b.Kind == weather.Forecast && step > time.Hour {
		n := len(b.Samples)
		b.Samples = slices.DeleteFunc(b.Samples, func(s weather.Sample) bool { return s.Var == weather.Rain })
		b.Refuse(weather.Refusal{Origin: b.Origin, Field: baseName(weather.Rain), Value: fmt.Sprintf("%d amounts, one every %v", n-len(b.Samples), step),
			Why: "it is not said over which hours an amount falls; give rain hour by hour or as a rate (mm/h)"})
	}
	return nil
}

// usualStep is the median time between neighbours; an hour for fewer than two.
func usualStep(at []time.Time) time.Duration {
	if len(at) < 2 {
		return time.Hour
	}
	at = slices.Clone(at)
	slices.SortFunc(at, func(a, b time.Time) int { return a.Compare(b) })
	d := make([]time.Duration, len(at)-1)
	for i := range d {
		d[i] = at[i+1].Sub(at[i])
	}
	slices.Sort(d)
	return d[len(d)/2]
}
