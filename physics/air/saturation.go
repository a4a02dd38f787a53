package air

import "budward/physics/quantity"

const (
	satLoC, satHiC = -50, 60
	satSource      = "FAO-56 eq. 11, used here from -50 to 60 degC"
	iceSource      = "WMO-No. 8 annex 4.B, used here from -50 to 0 degC"
	waterVapour    = "vapour pressure that saturates between -50 and 60 degC"
	iceVapour      = "vapour pressure that saturates over ice between -50 and 0 degC"
)

// Range of vapour pressure in which dew and frost points are answered.
var (
	vapLoKPa    = SatVapKPa(satLoC)
	vapHiKPa    = SatVapKPa(satHiC)
	vapIceLoKPa = SatVapIceKPa(satLoC)
)

// SaturationOverWater returns the vapour pressure in equilibrium with a flat
// surface of liquid water at t; below 0 degC the water is supercooled and the
// value over ice is lower.
//
//	e_w = 0.6108 kPa * exp(17.27 t / (t + 237.3 degC))
//
// Valid for -50 <= t <= 60 degC; outside, or for NaN, it returns a
// *quantity.RangeError and no number. Error against Hyland and Wexler 1983:
// at most 0.12 % on 0..60 degC (TestSaturationGrid); for supercooled water
// against Sonntag's 1990 fit 0.5 % too low at -15 degC, 1.2 % at -25, 3.2 % at
// -40 and 5.6 % at -50, which puts the dew point of dry air 0.06, 0.13, 0.31
// and 0.50 K too high (TestSupercooled).
//
// Source: FAO-56 (Allen et al. 1998) eq. 11.
func SaturationOverWater(t quantity.Celsius) (quantity.Kilopascal, error) {
	if err := quantity.InRange("temperature", float64(t), satLoC, satHiC, "degC", satSource); err != nil {
		return 0, err
	}
	return quantity.Kilopascal(SatVapKPa(float64(t))), nil
}

// SaturationOverIce returns the vapour pressure in equilibrium with a flat
// surface of ice at t.
//
//	e_i = 0.6108 kPa * exp(22.46 t / (t + 272.62 degC))
//
// Valid for -50 <= t <= 0 degC; outside, or for NaN, it returns a
// *quantity.RangeError and no number. Error against Hyland and Wexler 1983: at
// most 0.08 % (TestSaturationGrid).
//
// The exponent is that of WMO-No. 8, vol. I, annex 4.B, with the 0.6108 of
// FAO-56 in front, so that the curves over water and ice meet at 0 degC. The
// older pair 21.875 and 265.5 agrees within 0.35 % down to -15 degC but is 2 %
// too low at -40 degC, which puts the frost point of dry air 0.2 K off.
func SaturationOverIce(t quantity.Celsius) (quantity.Kilopascal, error) {
	if err := quantity.InRange("temperature", float64(t), satLoC, 0, "degC", iceSource); err != nil {
		return 0, err
	}
	return quantity.Kilopascal(SatVapIceKPa(float64(t))), nil
}

// SlopeOverWater returns the slope of the saturation curve over water at t, in
// kPa/K; range and accuracy as SaturationOverWater. Source: FAO-56 eq. 13,
// with the derivative exact (17.27 * 237.3 = 4098.2, where FAO-56 writes 4098).
func SlopeOverWater(t quantity.Celsius) (float64, error) {
	if err := quantity.InRange("temperature", float64(t), satLoC, satHiC, "degC", satSource); err != nil {
		return 0, err
	}
	return SatVapSlopeKPaK(float64(t)), nil
}

// SlopeOverIce returns the slope of the saturation curve over ice at t, in
// kPa/K; range and accuracy as SaturationOverIce.
func SlopeOverIce(t quantity.Celsius) (float64, error) {
	if err := quantity.InRange("temperature", float64(t), satLoC, 0, "degC", iceSource); err != nil {
		return 0, err
	}
	return SatVapIceSlopeKPaK(float64(t)), nil
}

// DewPoint returns the temperature at which vapour pressure e saturates over
// liquid water:
//
//	b = ln(e/0.6108)/17.27;  td = 237.3 b / (1 - b)
//
// Below 0 degC dew points are over supercooled water, as weather services
// report them; the frost point is higher (see FrostPoint). Valid for e that
// saturates between -50 and 60 degC; otherwise a *quantity.RangeError. Within
// 0.03 K of Hyland and Wexler above 0 degC (TestMoistAirGrid). Source:
// inverse of FAO-56 eq. 11.
func DewPoint(e quantity.Kilopascal) (quantity.Celsius, error) {
	if err := quantity.InRange("vapour pressure", float64(e), vapLoKPa, vapHiKPa, "kPa", waterVapour); err != nil {
		return 0, err
	}
	return quantity.Celsius(DewPointC(float64(e))), nil
}

// FrostPoint returns the temperature at or below 0 degC at which vapour
// pressure e saturates over ice, the inverse of SaturationOverIce. Air whose
// dew point is above 0 degC has no frost point: a *quantity.RangeError, as for
// e that saturates below -50 degC. Within 0.02 K of Hyland and Wexler
// (TestMoistAirGrid).
func FrostPoint(e quantity.Kilopascal) (quantity.Celsius, error) {
	if err := quantity.InRange("vapour pressure", float64(e), vapIceLoKPa, satAtZeroKPa, "kPa", iceVapour); err != nil {
		return 0, err
	}
	return quantity.Celsius(FrostPointC(float64(e))), nil
}

// VapourFromDewPoint returns the vapour pressure of air whose dew point over
// water is td: SaturationOverWater(td).
func VapourFromDewPoint(td quantity.Celsius) (quantity.Kilopascal, error) {
	if err := quantity.InRange("dew point", float64(td), satLoC, satHiC, "degC", satSource); err != nil {
		return 0, err
	}
	return quantity.Kilopascal(SatVapKPa(float64(td))), nil
}

// VapourFromHumidity returns the vapour pressure of air at t with relative
// humidity rh (0..1) over liquid water at all temperatures, as weather services
// and electronic sensors report it: e = rh e_w(t). rh = 0 is refused, since dry
// air has neither dew point nor wet bulb here.
func VapourFromHumidity(t quantity.Celsius, rh quantity.Share) (quantity.Kilopascal, error) {
	es, err := SaturationOverWater(t)
	if err != nil {
		return 0, err
	}
	const lo = 0.001 // a tenth of a percent, below what any humidity sensor tells from zero
	if err := quantity.InRange("relative humidity", float64(rh), lo, 1, "", "share of saturation over water"); err != nil {
		return 0, err
	}
	return es * quantity.Kilopascal(rh), nil
}

// RelativeHumidity returns the relative humidity over liquid water, 0..1, of
// air at t with vapour pressure e. Vapour above saturation is a
// *quantity.RangeError, never a humidity of 1.
func RelativeHumidity(t quantity.Celsius, e quantity.Kilopascal) (quantity.Share, error) {
	es, err := SaturationOverWater(t)
	if err != nil {
		return 0, err
	}
	if err := quantity.InRange("vapour pressure", float64(e), 0, float64(es), "kPa", "saturation over water at the air temperature"); err != nil {
		return 0, err
	}
	return quantity.Share(e / es), nil
}
