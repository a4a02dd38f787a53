package floor

import (
	"fmt"
	"math"

	"budward/physics/air"
	"budward/physics/ground"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// Weather is the forcing of one moment, with air temperature at the height the
// strips were made for.
type Weather struct {
	AirC      float64 // degC
	VapourKPa float64
	WindMS    float64 // at 2 m
	ShortWave float64 // W/m2, global
	LongWave  float64 // W/m2, from the sky
	RainMmH   float64
	Pressure  float64 // kPa
}

// Supply is the water given to one strip during a step, over its own area.
type Supply struct {
	MmH     float64 // at the surface
	TempC   float64 // on arrival
	BuriedM float64 // depth of buried lines; 0 = at the surface
	NoLimit bool    // point sources: the bulb has set the wetted area, Ks does not limit
}

// Flux is the energy balance of a strip at the end of a step, W/m2. Net and
// Water are positive towards the surface, the others away from it:
// Net + Water = Sensible + Latent + Ground.
type Flux struct {
	SurfaceC float64 // top of the strip (soil, leaves or residue), degC
	SoilC    float64 // the soil's own surface, degC
	Net      float64
	Sensible float64
	Latent   float64
	Ground   float64
	Water    float64
	slopeAir float64 // -dH/dTa with the surface free to follow, W m-2 K-1
}

// Budget sums a strip's heat (J/m2) and water (m) since it was made.
// Heat: Net + Water - Sensible - Latent + Carried = stored.
// Water: In = stored + Evaporated + Roots + Drained + Runoff.
type Budget struct {
	Net, Sensible, Latent, Water, Carried  float64
	AbsHeat                                float64 // sum of the absolute values
	In, Evaporated, Roots, Drained, Runoff float64
	Refused                                float64 // vapour the balance took and the soil could not give
	startHeat, startWater                  float64
}

// Strip is a share of the floor with one surface over one column of soil.
type Strip struct {
	Surface Surface
	Col     *ground.Column
	Ex      Exchange
	Flux    Flux
	Budget  Budget

	drag    drag
	lin     linear
	old     Flux    // at the end of the step before
	satTop  float64 // degree of saturation of the top 2 cm
	rootWet float64
	move    ground.WaterMove // water gathered since it last moved
	heatIn  float64          // heat of that surface water, J/m2
}

// waterStepS is how often water moves, s.
const waterStepS = 3600

// NewStrip lays a surface over a column; airAtM is the height (m) of the air
// temperature it will be driven with. A loosened surface loosens the column.
func NewStrip(s Surface, col *ground.Column, airAtM float64, ex Exchange) *Strip {
	if s.RoughnessM <= 0 || !(airAtM >= 0.3) {
		panic("floor: NewStrip needs a surface from a constructor and air at 0.3 m or above")
	}
	if s.LooseM > 0 {
		col.Loosen(s.LooseM, s.LoosePores)
	}
	col.Restart()
	st := &Strip{Surface: s, Col: col, Ex: ex, drag: newDrag(s.RoughnessM, airAtM)}
	st.Budget.startHeat, st.Budget.startWater = col.Energy(), col.WaterHeld()
	st.Flux.SurfaceC = col.Temp[0]
	st.wetness()
	return st
}

// Clone returns an independent copy.
func (s *Strip) Clone() *Strip {
	c := *s
	c.Col = s.Col.Clone()
	return &c
}

// CopyFrom makes s equal in state to o, which must have the same layering.
func (s *Strip) CopyFrom(o *Strip) {
	col := s.Col
	*s = *o
	s.Col = col
	col.CopyFrom(o.Col)
}

func (s *Strip) wetness() {
	top, z := 0.0, 0.0
	for i := 0; i < s.Col.N && z < vapourTopM; i++ {
		top += (s.Col.Water[i] - s.Col.Ice(i)) / s.Col.Soil[i].Porosity * s.Col.DZ[i]
		z += s.Col.DZ[i]
	}
	s.satTop = top / z
	if s.Surface.LeafArea == 0 {
		return
	}
	w, fc := 0.0, 0.0
	for i := 0; i < s.Col.N && s.Col.Depth[i] < s.Surface.RootM; i++ {
		so := &s.Col.Soil[i]
		w += math.Max(0, s.Col.Water[i]-so.WiltingPoint) * s.Col.DZ[i]
		fc += (so.FieldCapacity - so.WiltingPoint) * s.Col.DZ[i]
	}
	s.rootWet = math.Min(1, 2*w/fc) // stress below half the available water (FAO-56, p about 0.5)
}

// linear is what is fixed in a surface balance over one step.
type linear struct {
	absorbed float64 // radiation absorbed at the top, W/m2
	emit     float64 // emissivity times sigma
	a, b     float64 // heat passed down = a Ts - b, cover and running water folded in
	through  float64 // short wave that reaches the soil below a cover
	rhoCp    float64
	gamma    float64 // kPa/K
	resist   float64 // vapour resistance of the surface, s/m
	leaves   float64
	waterW   float64 // exchange with running water and rain, W m-2 K-1
	waterC   float64
	ga, gb   float64 // the column's own G = ga Tg - gb
}

func (s *Strip) begin(w *Weather, sup *Supply, dt float64) {
	ga, gb := s.Col.Prepare(dt)
	su, l := &s.Surface, &s.lin
	short := w.ShortWave * (1 - su.albedo(s.satTop))
	l.through = 0
	if su.CoverWM2K > 0 {
		l.through = short * su.Passes
	}
	l.absorbed = short - l.through + su.Emissivity*w.LongWave
	l.emit = su.Emissivity * sky.StefanBoltzmann
	l.rhoCp = air.DensityKgM3(w.AirC, w.VapourKPa, w.Pressure) * cpAir
	l.gamma = psychrometric * w.Pressure
	l.resist, l.leaves = su.vapour(s.satTop, w.ShortWave, s.rootWet)
	surface := w.RainMmH
	l.waterW, l.waterC = 0, w.AirC
	if sup.BuriedM == 0 && sup.MmH > 0 {
		surface += sup.MmH
		l.waterC = (w.RainMmH*w.AirC + sup.MmH*sup.TempC) / surface
	}
	l.waterW = surface / mmHPerMS * ground.CapWater
	l.fold(su.CoverWM2K, ga, gb)
}

const (
	psychrometric = 0.000665 // 1/K, FAO-56 eq. 8
	mmHPerMS      = 3.6e6    // mm/h in one m/s
)

// fold puts running water and cover into the heat passed down from the top.
// The soil's surface Tg has no heat capacity: what comes through the cover,
// U (Ts - Tg), the short wave that passes it and the water's heat w (Tw - Tg)
// equal G = ga Tg - gb.
func (l *linear) fold(cover, ga, gb float64) {
	l.ga, l.gb = ga, gb
	a, b := ga+l.waterW, gb+l.waterW*l.waterC
	if cover == 0 {
		l.a, l.b = a, b
		return
	}
	l.a = cover * a / (cover + a)
	l.b = cover * (l.through + b) / (cover + a)
}

// soilSurface returns Tg for a top at ts.
func (l *linear) soilSurface(cover, ts float64) float64 {
	if cover == 0 {
		return ts
	}
	return (cover*ts + l.through + l.gb + l.waterW*l.waterC) / (cover + l.ga + l.waterW)
}

// balance solves the top of the strip for its temperature with air at airC, by
// Newton's method from the last one; s.Flux holds the answer.
func (s *Strip) balance(w *Weather, airC float64) {
	l := &s.lin
	ts := s.Flux.SurfaceC
	tK := airC + 273.15
	lo, hi := -90.0, 120.0
	for range 80 {
		h, hp := s.Ex.conductance(&s.drag, ts-airC, w.WindMS, tK, l.rhoCp)
		sens := h * (ts - airC)
		dh := h + hp*(ts-airC)
		es := air.SatVapKPa(ts)
		r := l.rhoCp / h
		if es > w.VapourKPa {
			r += l.resist
		}
		g := l.rhoCp / (l.gamma * r)
		lat := g * (es - w.VapourKPa)
		d := ts + 237.3
		dlat := g * es * (17.27 * 237.3) / (d * d)
		dlat += lat / r * l.rhoCp / (h * h) * hp
		k := ts + quantity.ZeroCelsiusK
		k3 := l.emit * k * k * k
		out := k3 * k
		res := l.absorbed - out - sens - lat - (l.a*ts - l.b)
		slope := 4*k3 + dh + dlat + l.a
		if math.Abs(res) < 1e-8 {
			s.Flux.SurfaceC, s.Flux.Net, s.Flux.Sensible, s.Flux.Latent = ts, l.absorbed-out, sens, lat
			s.Flux.slopeAir = dh * (1 - dh/slope)
			return
		}
		// The residual falls as ts rises; keep it bracketed, so that the kink
		// between dew and evaporation cannot make Newton's steps go round.
		if res > 0 {
			lo = ts
		} else {
			hi = ts
		}
		if next := ts + res/slope; next > lo && next < hi {
			ts = next
		} else {
			ts = (math.Max(lo, ts-20) + math.Min(hi, ts+20)) / 2
		}
	}
	panic(fmt.Sprintf("floor: surface balance did not converge for air %.2f degC and weather %+v: outside any range it is meant for, or NaN (bracket %.6f..%.6f, %+v)", airC, *w, lo, hi, *l))
}

// commit gives the solved step to the column; again says that freezing asks
// for another round with the new coefficients, which it has put in place.
func (s *Strip) commit(dt float64) (again bool) {
	l := &s.lin
	tg := l.soilSurface(s.Surface.CoverWM2K, s.Flux.SurfaceC)
	g, again, a, b := s.Col.Commit(tg, dt)
	s.Flux.SoilC, s.Flux.Ground = tg, g
	s.Flux.Water = l.waterW * (l.waterC - tg)
	if again {
		l.fold(s.Surface.CoverWM2K, a, b)
	}
	return again
}

// account books the step and moves water when its hour is full.
func (s *Strip) account(w *Weather, sup *Supply, dt float64) {
	f, b := &s.Flux, &s.Budget
	f.Net += s.lin.through
	th := s.Col.StepWeight()
	mean := func(new, old float64) float64 { return (th*new + (1-th)*old) * dt }
	net, sens, lat, wat := mean(f.Net, s.old.Net), mean(f.Sensible, s.old.Sensible), mean(f.Latent, s.old.Latent), mean(f.Water, s.old.Water)
	s.old = *f
	b.Net += net
	b.Sensible += sens
	b.Latent += lat
	b.Water += wat
	b.AbsHeat += math.Abs(net) + math.Abs(sens) + math.Abs(lat) + math.Abs(wat)
	vapour := lat / (air.VaporisationJKg(f.SurfaceC) * 1000)
	m := &s.move
	if vapour > 0 {
		m.RootM += vapour * s.lin.leaves
		vapour *= 1 - s.lin.leaves
	}
	m.EvapM += vapour
	m.RootToM = s.Surface.RootM
	surface := w.RainMmH
	if sup.BuriedM == 0 {
		surface += sup.MmH
	} else if sup.MmH > 0 {
		m.InjectM += sup.MmH / mmHPerMS * dt
		m.InjectC, m.InjectAtM = sup.TempC, sup.BuriedM
	}
	m.SurfaceM += surface / mmHPerMS * dt
	s.heatIn += surface / mmHPerMS * dt * f.SoilC
	m.NoLimit = m.NoLimit || sup.NoLimit
	m.DtS += dt
	if m.DtS >= waterStepS-1e-6 {
		s.settleWater()
	}
}

// settleWater moves the water gathered so far.
func (s *Strip) settleWater() {
	m, b := &s.move, &s.Budget
	if m.DtS == 0 {
		return
	}
	if m.SurfaceM > 0 {
		m.SurfaceC = s.heatIn / m.SurfaceM
	}
	d := s.Col.MoveWater(*m)
	b.In += m.SurfaceM + m.InjectM
	b.Carried += d.HeatIn
	b.AbsHeat += math.Abs(d.HeatIn)
	b.Evaporated += d.Evaporated
	b.Roots += d.Roots
	b.Drained += d.Drained
	b.Runoff += d.Runoff
	b.Refused += d.Refused
	*m = ground.WaterMove{}
	s.heatIn = 0
	s.wetness()
}

// freezeRounds bounds the repetitions within a step while soil freezes.
const freezeRounds = 8

// Step advances the strip by dt seconds under the weather at the step's end,
// with the air at w.AirC, and returns its fluxes there.
func (s *Strip) Step(w *Weather, sup *Supply, dt float64) Flux {
	s.begin(w, sup, dt)
	again := true
	for range freezeRounds {
		s.balance(w, w.AirC)
		if again = s.commit(dt); !again {
			break
		}
	}
	if again {
		s.Col.Settle()
	}
	s.account(w, sup, dt)
	return s.Flux
}

// HeatGap returns how far the strip's heat account is from closing, J/m2, and
// the summed absolute fluxes to hold it against; WaterGap likewise in m.
func (s *Strip) HeatGap() (gap, of float64) {
	b := &s.Budget
	s.settleWater()
	return b.Net + b.Water - b.Sensible - b.Latent + b.Carried - (s.Col.Energy() - b.startHeat), b.AbsHeat
}

// WaterGap returns how far the strip's water account is from closing, m, and
// the water that went through it.
func (s *Strip) WaterGap() (gap, of float64) {
	b := &s.Budget
	s.settleWater()
	return b.In - b.Evaporated - b.Roots - b.Drained - b.Runoff - (s.Col.WaterHeld() - b.startWater),
		b.In + math.Abs(b.Evaporated) + b.Roots + b.Drained + b.Runoff + s.Col.WaterHeld()
}

// blend makes f the area-weighted mean of f and o (weight share), so that the
// account of a patch that grows stays closed.
func (f *Flux) blend(o *Flux, share float64) {
	f.SurfaceC += share * (o.SurfaceC - f.SurfaceC)
	f.Net += share * (o.Net - f.Net)
	f.Sensible += share * (o.Sensible - f.Sensible)
	f.Latent += share * (o.Latent - f.Latent)
	f.Ground += share * (o.Ground - f.Ground)
	f.Water += share * (o.Water - f.Water)
}

// blend makes b the area-weighted mean of b and o (weight f), as the ground it
// accounts for has become.
func (b *Budget) blend(o *Budget, f float64) {
	mix := func(x *float64, y float64) { *x += f * (y - *x) }
	mix(&b.Net, o.Net)
	mix(&b.Sensible, o.Sensible)
	mix(&b.Latent, o.Latent)
	mix(&b.Water, o.Water)
	mix(&b.Carried, o.Carried)
	mix(&b.AbsHeat, o.AbsHeat)
	mix(&b.In, o.In)
	mix(&b.Evaporated, o.Evaporated)
	mix(&b.Roots, o.Roots)
	mix(&b.Drained, o.Drained)
	mix(&b.Runoff, o.Runoff)
	mix(&b.Refused, o.Refused)
	mix(&b.startHeat, o.startHeat)
	mix(&b.startWater, o.startWater)
}

// Resurface changes what lies on the strip (mowing, shredding, rolling), from
// the next step on; the soil keeps its water and heat. Loosening or firming
// changes the soil itself and is not done here.
func (s *Strip) Resurface(to Surface, airAtM float64) {
	if to.RoughnessM <= 0 {
		panic("floor: Resurface needs a surface from a constructor")
	}
	to.LooseM, to.LoosePores = s.Surface.LooseM, s.Surface.LoosePores
	s.Surface, s.drag = to, newDrag(to.RoughnessM, airAtM)
	s.wetness()
}

// Rebase starts the strip's accounts anew from its present state, after its
// soil has been set to what was observed.
func (s *Strip) Rebase() {
	s.settleWater()
	s.Budget = Budget{startHeat: s.Col.Energy(), startWater: s.Col.WaterHeld()}
	s.wetness()
}
