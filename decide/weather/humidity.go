package weather

import (
	"math"
	"time"

	"budward/physics/air"
)

// How a dew point was come by.
type dewSource uint8

const (
	dewGiven dewSource = iota
	dewFromRH
	dewAbsent
)

// DewFromRH returns the dew point (degC) of air at temp_c with relative
// humidity rh_pct over water. Readings of 100..105 % are taken as saturated,
// which they are (sensors at saturation overshoot; common practice). NaN when
// either is unknown or outside its plausible range.
func DewFromRH(temp_c, rh_pct float64) float64 {
	if !AirTemp.Plausible(temp_c) || !RelHumidity.Plausible(rh_pct) {
		return nan
	}
	if rh_pct >= 100 {
		return temp_c
	}
	return air.DewPointC(air.SatVapKPa(temp_c) * rh_pct / 100)
}

// RHFromDew returns the relative humidity over water (%) of air at temp_c with
// dew point dew_c; NaN when either is unknown or implausible, or when the dew
// point lies above the temperature.
func RHFromDew(temp_c, dew_c float64) float64 {
	if !AirTemp.Plausible(temp_c) || !DewPoint.Plausible(dew_c) || dew_c > temp_c {
		return nan
	}
	return 100 * air.SatVapKPa(dew_c) / air.SatVapKPa(temp_c)
}

// forecastDew returns the dew point at grid point i from the dew point itself
// or from relative humidity.
func forecastDew(h *Hourly, i int) (float64, dewSource) {
	if d := h.At(DewPoint, i); !math.IsNaN(d) {
		return d, dewGiven
	}
	if d := DewFromRH(h.At(AirTemp, i), h.At(RelHumidity, i)); !math.IsNaN(d) {
		return d, dewFromRH
	}
	return nan, dewAbsent
}

// lastKnown returns when v, or for the dew point any humidity, was last known.
func lastKnown(h *Hourly, v Variable) time.Time {
	last := lastValue(h, v)
	if v == DewPoint {
		if rh := lastValue(h, RelHumidity); rh.After(last) {
			last = rh
		}
	}
	return last
}

// WithDewPoint returns a copy of h in which hours without a dew point have one
// worked out from temperature and relative humidity, flagged FlagDerived, and
// how many there were.
func WithDewPoint(h Hourly) (Hourly, int) {
	out := h.Clone()
	n := 0
	for i := range out.N {
		d, how := forecastDew(&out, i)
		if how != dewFromRH {
			continue
		}
		out.Col(DewPoint)[i] = d
		out.setFlag(DewPoint, i, FlagDerived)
		if out.From[AirTemp] != nil {
			out.setFrom(DewPoint, i, out.From[AirTemp][i])
		}
		n++
	}
	return out, n
}
