package floor

import (
	"math"

	"budward/physics/quantity"
	"budward/physics/sky"
)

// Bud holds what a bud's temperature depends on.
type Bud struct {
	AirC      float64 // air at the bud, degC
	WindMS    float64 // wind at the bud, m/s
	LongWave  float64 // from the sky, W/m2
	GroundC   float64 // temperature of the ground it faces, degC
	DiameterM float64 // 0.004 (a swollen bud) to 0.012 m (a shoot tip); 0 = 0.007
}

const (
	budSource     = "energy balance of a small cylinder; Hilpert (1933)"
	budDiameterM  = 0.007
	airConductWMK = 0.0243  // at 0 degC
	airViscM2S    = 1.33e-5 // at 0 degC
	budEmissivity = 0.95
	stillAirWM2K  = 8.0 // free convection of a 7 mm cylinder 1-2 K off the air
)

// Depression returns by how much (K) exposed, dry tissue is colder than the
// air around it at night: a horizontal cylinder that sees sky with its upper
// half and ground with its lower, exchanging heat by
//
//	h = (k/D) 0.683 Re^0.466, 40 <= Re <= 4000, and free convection below
//
// Radiation is taken linear in the difference. It is negative when the sky is
// warmer. Valid for air -15..15 degC, wind 0..10 m/s, sky 120..420 W/m2;
// otherwise a *quantity.RangeError. Expect a third of the answer as error:
// buds are not cylinders, and sap, wetness and neighbours are left out.
// Clear, calm nights give 0.5-2 K (common practice).
func (b Bud) Depression() (quantity.Kelvin, error) {
	for _, r := range []struct {
		q, unit   string
		v, lo, hi float64
	}{
		{"air temperature", "degC", b.AirC, -15, 15}, {"wind at the bud", "m/s", b.WindMS, 0, 10},
		{"long wave from the sky", "W/m2", b.LongWave, 120, 420}, {"ground temperature", "degC", b.GroundC, -30, 40},
		{"bud diameter", "m", b.DiameterM, 0, 0.03},
	} {
		if err := quantity.InRange(r.q, r.v, r.lo, r.hi, r.unit, budSource); err != nil {
			return 0, err
		}
	}
	return quantity.Kelvin(b.DepressionK()), nil
}

// DepressionK is Depression without range checks, for loops that have checked.
func (b Bud) DepressionK() float64 {
	d := b.DiameterM
	if d == 0 {
		d = budDiameterM
	}
	h := stillAirWM2K
	if re := b.WindMS * d / airViscM2S; re > 0 {
		h = math.Max(h, airConductWMK/d*0.683*math.Pow(re, 0.466))
	}
	ta, tg := b.AirC+quantity.ZeroCelsiusK, b.GroundC+quantity.ZeroCelsiusK
	sigma := budEmissivity * sky.StefanBoltzmann
	lost := sigma*ta*ta*ta*ta - 0.5*budEmissivity*b.LongWave - 0.5*sigma*tg*tg*tg*tg
	return lost / (h + 4*sigma*ta*ta*ta)
}
