package vine

import (
	"fmt"
	"math"
	"time"

	"budward/physics/quantity"
)

// Bud says which bud of a node carries it: the primary, or after its death the
// secondary, then the tertiary, then none.
type Bud int

const (
	Primary Bud = iota
	Secondary
	Tertiary
	None
	numBuds
)

// Lead is a share of a cohort's nodes that are carried by one kind of bud at
// one step.
type Lead struct {
	Bud   Bud     `json:"bud"`
	Step  Step    `json:"step"`
	Share float64 `json:"share"` // of the cohort's nodes, 0..1
}

// Cohort is a run of a block's nodes in the order in which they open: From = 0
// is the first to open, To = 1 the last. Its Leads sum to one.
type Cohort struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Step  Step    `json:"step"` // of the primaries, dead or alive
	Leads []Lead  `json:"leads"`
}

// Ledger is the book of one season's frosts for one block: which share of the
// nodes is still carried by which bud, cohort by cohort. A bud dies once.
// Survivors of one frost meet the next as any other bud of their stage does;
// if the same shoots are always the tender ones, the loss is smaller, down to
// the largest single kill.
//
// A Ledger is a value: its methods return a new one and leave the old alone.
type Ledger struct {
	Cohorts []Cohort  `json:"cohorts"`
	At      time.Time `json:"at"`
	Frosts  int       `json:"frosts"` // how many have been entered
	// SecondariesOut: very warm days opened primaries and secondaries together
	// (seen above about 27 degC before the frost), so both meet the frost at
	// the primaries' step.
	SecondariesOut bool `json:"secondaries_out"`
}

// Resting steps of the buds behind a living one. While it lives the secondary
// does not open: it stays at most woolly, the tertiary at most swollen. A guess
// of our own (the secondary lies in the same compound bud under wool).
const (
	restSecondary = FullSwell
	restTertiary  = FirstSwell
)

// NewLedger opens the book for a mixture in which nothing has died.
func NewLedger(m Mixture) (Ledger, error) {
	if err := m.Validate(); err != nil {
		return Ledger{}, err
	}
	l := Ledger{At: m.At}
	from := 0.0
	for i, s := range m.Shares {
		to := from + s.Share
		if i == len(m.Shares)-1 {
			to = 1 // the shares' rounding is closed here
		}
		l.Cohorts = append(l.Cohorts, Cohort{from, to, s.Step, []Lead{{Primary, s.Step, 1}}})
		from = to
	}
	return l, nil
}

// StageLoss is what one frost did at one step.
type StageLoss struct {
	Step   Step    `json:"step"`
	Nodes  float64 `json:"nodes"`  // share of the block's nodes at this step
	Kill   float64 `json:"kill"`   // share of the living primaries there that died
	Killed float64 `json:"killed"` // share of the block's nodes that lost a primary
}

// Loss is what one frost did to a block.
type Loss struct {
	UsedC   quantity.Celsius `json:"used_c"` // temperature held against the table
	Basis   Basis            `json:"basis"`
	Table   string           `json:"table"`
	Stages  []StageLoss      `json:"stages"`
	Primary float64          `json:"primary"` // share of all nodes whose living primary died tonight
	Lead    float64          `json:"lead"`    // share of all nodes that lost whatever bud led them
	Flags   []Flag           `json:"flags,omitempty"`
}

// Frost enters one night's lowest temperature. Both air and tissue temperature
// are given; the table says which is used (Loss.UsedC). For a node led by its
// primary, with kills k1, k2, k3 of the primary and of the resting secondary
// and tertiary at their own steps:
//
//	stays primary 1-k1; secondary k1 (1-k2); tertiary k1 k2 (1-k3); none k1 k2 k3
//
// and likewise from the secondary and tertiary on. Nothing is lost or made:
// the leads of each cohort sum to one.
func (l Ledger) Frost(t Table, airC, tissueC quantity.Celsius) (Ledger, Loss, error) {
	used, err := t.Use(airC, tissueC)
	if err != nil {
		return l, Loss{}, err
	}
	loss := Loss{UsedC: used, Basis: t.Basis, Table: t.Name}
	kills := killer{table: t, used: used, done: map[Step]float64{}, flags: &loss.Flags}
	out := l
	out.Frosts++
	out.Cohorts = make([]Cohort, len(l.Cohorts))
	for i, co := range l.Cohorts {
		nodes := co.To - co.From
		next := Cohort{From: co.From, To: co.To, Step: co.Step}
		for _, ld := range co.Leads {
			if ld.Bud == None {
				next.add(ld)
				continue
			}
			k, err := l.strike(&next, ld, &kills)
			if err != nil {
				return l, Loss{}, err
			}
			loss.Lead += nodes * ld.Share * k
			if ld.Bud == Primary {
				killed := nodes * ld.Share * k
				loss.Primary += killed
				loss.Stages = append(loss.Stages, StageLoss{co.Step, nodes, k, killed})
			}
		}
		out.Cohorts[i] = next
	}
	return out, loss, nil
}

