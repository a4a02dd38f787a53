package ground

import "math"

// WaterMove is what happens to a column's water over one water step.
type WaterMove struct {
	SurfaceM  float64 // rain and irrigation arriving at the surface, m
	SurfaceC  float64 // its temperature, degC, once it has met the surface
	InjectM   float64 // water given by a buried line, m
	InjectC   float64 // its temperature, degC
	InjectAtM float64 // its depth, m
	EvapM     float64 // evaporation at the surface, m; below zero is dew
	RootM     float64 // water taken up by a living cover, m
	RootToM   float64 // depth its roots reach, m
	NoLimit   bool    // infiltrate without regard to Ks (point sources: the bulb model has set the wetted area)
	DtS       float64 // length of the step, s
}

// WaterDone is what became of it, m of water. Water balances:
// SurfaceM + InjectM = stored + evaporated + roots + drained + runoff.
type WaterDone struct {
	Stored     float64 // change of the water held
	Evaporated float64
	Roots      float64
	Drained    float64 // out of the bottom
	Runoff     float64 // could not enter the soil
	Refused    float64 // evaporation and uptake that the soil could not give
	HeatIn     float64 // net heat carried by water into the column, J/m2
}

// residual is the water content, as a share of the wilting point, below which
// the soil gives up no more water to the air within a spring's nights.
const residual = 0.35 // near air-dry; FAO-56 takes half the wilting point for its 0.1 m layer, the top millimetres go lower

// MoveWater infiltrates, evaporates, drains and redistributes water over one
// step (an hour is usual), together with the heat that moving water carries.
//
// Infiltration fills layers from the top, at most Ks unless NoLimit. Water
// above field capacity moves down as q = Kd (theta-FC)/(porosity-FC), Kd =
// 0.3 m (porosity-FC)/DrainH, so that the top 30 cm drains in DrainH. Below
// field capacity water moves by diffusion (Campbell 1974), implicit in time.
// Ice does not move. All parts conserve water and heat.
func (c *Column) MoveWater(m WaterMove) WaterDone {
	var d WaterDone
	before := c.WaterHeld()
	c.enthalpy = 0
	d.Runoff = c.infiltrate(m)
	if m.InjectM > 0 {
		d.Runoff += c.inject(m.InjectM, m.InjectC, m.InjectAtM)
	}
	d.Evaporated = c.evaporate(m.EvapM)
	d.Roots = c.takeUp(m.RootM, m.RootToM)
	d.Refused = (m.EvapM - d.Evaporated) + (m.RootM - d.Roots)
	c.diffuse(m.DtS)
	d.Drained = c.drain(m.DtS)
	d.Runoff += c.overflow()
	for i := range c.N {
		c.capac[i] = c.Soil[i].HeatCapacity(c.Water[i], 0) * c.DZ[i]
		c.settle(i)
	}
	c.Refresh()
	d.Stored = c.WaterHeld() - before
	d.HeatIn = c.enthalpy
	return d
}

// add puts w metres of water at t degC into layer i (w may be negative: then
// it leaves with t), keeping the account of heat.
func (c *Column) add(i int, w, t float64) {
	c.Water[i] += w / c.DZ[i]
	c.energy[i] += w * capWater * t
	c.enthalpy += w * capWater * t
}

// pass moves w metres of water from layer i to layer j with its heat.
func (c *Column) pass(i, j int, w float64) {
	h := w * capWater * math.Max(c.Temp[i], 0)
	if w < 0 {
		h = w * capWater * math.Max(c.Temp[j], 0)
	}
	c.Water[i] -= w / c.DZ[i]
	c.energy[i] -= h
	c.Water[j] += w / c.DZ[j]
	c.energy[j] += h
}

func (c *Column) infiltrate(m WaterMove) (runoff float64) {
	left := m.SurfaceM
	if left <= 0 {
		return 0
	}
	limit := left
	if !m.NoLimit {
		limit = math.Min(left, c.Soil[0].KsMmH/3.6e6*m.DtS)
	}
	runoff = left - limit
	left = limit
	for i := 0; i < c.N && left > 0; i++ {
		room := math.Max(0, (c.Soil[i].Porosity-c.Water[i])*c.DZ[i])
		w := math.Min(room, left)
		c.add(i, w, m.SurfaceC)
		left -= w
	}
	return runoff + left
}

// inject gives w metres of water to the soil around depth at, filling the layer
// there and then its neighbours, nearest first, to saturation; gravity and
// suction take it on from there. It returns what found no room.
func (c *Column) inject(w, t, at float64) (left float64) {
	i := 0
	for i+1 < c.N && c.Depth[i+1] <= at {
		i++
	}
	left = w
	for up, down := i, i+1; left > 0 && (up >= 0 || down < c.N); {
		j := down
		if down >= c.N || up >= 0 && at-c.Depth[up] <= c.Depth[down]-at {
			j = up
			up--
		} else {
			down++
		}
		g := math.Min(math.Max(0, (c.Soil[j].Porosity-c.Water[j])*c.DZ[j]), left)
		c.add(j, g, t)
		left -= g
	}
	return left
}

