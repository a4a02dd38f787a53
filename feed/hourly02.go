package feed

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"budward/decide/weather"
)

// hourly02Fields is the number of columns of the hourly02 product.
const hourly02Fields = 38

// hourly02Columns are the columns taken; at and flag are 1-based, flag 0 = the
// column has no quality flag. T_CALC, the mean of the last five minutes, is the
// air temperature at the end of the hour; T_MIN is the lowest in the hour. The
// product has no wind, cloud or pressure.
var hourly02Columns = []struct {
	name     string
	at, flag int
	v        weather.Variable
}{
	{"T_CALC", 9, 0, weather.AirTemp},
	{"T_MIN", 12, 0, weather.AirTempMin},
	{"P_CALC", 13, 0, weather.Rain},
	{"SOLARAD", 14, 15, weather.Solar},
	{"SUR_TEMP", 21, 22, weather.SurfaceTemp},
	{"RH_HR_AVG", 27, 28, weather.RelHumidity},
	{"SOIL_MOISTURE_5", 29, 0, weather.SoilMoist5},
	{"SOIL_MOISTURE_10", 30, 0, weather.SoilMoist10},
	{"SOIL_MOISTURE_20", 31, 0, weather.SoilMoist20},
	{"SOIL_MOISTURE_50", 32, 0, weather.SoilMoist50},
	{"SOIL_MOISTURE_100", 33, 0, weather.SoilMoist100},
	{"SOIL_TEMP_5", 34, 0, weather.SoilTemp5},
	{"SOIL_TEMP_10", 35, 0, weather.SoilTemp10},
	{"SOIL_TEMP_20", 36, 0, weather.SoilTemp20},
	{"SOIL_TEMP_50", 37, 0, weather.SoilTemp50},
	{"SOIL_TEMP_100", 38, 0, weather.SoilTemp100},
}

var hourly02Start = regexp.MustCompile(`^\d{5}\s+\d{8}\s+\d{4}\s+\d{8}\s+\d{4}\s`)

func looksHourly02(head []byte) bool { return hourly02Start.Match(head) }

// decodeHourly02 reads the hourly02 text of the US Climate Reference Network
// (NOAA NCEI, product readme): 38 columns separated by spaces, times in UTC at
// the END of the hour. -9999, -99999 and -99 mark missing values and become
// gaps. A quality flag other than 0 (3 = erroneous) refuses the value. A line
// that is not whole, of another station, or of a time already read is refused
// and listed. The place is that of the first line that states one; where a later
// line states another, none is taken and a note says so.
func decodeHourly02(b *weather.Batch, text []byte) error {
	b.Kind = weather.Reading
	seen := make(map[int64]int)
	station := ""
	place := hourly02Place{}
	line, rows := 0, 0
	for len(text) > 0 {
		var raw []byte
		raw, text, _ = bytes.Cut(text, []byte("\n"))
		line++
		f := strings.Fields(string(raw))
		if len(f) == 0 {
			continue
		}
		if rows++; rows > MaxRows {
			return &Error{Origin: b.Origin, Line: line, Value: "too many lines", Want: fmt.Sprintf("at most %d", MaxRows)}
		}
		refuse := func(field, value, why string) {
			b.Refuse(weather.Refusal{Origin: b.Origin, Line: line, Field: field, Value: short(value), Why: why})
		}
		if len(f) != hourly02Fields {
			refuse("", fmt.Sprintf("%d columns", len(f)), fmt.Sprintf("a line has %d columns; cut off?", hourly02Fields))
			continue
		}
		at, err := time.Parse("200601021504", f[1]+f[2])
		if err != nil || len(f[1]) != 8 || at.Year() < 1900 || at.Year() > 2200 {
			refuse("UTC_DATE UTC_TIME", f[1]+" "+f[2], "not a date YYYYMMDD and a time HHmm")
			continue
		}
		if station == "" {
			station = f[0]
		}
		if f[0] != station {
			refuse("WBANNO", f[0], "another station than "+station+" in the lines before")
			continue
		}
		if first, ok := seen[at.Unix()]; ok {
			refuse("UTC_DATE UTC_TIME", f[1]+" "+f[2], fmt.Sprintf("the time of line %d again; the first counts", first))
			continue
		}
		seen[at.Unix()] = line
		place.read(f, line, refuse)
		hourly02Row(b, f, at, refuse)
	}
	if station != "" {
		b.Notes = append(b.Notes, "station number "+station+" of the reference network; no wind in this product")
	}
	place.give(b)
	return nil
}

// hourly02Place gathers where the lines of a file say that their station stands.
type hourly02Place struct {
	latDeg, lonDeg float64
	line           int    // that stated it first; 0 = none has
	moved          string // what another line says
}

// placeTolDeg is how far apart two lines may state one place: some files round it
// to a hundredth of a degree, about a kilometre.
const placeTolDeg = 0.02

// read takes columns 8 (latitude) and 7 (longitude), degrees, north and east
// positive. Missing marks state nothing; what is no place on earth is refused.
func (p *hourly02Place) read(f []string, line int, refuse func(field, value, why string)) {
	lat, okLat := degreesWithin(f[7], 90)
	lon, okLon := degreesWithin(f[6], 180)
	switch {
	case !okLat:
		refuse("LATITUDE", f[7], "not degrees from -90 to 90")
	case !okLon:
		refuse("LONGITUDE", f[6], "not degrees from -180 to 180")
	case math.IsNaN(lat) || math.IsNaN(lon):
	case p.line == 0:
		p.latDeg, p.lonDeg, p.line = lat, lon, line
	case p.moved == "" && (math.Abs(lat-p.latDeg) > placeTolDeg || math.Abs(lon-p.lonDeg) > placeTolDeg):
		p.moved = fmt.Sprintf("line %d places the station at %g, %g, line %d at %g, %g: no place is taken", p.line, p.latDeg, p.lonDeg, line, lat, lon)
	}
}

// degreesWithin reads degrees up to limit on either side; NaN for missing.
func degreesWithin(s string, limit float64) (deg float64, ok bool) {
	x, err := strconv.ParseFloat(s, 64)
	switch {
	case err != nil || math.IsNaN(x):
		return 0, false
	case x == -9999 || x == -99999:
		return math.NaN(), true
	}
	return x, math.Abs(x) <= limit
}

func (p *hourly02Place) give(b *weather.Batch) {
	switch {
	case p.moved != "":
		b.Notes = append(b.Notes, p.moved)
	case p.line > 0:
		b.LatDeg, b.LonDeg, b.HasPlace = p.latDeg, p.lonDeg, true
	}
}

func hourly02Row(b *weather.Batch, f []string, at time.Time, refuse func(field, value, why string)) {
	for _, c := range hourly02Columns {
		s := f[c.at-1]
		x, err := strconv.ParseFloat(s, 64)
		switch {
		case err != nil || math.IsInf(x, 0) || math.IsNaN(x):
			refuse(c.name, s, "not a number")
		case x == -9999 || x == -99999 || x == -99:
			b.Gaps++
		case c.flag > 0 && f[c.flag-1] != "0":
			refuse(c.name, s, "flag "+short(f[c.flag-1])+" of the network: not good (3 = erroneous)")
		default:
			b.Samples = append(b.Samples, weather.Sample{At: at, Var: c.v, Value: x})
		}
	}
}
