package vine

import (
	"fmt"

	"budward/physics/quantity"
)

// Exposure is a mixture held ready against one table, for asking the kill at
// many temperatures (scenarios) quickly. It holds no state: each question is
// one frost on untouched buds. For a season use Ledger.
type Exposure struct {
	table Table
	parts []part
	Flags []Flag
}

type part struct {
	share float64
	step  Step
	curve Curve
}

// Expose looks up the curves of every stage of m in t.
func Expose(t Table, m Mixture) (Exposure, error) {
	if err := m.Validate(); err != nil {
		return Exposure{}, err
	}
	e := Exposure{table: t, Flags: append([]Flag(nil), m.Flags...)}
	for _, s := range m.Shares {
		curve, flags, err := t.Curve(s.Step)
		if err != nil {
			return Exposure{}, err
		}
		e.parts = append(e.parts, part{s.Share, s.Step, curve})
		e.Flags = addFlags(e.Flags, flags)
	}
	return e, nil
}

// Basis says which temperature Kill and Critical speak of.
func (e Exposure) Basis() Basis { return e.table.Basis }

// Kill returns the share of nodes whose primary one frost kills, picking air
// or tissue temperature as the table asks.
func (e Exposure) Kill(airC, tissueC quantity.Celsius) (float64, error) {
	t, err := e.table.Use(airC, tissueC)
	if err != nil {
		return 0, err
	}
	return e.kill(t), nil
}

func (e Exposure) kill(t quantity.Celsius) float64 {
	sum := 0.0
	for _, p := range e.parts {
		sum += p.share * p.curve.Kill(t)
	}
	return sum
}

// Critical returns the temperature, on the table's basis, at which share of the
// block's nodes (all stages together) lose their primary. Found by bisection to
// 1e-6 K. A share outside 0.001..0.999 is an *InputError.
func (e Exposure) Critical(share float64) (quantity.Celsius, error) {
	if !(share >= 0.001 && share <= 0.999) {
		return 0, &InputError{"killed share", fmt.Sprintf("%g", share), "a share from 0.001 to 0.999"}
	}
	// Kill falls with temperature: it is 0 at the safe end, and at the coldest
	// single stage's temperature for this share it is at least share.
	warm, cold := e.table.Basis.safe(), e.table.Basis.safe()
	for _, p := range e.parts {
		cold = min(cold, p.curve.Temperature(share))
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
