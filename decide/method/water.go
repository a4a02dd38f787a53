package method

import (
	"math"

	"budward/physics/air"
	"budward/physics/floor"
	"budward/physics/ground"
	"budward/physics/quantity"
)

// Heat is what running water brings.
type Heat struct {
	Cooling  quantity.WattPerSquareMetre // from arrival down to the end temperature
	Freezing quantity.WattPerSquareMetre // if it freezes
	// LowK and HighK bound the gain in the air at cordon height over a large
	// block on a calm night. High is the upper bound in which all the cooling
	// warms the air; Low is what the twin columns leave of it, the floor keeping
	// the rest.
	LowK, HighK quantity.Kelvin
}

// Calm-night figures behind WaterHeat.
const (
	calmMixingWM2K = 17   // K at 1 m/s over some 50 ha
	reachesAir     = 0.25 // share that reaches the air in the twin columns (TestWaterHeat holds the two together)
)

// WaterHeat returns the heat of water given at rate mm/h and temperature t
// (degC) that cools to end (degC, not above t), with its freezing apart:
// cooling 1 mm/h by 10 K brings 11.6 W/m2, freezing it 92.9. Valid for 0 < rate
// <= 60 mm/h, 0 <= end <= t <= 40 degC, otherwise a *quantity.RangeError.
// Source: heat capacity and latent heat of water; the gain from the mixing of a
// calm night beside the floor's own loss by long wave.
func WaterHeat(rate quantity.MillimetrePerHour, t, end quantity.Celsius, freeze bool) (Heat, error) {
	const source = "heat capacity and latent heat of water"
	if err := quantity.InRange("application rate", float64(rate), 1e-6, 60, "mm/h", source); err != nil {
		return Heat{}, err
	}
	if err := quantity.InRange("water temperature", float64(t), 0, 40, "degC", source); err != nil {
		return Heat{}, err
	}
	if err := quantity.InRange("end temperature", float64(end), 0, float64(t), "degC", source); err != nil {
		return Heat{}, err
	}
	perS := float64(rate) / 3.6e6
	h := Heat{Cooling: quantity.WattPerSquareMetre(perS * ground.CapWater * float64(t-end))}
	if freeze {
		h.Freezing = quantity.WattPerSquareMetre(perS * ground.LatentFusion)
	}
	h.HighK = quantity.Kelvin(float64(h.Cooling) / (calmMixingWM2K + longwaveWM2K))
	h.LowK = reachesAir * h.HighK
	return h, nil
}

// longwaveWM2K is 4 sigma T^3 at 0 degC.
const longwaveWM2K = 4.6

// SurfaceWaterCautions stand beside any advice to run surface water at night.
func SurfaceWaterCautions(quantity.System) []string {
	return []string{
		"Running water on the night adds little; most of the protection is heat stored in moist, firm, bare soil on the days before.",
		"Start early enough that lines are full, or the water has reached the far end, before the critical time.",
		"Check drains, filters and dead ends that can freeze; no acid or fertiliser in the lines.",
		"Wet ground, electricity and the dark: keep clear of panels and pumps, do not go alone.",
		"Use water only as your right and local rules allow.",
	}
}

// FanLimits within which a fan is expected to help.
const (
	FanWindMS     = 1.7 // about 6 km/h: above, wind mixes the air itself
	FanInversionK = 1.1 // 2 degF between 10 m and cordon height
	fanSteepRatio = 0.5 // share of the inversion at best
	fanPoorRatio  = 0.2
	fanUsualRatio = 0.35 // a quarter to a half, from memory (low confidence)
	fanMixingWM2K = 15   // mixing that a fan adds to the block's air (a guess)
	FanHectares   = 4.25 // one 65-75 kW machine on 4.0-4.5 ha (FAO 10)
)

// FanGain returns low, central and high gain (K) of fans on an inversion of
// inversionK (10 m less cordon height), less what the added mixing takes off a
// floor gain of floorK under mixing k (W m-2 K-1): fan and floor together give
// less than their sum. share is how much of the block the machines cover.
func FanGain(inversionK, floorK, k, share float64) (low, central, high float64) {
	lost := floorK * fanMixingWM2K / (k + fanMixingWM2K)
	share = math.Min(1, share)
	f := func(r float64) float64 { return share * (r*math.Max(0, inversionK) - lost) }
	return f(fanPoorRatio), f(fanUsualRatio), f(fanSteepRatio)
}

// FanShare returns the share of areaHa that count machines cover.
func FanShare(count int, machineHa, areaHa float64) float64 {
	if machineHa <= 0 {
		machineHa = FanHectares
	}
	return math.Min(1, float64(count)*machineHa/areaHa)
}

// FanCautions stand beside any advice to run a fan.
func FanCautions(u quantity.System) []string {
	return []string{
		"Fans help only in an inversion and little wind; in an advective frost or above " + u.Wind(FanWindMS) + " leave them off.",
		"Never on vines wetted by sprinklers.",
		"Keep people clear of the blades and towers; let engines cool before refuelling; no one works alone at night.",
		"Noise rules may limit hours.",
	}
}

// HeaterGain returns low, central and high gain (K) of heaters burning outputW
// per square metre (W/m2) under mixing k (W m-2 K-1). Over half the output goes
// to the sky and up through the inversion (FAO 10): 25, 35 and 45 % stay.
func HeaterGain(outputWM2, k float64) (low, central, high float64) {
	f := func(kept float64) float64 { return kept * outputWM2 / (k + longwaveWM2K) }
	return f(0.25), f(0.35), f(0.45)
}

// HeaterCautions stand beside any advice to light heaters.
var HeaterCautions = []string{
	"Light every second or third first, then the rest; many small fires, not few hot ones.",
	"Heaters must be attended; never refuel hot equipment; carbon monoxide gathers in hollows and sheds.",
	"Burn only what local air rules allow; never tyres, rubber or waste oil.",
	"No one works alone at night.",
}

// InversionMostK bounds a modelled inversion (K, 10 m less cordon height): 3 K
// is what guides call strong, and a profile carried that far up is not to be
// trusted with more (docs/validation.md: it also finds inversions where a tower
// measured none).
const InversionMostK = 3.0

// Inversion returns the air at 10 m less that at cordon height (K) over the
// reference floor, by the stability profile, at most InversionMostK. Measured
// inversions are better.
func Inversion(ref RefStep, w *floor.Weather, cordonM, roughM float64) float64 {
	return math.Min(InversionMostK, floor.Transfer{FromM: cordonM, ToM: 10, Sensible: ref.Profile, WindMS: w.WindMS, AirC: w.AirC, RoughnessM: roughM, Pressure: w.Pressure}.DifferenceK())
}

// StartTemperature returns the air temperature (degC) at which the wet bulb
// meets threshold for dew point td at pressure p. Where the dew point is above
// the threshold it is the threshold itself, since the wet bulb cannot fall below
// the dew point. For dew points below -15 degC, where the checked formula ends,
// it uses the formula all the same and says so: the vapour pressure there is so
// small that the answer is bounded (about 9 degC at sea level).
func StartTemperature(threshold, td quantity.Celsius, p quantity.Kilopascal) (t quantity.Celsius, beyond bool, err error) {
	if td >= threshold {
		return threshold, false, nil
	}
	if td < -15 && td >= -60 {
		a := 0.00066 * (1 + 0.00115*float64(threshold))
		rise := (air.SatVapKPa(float64(threshold)) - air.SatVapKPa(float64(td))) / (a * float64(p))
		return threshold + quantity.Celsius(rise), true, nil
	}
	t, err = air.StartTemperature(threshold, td, p)
	return t, false, err
}
