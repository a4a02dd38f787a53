package trial

import (
	"fmt"
	"math"
	"strings"

	"budward/physics/quantity"
)

// Uncertainty of a night's difference. Stated priors.
const (
	// PriorNightSDK is how much the difference of two thermometers some tens of
	// metres apart over unlike floors changes from one clear, calm night to the next
	// (one standard deviation; common practice, a guess until a trial has its own).
	PriorNightSDK = 0.4
	// PriorSideSDK is the same with both at one place.
	PriorSideSDK = 0.15
	// PlaceSDK is what two like places of one block differ by, floor apart; it is
	// added where no nights before tell.
	PlaceSDK = 0.3
	// leastSDK: thermometers that read in tenths cannot show less; a smaller spread
	// is chance.
	leastSDK = 0.05
)

// Group is the nights of one kind with the thermometers hanging one way.
type Group struct {
	Kind   Kind    `json:"session"`
	Over   Sensor  `json:"over"`
	N      int     `json:"n"`
	MeanK  float64 `json:"mean_k"` // A less B
	SDK    float64 `json:"sd_k"`   // NaN for one night
	Weight float64 `json:"weight"` // in the gain: GainK.Central is the sum of weight times mean
}

// Result is what a trial gave.
type Result struct {
	Design string   `json:"design"` // plain words
	Conf   float64  `json:"confidence_share"`
	Gain   Interval `json:"gain"` // air minimum over the measured floor less that beside it
	SEK    float64  `json:"standard_error_k"`
	DF     float64  `json:"freedom"` // degrees of freedom of the interval; broken where two spreads come together
	NightK float64  `json:"night_sd_k"`
	NightD int      `json:"night_freedom"` // degrees of freedom of that spread

	// Offset is what A reads more than B in the same air, Place what the place over
	// the measured floor was warmer before the floors differed; nil = these nights
	// cannot tell.
	Offset *Interval `json:"offset"`
	Place  *Interval `json:"place"`
	// PlaceIncluded says that Gain holds the place's own difference.
	PlaceIncluded bool `json:"place_included"`

	Groups   []Group    `json:"groups"`
	Pairs    []Pair     `json:"nights_used"`
	Excluded []Excluded `json:"nights_left_out"`
	Rules    Rules      `json:"rules"`
	Weather  Weather    `json:"weather"`
	Flags    []Flag     `json:"flags"`
}

// Estimate works a trial out. An error says that there is no gain to be had from
// these nights (*TooFewError; the Result then still lists every night) or that the
// input is wrong (*InputError).
//
// The means of the groups are combined by least squares, a night side by side
// counting more by the ratio of the two prior spreads; any such weights give an
// unbiased gain. Its variance is the sum of weight^2 times variance over nights,
// with one variance for nights side by side and one, pooled within groups, for all
// others; where both come in, the degrees of freedom are Satterthwaite's. With a
// swap alone it is the classical cross-over: half the difference of the two means,
// t with n1 + n2 - 2 degrees of freedom. Nights are taken to be independent and
// the spread alike in all groups.
//
// Reference: Jones & Kenward, Design and Analysis of Cross-Over Trials, ch. 2
// (from memory); Satterthwaite (1946), Biometrics Bulletin 2:110-114 (from memory).
func Estimate(in Input) (Result, error) {
	if err := in.check(); err != nil {
		return Result{}, err
	}
	r, err := lay(&in)
	if err != nil {
		return Result{}, err
	}
	out := Result{Conf: in.Conf, Rules: in.Rules}
	if out.Pairs, out.Excluded, err = pairNights(&in, r); err != nil {
		return Result{}, err
	}
	out.Flags = r.flags
	out.Weather = r.weather(&in, out.Pairs)
	err = out.analyse(in.Units)
	return out, err
}

