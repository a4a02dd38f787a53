package sheet

import (
	"slices"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
)

// taskVerb says what is done at a moment.
type taskVerb uint8

const (
	taskStart taskVerb = iota
	taskStop
)

// task is one thing to do at one moment in one or more blocks.
type task struct {
	verb     taskVerb
	kind     nights.ChoiceKind
	at       time.Time // rounded to five minutes; zero: as soon as can be
	until    time.Time // of a start that goes on beyond the night
	label    string    // plain words, as in the answer
	airC     *quantity.Celsius
	rule     string // when to stop
	ahead    bool   // by day, for nights to come
	night    string // the night it is for, where that is not tonight
	forNight int    // its place in the answer
	blocks   []string
	rules    []string // cautions
}

// tasks lists what is advised in order of time. Blocks that do the same at the
// same moment share one; a stop has the rule that decides it.
func (v *view) tasks() []task {
	var out []task
	add := func(t task, block string) {
		i := slices.IndexFunc(out, func(x task) bool { return x.same(&t, v) })
		if i < 0 {
			i, out = len(out), append(out, t)
		}
		out[i].blocks = append(out[i].blocks, block)
	}
	end := v.a.Nights[0].End
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		for k := range b.Choices {
			c := &b.Choices[k]
			if !c.Chosen || c.Kind == nights.Nothing {
				continue
			}
			t := task{kind: c.Kind, at: five(c.StartAt), label: strings.TrimSuffix(c.Label, " now"), airC: c.StartAirC, ahead: c.Ahead, rule: c.StopRule, rules: c.Cautions}
			if c.Ahead {
				if c.ForNight > 0 && c.ForNight < min(len(b.Nights), len(v.a.Nights)) {
					t.night, t.forNight = b.Nights[c.ForNight].Label, c.ForNight
				}
				t.until = five(c.StopAt)
			}
			add(t, b.BlockID)
			if !c.StopAt.IsZero() && c.StopAt.Before(end.Add(time.Hour)) {
				add(task{verb: taskStop, kind: c.Kind, at: five(c.StopAt), label: c.Label, rule: c.StopRule, ahead: c.Ahead, forNight: t.forNight}, b.BlockID)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b task) int { return a.at.Compare(b.at) })
	return out
}

func (t *task) same(o *task, v *view) bool {
	air := func(c *quantity.Celsius) string {
		if c == nil {
			return ""
		}
		return v.temperature(*c)
	}
	return t.verb == o.verb && t.kind == o.kind && t.at.Equal(o.at) && t.until.Equal(o.until) && t.label == o.label && t.night == o.night &&
		t.rule == o.rule && air(t.airC) == air(o.airC)
}

// kindWords are the methods in as few words as will do.
var kindWords = map[nights.ChoiceKind]string{nights.RunWater: "water", nights.WetFloor: "wet the floor", nights.MowFloor: "mow",
	nights.OverVine: "sprinklers", nights.RunFan: "fan", nights.RunHeater: "heaters"}

// text is a task in plain words, without its moment and place.
func (t *task) text(v *view) string {
	if t.verb == taskStop {
		rule := t.rule
		if rest, ok := strings.CutPrefix(rule, "Stop "); ok {
			rule = "stop " + rest
		}
		if rule == "" {
			rule = "stop"
		}
		return capital(kindWords[t.kind]) + ": " + rule
	}
	s := capital(t.label)
	switch {
	case t.kind == nights.OverVine || t.kind == nights.RunHeater:
		s = "Start the " + kindWords[t.kind]
	case t.kind == nights.WetFloor && !strings.HasPrefix(strings.ToLower(s), "start"):
		s = "Start: " + t.label
	}
	if t.airC != nil {
		s += ", at the latest when the air upwind falls to " + v.temperature(*t.airC)
	}
	if !t.until.IsZero() {
		s += ", until " + v.clock(t.until)
	}
	if t.night != "" {
		s += " (for " + t.night + ")"
	}
	return s + "."
}

// names are blocks with their names, or without where that would be long.
func (v *view) names(ids []string, most int) string {
	var full, short []string
	for _, id := range ids {
		name := id
		for i := range v.a.Blocks {
			if v.a.Blocks[i].BlockID == id && v.a.Blocks[i].Name != "" {
				name += " " + v.a.Blocks[i].Name
			}
		}
		full, short = append(full, name), append(short, id)
	}
	if s := strings.Join(full, ", "); len([]rune(s)) <= most {
		return s
	}
	return strings.Join(short, ", ")
}

// doing is what a block does tonight and by day, in a few words: "sprinklers
// 20:40-08:40".
func (v *view) doing(b *nights.BlockAnswer) string {
	var out []string
	for i := range b.Choices {
		c := &b.Choices[i]
		switch {
		case c.Chosen && c.Kind == nights.Nothing:
		case c.Chosen && c.Ahead:
			s := "by day: " + kindWords[c.Kind]
			if c.Kind == nights.WetFloor {
				s = "wet the floor " + v.short(five(c.StartAt))
				if !c.StopAt.IsZero() {
					s += "\u2013" + v.short(five(c.StopAt))
				}
			}
			out = append(out, s)
		case c.Chosen:
			s := kindWords[c.Kind] + " " + v.short(five(c.StartAt))
			if !c.StopAt.IsZero() {
				s += "\u2013" + v.short(five(c.StopAt))
			}
			out = append(out, s)
		case c.Kind == nights.OverVine && !c.Open && c.WhyNot != "":
			out = append(out, "NO sprinklers (below)")
		}
	}
	if len(out) == 0 && b.Unknown != "" {
		return "see below"
	}
	return strings.Join(out, "; ")
}

// doingShort is doing of a block with nothing for tonight, in fewer words still:
// "wet to Fri 17:50".
func (v *view) doingShort(b *nights.BlockAnswer) string {
	var out []string
	for i := range b.Choices {
		c := &b.Choices[i]
		switch {
		case c.Chosen && c.Ahead && c.Kind == nights.WetFloor && !c.StopAt.IsZero():
			out = append(out, "wet to "+v.short(five(c.StopAt)))
		case c.Chosen && c.Ahead:
			out = append(out, kindWords[c.Kind])
		case c.Chosen && c.Kind != nights.Nothing:
			out = append(out, kindWords[c.Kind]+" "+v.short(five(c.StartAt)))
		case c.Kind == nights.OverVine && !c.Open && c.WhyNot != "":
			out = append(out, "NO sprinklers")
		}
	}
	return strings.Join(out, ", ")
}

// short writes a moment without its day where that is the night's own.
func (v *view) short(t time.Time) string {
	n := &v.a.Nights[0]
	if t.After(n.Sunset.Add(-12*time.Hour)) && t.Before(n.End.Add(6*time.Hour)) {
		return t.In(v.zone).Format("15:04")
	}
	return v.clock(t)
}
