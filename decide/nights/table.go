package nights

import (
	"math"

	"budward/decide/method"
	"budward/physics/floor"
)

// worth is what the columns say of one night in one variant.
type worth struct {
	gainK   float64 // block minimum less the station's at cordon height, from the floor
	heightK float64 // cordon height less sensor height, of the minima
	groundK float64 // top of the floor less block air at the minimum
}

// gainTable is what one floor, managed one way, is worth by night and variant.
type gainTable struct {
	nights [][numVariants]worth
	given  method.Given
}

// tabulate drives a copy of site through the scenarios' mean weather and, from
// each evening on, through every variant of that night. after, where not nil,
// changes the copy first (mowing).
func (k *block) tabulate(runs []method.Run, after func(*method.Site), nights int) *gainTable {
	s := k.st
	t := &gainTable{nights: make([][numVariants]worth, len(s.ens.Nights))}
	site := k.scratch
	site.CopyFrom(k.site)
	if after != nil {
		after(site)
	}
	site.Plan(runs)
	done := 0
	for n := range t.nights {
		a, b, ok := s.steps(n)
		if !ok || n >= nights {
			for v := range numVariants {
				t.nights[n][v] = worth{math.NaN(), math.NaN(), math.NaN()}
			}
			continue
		}
		site.Drive(s.central.path.Steps[done:a], s.central.ref[site.Height][done:a], &k.trace)
		done = a
		for v := range numVariants {
			f := &s.variants[n][v]
			k.second.CopyFrom(site)
			k.second.Drive(f.path.Steps, f.ref[site.Height], &k.trace)
			t.nights[n][v] = read(&k.trace, f.path.Steps, 0, b-a)
		}
	}
	if len(runs) > 0 { // to the end, for the account of water
		end := s.lastStep(nights)
		site.Drive(s.central.path.Steps[done:end], s.central.ref[site.Height][done:end], &k.trace)
	}
	t.given = site.Given
	return t
}

// lastStep returns the number of steps needed for the first n nights.
func (s *station) lastStep(n int) int {
	end := 0
	for k := range min(n, len(s.ens.Nights)) {
		if _, b, ok := s.steps(k); ok {
			end = b
		}
	}
	return end
}

// read takes a night's worth, steps [a, b), from a trace along steps.
func read(t *method.Trace, steps []floor.Weather, a, b int) worth {
	sensor, cordon, block, at := math.Inf(1), math.Inf(1), math.Inf(1), a
	for i := a; i < b; i++ {
		sensor = math.Min(sensor, steps[i].AirC)
		cordon = math.Min(cordon, t.CordonC[i])
		if air := t.CordonC[i] + t.GainK[i]; air < block {
			block, at = air, i
		}
	}
	return worth{gainK: block - cordon, heightK: cordon - sensor, groundK: t.GroundC[at] - block}
}

// at enters the table with a night's wind (m/s at 2 m) and cloud: straight
// lines in the logarithm of wind and in cloud; beyond the table's ends the end
// values hold (a gain in more than 4 m/s is near nothing anyway).
func (t *gainTable) at(k int, wind, cloud float64) worth {
	iu, fu := position(tableWinds[:], wind, math.Log)
	ic, fc := position(tableClouds[:], cloud, func(x float64) float64 { return x })
	n := &t.nights[k]
	nc := len(tableClouds)
	mix := func(get func(*worth) float64) float64 {
		lo := get(&n[iu*nc+ic])*(1-fc) + get(&n[iu*nc+ic+1])*fc
		hi := get(&n[(iu+1)*nc+ic])*(1-fc) + get(&n[(iu+1)*nc+ic+1])*fc
		return lo*(1-fu) + hi*fu
	}
	return worth{
		gainK:   mix(func(w *worth) float64 { return w.gainK }),
		heightK: mix(func(w *worth) float64 { return w.heightK }),
		groundK: mix(func(w *worth) float64 { return w.groundK }),
	}
}

func position(nodes []float64, x float64, scale func(float64) float64) (i int, f float64) {
	if x <= nodes[0] {
		return 0, 0
	}
	last := len(nodes) - 1
	if x >= nodes[last] {
		return last - 1, 1
	}
	for x > nodes[i+1] {
		i++
	}
	lo, hi := scale(nodes[i]), scale(nodes[i+1])
	return i, (scale(x) - lo) / (hi - lo)
}
