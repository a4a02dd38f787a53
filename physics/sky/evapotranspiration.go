package sky

import (
	"errors"
	"math"
	"time"

	"budward/physics/air"
	"budward/physics/quantity"
)

// WindAt2 carries a wind speed from height z over short grass to 2 m:
// u2 = uz 4.87 / ln(67.8 z - 5.42). Valid for 0.5 <= z <= 30 m and 0..60 m/s,
// otherwise a *quantity.RangeError. Not for calm, stable nights, when the wind
// at 2 m is much less than this. Source: FAO-56 eq. 47.
func WindAt2(u quantity.MetrePerSecond, z quantity.Metre) (quantity.MetrePerSecond, error) {
	if err := quantity.InRange("wind height", float64(z), 0.5, 30, "m", "FAO-56 eq. 47"); err != nil {
		return 0, err
	}
	if err := quantity.InRange("wind speed", float64(u), 0, 60, "m/s", "FAO-56 eq. 47"); err != nil {
		return 0, err
	}
	return u * quantity.MetrePerSecond(4.87/math.Log(67.8*float64(z)-5.42)), nil
}

// VapourFromExtremes returns the day's mean vapour pressure from the extremes
// of temperature and relative humidity (over water):
// ea = [e(tmin) rhmax + e(tmax) rhmin] / 2. tmin <= tmax and rhmin <= rhmax,
// otherwise a *quantity.RangeError. Source: FAO-56 eq. 17.
func VapourFromExtremes(tmin, tmax quantity.Celsius, rhmin, rhmax quantity.Share) (quantity.Kilopascal, error) {
	if err := quantity.InRange("minimum temperature", float64(tmin), -50, float64(tmax), "degC", "not above the maximum"); err != nil {
		return 0, err
	}
	if err := quantity.InRange("minimum relative humidity", float64(rhmin), 0, float64(rhmax), "", "not above the maximum"); err != nil {
		return 0, err
	}
	a, err1 := air.VapourFromHumidity(tmin, rhmax)
	b, err2 := air.VapourFromHumidity(tmax, rhmin)
	if err := errors.Join(err1, err2); err != nil {
		return 0, err
	}
	return (a + b) / 2, nil
}

// DailyWeather is what the daily reference evapotranspiration needs.
type DailyWeather struct {
	Date       Date
	Lat        quantity.Degree
	Elevation  quantity.Metre
	TMin, TMax quantity.Celsius
	Vapour     quantity.Kilopascal // mean vapour pressure (ea)
	Wind       quantity.MetrePerSecond
	WindHeight quantity.Metre
	Solar      quantity.MegajoulePerSquareMetre // measured, or from SolarFromSunshine or Hargreaves
}

// Evapotranspiration is a reference evapotranspiration with every step on the
// way. Radiation is in MJ/m2 for the day or the hour.
type Evapotranspiration struct {
	U2               quantity.MetrePerSecond
	Pressure         quantity.Kilopascal
	GammaKPaK        float64
	SlopeKPaK        float64
	Saturation       quantity.Kilopascal // es
	Vapour           quantity.Kilopascal // ea
	Extraterrestrial quantity.MegajoulePerSquareMetre
	DaylightH        float64 // N; hourly: 0
	Solar            quantity.MegajoulePerSquareMetre
	ClearSky         quantity.MegajoulePerSquareMetre
	// Ratio is Rs/Rso as used in the long wave term. Limited says that the
	// computed ratio lay outside 0.3..1 and the nearer end was taken; Carried
	// that the sun was too low and the ratio given for the night was taken.
	Ratio    float64
	Limited  bool
	Carried  bool
	NetShort quantity.MegajoulePerSquareMetre // Rns
	NetLong  quantity.MegajoulePerSquareMetre // Rnl, outgoing positive
	Net      quantity.MegajoulePerSquareMetre // Rn
	Ground   quantity.MegajoulePerSquareMetre // G, into the soil positive
	ET0      quantity.Millimetre              // below zero: more dew than evaporation
}