func (c *Column) evaporate(want float64) (done float64) {
	if want < 0 { // dew
		left := -want
		for i := 0; i < c.N && left > 0; i++ {
			w := math.Min(left, math.Max(0, (c.Soil[i].Porosity-c.Water[i])*c.DZ[i]))
			c.add(i, w, math.Max(c.Temp[i], 0))
			left -= w
		}
		return want + left
	}
	return c.takeFrom(want, 0.1)
}

// takeFrom removes water from the top downwards, to the air-dry content.
func (c *Column) takeFrom(want, toM float64) (done float64) {
	for i := 0; i < c.N && want > done && (i == 0 || c.Depth[i] <= toM); i++ {
		have := (c.Water[i] - c.ice[i] - residual*c.Soil[i].WiltingPoint) * c.DZ[i]
		w := math.Min(math.Max(have, 0), want-done)
		c.add(i, -w, math.Max(c.Temp[i], 0))
		done += w
	}
	return done
}

func (c *Column) takeUp(want, toM float64) (done float64) {
	if want <= 0 {
		return 0
	}
	total := 0.0
	for i := 0; i < c.N && c.Depth[i] <= toM; i++ {
		total += math.Max(0, c.Water[i]-c.ice[i]-c.Soil[i].WiltingPoint) * c.DZ[i]
	}
	if total <= 0 {
		return 0
	}
	share := math.Min(1, want/total)
	for i := 0; i < c.N && c.Depth[i] <= toM; i++ {
		w := share * math.Max(0, c.Water[i]-c.ice[i]-c.Soil[i].WiltingPoint) * c.DZ[i]
		c.add(i, -w, math.Max(c.Temp[i], 0))
		done += w
	}
	return done
}

// drain moves water above field capacity down, implicit from the top: each
// layer's outflow uses its content at the end of the step. overflow deals with
// layers that cannot take what comes.
func (c *Column) drain(dt float64) (out float64) {
	q := 0.0
	for i := range c.N {
		s := &c.Soil[i]
		if q > 0 {
			c.pass(i-1, i, q)
		}
		excess := c.Water[i] - c.ice[i] - s.FieldCapacity
		q = 0
		if excess > 0 {
			kd := 0.3 / (s.DrainH * 3600) // m/s; times the excess it is the flux
			q = kd * dt * excess / (1 + kd*dt/c.DZ[i])
		}
	}
	if q > 0 {
		i := c.N - 1
		c.add(i, -q, math.Max(c.Temp[i], 0))
		out = q
	}
	return out
}

// overflow backs up water that a layer has no room for (a loosened layer over
// firm ground, or ice in the pores) and returns what left at the surface, m.
func (c *Column) overflow() (out float64) {
	for i := c.N - 1; i > 0; i-- {
		if over := (c.Water[i] - c.Soil[i].Porosity) * c.DZ[i]; over > 0 {
			c.pass(i, i-1, over)
		}
	}
	if over := (c.Water[0] - c.Soil[0].Porosity) * c.DZ[0]; over > 0 {
		c.add(0, -over, math.Max(c.Temp[0], 0))
		out = over
	}
	return out
}

// diffuse redistributes water below field capacity by diffusion in the degree
// of saturation, implicit, with diffusivities of the step's start.
func (c *Column) diffuse(dt float64) {
	n := c.N
	g := c.flux // conductance between i-1 and i, m of water per unit of saturation per step
	dif := c.dif
	for i := range n {
		s := &c.Soil[i]
		liquid := math.Min(c.Water[i]-c.ice[i], s.FieldCapacity)
		if math.Abs(liquid-c.difFor[i]) < sameWater {
			continue
		}
		c.difFor[i] = liquid
		dif[i] = c.difSat[i] * math.Pow(math.Max(liquid, 1e-4)/s.Porosity, c.b[i]+2) * s.Porosity
	}
	g[0], g[n] = 0, 0
	for i := 1; i < n; i++ {
		// The geometric mean: the usual compromise where diffusivity changes by
		// orders of magnitude between layers.
		d := math.Sqrt(dif[i-1] * dif[i])
		g[i] = 2 * d / (c.DZ[i-1] + c.DZ[i]) * dt
	}
	// (m_i) (S_i' - S_i) = g_i (S_{i-1}' - S_i') - g_{i+1} (S_i' - S_{i+1}'),
	// m_i = porosity dz; S counts liquid up to field capacity only, so that
	// gravity water above it does not diffuse.
	cp, dp := c.alpha, c.beta // free between heat steps
	sat := c.scratch
	for i := range n {
		s := &c.Soil[i]
		sat[i] = math.Min(c.Water[i]-c.ice[i], s.FieldCapacity) / s.Porosity
		m := s.Porosity * c.DZ[i]
		den := m + g[i] + g[i+1]
		if i > 0 {
			den -= g[i] * cp[i-1]
			dp[i] = (m*sat[i] + g[i]*dp[i-1]) / den
		} else {
			dp[i] = m * sat[i] / den
		}
		cp[i] = g[i+1] / den
	}
	next := dp[n-1]
	sat[n-1] = next
	for i := n - 2; i >= 0; i-- {
		next = dp[i] + cp[i]*next
		sat[i] = next
	}
	for i := 1; i < n; i++ {
		c.pass(i-1, i, g[i]*(sat[i-1]-sat[i]))
	}
}
