package cli

import (
	"fmt"
	"slices"
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
	v.para("", "", fmt.Sprintf("%s, as of %s", a.FarmName, dayClock(a.At, v.Zone)))
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

// headlines are what a page begins with, by the most urgent of its blocks; %s is
// a count of blocks.
var headlines = []struct {
	urgency nights.Urgency
	text    string
}{
	{nights.Act, "ACT ON %s"},
	{nights.Watch, "NOTHING TO START TONIGHT; WATCH %s"},
	{nights.Prepare, "QUIET TONIGHT; PREPARE %s BY DAY"},
	{nights.Quiet, "NOTHING TO DO FOR %s"},
	{nights.Unknown, "NO ANSWER FOR %s"},
}

// headline is the answer in words and one number.
func (v *view) headline() {
	total := len(v.Answer.Blocks)
	lead := -1
	var rest []string
	for i, h := range headlines {
		n := v.count(h.urgency)
		switch {
		case n == 0:
		case lead < 0:
			lead = i
		default:
			rest = append(rest, fmt.Sprintf("%s %d", strings.ToLower(severities[h.urgency].word), n))
		}
	}
	if lead < 0 {
		panic("cli: an answer without blocks")
	}
	h := headlines[lead]
	of := fmt.Sprintf("%d OF %s", v.count(h.urgency), strings.ToUpper(plural(total, "block", "blocks")))
	s := severities[h.urgency]
	line := s.shape + " " + fmt.Sprintf(h.text, of)
	if len(rest) > 0 {
		line += "  (" + strings.Join(rest, ", ") + ")"
	}
	v.line("%s", v.paint(s.style, line))
	if b := v.mostAtRisk(); b != nil {
		x := &b.Nights[0]
		text := fmt.Sprintf("Most at risk: %s, %s likely", b.Name, v.s.Temperature(x.Min.P50C))
		if !x.MinAt.IsZero() {
			text += " about " + clockText(five(x.MinAt), v.Zone)
		}
		v.para("  ", "  ", text+fmt.Sprintf(": %s, %s chance of damage.", margin(*x.MarginK, v.s), percent(x.Risk.Probability)))
	}
	v.purse()
	v.byTheClock()
}

// task is a thing to do at one moment in one or more blocks.
type task struct {
	at     time.Time
	label  string
	air    *quantity.Celsius
	byDay  bool // nobody mows in the dark
	blocks []string
}

// byTheClock lists what is advised in the order in which it begins.
func (v *view) byTheClock() {
	var tasks []*task
	for i := range v.Answer.Blocks {
		b := &v.Answer.Blocks[i]
		for k := range b.Choices {
			c := &b.Choices[k]
			if !c.Chosen {
				continue
			}
			t := &task{at: five(c.StartAt), label: strings.TrimSuffix(c.Label, " now"), air: c.StartAirC}
			if c.Kind == nights.MowFloor {
				t.at, t.byDay = v.Answer.At, true
			}
			same := slices.IndexFunc(tasks, func(x *task) bool { return x.at.Equal(t.at) && x.label == t.label })
			if same < 0 {
				tasks = append(tasks, t)
				same = len(tasks) - 1
			}
			tasks[same].blocks = append(tasks[same].blocks, b.BlockID)
		}
	}
	if len(tasks) == 0 {
		return
	}
	slices.SortStableFunc(tasks, func(a, b *task) int { return a.at.Compare(b.at) })
	v.blank()
	for _, t := range tasks {
		text := capital(t.label) + ": " + and(t.blocks)
		if t.air != nil {
			text += fmt.Sprintf(" (when the air upwind falls to %s)", v.s.Temperature(*t.air))
		}
		when := soon(t.at, v.Answer.At, v.Zone)
		if t.byDay {
			when = "by day"
		}
		v.para("  "+left(when, 11), strings.Repeat(" ", 13), text)
	}
}

// margin says how far a temperature is from harm.
func margin(k quantity.Kelvin, s quantity.System) string {
	if k < 0 {
		return s.Difference(-k) + " below what it stands"
	}
	return s.Difference(k) + " above what it stands"
}

// mostAtRisk is the block with the largest chance of damage tonight.
func (v *view) mostAtRisk() (worst *nights.BlockAnswer) {
	for i := range v.Answer.Blocks {
		b := &v.Answer.Blocks[i]
		n := firstNight(b)
		if n == nil || n.Min == nil || n.MarginK == nil || n.Risk == nil {
			continue
		}
		if worst == nil || n.Risk.Probability > worst.Nights[0].Risk.Probability {
			worst = b
		}
	}
	return worst
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
	blockWide = 20
	doIndent  = "           "
)

// blockList has a line for each block and, where something is to be done or
// known, what and by when below it.
func (v *view) blockList() {
	row := func(word, name, likely, span, dies, gap, chance string) {
		v.line("%s  %s%7s  %-14s%10s%8s%8s", word, left(cut(name, blockWide), blockWide), likely, span, dies, gap, chance)
	}
	row(left("", wordWide), "", "likely", "8 nights in 10", "10 % die", "margin", "damage")
	row(left("", wordWide), "", degrees(v.s), "", "at", "", "chance")
	for i := range v.Answer.Blocks {
		b := &v.Answer.Blocks[i]
		s := severities[b.Urgency]
		likely, span, dies, gap, chance := "-", "", "", "", ""
		if n := firstNight(b); n != nil && n.Min != nil {
			likely = bare(v.s.Temperature(n.Min.P50C))
			span = between(v.s.Temperature(n.Min.P10C), v.s.Temperature(n.Min.P90C))
			if n.CriticalC != nil && n.MarginK != nil {
				dies, gap = bare(v.s.Temperature(*n.CriticalC)), bare(v.s.SignedDifference(*n.MarginK))
			}
			if n.Risk != nil {
				chance = percent(n.Risk.Probability)
			}
		}
		row(v.paint(s.style, left(s.text(), wordWide)), b.BlockID+" "+b.Name, likely, span, dies, gap, chance)
		for _, do := range v.what(b) {
			v.para(doIndent, doIndent, do)
		}
	}
}

func firstNight(b *nights.BlockAnswer) *nights.BlockNight {
	if len(b.Nights) == 0 {
		return nil
	}
	return &b.Nights[0]
}

// what says what to do in a block and by when, or why nothing; nothing for a
// block that is quiet all the nights seen.
func (v *view) what(b *nights.BlockAnswer) []string {
	var out []string
	for i := range b.Choices {
		if c := &b.Choices[i]; c.Chosen {
			out = append(out, v.order(b, c))
		}
	}
	for i := range b.Choices { // what must not be started is said beside whatever is advised
		if c := &b.Choices[i]; c.Kind == nights.OverVine && !c.Open && len(out) > 0 {
			out = append(out, sentence(c.WhyNot))
		}
	}
	if len(out) > 0 {
		return out
	}
	if b.Unknown != "" {
		return []string{sentence(b.Unknown)}
	}
	n := firstNight(b)
	if n == nil || !n.Covered {
		return []string{b.Reason}
	}
	if n.Risk != nil && n.Risk.Probability >= possible {
		return []string{whyNothing(b)}
	}
	if worst := worstNight(b); worst != nil {
		return []string{fmt.Sprintf("Watch %s: %s chance of damage.", worst.Label, percent(worst.Risk.Probability))}
	}
	return nil
}

// whyNothing says why nothing is advised for a block that may be damaged.
func whyNothing(b *nights.BlockAnswer) string {
	open := 0
	var closed []string
	for i := range b.Choices {
		switch c := &b.Choices[i]; {
		case c.Kind == nights.Nothing:
		case c.Open:
			open++
		case c.WhyNot != "":
			closed = append(closed, c.WhyNot)
		}
	}
	switch {
	case len(closed) > 0:
		return sentence(closed[0])
	case open > 0:
		return "Nothing open to it is worth its cost."
	}
	return "Nothing is open to it: no water, fan or heaters."
}

// worstNight is the night ahead with the largest chance of damage, if that is
// possible at all.
func worstNight(b *nights.BlockAnswer) (worst *nights.BlockNight) {
	for i := range b.Nights {
		n := &b.Nights[i]
		if n.Risk != nil && n.Risk.Probability >= possible && (worst == nil || n.Risk.Probability > worst.Risk.Probability) {
			worst = n
		}
	}
	return worst
}

// order is one thing to do: what, from when to when, and what it is worth.
func (v *view) order(b *nights.BlockAnswer, c *nights.Choice) string {
	now := v.Answer.At
	text := capital(c.Label)
	if c.Kind == nights.MowFloor {
		text += " by daylight"
	} else if !c.StartAt.IsZero() && !strings.Contains(c.Label, "now") {
		text += " from " + soon(five(c.StartAt), now, v.Zone)
	}
	if c.StartAirC != nil {
		text += fmt.Sprintf(" (air at %s upwind)", v.s.Temperature(*c.StartAirC))
	}
	if !c.StopAt.IsZero() {
		text += " until " + soon(five(c.StopAt), now, v.Zone)
	}
	if c.Kind == nights.OverVine {
		text += ": holds the vines at freezing"
	} else {
		text += ": " + worth(c.Gain, v.s)
	}
	if c.Ahead && c.ForNight > 0 && c.ForNight < len(b.Nights) {
		text += " on " + b.Nights[c.ForNight].Label
	}
	return text + fmt.Sprintf("; saves %s, costs %s.", money(c.Avoided, v.Answer.Currency), money(c.Cost, ""))
}

// five rounds a moment to five minutes: nobody opens a valve to the minute.
func five(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.Round(5 * time.Minute)
}