const (
	albedoGrass     = 0.23     // FAO-56 eq. 38
	sigmaDay        = 4.903e-9 // MJ m-2 d-1 K-4, FAO-56 eq. 39
	sigmaHour       = sigmaDay / 24
	ratioLo         = 0.3 // ASCE-EWRI 2005 (from memory); below it the cloud factor would turn negative
	lowSun          = 0.3 // rad; below it Rs/Rso is too noisy, ASCE-EWRI 2005 (from memory)
	daily, hourly   = 900.0, 37.0
	soilDay, soilNt = 0.1, 0.5 // G/Rn by day and by night, FAO-56 eq. 45, 46
)

// ReferenceDaily returns the FAO Penman-Monteith reference evapotranspiration
// of one day:
//
//	ET0 = [0.408 slope (Rn - G) + gamma 900/(T + 273) u2 (es - ea)] / [slope + gamma (1 + 0.34 u2)]
//
// with G = 0, es the mean over both extremes and T their mean. Inputs outside
// the ranges of the functions it is made of, tmin above tmax, vapour above
// saturation at tmax, or a solar radiation above the extraterrestrial are a
// typed error, never a number. Source: FAO-56 eq. 6.
func ReferenceDaily(w DailyWeather) (Evapotranspiration, error) {
	var r Evapotranspiration
	if err := quantity.InRange("minimum temperature", float64(w.TMin), -30, float64(w.TMax), "degC", "not above the maximum"); err != nil {
		return Evapotranspiration{}, err
	}
	if err := quantity.InRange("vapour pressure", float64(w.Vapour), 0, air.SatVapKPa(float64(w.TMax)), "kPa",
		"saturation at the maximum temperature"); err != nil {
		return Evapotranspiration{}, err
	}
	ra, err1 := Extraterrestrial(w.Date, w.Lat)
	n, err2 := DaylightHours(w.Date, w.Lat)
	lo, err3 := air.SaturationOverWater(w.TMin)
	hi, err4 := air.SaturationOverWater(w.TMax)
	mean := (w.TMin + w.TMax) / 2
	if err := errors.Join(err1, err2, err3, err4,
		r.common(w.Elevation, mean, w.Wind, w.WindHeight)); err != nil {
		return Evapotranspiration{}, err
	}
	r.Saturation, r.Vapour = (lo+hi)/2, w.Vapour
	r.Extraterrestrial, r.DaylightH = ra, n
	if err := r.shortwave(w.Solar, w.Elevation); err != nil {
		return Evapotranspiration{}, err
	}
	if r.ClearSky <= 0 {
		return Evapotranspiration{}, &quantity.RangeError{Quantity: "clear-sky radiation", Value: 0, Lo: 0.1, Hi: 50,
			Unit: "MJ/m2", Source: "Rs/Rso has no meaning in the polar night"}
	}
	r.setRatio(float64(w.Solar / r.ClearSky))
	k4 := (math.Pow(w.TMin.Kelvins(), 4) + math.Pow(w.TMax.Kelvins(), 4)) / 2
	r.balance(sigmaDay*k4, 0)
	r.penman(daily, mean)
	return r, nil
}

// HourlyWeather is what the hourly reference evapotranspiration needs.
type HourlyWeather struct {
	Start      time.Time // the hour begins
	Lat, Lon   quantity.Degree
	Elevation  quantity.Metre
	T          quantity.Celsius
	Vapour     quantity.Kilopascal
	Wind       quantity.MetrePerSecond
	WindHeight quantity.Metre
	Solar      quantity.MegajoulePerSquareMetre // over the hour
	// NightRatio is Rs/Rso of two to three hours before sunset, used while the
	// sun is lower than 0.3 rad (17 degrees). There is no default: where it is
	// needed and not within 0.3..1 the answer is an error.
	NightRatio float64
}

