package farm

import (
	"fmt"
	"strconv"
	"strings"

	"budward/physics/quantity"
)

// SurfaceState is what lies on a strip, with its height or depth.
type SurfaceState struct {
	Surface Surface
	HeightM float64 // cover height or residue thickness
	DepthM  float64 // loosened depth
	// Assumed names a measure that was not written and was taken: "" = none.
	Assumed string
}

// Bounds of what a floor can be, and the measures taken for words that imply
// them: freshly mown is 5 cm (a floor under 2 in is held acceptable), disked is
// 10 cm deep (common practice).
const (
	mownM       = 0.05
	diskedM     = 0.10
	minDepthM   = 0.01
	maxDepthM   = 0.60
	minCoverM   = 0.005
	maxCoverM   = 3.0
	minResidueM = 0.002
	maxResidueM = 0.50
)

const surfaceWant = `"bare firm", "disked 4in", "mown", "mown 2in", "cover 12in" or "shredded 1in"`

// ParseSurface reads the state of a floor: "bare firm", "disked 4in", "mown",
// "cover 12in", "shredded 1in". Cover and shredded need their measure; disked
// and mown imply one, which is then named in Assumed. SurfaceState.String is
// read back exactly.
func ParseSurface(text string) (SurfaceState, error) {
	s := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	bad := func(want string) (SurfaceState, error) { return SurfaceState{}, &FieldError{"floor", text, want} }
	if s == "bare firm" || s == "bare" || s == "firm" || s == "bare, firm" {
		return SurfaceState{Surface: BareFirm}, nil
	}
	word, measure, _ := strings.Cut(s, " ")
	var lo, hi, implied float64
	st := SurfaceState{}
	target := &st.HeightM
	switch word {
	case "disked", "disced", "tilled", "cultivated", "loose":
		st.Surface, lo, hi, implied = Disked, minDepthM, maxDepthM, diskedM
		target = &st.DepthM
	case "mown", "mowed":
		st.Surface, lo, hi, implied = Cover, minCoverM, maxCoverM, mownM
	case "cover", "grass", "sward":
		st.Surface, lo, hi = Cover, minCoverM, maxCoverM
	case "shredded", "residue", "mulch", "mulched":
		st.Surface, lo, hi = Residue, minResidueM, maxResidueM
	default:
		return bad(surfaceWant)
	}
	if measure == "" {
		if implied == 0 {
			return bad(fmt.Sprintf("the height or thickness too, such as %q", word+" 2in"))
		}
		*target = implied
		st.Assumed = metres(implied)
		return st, nil
	}
	m, err := quantity.ParseLength(measure)
	if err != nil {
		return bad(err.Error())
	}
	if !(float64(m) >= lo && float64(m) <= hi) {
		return bad(fmt.Sprintf("%g to %g m", lo, hi))
	}
	*target = float64(m)
	return st, nil
}

// String writes the state so that ParseSurface reads the same back.
func (s SurfaceState) String() string {
	switch s.Surface {
	case BareFirm:
		return "bare firm"
	case Disked:
		return "disked " + metres(s.DepthM)
	case Cover:
		return "cover " + metres(s.HeightM)
	case Residue:
		return "shredded " + metres(s.HeightM)
	}
	return string(s.Surface)
}

// State returns a strip's surface with its measures.
func (s Strip) State() SurfaceState {
	return SurfaceState{Surface: s.Surface, HeightM: s.HeightM, DepthM: s.DepthM}
}

// WithState returns the strip with another surface.
func (s Strip) WithState(st SurfaceState) Strip {
	s.Surface, s.HeightM, s.DepthM = st.Surface, st.HeightM, st.DepthM
	return s
}

// check reports what is wrong with a surface that did not come from ParseSurface.
func (s SurfaceState) check() error {
	in := func(v, lo, hi float64) bool { return v >= lo && v <= hi }
	ok := false
	switch s.Surface {
	case BareFirm:
		ok = true
	case Disked:
		ok = in(s.DepthM, minDepthM, maxDepthM)
	case Cover:
		ok = in(s.HeightM, minCoverM, maxCoverM)
	case Residue:
		ok = in(s.HeightM, minResidueM, maxResidueM)
	}
	if !ok {
		return &FieldError{"floor", s.String(), surfaceWant}
	}
	return nil
}

func metres(v float64) string { return plain(v) + "m" }

// nothing is the size below which a number is written as 0: a length, cost or
// share of 1e-15 of anything is none, and its digits would not fit a cell.
const nothing = 1e-15

// plain writes a number in full, so that it is read back exactly.
func plain(v float64) string {
	if v > -nothing && v < nothing {
		return "0"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
