package weather

import (
	"math"
	"time"
)

// MaxHours bounds the length of an hourly grid: 30 years.
const MaxHours = 30 * 8784

// NewHourly returns an empty grid of n hours; variables are added with Col.
func NewHourly(start time.Time, n int, kind Kind) Hourly {
	if n < 0 || n > MaxHours {
		panic("weather: NewHourly: length out of range")
	}
	return Hourly{Start: start.UTC(), N: n, Kind: kind}
}

// Time returns the instant of grid point i.
func (h *Hourly) Time(i int) time.Time { return h.Start.Add(time.Duration(i) * time.Hour) }

// End returns the instant of the last grid point; the zero time if N is 0.
func (h *Hourly) End() time.Time {
	if h.N == 0 {
		return time.Time{}
	}
	return h.Time(h.N - 1)
}

// Index returns the first grid point at or after t, which may be N.
func (h *Hourly) Index(t time.Time) int {
	d := t.Sub(h.Start)
	if d <= 0 {
		return 0
	}
	i := int((d + time.Hour - 1) / time.Hour)
	return min(i, h.N)
}

// Has says whether v has at least one value.
func (h *Hourly) Has(v Variable) bool {
	for _, x := range h.Cols[v] {
		if !math.IsNaN(x) {
			return true
		}
	}
	return false
}

// At returns the value of v at grid point i; NaN is a gap, as is an absent
// variable or a point outside the grid.
func (h *Hourly) At(v Variable, i int) float64 {
	if i < 0 || i >= len(h.Cols[v]) {
		return nan
	}
	return h.Cols[v][i]
}

// FlagAt returns the flags of the value of v at i; 0 = taken as it came.
func (h *Hourly) FlagAt(v Variable, i int) Flag {
	if i < 0 || i >= len(h.Flags[v]) {
		return 0
	}
	return h.Flags[v][i]
}

// SourceAt returns the batch the value of v at i came from.
func (h *Hourly) SourceAt(v Variable, i int) (SourceRef, bool) {
	if i < 0 || i >= len(h.From[v]) || h.From[v][i] == NoSource {
		return SourceRef{}, false
	}
	return h.Sources[h.From[v][i]], true
}

// Gaps counts the missing hours of v over the whole grid.
func (h *Hourly) Gaps(v Variable) int {
	if h.Cols[v] == nil {
		return h.N
	}
	n := 0
	for _, x := range h.Cols[v] {
		if math.IsNaN(x) {
			n++
		}
	}
	return n
}

// Col returns the column of v, made as gaps throughout if absent.
func (h *Hourly) Col(v Variable) []float64 {
	if h.Cols[v] == nil {
		h.Cols[v] = make([]float64, h.N)
		for i := range h.Cols[v] {
			h.Cols[v][i] = nan
		}
	}
	return h.Cols[v]
}

// setFlag adds bits to the flags of v at i.
func (h *Hourly) setFlag(v Variable, i int, f Flag) {
	if f == 0 {
		return
	}
	if h.Flags[v] == nil {
		h.Flags[v] = make([]Flag, h.N)
	}
	h.Flags[v][i] |= f
}

// setFrom records the source of v at i.
func (h *Hourly) setFrom(v Variable, i int, src int16) {
	if h.From[v] == nil {
		h.From[v] = make([]int16, h.N)
		for k := range h.From[v] {
			h.From[v][k] = NoSource
		}
	}
	h.From[v][i] = src
}

// Clone returns a deep copy of h.
func (h *Hourly) Clone() Hourly {
	c := *h
	c.Sources = append([]SourceRef(nil), h.Sources...)
	for v := range NumVariables {
		c.Cols[v] = append([]float64(nil), h.Cols[v]...)
		c.From[v] = append([]int16(nil), h.From[v]...)
		c.Flags[v] = append([]Flag(nil), h.Flags[v]...)
	}
	return c
}

// FillReport counts what FillShort did, by variable.
type FillReport struct {
	Filled [NumVariables]int // values written
	Left   [NumVariables]int // gaps inside the series that were too long
}

// FillShort returns a copy of h in which gaps of at most maxHours hours between
// two known values are filled on the straight line between them, each filled
// value flagged FlagFilled and counted. Longer gaps, gaps at either end, absent
// variables and rain (an amount, not a state) stay gaps. Nothing in this
// package calls it unasked.
func FillShort(h Hourly, maxHours int) (Hourly, FillReport) {
	if maxHours < 0 {
		panic("weather: FillShort: negative maxHours")
	}
	out := h.Clone()
	var rep FillReport
	for v := range NumVariables {
		if out.Cols[v] == nil || v == Rain {
			continue
		}
		col, last := out.Cols[v], -1
		for i, x := range col {
			if math.IsNaN(x) {
				continue
			}
			if gap := i - last - 1; last >= 0 && gap > 0 {
				if gap <= maxHours {
					out.fillBetween(v, last, i)
					rep.Filled[v] += gap
				} else {
					rep.Left[v] += gap
				}
			}
			last = i
		}
	}
	return out, rep
}

func (h *Hourly) fillBetween(v Variable, a, b int) {
	col := h.Cols[v]
	for k := a + 1; k < b; k++ {
		w := float64(k-a) / float64(b-a)
		col[k] = col[a] + w*(col[b]-col[a])
		h.setFlag(v, k, FlagFilled)
		if h.From[v] != nil {
			h.From[v][k] = h.From[v][a]
		}
	}
}

// Slice returns the part of h whose instants t satisfy from <= t <= to. The
// columns share memory with h.
func (h *Hourly) Slice(from, to time.Time) Hourly {
	a := h.Index(from)
	b := a
	for b < h.N && !h.Time(b).After(to) {
		b++
	}
	out := *h
	out.Start, out.N = h.Time(a), b-a
	for v := range NumVariables {
		if h.Cols[v] != nil {
			out.Cols[v] = h.Cols[v][a:b]
		}
		if h.From[v] != nil {
			out.From[v] = h.From[v][a:b]
		}
		if h.Flags[v] != nil {
			out.Flags[v] = h.Flags[v][a:b]
		}
	}
	return out
}
