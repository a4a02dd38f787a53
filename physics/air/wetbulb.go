package air

import (
	"budward/physics/quantity"
)

// Psychrometer coefficient of a ventilated wet bulb, 1/K: a = 0.00066 (1 +
// 0.00115 tw); over ice it is smaller by the ratio of the latent heats of
// vaporisation and sublimation at 0 degC, 0.8825.
const (
	psyA    = 0.00066
	psyB    = 0.00115
	psyAIce = psyA * 2.501e6 / 2.8341e6
)

const (
	wetLoC, wetHiC = -30, 50
	pLoKPa, pHiKPa = 50, 110
	wetSource      = "psychrometer equation, used here from -30 to 50 degC"
	pressureSource = "air pressure between 5500 m and below sea level"
)

// WetBulbC returns the wet bulb over liquid water in degC; see WetBulb.
// Unchecked: eKPa must lie above 0 and at or below saturation at tC.
func WetBulbC(tC, eKPa, pKPa float64) float64 {
	// g(w) = e_w(w) - a(w) p (t - w) - e rises with w and is convex, and is not
	// negative at w = t: Newton's steps from t come down to the root and cannot
	// pass it.
	w := tC
	for range maxNewton {
		a := psyA * (1 + psyB*w) * pKPa
		g := SatVapKPa(w) - a*(tC-w) - eKPa
		slope := SatVapSlopeKPaK(w) + a - psyA*psyB*pKPa*(tC-w)
		step := g / slope
		if !(step > 1e-9) { // K; also stops on NaN
			break
		}
		w -= step
	}
	return w
}

// maxNewton bounds the steps; five to seven are needed over the valid range.
const maxNewton = 40

// IceBulbC returns the temperature of an ice-covered bulb in degC; see IceBulb.
// Unchecked: the solution must lie at or below 0 degC.
func IceBulbC(tC, eKPa, pKPa float64) float64 {
	w := min(tC, 0)
	if SatVapIceKPa(w)-psyAIce*(1+psyB*w)*pKPa*(tC-w) < eKPa {
		w = 0 // supersaturated over ice: the bulb is warmer than the air
	}
	for range maxNewton {
		a := psyAIce * (1 + psyB*w) * pKPa
		g := SatVapIceKPa(w) - a*(tC-w) - eKPa
		slope := SatVapIceSlopeKPaK(w) + a - psyAIce*psyB*pKPa*(tC-w)
		step := g / slope
		if !(step > 1e-9) { // K; also stops on NaN
			break
		}
		w -= step
	}
	return w
}

func checkMoist(t quantity.Celsius, e, p quantity.Kilopascal) error {
	if err := quantity.InRange("temperature", float64(t), wetLoC, wetHiC, "degC", wetSource); err != nil {
		return err
	}
	if err := checkPressure(p); err != nil {
		return err
	}
	return quantity.InRange("vapour pressure", float64(e), vapLoKPa, SatVapKPa(float64(t)), "kPa",
		"from a dew point of -50 degC to saturation over water at the air temperature")
}

func checkPressure(p quantity.Kilopascal) error {
	return quantity.InRange("air pressure", float64(p), pLoKPa, pHiKPa, "kPa", pressureSource)
}

// WetBulb returns the temperature of a ventilated bulb wetted with liquid water
// (below 0 degC supercooled) in air at t with vapour pressure e at pressure p:
// the root tw of
//
//	e = e_w(tw) - 0.00066 (1 + 0.00115 tw) p (t - tw)
//
// It lies between the dew point and t. Valid for -30 <= t <= 50 degC, 50..110
// kPa and e from a dew point of -50 degC to saturation; otherwise, and for NaN,
// a *quantity.RangeError and no number. Where it is above 0 degC it is within
// 0.15 K of the thermodynamic wet bulb for t <= 20 degC and RH >= 30 %, and
// within 0.4 K for t <= 40 degC and RH >= 5 % (TestMoistAirGrid gives the
// reason). Below 0 degC it is the bulb whose water has not frozen; once it has,
// IceBulb holds: up to 0.35 K warmer near saturation, up to 0.6 K colder in
// very dry air.
//
// Source: psychrometer equation for a ventilated instrument, as used by the
// Arizona weather network; FAO-56 eq. 15 with a constant of 0.000662 is the
// same within 1 % below 5 degC.
func WetBulb(t quantity.Celsius, e, p quantity.Kilopascal) (quantity.Celsius, error) {
	if err := checkMoist(t, e, p); err != nil {
		return 0, err
	}
	return quantity.Celsius(WetBulbC(float64(t), float64(e), float64(p))), nil
}

