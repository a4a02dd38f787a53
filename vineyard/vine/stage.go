package vine

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Scale is a published way of numbering growth stages.
type Scale string

const (
	// ModifiedEL is the modified Eichhorn-Lorenz scale (Coombe 1995); bud burst is 4.
	ModifiedEL Scale = "el"
	// OriginalEL is the Eichhorn-Lorenz scale of 1977; bud burst is 5.
	OriginalEL Scale = "el1977"
	// BBCH is the two-digit decimal scale (Lorenz et al. 1995); bud burst is 07-09.
	BBCH Scale = "bbch"
)

// Stage is a code on a scale: a bare number is never a stage.
type Stage struct {
	Scale Scale `json:"scale"`
	Code  int   `json:"code"`
}

// Step is the development of one bud or shoot on one line that all critical
// tables share: 0 dormant, 1 first swell, 2 full swell (woolly), 3 bud burst,
// then 3 + the number of separated leaves. Steps between whole numbers are
// meaningful: a degree-day model moves through them.
type Step float64

// The named steps.
const (
	Dormant     Step = 0  // winter bud
	FirstSwell  Step = 1  // scales opening
	FullSwell   Step = 2  // woolly, not green
	BudBurst    Step = 3  // leaf tips visible
	FirstLeaf   Step = 4  // first leaf separated
	SecondLeaf  Step = 5  //
	ThirdLeaf   Step = 6  //
	FourthLeaf  Step = 7  //
	ClustersOut Step = 8  // five leaves, inflorescence clear
	Bloom       Step = 20 // about seventeen leaves, half the caps off
	lastStep         = Bloom
)

var stepNames = []string{"dormant", "first swell", "full swell (woolly)", "bud burst",
	"first leaf", "second leaf", "third leaf", "fourth leaf", "clusters out"}

// String names the step in plain words; between two named steps both are given.
func (s Step) String() string {
	if !(s >= 0 && s <= lastStep) {
		return fmt.Sprintf("step %g (off the line)", float64(s))
	}
	lo := int(s)
	name := func(i int) string {
		switch {
		case i < len(stepNames):
			return stepNames[i]
		case Step(i) >= Bloom:
			return "bloom"
		}
		return fmt.Sprintf("%d leaves", i-3)
	}
	if Step(lo) == s {
		return name(lo)
	}
	return name(lo) + " to " + name(lo+1)
}

// Green says whether green tissue is exposed (bud burst or later).
func (s Step) Green() bool { return s >= BudBurst }

// stageRow ties one modified E-L stage to its step and to BBCH. bbchLo..bbchHi
// is the range shown; note tells where source and wording differ.
type stageRow struct {
	el             int
	words          string
	step           Step
	bbchLo, bbchHi int
	note           string
}

// Modified E-L: stages 4, 9, 11, 12, 15 and the pairs E-L 15 = BBCH 53 and
// E-L 19 = BBCH 55 as in Coombe (1995) [READ S37, S37b]; the other words and
// 20-27 [MEMORY]. BBCH codes by the wording of Lorenz et al. (1995) [READ S39],
// 03, 60, 63, 68, 71 [MEMORY].
var elRows = []stageRow{
	{1, "winter bud", Dormant, 0, 0, ""},
	{2, "bud scales opening", FirstSwell, 1, 1, ""},
	{3, "woolly bud", FullSwell, 3, 5, ""},
	{4, "bud burst, leaf tips visible", BudBurst, 7, 9, ""},
	{5, "rosette of leaf tips", 3.5, 9, 9, ""},
	{7, "first leaf separated", FirstLeaf, 11, 11, ""},
	{9, "two to three leaves", 5.5, 12, 13, ""},
	{11, "four leaves", FourthLeaf, 14, 14, ""},
	{12, "five leaves, inflorescence clear", ClustersOut, 15, 53, "leaf code 15; inflorescence code 53"},
	{13, "six leaves", 9, 16, 53, "leaf code 16; inflorescence code 53"},
	{14, "seven leaves", 10, 17, 53, "leaf code 17; inflorescence code 53"},
	{15, "eight leaves, flowers in compact groups", 11, 53, 53, ""},
	{16, "ten leaves", 13, 53, 55, ""},
	{17, "twelve leaves, flowers separated", 15, 55, 57, ""},
	{18, "fourteen leaves", 17, 55, 57, ""},
	{19, "about sixteen leaves, first caps off", 19, 55, 60, "the published pair is 55; by the wording it is 60"},
	{20, "a tenth of the caps off", 19.3, 61, 61, ""},
	{21, "three tenths of the caps off", 19.6, 63, 63, ""},
	{23, "half the caps off", Bloom, 65, 65, ""},
	{25, "four fifths of the caps off", Bloom, 68, 68, ""},
	{26, "cap fall complete", Bloom, 69, 69, ""},
	{27, "fruit set", Bloom, 71, 71, ""},
}

