package vine

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"
)

// MixtureSource says where a mixture of stages comes from.
type MixtureSource string

const (
	Counted  MixtureSource = "counted"  // shoots counted in a walk
	Judged   MixtureSource = "judged"   // shares estimated by eye
	Advanced MixtureSource = "advanced" // moved on by degree-days
)

// Share is the part of a block's nodes whose bud or shoot is at one step.
type Share struct {
	Step  Step    `json:"step"`
	Stage Stage   `json:"stage"` // as recorded, or the stage last reached
	Share float64 `json:"share"` // 0..1
}

// Mixture is how far the buds and shoots of one block are: shares by stage,
// most advanced first. Make one with NewMixture, Walk.Mixture or ParseMixture.
type Mixture struct {
	Shares  []Share       `json:"shares"`
	At      time.Time     `json:"at"`      // when it was seen, or moved on to
	SeenAt  time.Time     `json:"seen_at"` // when somebody last looked
	By      string        `json:"by"`
	Source  MixtureSource `json:"source"`
	Counted int           `json:"counted"` // shoots counted; 0 = judged by eye
	Flags   []Flag        `json:"flags,omitempty"`
}

// maxShares bounds the classes of a mixture.
const maxShares = 200

// shareTol is how far shares may be from summing to one: three decimals typed
// by hand in up to twenty classes are off by at most 0.01.
const shareTol = 0.01

// Count is the number of shoots seen at one stage.
type Count struct {
	Stage  Stage `json:"stage"`
	Shoots int   `json:"shoots"`
}

// Walk is what one person counted in one walk through a block.
type Walk struct {
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Counts []Count   `json:"counts"`
}

// maxShoots bounds one walk's count: nobody counts a million shoots.
const maxShoots = 1_000_000

// Mixture turns counts into shares.
func (w Walk) Mixture() (Mixture, error) {
	total := 0
	for _, c := range w.Counts {
		if c.Shoots < 0 || c.Shoots > maxShoots {
			return Mixture{}, &InputError{"shoots at " + c.Stage.String(), strconv.Itoa(c.Shoots), "a count from 0 to 1000000"}
		}
		total += c.Shoots
	}
	if total == 0 {
		return Mixture{}, &InputError{"shoots counted", "0", "at least one shoot in at least one stage"}
	}
	shares := make([]Share, 0, len(w.Counts))
	for _, c := range w.Counts {
		if c.Shoots == 0 {
			continue
		}
		shares = append(shares, Share{Stage: c.Stage, Share: float64(c.Shoots) / float64(total)})
	}
	m, err := NewMixture(shares, w.At, w.By)
	if err != nil {
		return Mixture{}, err
	}
	m.Source, m.Counted = Counted, total
	return m, nil
}

// NewMixture checks shares by stage and orders them, most advanced first. The
// Step of each share is set from its Stage. Shares must be 0..1 and sum to one
// within 0.01; they are then scaled to sum to exactly one.
func NewMixture(shares []Share, at time.Time, by string) (Mixture, error) {
	if len(shares) == 0 || len(shares) > maxShares {
		return Mixture{}, &InputError{"stages", strconv.Itoa(len(shares)), "between 1 and 200 stages"}
	}
	if at.IsZero() {
		return Mixture{}, &InputError{"date of the observation", "", "a date: stages move on by the day"}
	}
	out := make([]Share, 0, len(shares))
	sum := 0.0
	for _, s := range shares {
		step, err := s.Stage.Step()
		if err != nil {
			return Mixture{}, err
		}
		if !(s.Share >= 0 && s.Share <= 1+shareTol) {
			return Mixture{}, &InputError{"share of " + s.Stage.String(), fmt.Sprintf("%g", s.Share), "a share from 0 to 1"}
		}
		if s.Share == 0 {
			continue
		}
		s.Step = step
		sum += s.Share
		out = append(out, s)
	}
	if math.Abs(sum-1) > shareTol {
		return Mixture{}, &InputError{"sum of shares", fmt.Sprintf("%g", sum), "1 (100 %) within 0.01"}
	}
	for i := range out {
		out[i].Share /= sum
	}
	m := Mixture{Shares: out, At: at, SeenAt: at, By: by, Source: Judged}
	m.order()
	return m, nil
}

// order sorts most advanced first and joins equal stages.
func (m *Mixture) order() {
	sort.SliceStable(m.Shares, func(i, j int) bool { return m.Shares[i].Step > m.Shares[j].Step })
	out := m.Shares[:0]
	for _, s := range m.Shares {
		if n := len(out); n > 0 && out[n-1].Step == s.Step {
			out[n-1].Share += s.Share
			continue
		}
		out = append(out, s)
	}
	m.Shares = out
}

