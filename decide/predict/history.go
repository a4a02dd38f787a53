package predict

import (
	"math"
	"slices"
	"time"

	"budward/decide/weather"
)

// Place is where a station stands, in degrees; north and east are positive.
type Place struct {
	LatDeg float64 `json:"lat_deg"`
	LonDeg float64 `json:"lon_deg"`
}

// History holds the nights a station's model learns from. It is not for use by
// several goroutines while nights are added; Predict alone may run in parallel.
type History struct {
	place  Place
	nights []pastNight
}

type pastNight struct {
	sunset, end time.Time
	fold        int
	rows        []row // with their air temperature and that of the rest of the night
}

// NewHistory returns a history without nights: predictions from it are the
// stated prior alone.
func NewHistory(place Place) *History { return &History{place: place} }

// Nights returns how many nights have been added.
func (p *History) Nights() int { return len(p.nights) }

// Add takes in a night that is over, in any order. fold names the season it
// belongs to, such as the year: bands are calibrated in folds a fit has not seen.
// It returns false, and takes nothing, unless every hour of the night has an air
// temperature, or when the night is there already.
func (p *History) Add(h *weather.Hourly, n weather.Night, fold int) bool {
	if _, _, whole := weather.NightMin(h, n, n.Sunset); !whole {
		return false
	}
	night := pastNight{sunset: n.Sunset, end: n.End, fold: fold}
	first := h.Index(n.Sunset)
	last := first
	for last+1 < h.N && !h.Time(last+1).After(n.End) {
		last++
	}
	later := lowest(h, last, last)
	for i := last - 1; i >= first; i-- {
		if w, ok := rowAt(h, n, p.place, first, i); ok {
			w.laterC = later
			night.rows = append(night.rows, w)
		}
		later = math.Min(later, lowest(h, i, i))
	}
	at, known := slices.BinarySearchFunc(p.nights, n.Sunset, func(u pastNight, t time.Time) int { return u.sunset.Compare(t) })
	if known {
		return false
	}
	p.nights = slices.Insert(p.nights, at, night)
	return true
}

// sample is a row of a past night that resembles the row to be predicted.
type sample struct {
	row    *row
	fold   int
	weight float64
}

// The weight of a past night falls with its distance in the season, as a normal
// curve of this width; nights of weight below minWeight are left out.
const (
	seasonWidthDays = 50.0
	minWeight       = 0.02
)

// matchH is how far, in hours, a past night's row may lie from the one predicted,
// in time since sunset and time to sunrise taken together.
const matchH = 2.5

// samples picks one row of each usable night: the one nearest in time since
// sunset and to sunrise. They come in order of time.
func (p *History) samples(q *Query, w *row) []sample {
	var out []sample
	for k := range p.nights {
		u := &p.nights[k]
		past := !u.end.After(q.Now)
		if !past && !(q.OtherFolds && u.fold != q.Fold) {
			continue
		}
		weight := seasonWeight(u.sunset, q.Night.Sunset)
		if weight < minWeight {
			continue
		}
		best, at := matchH*matchH, -1
		for j := range u.rows {
			ds, dl := u.rows[j].sinceH-w.sinceH, u.rows[j].leftH-w.leftH
			if d := ds*ds + dl*dl; d < best {
				best, at = d, j
			}
		}
		if at >= 0 {
			out = append(out, sample{&u.rows[at], u.fold, weight})
		}
	}
	return out
}

func seasonWeight(a, b time.Time) float64 {
	d := math.Abs(float64(a.UTC().YearDay() - b.UTC().YearDay()))
	d = math.Min(d, 365.25-d)
	return math.Exp(-d * d / (2 * seasonWidthDays * seasonWidthDays))
}

// choose returns the groups to predict with and the samples that know them all:
// those of w, less any that so few past nights have that the rest of what is
// known would be thrown away for it.
func choose(w *row, all []sample) (groupSet, []sample) {
	const (
		enough = 60.0 // nights; below it a group may be given up
		gain   = 1.5  // for at least this many times the nights
	)
	count := func(s groupSet) float64 {
		n := 0.0
		for i := range all {
			if all[i].row.known.holds(s) {
				n += all[i].weight
			}
		}
		return n
	}
	use := w.known
	for {
		have := count(use)
		if have >= enough {
			break
		}
		best, drop := math.Max(gain*have, 1), Air
		for g := Air + 1; g < numGroups; g++ {
			if use.has(g) {
				if n := count(use.without(g)); n > best {
					best, drop = n, g
				}
			}
		}
		if drop == Air {
			break
		}
		use = use.without(drop)
	}
	var kept []sample
	for i := range all {
		if all[i].row.known.holds(use) {
			kept = append(kept, all[i])
		}
	}
	return use, kept
}
