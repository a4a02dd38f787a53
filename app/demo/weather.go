package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"budward/physics/air"
	"budward/physics/sky"
)

// day is one invented day and the night that follows it, at the station on the
// flat.
type day struct {
	maxC, minC float64 // highest of the day; lowest of the night that follows
	dewC       float64
	windDay    float64 // m/s at 3 m
	windNight  float64
	cloudDay   float64
	cloudNight float64
	rainMM     float64 // falls between 04:00 and 10:00
}

// firstDay is the first of the days below.
var firstDay = sky.Date{Year: 2026, Month: time.March, Day: 23}

// days: a wet front, a week of mending weather, a dry push of cold air from the
// north on 6 and 7 April, then clear and calm nights until cloud comes in on the
// 13th. Today is the 8th.
var days = []day{
	{18.5, 7.0, 6.0, 2.8, 1.2, 0.3, 0.3, 0},   // 23 March
	{17.0, 8.5, 8.0, 4.5, 3.5, 0.9, 1.0, 0},   // 24
	{13.0, 7.5, 8.0, 5.0, 3.0, 1.0, 0.9, 19},  // 25
	{15.0, 5.5, 6.5, 3.5, 1.8, 0.6, 0.4, 4},   // 26
	{17.5, 4.0, 5.0, 2.8, 1.0, 0.2, 0.1, 0},   // 27
	{19.5, 4.5, 4.5, 2.5, 0.9, 0.1, 0.1, 0},   // 28
	{21.0, 5.5, 5.0, 2.6, 1.0, 0.1, 0.2, 0},   // 29
	{21.5, 7.0, 5.5, 3.0, 1.2, 0.3, 0.3, 0},   // 30
	{20.0, 7.5, 6.0, 3.6, 1.8, 0.5, 0.6, 0},   // 31
	{17.5, 6.0, 6.0, 3.8, 1.6, 0.6, 0.4, 3},   // 1 April
	{18.5, 3.5, 4.0, 2.9, 1.0, 0.2, 0.1, 0},   // 2
	{20.0, 3.0, 3.0, 2.6, 0.8, 0.1, 0.0, 0},   // 3
	{20.5, 3.5, 2.5, 2.7, 0.9, 0.1, 0.1, 0},   // 4
	{19.0, 4.0, 2.0, 3.4, 1.6, 0.3, 0.3, 0},   // 5
	{15.5, 2.8, 0.0, 5.5, 2.6, 0.3, 0.1, 0},   // 6
	{14.5, 1.2, -1.5, 4.6, 1.1, 0.1, 0.0, 0},  // 7
	{15.5, -0.1, -2.0, 2.9, 0.8, 0.0, 0.0, 0}, // 8, today
	{16.5, -0.6, -2.0, 2.4, 0.7, 0.0, 0.0, 0}, // 9
	{17.0, -1.2, -2.0, 2.2, 0.7, 0.0, 0.0, 0}, // 10
	{18.0, 0.4, -0.5, 2.3, 0.8, 0.05, 0.1, 0}, // 11
	{19.0, 2.4, 1.5, 2.6, 1.1, 0.2, 0.3, 0},   // 12
	{18.5, 4.5, 4.0, 3.2, 1.9, 0.6, 0.8, 0},   // 13
	{16.5, 6.5, 6.5, 3.9, 2.4, 0.9, 0.9, 6},   // 14
	{17.5, 6.0, 6.0, 3.2, 1.6, 0.5, 0.4, 0},   // 15
	{18.5, 6.0, 6.0, 3.0, 1.4, 0.3, 0.3, 0},   // 16
}

// site is where a station stands and how its air differs from the flat's.
type site struct {
	id         string
	lat, lon   float64
	elevationM float64
	nightK     float64 // warmer at the minimum of a clear, calm night
	dayK       float64
	windFactor float64
	forecastK  float64 // forecasts of the night's minimum are this much too warm
}

var sites = []site{
	{"flat", 38.541, -121.872, 28, 0, 0, 1, 0.9},
	{"bench", 38.556, -121.894, 81, 1.7, -0.4, 1.25, -0.3},
}

// hour is the weather of one hour.
type hour struct {
	air, dew, wind, cloud, rain, solar float64
}

// invented is the course of one station's weather.
type invented struct {
	s    site
	zone *time.Location
}

func (v *invented) date(i int) sky.Date { return firstDay.AddDays(i) }

// sun returns sunrise and sunset of day i.
func (v *invented) sun(i int) (rise, set time.Time) {
	d, err := sky.SunDay(v.date(i), deg(v.s.lat), deg(v.s.lon), v.zone)
	if err != nil {
		panic("demo: " + err.Error()) // the sun rises every day at 38 degrees
	}
	return d.Sunrise, d.Sunset
}

// clearCalm is how far a night is a night of its own cold: 1 clear and calm.
func (d day) clearCalm() float64 {
	return (1 - d.cloudNight) * math.Max(0, 1-d.windNight/3)
}

func (v *invented) max(i int) float64 { return days[i].maxC + v.s.dayK }
func (v *invented) min(i int) float64 { return days[i].minC + v.s.nightK*days[i].clearCalm() }

