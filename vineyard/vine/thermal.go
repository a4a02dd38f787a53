package vine

import (
	"fmt"
	"math"
	"time"

	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// Day is one calendar day's mean air temperature at a block. Only the date of
// Date counts, in its own location. NaN is a gap.
type Day struct {
	Date  time.Time
	MeanC quantity.Celsius
}

func (d Day) iso() string { return d.Date.Format(time.DateOnly) }

// Thermal moves buds and shoots on by warmth.
//
//	before bud burst: ds/dt = max(0, T - BurstBaseC) / (share of the stretch * BurstDD)
//	after bud burst:  ds/dt = max(0, T - LeafBaseC) / LeafDD
//
// with s the Step and T the daily mean. The stretches dormant to first swell,
// to full swell, to bud burst take 0.6, 0.2 and 0.2 of BurstDD: a guess of our
// own. Shoots differ: the one at rank z (standard normal, first to open
// highest) runs at 1 + Spread z times the rate, all season, so order is kept
// and a block drawn apart stays so.
type Thermal struct {
	BurstBaseC quantity.Celsius `json:"burst_base_c"`
	BurstDD    float64          `json:"burst_dd"` // degC-days from the season's start to bud burst
	LeafBaseC  quantity.Celsius `json:"leaf_base_c"`
	LeafDD     float64          `json:"leaf_dd"` // degC-days per leaf
	Spread     float64          `json:"spread"`  // of the rate between shoots, 1 sd
	Source     string           `json:"source"`
}

// The prior. Base 5 degC: García de Cortázar-Atauri et al. (2009), ten
// cultivars at five French sites [READ, abstract]. The sums to bud burst from 1
// January, by earliness, [MEMORY, low, same paper]; they miss single years by a
// week or two. 20 degC-days base 10 per leaf: between the 18.5 derived from 15
// leaves in 278 degC-days (Oregon [READ]) and the 20-25 of the literature
// [MEMORY]. The spread is a guess of our own: bud burst of a block takes one to
// two weeks.
const (
	priorBurstBaseC quantity.Celsius = 5
	priorEarlyDD                     = 220.0
	priorMidDD                       = 265.0
	priorLateDD                      = 320.0
	priorLeafBaseC  quantity.Celsius = 10
	priorLeafDD                      = 20.0
	priorSpread                      = 0.2
)

// DefaultThermal returns the prior for a cultivar's earliness of bud burst.
func DefaultThermal(b farm.BurstClass) Thermal {
	dd := priorMidDD
	switch b {
	case farm.BurstEarly:
		dd = priorEarlyDD
	case farm.BurstLate:
		dd = priorLateDD
	}
	return Thermal{priorBurstBaseC, dd, priorLeafBaseC, priorLeafDD, priorSpread,
		"base 5 degC after García de Cortázar-Atauri et al. (2009); sums and spread are guesses of our own; 20 degC-days base 10 per leaf"}
}

// Validate reports a parameter outside what is plausible.
func (p Thermal) Validate() error {
	for _, v := range []struct {
		name      string
		v, lo, hi float64
	}{
		{"burst base, degC", float64(p.BurstBaseC), -5, 15},
		{"burst sum, degC-days", p.BurstDD, 20, 2000},
		{"leaf base, degC", float64(p.LeafBaseC), 0, 15},
		{"leaf sum, degC-days", p.LeafDD, 5, 80},
		{"spread of the rate", p.Spread, 0, 0.4},
	} {
		if !(v.v >= v.lo && v.v <= v.hi) {
			return &InputError{v.name, fmt.Sprintf("%g", v.v), fmt.Sprintf("%g to %g", v.lo, v.hi)}
		}
	}
	return nil
}

// stretches: share of BurstDD from each step below bud burst to the next.
var stretches = [3]float64{0.6, 0.2, 0.2}

// move returns the step after one day at mean temperature t, at rate times the
// common rate, and whether it would have gone past bloom.
func (p Thermal) move(s Step, t quantity.Celsius, rate float64) (Step, bool) {
	left := 1.0 // of the day
	for s < BudBurst && left > 0 {
		dd := math.Max(0, float64(t-p.BurstBaseC)) * rate
		if dd == 0 {
			return s, false
		}
		i := int(s)
		need := (float64(i+1) - float64(s)) * stretches[i] * p.BurstDD / dd // days to the next whole step
		if need > left {
			return s + Step(left*dd/(stretches[i]*p.BurstDD)), false
		}
		s, left = Step(i+1), left-need
	}
	s += Step(left * math.Max(0, float64(t-p.LeafBaseC)) * rate / p.LeafDD)
	if s > lastStep {
		return lastStep, true
	}
	return s, false
}

// ranks is the number of equal slices of a block's nodes that get a rate each.
const ranks = 20

// rate returns the multiple of the common rate for the nodes around order q
// (0 = first to open).
func (p Thermal) rate(q float64) float64 {
	i := min(ranks-1, max(0, int(q*ranks)))
	mid := (float64(i) + 0.5) / ranks
	z := math.Sqrt2 * math.Erfinv(1-2*mid)
	return 1 + p.Spread*z
}

// minPriorDays: fewer days than this before a dormant observation say nothing
// about the season's warmth so far.
const minPriorDays = 30

// oldAfterDays: a stage moved on for longer than this should be looked at again.
const oldAfterDays = 21

// split tells, after checking that days follow one another without a gap, which
// of them lie before or on the day of at, and which after.
func split(days []Day, at time.Time) (before, after []Day, err error) {
	for i, d := range days {
		v := float64(d.MeanC)
		if !(v >= -60 && v <= 60) {
			return nil, nil, &GapError{d.iso(), fmt.Sprintf("%g is not a temperature from -60 to 60 degC; stages are not moved across a gap", v)}
		}
		if i > 0 && d.iso() != days[i-1].Date.AddDate(0, 0, 1).Format(time.DateOnly) {
			return nil, nil, &GapError{d.iso(), "does not follow " + days[i-1].iso() + "; every day is needed, once and in order"}
		}
	}
	n := 0
	for n < len(days) && days[n].iso() <= at.In(days[n].Date.Location()).Format(time.DateOnly) {
		n++
	}
	if n == 0 && len(days) > 0 {
		seen := at.In(days[0].Date.Location())
		if next := seen.AddDate(0, 0, 1).Format(time.DateOnly); days[0].iso() != next {
			return nil, nil, &GapError{next, "missing: the days begin on " + days[0].iso() + ", later than the day after the observation"}
		}
	}
	return days[:n], days[n:], nil
}

// Advance moves a mixture on through days. The days must follow one another
// without a gap and begin at latest on the day after m.At; those up to and
// including the day of m.At are used only to place dormant buds (give them from
// 1 January, 1 July in the south). A gap is a *GapError: nothing is filled in.
// Shoots past bloom are held there and flagged.
func (p Thermal) Advance(m Mixture, days []Day) (Mixture, error) {
	if err := p.Validate(); err != nil {
		return Mixture{}, err
	}
	if err := m.Validate(); err != nil {
		return Mixture{}, err
	}
	before, after, err := split(days, m.At)
	if err != nil {
		return Mixture{}, err
	}
	if len(after) == 0 {
		return m, nil
	}
	out := m
	out.Source, out.At = Advanced, after[len(after)-1].Date
	out.Flags = addFlag(append([]Flag(nil), m.Flags...), Flag{FlagAdvanced, "stages moved on by degree-days from the last walk: expect an error of several days"})
	out.Shares = nil
	from := 0.0
	for _, s := range m.Shares {
		for _, part := range pieces(from, from+s.Share) {
			rate := p.rate((part[0] + part[1]) / 2)
			step := s.Step
			if step == Dormant && m.Source != Advanced {
				step = p.placeDormant(before, rate, &out)
			}
			step = p.run(step, after, rate, &out)
			st, err := StageOf(step)
			if err != nil {
				return Mixture{}, err
			}
			out.Shares = append(out.Shares, Share{step, st, part[1] - part[0]})
		}
		from += s.Share
	}
	if !m.SeenAt.IsZero() && out.At.Sub(m.SeenAt) > oldAfterDays*24*time.Hour {
		out.Flags = addFlag(out.Flags, Flag{FlagOldObservation, fmt.Sprintf("the last walk is more than %d days old: look again", oldAfterDays)})
	}
	out.order()
	return out, nil
}

func (p Thermal) run(s Step, days []Day, rate float64, out *Mixture) Step {
	past := false
	for _, d := range days {
		s, past = p.move(s, d.MeanC, rate)
	}
	if past {
		out.Flags = addFlag(out.Flags, Flag{FlagPastModel, "shoots are past bloom, where the leaf model ends; they are held there"})
	}
	return s
}

// placeDormant puts a bud seen dormant where the season's warmth so far has
// brought it, short of first swell. Without that warmth it is put halfway.
func (p Thermal) placeDormant(before []Day, rate float64, out *Mixture) Step {
	if len(before) < minPriorDays {
		out.Flags = addFlag(out.Flags, Flag{FlagDormantHeat,
			"buds were seen dormant and the warmth before that day is not known: taken as halfway to first swell, a guess of our own"})
		return 0.5
	}
	s := Dormant
	for _, d := range before {
		s, _ = p.move(s, d.MeanC, rate)
	}
	return min(s, 0.99)
}

// pieces cuts a run of nodes at the borders of the ranks, so that each piece
// has one rate. Pieces thinner than 1e-9 (rounding) are not made.
func pieces(from, to float64) [][2]float64 {
	const eps = 1e-9
	var out [][2]float64
	for k := 1; k < ranks; k++ {
		g := float64(k) / ranks
		if g-from > eps && to-g > eps {
			out = append(out, [2]float64{from, g})
			from = g
		}
	}
	return append(out, [2]float64{from, to})
}

// Advance moves the book's buds on through days after l.At: primaries at the
// rate of their rank, secondaries and tertiaries that lead a node at the common
// rate. The same rules for gaps hold as for Thermal.Advance.
func (l Ledger) Advance(p Thermal, days []Day) (Ledger, []Flag, error) {
	if err := p.Validate(); err != nil {
		return l, nil, err
	}
	before, after, err := split(days, l.At)
	if err != nil || len(after) == 0 {
		return l, nil, err
	}
	out := Ledger{At: after[len(after)-1].Date, Frosts: l.Frosts, SecondariesOut: l.SecondariesOut}
	var notes Mixture
	for _, co := range l.Cohorts {
		for _, part := range pieces(co.From, co.To) {
			rate := p.rate((part[0] + part[1]) / 2)
			step := co.Step
			if step == Dormant {
				step = p.placeDormant(before, rate, &notes)
			}
			next := Cohort{From: part[0], To: part[1], Step: p.run(step, after, rate, &notes)}
			for _, ld := range co.Leads {
				switch ld.Bud {
				case Primary:
					ld.Step = next.Step
				case Secondary, Tertiary:
					ld.Step = p.run(ld.Step, after, 1, &notes)
				}
				next.add(ld)
			}
			out.Cohorts = append(out.Cohorts, next)
		}
	}
	return out, addFlag(notes.Flags, Flag{FlagAdvanced, "stages moved on by degree-days: expect an error of several days"}), nil
}
