// Package budcount is the count of dead and living buds after a frost: how many
// to cut for a wanted precision when the buds of one vine are alike.
package budcount

import (
	"fmt"
	"math"

	"budward/physics/quantity"
)

// Plan is what a sample is planned from.
type Plan struct {
	Precision  quantity.Share // half width of the confidence interval wanted, such as 0.1
	Confidence quantity.Share // of the interval, such as 0.95
	Expected   quantity.Share // share of dead buds expected; 0.5 asks for the most buds
	Vines      int            // vines in the stratum sampled; 0 = very many
	PerVine    int            // buds cut on each vine
	ICC        float64        // how alike the buds of one vine are: 0 = no more than others, 1 = all the same
}

// Sample is how much to cut.
type Sample struct {
	Vines int
	Buds  int
	// Design is the design effect: how many times as many buds as with buds
	// taken one by one from vines picked at random.
	Design float64
	// AllVines: even every vine of the stratum, with PerVine buds each, does not
	// reach the precision; HalfWidth is what it does reach.
	AllVines  bool
	HalfWidth quantity.Share // of the interval with this sample
}

const sampleSource = "sample of vines as clusters"

// Size returns the sample of whole vines, m buds on each, whose estimate of the
// share killed has the wanted half width e at the wanted confidence:
//
//	e = z sqrt(p (1-p) / (n m) * [ (1 - icc) + m icc (1 - n/N) ])
//
// z is the two-sided normal quantile. The bracket without n/N is the design
// effect 1 + (m-1) icc; visiting a share n/N of all vines takes that share off
// what differs between vines. n is rounded up to whole vines.
//
// The normal approximation wants some five dead and five living buds in the
// sample; where the sample has fewer expected, n is raised until it has them.
// Valid for 0.01 <= e < 0.5, 0.5 <= confidence <= 0.999, 0 <= p <= 1,
// 0 <= icc <= 1, 1..200 buds a vine; otherwise a *quantity.RangeError.
//
// Source: cluster sampling with equal clusters, Cochran, Sampling Techniques
// (1977), ch. 9-10, and Kish, Survey Sampling (1965), for the design effect (both
// from memory).
func (p Plan) Size() (Sample, error) {
	if err := p.validate(); err != nil {
		return Sample{}, err
	}
	m, q := float64(p.PerVine), float64(p.Expected)*(1-float64(p.Expected))
	z := math.Sqrt2 * math.Erfinv(float64(p.Confidence))
	within, between := 1-p.ICC, m*p.ICC
	all := math.Inf(1)
	if p.Vines > 0 {
		all = float64(p.Vines)
	}
	// z^2 q/(n m) (within + between (1 - n/N)) = e^2, solved for n.
	k := z * z * q / m
	n := k * (within + between) / (float64(p.Precision)*float64(p.Precision) + k*between/all)
	n = math.Max(n, p.least()/m)
	s := Sample{Design: 1 + (m-1)*p.ICC}
	whole := math.Max(1, math.Ceil(n-1e-9)) // 1e-9: rounding of an exact whole number
	if whole > all {
		whole, s.AllVines = all, true
	}
	s.Vines = int(whole)
	s.Buds = s.Vines * p.PerVine
	s.HalfWidth = quantity.Share(z * math.Sqrt(q/(whole*m)*(within+between*(1-whole/all))))
	return s, nil
}

// fewest is how many dead and how many living buds the normal approximation
// wants in a sample (a common rule).
const fewest = 5

// least is the number of buds that holds fewest of the rarer kind; 50 where none
// or all are expected dead, the least that is advised for a block.
func (p Plan) least() float64 {
	rarer := math.Min(float64(p.Expected), 1-float64(p.Expected))
	if rarer <= 0 {
		return 50
	}
	return math.Min(fewest/rarer, 500) // 500: a share below 1 % is not told from none
}

func (p Plan) validate() error {
	for _, r := range []struct {
		name      string
		v, lo, hi float64
	}{
		{"precision", float64(p.Precision), 0.01, 0.499},
		{"confidence", float64(p.Confidence), 0.5, 0.999},
		{"expected share", float64(p.Expected), 0, 1},
		{"intra-cluster correlation", p.ICC, 0, 1},
		{"buds cut on each vine", float64(p.PerVine), 1, 200},
		{"vines in the stratum", float64(p.Vines), 0, 10_000_000},
	} {
		if err := quantity.InRange(r.name, r.v, r.lo, r.hi, "", sampleSource); err != nil {
			return err
		}
	}
	return nil
}

// String is the sample in words.
func (s Sample) String() string {
	return fmt.Sprintf("%d buds on %d vines", s.Buds, s.Vines)
}
