package trial

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// Pair is one night that counts.
type Pair struct {
	Evening sky.Date `json:"evening"`
	Label   string   `json:"label"`
	Kind    Kind     `json:"session"`
	Over    Sensor   `json:"over"`
	AMinC   float64  `json:"a_min_c"`
	BMinC   float64  `json:"b_min_c"`
	DiffK   float64  `json:"a_less_b_k"`
	WindMS  float64  `json:"wind_m_s"` // mean up to the minimum; NaN = not read
}

// Excluded is one night of a session that does not count, and why.
type Excluded struct {
	Evening sky.Date `json:"evening"`
	Label   string   `json:"label"`
	Kind    Kind     `json:"session"`
	Over    Sensor   `json:"over"`
	Why     string   `json:"why"`
}

// Weather is what the nights that count with both thermometers in their places
// were like, for the model; NaN = not read.
type Weather struct {
	Nights int     `json:"n"`
	LowC   float64 `json:"low_c"`    // mean minimum beside the measured floor
	HighC  float64 `json:"high_c"`   // mean of the highest of the days before
	DewC   float64 `json:"dew_c"`    // mean dew point of the nights
	WindMS float64 `json:"wind_m_s"` // mean wind up to the minimum
	// Middle is the evening in the middle of them.
	Middle sky.Date `json:"middle"`
}

// records are the two thermometers on one grid.
type records struct {
	a, b  weather.Hourly
	flags []Flag
}

const (
	dayBefore   = 24 * time.Hour // looked at for the day's highest
	manyHours   = 18             // hours of that which must be there
	quickLogger = 20 * time.Minute
)

// lay screens both records and puts them on one grid.
func lay(in *Input) (*records, error) {
	r := &records{}
	var from, to time.Time
	screened := func(name string, list []weather.Batch) ([]weather.Batch, error) {
		var out []weather.Batch
		for i := range list {
			if list[i].Kind != weather.Reading {
				return nil, &InputError{"record " + list[i].Origin, string(list[i].Kind), "readings"}
			}
			b, rep := weather.Screen(list[i], in.Now, nil)
			b.StationID = name // a thermometer may be called what its owner likes
			for _, x := range rep.Runs {
				if x.Var == weather.AirTemp || x.Var == weather.AirTempMin {
					r.flag("screened", "%s: %s: %s.", name, b.Origin, x.Text)
				}
			}
			for _, s := range b.Samples {
				if from.IsZero() || s.At.Before(from) {
					from = s.At
				}
				if s.At.After(to) {
					to = s.At
				}
			}
			out = append(out, b)
		}
		return out, nil
	}
	a, err := screened("thermometer A", in.A)
	if err != nil {
		return nil, err
	}
	b, err := screened("thermometer B", in.B)
	if err != nil {
		return nil, err
	}
	if !from.Before(to) {
		return nil, &InputError{"records", "without readings that can be used", "readings of air temperature"}
	}
	start, end := weather.GridStart(from), to.Add(time.Hour)
	if r.a, _, err = weather.Grid(a, start, end); err != nil {
		return nil, err
	}
	if r.b, _, err = weather.Grid(b, start, end); err != nil {
		return nil, err
	}
	r.a, _ = weather.WithDewPoint(r.a)
	r.b, _ = weather.WithDewPoint(r.b)
	if am, bm := r.a.Has(weather.AirTempMin), r.b.Has(weather.AirTempMin); am != bm {
		r.a.Cols[weather.AirTempMin], r.b.Cols[weather.AirTempMin] = nil, nil
		r.flag("log-unlike", "One thermometer is read at least every %v and the other is not: hourly values are compared, not the lowest within the hour. Set both alike.", quickLogger)
	}
	return r, nil
}

func (r *records) flag(code, format string, a ...any) {
	if len(r.flags) < maxFlags {
		r.flags = append(r.flags, Flag{code, fmt.Sprintf(format, a...)})
	}
}

const maxFlags = 40

