package weather

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Assumptions for what a forecast does not say. All are stated guesses, spread
// wide on purpose, and each use is noted in Ensemble.Notes.
const (
	CalmWindMS    = 0.3 // a forecast below it means calm: under the threshold of cup anemometers (common practice)
	assumedWindMS = 1.5 // median; frost nights are light
	assumedWindLn = 0.7 // 90 % between 0.5 and 4.7 m/s
	assumedDewSDK = 3.0 // about the night's minimum
	cloudWander   = 0.08
	windLnWander  = 0.25
	dewWanderK    = 0.4
)

// baseline is the forecast hour by hour with the gaps of the secondary
// variables filled by assumptions.
type baseline struct {
	temp, dew, cloud, wind, rain []float64
	dewAssumed, cloudAssumed     []bool
	windAssumed                  []bool
}

func newBaseline(h *Hourly, g *generator) baseline {
	b := baseline{temp: make([]float64, h.N), dew: make([]float64, h.N), cloud: make([]float64, h.N),
		wind: make([]float64, h.N), rain: make([]float64, h.N),
		dewAssumed: make([]bool, h.N), cloudAssumed: make([]bool, h.N), windAssumed: make([]bool, h.N)}
	var miss [NumVariables]int
	have, calm, fromRH, supersat := 0, 0, 0, 0
	for i := range h.N {
		t := h.At(AirTemp, i)
		b.temp[i] = t
		if math.IsNaN(t) {
			continue
		}
		have++
		d, how := forecastDew(h, i)
		switch how {
		case dewFromRH:
			fromRH++
		case dewAbsent:
			miss[DewPoint]++
			b.dewAssumed[i] = true
			d = g.assumedDew(i, t)
		}
		if d > t {
			supersat++
		}
		b.dew[i] = d
		if b.cloud[i] = h.At(Cloud, i); math.IsNaN(b.cloud[i]) {
			miss[Cloud]++
			b.cloudAssumed[i] = true
		}
		w := h.At(Wind, i)
		if math.IsNaN(w) {
			miss[Wind]++
			b.windAssumed[i] = true
			w = assumedWindMS
		}
		if w < CalmWindMS {
			calm++
			w = CalmWindMS
		}
		b.wind[i] = w
		if b.rain[i] = h.At(Rain, i); math.IsNaN(b.rain[i]) {
			miss[Rain]++
			b.rain[i] = 0
		}
	}
	g.noteMissing(h, have, miss)
	if fromRH > 0 {
		g.note("dew_from_rh", fmt.Sprintf("Dew point worked out from relative humidity in %d hours.", fromRH))
	}
	if calm > 0 {
		g.note("calm", fmt.Sprintf("%d hours have a forecast wind below %.1f m/s; taken as %.1f m/s.", calm, CalmWindMS, CalmWindMS))
	}
	if supersat > 0 {
		g.note("dew_above_temp", fmt.Sprintf("%d hours have a forecast dew point above the air temperature; taken as saturated.", supersat))
	}
	return b
}

// assumedDew is the humidity guess of FAO-56 where none is known: the dew point
// is about the night's minimum. The nearest covered night is used, else the
// hour's own temperature less 2 K.
func (g *generator) assumedDew(i int, t float64) float64 {
	p := g.place[i]
	lo, hi := g.minC[p.a], g.minC[p.b]
	switch {
	case !math.IsNaN(lo) && !math.IsNaN(hi):
		return lo + p.w*(hi-lo)
	case !math.IsNaN(lo):
		return lo
	case !math.IsNaN(hi):
		return hi
	}
	return t - 2
}

func (g *generator) noteMissing(h *Hourly, have int, miss [NumVariables]int) {
	for _, c := range []struct {
		v    Variable
		text string
	}{
		{DewPoint, fmt.Sprintf("taken as the night's minimum, give or take %.0f K", assumedDewSDK)},
		{Cloud, "every share from clear to overcast taken as equally likely"},
		{Wind, fmt.Sprintf("taken as %.1f m/s, half to twice that", assumedWindMS)},
		{Rain, "none taken"},
	} {
		name := c.v.Label()
		if c.v == DewPoint {
			name = "humidity"
		}
		switch n := miss[c.v]; {
		case n == 0:
		case n == have:
			g.note("no_"+c.v.String(), fmt.Sprintf("No %s in the forecast: %s.", name, c.text))
		default:
			g.note("gap_"+c.v.String(), fmt.Sprintf("No %s in %d of %d forecast hours (it ends at %s): %s.", name, n, have,
				lastKnown(h, c.v).UTC().Format("Mon 2 Jan 15:04 MST"), c.text))
		}
	}
}

