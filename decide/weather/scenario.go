package weather

import (
	"fmt"
	"math"
	"time"
)

// Bounds and defaults of the scenario generator.
const (
	DefaultMembers = 100
	MaxMembers     = 5000
	MaxAhead       = 45 * 24 * time.Hour
)

// Scenario is one possible future on the grid of its Ensemble. NaN in AirTempC
// means the forecast does not reach there; the others are NaN there too.
type Scenario struct {
	AirTempC  []float64
	DewPointC []float64 // never above AirTempC
	WindMS    []float64 // at the station's wind height, >= 0
	Cloud     []float64 // 0..1
	RainMM    []float64 // in the hour that begins at the grid point
	Weight    float64   // share of this member; all weights add up to 1
}

// Note is something the generator took for granted, for the reader to see.
type Note struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Ensemble is many scenarios of the same hours: points Start, Start+1h, ...
type Ensemble struct {
	Start    time.Time // the grid point at or before Now
	Now      time.Time
	N        int
	Members  []Scenario
	Nights   []Night
	Coverage []Coverage // by night
	Notes    []Note
	// IssuedAt is the issue the first covered night comes from.
	IssuedAt time.Time
	// CentralMinC and SpreadK are, by night, the forecast minimum plus bias and
	// the standard deviation drawn about it; NaN where the night is not covered.
	CentralMinC []float64
	SpreadK     []float64
}

// Time returns the instant of grid point i.
func (e *Ensemble) Time(i int) time.Time { return e.Start.Add(time.Duration(i) * time.Hour) }

// NightRange returns the grid points [a,b) of night k.
func (e *Ensemble) NightRange(k int) (a, b int) {
	h := Hourly{Start: e.Start, N: e.N}
	return nightRange(&h, e.Nights[k], e.Now)
}

// NightMinima returns the lowest air temperature of night k in each member, in
// the order of Members; nil when the night is not covered.
func (e *Ensemble) NightMinima(k int) []float64 {
	if !e.Coverage[k].Covered {
		return nil
	}
	a, b := e.NightRange(k)
	out := make([]float64, len(e.Members))
	for m := range e.Members {
		out[m] = lowest(e.Members[m].AirTempC[a:b])
	}
	return out
}

// Weights returns the weights of the members.
func (e *Ensemble) Weights() []float64 {
	out := make([]float64, len(e.Members))
	for m := range e.Members {
		out[m] = e.Members[m].Weight
	}
	return out
}

func lowest(x []float64) float64 {
	low := math.Inf(1)
	for _, v := range x {
		if math.IsNaN(v) {
			return nan
		}
		low = math.Min(low, v)
	}
	return low
}

// Scenarios makes n possible futures from one forecast and the error model of
// its station, from the grid point at or before now to the end of the last
// night. The same inputs and seed give the same members.
//
// Air temperature: forecast + offset + wander. The wander is an AR(1) process
// by the hour. The offset holds through each night and runs in a straight line
// between nights; it is set so that the error of the night's minimum is exactly
// bias + sd * z, z from a stratified normal sample of mean 0 and standard
// deviation 1, correlated from night to night. So the minima of the members
// have the model's mean and spread without sampling noise. Spread grows with
// lead, counted from the issue of the forecast.
//
// Dew point: forecast + error, capped at the air temperature. Cloud: forecast +
// error, kept within 0..1, so a forecast of clear sky can only err towards
// cloud. Wind: forecast times a lognormal factor of median 1 (a forecast below
// CalmWindMS counts as CalmWindMS). Their errors go with
// the night's temperature error as the model says: clear, calm and dry with
// cold. Rain: the forecast times a lognormal
// factor of mean 1, larger when cloudier; rain that the forecast does not have
// at all is not invented.
//
// Humidity, cloud, wind or rain missing from the forecast are replaced by
// stated assumptions of wider spread, each with a Note. Missing air temperature
// is never replaced: the hours stay NaN and Coverage says so.
func Scenarios(forecast Hourly, model ErrorModel, nights []Night, now time.Time, n int, seed uint64) (Ensemble, error) {
	if err := checkScenarioInput(&forecast, &model, nights, now, n); err != nil {
		return Ensemble{}, err
	}
	g := newGenerator(&forecast, &model, nights, now, n)
	rng := newRand(seed)
	g.draws = drawNights(&model, len(nights), n, rng)
	for m := range n {
		g.member(m, rng)
	}
	return g.ens, nil
}