// pairNights goes through the sessions night by night.
func pairNights(in *Input, r *records) (pairs []Pair, out []Excluded, err error) {
	zone := in.zone()
	for _, s := range in.Sessions {
		for d := s.From; !s.To.Before(d); d = d.AddDays(1) {
			n, err := weather.NightOn(d, in.LatDeg, in.LonDeg, zone)
			var never *weather.NoNightError
			if errors.As(err, &never) {
				out = append(out, Excluded{d, d.String(), s.Kind, s.Over, "the sun does not set, or does not rise again"})
				continue
			}
			if err != nil {
				return nil, nil, err
			}
			p := Pair{Evening: d, Label: n.Label, Kind: s.Kind, Over: s.Over, WindMS: math.NaN()}
			if why := r.night(in, n, &p); why != "" {
				out = append(out, Excluded{d, n.Label, s.Kind, s.Over, why})
				continue
			}
			pairs = append(pairs, p)
		}
	}
	return pairs, out, nil
}

// zone is that of the evenings.
func (in *Input) zone() *time.Location {
	if in.Zone != nil {
		return in.Zone
	}
	hours := int(math.Round(in.LonDeg / 15))
	return time.FixedZone(fmt.Sprintf("UTC%+d", hours), hours*3600)
}

// night fills in p; why says why the night does not count.
func (r *records) night(in *Input, n weather.Night, p *Pair) (why string) {
	if n.End.After(in.Now) {
		return "not over yet"
	}
	var okA, okB bool
	var at time.Time
	p.AMinC, at, okA = weather.NightMin(&r.a, n, n.Sunset)
	p.BMinC, _, okB = weather.NightMin(&r.b, n, n.Sunset)
	switch {
	case !okA && !okB:
		return "hours without a reading of both thermometers"
	case !okA:
		return "hours without a reading of thermometer A"
	case !okB:
		return "hours without a reading of thermometer B"
	}
	p.DiffK = p.AMinC - p.BMinC
	c := r.course(n)
	reasons := append(r.sky(in, n, at, p), c.shape(in, n)...)
	return strings.Join(reasons, "; ")
}

// sky holds wind, cloud and rain against the rules, where they were read.
func (r *records) sky(in *Input, n weather.Night, minAt time.Time, p *Pair) (why []string) {
	from, to := n.Sunset.Add(time.Hour), minAt
	if to.Before(from.Add(time.Hour)) {
		to = n.Sunrise
	}
	if p.WindMS = r.mean(weather.Wind, from, to); p.WindMS > in.Rules.MaxWindMS {
		why = append(why, "wind "+in.Units.Wind(quantity.MetrePerSecond(p.WindMS)))
	}
	if c := r.mean(weather.Cloud, from, to); c > in.Rules.MaxCloud {
		why = append(why, fmt.Sprintf("cloud %.0f %%", 100*c))
	}
	if mm := r.rain(n.Sunset, n.Sunrise); mm > in.Rules.MaxRainMM {
		why = append(why, "rain "+in.Units.Depth(quantity.Millimetre(mm)))
	}
	return why
}

// mean is that of the hours in (from, to] that were read, beside A or else beside
// B; NaN if fewer than half were.
func (r *records) mean(v weather.Variable, from, to time.Time) float64 {
	for _, h := range []*weather.Hourly{&r.a, &r.b} {
		sum, n, all := 0.0, 0, 0
		for i := h.Index(from); i < h.N && !h.Time(i).After(to); i++ {
			all++
			if x := h.At(v, i); !math.IsNaN(x) {
				sum, n = sum+x, n+1
			}
		}
		if n > 0 && 2*n >= all {
			return sum / float64(n)
		}
	}
	return math.NaN()
}

// rain is what was read in (from, to]: the larger of the two records.
func (r *records) rain(from, to time.Time) (mm float64) {
	for _, h := range []*weather.Hourly{&r.a, &r.b} {
		sum := 0.0
		for i := h.Index(from.Add(time.Second)); i < h.N && !h.Time(i).After(to); i++ {
			if x := h.At(weather.Rain, i); x > 0 {
				sum += x
			}
		}
		mm = math.Max(mm, sum)
	}
	return mm
}

