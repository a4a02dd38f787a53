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
// L = rho cp T u*^3 / (-k g H) is held at or above the larger height (the
// profile is not valid beyond z/L = 1), wind at or above 1 m/s, the wind floor
// of the exchange that H comes from. By day (H > 0) the bracket is the
// logarithm alone. The error is half the difference plus 0.1 K: within a metre
// of the ground on a calm night it can be as large as any floor gain.
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
func TransferSpreadK(d float64) float64 { return 0.5*math.Abs(d) + 0.1 }

// DifferenceK is Difference without range checks.
func (t Transfer) DifferenceK() float64 {
	if t.FromM == t.ToM || t.Sensible == 0 {
		return 0
	}
	tK := t.AirC + quantity.ZeroCelsiusK
	rhoCp := t.Pressure / (0.287042 * tK) * cpAir
	z0 := math.Min(t.RoughnessM, 0.2)
	ustar := karman * math.Max(t.WindMS, 1) / math.Log(windAtM/z0)
	scale := -t.Sensible / (rhoCp * ustar)
	shape := math.Log(t.ToM / t.FromM)
	if t.Sensible < 0 {
		l := rhoCp * tK * ustar * ustar * ustar / (karman * gravity * -t.Sensible)
		l = math.Max(l, math.Max(t.FromM, t.ToM))
		shape += 5 * (t.ToM - t.FromM) / l
	}
	return scale / karman * shape
}
