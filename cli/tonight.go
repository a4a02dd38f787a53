package cli

import (
	"fmt"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
)

type tonightCmd struct {
	Block string `help:"Everything about one block." placeholder:"B"`
	Notes bool   `help:"Also list what was taken, assumed or is missing."`
}

// Run prints tonight's answer.
func (c *tonightCmd) Run(r *run) error { return r.tonight(c.Block, c.Notes, 7) }

func (r *run) tonight(block string, notes bool, ahead int) error {
	got, err := r.answer(ahead)
	if err != nil {
		return err
	}
	v := view{Answered: got, s: r.system, page: r.page()}
	if block != "" {
		b, err := findBlock(got.Farm, block)
		if err != nil {
			return err
		}
		for _, x := range got.Answer.Blocks {
			if x.BlockID == b.ID {
				if r.g.JSON {
					return r.json("budward.tonight-block/1", object{{"at", got.Answer.At}, {"zone", got.Answer.Zone}, {"currency", got.Answer.Currency},
						{"nights", got.Answer.Nights}, {"block", x}})
				}
				v.block(x)
				return r.print(v.page)
			}
		}
		panic("cli: the answer leaves out block " + b.ID)
	}
	if r.g.JSON {
		err = r.json("budward.tonight/1", got.Answer)
	} else {
		v.summary(notes)
		err = r.print(v.page)
	}
	if err == nil && v.count(nights.Unknown) == len(got.Answer.Blocks) {
		return &NoAnswerError{"no block could be answered; the reasons are above"}
	}
	return err
}

func (r *run) answer(ahead int) (Answered, error) {
	o, err := r.open()
	if err != nil {
		return Answered{}, err
	}
	f, err := o.Farm(r.ctx)
	if err != nil {
		return Answered{}, err
	}
	r.useUnits(f)
	return o.Answer(r.ctx, ahead, r.system)
}

// view writes an answer for people.
type view struct {
	Answered
	s quantity.System
	*page
}

func (v *view) count(u nights.Urgency) (n int) {
	for i := range v.Answer.Blocks {
		if v.Answer.Blocks[i].Urgency == u {
			n++
		}
	}
	return n
}

func (v *view) label() string {
	if len(v.Answer.Nights) == 0 {
		return "no night ahead"
	}
	return v.Answer.Nights[0].Label
}

// summary is the whole farm on one page: the answer first, then block by block,
// the most worrying first.
func (v *view) summary(notes bool) {
	a := &v.Answer
	v.line("%s", v.paint(bold, "Tonight, "+v.label()))
	v.line("%s, as of %s", a.FarmName, dayClock(a.At, v.Zone))
	v.blank()
	v.headline()
	v.blank()
	v.blockList()
	for _, s := range a.Shared {
		v.blank()
		v.para("Not enough: ", "  ", s.Text)
	}
	v.goingOut()
	v.blank()
	v.provenance()
	v.assumed(notes)
	v.para("More: ", "      ", "`budward tonight --block "+v.firstID()+"` for one block, `budward nights` for the week, `budward whatif` to compare choices.")
}

func (v *view) firstID() string {
	if len(v.Answer.Blocks) > 0 {
		return v.Answer.Blocks[0].BlockID
	}
	return "B"
}

// headline is the answer in words and one number.
func (v *view) headline() {
	a := &v.Answer
	n, act := len(a.Blocks), v.count(nights.Act)
	var rest []string
	for _, u := range []nights.Urgency{nights.Watch, nights.Quiet, nights.Unknown} {
		if c := v.count(u); c > 0 {
			rest = append(rest, fmt.Sprintf("%s %d", strings.ToLower(severities[u].word), c))
		}
	}
	s := severities[nights.Act]
	text := fmt.Sprintf("ACT ON %d OF %s", act, strings.ToUpper(plural(n, "block", "blocks")))
	if act == 0 {
		s, text = severities[nights.Quiet], "NOTHING TO DO TONIGHT"
		if v.count(nights.Watch) > 0 {
			s, text = severities[nights.Watch], "WATCH; NOTHING TO DO YET"
		} else if v.count(nights.Unknown) == n {
			s, text = severities[nights.Unknown], "NO ANSWER FOR ANY BLOCK"
		}
	}
	line := s.shape + " " + text
	if len(rest) > 0 && act < n {
		line += "  (" + strings.Join(rest, ", ") + ")"
	}
	v.line("%s", v.paint(s.style, line))
	if b := v.coldest(); b != nil {
		x := &b.Nights[0]
		text := fmt.Sprintf("Most at risk: %s, %s likely", b.Name, v.s.Temperature(x.Min.P50C))
		if !x.MinAt.IsZero() {
			text += " about " + clockText(x.MinAt, v.Zone)
		}
		if x.MarginK != nil {
			text += fmt.Sprintf(": %s.", margin(*x.MarginK, v.s))
		} else {
			text += "."
		}
		v.para("  ", "  ", text)
	}
	v.purse()
}