func checkScenarioInput(f *Hourly, model *ErrorModel, nights []Night, now time.Time, n int) error {
	switch {
	case n < 2 || n > MaxMembers:
		return &InputError{"number of scenarios", fmt.Sprint(n), fmt.Sprintf("2 to %d", MaxMembers)}
	case len(nights) == 0 || len(nights) > MaxNights:
		return &InputError{"nights", fmt.Sprint(len(nights)), fmt.Sprintf("1 to %d", MaxNights)}
	case f.Kind == Reading:
		return &InputError{"forecast", "a grid of readings", "a grid of forecasts"}
	case !f.Has(AirTemp):
		return &InputError{"forecast", "without air temperature", "air temperature for the nights ahead"}
	case lastValue(f, AirTemp).Before(now):
		return &InputError{"forecast", "over: its last hour is " + stamp(lastValue(f, AirTemp)), "hours after " + stamp(now)}
	}
	if end := nights[len(nights)-1].End; end.Sub(now) > MaxAhead {
		return &InputError{"last night", "until " + stamp(end), fmt.Sprintf("at most %.0f days ahead of %s", MaxAhead.Hours()/24, stamp(now))}
	}
	for k, nt := range nights {
		if !nt.Sunset.Before(nt.Sunrise) || nt.End.Before(nt.Sunrise) || (k > 0 && nt.Sunset.Before(nights[k-1].End)) {
			return &InputError{fmt.Sprintf("night %d", k+1), stamp(nt.Sunset) + " to " + stamp(nt.End), "nights in order of time, each sunset < sunrise <= end"}
		}
		if !nt.End.After(now) {
			return &InputError{fmt.Sprintf("night %d", k+1), "over since " + stamp(nt.End), "a night that ends after " + stamp(now)}
		}
	}
	for _, s := range f.Sources {
		if s.IssuedAt.After(now) {
			return &InputError{"forecast issue time", stamp(s.IssuedAt), "not after the present moment " + stamp(now)}
		}
	}
	return model.Validate()
}

// generator holds what all members share.
type generator struct {
	model *ErrorModel
	base  baseline
	ens   Ensemble
	draws nightDraws

	lead_h []float64 // by grid point, from issue
	place  []timePlace
	bias_k []float64 // by night
	sd_k   []float64 // by night
	start  []float64 // share of night 1's error that holds at grid point i before night 1
	minC   []float64 // forecast minimum by night, NaN if not covered

	// own is set when the feed brought its own spread: what it says is then taken
	// as it is. ownTemp gives the air temperature of a member before bias.
	own     bool
	ownTemp func(m, i int) float64

	off  []float64 // by night, work space
	path []float64 // by grid point, work space
}

// timePlace places a grid point among the nights: between night a and b, with
// weight w for b. a == b inside a night.
type timePlace struct {
	a, b int
	w    float64
}

func newGenerator(f *Hourly, model *ErrorModel, nights []Night, now time.Time, n int) *generator {
	h := window(f, now, nights[len(nights)-1].End)
	g := &generator{model: model}
	g.ens = Ensemble{Start: h.Start, Now: now, N: h.N, Nights: nights, Members: make([]Scenario, n)}
	g.ens.Coverage = Cover(h, nights, now)
	g.off, g.path = make([]float64, len(nights)), make([]float64, h.N)
	g.place = placeHours(&h, nights)
	g.setLeads(&h, now)
	g.base = newBaseline(&h, g)
	g.noteIssueAge(now)
	return g
}

