// Package vine says how far the buds and shoots of a block are, how cold is
// too cold for them, how many die at a given temperature, and what crop is
// left. A block is a mixture of stages, never one stage; critical temperatures
// come from named published tables that are each used whole; several frosts of
// one season are one sequence in which nothing dies twice.
//
// The package is pure: days, temperatures and the present come in as inputs.
// Whatever is assumed, interpolated or held is returned as a Flag.
package vine

import (
	"fmt"
	"strings"
)

// Flag is a remark that belongs to a result: something was assumed,
// interpolated, held at the end of a table, or is outside what the source says.
type Flag struct {
	Code string `json:"code"` // stable, kebab-case
	Text string `json:"text"` // plain words
}

// The codes of flags.
const (
	FlagInterpolated   = "interpolated"     // between two rows of a table
	FlagHeldFirst      = "held-first-row"   // stage before the table's first row
	FlagHeldLast       = "held-last-row"    // stage after the table's last row
	FlagMidpoint       = "t50-midpoint"     // T50 taken halfway between T10 and T90
	FlagSlopeAssumed   = "slope-assumed"    // T10 and T90 not in the source
	FlagSpeciesDefault = "species-default"  // table taken for want of one of the species' own
	FlagNotMonotone    = "not-monotone"     // table gets hardier as buds open
	FlagUnsureSource   = "unsure-source"    // the source itself is doubtful
	FlagAdvanced       = "advanced"         // stages moved on by degree-days, not seen
	FlagDormantHeat    = "dormant-heat"     // warmth before a dormant observation unknown
	FlagPastModel      = "past-model"       // beyond bloom the leaf model ends
	FlagFewDates       = "few-dates"        // fit from few bud-break dates
	FlagGuess          = "guess"            // a prior of our own without a source
	FlagCultivar       = "cultivar-unknown" // general values taken for want of the cultivar
	FlagOldObservation = "old-observation"  // the last walk was long ago
)

// addFlag appends f unless its code is there already, so a result carries each
// remark once.
func addFlag(fs []Flag, f Flag) []Flag {
	for _, have := range fs {
		if have.Code == f.Code && have.Text == f.Text {
			return fs
		}
	}
	return append(fs, f)
}

func addFlags(fs []Flag, more []Flag) []Flag {
	for _, f := range more {
		fs = addFlag(fs, f)
	}
	return fs
}

// InputError reports a value that cannot be used, and what was expected.
type InputError struct {
	Field string // which input
	Value string // as given
	Want  string // what was expected
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s %q: expected %s", e.Field, e.Value, e.Want)
}

// StageError reports a stage that is not on the scale it names.
type StageError struct {
	Input string
	Want  string
}

func (e *StageError) Error() string {
	return fmt.Sprintf("stage %q: expected %s", e.Input, e.Want)
}

// TableError reports that a critical-temperature table cannot answer.
type TableError struct {
	Table string
	Step  Step
	Why   string
}

func (e *TableError) Error() string {
	return fmt.Sprintf("critical table %q at %s: %s", e.Table, e.Step, e.Why)
}

// GapError reports a missing daily mean temperature in a run of days.
type GapError struct {
	Day string // ISO date
	Why string
}

func (e *GapError) Error() string {
	return fmt.Sprintf("daily mean temperature of %s: %s", e.Day, e.Why)
}

// Range is a value with the bounds of what is known about it.
type Range struct {
	Low     float64 `json:"low"`
	Central float64 `json:"central"`
	High    float64 `json:"high"`
}

func fold(s string) string {
	return strings.Join(strings.Fields(strings.ToLower(strings.NewReplacer(
		"-", " ", "_", " ", ".", " ", "(", " ", ")", " ", "é", "e", "è", "e", "ü", "u", "'", "", "’", "").Replace(s))), " ")
}
