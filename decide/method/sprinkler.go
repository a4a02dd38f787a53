package method

import (
	"math"

	"budward/physics/air"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// Tissue is what over-vine water has to keep at 0 degC.
type Tissue struct {
	DiameterM float64 // size across the wind
	Capture   float64 // share of the water that freezes where it is needed
}

// VineTissue stands for shoots and swollen buds with their wood.
var VineTissue = Tissue{DiameterM: 0.03, Capture: 0.75}

const sprinklerSource = "heat balance of wetted tissue at 0 degC (forced convection of a flat leaf, psychrometer, clear sky), set beside FAO 10 table 7.6"

// Limits within which over-vine sprinkling is advised at all.
const (
	SprinkleLeastC = -7.0 // below, published tables end
	SprinkleWindMS = 4.5  // 10 mph: drift and evaporation win (common practice)
)

// SprinklerRate returns the application rate in mm/h that holds wetted vine
// tissue at 0 degC in air of temperature t (degC), relative humidity rh (over
// water) and wind u (m/s at the vines) under a clear sky:
//
//	P = [h (0 - t) + h/gamma (e_s(0) - e) + net long wave] / (Lf capture)
//
// h = 6.62 sqrt(u/D) W m-2 K-1 (flat leaf, D across the wind), u at least 0.3
// m/s. Freezing 1 mm/h releases 92.9 W/m2. Valid for -7 <= t <= 0 degC, u <= 4.5
// m/s and rh 20..100 %, otherwise a *quantity.RangeError and no rate: the
// advice there is not to start. Against the handbook's rates for tall crops it
// is within 0.8 mm/h (TestSprinklerRate); take the higher of the two.
func SprinklerRate(t quantity.Celsius, rh quantity.Share, u quantity.MetrePerSecond, tissue Tissue) (quantity.MillimetrePerHour, error) {
	for _, r := range []struct {
		q, unit   string
		v, lo, hi float64
	}{
		{"air temperature", "degC", float64(t), SprinkleLeastC, 0}, {"relative humidity", "", float64(rh), 0.2, 1},
		{"wind", "m/s", float64(u), 0, SprinkleWindMS}, {"tissue size", "m", tissue.DiameterM, 0.003, 0.2},
		{"share captured", "", tissue.Capture, 0.2, 1},
	} {
		if err := quantity.InRange(r.q, r.v, r.lo, r.hi, r.unit, sprinklerSource); err != nil {
			return 0, err
		}
	}
	ta := float64(t)
	e := float64(rh) * air.SatVapKPa(ta)
	h := 6.62 * math.Sqrt(math.Max(float64(u), 0.3)/tissue.DiameterM)
	// Tissue sees sky above and ground about as cold as itself below.
	net := 0.97 * (sky.StefanBoltzmann*math.Pow(quantity.ZeroCelsiusK, 4) - sky.LongwaveDown(ta, e, 0, sky.Default)) / 2
	need := h*-ta + h/0.0665*math.Max(0, air.SatVapKPa(0)-e) + math.Max(0, net)
	const perMm = 334e3 / 3600.0 // W/m2 in 1 mm/h
	return quantity.MillimetrePerHour(need / (perMm * tissue.Capture)), nil
}

// HandbookSprinklerRate returns the handbook's rate in mm/h for tall crops and
// a rotation of 60 s, with 0.5 mm/h more above 0.5 m/s: FAO 10 tables 7.6-7.7
// (from memory), on straight lines between -2, -4 and -6 degC and towards no
// need at 0.6 degC; ok is false below -6 degC, where the table ends.
func HandbookSprinklerRate(t quantity.Celsius, u quantity.MetrePerSecond) (rate quantity.MillimetrePerHour, ok bool) {
	if !(t >= -6 && t <= 0) || !(u >= 0 && u <= 1.5) {
		return 0, false
	}
	r := 3.2 + 0.65*(-2-float64(t))
	if t > -2 {
		r = 3.2 * (0.6 - float64(t)) / 2.6
	}
	if u > 0.5 {
		r += 0.5
	}
	return quantity.MillimetrePerHour(r), true
}

// SprinklerCautions stand beside any advice to sprinkle over vines.
func SprinklerCautions(u quantity.System) []string {
	freezing := u.Temperature(0)
	return []string{
		"Once started, do not stop until the wet bulb upwind is above " + freezing + " and the ice is loose and melting: not at sunrise, not when the air passes " + freezing + ".",
		"A system that fails leaves vines colder than untreated ones: have fuel, a second power source and a person watching.",
		"Never run a fan on wetted vines.",
		"Walk the heads for frozen nozzles and risers; mind drift, dry edge rows, and the weight of ice on young vines and trellis.",
		"Wet ground, electricity and the dark: keep clear of panels and pumps in the spray, do not go alone.",
		"Use water only as your right and local rules allow.",
	}
}