// window copies f to the grid points from the one at or before now to end,
// gaps where f has none.
func window(f *Hourly, now, end time.Time) Hourly {
	shift := floorHours(now.Sub(f.Start))
	h := NewHourly(f.Time(shift), 0, Forecast)
	h.Sources = f.Sources
	h.N = floorHours(end.Sub(h.Start)) + 1
	for v := range NumVariables {
		if f.Cols[v] == nil {
			continue
		}
		col := h.Col(v)
		for i := range col {
			k := i + shift
			col[i] = f.At(v, k)
			if k >= 0 && k < len(f.From[v]) && f.From[v][k] != NoSource {
				h.setFrom(v, i, f.From[v][k])
			}
		}
	}
	return h
}

func placeHours(h *Hourly, nights []Night) []timePlace {
	out := make([]timePlace, h.N)
	k := 0
	for i := range out {
		t := h.Time(i)
		for k < len(nights)-1 && t.After(nights[k].End) {
			k++
		}
		out[i] = timePlace{k, k, 0}
		if k > 0 && t.Before(nights[k].Sunset) {
			day := nights[k].Sunset.Sub(nights[k-1].End)
			out[i] = timePlace{k - 1, k, float64(t.Sub(nights[k-1].End)) / float64(day)}
		}
	}
	return out
}

// setLeads works out leads, biases and spreads by night.
func (g *generator) setLeads(h *Hourly, now time.Time) {
	nights := g.ens.Nights
	g.lead_h = make([]float64, h.N)
	beyond := false
	for i := range g.lead_h {
		g.lead_h[i] = math.Max(0, h.Time(i).Sub(issueOf(h, i, now)).Hours())
	}
	for k := range nights {
		at := nights[k].Sunrise
		low, when, ok := NightMin(h, nights[k], now)
		if ok {
			at = when
			if g.ens.IssuedAt.IsZero() {
				g.ens.IssuedAt = issueOf(h, h.Index(when), now)
			}
		} else {
			low = nan
		}
		lead := g.lead_h[min(max(h.Index(at), 0), h.N-1)]
		b, s, far := g.model.At(lead)
		beyond = beyond || far
		g.minC = append(g.minC, low)
		g.bias_k, g.sd_k = append(g.bias_k, b), append(g.sd_k, s)
		g.ens.CentralMinC = append(g.ens.CentralMinC, low+b)
		if !ok {
			s = nan
		}
		g.ens.SpreadK = append(g.ens.SpreadK, s)
	}
	if beyond {
		g.note("lead", fmt.Sprintf("Nights more than %d days after the forecast's issue use the spread of day %d.", NumLeads, NumLeads))
	}
	g.start = make([]float64, h.N)
	for i := range g.start {
		_, s, _ := g.model.At(g.lead_h[i])
		g.start[i] = math.Min(1, s/g.sd_k[0])
	}
}

// issueOf returns the issue time of the air temperature at i, or of the first
// value that has one; now when no source says.
func issueOf(h *Hourly, i int, now time.Time) time.Time {
	if s, ok := h.SourceAt(AirTemp, i); ok && !s.IssuedAt.IsZero() {
		return s.IssuedAt
	}
	for k := len(h.Sources) - 1; k >= 0; k-- {
		if !h.Sources[k].IssuedAt.IsZero() {
			return h.Sources[k].IssuedAt
		}
	}
	return now
}

func (g *generator) note(code, text string) {
	g.ens.Notes = append(g.ens.Notes, Note{code, text})
}

func (g *generator) noteIssueAge(now time.Time) {
	switch {
	case g.ens.IssuedAt.IsZero():
	case g.ens.IssuedAt.Equal(now):
	case now.Sub(g.ens.IssuedAt) > 12*time.Hour:
		g.note("old_forecast", fmt.Sprintf("The forecast was issued %.0f hours ago; its spread is that of the longer lead.", now.Sub(g.ens.IssuedAt).Hours()))
	}
}
