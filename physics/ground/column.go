package ground

import (
	"fmt"
	"math"
)

// Default layering of a column: thin at the top, where the daily wave is
// steep, and growing by a constant ratio to 2 m, where it has died out.
const (
	DefaultLayers  = 25
	DefaultTopM    = 0.005
	DefaultBottomM = 2.0
)

// Column is a vertical column of soil with heat and water by layer. Layer 0 is
// the top one. The energy of a layer is the conserved state; its temperature
// follows from it, so that heat is neither made nor lost by freezing, by
// moving water or by the linearisation of the solver.
//
// Heat: C dT/dt = d/dz (k dT/dz), finite volumes, implicit with weight Weight
// on the new fluxes, unconditionally stable, no flux at the bottom. The surface
// temperature is left to the caller: Prepare returns the ground heat flux as a
// linear function of it, Commit applies it.
type Column struct {
	N     int
	DZ    []float64 // layer thickness, m
	Depth []float64 // depth of the layer's middle, m
	Soil  []Soil    // material by layer

	Temp   []float64 // degC
	Water  []float64 // liquid and ice together, m3/m3
	energy []float64 // J/m2 relative to liquid water and soil at 0 degC
	capac  []float64 // J m-2 K-1, unfrozen
	ice    []float64 // m3/m3, liquid equivalent

	cond       []float64 // W m-1 K-1 by layer
	link       []float64 // W m-2 K-1 above layer i (link[0]: surface to layer 0)
	dry        []float64 // conductivity constants by layer
	sat        []float64
	satFrozen  []float64
	psiE, b    []float64 // Campbell retention by layer
	difSat     []float64 // soil-water diffusivity at saturation, m2/s
	alpha      []float64 // elimination: T[i] = alpha + beta T[i-1]
	beta       []float64
	slope      []float64 // dE/dT that the solve uses, J m-2 K-1
	held       []float64 // slope T* - E(T*) + E at the step's start: the rest of the linearised storage, J/m2
	energyOld  []float64
	tempSolved []float64
	dif        []float64 // soil-water diffusivity times porosity by layer, and the
	difFor     []float64 // liquid water it was worked out for
	condFor    []float64 // water and ice that the conductivity was worked out for
	condIce    []float64
	freezeAt   []float64 // freezing point and
	frozenFor  []float64 // the water it was worked out for
	flux       []float64 // scratch for water, m per step
	scratch    []float64
	source     []float64 // old fluxes' part of a step, W/m2
	theta      float64   // weight of the new fluxes in the step under way
	fluxOld    float64   // ground heat flux at the end of the last step, W/m2
	started    bool
	enthalpy   float64 // heat brought and taken by water since the last budget, J/m2
}

// Layers returns n layer thicknesses in m, from top, growing by a constant
// ratio, that sum to bottom.
func Layers(n int, top, bottom float64) []float64 {
	if n < 3 || top <= 0 || bottom < float64(n)*top {
		panic("ground: Layers needs n >= 3, 0 < top and bottom >= n*top")
	}
	lo, hi := 1.0, 4.0
	sum := func(r float64) float64 {
		s, d := 0.0, top
		for range n {
			s += d
			d *= r
		}
		return s
	}
	for range 200 {
		mid := (lo + hi) / 2
		if sum(mid) < bottom {
			lo = mid
		} else {
			hi = mid
		}
	}
	dz := make([]float64, n)
	d := top
	for i := range dz {
		dz[i] = d
		d *= lo
	}
	return dz
}

