package weather

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// GridReport counts what Grid did to get from samples to hours.
type GridReport struct {
	Samples       int // samples inside the window looked at
	Duplicates    int // readings of one variable at one time beyond the first
	Conflicts     int // of these, how many disagreed
	Superseded    int // forecast values replaced by a later issue
	Interpolated  int // forecast values taken between two samples
	PartialHours  int // reading hours left as gaps: too little of the hour was covered
	NotNumbers    int // NaN or infinite samples passed over
	DerivedMinima int // hourly minima taken from sub-hourly air temperature
}

// The share of an hour that readings must cover before their mean stands for
// it: half for a state; for rain the whole, or the sum would be too small.
const (
	minStateCover = 0.5
	minRainCover  = 0.95 // clocks of loggers wander by a few minutes
)

// Grid puts samples of one station and one kind on an hourly grid with points
// from, from+1h, ... not after to. Gaps are NaN; each value keeps the batch it
// came from.
//
// Readings: grid point t holds the readings in (t-1h, t], their mean (rain: sum,
// AirTempMin: lowest). A series is expected every so often (the median step);
// an hour less than half covered (rain: not wholly covered) is a gap and is
// counted in PartialHours. AirTempMin absent is derived from air temperature
// read at least every 20 minutes, and flagged. Of readings of one variable at
// one time the one fed last counts (within a batch, the one further down);
// duplicates and disagreeing duplicates are counted.
//
// Forecasts: grid point t holds the value for t. Of several issues the latest
// that has a value for t counts. Samples off the grid's minute (half-hour
// zones) are interpolated between two of the same issue at most an hour apart
// and flagged; anything wider is a gap.
//
// An error is an *InputError: mixed kinds or stations, an empty window, a
// window beyond MaxHours, a forecast without issue time.
func Grid(batches []Batch, from, to time.Time) (Hourly, GridReport, error) {
	var rep GridReport
	kind, err := checkBatches(batches, from, to)
	if err != nil {
		return Hourly{}, rep, err
	}
	n := int(to.Sub(from)/time.Hour) + 1
	h := NewHourly(from, n, kind)
	order := make([]int, len(batches))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if c := batches[a].IssuedAt.Compare(batches[b].IssuedAt); c != 0 {
			return c
		}
		return batches[a].FedAt.Compare(batches[b].FedAt)
	})
	for _, bi := range order {
		b := &batches[bi]
		h.Sources = append(h.Sources, SourceRef{b.Origin, b.IssuedAt, b.FedAt})
	}
	if kind == Forecast {
		for k, bi := range order {
			series := split(batches[bi:bi+1], []int{0}, h.Start.Add(-time.Hour), h.End().Add(2*time.Hour), &rep)
			for v := range NumVariables {
				h.placeForecast(v, dedupe(series[v], &rep), int16(k), &rep)
			}
		}
		return h, rep, nil
	}
	series := split(batches, order, h.Start.Add(-time.Hour), h.End(), &rep)
	for v := range NumVariables {
		derive := v == AirTemp && len(series[AirTempMin]) == 0
		h.placeReadings(v, dedupe(series[v], &rep), derive, &rep)
	}
	return h, rep, nil
}

// GridStart returns the grid origin for a forecast or a run of readings that
// begins at t: the same whole UTC hour or the one before.
func GridStart(t time.Time) time.Time { return t.UTC().Truncate(time.Hour) }

func checkBatches(batches []Batch, from, to time.Time) (Kind, error) {
	if len(batches) == 0 {
		return "", &InputError{"batches", "empty", "at least one batch of readings or forecasts"}
	}
	if len(batches) > math.MaxInt16 {
		return "", &InputError{"batches", fmt.Sprint(len(batches)), fmt.Sprintf("at most %d at a time", math.MaxInt16)}
	}
	if !from.Before(to) {
		return "", &InputError{"window", stamp(from) + " to " + stamp(to), "a start before its end"}
	}
	if to.Sub(from) > MaxHours*time.Hour {
		return "", &InputError{"window", stamp(from) + " to " + stamp(to), fmt.Sprintf("at most %d hours", MaxHours)}
	}
	for i := range batches {
		b := &batches[i]
		switch {
		case b.Kind != Reading && b.Kind != Forecast:
			return "", &InputError{"kind of batch " + b.Origin, quote(string(b.Kind)), "reading or forecast"}
		case b.Kind != batches[0].Kind:
			return "", &InputError{"kind of batch " + b.Origin, string(b.Kind), string(batches[0].Kind) + " as in the first batch"}
		case b.StationID != batches[0].StationID:
			return "", &InputError{"station of batch " + b.Origin, quote(b.StationID), quote(batches[0].StationID) + " as in the first batch"}
		case b.Kind == Forecast && b.IssuedAt.IsZero():
			return "", &InputError{"issue time of forecast " + b.Origin, "unknown", "the time it was issued (without it the later issue cannot win)"}
		}
	}
	return batches[0].Kind, nil
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04Z") }

// point is one sample on its way to the grid.
type point struct {
	at  time.Time
	val float64
	src int16 // position in the order of sources
	seq int   // position in its batch
}

// split sorts the samples with lo < at <= hi by variable and time.
func split(batches []Batch, order []int, lo, hi time.Time, rep *GridReport) [NumVariables][]point {
	var out [NumVariables][]point
	for k, bi := range order {
		for j, s := range batches[bi].Samples {
			if !s.At.After(lo) || s.At.After(hi) {
				continue
			}
			rep.Samples++
			if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
				rep.NotNumbers++
				continue
			}
			out[s.Var] = append(out[s.Var], point{s.At, s.Value, int16(k), j})
		}
	}
	for v := range out {
		slices.SortFunc(out[v], func(a, b point) int {
			if c := a.at.Compare(b.at); c != 0 {
				return c
			}
			if a.src != b.src {
				return int(a.src) - int(b.src)
			}
			return a.seq - b.seq
		})
	}
	return out
}

