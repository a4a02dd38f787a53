package sky

import (
	"math"
	"time"

	"budward/physics/quantity"
)

// SolarConstant is 0.0820 MJ m-2 min-1 (1367 W/m2), as FAO-56 takes it.
const SolarConstant = 0.0820

// orbit holds the day's geometry by FAO-56's own short series, which are
// coarser than SunAt (declination within about 1 degree) and are what its examples
// are worked with.
type orbit struct {
	distance    float64 // inverse relative distance, FAO-56 eq. 23
	declination float64 // rad, eq. 24
}

func orbitOf(yearDay int) orbit {
	a := 2 * math.Pi * float64(yearDay) / 365
	return orbit{distance: 1 + 0.033*math.Cos(a), declination: 0.409 * math.Sin(a-1.39)}
}

// sunsetAngle returns the sunset hour angle in rad (FAO-56 eq. 25). Where the
// sun stays up it is pi and where it stays down 0, which is the geometry and
// not a limit put on it.
func (o orbit) sunsetAngle(latRad float64) float64 {
	x := -math.Tan(latRad) * math.Tan(o.declination)
	switch {
	case x >= 1:
		return 0
	case x <= -1:
		return math.Pi
	}
	return math.Acos(x)
}

func checkDay(date Date, lat quantity.Degree) error {
	if !date.Valid() {
		return &DateError{Text: date.String()}
	}
	if err := quantity.InRange("year", float64(date.Year), yearLo, yearHi, "", sunSource); err != nil {
		return err
	}
	return checkLat(lat)
}

// Extraterrestrial returns the short wave on a level surface above the
// atmosphere over one day (Ra), in MJ m-2 d-1:
//
//	Ra = (24*60/pi) 0.0820 dr [ws sin phi sin delta + cos phi cos delta sin ws]
//
// A day that does not exist is a *DateError, a latitude beyond the poles a
// *quantity.RangeError. Against the sun's true path within 3 % to 35
// degrees of latitude, 4 % to 45 and 7 % to 55 (worst in October and February);
// beyond, the coarse declination costs more, and FAO-56 itself calls the series
// limited there. Source: FAO-56 eq. 21.
func Extraterrestrial(date Date, lat quantity.Degree) (quantity.MegajoulePerSquareMetre, error) {
	if err := checkDay(date, lat); err != nil {
		return 0, err
	}
	o, phi := orbitOf(date.YearDay()), float64(lat)*degree
	ws := o.sunsetAngle(phi)
	return quantity.MegajoulePerSquareMetre(24 * 60 / math.Pi * SolarConstant * o.distance *
		(ws*math.Sin(phi)*math.Sin(o.declination) + math.Cos(phi)*math.Cos(o.declination)*math.Sin(ws))), nil
}

// DaylightHours returns the astronomical day length N = 24 ws / pi in hours: no
// refraction, centre of the sun, so up to some ten minutes shorter than SunDay.
// Source: FAO-56 eq. 34.
func DaylightHours(date Date, lat quantity.Degree) (float64, error) {
	if err := checkDay(date, lat); err != nil {
		return 0, err
	}
	return 24 / math.Pi * orbitOf(date.YearDay()).sunsetAngle(float64(lat)*degree), nil
}

