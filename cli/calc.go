package cli

import (
	"errors"
	"strings"

	"budward/cli/calc"
	"budward/physics/quantity"
)

type calcCmd struct {
	Name   string   `arg:"" optional:"" help:"Formula."`
	Inputs []string `arg:"" optional:"" help:"Inputs, written key=value with units, such as t=2C rh=70% elev=100m."`
}

// Help is shown below the usage.
func (c *calcCmd) Help() string {
	return "Every quantity carries its unit: 31F, -0.5C, 10gpm/ac, 2.8mm/h, 30in, 12ac. `budward calc` lists the formulas, " +
		"`budward calc NAME` shows what one of them takes."
}

// Run works out one formula, or lists them.
func (c *calcCmd) Run(r *run) error {
	switch {
	case c.Name == "":
		return c.list(r)
	case len(c.Inputs) == 0:
		for _, f := range calc.Formulas() {
			if f.Name == strings.ToLower(c.Name) {
				return errors.Join(c.describe(r, f), usage("calc %s: no inputs were given", f.Name))
			}
		}
	}
	a, err := calc.Run(c.Name, c.Inputs)
	if err != nil {
		return err
	}
	if r.g.JSON {
		return r.json(calc.Schema, calcObject(a))
	}
	show := func(t func(quantity.System) string) string { return t(r.system) }
	if !r.stated { // both, where they differ
		show = func(t func(quantity.System) string) string {
			us, metric := t(quantity.US), t(quantity.Metric)
			if us == metric {
				return us
			}
			return metric + "  =  " + us
		}
	}
	return r.print(calcPage(r.page(), a, show))
}

func calcObject(a calc.Answer) object {
	items := func(list []calc.Item) object {
		o := object{}
		for _, i := range list {
			o = append(o, member{i.Key, i.Value})
		}
		return o
	}
	texts := func(list []string) []string { return append([]string{}, list...) }
	return object{{"name", a.Name}, {"inputs", items(a.Inputs)}, {"result", items(a.Result)}, {"range", a.Range},
		{"source", a.Source}, {"defaults", texts(a.Defaults)}, {"notes", texts(a.Notes)}}
}

const calcLead = "                          "

func calcPage(p *page, a calc.Answer, show func(func(quantity.System) string) string) *page {
	p.line("%s", p.paint(bold, a.Title))
	for _, i := range a.Result {
		if t := show(i.Text); t != "" {
			p.para("  "+left(i.Label, len(calcLead)-2), calcLead, t)
		}
	}
	var from []string
	for _, i := range a.Inputs {
		from = append(from, i.Label+" "+show(i.Text))
	}
	p.para(left("  from", len(calcLead)), calcLead, strings.Join(from, ", "))
	for _, d := range a.Defaults {
		p.para(left("  taken", len(calcLead)), calcLead, d)
	}
	p.para(left("  valid", len(calcLead)), calcLead, a.Range)
	p.para(left("  source", len(calcLead)), calcLead, a.Source)
	for _, n := range a.Notes {
		p.para(left("  note", len(calcLead)), calcLead, n)
	}
	return p
}

func (c *calcCmd) list(r *run) error {
	if r.g.JSON {
		var list []object
		for _, f := range calc.Formulas() {
			list = append(list, object{{"name", f.Name}, {"title", f.Title}, {"takes", f.Sets}, {"source", f.Source}})
		}
		return r.json("budward.formulas/1", object{{"formulas", list}})
	}
	p := r.page()
	p.line("Formulas; `budward calc NAME` shows what one takes.")
	for _, f := range calc.Formulas() {
		p.para("  "+left(f.Name, 15), strings.Repeat(" ", 17), f.Title)
	}
	return r.print(p)
}

func (c *calcCmd) describe(r *run, f calc.Formula) error {
	if r.g.JSON {
		return nil
	}
	p := r.page()
	p.line("%s: %s", p.paint(bold, f.Name), f.Title)
	p.para("  takes   ", "          ", f.Sets)
	for _, k := range f.Keys {
		p.para("    "+left(k.Name, 12), strings.Repeat(" ", 16), k.Means+", such as "+k.Name+"="+k.Example)
	}
	p.para("  valid   ", "          ", f.Range)
	p.para("  source  ", "          ", f.Source)
	return r.print(p)
}