// el1977 gives the modified E-L code for each original code. 05, 07, 09 and 12
// [READ S38]; the rest [MEMORY]. Code 12 of 1977 is five to six leaves.
var el1977 = map[int]int{1: 1, 2: 2, 3: 3, 5: 4, 7: 7, 9: 9, 12: 12, 15: 15, 17: 17, 19: 19, 21: 20, 23: 23, 25: 25, 27: 27}

// bbchSteps: code to step and to the modified E-L code shown beside it.
var bbchSteps = map[int]struct {
	step Step
	el   int
}{
	0: {Dormant, 1}, 1: {FirstSwell, 2}, 3: {FullSwell, 3}, 5: {FullSwell, 3},
	7: {BudBurst, 4}, 9: {BudBurst, 4},
	11: {FirstLeaf, 7}, 12: {SecondLeaf, 9}, 13: {ThirdLeaf, 9}, 14: {FourthLeaf, 11},
	15: {ClustersOut, 12}, 16: {9, 13}, 17: {10, 14}, 18: {11, 15}, 19: {12, 15},
	53: {11, 15}, 55: {13, 16}, 57: {15, 17}, 60: {19, 19}, 61: {19.3, 20}, 63: {19.6, 21},
	65: {Bloom, 23}, 68: {Bloom, 25}, 69: {Bloom, 26}, 71: {Bloom, 27},
}

func elRow(code int) (stageRow, bool) {
	for _, r := range elRows {
		if r.el == code {
			return r, true
		}
	}
	return stageRow{}, false
}

// NewStage checks that code is on scale.
func NewStage(scale Scale, code int) (Stage, error) {
	s := Stage{scale, code}
	_, err := s.Step()
	return s, err
}

// modified returns the modified E-L row that stands for s.
func (s Stage) modified() (stageRow, error) {
	bad := func(want string) (stageRow, error) {
		return stageRow{}, &StageError{Input: fmt.Sprintf("%s %d", s.Scale.label(), s.Code), Want: want}
	}
	el := s.Code
	switch s.Scale {
	case ModifiedEL:
	case OriginalEL:
		m, ok := el1977[s.Code]
		if !ok {
			return bad("a code of the 1977 scale up to fruit set: 1 2 3 5 7 9 12 15 17 19 21 23 25 27")
		}
		el = m
	case BBCH:
		m, ok := bbchSteps[s.Code]
		if !ok {
			return bad("a BBCH code up to fruit set: 00 01 03 05 07 09 11-19 53 55 57 60 61 63 65 68 69 71")
		}
		el = m.el
	default:
		return bad("scale el, el1977 or bbch")
	}
	r, ok := elRow(el)
	if !ok {
		return bad("a modified E-L code up to fruit set: 1 2 3 4 5 7 9 11-21 23 25 26 27")
	}
	return r, nil
}

// Step returns where the stage is on the line of development.
func (s Stage) Step() (Step, error) {
	r, err := s.modified()
	if err != nil {
		return 0, err
	}
	if s.Scale == BBCH {
		return bbchSteps[s.Code].step, nil
	}
	if s.Scale == OriginalEL && s.Code == 12 {
		return 8.5, nil // five to six leaves
	}
	return r.step, nil
}

