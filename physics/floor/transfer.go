package floor

import (
	"math"

	"budward/physics/quantity"
)

// Transfer carries an air temperature from one height to another over the same
// floor.
type Transfer struct {
	FromM, ToM float64 // heights above the floor, m
	Sensible   float64 // sensible heat of the floor, W/m2, upward
	WindMS     float64 // at 2 m, m/s
	AirC       float64 // at FromM, degC
	RoughnessM float64 // of the floor
	Pressure   float64 // kPa
}

const transferSource = "log-linear profile of the surface layer (Businger-Dyer)"

// Difference returns the air temperature at ToM less that at FromM and one
// standard deviation of its error, both K:
//
//	dT = (theta*/k) [ln(ToM/FromM) + 5 (ToM - FromM)/L],  theta* = -H/(rho cp u*)
//
// L = rho cp T u*^3 / (-k g H) is held at or above the largest of the two heights
// and the wind's 2 m (the profile is not valid beyond z/L = 1). u* is that of the
// same profile for the wind, u = (u*/k) [ln(2/z0) + 5 2/L]: below the neutral
// one, down to two thirds of it at the largest heat flux that this wind can
// carry in stable air, and held there beyond. Wind counts as 1 m/s at least, the
// floor of the exchange that H comes from. By day (H > 0) the brackets are the
// logarithms alone. The error is 0.6 of the difference plus 0.25 K: within a metre
// of the ground on a calm night it can be as large as any floor gain; on the one
// open frost night at two heights it was larger still (docs/validation.md).
// Valid for heights 0.3-10 m, else a *quantity.RangeError.
func (t Transfer) Difference() (diff, spread quantity.Kelvin, err error) {
	for _, r := range []struct {
		q, unit   string
		v, lo, hi float64
	}{
		{"height", "m", t.FromM, 0.3, 10}, {"height", "m", t.ToM, 0.3, 10},
		{"wind", "m/s", t.WindMS, 0, 60}, {"sensible heat", "W/m2", t.Sensible, -300, 800},
		{"air temperature", "degC", t.AirC, -40, 50}, {"pressure", "kPa", t.Pressure, 50, 110},
		{"roughness length", "m", t.RoughnessM, 1e-4, 0.5},
	} {
		if e := quantity.InRange(r.q, r.v, r.lo, r.hi, r.unit, transferSource); e != nil {
			return 0, 0, e
		}
	}
	d := t.DifferenceK()
	return quantity.Kelvin(d), quantity.Kelvin(TransferSpreadK(d)), nil
}

// TransferSpreadK returns one standard deviation (K) of the error of a height
// transfer of d (K).
func TransferSpreadK(d float64) float64 { return 0.6*math.Abs(d) + 0.25 }

// DifferenceK is Difference without range checks.
func (t Transfer) DifferenceK() float64 {
	if t.FromM == t.ToM || t.Sensible == 0 {
		return 0
	}
	tK := t.AirC + quantity.ZeroCelsiusK
	rhoCp := t.Pressure / (0.287042 * tK) * cpAir
	z0 := math.Min(t.RoughnessM, 0.2)
	ustar := karman * math.Max(t.WindMS, 1) / math.Log(windAtM/z0)
	shape := math.Log(t.ToM / t.FromM)
	if t.Sensible < 0 {
		perCube := rhoCp * tK / (karman * gravity * -t.Sensible) // L / u*^3
		ustar *= stableShare(5 * windAtM / (perCube * ustar * ustar * ustar * math.Log(windAtM/z0)))
		l := math.Max(perCube*ustar*ustar*ustar, math.Max(windAtM, math.Max(t.FromM, t.ToM)))
		shape += 5 * (t.ToM - t.FromM) / l
	}
	scale := -t.Sensible / (rhoCp * ustar)
	return scale / karman * shape
}

// stableShare returns u* in stable air as a share x of the neutral one: the
// upper root of x^3 - x^2 + b = 0, where b = 5 z/(L ln(z/z0)) with the neutral L.
// There is none beyond b = 4/27, the largest heat flux the wind can carry; x then
// stays at two thirds.
func stableShare(b float64) float64 {
	if b >= 4.0/27 {
		return 2.0 / 3
	}
	return 1.0/3 + 2.0/3*math.Cos(math.Acos(1-13.5*b)/3)
}
