package sky

import (
	"fmt"
	"math"
	"time"

	"budward/physics/quantity"
)

const (
	yearLo, yearHi = 1900, 2100
	sunSource      = "Meeus, low accuracy solar position, held here to 1900-2100"
)

// Sun is the position of the sun at one moment and place.
type Sun struct {
	Declination    quantity.Degree // apparent
	EquationOfTime time.Duration   // apparent minus mean solar time
	Elevation      quantity.Degree // of the centre over the level horizon, geometric: no refraction
	Azimuth        quantity.Degree // from north through east, 0..360
	DistanceAU     float64         // from the Earth, astronomical units
}

// SunAt returns the position of the sun at a moment, at lat (north positive)
// and lon (east positive).
//
// Valid for the years 1900 to 2100 and -90 <= lat <= 90, -180 <= lon <= 180;
// otherwise a *quantity.RangeError. Elevation and declination within 0.02
// degree of a high-precision ephemeris (TestPositionGrid). Parallax (0.002
// degree) and refraction are left out. Source: J. Meeus, Astronomical
// Algorithms, ch. 25 and 28, as in the public NOAA solar calculator.
func SunAt(at time.Time, lat, lon quantity.Degree) (Sun, error) {
	if err := checkPlace(at.UTC().Year(), lat, lon); err != nil {
		return Sun{}, err
	}
	u := unixSeconds(at)
	s := sunAt(u)
	h := s.hourAngle(u, float64(lon))
	sinLat, cosLat := math.Sincos(float64(lat) * degree)
	sinH, cosH := math.Sincos(h)
	sinEl := sinLat*s.sinDec + cosLat*s.cosDec*cosH
	az := math.Atan2(sinH*s.cosDec, cosH*sinLat*s.cosDec-s.sinDec*cosLat)/degree + 180
	if az >= 360 {
		az -= 360
	}
	return Sun{
		Declination:    quantity.Degree(s.dec / degree),
		EquationOfTime: time.Duration(s.eotMin * float64(time.Minute)),
		Elevation:      quantity.Degree(math.Asin(max(-1, min(1, sinEl))) / degree), // rounding only
		Azimuth:        quantity.Degree(az),
		DistanceAU:     s.radiusAU,
	}, nil
}

func unixSeconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

func fromUnix(s float64) time.Time { return time.UnixMilli(int64(math.Round(s * 1000))).UTC() }

func checkPlace(year int, lat, lon quantity.Degree) error {
	if err := quantity.InRange("year", float64(year), yearLo, yearHi, "", sunSource); err != nil {
		return err
	}
	if err := checkLat(lat); err != nil {
		return err
	}
	return quantity.InRange("longitude", float64(lon), -180, 180, "deg", "east positive")
}

func checkLat(lat quantity.Degree) error {
	return quantity.InRange("latitude", float64(lat), -90, 90, "deg", "north positive")
}

// NeverError says that the sun does not rise or does not set on a day at a
// place: an answer of its own, never a made-up time.
type NeverError struct {
	Event string // "sunrise" or "sunset", the one that does not come
	Up    bool   // true: the sun stays up; false: it stays down
	Date  Date
	Lat   quantity.Degree
	Lon   quantity.Degree
}

// Error says what does not happen, where and when.
func (e *NeverError) Error() string {
	stays := "stays below the horizon"
	if e.Up {
		stays = "stays above the horizon"
	}
	return fmt.Sprintf("no %s on %s at latitude %.4g, longitude %.4g: the sun %s", e.Event, e.Date,
		float64(e.Lat), float64(e.Lon), stays)
}

// HorizonDeg is the geometric elevation of the sun's centre at sunrise and
// sunset: 34 minutes of arc of refraction at the horizon and 16 minutes of
// semi-diameter, so that the upper limb just shows over a level horizon at sea
// level. Cold dense air can move the moment by a minute or more, hills by much
// more.
const HorizonDeg = -50.0 / 60

// Day holds the sun's times of one civil day at one place, all in the zone
// asked for.
type Day struct {
	Date    Date
	Noon    time.Time // the sun's upper transit on that day
	Sunrise time.Time // before Noon
	Sunset  time.Time // after Noon
}

// Length returns the time from sunrise to sunset.
func (d Day) Length() time.Duration { return d.Sunset.Sub(d.Sunrise) }