// Validate reports the first thing wrong with a mixture that was read from
// elsewhere (a file, a database).
func (m Mixture) Validate() error {
	if len(m.Shares) == 0 || len(m.Shares) > maxShares {
		return &InputError{"stages", strconv.Itoa(len(m.Shares)), "between 1 and 200 stages"}
	}
	if m.At.IsZero() {
		return &InputError{"date of the observation", "", "a date"}
	}
	sum := 0.0
	for i, s := range m.Shares {
		if !(s.Step >= Dormant && s.Step <= lastStep) {
			return &InputError{"step", fmt.Sprintf("%g", float64(s.Step)), "0 (dormant) to 20 (bloom)"}
		}
		if !(s.Share > 0 && s.Share <= 1+shareTol) {
			return &InputError{"share of " + s.Step.String(), fmt.Sprintf("%g", s.Share), "a share above 0 and up to 1"}
		}
		if i > 0 && s.Step > m.Shares[i-1].Step {
			return &InputError{"order of stages", s.Step.String(), "most advanced first"}
		}
		sum += s.Share
	}
	if math.Abs(sum-1) > shareTol {
		return &InputError{"sum of shares", fmt.Sprintf("%g", sum), "1 (100 %) within 0.01"}
	}
	return nil
}

// Mean returns the share-weighted mean step.
func (m Mixture) Mean() Step {
	sum, w := 0.0, 0.0
	for _, s := range m.Shares {
		sum += float64(s.Step) * s.Share
		w += s.Share
	}
	return Step(sum / w)
}

// ShareFrom returns the share of nodes at or beyond step.
func (m Mixture) ShareFrom(step Step) float64 {
	sum := 0.0
	for _, s := range m.Shares {
		if s.Step >= step {
			sum += s.Share
		}
	}
	return sum
}

// ByNamedStep adds up the shares by the named step last reached, most
// advanced first: what a person reads.
func (m Mixture) ByNamedStep() []Share {
	var out []Share
	for _, s := range m.Shares {
		st, err := StageOf(s.Step)
		if err != nil {
			panic("vine: mixture holds a step off the line: " + err.Error())
		}
		if m.Source != Advanced {
			st = s.Stage
		}
		if n := len(out); n > 0 && out[n-1].Stage == st {
			out[n-1].Share += s.Share
			continue
		}
		step, _ := st.Step()
		out = append(out, Share{Step: step, Stage: st, Share: s.Share})
	}
	return out
}

// String is the mixture in words, most advanced first, such as
// "40 % first leaf separated (E-L 7, BBCH 11), 60 % woolly bud (E-L 3, BBCH 03-05)".
func (m Mixture) String() string {
	var parts []string
	for _, s := range m.ByNamedStep() {
		parts = append(parts, fmt.Sprintf("%.0f %% %s (%s)", 100*s.Share, s.Stage.Words(), s.Stage.Both()))
	}
	return strings.Join(parts, ", ")
}

// ParseMixture reads "EL 3=60%, EL 7=40%" (shares) or "woolly=30, first
// leaf=20" (shoots counted); a single stage alone means all of the block. All
// items are shares or all are counts, never both.
func ParseMixture(in string, at time.Time, by string) (Mixture, error) {
	items := strings.FieldsFunc(in, func(r rune) bool { return r == ',' || r == ';' || r == '\n' })
	if len(items) == 1 && !strings.ContainsAny(items[0], "=:") {
		st, err := ParseStage(items[0])
		if err != nil {
			return Mixture{}, err
		}
		return NewMixture([]Share{{Stage: st, Share: 1}}, at, by)
	}
	if len(items) > maxShares {
		return Mixture{}, &InputError{"stages", strconv.Itoa(len(items)), "at most 200 stages"}
	}
	var shares []Share
	var counts []Count
	for _, it := range items {
		name, num, ok := cutLast(it)
		if !ok {
			return Mixture{}, &InputError{"stages", it, `"stage=share%" or "stage=count", such as "woolly=60%, EL 7=40%"`}
		}
		st, err := ParseStage(name)
		if err != nil {
			return Mixture{}, err
		}
		if pct, isPct := strings.CutSuffix(num, "%"); isPct {
			v, err := strconv.ParseFloat(strings.TrimSpace(pct), 64)
			if err != nil {
				return Mixture{}, &InputError{"share of " + name, num, `a percentage such as "40%"`}
			}
			shares = append(shares, Share{Stage: st, Share: v / 100})
			continue
		}
		n, err := strconv.Atoi(num)
		if err != nil {
			return Mixture{}, &InputError{"shoots at " + name, num, `a whole number of shoots, or a share such as "40%"`}
		}
		counts = append(counts, Count{st, n})
	}
	if len(shares) > 0 && len(counts) > 0 {
		return Mixture{}, &InputError{"stages", in, "all shares (with %) or all counts, not both"}
	}
	if len(counts) > 0 {
		return Walk{At: at, By: by, Counts: counts}.Mixture()
	}
	return NewMixture(shares, at, by)
}

func cutLast(s string) (name, num string, ok bool) {
	i := strings.LastIndexAny(s, "=:")
	if i < 0 {
		return "", "", false
	}
	return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+1:]), true
}
