package trial

import (
	"fmt"
	"math"

	"budward/physics/quantity"
)

const (
	fewNights  = 6   // in the trial: fewer say little whatever the interval
	movedSE    = 2.5 // standard errors beyond which two looks at the offset disagree
	movedLeast = 0.2 // K, below which that does not matter
)

// judge adds what weakens the result.
func (r *Result) judge(s *spreads, u quantity.System) {
	k := func(v float64) string { return u.Difference(quantity.Kelvin(v)) }
	flag := func(code, format string, a ...any) {
		r.Flags = append(r.Flags, Flag{code, fmt.Sprintf(format, a...)})
	}
	if r.PlaceIncluded {
		flag("place-included", "No night before the floors differed counts: what the two places differ by whatever their floor (about %s, one standard deviation, within a block) is in the gain and not in its interval.", k(PlaceSDK))
	}
	if n := r.count(Contrast); n < fewNights {
		flag("few-nights", "Only %d nights with the floors different count: one odd night weighs much.", n)
	}
	if n, m := r.ways(Contrast); min(n, m) > 0 && max(n, m) > 2*min(n, m) {
		flag("unbalanced", "%d nights hang one way and %d the other: an even split says most for the same number of nights.", n, m)
	}
	if len(r.Groups) > 0 && r.NightK <= leastSDK {
		flag("spread-at-least", "The nights are more alike than thermometers that read in tenths can tell: the least spread that they can show was taken.")
	}
	if r.Weather.Nights > 0 && math.IsNaN(r.Weather.WindMS) {
		flag("wind-not-read", "No wind was read: calm is judged from the cooling alone.")
	}
	r.offsetMoved(s, u, flag)
}

// ways counts the nights of a kind that hang one way and the other.
func (r *Result) ways(k Kind) (a, b int) {
	for _, g := range r.Groups {
		if g.Kind == k && g.Over == A {
			a += g.N
		}
		if g.Kind == k && g.Over == B {
			b += g.N
		}
	}
	return a, b
}

// offsetMoved holds the offset side by side against that of the swap: a
// thermometer that was moved, dropped or lost its shelter shows in it.
func (r *Result) offsetMoved(s *spreads, u quantity.System, flag func(code, format string, a ...any)) {
	var side *Group
	var rest []Group
	for i := range r.Groups {
		if r.Groups[i].Kind == SideBySide {
			side = &r.Groups[i]
		} else {
			rest = append(rest, r.Groups[i])
		}
	}
	w, ok := combine(rest, offsetParam, r.PlaceIncluded)
	if side == nil || !ok {
		return
	}
	v, se, _ := s.interval(rest, w, r.Conf)
	d := side.MeanK - v.Central
	if math.Abs(d) > movedLeast && math.Abs(d) > movedSE*math.Sqrt(se*se+s.side/float64(side.N)) {
		flag("offset-moved", "Side by side A reads %s against B, in the trial %s: one of the thermometers changed, or was moved, between. Hang them side by side again.",
			u.SignedDifference(quantity.Kelvin(side.MeanK)), u.SignedDifference(quantity.Kelvin(v.Central)))
	}
}
