package vine

import (
	"fmt"

	"budward/vineyard/farm"
)

// CropFraction returns the crop left per node when a share k1 of primaries, k2
// of the secondaries behind dead primaries and k3 of the tertiaries behind both
// are dead, a secondary bearing r2 and a tertiary r3 of a primary:
//
//	crop = (1 - k1) + k1 (1 - k2) r2 + k1 k2 (1 - k3) r3
//
// All inputs are 0..1; others are an *InputError. It takes for granted that
// every living secondary grows; CropInput.Push says how many do.
func CropFraction(k1, k2, k3, r2, r3 float64) (float64, error) {
	for _, v := range []struct {
		name string
		v    float64
	}{{"primary kill", k1}, {"secondary kill", k2}, {"tertiary kill", k3}, {"secondary yield", r2}, {"tertiary yield", r3}} {
		if !(v.v >= 0 && v.v <= 1) {
			return 0, &InputError{v.name, fmt.Sprintf("%g", v.v), "a share from 0 to 1"}
		}
	}
	return (1 - k1) + k1*(1-k2)*r2 + k1*k2*(1-k3)*r3, nil
}

// CropInput is what turns dead and living buds into crop.
type CropInput struct {
	R2 Range `json:"secondary"` // yield of a shoot from a secondary, of a primary's
	R3 Range `json:"tertiary"`
	// Push is the share of living buds behind a dead one that grow out.
	Push    Range        `json:"push"`
	Pruning farm.Pruning `json:"pruning"`
	// Nodes is the relative fruitfulness of each node from the base of a cane;
	// used for cane pruning, where the end buds open first. Empty = all alike.
	Nodes []float64 `json:"nodes,omitempty"`
	// Spare is the share of nodes kept beyond what the wanted crop needs (spare
	// canes): 0.3 = 30 % more. The crop never passes 1.
	Spare float64 `json:"spare"`
}

// push: not every node that loses its primary grows a secondary. A guess of our
// own; with it a block that loses 40 % of its primaries keeps 60-70 % of the
// crop, as the trade says (common practice).
var priorPush = Range{0.4, 0.6, 0.8}