// member fills scenario m.
func (g *generator) member(m int, rng *rand.Rand) {
	spread := 1.0
	if g.own {
		spread = 0 // the feed's own members differ by themselves
	}
	n := g.ens.N
	buf := make([]float64, 5*n)
	s := Scenario{AirTempC: buf[:n:n], DewPointC: buf[n : 2*n : 2*n], WindMS: buf[2*n : 3*n : 3*n],
		Cloud: buf[3*n : 4*n : 4*n], RainMM: buf[4*n:], Weight: 1 / float64(len(g.ens.Members))}
	g.temperature(m, &s, rng)
	md := g.model
	var ar ar1
	ar.corr = md.HourCorr
	dew, cloud, wind := ar, ar, ar
	for i := range n {
		d, c, w := dew.next(rng), cloud.next(rng), wind.next(rng)
		t := s.AirTempC[i]
		if math.IsNaN(t) {
			s.DewPointC[i], s.Cloud[i], s.WindMS[i], s.RainMM[i] = nan, nan, nan, nan
			continue
		}
		lead, p := g.lead_h[i], g.place[i]
		zd, zc, zw := at(g.draws.dew, p, m), at(g.draws.cloud, p, m), at(g.draws.wind, p, m)
		near := spread * math.Min(1, lead/12) // wander, like spread, starts small

		sd := spread * grow(md.DewSDK, lead)
		if g.base.dewAssumed[i] {
			sd = assumedDewSDK
		}
		s.DewPointC[i] = math.Min(t, g.base.dew[i]+sd*zd+near*dewWanderK*d)

		if g.base.cloudAssumed[i] {
			s.Cloud[i] = normalCDF(zc)
		} else {
			s.Cloud[i] = math.Min(1, math.Max(0, g.base.cloud[i]+spread*grow(md.CloudSD, lead)*zc+near*cloudWander*c))
		}

		ln := spread * grow(md.WindLnSD, lead)
		if g.base.windAssumed[i] {
			ln = assumedWindLn
		}
		s.WindMS[i] = g.base.wind[i] * math.Exp(ln*zw+near*windLnWander*w)

		s.RainMM[i] = g.base.rain[i]
		if s.RainMM[i] > 0 {
			ln := spread * md.RainLnSD
			s.RainMM[i] *= math.Exp(ln*zc - ln*ln/2)
		}
	}
	g.ens.Members[m] = s
}

// temperature fills the air temperature of member m and pins each night's
// minimum.
func (g *generator) temperature(m int, s *Scenario, rng *rand.Rand) {
	if g.ownTemp != nil {
		for i := range s.AirTempC {
			p := g.place[i]
			s.AirTempC[i] = g.ownTemp(m, i) + g.bias_k[p.a] + p.w*(g.bias_k[p.b]-g.bias_k[p.a])
		}
		return
	}
	wander := ar1{corr: g.model.HourCorr}
	for i := range g.path {
		g.path[i] = g.model.HourSDK * math.Min(1, g.lead_h[i]/12) * wander.next(rng)
	}
	for k := range g.ens.Nights {
		want := g.bias_k[k] + g.sd_k[k]*g.draws.temp[k][m]
		g.off[k] = want
		if !g.ens.Coverage[k].Covered {
			continue
		}
		a, b := g.ens.NightRange(k)
		low := math.Inf(1)
		for i := a; i < b; i++ {
			low = math.Min(low, g.base.temp[i]+g.path[i])
		}
		g.off[k] = g.minC[k] + want - low
	}
	firstSunset := g.ens.Nights[0].Sunset
	for i := range g.path {
		p := g.place[i]
		off := g.off[p.a] + p.w*(g.off[p.b]-g.off[p.a])
		if g.ens.Time(i).Before(firstSunset) {
			off *= g.start[i]
		}
		s.AirTempC[i] = g.base.temp[i] + off + g.path[i]
	}
}

// at interpolates a night-scale draw to an hour. Between nights the weights are
// scaled so that the variance of two independent draws is kept.
func at(z [][]float64, p timePlace, m int) float64 {
	if p.a == p.b {
		return z[p.a][m]
	}
	u := 1 - p.w
	return (u*z[p.a][m] + p.w*z[p.b][m]) / math.Hypot(u, p.w)
}

// ar1 is a stationary first-order autoregressive process of unit variance.
type ar1 struct {
	corr, x float64
	begun   bool
}

func (a *ar1) next(rng *rand.Rand) float64 {
	e := rng.NormFloat64()
	if !a.begun {
		a.begun, a.x = true, e
		return e
	}
	a.x = a.corr*a.x + math.Sqrt(1-a.corr*a.corr)*e
	return a.x
}
