package nights

import (
	"fmt"
	"math"

	"budward/decide/method"
	"budward/physics/floor"
	"budward/physics/quantity"
)

// Learned is what the block's own readings taught, from how many nights, and what
// it changed.
type Learned struct {
	Offset       Offset          `json:"offset"` // as used: the prior drawn towards what was measured
	PriorK       quantity.Kelvin `json:"prior_k"`
	PriorSpreadK quantity.Kelvin `json:"prior_spread_k"`
	Thermometers []string        `json:"thermometers"`    // stations that hang in the block
	Paired       int             `json:"paired_nights"`   // nights that both a thermometer and the station read whole
	Mild         int             `json:"mild_nights"`     // of these, too mild to teach anything about frost
	Gaps         int             `json:"gap_nights"`      // nights with hours missing
	MovedK       quantity.Kelvin `json:"moved_k"`         // by which learning moved every night's minimum
	BeforeK      quantity.Kelvin `json:"spread_before_k"` // spread of tonight's minimum had nothing been learned; 0 = no answer for tonight
	Mixing       MixingState     `json:"mixing"`
	Text         []string        `json:"text"` // in plain sentences
}

// MixingState says which mixing K0 floor gains rest on.
type MixingState struct {
	K0WM2K    float64 `json:"k0_w_m2k"`
	PriorOnly bool    `json:"prior_only"` // no trial of contrasting floors was given
	Source    string  `json:"source"`
}

// MixingK0 is calm mixing learned from a trial of contrasting floors (package
// trial). It holds for plots of the trial's size, on nights like its nights.
type MixingK0 struct {
	WM2K   float64
	Source string // one plain phrase: which trial, how many nights
}

// Bounds of a K0 that can be meant: a tenth and ten times the prior.
const (
	leastK0 = 0.5
	mostK0  = 50
)

func (m *MixingK0) check() error {
	if m != nil && !(m.WM2K >= leastK0 && m.WM2K <= mostK0) {
		return &InputError{"mixing K0", fmt.Sprint(m.WM2K), fmt.Sprintf("%g to %g W/m2K", leastK0, float64(mostK0))}
	}
	return nil
}

// mix gives a site the mixing that was learned, if any was.
func (in *Input) mix(s *method.Site) {
	if in.MixingK0 != nil {
		s.Floor.Mix.K0WM2K = in.MixingK0.WM2K
	}
}

func (in *Input) mixing() MixingState {
	if in.MixingK0 != nil {
		return MixingState{K0WM2K: in.MixingK0.WM2K, Source: in.MixingK0.Source}
	}
	return MixingState{K0WM2K: floor.DefaultMixing().K0WM2K, PriorOnly: true, Source: "floor gains are checked against handbooks only, as no open record of paired floors is known"}
}

// tell writes the sentences, once tonight's spread is known.
func (l *Learned) tell(u quantity.System, spreadK float64, answered bool) {
	o := &l.Offset
	prior := "no offset"
	if o.Stated {
		prior = "the stated " + u.SignedDifference(l.PriorK)
	}
	give := func(k quantity.Kelvin) string { return "give or take " + u.Difference(k) }
	switch {
	case o.Nights > 0:
		l.Text = append(l.Text, fmt.Sprintf("Offset %s, %s, learned from %s; before it was %s, %s.", u.SignedDifference(quantity.Kelvin(o.MeanK)), give(quantity.Kelvin(o.SpreadK)),
			nightsWord(o.Nights, "cold "), prior, give(l.PriorSpreadK)))
	case len(l.Thermometers) == 0:
		l.Text = append(l.Text, fmt.Sprintf("Offset: nothing learned, as no thermometer hangs in the block; %s, %s, is taken.", prior, give(l.PriorSpreadK)))
	default:
		l.Text = append(l.Text, fmt.Sprintf("Offset: nothing learned yet; %s, %s, is taken.", prior, give(l.PriorSpreadK)))
	}
	if len(l.Thermometers) > 0 {
		l.Text = append(l.Text, fmt.Sprintf("Of %s that the station and a thermometer in the block both read, %d were too mild to teach about frost; %d more have hours missing.",
			nightsWord(l.Paired, ""), l.Mild, l.Gaps))
	}
	if o.Nights > 0 && answered {
		// What is not known of the offset is one of several independent parts.
		l.BeforeK = quantity.Kelvin(math.Sqrt(math.Max(0, sq(spreadK)-sq(o.SpreadK)+sq(float64(l.PriorSpreadK)))))
		l.Text = append(l.Text, fmt.Sprintf("It moved tonight's likely minimum by %s, and its spread from %s to %s.", u.SignedDifference(l.MovedK), u.Difference(l.BeforeK), u.Difference(quantity.Kelvin(spreadK))))
	}
	if l.Mixing.PriorOnly {
		l.Text = append(l.Text, fmt.Sprintf("Mixing K0 %g W/m2K: prior only; %s.", l.Mixing.K0WM2K, l.Mixing.Source))
	} else {
		l.Text = append(l.Text, fmt.Sprintf("Mixing K0 %.1f W/m2K, from %s; the prior is %g.", l.Mixing.K0WM2K, l.Mixing.Source, floor.DefaultMixing().K0WM2K))
	}
}

func nightsWord(n int, kind string) string {
	if n == 1 {
		return "1 " + kind + "night"
	}
	return fmt.Sprintf("%d %snights", n, kind)
}
