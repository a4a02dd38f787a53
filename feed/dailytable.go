package feed

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"budward/decide/weather"
	"budward/physics/sky"
)

// dailyColumns says where in a table of daily values what is found; -1 = not
// there.
type dailyColumns struct {
	date, tmin, tmax, prcp, prcpIn int
}

// dailyRow is one row on its way to a Daily, in the file's own units.
type dailyRow struct {
	line         int
	date         sky.Date
	tmin, tmax   float64
	prcp, prcpIn float64
}

// decodeDailyTable reads one row a day, with a header that names date (as
// 1998-06-07), TMIN, TMAX and, if there is rain, PRCP_MM or PRCP. The names do
// not say the units. Temperatures are told by their steps (see DailyOptions).
// Rain is taken only where PRCP_MM and PRCP (inches) stand side by side, so that
// their ratio shows whether PRCP_MM holds millimetres or the archive's raw
// tenths; by itself neither is used.
func decodeDailyTable(rec *weather.DailyRecord, text []byte, opts *DailyOptions) error {
	var c dailyColumns
	var rows []dailyRow
	header := true
	err := dailyLines(rec, text, 0, func(line int, f []string) error {
		if header {
			header = false
			var err error
			c, err = findDaily(rec.Origin, line, f)
			return err
		}
		if r, ok := c.row(rec, line, f); ok {
			rows = append(rows, r)
		}
		return nil
	})
	if err != nil {
		return err
	}
	toC, err := dailyTempUnit(rec, rows, opts.TempUnit)
	if err != nil {
		return err
	}
	toMM := dailyRain(rec, rows, &c)
	lines := map[sky.Date]int{}
	for _, r := range rows {
		if first, twice := lines[r.date]; twice {
			rec.Refuse(weather.Refusal{Origin: rec.Origin, Line: r.line, Field: "date", Value: r.date.String(),
				Why: fmt.Sprintf("the date of line %d again; the first counts", first)})
			continue
		}
		lines[r.date] = r.line
		d := gapDay(r.date)
		d.TMinC, d.TMaxC = toC(r.tmin), toC(r.tmax)
		d.PrecipMM = toMM(&r)
		rec.Days = append(rec.Days, d)
	}
	return nil
}

func findDaily(origin string, line int, header []string) (dailyColumns, error) {
	c := dailyColumns{-1, -1, -1, -1, -1}
	for i, h := range header {
		var at *int
		switch strings.ToLower(h) {
		case "date":
			at = &c.date
		case "tmin":
			at = &c.tmin
		case "tmax":
			at = &c.tmax
		case "prcp_mm":
			at = &c.prcp
		case "prcp":
			at = &c.prcpIn
		default:
			continue
		}
		if *at >= 0 {
			return c, &Error{Origin: origin, Line: line, Field: "header", Value: fmt.Sprintf("column %q twice", short(h)), Want: "each column once"}
		}
		*at = i
	}
	if c.date < 0 || c.tmin < 0 && c.tmax < 0 {
		return c, &Error{Origin: origin, Line: line, Field: "header", Value: fmt.Sprintf("columns %q", short(strings.Join(header, ","))),
			Want: "the columns date and TMIN or TMAX"}
	}
	return c, nil
}

// row reads one row in the file's units; gaps are NaN.
func (c *dailyColumns) row(rec *weather.DailyRecord, line int, f []string) (dailyRow, bool) {
	r := dailyRow{line: line}
	var err error
	if r.date, err = sky.ParseDate(f[c.date]); err != nil || !plausibleYear(r.date.Year) {
		rec.Refuse(weather.Refusal{Origin: rec.Origin, Line: line, Field: "date", Value: short(f[c.date]), Why: "not a day written 1998-06-07 between 1700 and 2200"})
		return r, false
	}
	for _, v := range []struct {
		name string
		at   int
		to   *float64
	}{{"TMIN", c.tmin, &r.tmin}, {"TMAX", c.tmax, &r.tmax}, {"PRCP_MM", c.prcp, &r.prcp}, {"PRCP", c.prcpIn, &r.prcpIn}} {
		*v.to = math.NaN()
		switch {
		case v.at < 0:
		case isMissing(f[v.at], false):
			if v.at != c.prcpIn || c.prcp < 0 {
				rec.Gaps++ // rain that is there twice is one gap
			}
		default:
			x, why := parseNumber(f[v.at], false)
			if why != "" {
				rec.Refuse(weather.Refusal{Origin: rec.Origin, Line: line, Field: v.name, Value: short(f[v.at]), Why: why})
				continue
			}
			*v.to = x
		}
	}
	return r, true
}

