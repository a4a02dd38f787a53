package nights

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"budward/decide/weather"
	"budward/physics/air"
	"budward/physics/quantity"
	"budward/vineyard/vine"
)

func satVap(t float64) float64 { return air.SatVapKPa(t) }

// stratified returns n standard normal values, one from each nth part of the
// distribution, in an order given by seed: their mean is 0 and their spread 1
// whatever the seed, so that small samples do not wander.
func stratified(n int, seed uint64) []float64 {
	z := make([]float64, n)
	ss := 0.0
	for i := range z {
		z[i] = math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(n)-1)
		ss += z[i] * z[i]
	}
	scale := math.Sqrt(float64(n) / ss)
	for i := range z {
		z[i] *= scale
	}
	rng := rand.New(rand.NewPCG(seed, 0x62756473))
	rng.Shuffle(n, func(i, j int) { z[i], z[j] = z[j], z[i] })
	return z
}

// scope says which nights a plan changes and how.
type plan struct {
	table *gainTable                               // floor gains with it done
	warm  func(n, m int, x member) (extra float64) // active warmth, K; nil = none
	holds func(n, m int, x member) bool            // tissue kept at 0 degC; nil = never
	only  int                                      // night it changes; -1 = every night
}

// tally is what a plan leaves of a block over nights [from, to).
type tally struct {
	risk   Risk
	minima []float64 // block means of the first night, by member
	buds   []float64
	shifts []float64
	lossBy []float64 // by member, share of the full crop
}

// weigh carries every scenario through a plan's nights [from, to) and the vine.
// Frosts of different nights of one scenario follow each other: what is left
// after one meets the next (crop shares multiply).
func (k *block) weigh(p plan, from, to int) tally {
	st := k.st
	n := len(st.ens.Members)
	t := tally{lossBy: make([]float64, n), minima: make([]float64, n), buds: make([]float64, n), shifts: make([]float64, n)}
	sd := float64(k.def.ColdSpotK) / coldTenthSD
	for m := range n {
		weight := st.ens.Members[m].Weight
		left, alive, hit := 1.0, 1.0, false
		for night := from; night < to; night++ {
			if !st.features[night].covered || k.expose == nil {
				continue
			}
			x, protected := k.nightOf(p, night, m)
			if night == from {
				t.minima[m], t.buds[m], t.shifts[m] = x.air, x.bud, x.shift
			}
			if protected {
				continue
			}
			crop, kill := k.frost(night, x, sd)
			left *= crop
			alive *= 1 - kill
			hit = hit || k.below(night, x)
		}
		if hit {
			t.risk.Probability += weight
		}
		t.lossBy[m] = 1 - left
		t.risk.KillShare += weight * (1 - alive)
		t.risk.LossShare += weight * (1 - left)
	}
	k.finish(&t)
	return t
}

// nightOf returns member m's night with the plan in force there.
func (k *block) nightOf(p plan, night, m int) (x member, protected bool) {
	active := (p.only < 0 || night == p.only) && !k.st.features[night].past[m]
	table := k.base
	if active && p.table != nil {
		table = p.table
	}
	x = k.memberAt(table, night, m, 0)
	if !active {
		return x, false
	}
	if p.warm != nil {
		e := p.warm(night, m, x)
		x.air += e
		x.shift += e
	}
	return x, p.holds != nil && p.holds(night, m, x)
}

// frost returns the share of the crop left and the share of leading buds
// killed, over the block's own spread of temperature.
func (k *block) frost(night int, x member, sd float64) (crop, kill float64) {
	for _, z := range fifths {
		a := x.air + sd*z
		o, err := k.expose[night].Night(quantity.Celsius(a), quantity.Celsius(a-x.bud))
		if err != nil {
			panic("nights: " + err.Error()) // a finite temperature and a valid table cannot fail
		}
		crop += o.Crop.Central / float64(len(fifths))
		kill += o.Kill / float64(len(fifths))
	}
	if k.full[night] > 0 {
		crop /= k.full[night]
	}
	return math.Min(crop, 1), kill
}

// below says whether the coldest tenth of the block falls below the 10 %
// critical temperature.
func (k *block) below(night int, x member) bool {
	crit, ok := k.critical(night, 0.1)
	if !ok {
		return false
	}
	cold := x.air - float64(k.def.ColdSpotK)
	if k.expose[night].Basis() == vine.Tissue {
		cold -= x.bud
	}
	return cold < crit
}

// critical returns the temperature on the table's basis that kills share.
func (k *block) critical(night int, share float64) (float64, bool) {
	if k.expose == nil {
		return 0, false
	}
	c, err := k.expose[night].Critical(share)
	return float64(c), err == nil
}

func (k *block) finish(t *tally) {
	w := k.st.ens.Weights()
	if q, err := weather.Quantile(t.lossBy, w, 0.1); err == nil {
		t.risk.LossLow = q
	}
	if q, err := weather.Quantile(t.lossBy, w, 0.9); err == nil {
		t.risk.LossHigh = q
	}
	t.risk.LossT = t.risk.LossShare * k.def.CropTHa * k.def.AreaHa
	t.risk.LossMoney = t.risk.LossT * k.def.PricePerT
}