// margin says how far a temperature is from harm.
func margin(k quantity.Kelvin, s quantity.System) string {
	if k < 0 {
		return s.Difference(-k) + " below what it stands"
	}
	return s.Difference(k) + " above what it stands"
}

// coldest is the first block whose coming night is known.
func (v *view) coldest() *nights.BlockAnswer {
	for i := range v.Answer.Blocks {
		if b := &v.Answer.Blocks[i]; len(b.Nights) > 0 && b.Nights[0].Min != nil && b.Nights[0].MarginK != nil {
			return b
		}
	}
	return nil
}

// purse says what is at stake and what the advice saves and costs.
func (v *view) purse() {
	stake, saved, cost := 0.0, 0.0, 0.0
	known := false
	for i := range v.Answer.Blocks {
		b := &v.Answer.Blocks[i]
		if len(b.Nights) > 0 && b.Nights[0].Risk != nil {
			stake, known = stake+b.Nights[0].Risk.LossMoney, true
		}
		for _, c := range b.Choices {
			if c.Chosen {
				saved, cost = saved+c.Avoided, cost+c.Cost
			}
		}
	}
	if !known {
		return
	}
	text := fmt.Sprintf("Left alone, tonight is expected to cost %s.", money(stake, v.Answer.Currency))
	if saved > 0 {
		text += fmt.Sprintf(" What is advised saves about %s of crop over the nights ahead, for %s of water, energy and work.",
			money(saved, v.Answer.Currency), money(cost, v.Answer.Currency))
	}
	v.para("  ", "  ", text)
}

const (
	wordWide  = 9
	blockWide = 26
	doIndent  = "            "
)

// blockList has a line for each block and, where something is to be done or
// known, what and by when below it.
func (v *view) blockList() {
	v.line("%s%s%8s  %-14s%9s%8s%8s", strings.Repeat(" ", wordWide+2), left("", blockWide-2), degrees(v.s), "8 nights in 10", "10 % die", "margin", "damage")
	for i := range v.Answer.Blocks {
		b := &v.Answer.Blocks[i]
		s := severities[b.Urgency]
		lowest, span, dies, gap, chance := "-", "", "", "", ""
		if len(b.Nights) > 0 && b.Nights[0].Min != nil {
			n := &b.Nights[0]
			lowest = bare(v.s.Temperature(n.Min.P50C))
			span = between(v.s.Temperature(n.Min.P10C), v.s.Temperature(n.Min.P90C))
			if n.CriticalC != nil && n.MarginK != nil {
				dies, gap = bare(v.s.Temperature(*n.CriticalC)), bare(v.s.SignedDifference(*n.MarginK))
			}
			if n.Risk != nil {
				chance = percent(n.Risk.Probability)
			}
		}
		v.line("%s  %s%8s  %-14s%9s%8s%8s", v.paint(s.style, left(s.text(), wordWide)), left(cut(b.BlockID+" "+b.Name, blockWide-3), blockWide-2),
			lowest, span, dies, gap, chance)
		for _, do := range v.what(b) {
			v.para(doIndent, doIndent+"  ", do)
		}
	}
}

// what says what to do in a block and by when; nothing for a quiet one.
func (v *view) what(b *nights.BlockAnswer) []string {
	var out []string
	for i := range b.Choices {
		if c := &b.Choices[i]; c.Chosen {
			out = append(out, v.order(b, c))
		}
	}
	switch {
	case b.Urgency == nights.Unknown && b.Unknown != "":
		return []string{sentence(b.Unknown)}
	case len(out) == 0 && b.Urgency != nights.Quiet:
		return []string{strings.TrimPrefix(b.Reason, "Watch: ")}
	}
	return out
}

