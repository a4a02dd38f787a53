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
	"budward/physics/sky"
)

// Formats of daily records.
const (
	GHCNStation Format = "ghcnd-station" // GHCN-Daily by station: id,date,element,value,mflag,qflag,sflag,obstime
	GHCNTable   Format = "ghcnd-table"   // one row a day with columns date, TMIN, TMAX, PRCP
)

// DailyOptions say what a file of daily values cannot say of itself.
type DailyOptions struct {
	StationID string
	Format    Format // Unknown: found out from the first line
	FedAt     time.Time
	// TempUnit of a table, "c" or "f"; empty: found out where the values show it
	// beyond doubt, else the file is refused. GHCN-Daily keeps tenths of a degree
	// Celsius, so values that were converted to Fahrenheit betray it.
	TempUnit string
	MaxBytes int64 // 0: DefaultMaxBytes
}

// DecodeDaily reads a record of daily values: GHCN-Daily as published by station
// (NOAA NCEI; tenths of degC and of mm, with quality flags), or a table with one
// row a day. What fails the source's own quality checks is refused; the values
// are not yet screened: weather.ScreenDaily does that. An error is an *Error and
// means nothing was taken.
func DecodeDaily(name string, r io.Reader, opts DailyOptions) (weather.DailyRecord, error) {
	text, err := readAll(name, r, opts.MaxBytes)
	if err != nil {
		return weather.DailyRecord{}, err
	}
	rec := weather.DailyRecord{StationID: opts.StationID, Origin: name, FedAt: opts.FedAt}
	first, _, _ := bytes.Cut(bytes.TrimLeft(text, "\r\n"), []byte("\n"))
	format := opts.Format
	if format == Unknown {
		format = detectDaily(string(first))
	}
	switch format {
	case GHCNStation:
		err = decodeGHCN(&rec, text)
	case GHCNTable:
		err = decodeDailyTable(&rec, text, &opts)
	default:
		err = &Error{Origin: name, Line: 1, Value: fmt.Sprintf("begins with %q", short(string(first))),
			Want: "GHCN-Daily by station (id,date,element,value,...), or a table with the columns date, TMIN, TMAX", Err: ErrUnknownFormat}
	}
	if err != nil {
		return weather.DailyRecord{}, err
	}
	rec.SortDays()
	if !slices.ContainsFunc(rec.Days, func(d weather.Daily) bool { return !math.IsNaN(d.TMinC) || !math.IsNaN(d.TMaxC) }) {
		e := &Error{Origin: name, Value: fmt.Sprintf("no temperature could be taken (%d gaps, %d refused)", rec.Gaps, rec.RefusedTotal),
			Want: "at least one day with TMIN or TMAX"}
		if len(rec.Refused) > 0 {
			e.Line, e.Field = rec.Refused[0].Line, rec.Refused[0].Field
			e.Value += fmt.Sprintf("; first refusal: %q, %s", rec.Refused[0].Value, rec.Refused[0].Why)
		}
		return weather.DailyRecord{}, e
	}
	return rec, nil
}

func detectDaily(first string) Format {
	f := strings.Split(strings.ToLower(strings.TrimSpace(first)), ",")
	for i := range f {
		f[i] = strings.Trim(strings.TrimSpace(f[i]), `"`)
	}
	switch {
	case len(f) == ghcnFields && f[0] == "id" && f[2] == "element":
		return GHCNStation
	case len(f) == ghcnFields && len(f[0]) == 11 && isDigits(f[1], 8) && len(f[2]) == 4:
		return GHCNStation
	case slices.Contains(f, "date") && (slices.Contains(f, "tmin") || slices.Contains(f, "tmax")):
		return GHCNTable
	}
	return Unknown
}

func isDigits(s string, n int) bool {
	return len(s) == n && strings.Trim(s, "0123456789") == ""
}

// dailyLines walks the rows of a CSV and hands each with its line to row.
// Rows that cannot be taken apart, or have the wrong number of fields, are
// refused.
func dailyLines(rec *weather.DailyRecord, text []byte, fields int, row func(line int, f []string) error) error {
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord, r.ReuseRecord = -1, true
	rows := 0
	for {
		f, err := r.Read()
		var pe *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case errors.As(err, &pe):
			rec.Refuse(weather.Refusal{Origin: rec.Origin, Line: pe.StartLine, Value: pe.Err.Error(), Why: "the line cannot be taken apart (quotes)"})
			continue
		case err != nil:
			return &Error{Origin: rec.Origin, Value: err.Error(), Want: "readable text", Err: err}
		}
		line, _ := r.FieldPos(0)
		if len(f) == 1 && strings.TrimSpace(f[0]) == "" {
			continue
		}
		if rows++; rows > MaxRows {
			return &Error{Origin: rec.Origin, Line: line, Value: "too many rows", Want: fmt.Sprintf("at most %d", MaxRows)}
		}
		if fields == 0 {
			fields = len(f) // the header's
		}
		if len(f) != fields {
			rec.Refuse(weather.Refusal{Origin: rec.Origin, Line: line, Value: fmt.Sprintf("%d columns", len(f)),
				Why: fmt.Sprintf("a row has %d columns; cut off?", fields)})
			continue
		}
		for i := range f {
			f[i] = strings.TrimSpace(f[i])
		}
		if err := row(line, f); err != nil {
			return err
		}
	}
}

