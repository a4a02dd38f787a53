package vine

import (
	"fmt"
	"math"
	"regexp"
	"sort"

	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// Basis says which temperature a table's numbers are.
type Basis string

const (
	// Tissue: numbers from freezing chambers; held against bud temperature.
	Tissue Basis = "tissue"
	// Air: field thresholds; held against air at cordon height.
	Air Basis = "air"
)

// Row is one stage of a table; nil = the source does not give it.
type Row struct {
	Step Step              `json:"step"`
	None *quantity.Celsius `json:"none_c,omitempty"` // no damage, or act, at and above
	T10  *quantity.Celsius `json:"t10_c,omitempty"`
	T50  *quantity.Celsius `json:"t50_c,omitempty"`
	T90  *quantity.Celsius `json:"t90_c,omitempty"`
	// Memory marks a row whose number was not seen in its source.
	Memory bool `json:"from_memory,omitempty"`
}

// Table is one published (or the user's own) list of critical temperatures.
// It is used whole: columns of two tables are never mixed, because published
// lists relabel each other's columns.
type Table struct {
	Name    string       `json:"name"`  // kebab-case, what the user types
	Title   string       `json:"title"` // what the user reads
	Species farm.Species `json:"species"`
	Source  string       `json:"source"`
	Basis   Basis        `json:"basis"`
	Rows    []Row        `json:"rows"` // by rising step
	// NoKill marks lists of thresholds that are not kill points.
	NoKill bool `json:"no_kill,omitempty"`
	// SlopeFrom, where above zero, is the share killed at the no-damage limit
	// of the stage's group, from which T10 and T90 are made where only T50 is
	// given (see Table.complete).
	SlopeFrom float64 `json:"slope_from,omitempty"`
	Notes     []Flag  `json:"notes,omitempty"` // belong to every answer
}

// Point is the three critical temperatures at one step.
type Point struct {
	Step          Step
	T10, T50, T90 quantity.Celsius
	Flags         []Flag
}

// tissueSafeC: tissue cannot freeze at or above 0 degC. airSafeC: on clear
// nights tissue runs at most 2 K colder than air (science.md, bud temperature
// 0.5-2 K), so air tables may kill up to there.
const (
	tissueSafeC quantity.Celsius = 0
	airSafeC    quantity.Celsius = 2
)

func (b Basis) safe() quantity.Celsius {
	if b == Air {
		return airSafeC
	}
	return tissueSafeC
}

// Use returns the temperature the table is meant for: tissue or air. A NaN is
// an *InputError: one is never put in the place of the other.
func (t Table) Use(airC, tissueC quantity.Celsius) (quantity.Celsius, error) {
	v := airC
	if t.Basis == Tissue {
		v = tissueC
	}
	if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
		return 0, &InputError{string(t.Basis) + " temperature", fmt.Sprintf("%g", float64(v)),
			fmt.Sprintf("a number in degC: table %q is meant for %s temperature", t.Name, t.Basis)}
	}
	return v, nil
}

// maxRows bounds a table: steps run from 0 to 20.
const maxRows = 40