// order is one thing to do: what, from when to when, and what it is worth.
func (v *view) order(b *nights.BlockAnswer, c *nights.Choice) string {
	now := v.Answer.At
	text := capital(c.Label)
	if !c.StartAt.IsZero() && !strings.Contains(c.Label, "now") {
		text += " from " + soon(c.StartAt, now, v.Zone)
	}
	if c.StartAirC != nil {
		text += fmt.Sprintf(" (air at %s upwind)", v.s.Temperature(*c.StartAirC))
	}
	if !c.StopAt.IsZero() {
		text += " until " + soon(c.StopAt, now, v.Zone)
	}
	if c.Kind == nights.OverVine {
		text += ": holds the vines at freezing"
	} else {
		text += ": " + worth(c.Gain, v.s)
	}
	if c.Ahead && c.ForNight > 0 && c.ForNight < len(b.Nights) {
		text += " on " + b.Nights[c.ForNight].Label
	}
	return text + fmt.Sprintf("; saves %s for %s.", money(c.Avoided, v.Answer.Currency), money(c.Cost, ""))
}

// goingOut prints the cautions of everything advised, once for each kind.
func (v *view) goingOut() {
	type group struct {
		kind   nights.ChoiceKind
		blocks []string
		texts  []string
	}
	var groups []*group
	for i := range v.Answer.Blocks {
		b := &v.Answer.Blocks[i]
		for _, c := range b.Choices {
			if !c.Chosen || len(c.Cautions)+len(c.StopRule) == 0 {
				continue
			}
			var g *group
			for _, x := range groups {
				if x.kind == c.Kind {
					g = x
				}
			}
			if g == nil {
				g = &group{kind: c.Kind, texts: c.Cautions}
				if c.StopRule != "" {
					g.texts = append([]string{c.StopRule}, c.Cautions...)
				}
				groups = append(groups, g)
			}
			g.blocks = append(g.blocks, b.BlockID)
		}
	}
	if len(groups) == 0 {
		return
	}
	v.heading("Before anyone goes out")
	for _, g := range groups {
		v.para("  ", "  ", capital(string(g.kind))+" ("+and(g.blocks)+"):")
		for _, t := range g.texts {
			v.para("  ! ", "    ", t)
		}
	}
}

// provenance says what the answer rests on.
func (v *view) provenance() {
	for _, st := range v.Answer.Stations {
		text := "no forecast"
		if st.ForecastFrom != "" {
			text = fmt.Sprintf("forecast issued %s (%.0f h ago)", dayClock(st.IssuedAt, v.Zone), v.Answer.At.Sub(st.IssuedAt).Hours())
		}
		if st.ReadingsTo.IsZero() {
			text += ", no readings"
		} else {
			text += ", readings to " + soon(st.ReadingsTo, v.Answer.At.Add(-time.Hour), v.Zone)
		}
		if st.LearnedNights > 0 {
			text += fmt.Sprintf(", error learned from %s", plural(st.LearnedNights, "night", "nights"))
		} else {
			text += ", error taken from general experience"
		}
		v.para("From "+st.StationID+": ", "  ", text+".")
	}
}

// assumed counts what was taken, assumed or is missing, and lists it on request.
func (v *view) assumed(list bool) {
	notes := v.notes()
	if !list {
		if n := len(notes) + len(v.Farm.Defaults); n > 0 {
			v.para("", "  ", fmt.Sprintf("Rests on %s and %s: budward tonight --notes.", plural(len(v.Farm.Defaults), "value taken for want of better", "values taken for want of better"),
				plural(len(notes), "assumption", "assumptions")))
		}
		return
	}
	v.heading("Assumed, guessed or missing")
	for _, n := range notes {
		v.para("  - ", "    ", n)
	}
	v.heading("Taken for want of better")
	listDefaults(v.page, v.Farm.Defaults)
	v.blank()
}

// notes gathers the notes of farm, stations and blocks; what several blocks
// share is written once.
func (v *view) notes() []string {
	var texts []string
	where := map[string][]string{}
	add := func(at, text string) {
		if _, seen := where[text]; !seen {
			texts = append(texts, text)
		}
		if at != "" {
			where[text] = append(where[text], at)
		} else {
			where[text] = append([]string{}, where[text]...)
		}
	}
	for _, n := range v.Answer.Notes {
		add("", n.Text)
	}
	for _, st := range v.Answer.Stations {
		for _, n := range st.Notes {
			add(st.StationID, n.Text)
		}
	}
	for _, b := range v.Answer.Blocks {
		for _, n := range b.Notes {
			add(b.BlockID, n.Text)
		}
	}
	for i, t := range texts {
		switch w := where[t]; {
		case len(w) == len(v.Answer.Blocks) && len(w) > 1:
			texts[i] = "All blocks: " + t
		case len(w) > 0:
			texts[i] = and(w) + ": " + t
		}
	}
	return texts
}