// NewColumn makes a column of one soil with the given layers, at one
// temperature (degC) and water content (m3/m3).
func NewColumn(dz []float64, soil Soil, tempC, water float64) (*Column, error) {
	if err := soil.Validate(); err != nil {
		return nil, err
	}
	n := len(dz)
	f := make([]float64, 27*n)
	cut := func() []float64 { s := f[:n:n]; f = f[n:]; return s }
	c := &Column{
		N: n, DZ: dz, Soil: make([]Soil, n),
		Depth: cut(), Temp: cut(), Water: cut(), energy: cut(), capac: cut(), ice: cut(), cond: cut(), link: cut(),
		dry: cut(), sat: cut(), satFrozen: cut(), psiE: cut(), b: cut(), difSat: cut(),
		alpha: cut(), beta: cut(), slope: cut(), held: cut(), energyOld: cut(), tempSolved: cut(), source: cut(), dif: cut(), difFor: cut(), condFor: cut(), condIce: cut(), freezeAt: cut(), frozenFor: cut(),
		flux: make([]float64, n+1), scratch: make([]float64, n),
	}
	z := 0.0
	for i, d := range dz {
		c.Depth[i] = z + d/2
		z += d
		c.setSoil(i, soil)
		c.Temp[i] = tempC
		c.condFor[i] = -1
	}
	for i := range dz {
		if err := c.SetWater(i, water); err != nil {
			return nil, err
		}
	}
	c.Refresh()
	return c, nil
}

func (c *Column) setSoil(i int, s Soil) {
	c.Soil[i] = s
	c.dry[i], c.sat[i], c.satFrozen[i] = s.DryConductivity(), s.SaturatedConductivity(false), s.SaturatedConductivity(true)
	c.psiE[i], c.b[i] = s.Retention()
	c.difSat[i] = s.KsMmH / 3.6e6 * c.b[i] * c.psiE[i] / s.Porosity
	c.difFor[i], c.condFor[i], c.frozenFor[i] = -1, -1, -1 // known for no water content yet
}

// Loosen gives the layers down to depthM the porosity of tilled soil. Water
// and heat per mass of solids stay: the layers' water content falls with their
// bulk density, and what the thinner packing no longer holds leaves the
// column (the ground stands a little higher; the layering does not follow it).
// Call it before a run, not within one: it is not part of a closed budget.
func (c *Column) Loosen(depthM, porosity float64) {
	for i := range c.N {
		if c.Depth[i] > depthM {
			break
		}
		s := c.Soil[i]
		dilute := (1 - porosity) / (1 - s.Porosity)
		if dilute >= 1 {
			continue
		}
		t := c.Temp[i]
		c.setSoil(i, s.Loosened(porosity))
		c.Water[i] *= dilute
		c.setTemp(i, t)
	}
	c.Refresh()
}

// SetWater sets the water content of layer i, keeping its temperature.
func (c *Column) SetWater(i int, water float64) error {
	if !(water >= 0 && water <= c.Soil[i].Porosity) {
		return fmt.Errorf("water content %.3f m3/m3 at %.2f m is outside 0..%.3f (porosity)", water, c.Depth[i], c.Soil[i].Porosity)
	}
	c.Water[i] = water
	c.setTemp(i, c.Temp[i])
	return nil
}

// SetTemp sets the temperature (degC) of every layer by depth, keeping water.
func (c *Column) SetTemp(at func(depthM float64) float64) {
	for i := range c.N {
		c.setTemp(i, at(c.Depth[i]))
	}
	c.Refresh()
}

func (c *Column) setTemp(i int, t float64) {
	c.Temp[i] = t
	c.capac[i] = c.Soil[i].HeatCapacity(c.Water[i], 0) * c.DZ[i]
	c.ice[i] = c.Water[i] - c.unfrozen(i, t)
	c.energy[i] = c.capac[i]*t - LatentFusion*c.ice[i]*c.DZ[i]
}

// sameWater is the change of water content (m3/m3) below which conductivity and
// diffusivity are not worked out anew: it moves them by less than 0.3 %, against
// an error of 20 % in the formulas.
const sameWater = 1e-4

// Refresh recomputes conductivities from water and ice. The stepper's caller
// does so as often as water moves (hourly); conductivity changes little
// between.
func (c *Column) Refresh() {
	for i := range c.N {
		if math.Abs(c.Water[i]-c.condFor[i])+math.Abs(c.ice[i]-c.condIce[i]) < sameWater {
			continue
		}
		c.condFor[i], c.condIce[i] = c.Water[i], c.ice[i]
		s := &c.Soil[i]
		c.cond[i] = s.conductivity(c.Water[i]-c.ice[i], c.ice[i], c.dry[i], c.sat[i], c.satFrozen[i])
	}
	c.link[0] = 2 * c.cond[0] / c.DZ[0]
	for i := 1; i < c.N; i++ {
		c.link[i] = 2 / (c.DZ[i-1]/c.cond[i-1] + c.DZ[i]/c.cond[i])
	}
}

