package sheet

import (
	"fmt"
	"slices"
	"strings"

	"budward/decide/nights"
)

// lookAt lists what must not be started, what is unknown, what is short, and
// where the answer is outside its competence; what several blocks share is
// written once.
func (v *view) lookAt() []string {
	var texts []string
	where := map[string][]string{}
	add := func(block, text string) {
		if text = sentence(text); text == "" {
			return
		}
		if _, seen := where[text]; !seen {
			texts = append(texts, text)
			where[text] = nil
		}
		if block != "" && !slices.Contains(where[text], block) {
			where[text] = append(where[text], block)
		}
	}
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		for k := range b.Choices {
			if c := &b.Choices[k]; c.Kind == nights.OverVine && !c.Open {
				add(b.BlockID, c.WhyNot)
			}
		}
	}
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		add(b.BlockID, b.Unknown)
		if len(b.Nights) > 0 && !b.Nights[0].Covered {
			add(b.BlockID, b.Nights[0].Why)
		}
	}
	for _, s := range v.a.Shared {
		add("", "Not enough: "+s.Text)
	}
	for i := range v.a.Blocks {
		if n := tonight(&v.a.Blocks[i]); n != nil {
			for _, o := range n.Outside {
				add(v.a.Blocks[i].BlockID, o.Text)
			}
		}
	}
	for i, t := range texts {
		switch at := where[t]; {
		case len(at) == len(v.a.Blocks) && len(at) > 1:
			texts[i] = "All blocks: " + t
		case len(at) > 12:
			texts[i] = fmt.Sprintf("%s and %d more: %s", strings.Join(at[:12], ", "), len(at)-12, t)
		case len(at) > 0:
			texts[i] = and(at) + ": " + t
		}
	}
	return texts
}

// cautions gathers the cautions of everything advised, by kind and
// once each; most > 0 keeps so many of each and says so.
func (v *view) cautions(most int) (out []caution) {
	said := map[string]bool{}
	blocks := map[nights.ChoiceKind][]string{}
	var kinds []nights.ChoiceKind
	text := map[nights.ChoiceKind][]string{}
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		for k := range b.Choices {
			c := &b.Choices[k]
			if !c.Chosen || c.Kind == nights.Nothing {
				continue
			}
			if !slices.Contains(kinds, c.Kind) {
				kinds = append(kinds, c.Kind)
			}
			if !slices.Contains(blocks[c.Kind], b.BlockID) {
				blocks[c.Kind] = append(blocks[c.Kind], b.BlockID)
			}
			rules := c.Cautions
			if c.Ahead { // stops within the night stand by the clock
				rules = append([]string{c.StopRule}, rules...)
			}
			for _, s := range rules {
				if s = sentence(s); s != "" && !said[s] {
					said[s] = true
					text[c.Kind] = append(text[c.Kind], s)
				}
			}
		}
	}
	for _, k := range kinds {
		lines := text[k]
		if most > 0 && len(lines) > most {
			lines = append(slices.Clone(lines[:most]), fmt.Sprintf("(%d more: see the page of the block.)", len(text[k])-most))
		}
		if len(lines) > 0 {
			out = append(out, caution{capital(kindWords[k]) + " (" + v.names(blocks[k], 0) + "):", strings.Join(lines, " ")})
		}
	}
	return out
}

// provenance says what the sheet rests on, when it was made and in what units.
func (v *view) provenance() []string {
	var out []string
	used := map[string]bool{}
	for i := range v.a.Blocks {
		used[v.a.Blocks[i].StationID] = true
	}
	for _, st := range v.a.Stations {
		if !used[st.StationID] {
			continue
		}
		s := "Station " + st.StationID + ": "
		if st.ForecastFrom == "" {
			s += "no forecast"
		} else {
			s += fmt.Sprintf("forecast issued %s (%.0f h before this sheet)", v.clock(st.IssuedAt), v.a.At.Sub(st.IssuedAt).Hours())
		}
		if st.ReadingsTo.IsZero() {
			s += ", no readings"
		} else {
			s += ", readings to " + v.clock(st.ReadingsTo)
		}
		if st.LearnedNights > 0 {
			s += fmt.Sprintf(", error learned from %s", plural(st.LearnedNights, "night", "nights"))
		} else {
			s += ", error taken from general experience"
		}
		out = append(out, s+".")
	}
	const most = 4
	if len(out) > most {
		out = append(out[:most], fmt.Sprintf("And %d more stations.", len(out)-most))
	}
	at := v.a.At.In(v.zone)
	return append(out, fmt.Sprintf("Made %s by budward. Air at cordon height in %s. Likely: half the possible nights are colder. Margin: likely minus where 10 %% of exposed shoots die.",
		at.Format("Mon 2 Jan 2006 15:04 MST"), v.degrees()))
}
