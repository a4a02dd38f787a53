package calc

import (
	"fmt"

	"budward/decide/odds"
	"budward/physics/quantity"
	"budward/vineyard/budcount"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

func vineFormulas() []Formula {
	return []Formula{
		{
			Name: "kill", Title: "share of buds or shoots of one stage killed at a temperature",
			Range:  "the stages of the table; held at its ends, with a note",
			Source: "the table named, whole; logistic halves through its 10, 50 and 90 % points",
			Keys: []Key{{"table", "one of " + tableNames(), vine.PinotNoirLT50}, {"stage", "scale and code, or words", "EL 7"},
				{"t", "temperature, of tissue or air as the table says", "-2.5C"}},
			Sets: "table, stage and t", run: kill,
		}, {
			Name: "crop", Title: "crop left after buds have died",
			Range:  "every living secondary grows; per node, before any pruning or thinning",
			Source: "(1 - k1) + k1 (1 - k2) r2 + k1 k2 (1 - k3) r3; yields of secondaries by cultivar",
			Keys: []Key{{"primary", "share of primaries dead", "60%"}, {"secondary", "share of the secondaries behind them dead", "0%"},
				{"tertiary", "share of the tertiaries behind both dead", "0%"}, {"cultivar", "cultivar", "Chardonnay"},
				{"r2", "yield of a secondary as a share of a primary's", "32%"}, {"r3", "yield of a tertiary", "5%"}},
			Sets: "primary, secondary and tertiary, with cultivar or r2 and r3", run: crop,
		}, {
			Name: "risk", Title: "chance that it happens at least once in a run of years",
			Range: "years alike and independent of one another", Source: "1 - (1 - p)^n",
			Keys: []Key{{"p", "chance in any one year", "20%"}, {"years", "number of years", "10"}}, Sets: "p and years", run: risk,
		}, {
			Name: "sample", Title: "buds to cut for a wanted precision",
			Range:  "normal approximation; vines as clusters of equal size",
			Source: "cluster sampling, Cochran (1977); design effect, Kish (1965) (both from memory)",
			Keys: []Key{{"precision", "half width of the interval wanted", "10%"}, {"confidence", "of the interval", "95%"},
				{"expected", "share of dead buds expected", "50%"}, {"vines", "vines in the part of the block sampled", "4000"},
				{"icc", "how alike the buds of one vine are, 0 to 1", "0.1"}, {"pervine", "buds cut on each vine", "10"}},
			Sets: "precision, confidence, expected, vines and icc; pervine if wanted", run: sample,
		},
	}
}

func tableNames() string {
	s := ""
	for i, t := range vine.Published() {
		if i > 0 {
			s += ", "
		}
		s += t.Name
	}
	return s
}

func kill(in *inputs, a *Answer) {
	name, stage, t := in.name("table"), in.name("stage"), in.celsius("t")
	if in.err != nil {
		return
	}
	var table *vine.Table
	for _, x := range vine.Published() {
		if x.Name == name {
			table = &x
			break
		}
	}
	if table == nil {
		in.refuse("table", "one of "+tableNames())
		return
	}
	st, err := vine.ParseStage(stage)
	if err != nil {
		in.fail(&InputError{in.f.Name, "stage", stage, err.Error(), err})
		return
	}
	step, err := st.Step()
	if err != nil {
		in.fail(&InputError{in.f.Name, "stage", stage, err.Error(), err})
		return
	}
	c, flags, err := table.Curve(step)
	if err != nil {
		in.fail(err)
		return
	}
	a.Result = []Item{share("killed_fraction", "killed", c.Kill(t))}
	a.Source = table.Source
	a.Notes = append(a.Notes, fmt.Sprintf("%s; %s temperature; stage %s: %s", table.Title, table.Basis, st.Both(), st.Words()))
	for _, f := range append(append([]vine.Flag(nil), table.Notes...), flags...) {
		a.Notes = append(a.Notes, f.Text)
	}
}

func crop(in *inputs, a *Answer) {
	k1, k2, k3 := in.share("primary"), in.share("secondary"), in.share("tertiary")
	var r2, r3 float64
	if in.has("cultivar") {
		name := in.name("cultivar")
		cv, known := farm.LookupCultivar(name)
		if !known {
			in.refuse("cultivar", "a cultivar of the register, or r2 and r3 instead")
		}
		r2, r3 = cv.Secondary.Central, cv.Tertiary.Central
		a.Notes = append(a.Notes, fmt.Sprintf("%s: r2 %s (%s to %s), r3 %s (%s to %s): %s", cv.Name,
			percent(r2), percent(cv.Secondary.Low), percent(cv.Secondary.High),
			percent(r3), percent(cv.Tertiary.Low), percent(cv.Tertiary.High), cv.SecondarySource))
	} else {
		r2, r3 = in.share("r2"), in.share("r3")
	}
	if in.err != nil {
		return
	}
	left, err := vine.CropFraction(k1, k2, k3, r2, r3)
	in.fail(err)
	a.Result = []Item{share("crop_fraction", "crop left", left)}
}

func risk(in *inputs, a *Answer) {
	p, years := in.share("p"), in.bare("years")
	if in.err != nil {
		return
	}
	r, err := odds.Risk(quantity.Share(p), years)
	in.fail(err)
	a.Result = []Item{share("risk_fraction", "risk", float64(r))}
}

func sample(in *inputs, a *Answer) {
	in.or("pervine", "10", "the buds of one cane, as is usual")
	p := budcount.Plan{Precision: in.percent("precision"), Confidence: in.percent("confidence"), Expected: in.percent("expected"),
		Vines: in.whole("vines"), PerVine: in.whole("pervine"), ICC: in.bare("icc")}
	if in.err != nil {
		return
	}
	s, err := p.Size()
	in.fail(err)
	a.Result = []Item{{"vines", "vines to visit", s.Vines, plain(fmt.Sprint(s.Vines))}, {"buds", "buds to cut", s.Buds, plain(fmt.Sprint(s.Buds))}}
	if s.AllVines {
		a.Notes = append(a.Notes, fmt.Sprintf("even every vine does not reach the precision: it is +-%s with all of them", percent(float64(s.HalfWidth))))
	}
}