// ExtraterrestrialPeriod returns the short wave on a level surface above the
// atmosphere from start over length, in MJ/m2 for the whole period:
//
//	Ra = (12*60/pi) 0.0820 dr [(w2-w1) sin phi sin delta + cos phi cos delta (sin w2 - sin w1)]
//
// w1 and w2 are the solar time angles at the ends, cut at sunrise and sunset;
// 0 when the sun is down throughout. Valid for periods of up to 2 h (FAO-56
// gives it for an hour or shorter); otherwise, or at a place or year out of
// range, a *quantity.RangeError. Source: FAO-56 eq. 28-33, with the clock in
// UTC; the cut at sunset after ASCE-EWRI 2005 (from memory).
func ExtraterrestrialPeriod(start time.Time, length time.Duration, lat, lon quantity.Degree) (quantity.MegajoulePerSquareMetre, error) {
	if err := checkPlace(start.UTC().Year(), lat, lon); err != nil {
		return 0, err
	}
	if err := quantity.InRange("period", length.Hours(), 1.0/60, 2, "h", "FAO-56 eq. 28"); err != nil {
		return 0, err
	}
	g := periodOf(start, length, lon)
	phi := float64(lat) * degree
	ws := g.sunsetAngle(phi)
	w1 := max(-ws, min(ws, g.mid-g.half)) // the part of the period with the sun up
	w2 := max(-ws, min(ws, g.mid+g.half))
	return quantity.MegajoulePerSquareMetre(12 * 60 / math.Pi * SolarConstant * g.distance *
		((w2-w1)*math.Sin(phi)*math.Sin(g.declination) +
			math.Cos(phi)*math.Cos(g.declination)*(math.Sin(w2)-math.Sin(w1)))), nil
}

// period is the sun's geometry over a short period.
type period struct {
	orbit
	mid, half float64 // solar time angle at the middle and half its span, rad
}

func periodOf(start time.Time, length time.Duration, lon quantity.Degree) period {
	middle := start.Add(length / 2).UTC()
	// The day of the year is that of the place's own mean solar time.
	local := middle.Add(time.Duration(float64(lon) / 15 * float64(time.Hour)))
	yearDay := local.YearDay()
	b := 2 * math.Pi * float64(yearDay-81) / 364
	sc := 0.1645*math.Sin(2*b) - 0.1255*math.Cos(b) - 0.025*math.Sin(b) // h, eq. 32
	hours := local.Sub(time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC)).Hours()
	return period{
		orbit: orbitOf(yearDay),
		mid:   math.Pi / 12 * (hours + sc - 12), // eq. 31
		half:  math.Pi / 24 * length.Hours(),
	}
}

// sinElevation of the sun at the middle of the period.
func (p period) sinElevation(lat quantity.Degree) float64 {
	phi := float64(lat) * degree
	return math.Sin(phi)*math.Sin(p.declination) + math.Cos(phi)*math.Cos(p.declination)*math.Cos(p.mid)
}

func checkElevation(z quantity.Metre) error {
	return quantity.InRange("elevation", float64(z), -430, 5000, "m", "lowest shore to 5000 m")
}

func checkRa(ra quantity.MegajoulePerSquareMetre) error {
	return quantity.InRange("extraterrestrial radiation", float64(ra), 0, 50, "MJ/m2", "no day on Earth has more than 50")
}

// ClearSky returns the short wave of a cloudless day or hour at elevation z
// from what comes in above the atmosphere: Rso = (0.75 + 2e-5 z) ra. Valid for
// -430 <= z <= 5000 m and 0 <= ra <= 50 MJ/m2, otherwise a *quantity.RangeError.
// Good to about 5 % in clean air. Source: FAO-56 eq. 37.
func ClearSky(ra quantity.MegajoulePerSquareMetre, z quantity.Metre) (quantity.MegajoulePerSquareMetre, error) {
	if err := checkElevation(z); err != nil {
		return 0, err
	}
	if err := checkRa(ra); err != nil {
		return 0, err
	}
	return quantity.MegajoulePerSquareMetre(0.75+2e-5*float64(z)) * ra, nil
}

