package weather

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Reason says why Screen excluded or questioned samples.
type Reason string

const (
	NotANumber Reason = "not_a_number" // NaN or infinite
	Sentinel   Reason = "sentinel"     // a missing-value mark the decoder let through
	Impossible Reason = "impossible"   // outside the plausible range
	Future     Reason = "future"       // dated after the present moment
	Spike      Reason = "spike"        // one value far from both neighbours
	UnitChange Reason = "unit_change"  // a step that fits Fahrenheit taken for Celsius
	Stuck      Reason = "stuck"        // the same value for hours while other sensors moved
	Jump       Reason = "jump"         // a step too large for weather; kept, to be looked at
)

// Reasons lists all reasons in the order they are tested.
func Reasons() []Reason {
	return []Reason{NotANumber, Sentinel, Impossible, Future, UnitChange, Spike, Stuck, Jump}
}

// Exclusion is a run of samples of one variable that Screen took out, or, with
// Kept, left in but asks to look at.
type Exclusion struct {
	Var    Variable  `json:"-"`
	Name   string    `json:"variable"`
	Reason Reason    `json:"reason"`
	From   time.Time `json:"from_at"`
	To     time.Time `json:"to_at"`
	Count  int       `json:"count"`
	Value  float64   `json:"value"` // of the first sample
	Kept   bool      `json:"kept"`
	Text   string    `json:"text"`
}

// ScreenReport counts and lists what Screen did.
type ScreenReport struct {
	Kept     int
	Excluded map[Reason]int // samples by reason
	Runs     []Exclusion    // the first MaxExclusions, in order of variable and time
	RunTotal int            // all runs
}

// MaxExclusions bounds the runs listed one by one.
const MaxExclusions = 200

// Limits of Screen. All are common practice unless a source is named; they are
// wide, so that what they catch is an instrument or a file and not weather.
const (
	futureSlack = 10 * time.Minute // clocks of loggers wander
	neighbour   = 2 * time.Hour    // samples further apart say nothing of one another
	jumpK       = 15.0             // K between neighbours
	fahrenheitF = 8.0              // degF: how well a step must fit 1.8 t + 32
	coarseStep  = 0.4              // whole degrees C or F: values repeat more easily
)

// spikeLimit is how far one value may stand out from both neighbours.
var spikeLimit = map[Variable]float64{
	AirTemp: 8, AirTempMin: 8, DewPoint: 10, SoilTemp5: 5, SoilTemp10: 4, SoilTemp20: 3, SoilTemp50: 2, SoilTemp100: 2, Pressure: 1.5,
}

// stuckFor is how long a value may stay the same while others move.
var stuckFor = map[Variable]time.Duration{
	AirTemp: 6 * time.Hour, AirTempMin: 8 * time.Hour, DewPoint: 8 * time.Hour, SurfaceTemp: 6 * time.Hour,
	RelHumidity: 12 * time.Hour, Wind: 12 * time.Hour, SoilTemp5: 24 * time.Hour,
}

// moved is how much another variable must change to witness that a value which
// stays the same is stuck.
var moved = map[Variable]float64{AirTemp: 1.5, RelHumidity: 8, SurfaceTemp: 2, Solar: 150, Wind: 2, SoilTemp5: 1}

// Screen returns a copy of b without the samples that cannot be true, and a
// report of each exclusion. now is the present moment; before may hold the last
// samples accepted of the same station, against which the first of b are held.
//
// Forecasts are tested for numbers, ranges and a change of unit only; one issued
// after now is excluded whole. A sensor is called stuck after stuckFor (twice
// that when the values are whole degrees, or no other variable is there to
// compare with); saturated humidity, days of calm, a surface of melting snow and
// soil below 3 degC (under snow it stays the same for days, as reference network
// winters show) are not called stuck.
func Screen(b Batch, now time.Time, before []Sample) (Batch, ScreenReport) {
	s := screener{b: &b, now: now, out: make([]Reason, len(b.Samples))}
	s.single()
	s.sortSeries(before)
	for v := range NumVariables {
		if v == AirTemp || v == DewPoint || v == AirTempMin {
			s.unitChange(v)
		}
		if b.Kind == Reading {
			s.spikes(v)
		}
	}
	if b.Kind == Reading {
		for v := range NumVariables {
			s.stuck(v)
		}
	}
	return s.result()
}

type screener struct {
	b      *Batch
	now    time.Time
	out    []Reason // by sample; "" = kept
	series [NumVariables][]obs
	kept   []Exclusion // jumps, questioned only
}

