package hindcast

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"budward/decide/predict"
	"budward/decide/weather"
)

// lead is a moment of the night at which every method says its minimum.
type lead struct {
	name, label string
	at          func(n *night, zone *time.Location) time.Time
}

var leads = []lead{
	{"sunset-plus-2h", "2 h after sunset", func(n *night, _ *time.Location) time.Time { return n.evening() }},
	{"midnight", "midnight", func(n *night, zone *time.Location) time.Time { return n.date.AddDays(1).At(0, 0, zone) }},
	{"sunrise-minus-4h", "4 h before sunrise", func(n *night, _ *time.Location) time.Time { return n.Sunrise.Add(-4 * time.Hour) }},
	{"sunrise-minus-2h", "2 h before sunrise", func(n *night, _ *time.Location) time.Time { return n.Sunrise.Add(-2 * time.Hour) }},
}

// evening is when the handbook's methods begin: two hours after sunset.
func (n *night) evening() time.Time { return n.Sunset.Add(2 * time.Hour) }

// The methods, in the order they are shown.
const (
	byModel = iota
	byRegression
	byCurve
	byClimatology
	byPersistence
	numMethods
)

var methods = [numMethods]struct{ name, label string }{
	{"model", "budward"},
	{"regression", "handbook regression"},
	{"square-root", "square-root curve"},
	{"climatology", "usual for the date"},
	{"persistence", "last night again"},
}

// said is what a method said of a night's minimum at a moment.
type said struct {
	ok      bool
	meanC   float64
	members []float64 // sorted, equally likely; nil = no distribution
	band50  predict.Band
	band80  predict.Band
}

// probBelow is the probability said for a minimum at or below c.
func (s *said) probBelow(c float64) float64 {
	if s.members == nil {
		if s.meanC <= c {
			return 1
		}
		return 0
	}
	n, _ := slices.BinarySearchFunc(s.members, c, func(m, c float64) int {
		if m <= c {
			return -1
		}
		return 1
	})
	return float64(n) / float64(len(s.members))
}

// replay walks through the scored nights.
type replay struct {
	in   *Input
	rec  *record
	hist *predict.History
	idx  []int // scored nights, by place in rec.nights
	obs  []float64
	ref  references
	done int

	table []Row
}

func newReplay(in *Input, rec *record) *replay {
	p := &replay{in: in, rec: rec, hist: predict.NewHistory(rec.place), idx: rec.scored()}
	for k := range rec.nights {
		if n := &rec.nights[k]; n.why == "" {
			p.hist.Add(&rec.h, n.Night, n.year)
		}
	}
	for _, k := range p.idx {
		p.obs = append(p.obs, rec.nights[k].minC)
	}
	p.ref = newReferences(p)
	return p
}

// usable says whether a reference method for scored night i may learn from scored
// night j.
func (p *replay) usable(i, j int) bool {
	a, b := &p.rec.nights[p.idx[i]], &p.rec.nights[p.idx[j]]
	return p.rec.mayLearn(a, b)
}

// mayLearn says whether a reference method for night a may learn from night b: of
// other seasons, or with PastOnly of any that had ended.
func (rec *record) mayLearn(a, b *night) bool {
	if rec.training == PastOnly {
		return !b.End.After(a.Sunset)
	}
	return a.year != b.year
}

// readBefore returns the last grid point at or before t with an air temperature,
// at most two hours back and not before the night.
func (p *replay) readBefore(n *night, t time.Time) (int, bool) {
	h := &p.rec.h
	first := h.Index(n.Sunset)
	i := h.Index(t)
	if i == h.N || h.Time(i).After(t) {
		i--
	}
	for ; i >= first && t.Sub(h.Time(i)) <= 2*time.Hour; i-- {
		if !math.IsNaN(h.At(weather.AirTemp, i)) {
			return i, true
		}
	}
	return 0, false
}

// lead replays all scored nights at one lead and scores them.
func (p *replay) lead(k int) LeadReport {
	var all [numMethods][]said
	all[byModel] = p.model(k)
	all[byRegression] = p.ref.regressionSaid
	all[byCurve] = p.capped(p.dress(p.ref.curve(k)), k)
	all[byClimatology] = p.ref.climatology
	all[byPersistence] = p.ref.persistenceSaid
	for i, at := range p.idx {
		n := &p.rec.nights[at]
		for m := range all {
			if s := &all[m][i]; s.ok {
				p.table = append(p.table, Row{n.date, n.year, leads[k].name, methods[m].name, s.meanC, s.band80, s.members != nil, n.minC})
			}
		}
	}
	return p.score(k, &all)
}

// model asks the model for every scored night, on as many cores as there are. Each
// answer stands alone, so the order does not matter.
func (p *replay) model(k int) []said {
	out := make([]said, len(p.idx))
	var next atomic.Int64
	var counting sync.Mutex // progress is told by one at a time
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(p.idx) && !p.in.stopped(); i = int(next.Add(1)) - 1 {
				out[i] = p.ask(k, i)
				counting.Lock()
				p.done++
				if p.in.Progress != nil {
					p.in.Progress(p.done, len(p.idx)*len(leads))
				}
				counting.Unlock()
			}
		})
	}
	all.Wait()
	return out
}

// ask is what the model says of scored night i at lead k.
func (p *replay) ask(k, i int) said {
	n := &p.rec.nights[p.idx[i]]
	f, err := p.hist.Predict(predict.Query{H: &p.rec.h, Night: n.Night, Now: leads[k].at(n, p.rec.zone), Fold: n.year,
		OtherFolds: p.rec.training == OtherYears})
	if err != nil {
		return said{} // a *MomentError: a lead outside a short night, or no reading
	}
	return said{true, f.MeanC, f.MembersC, f.Band50, f.Band80}
}
