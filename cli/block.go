package cli

import (
	"fmt"
	"strings"

	"budward/decide/nights"
	"budward/physics/quantity"
)

// factLead is the width of the labels of a block's facts.
const factLead = 26

func (v *view) fact(label, format string, a ...any) {
	v.para("  "+left(label, factLead-2), strings.Repeat(" ", factLead), fmt.Sprintf(format, a...))
}

// block is everything about one block.
func (v *view) block(b nights.BlockAnswer) {
	s := severities[b.Urgency]
	v.line("%s  %s", v.paint(s.style, s.text()), v.paint(bold, cut(b.BlockID+" "+b.Name, Width-12)))
	v.para("", "", fmt.Sprintf("%s of %s, %s, as of %s", v.s.Area(quantity.Hectare(b.AreaHa)), b.Cultivar, v.label(), clockText(v.Answer.At, v.Zone)))
	v.blank()
	v.para("", "", b.Reason)
	if b.Settle != "" {
		v.para("To settle it: ", "  ", b.Settle)
	}
	if len(b.Nights) > 0 {
		v.tonightFacts(&b)
	}
	v.learned(&b)
	v.floorFacts(&b)
	v.choices(&b)
	for i := range b.Starts {
		v.starts(&b.Starts[i])
	}
	if len(b.FloorWork) > 0 {
		v.heading("May I work the floor this week?")
		for _, w := range b.FloorWork {
			word := "no"
			if w.OK {
				word = "yes"
			}
			v.fact(w.Work+": "+word, "%s", w.Text)
		}
	}
	if len(b.Notes) > 0 {
		v.heading("Assumed, guessed or missing")
		for _, n := range b.Notes {
			v.para("  - ", "    ", n.Text)
		}
	}
}

func (v *view) tonightFacts(b *nights.BlockAnswer) {
	n := &b.Nights[0]
	v.heading(n.Label)
	if n.Min == nil {
		v.fact("not covered", "%s", sentence(n.Why))
		return
	}
	at := ""
	if !n.MinAt.IsZero() {
		at = ", about " + clockText(n.MinAt, v.Zone)
	}
	v.fact("lowest at cordon height", "%s likely, 8 nights in 10 from %s%s", v.s.Temperature(n.Min.P50C),
		between(v.s.Temperature(n.Min.P10C), v.s.Temperature(n.Min.P90C)), at)
	if n.ColdSpotC != nil {
		v.fact("coldest tenth of it", "%s", v.s.Temperature(*n.ColdSpotC))
	}
	if n.CriticalC != nil {
		text := fmt.Sprintf("%s kills 10 %%", v.s.Temperature(*n.CriticalC))
		if n.Critical50C != nil {
			text += fmt.Sprintf(", %s kills half", v.s.Temperature(*n.Critical50C))
		}
		v.fact("what it stands", "%s (air at cordon height; buds %s colder than the air)", text, v.s.Difference(n.BudK))
		v.fact("from table", "%s, %s temperatures", b.Table.Name, b.Table.Basis)
	}
	if b.Stage.Text != "" {
		v.fact("stage", "%s", b.Stage.Text)
	}
	if n.MarginK != nil && n.Risk != nil {
		v.fact("margin", "%s; %s chance of damage, %.1f h below", v.s.SignedDifference(*n.MarginK), percent(n.Risk.Probability), n.HoursBelow)
		v.fact("at stake tonight", "%s of the crop (%s to %s), %.1f t, %s", percent(n.Risk.LossShare), percent(n.Risk.LossLow), percent(n.Risk.LossHigh),
			n.Risk.LossT, money(n.Risk.LossMoney, v.Answer.Currency))
	}
	v.fact("against its station", "height %s, floor %s, place %s; give or take %s", v.s.SignedDifference(n.HeightK), worth(n.FloorGain, v.s),
		v.s.SignedDifference(n.OffsetK), v.s.Difference(n.SpreadK))
	for _, o := range n.Outside {
		v.fact("mind", "%s", o.Text)
	}
}

// learned says what the block's own readings taught, from how many nights, and what
// it changed.
func (v *view) learned(b *nights.BlockAnswer) {
	if b.Learned == nil {
		return
	}
	v.heading("What was learned here")
	for _, t := range b.Learned.Text {
		v.para("  - ", "    ", t)
	}
	if b.Learned.Mixing.PriorOnly {
		v.para("    ", "    ", "`budward trial plan` says how to measure your own.")
	}
}

func (v *view) floorFacts(b *nights.BlockAnswer) {
	if len(b.Floor) == 0 {
		return
	}
	v.heading("Floor now")
	for _, f := range b.Floor {
		text := fmt.Sprintf("%s of the floor, %s; moisture %s of the %s it can hold (%s)", percent(f.Share), surface(f.Surface, v.s),
			percent(f.Moisture), percent(f.FieldCapacity), f.Source)
		if f.RefillMM > 0.5 {
			text += fmt.Sprintf("; takes %s to refill", v.s.Depth(quantity.Millimetre(f.RefillMM)))
		}
		v.fact(f.Name, "%s", text)
	}
}

func (v *view) choices(b *nights.BlockAnswer) {
	if len(b.Choices) == 0 {
		return
	}
	v.heading("What is open to it")
	for i := range b.Choices {
		c := &b.Choices[i]
		if c.Kind == nights.Nothing {
			v.fact("nothing more", "%s expected to be lost tonight", money(c.Risk.LossMoney, v.Answer.Currency))
			continue
		}
		label := string(c.Kind)
		if c.Chosen {
			label = "> " + label
		}
		if !c.Open {
			v.fact(label, "%s", sentence("no: "+c.WhyNot))
			continue
		}
		v.fact(label, "%s", sentence(v.order(b, c)))
		if c.WaterM3 > 0 {
			v.fact("", "Takes %s (%s over the block).", v.s.Volume(quantity.CubicMetre(c.WaterM3)), v.s.Depth(quantity.Millimetre(c.WaterMM)))
		}
		if len(c.Conditions) > 0 {
			v.fact("", "Holds if: %s.", strings.Join(c.Conditions, "; "))
		}
		if c.StopRule != "" {
			v.fact("", "%s", c.StopRule)
		}
		for _, t := range c.Cautions {
			v.fact("", "! %s", t)
		}
	}
}

// starts is what wetting is worth by when it begins.
func (v *view) starts(c *nights.StartCurve) {
	v.heading("When to start wetting for " + c.Label)
	v.para("  ", "  ", c.Text)
	if len(c.Points) == 0 {
		return
	}
	g := &grid{right: []bool{false, false, false, true, true, false, true}, max: []int{1, 18, 9, 6, 6, 21, 6}}
	g.row("", "start", "done", "before", "lead", "worth", "wetted")
	for _, x := range c.Points {
		best := ""
		if x.Best {
			best = ">"
		}
		g.row(best, x.Label, clockText(x.FinishAt, v.Zone), fmt.Sprintf("%.0f h", x.StartH), fmt.Sprintf("%.0f h", x.LeadH), worth(x.Gain, v.s), percent(x.WetShare))
	}
	v.grid(g, "  ")
	v.para("  ", "  ", "> is the best. Before: from the start to the coldest hour. Lead: from the end to it. Wetted: share of the floor. The forecast's own error is "+v.s.Difference(c.SpreadK)+".")
}