var namePattern = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]{0,39}$`)

// Validate checks a table. It returns flags for what is allowed but doubtful
// (critical temperatures that fall as buds open) and an error for what is not.
func (t Table) Validate() ([]Flag, error) {
	if !namePattern.MatchString(t.Name) {
		return nil, &InputError{"table name", t.Name, "lower-case letters, digits, - and ., at most 40"}
	}
	if t.Basis != Tissue && t.Basis != Air {
		return nil, &InputError{"basis", string(t.Basis), `"tissue" or "air"`}
	}
	if t.Source == "" {
		return nil, &InputError{"source", "", "where the numbers come from"}
	}
	if len(t.Rows) == 0 || len(t.Rows) > maxRows {
		return nil, &InputError{"rows", fmt.Sprint(len(t.Rows)), "between 1 and 40 rows"}
	}
	for i, r := range t.Rows {
		if !(r.Step >= Dormant && r.Step <= lastStep) || (i > 0 && r.Step <= t.Rows[i-1].Step) {
			return nil, &InputError{fmt.Sprintf("step of row %d", i+1), fmt.Sprintf("%g", float64(r.Step)), "steps that rise from row to row, 0 to 20"}
		}
		if t.NoKill {
			if r.None == nil || r.T10 != nil || r.T50 != nil || r.T90 != nil {
				return nil, &InputError{"row " + r.Step.String(), "", "a no-damage limit and no kill points in a list of thresholds"}
			}
			continue
		}
		if _, err := t.complete(r); err != nil {
			return nil, err
		}
	}
	return t.notMonotone(), nil
}

// notMonotone flags columns that fall as buds open: opening buds get more
// tender, so such a column is doubtful, though published.
func (t Table) notMonotone() []Flag {
	var flags []Flag
	for i, col := range []func(Row) *quantity.Celsius{
		func(r Row) *quantity.Celsius { return r.None },
		func(r Row) *quantity.Celsius { return r.T10 },
		func(r Row) *quantity.Celsius { return r.T50 },
		func(r Row) *quantity.Celsius { return r.T90 },
	} {
		var prev *quantity.Celsius
		for _, r := range t.Rows {
			v := col(r)
			if v == nil {
				continue
			}
			if prev != nil && *v < *prev-1e-9 {
				flags = addFlag(flags, Flag{FlagNotMonotone, fmt.Sprintf("table %q: column %s gets hardier at %s than the stage before",
					t.Name, []string{"no damage", "T10", "T50", "T90"}[i], r.Step)})
			}
			prev = v
		}
	}
	return flags
}

// complete makes the three points of a row.
//
// T50 missing, T10 and T90 given: T50 = (T10 + T90)/2, the symmetric logistic.
//
// Only T50 given, and the table has SlopeFrom = p0: the logistic that kills
// share p0 at the warmest temperature L at which damage is thought possible
// (slopeLimit), s = ln(1/p0 - 1)/(L - T50), T10 = T50 + ln 9/s and
// T90 = T50 - ln 9/s. An assumption of our own, flagged.
func (t Table) complete(r Row) (Point, error) {
	p := Point{Step: r.Step}
	bad := func(why string) (Point, error) { return Point{}, &TableError{t.Name, r.Step, why} }
	switch {
	case r.T10 != nil && r.T50 != nil && r.T90 != nil:
		p.T10, p.T50, p.T90 = *r.T10, *r.T50, *r.T90
	case r.T10 != nil && r.T90 != nil:
		p.T10, p.T90 = *r.T10, *r.T90
		p.T50 = (p.T10 + p.T90) / 2
		p.Flags = addFlag(p.Flags, Flag{FlagMidpoint, fmt.Sprintf("table %q gives no T50 here: taken halfway between T10 and T90", t.Name)})
	case r.T50 != nil && r.T10 == nil && r.T90 == nil && t.SlopeFrom > 0 && t.SlopeFrom < 0.5:
		p.T50 = *r.T50
		limit := slopeLimit(r.Step)
		if limit <= p.T50 {
			return bad("T50 is at or above the no-damage limit: no slope can be made; give T10 and T90")
		}
		half := (limit - p.T50) * quantity.Celsius(ln9/math.Log(1/t.SlopeFrom-1))
		p.T10, p.T90 = p.T50+half, p.T50-half
		p.Flags = addFlag(p.Flags, Flag{FlagSlopeAssumed, fmt.Sprintf(
			"table %q gives only T50: T10 and T90 are a guess of our own, from %g %% killed at the warmest temperature at which damage is thought possible", t.Name, 100*t.SlopeFrom)})
	default:
		return bad("needs T10, T50 and T90, or T10 and T90")
	}
	if _, err := NewCurve(p.T10, p.T50, p.T90, t.Basis.safe()); err != nil {
		return bad(err.Error())
	}
	if r.Memory {
		p.Flags = addFlag(p.Flags, Flag{FlagUnsureSource, fmt.Sprintf("table %q: the row %s is from memory, not seen in its source", t.Name, r.Step)})
	}
	return p, nil
}

// At returns the critical temperatures at a step, by straight lines between
// the two rows around it (flagged). Before the first row, the first row is
// held (buds there are hardier: the kill is an upper bound); after the last,
// the last is held (shoots there may be more tender: a lower bound). Both are
// flagged. Lists of thresholds have no kill points: *TableError.
func (t Table) At(step Step) (Point, error) {
	if !(step >= Dormant && step <= lastStep) {
		return Point{}, &TableError{t.Name, step, "the line of development runs from 0 (dormant) to 20 (bloom)"}
	}
	if t.NoKill {
		return Point{}, &TableError{t.Name, step, "the list holds thresholds for acting, not kill points"}
	}
	if len(t.Rows) == 0 {
		return Point{}, &TableError{t.Name, step, "the table is empty"}
	}
	i := sort.Search(len(t.Rows), func(i int) bool { return t.Rows[i].Step >= step })
	var p Point
	var err error
	switch {
	case i < len(t.Rows) && t.Rows[i].Step == step:
		p, err = t.complete(t.Rows[i])
	case i == 0:
		p, err = t.complete(t.Rows[0])
		p.Flags = addFlag(p.Flags, Flag{FlagHeldFirst, fmt.Sprintf("table %q begins at %s; earlier buds are hardier, so the kill shown is an upper bound", t.Name, t.Rows[0].Step)})
	case i == len(t.Rows):
		p, err = t.complete(t.Rows[i-1])
		p.Flags = addFlag(p.Flags, Flag{FlagHeldLast, fmt.Sprintf("table %q ends at %s; its values are held, and may be too hardy", t.Name, t.Rows[i-1].Step)})
	default:
		p, err = t.between(t.Rows[i-1], t.Rows[i], step)
	}
	if err != nil {
		return Point{}, err
	}
	p.Step = step
	p.Flags = addFlags(p.Flags, t.Notes)
	return p, nil
}

func (t Table) between(ra, rb Row, step Step) (Point, error) {
	a, err := t.complete(ra)
	if err != nil {
		return Point{}, err
	}
	b, err := t.complete(rb)
	if err != nil {
		return Point{}, err
	}
	w := quantity.Celsius((step - ra.Step) / (rb.Step - ra.Step))
	mix := func(x, y quantity.Celsius) quantity.Celsius { return x + w*(y-x) }
	p := Point{T10: mix(a.T10, b.T10), T50: mix(a.T50, b.T50), T90: mix(a.T90, b.T90)}
	p.Flags = addFlags(addFlags(nil, a.Flags), b.Flags)
	p.Flags = addFlag(p.Flags, Flag{FlagInterpolated, fmt.Sprintf("table %q: between its rows for %s and %s", t.Name, ra.Step, rb.Step)})
	return p, nil
}

// Curve returns the kill curve at a step.
func (t Table) Curve(step Step) (Curve, []Flag, error) {
	p, err := t.At(step)
	if err != nil {
		return Curve{}, nil, err
	}
	c, err := NewCurve(p.T10, p.T50, p.T90, t.Basis.safe())
	if err != nil {
		return Curve{}, nil, &TableError{t.Name, step, err.Error()}
	}
	return c, p.Flags, nil
}

// Threshold returns the no-damage or acting threshold of the row at or last
// before step; ok is false where the table has none.
func (t Table) Threshold(step Step) (c quantity.Celsius, ok bool) {
	for _, r := range t.Rows {
		if r.Step <= step && r.None != nil {
			c, ok = *r.None, true
		}
	}
	return c, ok
}
