// Package method works out what can be done for a block on frost nights and
// what it is worth: the floor as it is and as it could be, water put into it
// days ahead or run on the night, over-vine sprinklers, fans and heaters, each
// with the conditions under which its gain holds, its rule for start and stop,
// and its cautions. It carries a station's weather through the twin columns of
// package floor.
package method

import (
	"math"
	"time"

	"budward/physics/air"
	"budward/physics/floor"
	"budward/physics/sky"
)

// StepS is the step of the twin columns in seconds: a tenth of it moves the
// night minimum by less than 0.05 K (TestStepLength in package floor).
const StepS = 600

// SnowC is the air temperature (degC) at and below which precipitation is taken
// as snow (common practice: the change lies at 0-1 degC).
const SnowC = 0.5

// stepsPerHour of the twin columns.
const stepsPerHour = 3600 / StepS

// Hour is the weather of one moment on the hour at a station.
type Hour struct {
	AirC  float64 // at sensor height, degC
	DewC  float64
	Wind2 float64 // at 2 m, m/s
	Cloud float64 // 0..1
	Rain  float64 // mm in the hour that begins here
	Solar float64 // W/m2; NaN = from sun and cloud
}

// Place is where the sun is reckoned for.
type Place struct {
	LatDeg, LonDeg, ElevationM float64
	Formula                    sky.Formula
}

// Path is weather by step: step i ends at Start + (i+1) StepS.
type Path struct {
	Start time.Time
	Steps []floor.Weather
}

// NewPath lays hours out in steps, on straight lines between them. Precipitation
// in air at or below SnowC is left out: snow is not modelled. It panics when an
// hour is not a number: gaps are the caller's to decide on.
func NewPath(start time.Time, hours []Hour, p Place) Path {
	if len(hours) < 2 {
		panic("method: NewPath needs two hours at least")
	}
	pressure := air.PressureKPa(p.ElevationM)
	path := Path{Start: start, Steps: make([]floor.Weather, 0, (len(hours)-1)*stepsPerHour)}
	for h := range hours[:len(hours)-1] {
		a, b := hours[h], hours[h+1]
		for s := 1; s <= stepsPerHour; s++ {
			f := float64(s) / stepsPerHour
			mix := func(x, y float64) float64 { return x + f*(y-x) }
			t, dew, cloud := mix(a.AirC, b.AirC), mix(a.DewC, b.DewC), mix(a.Cloud, b.Cloud)
			e := air.SatVapKPa(math.Min(dew, t))
			at := start.Add(time.Duration(h*stepsPerHour+s) * StepS * time.Second)
			w := floor.Weather{
				AirC: t, VapourKPa: e, WindMS: mix(a.Wind2, b.Wind2), RainMmH: a.Rain,
				Pressure: pressure, LongWave: sky.LongwaveDown(t, e, cloud, p.Formula),
			}
			if t <= SnowC {
				w.RainMmH = 0
			}
			if solar := mix(a.Solar, b.Solar); !math.IsNaN(solar) {
				w.ShortWave = math.Max(0, solar)
			} else {
				w.ShortWave = sky.ShortwaveDown(sky.SinElevation(float64(at.Unix()), p.LatDeg, p.LonDeg), cloud, p.ElevationM)
			}
			if math.IsNaN(t + dew + w.WindMS + cloud + w.RainMmH) {
				panic("method: NewPath got an hour that is not a number")
			}
			path.Steps = append(path.Steps, w)
		}
	}
	return path
}

// Index returns the step that ends at or first after t, which may lie outside.
func (p *Path) Index(t time.Time) int {
	d := t.Sub(p.Start)
	return int(math.Ceil(d.Seconds()/StepS)) - 1
}

// At returns the instant at which step i ends.
func (p *Path) At(i int) time.Time {
	return p.Start.Add(time.Duration(i+1) * StepS * time.Second)
}

// Wind2 carries wind from its height to 2 m by FAO-56 eq. 47; heights below
// 0.5 m count as 0.5 m.
func Wind2(u, heightM float64) float64 {
	return u * 4.87 / math.Log(67.8*math.Max(heightM, 0.5)-5.42)
}