// Fruitfulness by node from the base of a cane, relative (common practice; the
// numbers are guesses of our own). Seedless table and raisin cultivars bear
// little from the basal nodes.
var (
	nodesCommon    = []float64{0.6, 0.8, 1, 1, 1, 1, 1, 1, 1, 1}
	nodesPoorBasal = []float64{0.1, 0.2, 0.4, 0.7, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
)

// CropInputFor returns the inputs of a block, from its own numbers where it has
// them, otherwise from its cultivar, and what was assumed.
func CropInputFor(b farm.Block) (CropInput, []Flag) {
	cv, known := farm.LookupCultivar(b.Cultivar)
	var flags []Flag
	if !known {
		flags = addFlag(flags, Flag{FlagCultivar, fmt.Sprintf("cultivar %q is not in the register: general values for secondaries", b.Cultivar)})
	}
	in := CropInput{R2: Range(cv.Secondary), R3: Range(cv.Tertiary), Push: priorPush, Pruning: b.Pruning}
	if b.SecondaryShare >= 0 {
		in.R2 = Range{b.SecondaryShare, b.SecondaryShare, b.SecondaryShare}
	}
	if b.TertiaryShare >= 0 {
		in.R3 = Range{b.TertiaryShare, b.TertiaryShare, b.TertiaryShare}
	}
	if b.Pruning == farm.Cane {
		in.Nodes = nodesCommon
		if cv.PoorBasal {
			in.Nodes = nodesPoorBasal
		}
		in.Nodes = append([]float64(nil), in.Nodes...)
		flags = addFlag(flags, Flag{FlagGuess, "fruitfulness by node position is a guess of our own"})
	}
	flags = addFlag(flags, Flag{FlagGuess, "the share of nodes whose secondary grows out (40-80 %) is a guess of our own"})
	return in, flags
}

// Validate reports an input outside its range.
func (in CropInput) Validate() error {
	for _, v := range []struct {
		name string
		r    Range
	}{{"secondary yield", in.R2}, {"tertiary yield", in.R3}, {"share that grows out", in.Push}} {
		if !(v.r.Low >= 0 && v.r.Low <= v.r.Central && v.r.Central <= v.r.High && v.r.High <= 1) {
			return &InputError{v.name, fmt.Sprintf("%g, %g, %g", v.r.Low, v.r.Central, v.r.High), "0 <= low <= central <= high <= 1"}
		}
	}
	if !(in.Spare >= 0 && in.Spare <= 5) {
		return &InputError{"spare nodes", fmt.Sprintf("%g", in.Spare), "a share from 0 to 5"}
	}
	if len(in.Nodes) > 100 {
		return &InputError{"nodes of a cane", fmt.Sprint(len(in.Nodes)), "at most 100"}
	}
	sum := 0.0
	for i, f := range in.Nodes {
		if !(f >= 0 && f <= 100) {
			return &InputError{fmt.Sprintf("fruitfulness of node %d", i+1), fmt.Sprintf("%g", f), "0 to 100"}
		}
		sum += f
	}
	if len(in.Nodes) > 0 && sum == 0 {
		return &InputError{"fruitfulness of nodes", "all 0", "at least one fruitful node"}
	}
	return nil
}

// weight returns the fruitfulness of the nodes between two places in the order
// of opening, relative to the mean of all. On cane-pruned vines the end buds
// open first, so order 0 is the end of the cane. Spur and minimal pruning: 1.
func (in CropInput) weight(from, to float64) float64 {
	if in.Pruning != farm.Cane || len(in.Nodes) == 0 || !(to > from) {
		return 1
	}
	n := float64(len(in.Nodes))
	total, part := 0.0, 0.0
	for i, f := range in.Nodes {
		total += f
		// node i (0 = base) takes the order from 1-(i+1)/n to 1-i/n
		lo, hi := max(from, 1-(float64(i)+1)/n), min(to, 1-float64(i)/n)
		if hi > lo {
			part += f * (hi - lo)
		}
	}
	return part / (to - from) * n / total
}

// Crop is what is left of a block's crop, as a share of what it would have been.
type Crop struct {
	Fraction    Range   `json:"fraction"`
	PrimaryLost float64 `json:"primary_lost"` // share of nodes whose primary is dead
	FromPrimary float64 `json:"from_primary"` // part of the central fraction borne by primaries
}

// Crop returns the crop left after the frosts entered so far. Buds that have
// not opened yet are in hardier stages and count in full as long as they live.
// Low, central and high take the low, central and high ends of R2, R3 and Push
// together.
func (l Ledger) Crop(in CropInput) (Crop, error) {
	if err := in.Validate(); err != nil {
		return Crop{}, err
	}
	out := Crop{PrimaryLost: l.PrimaryLost()}
	var borne [numBuds]float64
	for _, co := range l.Cohorts {
		w := in.weight(co.From, co.To) * (co.To - co.From)
		for _, ld := range co.Leads {
			borne[ld.Bud] += w * ld.Share
		}
	}
	out.FromPrimary = min(1, (1+in.Spare)*borne[Primary])
	out.Fraction = in.left(borne)
	return out, nil
}

// left turns the fruitful nodes borne by each kind of bud into crop.
func (in CropInput) left(borne [numBuds]float64) Range {
	of := func(r2, r3, push float64) float64 {
		return min(1, (1+in.Spare)*(borne[Primary]+push*(borne[Secondary]*r2+borne[Tertiary]*r3)))
	}
	return Range{
		Low:     of(in.R2.Low, in.R3.Low, in.Push.Low),
		Central: of(in.R2.Central, in.R3.Central, in.Push.Central),
		High:    of(in.R2.High, in.R3.High, in.Push.High),
	}
}
