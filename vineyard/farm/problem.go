package farm

import (
	"fmt"
	"sort"
	"strings"
)

// Severity says whether a farm can be used with a problem.
type Severity string

const (
	// SeverityError: the farm cannot be used until it is put right.
	SeverityError Severity = "error"
	// SeverityWarning: the farm can be used; Means says what it costs.
	SeverityWarning Severity = "warning"
)

// Problem is one thing wrong with a farm, or with the files it was read from.
type Problem struct {
	Severity Severity `json:"severity"`
	File     string   `json:"file,omitempty"`
	Line     int      `json:"line,omitempty"` // 1-based; 0 = the whole file, or not from a file
	Where    string   `json:"where"`          // "block B3", "farm", "station 2 (no id)"
	Field    string   `json:"field"`
	Value    string   `json:"value"`
	Want     string   `json:"want"`            // what was expected
	Means    string   `json:"means,omitempty"` // what it means for the answers
}

// String is one line: where, field, value, what was expected, what it means.
func (p Problem) String() string {
	var b strings.Builder
	if p.File != "" {
		b.WriteString(p.File)
		if p.Line > 0 {
			fmt.Fprintf(&b, " line %d", p.Line)
		}
		b.WriteString(", ")
	}
	if p.Where != "" {
		b.WriteString(p.Where + ", ")
	}
	fmt.Fprintf(&b, "%s %q: expected %s", p.Field, p.Value, p.Want)
	if p.Means != "" {
		b.WriteString("; " + p.Means)
	}
	return fmt.Sprintf("%s: %s", p.Severity, b.String())
}

// HasErrors says whether any of the problems is an error.
func HasErrors(ps []Problem) bool {
	for _, p := range ps {
		if p.Severity == SeverityError {
			return true
		}
	}
	return false
}

// SortProblems puts errors first, then by file, line and place, keeping the
// order in which they were found otherwise.
func SortProblems(ps []Problem) {
	sort.SliceStable(ps, func(i, j int) bool {
		a, b := ps[i], ps[j]
		switch {
		case a.Severity != b.Severity:
			return a.Severity == SeverityError
		case a.File != b.File:
			return a.File < b.File
		case a.Line != b.Line:
			return a.Line < b.Line
		}
		return false
	})
}

// Known are the facts Check cannot know by itself. A nil function leaves its
// check out.
type Known struct {
	// Zone reports an unknown IANA time zone.
	Zone func(name string) error
	// Table reports a critical table that does not exist or is of another
	// species.
	Table func(name string, species Species) error
}