// ReferenceHourly returns the FAO Penman-Monteith reference evapotranspiration
// of one hour: as ReferenceDaily with 37 for 900, all at the hour's mean
// temperature, and G = 0.1 Rn with the sun up and 0.5 Rn with it down. Errors
// as ReferenceDaily. Source: FAO-56 eq. 53.
func ReferenceHourly(w HourlyWeather) (Evapotranspiration, error) {
	var r Evapotranspiration
	ra, err1 := ExtraterrestrialPeriod(w.Start, time.Hour, w.Lat, w.Lon)
	es, err2 := air.SaturationOverWater(w.T)
	if err := errors.Join(err1, err2, r.common(w.Elevation, w.T, w.Wind, w.WindHeight)); err != nil {
		return Evapotranspiration{}, err
	}
	if err := quantity.InRange("vapour pressure", float64(w.Vapour), 0, float64(es), "kPa", "saturation at the air temperature"); err != nil {
		return Evapotranspiration{}, err
	}
	r.Saturation, r.Vapour, r.Extraterrestrial = es, w.Vapour, ra
	if err := r.shortwave(w.Solar, w.Elevation); err != nil {
		return Evapotranspiration{}, err
	}
	sinEl := periodOf(w.Start, time.Hour, w.Lon).sinElevation(w.Lat)
	if sinEl < math.Sin(lowSun) {
		if err := quantity.InRange("Rs/Rso of the evening", w.NightRatio, ratioLo, 1, "", "needed while the sun is below 17 degrees"); err != nil {
			return Evapotranspiration{}, err
		}
		r.Ratio, r.Carried = w.NightRatio, true
	} else {
		r.setRatio(float64(w.Solar / r.ClearSky))
	}
	soil := soilNt
	if sinEl > 0 {
		soil = soilDay
	}
	r.balance(sigmaHour*math.Pow(w.T.Kelvins(), 4), soil)
	r.penman(hourly, w.T)
	return r, nil
}

// common fills wind, pressure, gamma and slope.
func (r *Evapotranspiration) common(z quantity.Metre, t quantity.Celsius, u quantity.MetrePerSecond, h quantity.Metre) (err error) {
	if r.U2, err = WindAt2(u, h); err != nil {
		return err
	}
	if r.Pressure, err = air.PressureAt(z); err != nil {
		return err
	}
	if r.GammaKPaK, err = air.PsychrometricConstant(r.Pressure); err != nil {
		return err
	}
	r.SlopeKPaK, err = air.SlopeOverWater(t)
	return err
}

// shortwave checks the solar radiation and fills the short wave terms.
func (r *Evapotranspiration) shortwave(rs quantity.MegajoulePerSquareMetre, z quantity.Metre) (err error) {
	// Up to 5 % above the extraterrestrial is let through for an instrument's
	// error at low sun, with 0.1 MJ/m2 for its zero by night.
	hi := 1.05*float64(r.Extraterrestrial) + 0.1
	if err := quantity.InRange("solar radiation", float64(rs), 0, hi, "MJ/m2", "not above the extraterrestrial"); err != nil {
		return err
	}
	r.Solar = rs
	if r.ClearSky, err = ClearSky(r.Extraterrestrial, z); err != nil {
		return err
	}
	r.NetShort = (1 - albedoGrass) * rs
	return nil
}

func (r *Evapotranspiration) setRatio(x float64) {
	r.Ratio = max(ratioLo, min(1, x))
	r.Limited = r.Ratio != x
}

// balance fills net long wave (FAO-56 eq. 39), net radiation and soil heat from
// sigma T^4 in MJ/m2 and the share of net radiation that goes into the soil.
func (r *Evapotranspiration) balance(black, soil float64) {
	net := black * (0.34 - 0.14*math.Sqrt(float64(r.Vapour))) * (1.35*r.Ratio - 0.35)
	r.NetLong = quantity.MegajoulePerSquareMetre(net)
	r.Net = r.NetShort - r.NetLong
	r.Ground = quantity.MegajoulePerSquareMetre(soil) * r.Net
}

func (r *Evapotranspiration) penman(numerator float64, t quantity.Celsius) {
	u2 := float64(r.U2)
	energy := 0.408 * r.SlopeKPaK * float64(r.Net-r.Ground)
	drying := r.GammaKPaK * numerator / (float64(t) + 273) * u2 * float64(r.Saturation-r.Vapour)
	r.ET0 = quantity.Millimetre((energy + drying) / (r.SlopeKPaK + r.GammaKPaK*(1+0.34*u2)))
}