// ghcnFields is the number of columns of GHCN-Daily by station.
const ghcnFields = 8

// decodeGHCN reads GHCN-Daily by station as NOAA NCEI publishes it: no header,
// one element of one day a row,
//
//	USC00045532,19980607,TMIN,-28,,I,0,1800
//
// TMIN and TMAX in tenths of degC, PRCP in tenths of mm, -9999 missing. A
// quality flag means the value failed a check of the archive: it is refused. The
// measurement flag T is a trace of rain, P a missing amount presumed zero.
// Elements other than these three are counted and left. (Layout and flags: NOAA
// NCEI readme of GHCN-Daily, from memory.)
func decodeGHCN(rec *weather.DailyRecord, text []byte) error {
	d := ghcnReader{rec: rec, days: map[sky.Date]int{}, seen: map[string]int{}}
	if err := dailyLines(rec, text, ghcnFields, d.row); err != nil {
		return err
	}
	if d.station != "" {
		rec.Notes = append(rec.Notes, "station "+d.station+" of GHCN-Daily")
	}
	if d.others > 0 {
		rec.Notes = append(rec.Notes, fmt.Sprintf("%d rows of other elements were not used", d.others))
	}
	return nil
}

type ghcnReader struct {
	rec     *weather.DailyRecord
	station string
	days    map[sky.Date]int
	seen    map[string]int // element and date -> line
	others  int
}

func (g *ghcnReader) row(line int, f []string) error {
	refuse := func(field, value, why string) {
		g.rec.Refuse(weather.Refusal{Origin: g.rec.Origin, Line: line, Field: field, Value: short(value), Why: why})
	}
	id, element := f[0], strings.ToUpper(f[2])
	if strings.EqualFold(id, "id") {
		return nil // a header somebody put in
	}
	day, ok := compactDate(f[1])
	switch {
	case !ok:
		refuse("date", f[1], "not a day written YYYYMMDD between 1700 and 2200")
		return nil
	case g.station == "":
		g.station = strings.Clone(id)
	case id != g.station:
		refuse("id", id, "another station than "+g.station+" in the lines before")
		return nil
	}
	if element != "TMIN" && element != "TMAX" && element != "PRCP" {
		g.others++
		return nil
	}
	if first, twice := g.seen[element+f[1]]; twice {
		refuse(element, f[3], fmt.Sprintf("the day and element of line %d again; the first counts", first))
		return nil
	}
	g.seen[element+f[1]] = line
	v, err := strconv.Atoi(f[3])
	switch {
	case err != nil:
		refuse(element, f[3], "not a whole number")
		return nil
	case v == -9999:
		g.rec.Gaps++
		return nil
	case f[5] != "":
		refuse(element, f[3], "quality flag "+short(f[5])+" of the archive: the value failed a check")
		return nil
	}
	g.take(g.day(day), element, float64(v)/10, f[4])
	return nil
}

// day returns the row of a date, made when it is first met.
func (g *ghcnReader) day(d sky.Date) *weather.Daily {
	i, ok := g.days[d]
	if !ok {
		i = len(g.rec.Days)
		g.days[d] = i
		g.rec.Days = append(g.rec.Days, gapDay(d))
	}
	return &g.rec.Days[i]
}

func (g *ghcnReader) take(d *weather.Daily, element string, x float64, mflag string) {
	switch {
	case element == "TMIN":
		d.TMinC = x
	case element == "TMAX":
		d.TMaxC = x
	case mflag == "P":
		d.Flags |= weather.DailyPresumed
		g.rec.Gaps++
	default:
		d.PrecipMM = x
		if mflag == "T" {
			d.Flags |= weather.DailyTrace
		}
	}
}

func gapDay(d sky.Date) weather.Daily {
	nan := math.NaN()
	return weather.Daily{Date: d, TMinC: nan, TMaxC: nan, PrecipMM: nan}
}

// compactDate reads YYYYMMDD.
func compactDate(s string) (sky.Date, bool) {
	if !isDigits(s, 8) {
		return sky.Date{}, false
	}
	t, err := time.Parse("20060102", s)
	return sky.DateOf(t), err == nil && plausibleYear(t.Year())
}

func plausibleYear(y int) bool { return y >= 1700 && y <= 2200 }
