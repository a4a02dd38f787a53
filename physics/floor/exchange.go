package floor

import "math"

// Exchange holds the parameters of turbulent exchange between a surface and
// the air, one stated set for all surfaces.
type Exchange struct {
	WindFloorMS float64 // least wind used: a surface is never wholly cut off
	StableA     float64 // stable damping 1/(1 + StableA Ri)
	RadiantWM2K float64 // radiation to the air of the lowest metres, acting like a conductance
}

// DefaultExchange is the set in use, a prior for all surfaces. The wind floor
// of 1 m/s stands for the gusts and drifts that an hour's mean hides (land
// surface models use 0.5-1 m/s; common practice); A = 5 is the slope of the
// log-linear stability functions (Businger-Dyer); the radiant part is 4 sigma
// T^3 times an emissivity of 0.4 for the lowest metres of air.
func DefaultExchange() Exchange {
	return Exchange{WindFloorMS: 1, StableA: 5, RadiantWM2K: 2}
}

const (
	karman    = 0.41
	gravity   = 9.81
	cpAir     = 1013.0 // J kg-1 K-1, FAO-56
	windAtM   = 2.0    // height of the wind handed in
	louisUnst = 9.4    // Louis (1979)
	louisHeat = 5.3
)

// coefficients of one surface that do not change with the weather.
type drag struct {
	neutral float64 // k^2/(ln(zu/z0m) ln(zt/z0h))
	unst    float64 // Louis's c for heat
	richard float64 // g zt / u^2 -> Ri = richard dT / (T u^2)
}

func newDrag(roughM, airAtM float64) drag {
	z0m := math.Min(roughM, 0.2*airAtM)
	z0h := z0m / 10
	cd := karman * karman / (math.Log(windAtM/z0m) * math.Log(airAtM/z0h))
	a := karman * karman / (math.Log(windAtM/z0m) * math.Log(windAtM/z0m))
	return drag{neutral: cd, unst: louisUnst * louisHeat * a * math.Sqrt(airAtM/z0m), richard: gravity * airAtM}
}

// conductance returns the exchange of sensible heat h = H/(Ts-Ta) in W m-2 K-1
// and dh/dTs, at the difference dT = Ts - Ta (K), wind u at 2 m (m/s), absolute
// temperature tK and rho cp:
//
//	stable:   f = 1 / (1 + A Ri)
//	unstable: f = 1 + 9.4 |Ri| / (1 + c sqrt(|Ri|)), Louis (1979)
//
// H rises with dT everywhere, so that a surface that cools cannot lose its
// exchange and run away.
func (x *Exchange) conductance(d *drag, dT, u, tK, rhoCp float64) (h, slope float64) {
	u = math.Max(u, x.WindFloorMS)
	base := rhoCp * d.neutral * u
	perK := d.richard / (tK * u * u) // |Ri| per kelvin
	if dT <= 0 {
		f := 1 / (1 - x.StableA*perK*dT)
		return base*f + x.RadiantWM2K, base * f * f * x.StableA * perK
	}
	ri := perK * dT
	q := math.Sqrt(ri)
	den := 1 + d.unst*q
	return base*(1+louisUnst*ri/den) + x.RadiantWM2K, base * louisUnst * perK * (1 + d.unst*q/2) / (den * den)
}
