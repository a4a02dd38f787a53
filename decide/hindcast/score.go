package hindcast

import (
	"math"
	"math/rand/v2"
	"slices"

	"budward/decide/weather"
)

// bandTolC is how far a measured minimum may lie outside a band and still count as
// inside: the lowest so far is a member and may be the minimum itself, computed in
// another order.
const bandTolC = 1e-9

func (p *replay) score(k int, all *[numMethods][]said) LeadReport {
	r := LeadReport{Name: leads[k].name, Label: leads[k].label}
	every := make([]int, len(p.idx))
	var frosty []int
	for i := range every {
		every[i] = i
		if p.obs[i] <= p.in.FrostC {
			frosty = append(frosty, i)
		}
	}
	for m := range all {
		r.All = append(r.All, p.method(m, all[m], every))
		r.Frost = append(r.Frost, p.method(m, all[m], frosty))
	}
	r.GainAll = p.gain(all[byModel], all[byRegression], every)
	r.GainFrost = p.gain(all[byModel], all[byRegression], frosty)
	r.Thirds = p.thirds(all[byModel])
	for _, c := range p.in.ThresholdsC {
		r.Thresholds = append(r.Thresholds, p.threshold(c, all))
	}
	r.Feed = p.feed(r.All[byModel].RMSEK)
	return r
}

// method scores what one method said on the nights listed.
func (p *replay) method(m int, s []said, nights []int) MethodScore {
	out := MethodScore{Method: methods[m].name, Label: methods[m].label}
	var sum, sq, abs, crps, in50, in80, w50, w80 float64
	inside := func(lo, hi, x float64) float64 {
		if x >= lo-bandTolC && x <= hi+bandTolC {
			return 1
		}
		return 0
	}
	for _, i := range nights {
		if !s[i].ok {
			out.Left++
			continue
		}
		out.N++
		d := s[i].meanC - p.obs[i]
		sum, sq, abs = sum+d, sq+d*d, abs+math.Abs(d)
		if s[i].members == nil {
			continue
		}
		out.Distribution++
		c, err := weather.CRPS(s[i].members, nil, p.obs[i])
		if err != nil {
			panic("hindcast: score: " + err.Error()) // members and minimum are numbers
		}
		crps += c
		in50 += inside(s[i].band50.LowC, s[i].band50.HighC, p.obs[i])
		in80 += inside(s[i].band80.LowC, s[i].band80.HighC, p.obs[i])
		w50 += s[i].band50.HighC - s[i].band50.LowC
		w80 += s[i].band80.HighC - s[i].band80.LowC
	}
	n, nd := float64(out.N), float64(out.Distribution) // 0/0 = NaN: unknown
	out.BiasK, out.RMSEK, out.MAEK = Num(sum/n), Num(math.Sqrt(sq/n)), Num(abs/n)
	out.CRPSK, out.Covered50, out.Covered80 = Num(crps/nd), Num(in50/nd), Num(in80/nd)
	out.Width50K, out.Width80K = Num(w50/nd), Num(w80/nd)
	return out
}

// Draws is the number of bootstrap draws of a Gain.
const Draws = 2000

// leastGain is how many nights there must be for an interval.
const leastGain = 20

// gain compares the RMSE of a with that of b on the nights both have. The interval
// is that of the 2.5th to the 97.5th of a hundred draws of the nights with
// replacement, both errors of a night drawn together. Nights are drawn one by one:
// errors of successive nights hardly hang together (a correlation of 0.03 in the
// evening, less later, at the station the model was made on).
func (p *replay) gain(a, b []said, nights []int) Gain {
	var ea, eb []float64
	for _, i := range nights {
		if a[i].ok && b[i].ok {
			x, y := a[i].meanC-p.obs[i], b[i].meanC-p.obs[i]
			ea, eb = append(ea, x*x), append(eb, y*y)
		}
	}
	g := Gain{N: len(ea), Low: Num(math.NaN()), Central: Num(math.NaN()), High: Num(math.NaN())}
	if len(ea) == 0 {
		return g
	}
	share := func(pick func(int) int) float64 {
		sa, sb := 0.0, 0.0
		for j := range ea {
			k := pick(j)
			sa, sb = sa+ea[k], sb+eb[k]
		}
		return 1 - math.Sqrt(sa/sb)
	}
	g.Central = Num(share(func(j int) int { return j }))
	if len(ea) < leastGain {
		return g
	}
	rng := rand.New(rand.NewPCG(p.in.Seed, 0x68696e64))
	draws := make([]float64, Draws)
	for d := range draws {
		draws[d] = share(func(int) int { return rng.IntN(len(ea)) })
	}
	slices.Sort(draws)
	g.Low, g.High = Num(quantile(draws, 0.025)), Num(quantile(draws, 0.975))
	return g
}

// thirds tells how often the 80 % band held by third of the predicted minimum.
func (p *replay) thirds(s []said) []BandShare {
	var order []int
	for i := range s {
		if s[i].ok {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case s[i].meanC < s[j].meanC:
			return -1
		case s[i].meanC > s[j].meanC:
			return 1
		}
		return 0
	})
	var out []BandShare
	for t := range 3 {
		part := order[len(order)*t/3 : len(order)*(t+1)/3]
		b := BandShare{N: len(part), FromC: Num(math.NaN()), ToC: Num(math.NaN()), Share: Num(math.NaN())}
		if len(part) > 0 {
			b.FromC, b.ToC = Num(s[part[0]].meanC), Num(s[part[len(part)-1]].meanC)
			b.Share = p.method(byModel, s, part).Covered80
		}
		out = append(out, b)
	}
	return out
}

// feed tells what a forecast of a stated or measured error would leave.
func (p *replay) feed(rmse Num) FeedGain {
	g := FeedGain{ForecastK: Num(weather.Prior().Leads[0].SDK)}
	if f := p.rec.firstDay; f.N >= leastGain {
		g.ForecastK, g.Measured = f.RMSEK, true
	}
	a, b := float64(rmse)*float64(rmse), float64(g.ForecastK)*float64(g.ForecastK)
	g.LeftK = Num(math.Sqrt(a * b / (a + b)))
	return g
}
