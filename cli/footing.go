package cli

import (
	"fmt"
	"time"

	"budward/decide/nights"
)

// goingOut prints the cautions of everything advised, once for each kind; what
// was said for one kind is not said again for the next.
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
	said := map[string]bool{}
	for _, g := range groups {
		v.para("  ", "  ", capital(string(g.kind))+" ("+and(g.blocks)+"):")
		for _, t := range g.texts {
			if !said[t] {
				v.para("  ! ", "    ", t)
			}
			said[t] = true
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
