package floor

import (
	"math"

	"budward/physics/air"
	"budward/physics/quantity"
)

// Mixing holds the parameters of mixing between a block's air at cordon height
// and the air above and beside it: K in W m-2 K-1, the heat that leaves the
// block's air per kelvin that it is warmer than the station's.
//
//	K = K0 + rho cp u (h / L + c f)
//
// One stated set serves all floors.
type Mixing struct {
	K0WM2K     float64 // calm mixing; prior 5, spread a factor of 1.6; can be learned where floors contrast
	DepthM     float64 // h, depth of the mixed air, m
	ExchangeC  float64 // c, neutral exchange between cordon height and about 10 m
	InversionK float64 // air at 10 m less at cordon height that f is reckoned with, K
	DayWM2K    float64 // added by day and in unstable air, beside the neutral exchange
}

// DefaultMixing returns the stated prior. ExchangeC is k^2/(ln(10/1) ln(2/z0))
// with z0 = 0.015 m, which turns the wind at 2 m into the neutral exchange
// between 1 and 10 m; the inversion of 1.5 K is that of a clear night with
// about 1 m/s; K0 is what closes calm nights in the handbooks' order of
// magnitude and is not verified against paired measurements.
func DefaultMixing() Mixing {
	return Mixing{K0WM2K: 5, DepthM: 5, ExchangeC: 0.015, InversionK: 1.5, DayWM2K: 150}
}

// Fetch returns the upwind run of a floor in m taken for a block of areaHa: the
// mean chord of a square, 0.8 of its side, taken for every wind direction.
// Valid for 0.01-1000 ha.
func Fetch(areaHa float64) (float64, error) {
	if err := quantity.InRange("block area", areaHa, 0.01, 1000, "ha", "range of vineyard blocks"); err != nil {
		return 0, err
	}
	return 0.8 * math.Sqrt(areaHa*1e4), nil
}

// K returns the mixing in W m-2 K-1 at wind u (m/s at 2 m) over a floor with
// fetch fetchM, for a block dK warmer or colder than the air beside it, without
// regard to day or night. Air of another temperature spreads by its own weight
// at sqrt(g h |d|/T), a density current, which carries heat across the fetch
// like wind. Air more than riseK warmer than that beside it is warmer than the
// air at 10 m as well and rises through it: the mixed depth h grows by
// deeperMPerK. Both bound what a calm night can pile up, and with both more heat
// still never means colder air.
func (m *Mixing) K(u, fetchM, rhoCp, dK float64) float64 {
	u = math.Max(u, 0.2)
	ri := gravity * 9 * m.InversionK / (273 * u * u)
	f := 1 / ((1 + 5*ri) * (1 + 5*ri))
	depth := m.DepthM + deeperMPerK*math.Max(0, dK-riseK)
	across := math.Sqrt(u*u + gravity*depth*math.Abs(dK)/273)
	return m.K0WM2K + rhoCp*(across*depth/fetchM+u*m.ExchangeC*f)
}

const (
	riseK       = 2  // air at 10 m less at cordon height on a calm, clear night (extension guides: 1-5 K)
	deeperMPerK = 10 // above 10 m it warms by 0.1 K/m (Ontario: 5-10 K over 20 m on strong nights)
)

// Patch is one strip of a block with its share of the block's floor. A patch
// of no share stands still until Grow gives it ground.
type Patch struct {
	*Strip
	Share  float64
	Supply Supply
}

// Block is the floor of a block, driven by the station's air at cordon height
// over the reference floor and by that floor's sensible heat.
type Block struct {
	Patches []Patch
	Mix     Mixing
	FetchM  float64
	ExtraK  float64 // added mixing, such as a fan's, W m-2 K-1
	DK      float64 // block air less the station's, K
}

// Step advances the block by dt seconds and returns d, the block's air less
// the station's at cordon height (K): the solution of K d = H_block -
// H_reference with d acting back on the block's own exchange and on K, solved
// together with every strip's surface and soil. refH is the sensible heat
// (W/m2, upward) of the reference floor at the same moment and height.
func (b *Block) Step(w *Weather, refH, dt float64) float64 {
	for i := range b.Patches {
		if p := &b.Patches[i]; p.Share > 0 {
			p.begin(w, &p.Supply, dt)
		}
	}
	again := true
	for range freezeRounds {
		b.solve(w, refH)
		again = false
		for i := range b.Patches {
			if p := &b.Patches[i]; p.Share > 0 && p.commit(dt) {
				again = true
			}
		}
		if !again {
			break
		}
	}
	for i := range b.Patches {
		p := &b.Patches[i]
		if p.Share == 0 {
			continue
		}
		if again {
			p.Col.Settle()
		}
		p.account(w, &p.Supply, dt)
	}
	return b.DK
}

// furthestK bounds the search for d: no floor parts the air by more.
const furthestK = 30

// solve finds d. The residual H_block(d) - H_reference - K(d) d falls through
// zero between bounds on either side; Newton's steps are kept within them.
func (b *Block) solve(w *Weather, refH float64) {
	rhoCp := air.DensityKgM3(w.AirC, w.VapourKPa, w.Pressure) * cpAir
	d, lo, hi := b.DK, -float64(furthestK), float64(furthestK)
	for range 60 {
		h, slope := 0.0, 0.0
		for i := range b.Patches {
			p := &b.Patches[i]
			if p.Share == 0 {
				continue
			}
			p.balance(w, w.AirC+d)
			h += p.Share * p.Flux.Sensible
			slope += p.Share * p.Flux.slopeAir
		}
		k := b.Mix.K(w.WindMS, b.FetchM, rhoCp, d) + b.ExtraK
		k += DayShare(w.ShortWave, refH) * (b.Mix.DayWM2K + rhoCp*w.WindMS*b.Mix.ExchangeC)
		res := h - refH - k*d
		if math.Abs(res) < 1e-4*k {
			break
		}
		if res > 0 {
			lo = d
		} else {
			hi = d
		}
		if next := d + res/(k+slope); next > lo && next < hi {
			d = next
		} else {
			d = (lo + hi) / 2
		}
	}
	b.DK = d
}

// DayShare returns how far (0..1) the air is mixed as by day: by sunshine, from
// none at 50 W/m2, which leaves the net radiation negative, to full at 200; or
// by heat rising from the reference floor, full at 20 W/m2. Between, mixing
// changes without a jump.
func DayShare(shortWave, refH float64) float64 {
	return math.Min(1, math.Max(0, (shortWave-50)/150)+math.Max(0, refH/20))
}

// Grow widens patch wet to share of the block's floor out of patch dry, whose
// ground joins it with its water and heat. It does nothing if share is not
// larger than what is wet already, and takes no more than there is dry.
func (b *Block) Grow(wet, dry int, share float64) {
	w, d := &b.Patches[wet], &b.Patches[dry]
	more := math.Min(share-w.Share, d.Share)
	if more <= 0 {
		return
	}
	w.settleWater()
	d.settleWater()
	if w.Share == 0 {
		w.Strip.CopyFrom(d.Strip)
	} else {
		w.Col.Join(d.Col, w.Share, more)
		w.Budget.blend(&d.Budget, more/(w.Share+more))
		w.old.blend(&d.old, more/(w.Share+more))
	}
	w.Share += more
	d.Share -= more
	w.wetness()
}
