// Package ground is the soil under a vineyard floor as numbers: heat capacity
// and conductivity from moisture, a one-dimensional column of heat and water
// from the surface to 2 m, and the share of the floor that point sources wet.
// It knows no farms; the surface itself (radiation, air, cover) is package
// floor.
package ground

import (
	"fmt"
	"math"
	"sort"

	"budward/physics/quantity"
)

// Soil is the material of a column, per unit of its volume.
type Soil struct {
	Porosity      float64 // m3/m3, water content at saturation
	FieldCapacity float64 // m3/m3, about -33 kPa (-10 kPa in sands)
	WiltingPoint  float64 // m3/m3, -1500 kPa
	Quartz        float64 // share of the solids that is quartz, 0..1
	KsMmH         float64 // saturated hydraulic conductivity, mm/h
	DrainH        float64 // hours for the top 30 cm to drain from saturation to field capacity
	Coarse        bool    // takes the coarse branch of the Kersten number
	WiderThanDeep float64 // bulb under an emitter: horizontal radius over depth
}

// textures holds the twelve USDA classes.
//
//	FieldCapacity, WiltingPoint, KsMmH: Saxton & Rawls (2006), class values at
//	2.5 % organic matter (sandy clay and clay from memory).
//	Porosity: theta_s of Carsel & Parrish (1988) (rows after sandy clay loam
//	from memory), raised where it would not exceed field capacity.
//	Quartz: Peters-Lidard et al. (1998), table 2, from memory.
//	DrainH: one day for sand to three for clay, by common practice (two days
//	is the usual rule for loams; field capacity is read about 48 h after
//	wetting), spread over the classes by the logarithm of KsMmH.
//	WiderThanDeep: loams and clays spread wider than deep, sands deeper than
//	wide (common practice); the hemisphere (1) is the loam.
var textures = map[string]Soil{
	"sand":            {.43, .10, .05, .92, 108, 24, true, 0.6},
	"loamy sand":      {.41, .12, .05, .82, 97, 26, true, 0.7},
	"sandy loam":      {.41, .18, .08, .60, 50, 32, true, 0.85},
	"loam":            {.43, .28, .14, .40, 15.5, 48, false, 1.0},
	"silt loam":       {.45, .31, .11, .25, 16, 48, false, 1.1},
	"silt":            {.46, .30, .06, .10, 22, 48, false, 1.1},
	"sandy clay loam": {.39, .27, .17, .60, 11, 48, true, 1.0},
	"clay loam":       {.46, .36, .22, .35, 4.3, 60, false, 1.2},
	"silty clay loam": {.48, .38, .22, .10, 5.7, 60, false, 1.2},
	"silty clay":      {.50, .41, .27, .10, 3.7, 66, false, 1.25},
	"sandy clay":      {.44, .36, .25, .52, 1.4, 66, false, 1.2},
	"clay":            {.50, .42, .30, .25, 1.1, 72, false, 1.3},
}