// analyse fills in the numbers from the nights that count.
func (r *Result) analyse(u quantity.System) error {
	r.Groups = groupsOf(r.Pairs)
	s := spreadsOf(r.Groups)
	if s.fieldDF > 0 {
		r.NightK, r.NightD = math.Sqrt(s.field), s.fieldDF
	}
	if n := r.count(Contrast); n == 0 {
		return &TooFewError{fmt.Sprintf("no night with the floors different counts; %d of the nights given were left out", len(r.Excluded))}
	}
	r.PlaceIncluded = r.count(Before) == 0
	weights, ok := combine(r.Groups, gainParam, r.PlaceIncluded)
	if !ok {
		return &TooFewError{"what the thermometers themselves differ by cannot be told from the gain: swap them and take more nights, or hang them side by side for some"}
	}
	if s.fieldDF < 1 {
		return &TooFewError{fmt.Sprintf("%s: the spread from night to night is not known; want at least two nights that hang alike", count(len(r.Pairs)))}
	}
	for i := range r.Groups {
		r.Groups[i].Weight = weights[i]
	}
	r.Gain, r.SEK, r.DF = s.interval(r.Groups, weights, r.Conf)
	if w, ok := combine(r.Groups, offsetParam, r.PlaceIncluded); ok {
		v, _, _ := s.interval(r.Groups, w, r.Conf)
		r.Offset = &v
	}
	if w, ok := combine(r.Groups, placeParam, r.PlaceIncluded); ok && !r.PlaceIncluded {
		v, _, _ := s.interval(r.Groups, w, r.Conf)
		r.Place = &v
	}
	r.Design = r.design()
	r.judge(&s, u)
	return nil
}

func (r *Result) count(k Kind) (n int) {
	for _, g := range r.Groups {
		if g.Kind == k {
			n += g.N
		}
	}
	return n
}

// groupsOf gathers nights that hang alike, in the order of a trial.
func groupsOf(pairs []Pair) []Group {
	var out []Group
	for _, k := range []Kind{SideBySide, Before, Contrast} {
		for _, over := range []Sensor{"", A, B} {
			g := Group{Kind: k, Over: over, SDK: math.NaN()}
			for _, p := range pairs {
				if p.Kind == k && p.Over == over {
					g.N++
					g.MeanK += p.DiffK
				}
			}
			if g.N == 0 {
				continue
			}
			g.MeanK /= float64(g.N)
			sq := 0.0
			for _, p := range pairs {
				if p.Kind == k && p.Over == over {
					sq += (p.DiffK - g.MeanK) * (p.DiffK - g.MeanK)
				}
			}
			if g.N > 1 {
				g.SDK = math.Sqrt(sq / float64(g.N-1))
			}
			out = append(out, g)
		}
	}
	return out
}

// spreads are the variances of a night's difference, K2.
type spreads struct {
	field, side     float64
	fieldDF, sideDF int
}

func spreadsOf(groups []Group) spreads {
	var s spreads
	var field, side float64
	for _, g := range groups {
		if g.N < 2 {
			continue
		}
		ss, df := g.SDK*g.SDK*float64(g.N-1), g.N-1
		if g.Kind == SideBySide {
			side, s.sideDF = side+ss, s.sideDF+df
		} else {
			field, s.fieldDF = field+ss, s.fieldDF+df
		}
	}
	s.field = math.Max(field/float64(s.fieldDF), leastSDK*leastSDK)
	s.side = math.Max(side/float64(s.sideDF), leastSDK*leastSDK)
	if s.sideDF == 0 { // one night side by side: held to be no better than the others
		s.side, s.sideDF = s.field, s.fieldDF
	}
	return s
}

// interval is the combination of the groups' means with its standard error and
// degrees of freedom.
func (s *spreads) interval(groups []Group, weights []float64, conf float64) (v Interval, se, df float64) {
	var field, side float64
	for i, g := range groups {
		v.Central += weights[i] * g.MeanK
		part := weights[i] * weights[i] / float64(g.N)
		if g.Kind == SideBySide {
			side += part * s.side
		} else {
			field += part * s.field
		}
	}
	se = math.Sqrt(field + side)
	df = float64(s.fieldDF)
	if side > 0 {
		df = (field + side) * (field + side) / (field*field/float64(s.fieldDF) + side*side/float64(s.sideDF))
	}
	half := tQuantile(conf, df) * se
	v.Low, v.High = v.Central-half, v.Central+half
	return v, se, df
}

