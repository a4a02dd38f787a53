package vine

import (
	"fmt"

	"budward/physics/quantity"
)

// Exposure is a block as it stands (its book of frosts) held ready against one
// table and one set of crop inputs, for asking what one more frost would do at
// many temperatures (scenarios) without looking anything up. It holds no state:
// each question is one frost on the block as it stands. It agrees with
// Ledger.Frost followed by Ledger.Crop.
type Exposure struct {
	table  Table
	in     CropInput
	parts  []part
	living float64
	Flags  []Flag
}

// part is one lead of one cohort.
type part struct {
	nodes  float64 // share of all nodes
	fruit  float64 // the same, weighted by fruitfulness
	lead   Bud
	curves [3]Curve // of the primary, secondary, tertiary; from lead on
}

// Expose looks up the curves of every living bud of l in t.
func Expose(t Table, l Ledger, in CropInput) (Exposure, error) {
	if err := l.Validate(); err != nil {
		return Exposure{}, err
	}
	if err := in.Validate(); err != nil {
		return Exposure{}, err
	}
	e := Exposure{table: t, in: in}
	for _, co := range l.Cohorts {
		w := in.weight(co.From, co.To)
		for _, ld := range co.Leads {
			p := part{nodes: (co.To - co.From) * ld.Share, lead: ld.Bud}
			p.fruit = p.nodes * w
			step := ld.Step
			for b := ld.Bud; b < None; b++ {
				if b > ld.Bud {
					step = l.resting(b, co.Step)
				}
				curve, flags, err := t.Curve(step)
				if err != nil {
					return Exposure{}, err
				}
				p.curves[b] = curve
				e.Flags = addFlags(e.Flags, flags)
			}
			if ld.Bud != None {
				e.living += p.nodes
				e.parts = append(e.parts, p)
			}
		}
	}
	return e, nil
}

// Basis says which temperature Night and Critical speak of.
func (e Exposure) Basis() Basis { return e.table.Basis }

// Living returns the share of all nodes that a living bud still carries.
func (e Exposure) Living() float64 { return e.living }

// Outcome is what one frost would do.
type Outcome struct {
	Kill float64 `json:"kill"` // share of the buds that lead a node now that would die
	Crop Range   `json:"crop"` // share of the full crop left afterwards
}

// Night returns what a frost with these lowest temperatures would do, picking
// air or tissue as the table asks.
func (e Exposure) Night(airC, tissueC quantity.Celsius) (Outcome, error) {
	t, err := e.table.Use(airC, tissueC)
	if err != nil {
		return Outcome{}, err
	}
	killed := 0.0
	var borne [numBuds]float64
	for i := range e.parts {
		p := &e.parts[i]
		left := p.fruit
		for b := p.lead; b < None; b++ {
			k := p.curves[b].Kill(t)
			if b == p.lead {
				killed += p.nodes * k
			}
			borne[b] += left * (1 - k)
			left *= k
			if left == 0 {
				break
			}
		}
	}
	out := Outcome{Crop: e.in.left(borne)}
	if e.living > 0 {
		out.Kill = killed / e.living
	}
	return out, nil
}

// kill returns the killed share of the living leading buds at t.
func (e Exposure) kill(t quantity.Celsius) float64 {
	sum := 0.0
	for i := range e.parts {
		sum += e.parts[i].nodes * e.parts[i].curves[e.parts[i].lead].Kill(t)
	}
	return sum / e.living
}

// Critical returns the temperature, on the table's basis, at which share of the
// buds that lead a node now (all stages together) die. Found by bisection to
// 1e-6 K. A share outside 0.001..0.999, or a block in which nothing lives, is an
// *InputError. Where even the safe end kills more than share, the safe end is
// the answer.
func (e Exposure) Critical(share float64) (quantity.Celsius, error) {
	if !(share >= 0.001 && share <= 0.999) {
		return 0, &InputError{"killed share", fmt.Sprintf("%g", share), "a share from 0.001 to 0.999"}
	}
	if !(e.living > 0) {
		return 0, &InputError{"living buds", "0", "at least one living bud"}
	}
	// Kill falls with temperature: it is 0 at the safe end, and at the coldest
	// single stage's temperature for this share it is at least share.
	warm, cold := e.table.Basis.safe(), e.table.Basis.safe()
	for _, p := range e.parts {
		cold = min(cold, p.curves[p.lead].Temperature(share))
	}
	cold -= 1e-6
	for warm-cold > 1e-6 {
		mid := (warm + cold) / 2
		if e.kill(mid) >= share {
			cold = mid
		} else {
			warm = mid
		}
	}
	return (warm + cold) / 2, nil
}