// Textures lists the USDA texture class names that ByTexture knows.
func Textures() []string {
	names := make([]string, 0, len(textures))
	for n := range textures {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// ByTexture returns the class values of a USDA soil texture; ok is false for
// an unknown name. Class values stand for a wide range of real soils: field
// capacity by about +-0.05 m3/m3.
func ByTexture(name string) (s Soil, ok bool) {
	s, ok = textures[name]
	return s, ok
}

// Validate reports the first value of s that cannot be a soil.
func (s Soil) Validate() error {
	check := func(q string, v, lo, hi float64) error {
		if v >= lo && v <= hi {
			return nil
		}
		return &quantity.RangeError{Quantity: q, Value: v, Lo: lo, Hi: hi, Unit: "", Source: "physical bounds of mineral soils"}
	}
	for _, e := range []error{
		check("porosity", s.Porosity, 0.25, 0.85),
		check("field capacity", s.FieldCapacity, 0.02, s.Porosity-0.005),
		check("wilting point", s.WiltingPoint, 0.005, s.FieldCapacity-0.005),
		check("quartz share", s.Quartz, 0, 1),
		check("saturated conductivity, mm/h", s.KsMmH, 0.01, 5000),
		check("drainage time, h", s.DrainH, 6, 240),
		check("bulb width over depth", s.WiderThanDeep, 0.2, 5),
	} {
		if e != nil {
			return e
		}
	}
	return nil
}

// Loosened returns the soil after tillage has opened it to the given porosity:
// water contents at the same suction fall with the bulk density, pores wide
// enough to hold no water at field capacity make up the rest.
func (s Soil) Loosened(porosity float64) Soil {
	if porosity <= s.Porosity {
		return s
	}
	dilute := (1 - porosity) / (1 - s.Porosity)
	s.FieldCapacity *= dilute
	s.WiltingPoint *= dilute
	s.Porosity = porosity
	return s
}

// Retention returns the two parameters of Campbell's (1974) water retention,
// psi = psiE (theta/porosity)^-b, that passes through field capacity at -33
// kPa (-10 kPa in coarse soils) and wilting point at -1500 kPa.
// psiE is a positive suction in metres of water.
func (s Soil) Retention() (psiEM, b float64) {
	fcKPa := 33.0
	if s.Coarse && s.FieldCapacity < 0.2 {
		fcKPa = 10
	}
	b = math.Log(1500/fcKPa) / math.Log(s.FieldCapacity/s.WiltingPoint)
	return fcKPa / 9.81 * math.Pow(s.FieldCapacity/s.Porosity, b), b
}

// Diffusivity returns the soil-water diffusivity in m2/s at water content
// theta, Campbell (1974): D = Ks b psiE / porosity (theta/porosity)^(b+2).
// Valid from dryness to field capacity; wetter soil drains by gravity and is
// not described by it.
func (s Soil) Diffusivity(theta float64) float64 {
	psiE, b := s.Retention()
	return s.KsMmH / 3.6e6 * b * psiE / s.Porosity * math.Pow(theta/s.Porosity, b+2)
}

// Name of the conductivity model in use, for reports.
const conductivitySource = "Peters-Lidard et al. (1998), after Johansen (1975)"

// Volumetric heat capacities, J m-3 K-1, at 0-20 degC.
const (
	capWater  = 4.18e6 // de Vries (1963)
	capQuartz = 2.13e6 // de Vries (1963)
	capClay   = 2.39e6 // de Vries (1963), clay minerals
	capIce    = 1.9e6  // de Vries (1963)
	// LatentFusion is the latent heat of fusion per volume of liquid water,
	// J/m3: 334 kJ/kg times 1000 kg/m3.
	LatentFusion = 334e6
	// CapWater is the heat capacity of liquid water, J m-3 K-1.
	CapWater = capWater
)

// Conductivities, W m-1 K-1.
const (
	condWater = 0.57
	condIce   = 2.2
	condQtz   = 7.7
)

// HeatCapacity returns the volumetric heat capacity in J m-3 K-1 of soil with
// liquid water content theta and ice content ice (both m3 of liquid equivalent
// per m3): the sum over constituents weighted by volume.
// Source: de Vries (1963).
func (s Soil) HeatCapacity(theta, ice float64) float64 {
	solids := 1 - s.Porosity
	return solids*(s.Quartz*capQuartz+(1-s.Quartz)*capClay) + theta*capWater + ice*capIce
}

// DryConductivity returns the thermal conductivity in W m-1 K-1 of the soil
// without water: (0.135 rho_d + 64.7)/(2700 - 0.947 rho_d), rho_d = 2700 (1 -
// porosity) kg/m3; good to about 20 %. Source: Johansen (1975).
func (s Soil) DryConductivity() float64 {
	rhoD := 2700 * (1 - s.Porosity)
	return (0.135*rhoD + 64.7) / (2700 - 0.947*rhoD)
}

// SaturatedConductivity returns the conductivity in W m-1 K-1 of the soil with
// its pores full of water, or of ice.
// Source: geometric mean, Johansen (1975).
func (s Soil) SaturatedConductivity(frozen bool) float64 {
	other := 2.0
	if s.Quartz < 0.2 {
		other = 3.0
	}
	solids := math.Pow(condQtz, s.Quartz) * math.Pow(other, 1-s.Quartz)
	pore := condWater
	if frozen {
		pore = condIce
	}
	return math.Pow(solids, 1-s.Porosity) * math.Pow(pore, s.Porosity)
}

// kersten returns the Kersten number for degree of saturation sat.
func (s Soil) kersten(sat float64) float64 {
	if s.Coarse {
		if sat <= 0.05 {
			// The coarse branch, 0.7 log10 S + 1, is published for S > 0.05;
			// below, it is joined to dry soil by a straight line so that
			// conductivity stays continuous.
			return sat / 0.05 * (0.7*math.Log10(0.05) + 1)
		}
		return 0.7*math.Log10(sat) + 1
	}
	if sat <= 0.1 {
		return 0
	}
	return math.Log10(sat) + 1
}

// Conductivity returns the thermal conductivity in W m-1 K-1 at liquid water
// content theta and ice content ice (m3/m3): Ke (k_sat - k_dry) + k_dry, the
// Kersten number Ke by coarse or fine soil, moving towards its frozen form (Ke
// = S) with the share of the water that is ice. Valid for 0 <= theta + ice <=
// porosity; expect 20-25 %. Source: Peters-Lidard et al. (1998), after
// Johansen (1975).
func (s Soil) Conductivity(theta, ice float64) (float64, error) {
	if !(theta >= 0 && ice >= 0 && theta+ice <= s.Porosity+1e-9) {
		return 0, &quantity.RangeError{Quantity: "water content", Value: theta + ice, Lo: 0, Hi: s.Porosity, Unit: "m3/m3", Source: conductivitySource}
	}
	return s.conductivity(theta, ice, s.DryConductivity(), s.SaturatedConductivity(false), s.SaturatedConductivity(true)), nil
}

func (s Soil) conductivity(theta, ice, dry, sat, satFrozen float64) float64 {
	w := theta + ice
	if w <= 0 {
		return dry
	}
	deg := w / s.Porosity
	k := dry + s.kersten(deg)*(sat-dry)
	if ice > 0 {
		frozen := dry + deg*(satFrozen-dry)
		k += ice / w * (frozen - k)
	}
	return k
}

// Diffusive returns thermal diffusivity (m2/s), damping depth of the daily
// wave (m) and admittance (J m-2 K-1 s-1/2) for conductivity k and heat
// capacity c: k/c, sqrt(2 k/(c omega)), sqrt(k c), omega = 2 pi / 86164 s
// being so close to 2 pi / 86400 s that the solar day is used.
func Diffusive(k, c float64) (diffusivity, dampingM, admittance float64) {
	const omega = 2 * math.Pi / 86400
	d := k / c
	return d, math.Sqrt(2 * d / omega), math.Sqrt(k * c)
}

// String names the soil by its water constants.
func (s Soil) String() string {
	return fmt.Sprintf("porosity %.2f, field capacity %.2f, wilting point %.2f", s.Porosity, s.FieldCapacity, s.WiltingPoint)
}