// SunDay returns noon, sunrise and sunset of the civil day date in zone at lat
// and lon. Noon is the sun's transit nearest to twelve by the clock; sunrise
// and sunset are the crossings of HorizonDeg before and after it, so at high
// latitudes or with an odd zone they may fall on a neighbouring date by the
// clock.
//
// Where the sun stays up or down, it returns a *NeverError and no times.
// Within 60 s of a high-precision ephemeris for latitudes -55 to 60
// (TestRiseSetGrid); near the polar circles a degree of error in refraction
// moves the moment by many minutes. Range and source as SunAt; a day that does
// not exist is a *DateError. A nil zone panics.
func SunDay(date Date, lat, lon quantity.Degree, zone *time.Location) (Day, error) {
	if zone == nil {
		panic("sky: SunDay without a time zone")
	}
	if !date.Valid() {
		return Day{}, &DateError{Text: date.String()}
	}
	if err := checkPlace(date.Year, lat, lon); err != nil {
		return Day{}, err
	}
	noon := transit(unixSeconds(date.At(12, 0, zone)), float64(lon))
	rise, err := crossing(noon, -1, date, lat, lon)
	if err != nil {
		return Day{}, err
	}
	set, err := crossing(noon, +1, date, lat, lon)
	if err != nil {
		return Day{}, err
	}
	return Day{Date: date, Noon: fromUnix(noon).In(zone), Sunrise: rise.In(zone), Sunset: set.In(zone)}, nil
}

// transit returns the upper transit nearest to u, in Unix seconds. Three steps
// leave an error far below a millisecond, since the equation of time moves by
// at most 30 s a day.
func transit(u, lonDeg float64) float64 {
	first := sunAt(u).hourAngle(u, lonDeg)
	t := u - first/(2*math.Pi)*86400
	for range 2 {
		t -= sunAt(t).hourAngle(t, lonDeg) / (2 * math.Pi) * 86400
	}
	return t
}

// crossing finds where the sun's centre crosses HorizonDeg in the half day
// before (side -1) or after (side +1) noon, by bisection: from noon to midnight
// the elevation falls all the way, the drift of the declination apart, which
// matters only within a degree of the poles.
func crossing(noon, side float64, date Date, lat, lon quantity.Degree) (time.Time, error) {
	limit := math.Sin(HorizonDeg * degree)
	above := func(u float64) bool { return SinElevation(u, float64(lat), float64(lon)) > limit }
	up, down := noon, noon+side*43200
	event := "sunset"
	if side < 0 {
		event = "sunrise"
	}
	if !above(up) || above(down) {
		return time.Time{}, &NeverError{Event: event, Up: above(up), Date: date, Lat: lat, Lon: lon}
	}
	for math.Abs(down-up) > 0.01 { // s
		mid := (up + down) / 2
		if above(mid) {
			up = mid
		} else {
			down = mid
		}
	}
	return fromUnix((up + down) / 2), nil
}

// Night is the time from sunset to two hours past sunrise: frost often bites
// hardest just after sunrise, and stopping is decided then.
type Night struct {
	Date    Date      // the day of the evening
	Sunset  time.Time // of Date
	Sunrise time.Time // of the next day
	End     time.Time // two hours past Sunrise
}

// AfterSunrise is how long a night lasts past sunrise.
const AfterSunrise = 2 * time.Hour

// Contains reports whether t falls in the night, both ends included.
func (n Night) Contains(t time.Time) bool { return !t.Before(n.Sunset) && !t.After(n.End) }

// Morning returns the day the night ends on.
func (n Night) Morning() Date { return n.Date.AddDays(1) }

// String writes the night with both dates, "2026-04-13 to 2026-04-14".
func (n Night) String() string { return n.Date.String() + " to " + n.Morning().String() }

// NightOf returns the night that begins on the evening of date at lat and lon,
// with its times in zone. Ranges and errors as SunDay; where there is no sunset
// that evening or no sunrise the next morning it returns a *NeverError.
func NightOf(date Date, lat, lon quantity.Degree, zone *time.Location) (Night, error) {
	evening, err := SunDay(date, lat, lon, zone)
	if err != nil {
		return Night{}, err
	}
	morning, err := SunDay(date.AddDays(1), lat, lon, zone)
	if err != nil {
		return Night{}, err
	}
	return Night{Date: date, Sunset: evening.Sunset, Sunrise: morning.Sunrise,
		End: morning.Sunrise.Add(AfterSunrise)}, nil
}

// NightAt returns the night that holds now, or else the next one to come: until
// two hours past sunrise it is still last night, and after that it is the
// coming one.
func NightAt(now time.Time, lat, lon quantity.Degree, zone *time.Location) (Night, error) {
	if zone == nil {
		panic("sky: NightAt without a time zone")
	}
	date := DateOf(now.In(zone))
	if last, err := NightOf(date.AddDays(-1), lat, lon, zone); err == nil && !now.After(last.End) {
		return last, nil
	}
	return NightOf(date, lat, lon, zone)
}