// obs is a sample in its series; idx is -1 for samples from before the batch.
type obs struct {
	at  time.Time
	val float64
	idx int
}

var sentinels = []float64{-9999, -9999.9, -999, -999.9, -99, -99.9, 999, 999.9, 9999, 9999.9, -6999, 6999}

func (s *screener) single() {
	late := s.b.Kind == Forecast && s.b.IssuedAt.After(s.now.Add(futureSlack))
	for i, x := range s.b.Samples {
		switch {
		case math.IsNaN(x.Value) || math.IsInf(x.Value, 0):
			s.out[i] = NotANumber
		case !x.Var.Plausible(x.Value) && slices.Contains(sentinels, x.Value):
			s.out[i] = Sentinel
		case !x.Var.Plausible(x.Value):
			s.out[i] = Impossible
		case late, s.b.Kind == Reading && x.At.After(s.now.Add(futureSlack)):
			s.out[i] = Future
		}
	}
}

func (s *screener) sortSeries(before []Sample) {
	for _, x := range before {
		if x.Var.Plausible(x.Value) {
			s.series[x.Var] = append(s.series[x.Var], obs{x.At, x.Value, -1})
		}
	}
	for i, x := range s.b.Samples {
		if s.out[i] == "" {
			s.series[x.Var] = append(s.series[x.Var], obs{x.At, x.Value, i})
		}
	}
	for v := range s.series {
		slices.SortStableFunc(s.series[v], func(a, b obs) int { return a.at.Compare(b.at) })
	}
}

func (s *screener) exclude(o obs, r Reason) {
	if o.idx >= 0 {
		s.out[o.idx] = r
	}
}

// unitChange looks for steps that fit Fahrenheit taken for Celsius and excludes
// the warmer side up to the next such step; other great steps are questioned.
func (s *screener) unitChange(v Variable) {
	ser := s.series[v]
	start, hot := 0, false
	mark := func(end int) {
		if hot {
			for k := start; k < end; k++ {
				s.exclude(ser[k], UnitChange)
			}
		}
	}
	for i := 1; i < len(ser); i++ {
		a, c := ser[i-1].val, ser[i].val
		if math.Abs(c-a) <= jumpK || ser[i].at.Sub(ser[i-1].at) > neighbour {
			continue
		}
		if lone(ser, i) {
			continue // spikes sees to it
		}
		if math.Abs(math.Max(a, c)-(1.8*math.Min(a, c)+32)) > fahrenheitF {
			s.question(v, ser[i])
			continue
		}
		hot = hot || a > c
		mark(i)
		start, hot = i, c > a
	}
	mark(len(ser))
	s.drop(v)
}

// lone says whether the step at i belongs to a single odd value: the values on
// either side of it agree.
func lone(ser []obs, i int) bool {
	odd := func(k int) bool {
		return k > 0 && k+1 < len(ser) && math.Abs(ser[k-1].val-ser[k+1].val) < jumpK/2 &&
			math.Abs(ser[k].val-ser[k-1].val) > jumpK
	}
	return odd(i) || odd(i-1)
}

func (s *screener) question(v Variable, o obs) {
	s.kept = append(s.kept, Exclusion{Var: v, Reason: Jump, From: o.at, To: o.at, Count: 1, Value: o.val, Kept: true})
}

// drop takes the excluded out of the series, so that later tests do not see
// them.
func (s *screener) drop(v Variable) {
	s.series[v] = slices.DeleteFunc(s.series[v], func(o obs) bool { return o.idx >= 0 && s.out[o.idx] != "" })
}

func (s *screener) spikes(v Variable) {
	lim, ok := spikeLimit[v]
	if !ok {
		return
	}
	ser := s.series[v]
	for i := 1; i+1 < len(ser); i++ {
		a, x, c := ser[i-1], ser[i], ser[i+1]
		if x.at.Sub(a.at) > neighbour || c.at.Sub(x.at) > neighbour {
			continue
		}
		up, down := x.val-math.Max(a.val, c.val), math.Min(a.val, c.val)-x.val
		if (up > lim || down > lim) && math.Abs(a.val-c.val) < lim {
			s.exclude(x, Spike)
		}
	}
	s.drop(v)
}