// Weight is the weight of a step's new fluxes against its old ones. One half
// would be exact to second order and ring after every jump; one (backward
// Euler) damps the daily wave too much. 0.6 keeps a fifth of that error.
const Weight = 0.6

// Prepare begins a time step of dt seconds and returns the ground heat flux at
// its end as a function of the surface temperature then:
//
//	G = a Ts - b   (W/m2, positive down; Ts in degC)
//
// After the surface balance has been solved with it, call Commit with the Ts
// found. The first step of a column, having no old flux, is backward Euler.
func (c *Column) Prepare(dt float64) (a, b float64) {
	copy(c.energyOld, c.energy)
	for i := range c.N {
		t := c.Temp[i]
		c.slope[i] = c.capac[i]
		if t < 0 {
			c.slope[i] = c.slopeAt(i, t)
		}
		c.held[i] = c.slope[i] * t
	}
	c.theta = 1
	if c.started {
		c.theta = Weight
	}
	in := c.fluxOld
	for i := range c.N {
		out := 0.0
		if i+1 < c.N {
			out = c.link[i+1] * (c.Temp[i] - c.Temp[i+1])
		}
		c.source[i] = (1 - c.theta) * (in - out)
		in = out
	}
	return c.eliminate(dt)
}

// StepWeight returns the weight of the new fluxes in the step under way or
// last done; an account of the surface's fluxes must use the same.
func (c *Column) StepWeight() float64 { return c.theta }

func (c *Column) eliminate(dt float64) (a, b float64) {
	aNext, bNext := 0.0, 0.0
	below := 0.0
	for i := c.N - 1; i >= 0; i-- {
		s := c.slope[i] / dt
		link := c.theta * c.link[i]
		den := s + link + below*(1-bNext)
		aNext = (c.held[i]/dt + c.source[i] + below*aNext) / den
		bNext = link / den
		c.alpha[i], c.beta[i] = aNext, bNext
		below = link
	}
	return c.link[0] * (1 - c.beta[0]), c.link[0] * c.alpha[0]
}

// Commit ends the step begun by Prepare with surface temperature ts and
// returns the ground heat flux at its end (W/m2, positive down). If freezing or
// thawing within the step makes the linearisation poor by more than 0.02 K and
// 0.5 W/m2 in some layer it returns again = true together with new coefficients: the
// surface must then be solved anew with those and Commit called again. The
// caller bounds the number of rounds and calls Settle if it stops while again is
// true; whatever it settles for, energy is conserved.
func (c *Column) Commit(ts, dt float64) (flux float64, again bool, a, b float64) {
	n := c.N
	above := ts
	for i := range n {
		c.tempSolved[i] = c.alpha[i] + c.beta[i]*above
		above = c.tempSolved[i]
	}
	flux = c.link[0] * (ts - c.tempSolved[0])
	c.fluxOld, c.started = flux, true
	in := flux
	for i := range n {
		out := 0.0
		if i+1 < n {
			out = c.link[i+1] * (c.tempSolved[i] - c.tempSolved[i+1])
		}
		c.energy[i] = c.energyOld[i] + dt*(c.theta*(in-out)+c.source[i])
		in = out
		if c.energy[i] >= 0 && c.energyOld[i] >= 0 {
			c.Temp[i] = c.energy[i] / c.capac[i]
			continue
		}
		off := math.Abs(c.energyAt(i, c.tempSolved[i]) - c.energy[i])
		if off > 0.5*dt && off > 0.02*c.capac[i] {
			again = true
		}
	}
	if !again {
		c.Settle()
	} else {
		// Newton's method on the storage: E(T) ~ E(T*) + E'(T*) (T - T*) around
		// the temperatures just solved.
		for i := range n {
			if t := c.tempSolved[i]; t < 0 || c.energyOld[i] < 0 {
				c.slope[i] = c.slopeAt(i, t)
				c.held[i] = c.slope[i]*t - c.energyAt(i, t) + c.energyOld[i]
			}
		}
		a, b = c.eliminate(dt)
	}
	return flux, again, a, b
}

