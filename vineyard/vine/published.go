package vine

import (
	"fmt"
	"strings"

	"budward/physics/quantity"
	"budward/vineyard/farm"
)

func c(v float64) *quantity.Celsius {
	q := quantity.Celsius(v)
	return &q
}

// f converts degrees Fahrenheit: (F - 32)/1.8.
func f(v float64) *quantity.Celsius { return c((v - 32) / 1.8) }

// The names of the published tables.
const (
	ConcordFAO         = "concord-fao"
	PinotNoirLT50      = "pinot-noir-lt50"
	MichiganCirculated = "michigan-circulated"
	Ontario2017        = "ontario-2017"
)

// Published returns the tables that come with the program, each whole. The
// slice is the caller's own.
func Published() []Table {
	return []Table{concord(), pinotNoir(), michigan(), ontario()}
}

// concord: T10 and T90 of Concord in Washington [READ, a transcription of the
// table]. Chamber tests of excised canes, killed buds read weeks later.
func concord() Table {
	return Table{
		Name: ConcordFAO, Title: "Concord, T10 and T90 (FAO)", Species: farm.Labrusca, Basis: Tissue,
		Source: "FAO Environment and Natural Resources Series 10 (Snyder & de Melo-Abreu 2005), table 4.8",
		Rows: []Row{
			{Step: FirstSwell, T10: c(-10.6), T90: c(-19.4)},
			{Step: FullSwell, T10: c(-6.1), T90: c(-12.2)},
			{Step: BudBurst, T10: c(-3.9), T90: c(-8.9)},
			{Step: FirstLeaf, T10: c(-2.8), T90: c(-6.1)},
			{Step: SecondLeaf, T10: c(-2.2), T90: c(-5.6)},
			{Step: ThirdLeaf, T10: c(-2.2), T90: c(-3.3)},
			{Step: FourthLeaf, T10: c(-2.2), T90: c(-2.8)},
		},
	}
}

// pinotNoir: LT50 by stage [READ as the "grape" list of NC State; that it is
// Pinot noir LT50 after Gardea 1987 and Sugar 2003 is from memory]; fourth
// leaf [MEMORY, Gardea 1987]. No third leaf in the source.
func pinotNoir() Table {
	return Table{
		Name: PinotNoirLT50, Title: "Pinot noir, LT50 (Oregon)", Species: farm.Vinifera, Basis: Tissue,
		Source: "Gardea (1987) and Sugar et al. (2003), as listed by NC State University",
		Rows: []Row{
			{Step: FirstSwell, T50: c(-13.9)},
			{Step: FullSwell, T50: c(-3.3)},
			{Step: BudBurst, T50: c(-2.2)},
			{Step: FirstLeaf, T50: c(-1.9)},
			{Step: SecondLeaf, T50: c(-1.7)},
			{Step: FourthLeaf, T50: c(-1.2), Memory: true},
		},
		SlopeFrom: 0.02,
		Notes: []Flag{{FlagUnsureSource,
			"the list is taken as 50 % kill; the copy seen does not say so clearly, and it may be 90 %"}},
	}
}

// michigan: none, 10, 50 and 90 % in degF [READ, a transcription]. Its 50 %
// entries are the T10 of concord for four stages, its 10 % entries those of
// pinotNoir: two data sets merged and relabelled. Kept whole, never a default.
func michigan() Table {
	return Table{
		Name: MichiganCirculated, Title: "Table circulated from Michigan", Species: "", Basis: Tissue,
		Source: "a table circulated from Michigan State University, seen in a transcription of 2012",
		Rows: []Row{
			{Step: FirstSwell, T10: f(13), T50: f(7), T90: f(-3)},
			{Step: FullSwell, T10: f(26), T50: f(21), T90: f(10)},
			{Step: BudBurst, None: f(30), T10: f(28), T50: f(25), T90: f(16)},
			{Step: FirstLeaf, None: f(30), T10: f(28.5), T50: f(27), T90: f(21)},
			{Step: SecondLeaf, None: f(30), T10: f(29), T50: f(28), T90: f(22)},
			{Step: ThirdLeaf, T10: f(28), T90: f(26)},
			{Step: FourthLeaf, T10: f(28), T90: f(27)},
		},
		Notes: []Flag{{FlagUnsureSource,
			"this table looks like two others merged and relabelled, names no cultivar, and does not say whether it means air or tissue (held against tissue, the colder)"}},
	}
}