func (s Scale) label() string {
	switch s {
	case ModifiedEL:
		return "E-L"
	case OriginalEL:
		return "E-L(1977)"
	case BBCH:
		return "BBCH"
	}
	return string(s)
}

// String is the stage on its own scale, such as "E-L 4" or "BBCH 09".
// ParseStage reads it back.
func (s Stage) String() string {
	if s.Scale == BBCH {
		return fmt.Sprintf("BBCH %02d", s.Code)
	}
	return fmt.Sprintf("%s %d", s.Scale.label(), s.Code)
}

// EL returns the code on the modified E-L scale.
func (s Stage) EL() (int, error) {
	r, err := s.modified()
	return r.el, err
}

// BBCHRange returns the BBCH codes that stand for s, as lowest and highest,
// and a note where the published pair and the wording differ.
func (s Stage) BBCHRange() (lo, hi int, note string, err error) {
	if s.Scale == BBCH {
		_, err := s.modified()
		return s.Code, s.Code, "", err
	}
	r, err := s.modified()
	return r.bbchLo, r.bbchHi, r.note, err
}

// Both shows the stage on both scales in use, such as "E-L 4, BBCH 07-09".
// The scale that was recorded is named first.
func (s Stage) Both() string {
	r, err := s.modified()
	if err != nil {
		return s.String() + " (not on the scale)"
	}
	el := fmt.Sprintf("E-L %d", r.el)
	bbch := fmt.Sprintf("BBCH %02d", r.bbchLo)
	switch {
	case r.bbchLo < 20 && r.bbchHi >= 50:
		bbch += fmt.Sprintf("/%02d", r.bbchHi)
	case r.bbchHi != r.bbchLo:
		bbch += fmt.Sprintf("-%02d", r.bbchHi)
	}
	switch s.Scale {
	case BBCH:
		return s.String() + ", " + el
	case OriginalEL:
		return s.String() + ", " + el + ", " + bbch
	}
	return el + ", " + bbch
}

// Words is the stage in plain words.
func (s Stage) Words() string {
	r, err := s.modified()
	if err != nil {
		return s.String()
	}
	if s.Scale == BBCH {
		return bbchSteps[s.Code].step.String()
	}
	return r.words
}

// StageOf returns the modified E-L stage a step has reached (the last one not
// beyond it). Steps off the line are a *StageError.
func StageOf(step Step) (Stage, error) {
	if !(step >= Dormant && step <= lastStep) {
		return Stage{}, &StageError{Input: step.String(), Want: "a step from 0 (dormant) to 20 (bloom)"}
	}
	best := elRows[0]
	for _, r := range elRows {
		if r.step <= step && r.step > best.step {
			best = r
		}
	}
	return Stage{ModifiedEL, best.el}, nil
}

var (
	elPattern   = regexp.MustCompile(`^(?:modified )?(?:e l|el|e l modified) ?0*([0-9]{1,3})$`)
	oldPattern  = regexp.MustCompile(`^(?:(?:old|original) (?:e l|el)|(?:e l|el) ?1977|(?:e l|el) (?:old|original)) 0*([0-9]{1,3})$`)
	bbchPattern = regexp.MustCompile(`^bbch ?0*([0-9]{1,3})$`)
	leafPattern = regexp.MustCompile(`^([0-9]{1,2})(?:st|nd|rd|th)? (?:leaf|leaves)(?: stage| separated| unfolded| out)?$`)
)