// ClearSkyAt returns the global short wave of a cloudless sky at one moment, in
// W/m2, from the sine s of the sun's elevation and the place's elevation z:
//
//	S = 1098 s exp(-0.057/s) (1 + 2.67e-5 z);  0 for s <= 0
//
// Valid for -1 <= s <= 1 and -430 <= z <= 5000 m, otherwise a
// *quantity.RangeError. The mean distance of the sun is taken (3.3 % either way
// over the year). The clearest tenth of half hours at Bondville, Illinois, in
// March to May 1998 lies within 12 % below it, 17 % near the horizon
// (TestClearSkyAtBondville); hazy and humid air brings less. Source: Haurwitz 1945 (from memory), with the
// growth by elevation of FAO-56 eq. 37.
func ClearSkyAt(s float64, z quantity.Metre) (quantity.WattPerSquareMetre, error) {
	if err := quantity.InRange("sine of the sun's elevation", s, -1, 1, "", "a sine"); err != nil {
		return 0, err
	}
	if err := checkElevation(z); err != nil {
		return 0, err
	}
	return quantity.WattPerSquareMetre(ShortwaveDown(s, 0, float64(z))), nil
}

// UnderCloud returns the global short wave under a cloud share c (0..1) from
// that of a clear sky: S = S0 (1 - 0.75 c^3.4). For single hours it may be off
// by half, since a share of the sky says nothing of where the sun stands; over
// many hours it is good to about a tenth. Source: Kasten and Czeplak 1980,
// Hamburg (from memory).
func UnderCloud(clear quantity.WattPerSquareMetre, c quantity.Share) (quantity.WattPerSquareMetre, error) {
	if err := quantity.InRange("clear-sky short wave", float64(clear), 0, 1500, "W/m2", "at most what the sun gives"); err != nil {
		return 0, err
	}
	if err := quantity.InRange("cloud", float64(c), 0, 1, "", "share of the sky"); err != nil {
		return 0, err
	}
	return clear * quantity.WattPerSquareMetre(1-0.75*math.Pow(float64(c), 3.4)), nil
}

// SolarFromSunshine returns the day's short wave from n hours of bright
// sunshine out of daylight hours: Rs = (0.25 + 0.50 n/N) ra. n from 0 to N,
// otherwise a *quantity.RangeError; N = 0 (polar night) is refused. Source:
// FAO-56 eq. 35 with its constants for places without a calibration.
func SolarFromSunshine(n, daylight float64, ra quantity.MegajoulePerSquareMetre) (quantity.MegajoulePerSquareMetre, error) {
	if err := quantity.InRange("daylight", daylight, 0.1, 24, "h", "FAO-56 eq. 34"); err != nil {
		return 0, err
	}
	if err := quantity.InRange("sunshine", n, 0, daylight, "h", "from none to the whole day length"); err != nil {
		return 0, err
	}
	if err := checkRa(ra); err != nil {
		return 0, err
	}
	return quantity.MegajoulePerSquareMetre(0.25+0.50*n/daylight) * ra, nil
}

// Setting tells places inland from places by the sea, for Hargreaves.
type Setting uint8

// The two settings of FAO-56.
const (
	Interior Setting = iota // land mass dominates: 0.16
	Coast                   // near a coast, air from the sea: 0.19
)

// Hargreaves returns the day's short wave from the range of air temperature:
// Rs = k sqrt(tmax - tmin) ra, k = 0.16 inland and 0.19 at the coast. tmin <=
// tmax <= tmin + 40, otherwise a *quantity.RangeError. Good to about 15 % over
// several days, worse for one. An unknown setting panics. Source: FAO-56 eq.
// 50.
func Hargreaves(tmin, tmax quantity.Celsius, ra quantity.MegajoulePerSquareMetre, s Setting) (quantity.MegajoulePerSquareMetre, error) {
	k := 0.0
	switch s {
	case Interior:
		k = 0.16
	case Coast:
		k = 0.19
	default:
		panic("sky: unknown setting for Hargreaves")
	}
	if err := quantity.InRange("daily temperature range", float64(tmax-tmin), 0, 40, "K", "FAO-56 eq. 50"); err != nil {
		return 0, err
	}
	if err := checkRa(ra); err != nil {
		return 0, err
	}
	return quantity.MegajoulePerSquareMetre(k*math.Sqrt(float64(tmax-tmin))) * ra, nil
}