// ontario: air temperatures at which to act, not kill points [READ]. Second
// leaf and later is -1 to 0 degC in the source; the warm end is taken.
func ontario() Table {
	return Table{
		Name: Ontario2017, Title: "Ontario guide, thresholds (2017)", Species: farm.Vinifera, Basis: Air, NoKill: true,
		Source: "CCOVI, Brock University, guide of April 2017",
		Rows: []Row{
			{Step: Dormant, None: c(-5)},
			{Step: FullSwell, None: c(-3)},
			{Step: BudBurst, None: c(-2.2)},
			{Step: FirstLeaf, None: c(-1.5)},
			{Step: SecondLeaf, None: c(0)},
		},
	}
}

// FanStart returns the range of air temperatures at which the Ontario guide of
// 2017 starts wind machines at a stage [READ].
func FanStart(step Step) (coldC, warmC quantity.Celsius) {
	switch {
	case step >= FirstLeaf:
		return 1, 2
	case step >= BudBurst:
		return 0, 1
	case step >= FullSwell:
		return -1, 0
	}
	return -3, -2
}

// Limit is a one-sided statement: at or above WarmC no damage is expected, and
// many would put the line as low as ColdC. Below them it says nothing: it is
// not a kill point.
type Limit struct {
	Group  string           `json:"group"`
	ColdC  quantity.Celsius `json:"cold_c"`
	WarmC  quantity.Celsius `json:"warm_c"`
	Basis  Basis            `json:"basis"`
	Source string           `json:"source"`
}

// NoDamage returns the trade's no-damage limit (common practice) for a step:
// dormant and hardened 20-22 degF, swollen and woolly 26-28, green tissue
// 31-32.
func NoDamage(step Step) Limit {
	l := Limit{Basis: Air, Source: "common practice"}
	switch {
	case step >= BudBurst:
		l.Group, l.ColdC, l.WarmC = "green tissue", *f(31), *f(32)
	case step >= FirstSwell:
		l.Group, l.ColdC, l.WarmC = "swollen and woolly", *f(26), *f(28)
	default:
		l.Group, l.ColdC, l.WarmC = "dormant and hardened", *f(20), *f(22)
	}
	return l
}

// slopeLimit is the warmest temperature at which damage to a stage is thought
// possible: 31 degF (-0.6 degC) for green tissue, the threshold used for
// California vineyards [READ, Jorgensen et al. 1996]; the warm end of NoDamage
// otherwise (common practice). These are air temperatures; using them for
// tissue makes the warm tail of the curve longer, which is the cautious side.
func slopeLimit(step Step) quantity.Celsius {
	l := NoDamage(step)
	if step.Green() {
		return l.ColdC
	}
	return l.WarmC
}

// DefaultTable returns the table taken for a species when none is named.
//
// Vinifera: Pinot noir LT50, the only list here that is of vinifera. Labrusca:
// Concord of the FAO. Juice-grape numbers are never applied to vinifera or the
// reverse: at bud burst they differ by 4 K. Hybrids, and species not stated,
// have no list of their own and take the vinifera one, the more tender,
// flagged.
func DefaultTable(s farm.Species) (Table, []Flag) {
	switch s {
	case farm.Labrusca:
		return concord(), nil
	case farm.Vinifera:
		return pinotNoir(), nil
	}
	name := string(s)
	if name == "" {
		name = "this vine (species not stated)"
	}
	return pinotNoir(), []Flag{{FlagSpeciesDefault,
		fmt.Sprintf("no table of its own for %s: the vinifera table is taken, which is the more tender", name)}}
}

// TableFor returns the table named, from the user's own and the published
// ones, or the species' default for an empty name. A table of another species
// than the vine's is refused.
func TableFor(name string, species farm.Species, own []Table) (Table, []Flag, error) {
	if name == "" {
		t, flags := DefaultTable(species)
		return t, flags, nil
	}
	all := append(append([]Table(nil), own...), Published()...)
	var names []string
	for _, t := range all {
		if t.Name != name {
			names = append(names, t.Name)
			continue
		}
		if t.Species != "" && species != "" && t.Species != species && (species != farm.Hybrid) {
			return Table{}, nil, &InputError{"critical table", name,
				fmt.Sprintf("a table of %s: %s numbers may not be used for it", species, t.Species)}
		}
		flags, err := t.Validate()
		if err != nil {
			return Table{}, nil, err
		}
		if species == farm.Hybrid && t.Species != farm.Hybrid && t.Species != "" {
			flags = addFlag(flags, Flag{FlagSpeciesDefault, fmt.Sprintf("table %q is of %s, the vine is a hybrid", name, t.Species)})
		}
		return t, flags, nil
	}
	return Table{}, nil, &InputError{"critical table", name, "one of " + strings.Join(names, ", ")}
}
