package nights

import (
	"fmt"
	"math"
	"time"

	"budward/decide/method"
	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// The twin columns are run through these nights: winds at 2 m (m/s) by cloud
// (share). Scenarios take what a floor is worth to them from between
// (TestTableAgainstBruteForce).
var (
	tableWinds  = [...]float64{0.4, 0.8, 1.8, 4}
	tableClouds = [...]float64{0, 0.3, 0.55, 0.75, 0.9, 1}
)

const (
	numVariants        = len(tableWinds) * len(tableClouds)
	windHoursBeforeMin = 6 // hours up to the minimum over which a night's wind and cloud are taken
)

// future is weather ahead by step with the reference floor's answer to it.
type future struct {
	path method.Path
	ref  [][]method.RefStep // by cordon height
}

// station is a station made ready: its past run through the reference floor,
// its scenarios, and the reference floor's future in every variant.
type station struct {
	def        farm.Station
	in         *StationInput
	ens        weather.Ensemble
	hist       method.Path
	histRef    [][]method.RefStep
	past       history
	start      *method.Reference     // before the past is run: where sites begin
	ref        *method.Reference     // at the present
	central    future                // the scenarios' mean weather
	variants   [][numVariants]future // by night: the night's steps alone
	windFactor float64               // from the station's wind height to 2 m
	hoursAhead int                   // hours of path ahead
	state      StationState
	features   []nightFeatures // by night: what each member's night is like
}

// nightFeatures are what the gain table is entered with, by member.
type nightFeatures struct {
	covered bool
	minC    []float64 // at sensor height
	minAt   []int     // ensemble hour of the minimum
	wind    []float64 // at 2 m, mean of the hours up to the minimum
	cloud   []float64
	dew     []float64 // at the minimum
	past    []bool    // the minimum has been read already: nothing done now changes it
}

// prepare makes a station ready; a station without forecast returns nil and a
// note.
func prepare(st farm.Station, in *StationInput, x *Input, nights []weather.Night) (*station, StationState) {
	state := StationState{StationID: st.ID, Name: st.Name, ForecastFrom: in.Origin, IssuedAt: in.IssuedAt, Notes: in.Notes}
	state.ReadingsTo = lastReading(&in.Readings)
	if in.Forecast.N == 0 || !in.Forecast.Has(weather.AirTemp) {
		state.Notes = append(state.Notes, Note{"no-forecast", fmt.Sprintf("No forecast for station %s: feed one with `budward feed forecast`.", st.ID)})
		return nil, state
	}
	model, learned := weather.Learn(weather.Prior(), in.Pairs)
	state.LearnedNights = learned.Nights
	ens, err := weather.Scenarios(in.Forecast, model, nights, x.Now, x.Members, x.Seed^hash(st.ID))
	if err != nil {
		state.Notes = append(state.Notes, Note{"forecast-unusable", fmt.Sprintf("The forecast for station %s cannot be used: %v.", st.ID, err)})
		return nil, state
	}
	state.Coverage = ens.Coverage
	for _, n := range ens.Notes {
		state.Notes = append(state.Notes, Note{n.Code, n.Text})
	}
	s := &station{def: st, in: in, ens: ens}
	height := st.WindHeightM
	if height <= 0 {
		height = 10
		state.Notes = append(state.Notes, Note{"wind-height", fmt.Sprintf("Station %s: height of the wind not stated, 10 m taken.", st.ID)})
	}
	s.windFactor = method.Wind2(1, height)
	ahead := s.meanHours()
	if len(ahead) < 12 {
		state.Notes = append(state.Notes, Note{"forecast-short", fmt.Sprintf("The forecast for station %s ends within twelve hours: too short to answer for a night.", st.ID)})
		return nil, state
	}
	s.hoursAhead = len(ahead)
	s.past = pastOf(st, in, ens.Start, ahead)
	state.Notes = append(state.Notes, s.past.notes...)
	state.ReadingHours = s.past.known
	if err := s.runReference(ahead, x.cordonHeights(st.ID)); err != nil {
		state.Notes = append(state.Notes, Note{"station-unusable", err.Error()})
		return nil, state
	}
	state.Notes = append(state.Notes, s.snowNote()...)
	s.findFeatures(&state)
	s.state = state
	return s, state
}

// cordonHeights lists the cordon heights of a station's blocks.
func (in *Input) cordonHeights(stationID string) []float64 {
	var out []float64
	for _, b := range in.Farm.Blocks {
		if b.StationID == stationID {
			out = append(out, b.CordonHeightM)
		}
	}
	return out
}

// snowNote says where precipitation fell or is forecast as snow, which is left
// out.
func (s *station) snowNote() []Note {
	mm := 0.0
	for _, h := range append(append([]method.Hour(nil), s.past.hours...), s.meanHours()...) {
		if h.AirC <= method.SnowC {
			mm += h.Rain
		}
	}
	if mm < 1 {
		return nil
	}
	return []Note{{"snow", fmt.Sprintf("Snow at station %s, past or forecast, is not modelled: what it does to the floor is left out.", s.def.ID)}}
}

func lastReading(h *weather.Hourly) time.Time {
	for i := h.N - 1; i >= 0; i-- {
		if !math.IsNaN(h.At(weather.AirTemp, i)) {
			return h.Time(i)
		}
	}
	return time.Time{}
}

func hash(s string) uint64 {
	h := uint64(14695981039346656037) // FNV-1a
	for i := range len(s) {
		h = (h ^ uint64(s[i])) * 1099511628211
	}
	return h
}

// meanHours returns the members' mean weather, hour by hour, as far as air
// temperature reaches.
func (s *station) meanHours() []method.Hour {
	var out []method.Hour
	for i := range s.ens.N {
		h := method.Hour{Solar: math.NaN()}
		for m := range s.ens.Members {
			k := &s.ens.Members[m]
			h.AirC += k.Weight * k.AirTempC[i]
			h.DewC += k.Weight * k.DewPointC[i]
			h.Wind2 += k.Weight * k.WindMS[i] * s.windFactor
			h.Cloud += k.Weight * k.Cloud[i]
			h.Rain += k.Weight * k.RainMM[i]
		}
		if math.IsNaN(h.AirC + h.DewC + h.Wind2 + h.Cloud + h.Rain) {
			break
		}
		out = append(out, h)
	}
	return out
}

func (s *station) place() method.Place {
	return method.Place{LatDeg: s.def.LatDeg, LonDeg: s.def.LonDeg, ElevationM: s.def.ElevationM}
}

func (s *station) runReference(ahead []method.Hour, cordonM []float64) error {
	ref, err := method.NewReference(s.def, cordonM, s.past.soil)
	if err != nil {
		return err
	}
	s.start = ref.Clone()
	s.hist = method.NewPath(s.past.start, s.past.hours, s.place())
	s.histRef = ref.Run(s.hist.Steps)
	s.ref = ref
	s.central.path = method.NewPath(s.ens.Start, ahead, s.place())
	var altered [numVariants]method.Path
	for v := range numVariants {
		altered[v] = method.NewPath(s.ens.Start, s.altered(ahead, tableWinds[v/len(tableClouds)], tableClouds[v%len(tableClouds)]), s.place())
	}
	run := s.ref.Clone()
	done := 0
	s.variants = make([][numVariants]future, len(s.ens.Nights))
	for k := range s.variants {
		a, b, ok := s.steps(k)
		if !ok {
			continue
		}
		s.central.extend(run.Run(s.central.path.Steps[done:a]))
		done = a
		for v := range numVariants {
			s.variants[k][v] = s.oneNight(run, &altered[v], a, b)
		}
	}
	s.central.extend(run.Run(s.central.path.Steps[done:]))
	return nil
}

// extend appends the reference's answer to the steps that follow.
func (f *future) extend(more [][]method.RefStep) {
	if f.ref == nil {
		f.ref = make([][]method.RefStep, len(more))
	}
	for h := range more {
		f.ref[h] = append(f.ref[h], more[h]...)
	}
}

// oneNight runs the reference floor, as it stands at step a, through steps
// [a, b) of a path.
func (s *station) oneNight(ref *method.Reference, p *method.Path, a, b int) future {
	f := future{path: method.Path{Start: p.At(a - 1), Steps: p.Steps[a:b]}}
	f.ref = ref.Clone().Run(f.path.Steps)
	return f
}

// altered returns hours with every night's wind and cloud set.
func (s *station) altered(hours []method.Hour, wind, cloud float64) []method.Hour {
	out := append([]method.Hour(nil), hours...)
	for _, n := range s.ens.Nights {
		for i := range out {
			t := s.ens.Time(i)
			if t.Before(n.Sunset) || t.After(n.Sunrise.Add(time.Hour)) {
				continue
			}
			out[i].Wind2, out[i].Cloud = wind, cloud
		}
	}
	return out
}

// steps returns the range of steps of night k on the paths ahead, from now on
// if it has begun; ok is false where the paths do not reach its end.
func (s *station) steps(k int) (a, b int, ok bool) {
	n := s.ens.Nights[k]
	from := n.Sunset
	if s.ens.Now.After(from) {
		from = s.ens.Now
	}
	p := &s.central.path
	a, b = max(0, p.Index(from)), p.Index(n.End)+1
	// The grid is hourly: its last point may lie short of the end by less than
	// an hour, two hours past sunrise, when the minimum is behind.
	short := b - len(p.Steps)
	b = min(b, len(p.Steps))
	return a, b, s.ens.Coverage[k].Covered && short <= 3600/method.StepS && a < b
}

// findFeatures works out what each member's nights are like. While a night is
// under way, what the station has read in it so far stands for the hours gone:
// where that is lower than anything to come, the minimum is past.
func (s *station) findFeatures(state *StationState) {
	s.features = make([]nightFeatures, len(s.ens.Nights))
	n := len(s.ens.Members)
	for k := range s.features {
		if _, _, ok := s.steps(k); !ok {
			continue
		}
		f := &s.features[k]
		f.covered = true
		f.minC, f.wind, f.cloud, f.dew = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		f.minAt, f.past = make([]int, n), make([]bool, n)
		a, b := s.ens.NightRange(k)
		low, at := s.lowSoFar(k)
		if k == 0 && !at.IsZero() {
			state.LowSoFar, state.LowSoFarAt = &low, at
		}
		for m := range s.ens.Members {
			s.memberFeatures(f, m, a, b)
			if k == 0 && !at.IsZero() && float64(low) <= f.minC[m] {
				f.minC[m], f.past[m] = float64(low), true
			}
		}
	}
}

func (s *station) memberFeatures(f *nightFeatures, m, a, b int) {
	x := &s.ens.Members[m]
	at := a
	for i := a; i < b; i++ {
		if x.AirTempC[i] < x.AirTempC[at] {
			at = i
		}
	}
	f.minC[m], f.minAt[m], f.dew[m] = x.AirTempC[at], at, x.DewPointC[at]
	hours := 0.0
	for i := max(a, at-windHoursBeforeMin); i <= at; i++ {
		f.wind[m] += x.WindMS[i] * s.windFactor
		f.cloud[m] += x.Cloud[i]
		hours++
	}
	f.wind[m] /= hours
	f.cloud[m] /= hours
}

// lowSoFar returns the lowest reading of night k up to now, and when; the zero
// time if the night has not begun or nothing was read in it.
func (s *station) lowSoFar(k int) (low quantity.Celsius, at time.Time) {
	n := s.ens.Nights[k]
	r := &s.in.Readings
	best := math.Inf(1)
	if r.N == 0 || s.ens.Now.Before(n.Sunset) {
		return 0, time.Time{}
	}
	for i := r.Index(n.Sunset); i < r.N && !r.Time(i).After(s.ens.Now); i++ {
		v := r.At(weather.AirTempMin, i)
		if math.IsNaN(v) {
			v = r.At(weather.AirTemp, i)
		}
		if v < best {
			best, at = v, r.Time(i)
		}
	}
	return quantity.Celsius(best), at
}
