package hindcast

import "math"

// reliabilityEdges are the bins of probabilities: finer where decisions are made
// and where most nights lie.
var reliabilityEdges = []float64{0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1}

func (p *replay) threshold(c float64, all *[numMethods][]said) ThresholdReport {
	r := ThresholdReport{ThresholdC: c}
	for _, x := range p.obs {
		if x <= c {
			r.Events++
		}
	}
	for m := range all {
		r.Methods = append(r.Methods, p.calls(m, all[m], c))
	}
	r.Reliability = p.reliability(all[byModel], c)
	return r
}

func (c *Calls) count(alarm, event bool) {
	switch {
	case alarm && event:
		c.Hits++
	case event:
		c.Misses++
	case alarm:
		c.FalseAlarms++
	default:
		c.Quiet++
	}
}

func (p *replay) calls(m int, s []said, c float64) ThresholdCall {
	out := ThresholdCall{Method: methods[m].name, Label: methods[m].label, Value: make([]Value, len(p.in.CostShares))}
	for v, cost := range p.in.CostShares {
		out.Value[v].CostShare = cost
	}
	brier := 0.0
	for i := range s {
		if !s[i].ok {
			continue
		}
		out.N++
		prob, event := s[i].probBelow(c), p.obs[i] <= c
		seen := 0.0
		if event {
			seen = 1
		}
		brier += (prob - seen) * (prob - seen)
		out.Even.count(prob >= 0.5, event)
		for v := range out.Value {
			out.Value[v].Calls.count(prob >= out.Value[v].CostShare, event)
		}
	}
	out.Brier = Num(brier / float64(out.N))
	for v := range out.Value {
		out.Value[v].Value = out.Value[v].Calls.value(out.Value[v].CostShare)
	}
	return out
}

// value is the relative economic value of the calls, see Value; unknown where
// there was no event or nothing but events.
//
// Reference: Richardson (2000), Q. J. R. Meteorol. Soc. 126:649-667 (from memory).
func (c Calls) value(cost float64) Num {
	n := float64(c.Hits + c.Misses + c.FalseAlarms + c.Quiet)
	events := float64(c.Hits+c.Misses) / n
	if !(events > 0 && events < 1) {
		return Num(math.NaN())
	}
	usual := math.Min(cost, events)
	perfect := cost * events
	expense := cost*float64(c.Hits+c.FalseAlarms)/n + float64(c.Misses)/n
	return Num((usual - expense) / (usual - perfect))
}

func (p *replay) reliability(s []said, c float64) []Reliability {
	var out []Reliability
	for b := 1; b < len(reliabilityEdges); b++ {
		lo, hi := reliabilityEdges[b-1], reliabilityEdges[b]
		r := Reliability{From: lo, To: hi}
		said, seen := 0.0, 0.0
		for i := range s {
			if !s[i].ok {
				continue
			}
			// A bin holds its lower edge; the last its upper one too.
			if q := s[i].probBelow(c); q >= lo && (q < hi || hi == 1) {
				r.N++
				said += q
				if p.obs[i] <= c {
					seen++
				}
			}
		}
		r.Said, r.Seen = Num(said/float64(r.N)), Num(seen/float64(r.N))
		out = append(out, r)
	}
	return out
}