// IceBulb returns the temperature of a ventilated bulb covered with ice (also
// called frost bulb): the root ti <= 0 degC of
//
//	e = e_i(ti) - 0.000582 (1 + 0.00115 ti) p (t - ti)
//
// It is what a wetted bulb, bud or leaf tends to once all its water has frozen.
// Within 0.15 K of the thermodynamic ice bulb (TestMoistAirGrid). Ranges as
// WetBulb; where the root lies above 0 degC there is no ice bulb and a
// *quantity.RangeError is returned. In air that is supersaturated over ice the
// ice bulb is warmer than the air.
//
// Source: as WetBulb, with the coefficient scaled by the ratio of the latent
// heats of vaporisation and sublimation.
func IceBulb(t quantity.Celsius, e, p quantity.Kilopascal) (quantity.Celsius, error) {
	if err := checkMoist(t, e, p); err != nil {
		return 0, err
	}
	if hi := satAtZeroKPa - psyAIce*float64(p*quantity.Kilopascal(t)); float64(e) > hi {
		return 0, &quantity.RangeError{Quantity: "vapour pressure", Value: float64(e), Lo: vapLoKPa, Hi: hi,
			Unit: "kPa", Source: "an ice bulb exists only at or below 0 degC"}
	}
	return quantity.Celsius(IceBulbC(float64(t), float64(e), float64(p))), nil
}

// VapourFromWetBulb returns the vapour pressure of air at t whose ventilated
// wet bulb over liquid water is tw, at pressure p: the equation of WetBulb read
// forward. Valid for -30 <= tw <= t <= 50 degC; a wet bulb so low that no
// vapour would be left (dew point below -50 degC) is a *quantity.RangeError.
func VapourFromWetBulb(t, tw quantity.Celsius, p quantity.Kilopascal) (quantity.Kilopascal, error) {
	if err := quantity.InRange("temperature", float64(t), wetLoC, wetHiC, "degC", wetSource); err != nil {
		return 0, err
	}
	if err := quantity.InRange("wet bulb", float64(tw), wetLoC, float64(t), "degC", "from -30 degC to the air temperature"); err != nil {
		return 0, err
	}
	if err := checkPressure(p); err != nil {
		return 0, err
	}
	e := SatVapKPa(float64(tw)) - psyA*(1+psyB*float64(tw))*float64(p)*float64(t-tw)
	if err := quantity.InRange("vapour pressure", e, vapLoKPa, vapHiKPa, "kPa", "wet bulb too low for this air temperature"); err != nil {
		return 0, err
	}
	return quantity.Kilopascal(e), nil
}

// StartTemperature returns the dry-bulb air temperature at which the wet bulb
// equals threshold when the dew point is td, at pressure p: the temperature at
// which sprinklers must be running to keep wet tissue at or above threshold.
//
//	T = Tw + (e_w(Tw) - e_w(Td)) / (a(Tw) p),  a = 0.00066 (1 + 0.00115 Tw) 1/K
//
// Valid for -15 degC <= td <= threshold <= 5 degC and 50..110 kPa; otherwise a
// *quantity.RangeError. td == threshold returns threshold (saturated air).
//
// It is the inverse of WetBulb, over water. For tissue whose water has frozen
// right through, the same air at the same threshold would have to be up to
// about 1 K warmer in very dry air (dew point 15 K below the threshold) and up
// to 0.5 K less warm near saturation. Source: psychrometer equation, FAO-56
// eq. 15 (ventilated).
func StartTemperature(threshold, td quantity.Celsius, p quantity.Kilopascal) (quantity.Celsius, error) {
	const source = "start temperature, -15 <= dew point <= threshold <= 5 degC"
	if err := quantity.InRange("threshold", float64(threshold), -15, 5, "degC", source); err != nil {
		return 0, err
	}
	if err := quantity.InRange("dew point", float64(td), -15, float64(threshold), "degC", source); err != nil {
		return 0, err
	}
	if err := checkPressure(p); err != nil {
		return 0, err
	}
	if td == threshold {
		return threshold, nil
	}
	tw := float64(threshold)
	gap := SatVapKPa(tw) - SatVapKPa(float64(td))
	return quantity.Celsius(tw + gap/(psyA*(1+psyB*tw)*float64(p))), nil
}