// course is the mean of the two thermometers through a night, hour by hour.
type course struct {
	at []time.Time
	c  []float64
}

func (r *records) course(n weather.Night) course {
	var out course
	for i := r.a.Index(n.Sunset); i < r.a.N && !r.a.Time(i).After(n.End); i++ {
		out.at = append(out.at, r.a.Time(i))
		out.c = append(out.c, (r.a.At(weather.AirTemp, i)+r.b.At(weather.AirTemp, i))/2)
	}
	return out
}

// shape holds the cooling against the rules: a clear, calm night falls far, late,
// and without coming back.
func (c course) shape(in *Input, n weather.Night) (why []string) {
	rules := &in.Rules
	k := func(v float64) string { return in.Units.Difference(quantity.Kelvin(v)) }
	if len(c.c) == 0 {
		return []string{"no hour of it was read"}
	}
	low, lowAt := math.Inf(1), time.Time{}
	rise := 0.0
	count := n.Sunset.Add(time.Duration(rules.SkipH * float64(time.Hour)))
	for i, x := range c.c {
		if x < low {
			low, lowAt = x, c.at[i]
		}
		if !c.at[i].Before(count) && !c.at[i].After(n.Sunrise) {
			rise = math.Max(rise, x-low)
		}
	}
	if drop := c.c[0] - low; drop < rules.LeastDropK {
		why = append(why, "fell by only "+k(drop))
	}
	if early := n.Sunrise.Sub(lowAt).Hours(); early > rules.BeforeRiseH {
		why = append(why, fmt.Sprintf("lowest %.0f h before sunrise", early))
	}
	if rise > rules.MaxRiseK {
		why = append(why, "rose by "+k(rise)+" in the night")
	}
	return why
}

// weather says what the nights that count were like.
func (r *records) weather(in *Input, pairs []Pair) Weather {
	w := Weather{LowC: math.NaN(), HighC: math.NaN(), DewC: math.NaN(), WindMS: math.NaN()}
	var low, high, dew, wind mean
	var evenings []sky.Date
	for _, p := range pairs {
		if p.Kind != Contrast {
			continue
		}
		n, err := weather.NightOn(p.Evening, in.LatDeg, in.LonDeg, in.zone())
		if err != nil {
			panic("trial: a night that counts does not come: " + err.Error())
		}
		evenings = append(evenings, p.Evening)
		if p.Over == A {
			low.add(p.BMinC)
		} else {
			low.add(p.AMinC)
		}
		high.add(r.highest(n.Sunset))
		wind.add(p.WindMS)
		dew.add(r.mean(weather.DewPoint, n.Sunset, n.Sunrise))
	}
	w.Nights, w.LowC, w.HighC, w.DewC, w.WindMS = len(evenings), low.value(), high.value(), dew.value(), wind.value()
	if len(evenings) > 0 {
		w.Middle = evenings[len(evenings)/2]
	}
	return w
}

// highest is the highest reading of the day that ends at sunset; NaN with too many
// hours missing.
func (r *records) highest(sunset time.Time) float64 {
	top, n := math.Inf(-1), 0
	for i := r.a.Index(sunset.Add(-dayBefore)); i < r.a.N && !r.a.Time(i).After(sunset); i++ {
		if x := (r.a.At(weather.AirTemp, i) + r.b.At(weather.AirTemp, i)) / 2; !math.IsNaN(x) {
			top, n = math.Max(top, x), n+1
		}
	}
	if n < manyHours {
		return math.NaN()
	}
	return top
}

// mean is a running mean of what is known.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(x float64) {
	if !math.IsNaN(x) {
		m.sum, m.n = m.sum+x, m.n+1
	}
}

// value is NaN (0/0) with nothing known.
func (m *mean) value() float64 { return m.sum / float64(m.n) }
