package weather

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// QuantileForecast is a forecast that brings quantiles of the air temperature.
type QuantileForecast struct {
	Forecast Hourly      // the other variables; its air temperature is not used
	Levels   []float64   // rising, inside 0..1, at least two; such as 0.1, 0.5, 0.9
	AirTempC [][]float64 // by level and grid point of Forecast
}

// FromMembers makes scenarios out of a feed's own members, one for each, all on
// one grid. What the members say is taken as it is, the learned bias added to
// the air temperature; what they leave out is assumed as in Scenarios. A night
// is covered when every member covers it.
func FromMembers(members []Hourly, model ErrorModel, nights []Night, now time.Time, seed uint64) (Ensemble, error) {
	n := len(members)
	for m := range members {
		h := &members[m]
		if err := checkScenarioInput(h, &model, nights, now, n); err != nil {
			return Ensemble{}, err
		}
		if !h.Start.Equal(members[0].Start) || h.N != members[0].N {
			return Ensemble{}, &InputError{fmt.Sprintf("member %d", m+1), fmt.Sprintf("%d hours from %s", h.N, stamp(h.Start)), "the grid of the first member"}
		}
	}
	if n == 0 {
		return Ensemble{}, &InputError{"members", "none", "at least two"}
	}
	g := newGenerator(&members[0], &model, nights, now, n)
	notes, cover := g.ens.Notes, g.ens.Coverage
	rng := newRand(seed)
	g.draws = drawNights(&model, len(nights), n, rng)
	g.own = true
	g.ownTemp = func(_, i int) float64 { return g.base.temp[i] }
	for m := range members {
		h := window(&members[m], now, nights[len(nights)-1].End)
		g.ens.Notes = nil
		for k, nt := range nights {
			low, _, ok := NightMin(&h, nt, now)
			if !ok {
				low = nan
			}
			g.minC[k] = low
		}
		g.base = newBaseline(&h, g)
		g.member(m, rng)
		for k, c := range Cover(h, nights, now) {
			if cover[k].Covered && !c.Covered {
				cover[k] = c
			}
		}
		for _, nt := range g.ens.Notes {
			if !slices.ContainsFunc(notes, func(o Note) bool { return o.Code == nt.Code }) {
				nt.Text = fmt.Sprintf("Member %d: %s", m+1, nt.Text)
				notes = append(notes, nt)
			}
		}
	}
	g.ens.Notes, g.ens.Coverage = notes, cover
	g.note("own_members", "The forecast's own members are used; their spread is not adjusted to this station.")
	g.summarise()
	return g.ens, nil
}

// FromQuantiles makes n scenarios out of quantiles of the air temperature. Each
// member keeps one rank through a night, correlated from night to night as the
// error model says; the learned bias is added. Between levels the quantiles are
// interpolated on the scale of the normal distribution; beyond the outermost
// the last slope is continued, with a Note. The other variables are as in
// Scenarios.
func FromQuantiles(q QuantileForecast, model ErrorModel, nights []Night, now time.Time, n int, seed uint64) (Ensemble, error) {
	if err := q.check(); err != nil {
		return Ensemble{}, err
	}
	z := make([]float64, len(q.Levels))
	for i, p := range q.Levels {
		z[i] = normalQuantile(p)
	}
	// The middle stands in as the forecast, a gap wherever a level has one.
	f := q.Forecast.Clone()
	col := make([]float64, f.N)
	for i := range col {
		col[i] = q.at(z, i, 0)
	}
	f.Cols[AirTemp] = col
	if err := checkScenarioInput(&f, &model, nights, now, n); err != nil {
		return Ensemble{}, err
	}
	g := newGenerator(&f, &model, nights, now, n)
	rng := newRand(seed)
	g.draws = drawNights(&model, len(nights), n, rng)
	shift := floorHours(now.Sub(f.Start))
	g.ownTemp = func(m, i int) float64 { return q.at(z, i+shift, at(g.draws.temp, g.place[i], m)) }
	for m := range n {
		g.member(m, rng)
	}
	g.note("own_quantiles", fmt.Sprintf("The forecast's own quantiles are used; below %g %% and above %g %% they are continued as a normal distribution.",
		100*q.Levels[0], 100*q.Levels[len(q.Levels)-1]))
	g.summarise()
	return g.ens, nil
}

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x6275647761726421)) }

// summarise sets centre and spread of the night minima from the members.
func (g *generator) summarise() {
	for k := range g.ens.Nights {
		low := g.ens.NightMinima(k)
		g.ens.CentralMinC[k], g.ens.SpreadK[k] = nan, nan
		if low == nil {
			continue
		}
		mean, ss, n := 0.0, 0.0, float64(len(low))
		for _, x := range low {
			mean += x / n
		}
		for _, x := range low {
			ss += (x - mean) * (x - mean) / n
		}
		g.ens.CentralMinC[k], g.ens.SpreadK[k] = mean, math.Sqrt(ss)
	}
}

func (q *QuantileForecast) check() error {
	if len(q.Levels) < 2 || len(q.Levels) != len(q.AirTempC) {
		return &InputError{"quantile levels", fmt.Sprintf("%d with %d columns", len(q.Levels), len(q.AirTempC)), "two or more, one column for each"}
	}
	for l, p := range q.Levels {
		if !(p > 0 && p < 1) || (l > 0 && p <= q.Levels[l-1]) {
			return &InputError{"quantile levels", fmt.Sprint(q.Levels), "rising shares between 0 and 1"}
		}
		if len(q.AirTempC[l]) != q.Forecast.N {
			return &InputError{fmt.Sprintf("quantile %g", p), fmt.Sprintf("%d hours", len(q.AirTempC[l])), fmt.Sprintf("%d hours", q.Forecast.N)}
		}
		for i := range q.AirTempC[l] {
			if l > 0 && q.AirTempC[l][i] < q.AirTempC[l-1][i] {
				return &InputError{fmt.Sprintf("quantile %g at %s", p, stamp(q.Forecast.Time(i))), fmt.Sprint(q.AirTempC[l][i]),
					fmt.Sprintf("not below the level under it, %v", q.AirTempC[l-1][i])}
			}
		}
	}
	return nil
}

// at returns the quantile at normal score u of grid point i; z are the scores
// of the levels. NaN outside the grid and where any level is a gap.
func (q *QuantileForecast) at(z []float64, i int, u float64) float64 {
	if i < 0 || i >= q.Forecast.N {
		return nan
	}
	for l := range z {
		if math.IsNaN(q.AirTempC[l][i]) {
			return nan
		}
	}
	l := 1
	for l < len(z)-1 && u > z[l] {
		l++
	}
	a, b := q.AirTempC[l-1][i], q.AirTempC[l][i]
	return a + (b-a)*(u-z[l-1])/(z[l]-z[l-1])
}