// at returns the weather at t. Air temperature rises on half a cosine from
// sunrise to 15:30, falls on a quarter of one to sunset, and from there with the
// square root of time to the minimum at sunrise (as on any clear night).
func (v *invented) at(t time.Time) hour {
	t = t.In(v.zone)
	i := int(math.Round(float64(dayNumber(sky.DateOf(t)) - dayNumber(firstDay))))
	rise, set := v.sun(i)
	peak := v.date(i).At(15, 30, v.zone)
	part := func(a, b time.Time) float64 { return t.Sub(a).Seconds() / b.Sub(a).Seconds() }
	dusk := func(i int) float64 { return v.max(i) - 0.38*(v.max(i)-v.min(i)) }
	h := hour{}
	var byNight float64 // 0 by day, 1 by night
	switch {
	case t.Before(rise):
		_, lastSet := v.sun(i - 1)
		h.air = dusk(i-1) + (v.min(i-1)-dusk(i-1))*math.Sqrt(part(lastSet, rise))
		i, byNight = i-1, 1
	case t.Before(peak):
		h.air = v.min(i-1) + (v.max(i)-v.min(i-1))*(1-math.Cos(math.Pi*part(rise, peak)))/2
	case t.Before(set):
		h.air = v.max(i) + (dusk(i)-v.max(i))*(1-math.Cos(math.Pi/2*part(peak, set)))
	default:
		nextRise, _ := v.sun(i + 1)
		h.air = dusk(i) + (v.min(i)-dusk(i))*math.Sqrt(part(set, nextRise))
		byNight = 1
	}
	d := days[i]
	mix := func(day, night float64) float64 { return day + (night-day)*byNight }
	// Wind and cloud pass from day to night over the two hours around sunset.
	if near := t.Sub(set).Hours(); byNight == 0 && near > -2 {
		byNight = (near + 2) / 2
	}
	h.wind, h.cloud = mix(d.windDay, d.windNight)*v.s.windFactor, mix(d.cloudDay, d.cloudNight)
	h.dew = math.Min(d.dewC, h.air-0.4)
	if n := t.Hour(); n >= 5 && n <= 10 {
		h.rain = v.today(t).rainMM / 6
	}
	h.solar = sky.ShortwaveDown(sky.SinElevation(float64(t.Unix()), v.s.lat, v.s.lon), h.cloud, v.s.elevationM)
	return h
}

func (v *invented) today(t time.Time) day {
	return days[dayNumber(sky.DateOf(t))-dayNumber(firstDay)]
}

func dayNumber(d sky.Date) int {
	return int(time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC).Unix() / 86400)
}

// readings writes what the station read, hour by hour, to the present: the
// weather with the noise of instruments and the humidity that sensors give.
func (v *invented) readings(from, to time.Time, r *rand.Rand) string {
	var b strings.Builder
	b.WriteString("time,air_temp_c,rh_pct,wind_m_s,rain_mm,solar_w_m2\n")
	for t := from; !t.After(to); t = t.Add(time.Hour) {
		h := v.at(t)
		temp := h.air + 0.2*r.NormFloat64()
		rh := 100 * air.SatVapKPa(math.Min(h.dew, temp)) / air.SatVapKPa(temp)
		wind := math.Max(0, h.wind*math.Exp(0.25*r.NormFloat64()))
		fmt.Fprintf(&b, "%s,%.1f,%.0f,%.1f,%.1f,%.0f\n", stamp(t, v.zone), temp, math.Min(100, rh+r.NormFloat64()), wind, h.rain, math.Max(0, h.solar))
	}
	return b.String()
}

// forecast writes what was forecast at issue for hours ahead: the weather as it
// came, with an error of the night's minimum that grows with the lead and, on
// this station, has a lean of its own.
// spread scales the error: 0 for the newest, since how it turns out is not known.
func (v *invented) forecast(issue time.Time, hours int, spread float64, r *rand.Rand) string {
	var b strings.Builder
	b.WriteString("time,air_temp_c,dew_point_c,wind_m_s,cloud_pct,rain_mm\n")
	err := make(map[int]float64)
	start := issue.Truncate(time.Hour).Add(time.Hour)
	for k := range hours {
		t := start.Add(time.Duration(k) * time.Hour)
		h := v.at(t)
		night := dayNumber(sky.DateOf(t.In(v.zone).Add(-12 * time.Hour)))
		if _, ok := err[night]; !ok {
			lead := t.Sub(issue).Hours() / 24
			err[night] = v.s.forecastK + spread*(0.8+0.2*lead)*r.NormFloat64()
		}
		// The lean belongs to clear nights; by day a third of the error is left.
		share := 0.35
		if h.solar <= 0 {
			share = 1
		}
		temp := h.air + share*err[night]
		fmt.Fprintf(&b, "%s,%.1f,%.1f,%.1f,%.0f,%.1f\n", stamp(t, v.zone), temp, math.Min(h.dew+0.4*r.NormFloat64(), temp-0.2),
			h.wind, 100*h.cloud, v.at(t.Add(time.Hour)).rain)
	}
	return b.String()
}

func stamp(t time.Time, zone *time.Location) string {
	return t.In(zone).Format("2006-01-02T15:04-07:00")
}