// dedupe keeps the last of the points at one time.
func dedupe(ps []point, rep *GridReport) []point {
	out := ps[:0]
	for _, p := range ps {
		if k := len(out) - 1; k >= 0 && out[k].at.Equal(p.at) {
			rep.Duplicates++
			if out[k].val != p.val {
				rep.Conflicts++
			}
			out[k] = p
			continue
		}
		out = append(out, p)
	}
	return out
}

// medianStep returns the usual time between neighbours; an hour if unknown.
func medianStep(ps []point) time.Duration {
	if len(ps) < 2 {
		return time.Hour
	}
	d := make([]time.Duration, 0, len(ps)-1)
	for i := 1; i < len(ps); i++ {
		d = append(d, ps[i].at.Sub(ps[i-1].at))
	}
	slices.Sort(d)
	return d[len(d)/2]
}

func (h *Hourly) placeReadings(v Variable, ps []point, derive bool, rep *GridReport) {
	if len(ps) == 0 {
		return
	}
	step := medianStep(ps)
	need := minStateCover
	if v == Rain {
		need = minRainCover
	}
	h.Col(v)
	deriveMin := derive && step <= 20*time.Minute
	for a := 0; a < len(ps); {
		i := h.Index(ps[a].at)
		b := a
		sum, low, covered := 0.0, math.Inf(1), time.Duration(0)
		for b < len(ps) && h.Index(ps[b].at) == i {
			sum += ps[b].val
			low = math.Min(low, ps[b].val)
			covered += stretch(ps, b, step)
			b++
		}
		switch {
		case covered.Hours() < need:
			rep.PartialHours++
		default:
			h.setReading(v, i, ps[a:b], sum, low)
			if deriveMin {
				h.Col(AirTempMin)[i] = low
				h.setFlag(AirTempMin, i, FlagDerived)
				h.setFrom(AirTempMin, i, ps[b-1].src)
				rep.DerivedMinima++
			}
		}
		a = b
	}
}

// stretch is the time that point b speaks for: back to its predecessor, but
// never more than one and a half usual steps.
func stretch(ps []point, b int, step time.Duration) time.Duration {
	if b == 0 {
		return step
	}
	return min(ps[b].at.Sub(ps[b-1].at), step+step/2)
}

func (h *Hourly) setReading(v Variable, i int, ps []point, sum, low float64) {
	x := sum / float64(len(ps))
	switch v {
	case Rain:
		x = sum
	case AirTempMin:
		x = low
	}
	h.Cols[v][i] = x
	h.setFrom(v, i, ps[len(ps)-1].src)
	if len(ps) > 1 {
		h.setFlag(v, i, FlagMean)
	}
}

func (h *Hourly) placeForecast(v Variable, ps []point, src int16, rep *GridReport) {
	if len(ps) == 0 {
		return
	}
	col := h.Col(v)
	subHourly := v == Rain && medianStep(ps) < time.Hour
	j := 0
	for i := range col {
		t := h.Time(i)
		for j < len(ps) && ps[j].at.Before(t) {
			j++
		}
		x, f := nan, Flag(0)
		switch {
		case subHourly:
			x, f = sumHour(ps[j:], t)
		case j < len(ps) && ps[j].at.Equal(t):
			x = ps[j].val
		case j > 0 && j < len(ps) && ps[j].at.Sub(ps[j-1].at) <= time.Hour:
			w := t.Sub(ps[j-1].at).Seconds() / ps[j].at.Sub(ps[j-1].at).Seconds()
			x, f = ps[j-1].val+w*(ps[j].val-ps[j-1].val), FlagInterpolated
			rep.Interpolated++
		}
		if math.IsNaN(x) {
			continue
		}
		if !math.IsNaN(col[i]) {
			rep.Superseded++
			if h.Flags[v] != nil {
				h.Flags[v][i] = 0
			}
		}
		col[i] = x
		h.setFrom(v, i, src)
		h.setFlag(v, i, f)
	}
}

// sumHour adds sub-hourly forecast rain in [t, t+1h); NaN if steps are missing.
func sumHour(ps []point, t time.Time) (float64, Flag) {
	sum, n := 0.0, 0
	for n < len(ps) && ps[n].at.Before(t.Add(time.Hour)) {
		sum += ps[n].val
		n++
	}
	if n == 0 || !ps[0].at.Equal(t) {
		return nan, 0
	}
	step := time.Hour / time.Duration(n)
	for k := 1; k < n; k++ {
		if ps[k].at.Sub(ps[k-1].at) != step {
			return nan, 0
		}
	}
	return sum, FlagMean
}
