// Package air computes the state of moist air: saturation over water and ice,
// dew point, frost point, wet bulb, latent heats, density, pressure by
// elevation, and the air temperature at which sprinklers must be running.
//
// The functions with named types check their ranges and return a
// *quantity.RangeError instead of a number outside them. The functions whose
// names end in a unit take and return plain float64, check nothing, and are
// for inner loops that have checked their inputs once.
package air

import "math"

// Constants of the saturation formulas. Both curves start from the same value
// at 0 degC, so that water and ice meet there.
const (
	satAtZeroKPa = 0.6108 // FAO-56 eq. 11
	waterB       = 17.27  // FAO-56 eq. 11
	waterC       = 237.3  // degC, FAO-56 eq. 11
	iceB         = 22.46  // WMO-No. 8, vol. I, annex 4.B, Magnus form over ice
	iceC         = 272.62 // degC, the same
)

// SatVapKPa returns the saturation vapour pressure over liquid water (below
// 0 degC supercooled) at tC degrees Celsius, in kPa:
//
//	e_w = 0.6108 exp(17.27 t / (t + 237.3))
//
// Unchecked; see SaturationOverWater for range and accuracy. Source: FAO-56
// eq. 11.
func SatVapKPa(tC float64) float64 {
	return satAtZeroKPa * math.Exp(waterB*tC/(tC+waterC))
}

// SatVapSlopeKPaK returns the slope of SatVapKPa at tC, in kPa/K:
//
//	de_w/dt = 17.27 * 237.3 e_w / (t + 237.3)^2
//
// (FAO-56 eq. 13 writes the product as 4098.) Unchecked.
func SatVapSlopeKPaK(tC float64) float64 {
	d := tC + waterC
	return waterB * waterC * SatVapKPa(tC) / (d * d)
}

// SatVapIceKPa returns the saturation vapour pressure over ice at tC degrees
// Celsius, in kPa:
//
//	e_i = 0.6108 exp(22.46 t / (t + 272.62))
//
// Unchecked; above 0 degC it has no meaning. See SaturationOverIce for range,
// accuracy, and the reason for these constants.
func SatVapIceKPa(tC float64) float64 {
	return satAtZeroKPa * math.Exp(iceB*tC/(tC+iceC))
}

// SatVapIceSlopeKPaK returns the slope of SatVapIceKPa at tC, in kPa/K.
// Unchecked.
func SatVapIceSlopeKPaK(tC float64) float64 {
	d := tC + iceC
	return iceB * iceC * SatVapIceKPa(tC) / (d * d)
}

// DewPointC is the inverse of SatVapKPa: the temperature in degC at which
// vapour pressure eKPa saturates over water. Unchecked; eKPa must be above 0.
func DewPointC(eKPa float64) float64 {
	b := math.Log(eKPa/satAtZeroKPa) / waterB
	return waterC * b / (1 - b)
}

// FrostPointC is the inverse of SatVapIceKPa, in degC. Unchecked; eKPa must be
// above 0 and at most 0.6108.
func FrostPointC(eKPa float64) float64 {
	b := math.Log(eKPa/satAtZeroKPa) / iceB
	return iceC * b / (1 - b)
}

// VaporisationJKg returns the latent heat of vaporisation of water at tC, in
// J/kg: 2.501e6 - 2361 t. Unchecked; see Vaporisation.
func VaporisationJKg(tC float64) float64 { return 2.501e6 - 2361*tC }

// SublimationJKg returns the latent heat of sublimation of ice at tC, in J/kg:
// 2.8341e6 - 290 t - 4 t^2. Unchecked; see Sublimation.
func SublimationJKg(tC float64) float64 { return 2.8341e6 - 290*tC - 4*tC*tC }

// FusionJKg returns the latent heat of fusion of ice at tC, in J/kg:
// 3.336e5 + 2118 t. Unchecked; see Fusion.
func FusionJKg(tC float64) float64 { return 3.336e5 + 2118*tC }

// PressureKPa returns the mean air pressure at elevation zM metres, in kPa:
// 101.3 ((293 - 0.0065 z)/293)^5.26. Unchecked; see PressureAt.
func PressureKPa(zM float64) float64 {
	return 101.3 * math.Pow((293-0.0065*zM)/293, 5.26)
}

// DensityKgM3 returns the density of moist air at tC, vapour pressure eKPa and
// air pressure pKPa, in kg/m3. Unchecked; see Density.
func DensityKgM3(tC, eKPa, pKPa float64) float64 {
	const dryR, vapourR = 0.287042, 0.461524 // kJ kg-1 K-1
	tK := tC + 273.15
	return (pKPa-eKPa)/(dryR*tK) + eKPa/(vapourR*tK)
}
