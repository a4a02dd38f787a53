// Package floor is the vineyard floor as an energy balance: what a strip of
// bare, loosened, covered or wetted ground gives to the air on a cold night,
// what that makes the air at cordon height (twin columns), and how cold the
// buds get. It knows no farms: weather and ground in, temperatures and fluxes
// out. One implicit solve closes surface and soil with one ground heat flux.
package floor

import (
	"math"

	"budward/physics/quantity"
)

// Surface describes what lies between the soil and the air on one strip.
// Use the constructors; the zero value is not a surface.
type Surface struct {
	RoughnessM float64 // roughness length for momentum, z0m; a tenth of it for heat
	Emissivity float64
	AlbedoDry  float64 // bare: by moisture between dry and wet; covered: both equal
	AlbedoWet  float64
	CoverWM2K  float64 // conductance of a cover layer, soil surface to its top; 0 = none
	Passes     float64 // share of the short wave that reaches the soil through the cover
	SurfaceSM  float64 // resistance of the cover to the vapour of the soil below it, s/m
	LeafArea   float64 // leaf area index of a living cover, 0 = none or dead
	RootM      float64 // depth its roots draw from
	LooseM     float64 // depth of a loosened layer, 0 = firm
	LoosePores float64 // its porosity
}

// Parameters of the surfaces. They are priors, set from the literature named,
// before and apart from the handbook rows for floors that the tests hold them
// against.
const (
	bareRoughM   = 0.003 // smooth rolled soil 0.001 to rough 0.01 m (Oke 1987, table 2.2; from memory)
	tilledRoughM = 0.008
	bareEmiss    = 0.96 // soils 0.90-0.98 (Oke 1987, table 1.1; from memory)
	coverEmiss   = 0.97
	albedoDry    = 0.25 // light loam dry; dark soils are lower (Oke 1987, from memory)
	albedoWet    = 0.13
	albedoCover  = 0.23 // FAO-56 reference grass
	albedoStraw  = 0.25
	// Heat passes a sward by radiation between leaves, and by air that the warm
	// ground stirs from below at night: an apparent conductivity some ten times
	// that of still air (0.025 W m-1 K-1).
	coverCondWMK = 0.25
	coverBaseM   = 0.01 // a sward as short as this still shades the soil
	// Residue lies loosely, is stirred by the wind and shows soil between: fitted
	// on January, February, October and November of the Bondville record, whose
	// stubble is taken as 2 cm deep (docs/validation.md). Packed straw alone would
	// be 0.1-0.2 W m-1 K-1 (from memory).
	residueCondWMK = 0.7
	extinction     = 0.6  // Beer's law for short wave in leaves (Monsi & Saeki; from memory)
	laiPerM        = 24.0 // FAO-56 eq. 12: LAI = 24 h for clipped grass
	laiMost        = 4.0
	tilledPores    = 0.58 // loosened loam at 1.1 t/m3
	grassRoughPerM = 0.123
)

// Bare returns firm bare ground.
func Bare() Surface {
	return Surface{RoughnessM: bareRoughM, Emissivity: bareEmiss, AlbedoDry: albedoDry, AlbedoWet: albedoWet, Passes: 1}
}

// Loosened returns bare ground freshly loosened to depthM (0.01-0.6 m).
func Loosened(depthM float64) (Surface, error) {
	if err := quantity.InRange("loosened depth", depthM, 0.01, 0.6, "m", "tillage practice"); err != nil {
		return Surface{}, err
	}
	s := Bare()
	s.RoughnessM, s.LooseM, s.LoosePores = tilledRoughM, depthM, tilledPores
	return s, nil
}

// Covered returns ground under living cover heightM tall (0.005-3 m).
func Covered(heightM float64) (Surface, error) {
	if err := quantity.InRange("cover height", heightM, 0.005, 3, "m", "vineyard cover crops"); err != nil {
		return Surface{}, err
	}
	lai := math.Min(laiPerM*heightM, laiMost)
	return Surface{
		RoughnessM: math.Max(grassRoughPerM*heightM, bareRoughM), Emissivity: coverEmiss,
		AlbedoDry: albedoCover, AlbedoWet: albedoCover,
		CoverWM2K: coverCondWMK / (heightM + coverBaseM), Passes: math.Exp(-extinction * lai),
		SurfaceSM: 20 * lai, LeafArea: lai, RootM: 0.3,
	}, nil
}

// Residue returns ground under shredded residue thicknessM deep (0.002-0.5 m).
// What shredding leaves lies loosely and shows soil between: short wave passes
// with Beer's law over the thickness, and the conductivity includes the gaps
// and the wind that stirs them.
func Residue(thicknessM float64) (Surface, error) {
	if err := quantity.InRange("residue thickness", thicknessM, 0.002, 0.5, "m", "shredded cover crops and prunings"); err != nil {
		return Surface{}, err
	}
	return Surface{
		RoughnessM: tilledRoughM, Emissivity: bareEmiss, AlbedoDry: albedoStraw, AlbedoWet: albedoStraw,
		CoverWM2K: residueCondWMK / thicknessM, Passes: math.Exp(-thicknessM / residueShadeM),
		SurfaceSM: thicknessM * residueVapourSM2,
	}, nil
}

const (
	residueShadeM    = 0.009  // thickness that shades 63 % of the soil; fitted as above
	residueVapourSM2 = 500    // s/m per m: 10 s/m at 2 cm; fitted as above, low since wet residue evaporates by itself
	fullWet          = 0.6    // degree of saturation from which bare soil is as dark as wet
	vapourTopM       = 0.02   // soil depth whose wetness governs evaporation
	leafStomataSM    = 100.0  // FAO-56: well-lit leaf 100 s/m over half the leaf area
	leafNightSM      = 1500.0 // closed stomata
)

// albedo by wetness of the top soil, degree of saturation sat.
func (s *Surface) albedo(sat float64) float64 {
	return s.AlbedoDry + (s.AlbedoWet-s.AlbedoDry)*math.Min(1, sat/fullWet)
}

// vapour returns the resistance in s/m between the water of the strip and the
// air at its surface, and the share of the vapour that comes through leaves.
// Soil: Sellers et al. (1992), exp(8.206 - 4.255 S), S the degree of saturation
// of the top 2 cm (from memory), plus the cover's own resistance. Leaves, in
// parallel: FAO-56 in the light (open fully from about 200 W/m2), closed at
// night and short of water.
func (s *Surface) vapour(sat, shortWave, rootWetness float64) (resist, leaves float64) {
	soil := math.Exp(8.206-4.255*math.Min(sat, 1)) + s.SurfaceSM
	if s.LeafArea == 0 {
		return soil, 0
	}
	light := math.Min(1, shortWave/200)
	leaf := leafNightSM + (leafStomataSM-leafNightSM)*light*rootWetness
	leaf /= math.Max(0.5*s.LeafArea, 0.1)
	resist = 1 / (1/soil + 1/leaf)
	return resist, resist / leaf
}