// Restart forgets the flux of the step before, as when what lies on the column
// has been changed: the next step is backward Euler.
func (c *Column) Restart() { c.started = false }

// Energy returns the heat held by the column, J/m2, relative to soil and
// liquid water at 0 degC.
func (c *Column) Energy() float64 {
	s := 0.0
	for _, e := range c.energy {
		s += e
	}
	return s
}

// WaterHeld returns the water in the column, m.
func (c *Column) WaterHeld() float64 {
	s := 0.0
	for i, w := range c.Water {
		s += w * c.DZ[i]
	}
	return s
}

// MeanWater returns the mean water content (m3/m3) from the surface to depthM.
func (c *Column) MeanWater(depthM float64) float64 {
	s, z := 0.0, 0.0
	for i := range c.N {
		d := math.Min(c.DZ[i], depthM-z)
		if d <= 0 {
			break
		}
		s += c.Water[i] * d
		z += d
	}
	return s / z
}

// At returns the temperature (degC) at depthM, by straight line between layer
// middles; above the first and below the last middle it returns that layer's.
func (c *Column) At(depthM float64) float64 {
	if depthM <= c.Depth[0] {
		return c.Temp[0]
	}
	for i := 1; i < c.N; i++ {
		if depthM <= c.Depth[i] {
			f := (depthM - c.Depth[i-1]) / (c.Depth[i] - c.Depth[i-1])
			return c.Temp[i-1] + f*(c.Temp[i]-c.Temp[i-1])
		}
	}
	return c.Temp[c.N-1]
}

// Ice returns the ice content of layer i as liquid equivalent, m3/m3.
func (c *Column) Ice(i int) float64 { return c.ice[i] }

// CopyFrom makes c equal in state to o, which must have the same layers.
func (c *Column) CopyFrom(o *Column) {
	if c.N != o.N {
		panic("ground: CopyFrom between columns of different layering")
	}
	copy(c.Soil, o.Soil)
	for _, p := range [][2][]float64{
		{c.Temp, o.Temp}, {c.Water, o.Water}, {c.energy, o.energy}, {c.capac, o.capac}, {c.ice, o.ice},
		{c.cond, o.cond}, {c.link, o.link}, {c.dry, o.dry}, {c.sat, o.sat}, {c.satFrozen, o.satFrozen},
		{c.psiE, o.psiE}, {c.b, o.b}, {c.difSat, o.difSat},
		{c.dif, o.dif}, {c.difFor, o.difFor}, {c.condFor, o.condFor}, {c.condIce, o.condIce}, {c.freezeAt, o.freezeAt}, {c.frozenFor, o.frozenFor},
	} {
		copy(p[0], p[1])
	}
	c.enthalpy, c.fluxOld, c.started, c.theta = o.enthalpy, o.fluxOld, o.started, o.theta
}

// Clone returns an independent copy.
func (c *Column) Clone() *Column {
	n, err := NewColumn(c.DZ, c.Soil[c.N-1], 10, c.Soil[c.N-1].WiltingPoint)
	if err != nil {
		panic("ground: Clone of an invalid column: " + err.Error())
	}
	n.CopyFrom(c)
	return n
}

// Join mixes a share of another column's ground into this one: the water and
// heat of each layer become the area-weighted means, as when the wetted bulb
// under an emitter grows into dry ground. own and other are areas (any unit).
func (c *Column) Join(o *Column, own, other float64) {
	if own+other <= 0 {
		panic("ground: Join of no area")
	}
	f := other / (own + other)
	c.fluxOld += f * (o.fluxOld - c.fluxOld)
	for i := range c.N {
		c.Water[i] += f * (o.Water[i] - c.Water[i])
		c.energy[i] += f * (o.energy[i] - c.energy[i])
		c.capac[i] = c.Soil[i].HeatCapacity(c.Water[i], 0) * c.DZ[i]
		c.settle(i)
	}
	c.Refresh()
}