// strike splits one lead by a frost and returns the kill of the leading bud.
func (l Ledger) strike(next *Cohort, ld Lead, kills *killer) (float64, error) {
	left, first := ld.Share, 0.0
	step := ld.Step
	for b := ld.Bud; b < None; b++ {
		if b > ld.Bud {
			step = l.resting(b, next.Step)
		}
		k, err := kills.at(step)
		if err != nil {
			return 0, err
		}
		if b == ld.Bud {
			first = k
		}
		next.add(Lead{b, step, left * (1 - k)})
		left *= k
	}
	next.add(Lead{None, Dormant, left})
	return first, nil
}

// resting is the step of a bud behind the living one.
func (l Ledger) resting(b Bud, primary Step) Step {
	if b == Secondary {
		if l.SecondariesOut {
			return primary
		}
		return min(primary, restSecondary)
	}
	return min(primary, restTertiary)
}

// killer remembers the kill at each step for one frost.
type killer struct {
	table Table
	used  quantity.Celsius
	done  map[Step]float64
	flags *[]Flag
}

func (k *killer) at(step Step) (float64, error) {
	if v, ok := k.done[step]; ok {
		return v, nil
	}
	curve, flags, err := k.table.Curve(step)
	if err != nil {
		return 0, err
	}
	*k.flags = addFlags(*k.flags, flags)
	v := curve.Kill(k.used)
	k.done[step] = v
	return v, nil
}

// add puts a lead in, joining it with one of the same bud and step.
func (c *Cohort) add(ld Lead) {
	if ld.Share == 0 {
		return
	}
	for i := range c.Leads {
		if c.Leads[i].Bud == ld.Bud && math.Abs(float64(c.Leads[i].Step-ld.Step)) < 1e-9 {
			c.Leads[i].Share += ld.Share
			return
		}
	}
	c.Leads = append(c.Leads, ld)
}

// Carried returns the share of all nodes carried by each kind of bud (index
// Primary, Secondary, Tertiary, None); the four sum to one.
func (l Ledger) Carried() [4]float64 {
	var sum [numBuds]float64
	for _, co := range l.Cohorts {
		for _, ld := range co.Leads {
			sum[ld.Bud] += (co.To - co.From) * ld.Share
		}
	}
	return sum
}

// PrimaryLost returns the share of all nodes whose primary is dead.
func (l Ledger) PrimaryLost() float64 { return 1 - l.Carried()[Primary] }

// Validate reports the first thing wrong with a ledger read from elsewhere.
func (l Ledger) Validate() error {
	if len(l.Cohorts) == 0 || len(l.Cohorts) > 4*maxShares {
		return &InputError{"cohorts", fmt.Sprint(len(l.Cohorts)), "between 1 and 800 cohorts"}
	}
	const tol = 1e-6 // rounding of a text file with seven digits
	at := 0.0
	for i, co := range l.Cohorts {
		if math.Abs(co.From-at) > tol || !(co.To > co.From) {
			return &InputError{fmt.Sprintf("cohort %d", i+1), fmt.Sprintf("%g to %g", co.From, co.To), fmt.Sprintf("a run that begins at %g and ends later", at)}
		}
		if !(co.Step >= Dormant && co.Step <= lastStep) {
			return &InputError{fmt.Sprintf("cohort %d step", i+1), fmt.Sprintf("%g", float64(co.Step)), "0 (dormant) to 20 (bloom)"}
		}
		sum := 0.0
		for _, ld := range co.Leads {
			if ld.Bud < Primary || ld.Bud > None || !(ld.Share >= 0) || !(ld.Step >= Dormant && ld.Step <= lastStep) {
				return &InputError{fmt.Sprintf("cohort %d lead", i+1), fmt.Sprintf("%+v", ld), "a bud 0..3, a share of at least 0 and a step 0..20"}
			}
			sum += ld.Share
		}
		if math.Abs(sum-1) > tol {
			return &InputError{fmt.Sprintf("cohort %d leads", i+1), fmt.Sprintf("%g", sum), "shares that sum to 1"}
		}
		at = co.To
	}
	if math.Abs(at-1) > tol {
		return &InputError{"last cohort", fmt.Sprintf("%g", at), "the order of nodes to end at 1"}
	}
	return nil
}

// Observe takes in a new walk: the order in which nodes open is kept, what is
// dead stays dead, and the primaries' steps (those that died are counted where
// they would be) become the mixture's. The mixture is of all nodes, or, where
// only living shoots were counted, of shoots that stand for the dead beside them.
func (l Ledger) Observe(m Mixture) (Ledger, error) {
	fresh, err := NewLedger(m)
	if err != nil {
		return l, err
	}
	out := Ledger{At: m.At, Frosts: l.Frosts, SecondariesOut: l.SecondariesOut}
	i, j, at := 0, 0, 0.0
	for i < len(l.Cohorts) && j < len(fresh.Cohorts) {
		to := min(l.Cohorts[i].To, fresh.Cohorts[j].To)
		if to > at {
			co := Cohort{From: at, To: to, Step: fresh.Cohorts[j].Step}
			for _, ld := range l.Cohorts[i].Leads {
				if ld.Bud == Primary {
					ld.Step = co.Step
				}
				co.add(ld)
			}
			out.Cohorts = append(out.Cohorts, co)
			at = to
		}
		if l.Cohorts[i].To <= to {
			i++
		}
		if fresh.Cohorts[j].To <= to {
			j++
		}
	}
	return out, nil
}
