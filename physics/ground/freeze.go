package ground

import "math"

// suctionPerK is the suction in metres of water that lowers the freezing point
// by one kelvin: Lf/(g T0) (generalised Clapeyron equation).
const suctionPerK = 334e3 / (9.81 * 273.15)

// freezingPoint returns the temperature (degC) at which layer i, holding its
// present water, begins to freeze.
func (c *Column) freezingPoint(i int) float64 {
	w := c.Water[i]
	if w != c.frozenFor[i] {
		c.frozenFor[i] = w
		c.freezeAt[i] = math.Inf(-1)
		if w > 0 {
			c.freezeAt[i] = -c.psiE[i] * math.Pow(w/c.Soil[i].Porosity, -c.b[i]) / suctionPerK
		}
	}
	return c.freezeAt[i]
}

// unfrozen returns the liquid water content of layer i at temperature t: all
// of it down to its freezing point, then what the soil's suction can keep
// liquid, theta (T/Tf)^(-1/b).
func (c *Column) unfrozen(i int, t float64) float64 {
	if t >= 0 {
		return c.Water[i]
	}
	tf := c.freezingPoint(i)
	if t >= tf {
		return c.Water[i]
	}
	return c.Water[i] * math.Pow(t/tf, -1/c.b[i])
}

// energyAt returns the energy of layer i at temperature t, J/m2.
func (c *Column) energyAt(i int, t float64) float64 {
	return c.capac[i]*t - LatentFusion*c.DZ[i]*(c.Water[i]-c.unfrozen(i, t))
}

// slopeAt returns dE/dT of layer i at temperature t, J m-2 K-1.
func (c *Column) slopeAt(i int, t float64) float64 {
	if t >= 0 || t >= c.freezingPoint(i) {
		return c.capac[i]
	}
	return c.capac[i] + LatentFusion*c.DZ[i]*c.unfrozen(i, t)/(c.b[i]*-t)
}

// settle finds the temperature and ice of layer i from its energy.
func (c *Column) settle(i int) {
	e, cp := c.energy[i], c.capac[i]
	if e >= 0 {
		c.Temp[i], c.ice[i] = e/cp, 0
		return
	}
	tf := c.freezingPoint(i)
	if e >= cp*tf {
		c.Temp[i], c.ice[i] = e/cp, 0
		return
	}
	latent := LatentFusion * c.DZ[i]
	w, inv := c.Water[i], -1/c.b[i]
	// f(t) = cp t - latent (w - w (t/tf)^(-1/b)) - e rises with t; bracket and
	// take Newton steps inside the bracket, from the solver's own temperature.
	lo, hi := e/cp, tf
	t := c.tempSolved[i]
	if !(t > lo && t < hi) {
		t = c.Temp[i]
	}
	if !(t > lo && t < hi) {
		t = math.Max(lo, tf-0.2)
	}
	u := 0.0
	for range 60 {
		u = w * math.Exp(inv*math.Log(t/tf))
		slope := cp + latent*u*inv/t
		f := cp*t - latent*(w-u) - e
		if math.Abs(f) < settleTolK*slope {
			break
		}
		if f > 0 {
			hi = t
		} else {
			lo = t
		}
		next := t - f/slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		t = next
	}
	c.Temp[i] = t
	c.ice[i] = w - u
}

// settleTolK is how close (K) a freezing layer's temperature is brought to the
// one its energy means; the energy itself is exact.
const settleTolK = 1e-7

// Settle finds the temperatures that the layers' energies mean. Commit does so
// itself unless it asks for another round; a caller that stops there calls it.
func (c *Column) Settle() {
	for i := range c.N {
		if c.energy[i] < 0 || c.Temp[i] < 0 {
			c.settle(i)
		}
	}
}