var stageWords = map[string]Stage{
	"dormant": {ModifiedEL, 1}, "winter bud": {ModifiedEL, 1}, "dormant bud": {ModifiedEL, 1},
	"swell": {ModifiedEL, 2}, "swelling": {ModifiedEL, 2}, "first swell": {ModifiedEL, 2},
	"bud swell": {ModifiedEL, 2}, "scales opening": {ModifiedEL, 2}, "bud scales opening": {ModifiedEL, 2},
	"dormant enlarged": {ModifiedEL, 2},
	"woolly":           {ModifiedEL, 3}, "wooly": {ModifiedEL, 3}, "wool": {ModifiedEL, 3}, "woolly bud": {ModifiedEL, 3},
	"full swell": {ModifiedEL, 3}, "late swell": {ModifiedEL, 3}, "full swell woolly": {ModifiedEL, 3}, "cotton": {ModifiedEL, 3},
	"bud burst": {ModifiedEL, 4}, "budburst": {ModifiedEL, 4}, "bud break": {ModifiedEL, 4}, "budbreak": {ModifiedEL, 4},
	"green tip": {ModifiedEL, 4}, "green tips": {ModifiedEL, 4}, "leaf tips visible": {ModifiedEL, 4},
	"rosette": {ModifiedEL, 5}, "rosette of leaf tips": {ModifiedEL, 5},
	"first leaf": {ModifiedEL, 7}, "one leaf": {ModifiedEL, 7}, "first leaf separated": {ModifiedEL, 7},
	"second leaf": {BBCH, 12}, "two leaves": {BBCH, 12}, "third leaf": {BBCH, 13}, "three leaves": {BBCH, 13},
	"two to three leaves": {ModifiedEL, 9}, "2 3 leaves": {ModifiedEL, 9},
	"fourth leaf": {ModifiedEL, 11}, "four leaves": {ModifiedEL, 11}, "fifth leaf": {ModifiedEL, 12}, "five leaves": {ModifiedEL, 12},
	"clusters out": {ModifiedEL, 12}, "clusters visible": {ModifiedEL, 12}, "inflorescence clear": {ModifiedEL, 12},
	"inflorescence visible": {ModifiedEL, 12}, "inflorescences visible": {ModifiedEL, 12},
	"flowers separated": {ModifiedEL, 17}, "first caps": {ModifiedEL, 19}, "bloom": {ModifiedEL, 23},
	"flowering": {ModifiedEL, 23}, "full bloom": {ModifiedEL, 23}, "fruit set": {ModifiedEL, 27},
}

var leafStages = []Stage{{}, {ModifiedEL, 7}, {BBCH, 12}, {BBCH, 13}, {ModifiedEL, 11}, {ModifiedEL, 12},
	{ModifiedEL, 13}, {ModifiedEL, 14}, {ModifiedEL, 15}, {BBCH, 19}, {ModifiedEL, 16}}

// ParseStage reads "EL 4", "E-L 1977 5", "old EL 5", "BBCH 09" or plain words
// ("woolly", "bud burst", "first leaf", "3 leaves", "clusters out"). A bare
// number is refused: 5 is bud burst on one scale and past it on another.
func ParseStage(in string) (Stage, error) {
	s := fold(in)
	for _, p := range []struct {
		re    *regexp.Regexp
		scale Scale
	}{{elPattern, ModifiedEL}, {oldPattern, OriginalEL}, {bbchPattern, BBCH}} {
		if m := p.re.FindStringSubmatch(s); m != nil {
			code, err := strconv.Atoi(m[1])
			if err != nil {
				break
			}
			return NewStage(p.scale, code)
		}
	}
	if st, ok := stageWords[s]; ok {
		return st, nil
	}
	if m := leafPattern.FindStringSubmatch(s); m != nil {
		if n, err := strconv.Atoi(m[1]); err == nil && n >= 1 && n < len(leafStages) {
			return leafStages[n], nil
		}
	}
	want := `a scale and a code, such as "EL 4", "EL 1977 5" or "BBCH 09", or words such as "woolly" or "first leaf"`
	if _, err := strconv.Atoi(strings.TrimSpace(s)); err == nil {
		want = `the scale with the number, such as "EL 4" or "BBCH 09": the same number means different things`
	}
	return Stage{}, &StageError{Input: in, Want: want}
}