func (s *screener) stuck(v Variable) {
	limit, ok := stuckFor[v]
	ser := s.series[v]
	if !ok || len(ser) < 3 {
		return
	}
	if coarse(ser) {
		limit *= 2
	}
	for i := 0; i < len(ser); {
		j := i + 1
		for j < len(ser) && ser[j].val == ser[i].val {
			j++
		}
		span := ser[j-1].at.Sub(ser[i].at)
		natural := v == RelHumidity && ser[i].val >= 97 || v == Wind && ser[i].val < 0.5 ||
			v == SurfaceTemp && math.Abs(ser[i].val) < 0.7 || v == SoilTemp5 && ser[i].val < 3
		if span >= limit && j-i >= 4 && !natural {
			seen, shifted := s.witness(v, ser[i].at, ser[j-1].at)
			if shifted || (!seen && span >= 2*limit) {
				for k := i + 1; k < j; k++ { // the first may have been true
					s.exclude(ser[k], Stuck)
				}
			}
		}
		i = j
	}
}

// coarse says whether a series comes in whole degrees.
func coarse(ser []obs) bool {
	least := math.Inf(1)
	for i := 1; i < len(ser); i++ {
		if d := math.Abs(ser[i].val - ser[i-1].val); d > 1e-9 {
			least = math.Min(least, d)
		}
	}
	return least >= coarseStep
}

// witness says whether other variables were read between from and to, and
// whether one of them moved.
func (s *screener) witness(v Variable, from, to time.Time) (seen, shifted bool) {
	for w, by := range moved {
		if w == v || (v == AirTempMin && w == AirTemp) {
			continue
		}
		ser := s.series[w]
		k, _ := slices.BinarySearchFunc(ser, from, func(o obs, t time.Time) int { return o.at.Compare(t) })
		lo, hi, n := math.Inf(1), math.Inf(-1), 0
		for ; k < len(ser) && !ser[k].at.After(to); k++ {
			lo, hi, n = math.Min(lo, ser[k].val), math.Max(hi, ser[k].val), n+1
		}
		seen = seen || n >= 3
		shifted = shifted || (n >= 3 && hi-lo >= by)
	}
	return seen, shifted
}

// result builds the screened batch and the report.
func (s *screener) result() (Batch, ScreenReport) {
	out := *s.b
	out.Samples = make([]Sample, 0, len(s.b.Samples))
	rep := ScreenReport{Excluded: make(map[Reason]int)}
	open := make(map[Variable]int) // index of the run that may still grow, by variable
	var runs []Exclusion
	for i, x := range s.b.Samples {
		r := s.out[i]
		if r == "" {
			out.Samples = append(out.Samples, x)
			delete(open, x.Var)
			continue
		}
		rep.Excluded[r]++
		if k, ok := open[x.Var]; ok && runs[k].Reason == r {
			runs[k].Count++
			if x.At.After(runs[k].To) {
				runs[k].To = x.At
			}
			continue
		}
		open[x.Var] = len(runs)
		runs = append(runs, Exclusion{Var: x.Var, Reason: r, From: x.At, To: x.At, Count: 1, Value: x.Value})
	}
	rep.Kept = len(out.Samples)
	runs = append(runs, s.kept...)
	slices.SortStableFunc(runs, func(a, b Exclusion) int {
		if a.Var != b.Var {
			return int(a.Var) - int(b.Var)
		}
		return a.From.Compare(b.From)
	})
	rep.RunTotal = len(runs)
	runs = runs[:min(len(runs), MaxExclusions)]
	for i := range runs {
		runs[i].Name = runs[i].Var.String()
		runs[i].Text = describe(&runs[i])
	}
	rep.Runs = runs
	return out, rep
}

func describe(e *Exclusion) string {
	when := stamp(e.From)
	if !e.To.Equal(e.From) {
		when += " to " + stamp(e.To)
	}
	lo, hi, _ := e.Var.PlausibleRange()
	what := fmt.Sprintf("%s %g %s, %s (%d): ", e.Var.Label(), e.Value, e.Var.Unit(), when, e.Count)
	switch e.Reason {
	case Sentinel:
		return what + "a mark for a missing value"
	case Impossible:
		return what + fmt.Sprintf("outside %g to %g", lo, hi)
	case Future:
		return what + "dated after the present moment"
	case Spike:
		return what + "far from the values before and after"
	case UnitChange:
		return what + "the step fits degrees Fahrenheit taken for Celsius; the warmer side is left out"
	case Stuck:
		return what + "unchanged while other sensors moved"
	case Jump:
		return what + fmt.Sprintf("a step of more than %g K; kept, look at it", jumpK)
	}
	return what + "not a number"
}