// night describes one night with nothing done.
func (k *block) night(n int) BlockNight {
	st := k.st
	out := BlockNight{Label: k.nights[n].Label}
	if !st.features[n].covered {
		out.Why = st.ens.Coverage[n].Why
		if out.Why == "" {
			out.Why = "The forecast does not reach the end of this night."
		}
		return out
	}
	out.Covered = true
	f := &st.features[n]
	w := st.ens.Weights()
	size := len(st.ens.Members)
	air, bud, gain, height, at := make([]float64, size), make([]float64, size), make([]float64, size), make([]float64, size), make([]float64, size)
	mean, ss := 0.0, 0.0
	for m := range size {
		x := k.memberAt(k.base, n, m, 0)
		tw := k.base.at(n, f.wind[m], f.cloud[m])
		air[m], bud[m], gain[m], height[m], at[m] = x.air, x.bud, tw.gainK, tw.heightK, float64(f.minAt[m])
		mean += w[m] * x.air
	}
	for m := range size {
		ss += w[m] * sq(air[m]-mean)
	}
	out.Min = &Quantiles{P10C: quant(air, w, 0.1), P50C: quant(air, w, 0.5), P90C: quant(air, w, 0.9)}
	cold := out.Min.P50C - quantity.Celsius(k.def.ColdSpotK)
	out.ColdSpotC = &cold
	out.MinAt = st.ens.Time(int(math.Round(float64(quant(at, w, 0.5)))))
	out.SpreadK = quantity.Kelvin(math.Sqrt(ss))
	g := quantity.Kelvin(quant(gain, w, 0.5))
	half := quantity.Kelvin(1.28 * gainSpread * math.Abs(float64(g)))
	out.FloorGain = Worth{g - half, g, g + half}
	out.OffsetK, out.HeightK, out.BudK = quantity.Kelvin(k.offset.MeanK), quantity.Kelvin(quant(height, w, 0.5)), quantity.Kelvin(quant(bud, w, 0.5))
	out.Outside = k.outside(n)
	k.vineNight(n, &out)
	return out
}

// vineNight adds what depends on the vine.
func (k *block) vineNight(n int, out *BlockNight) {
	c10, ok10 := k.critical(n, 0.1)
	c50, ok50 := k.critical(n, 0.5)
	if !ok10 || !ok50 {
		return
	}
	if k.expose[n].Basis() == vine.Tissue {
		c10 += float64(out.BudK)
		c50 += float64(out.BudK)
	}
	a, b := quantity.Celsius(c10), quantity.Celsius(c50)
	margin := quantity.Kelvin(out.Min.P50C - a)
	out.CriticalC, out.Critical50C, out.MarginK = &a, &b, &margin
	t := k.weigh(plan{only: -1}, n, n+1)
	out.Risk = &t.risk
	from, to := k.st.ens.NightRange(n)
	for m := range k.st.ens.Members {
		x := &k.st.ens.Members[m]
		for i := from; i < to; i++ {
			if x.AirTempC[i]+t.shifts[m] < c10 {
				out.HoursBelow += x.Weight
			}
		}
	}
}

func quant(x, w []float64, p float64) quantity.Celsius {
	q, err := weather.Quantile(x, w, p)
	if err != nil {
		panic("nights: " + err.Error()) // weights and members come from one ensemble
	}
	return quantity.Celsius(q)
}

// outside lists where a night is beyond what the physics can speak for.
func (k *block) outside(n int) []Note {
	f := &k.st.features[n]
	var notes []Note
	windy, foggy := 0.0, 0.0
	for m, x := range k.st.ens.Members {
		if f.wind[m] > outsideWindMS {
			windy += x.Weight
		}
		if f.minC[m]-f.dew[m] < closedFogDewK {
			foggy += x.Weight
		}
	}
	u := k.in.Units
	if windy > 0.3 {
		notes = append(notes, Note{"windy", fmt.Sprintf("Wind above %s in %.0f %% of scenarios: floor and fans are worth next to nothing then, and over-vine water is dangerous.", u.Wind(outsideWindMS), 100*windy)})
	}
	if foggy > 0.3 {
		notes = append(notes, Note{"fog", fmt.Sprintf("Air near saturation in %.0f %% of scenarios: fog may form and hold the temperature, or freeze on the vines.", 100*foggy)})
	}
	if k.def.AreaHa < smallBlockHa {
		notes = append(notes, Note{"small-block", fmt.Sprintf("Under %s the air over the block comes from outside it: its floor counts for little.", u.Area(smallBlockHa))})
	}
	if k.def.ColdSpotK > 2 {
		notes = append(notes, Note{"cold-air", "Cold air drains or pools here by the cold spot given; how it moves is not modelled."})
	}
	return notes
}

// worstFirst orders answers by urgency, then by money at risk tonight.
func worstFirst(b []BlockAnswer) {
	rank := map[Urgency]int{Act: 0, Unknown: 1, Watch: 2, Prepare: 3, Quiet: 4}
	money := func(x *BlockAnswer) float64 {
		if len(x.Nights) == 0 || x.Nights[0].Risk == nil {
			return 0
		}
		return x.Nights[0].Risk.LossMoney + 1e-6*x.Nights[0].Risk.Probability
	}
	sort.SliceStable(b, func(i, j int) bool {
		if rank[b[i].Urgency] != rank[b[j].Urgency] {
			return rank[b[i].Urgency] < rank[b[j].Urgency]
		}
		return money(&b[i]) > money(&b[j])
	})
}
