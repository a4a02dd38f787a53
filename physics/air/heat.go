package air

import "budward/physics/quantity"

// JoulePerKilogram is a latent heat in J/kg.
type JoulePerKilogram float64

// PsychrometricConstant returns gamma in kPa/K at pressure p: 0.665e-3 p, for
// 50..110 kPa, otherwise a *quantity.RangeError. Source: FAO-56 eq. 8, with the
// latent heat at 20 degC.
func PsychrometricConstant(p quantity.Kilopascal) (float64, error) {
	if err := checkPressure(p); err != nil {
		return 0, err
	}
	return 0.665e-3 * float64(p), nil
}

// PressureAt returns the mean air pressure at elevation z:
//
//	p = 101.3 kPa ((293 - 0.0065 z) / 293)^5.26
//
// Valid for -430 <= z <= 5000 m, otherwise a *quantity.RangeError. The weather
// moves the true pressure by up to about 3 % either way; a wet bulb shifts by
// less than 0.1 K for it near 0 degC. Source: FAO-56 eq. 7.
func PressureAt(z quantity.Metre) (quantity.Kilopascal, error) {
	if err := quantity.InRange("elevation", float64(z), -430, 5000, "m", "FAO-56 eq. 7, lowest shore to 5000 m"); err != nil {
		return 0, err
	}
	return quantity.Kilopascal(PressureKPa(float64(z))), nil
}

// Vaporisation returns the latent heat of vaporisation of water at t:
// 2.501e6 - 2361 t J/kg, for -30 <= t <= 50 degC, otherwise a
// *quantity.RangeError. Within 0.1 % of the steam tables on 0..50 degC
// (TestLatentHeats). Source: FAO-56 annex 3 eq. 3-1.
func Vaporisation(t quantity.Celsius) (JoulePerKilogram, error) {
	if err := quantity.InRange("temperature", float64(t), wetLoC, wetHiC, "degC", "latent heat of vaporisation"); err != nil {
		return 0, err
	}
	return JoulePerKilogram(VaporisationJKg(float64(t))), nil
}

// Sublimation returns the latent heat of sublimation of ice at t:
// 2.8341e6 - 290 t - 4 t^2 J/kg, for -30 <= t <= 0 degC, otherwise a
// *quantity.RangeError. Source: quadratic fit as given by Rogers and Yau, A
// Short Course in Cloud Physics (from memory, not checked against the page);
// held to the identity sublimation = vaporisation + fusion by
// TestLatentHeats.
func Sublimation(t quantity.Celsius) (JoulePerKilogram, error) {
	if err := quantity.InRange("temperature", float64(t), wetLoC, 0, "degC", "latent heat of sublimation"); err != nil {
		return 0, err
	}
	return JoulePerKilogram(SublimationJKg(float64(t))), nil
}

// Fusion returns the latent heat of fusion of ice at t: 3.336e5 + 2118 t J/kg,
// for -30 <= t <= 0 degC, otherwise a *quantity.RangeError. The slope is the
// difference of the specific heats of water and ice, 4218 - 2100 J kg-1 K-1
// (Kirchhoff). Less heat is freed by water that freezes supercooled. Source:
// heat of fusion 333.6 kJ/kg at 0 degC, often rounded to 334.
func Fusion(t quantity.Celsius) (JoulePerKilogram, error) {
	if err := quantity.InRange("temperature", float64(t), wetLoC, 0, "degC", "latent heat of fusion"); err != nil {
		return 0, err
	}
	return JoulePerKilogram(FusionJKg(float64(t))), nil
}

// Density returns the density in kg/m3 of moist air at t with vapour pressure e
// and total pressure p, as a mixture of two ideal gases:
//
//	rho = (p - e)/(0.287042 T) + e/(0.461524 T),  p, e in kPa, T in K
//
// Ranges as WetBulb. Within 0.1 % of the grid in TestMoistAirGrid.
func Density(t quantity.Celsius, e, p quantity.Kilopascal) (float64, error) {
	if err := checkMoist(t, e, p); err != nil {
		return 0, err
	}
	return DensityKgM3(float64(t), float64(e), float64(p)), nil
}