// Shares of values that must show a unit before it is believed.
const (
	unitShare   = 0.98 // must fit the unit
	otherShare  = 0.80 // and at most this many the other one
	unitAtLeast = 20   // values
	tenthTol    = 1e-6 // of a tenth of a degree: decimal fractions kept as binary ones
)

// dailyTempUnit finds the unit of the temperatures.
func dailyTempUnit(rec *weather.DailyRecord, rows []dailyRow, stated string) (func(float64) float64, error) {
	celsius := func(x float64) float64 { return math.Round(x*1e6) / 1e6 } // cuts the tail of a binary fraction
	fahrenheit := func(x float64) float64 { return celsius((x - 32) / 1.8) }
	switch stated {
	case "c":
		return celsius, nil
	case "f":
		return fahrenheit, nil
	case "":
	default:
		return nil, &Error{Origin: rec.Origin, Field: "temperature unit", Value: strconv.Quote(short(stated)), Want: `"c" or "f"`}
	}
	n, inC, inF := 0, 0, 0
	whole := func(x float64) int {
		if math.Abs(x*10-math.Round(x*10)) < tenthTol {
			return 1
		}
		return 0
	}
	for _, r := range rows {
		for _, x := range []float64{r.tmin, r.tmax} {
			if !math.IsNaN(x) {
				n, inC, inF = n+1, inC+whole(x), inF+whole((x-32)/1.8)
			}
		}
	}
	share := func(k int) float64 { return float64(k) / float64(n) }
	switch {
	case n >= unitAtLeast && share(inF) >= unitShare && share(inC) <= otherShare:
		rec.Notes = append(rec.Notes, "temperatures are in degrees Fahrenheit: they fall on tenths of a degree Celsius, the steps of the archive, only so")
		return fahrenheit, nil
	case n >= unitAtLeast && share(inC) >= unitShare && share(inF) <= otherShare:
		rec.Notes = append(rec.Notes, "temperatures are in degrees Celsius: they come in tenths, and as Fahrenheit would not fall on the archive's steps")
		return celsius, nil
	}
	return nil, &Error{Origin: rec.Origin, Field: "TMIN, TMAX", Value: fmt.Sprintf("unit not stated, and %d values do not show it", n), Want: "the unit of the temperatures stated, c or f"}
}

// dailyRain finds what PRCP_MM holds by its ratio to PRCP in inches.
func dailyRain(rec *weather.DailyRecord, rows []dailyRow, c *dailyColumns) func(*dailyRow) float64 {
	none := func(*dailyRow) float64 { return math.NaN() }
	if c.prcp < 0 && c.prcpIn < 0 {
		return none
	}
	ratio := func(r *dailyRow, scale float64) bool { // PRCP_MM times scale is PRCP in mm
		return math.Abs(r.prcp*scale-r.prcpIn*25.4) <= 0.003*math.Abs(r.prcp*scale)+0.2 // inches are kept to hundredths by some
	}
	n, tenths, whole := 0, 0, 0
	for i := range rows {
		if r := &rows[i]; r.prcp >= 20 && !math.IsNaN(r.prcpIn) { // false for NaN; small amounts show nothing
			n++
			if ratio(r, 0.1) {
				tenths++
			}
			if ratio(r, 1) {
				whole++
			}
		}
	}
	scale := 0.0
	switch {
	case n > 0 && float64(tenths) >= unitShare*float64(n):
		scale = 0.1
		rec.Notes = append(rec.Notes, "PRCP_MM holds tenths of a millimetre, the archive's raw unit: it agrees with PRCP in inches only so")
	case n > 0 && float64(whole) >= unitShare*float64(n):
		scale = 1
		rec.Notes = append(rec.Notes, "PRCP_MM holds millimetres: it agrees with PRCP in inches")
	default:
		rec.Refuse(weather.Refusal{Origin: rec.Origin, Field: "PRCP_MM", Value: fmt.Sprintf("%d days to compare", n),
			Why: "whether it holds millimetres or tenths is not stated, and PRCP in inches beside it does not show it; rain was not taken"})
		return none
	}
	return func(r *dailyRow) float64 {
		if !math.IsNaN(r.prcp) && !math.IsNaN(r.prcpIn) && !ratio(r, scale) {
			rec.Refuse(weather.Refusal{Origin: rec.Origin, Line: r.line, Field: "PRCP_MM", Value: fmt.Sprint(r.prcp), Why: fmt.Sprintf("does not agree with PRCP %g in", r.prcpIn)})
			return math.NaN()
		}
		return r.prcp * scale
	}
}