// The unknowns of a trial, in the order of a row.
const (
	offsetParam = iota
	placeParam
	gainParam
	numParams
)

// row says how a group's mean is made of the unknowns; see the package comment.
func (g *Group) row(placeIncluded bool) (x [numParams]float64) {
	x[offsetParam] = 1
	way := 0.0
	switch g.Over {
	case A:
		way = 1
	case B:
		way = -1
	}
	if !placeIncluded {
		x[placeParam] = way
	}
	if g.Kind == Contrast {
		x[gainParam] = way
	}
	return x
}

// combine returns weights of the groups' means that give one unknown, those of
// weighted least squares; ok is false where these groups do not determine it.
func combine(groups []Group, param int, placeIncluded bool) (weights []float64, ok bool) {
	const sideWeight = (PriorNightSDK / PriorSideSDK) * (PriorNightSDK / PriorSideSDK)
	var m [numParams][numParams + 1]float64 // X' W X | e
	m[param][numParams] = 1
	heavy := func(g *Group) float64 {
		if g.Kind == SideBySide {
			return float64(g.N) * sideWeight
		}
		return float64(g.N)
	}
	for k := range groups {
		x := groups[k].row(placeIncluded)
		for i := range x {
			for j := range x {
				m[i][j] += heavy(&groups[k]) * x[i] * x[j]
			}
		}
	}
	lambda, ok := solve(m)
	if !ok {
		return nil, false
	}
	for k := range groups {
		x := groups[k].row(placeIncluded)
		w := 0.0
		for i := range x {
			w += x[i] * lambda[i]
		}
		weights = append(weights, w*heavy(&groups[k]))
	}
	return weights, true
}

// solve returns one solution of a system that may leave unknowns open; ok is false
// where it has none.
func solve(m [numParams][numParams + 1]float64) (x [numParams]float64, ok bool) {
	const nothing = 1e-9 // entries are counts of nights, at most a few thousand
	var lead []int       // column of each row's pivot
	for col := range numParams {
		row := len(lead)
		best := row
		for i := row; i < numParams; i++ {
			if math.Abs(m[i][col]) > math.Abs(m[best][col]) {
				best = i
			}
		}
		if row == numParams || math.Abs(m[best][col]) < nothing {
			continue
		}
		m[row], m[best] = m[best], m[row]
		for i := range numParams {
			if i == row {
				continue
			}
			f := m[i][col] / m[row][col]
			for j := col; j <= numParams; j++ {
				m[i][j] -= f * m[row][j]
			}
		}
		lead = append(lead, col)
	}
	for i := len(lead); i < numParams; i++ {
		if math.Abs(m[i][numParams]) > nothing {
			return x, false
		}
	}
	for i, col := range lead {
		x[col] = m[i][numParams] / m[i][col]
	}
	return x, true
}

// design names the nights that made the gain.
func (r *Result) design() string {
	var parts []string
	ways := map[Kind]map[Sensor]bool{SideBySide: {}, Before: {}, Contrast: {}}
	for _, g := range r.Groups {
		if math.Abs(g.Weight) > 1e-9 {
			ways[g.Kind][g.Over] = true
		}
	}
	if len(ways[Contrast]) == 2 {
		parts = append(parts, "swapped half-way")
	}
	if len(ways[Before]) > 0 {
		parts = append(parts, "against nights before the floors differed")
	}
	if len(ways[SideBySide]) > 0 {
		parts = append(parts, "with nights side by side")
	}
	return strings.Join(parts, ", ")
}

func count(n int) string {
	if n == 1 {
		return "1 night counts"
	}
	return fmt.Sprintf("%d nights count", n)
}
