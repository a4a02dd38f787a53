package nights

import (
	"fmt"
	"math"
	"time"

	"budward/decide/method"
	"budward/decide/weather"
	"budward/physics/sky"
	"budward/vineyard/farm"
)

const (
	historyDays   = 14  // of readings that the soil is run through
	assumedDays   = 5   // of made-up past where there are no readings
	bridgeHours   = 3   // gaps as long as this are bridged on a straight line
	guessWindMS   = 1.5 // at 2 m, where wind is not measured
	guessCloud    = 0.4 // where neither cloud nor sun is measured
	minHistoryH   = 24  // hours of air temperature that make a history
	deepSwingDays = 3
)

// history is the past of a station, hour by hour, ready for the columns.
type history struct {
	start  time.Time
	hours  []method.Hour
	known  int // hours with a measured air temperature
	lastAt time.Time
	notes  []Note
	soil   func(depthM float64) float64
}

// pastOf lays out the readings up to the hour `to`, bridging what is missing by
// stated rules, each noted. Without enough readings the first day of the
// forecast, repeated, stands for the past.
func pastOf(st farm.Station, in *StationInput, to time.Time, ahead []method.Hour) history {
	h := readPast(st, in, to)
	if h.known >= minHistoryH {
		return h
	}
	out := history{lastAt: h.lastAt, known: h.known}
	day := ahead[:min(24, len(ahead))]
	var mid method.Hour
	for _, x := range day {
		f := 1 / float64(len(day))
		mid.AirC, mid.DewC, mid.Wind2, mid.Cloud = mid.AirC+f*x.AirC, mid.DewC+f*x.DewC, mid.Wind2+f*x.Wind2, mid.Cloud+f*x.Cloud
	}
	mid.Solar = math.NaN()
	mean := mid.AirC
	n := assumedDays * 24
	out.start = to.Add(-time.Duration(n) * time.Hour)
	for i := range n {
		// The same hour of the day from the forecast's first day, without its rain;
		// hours that a short forecast lacks are the mean of those it has.
		h := mid
		if i%24 < len(day) {
			h = day[i%24]
			h.Rain = 0
		}
		out.hours = append(out.hours, h)
	}
	out.hours = append(out.hours, ahead[0])
	out.soil = func(float64) float64 { return mean }
	out.notes = append(out.notes, Note{"past-assumed", fmt.Sprintf(
		"No day of readings from station %s: the past %d days are taken to be like the forecast's first day, so the soil's warmth is a guess.", st.ID, assumedDays)})
	return out
}

func readPast(st farm.Station, in *StationInput, to time.Time) history {
	var h history
	r := weatherWithDew(in.Readings)
	if r.N == 0 || !r.Has(weather.AirTemp) {
		return h
	}
	from := to.Add(-historyDays * 24 * time.Hour)
	if r.Start.After(from) {
		from = r.Start
	}
	n := int(to.Sub(from)/time.Hour) + 1
	if n < 2 {
		return h
	}
	h.start = from
	at := func(v weather.Variable, i int) float64 { return r.At(v, r.Index(from)+i) }
	air := make([]float64, n)
	for i := range air {
		air[i] = at(weather.AirTemp, i)
		if !math.IsNaN(air[i]) {
			h.known++
			h.lastAt = from.Add(time.Duration(i) * time.Hour)
		}
	}
	if h.known < minHistoryH {
		return h
	}
	if gaps := bridge(air); gaps > 0 {
		h.notes = append(h.notes, Note{"past-bridged", fmt.Sprintf("%d of %d past hours at station %s have no air temperature and were bridged.", gaps, n, st.ID)})
	}
	if st.WindHeightM <= 0 && r.Has(weather.Wind) {
		h.notes = append(h.notes, Note{"wind-height", fmt.Sprintf("Station %s: height of its wind not stated, 2 m taken for readings.", st.ID)})
	}
	f := filler{st: st, h: &h, n: n, at: at, air: air}
	dew, wind, cloud, solar := f.dew(), f.wind(), f.cloud(from), f.column(weather.Solar)
	rain := f.column(weather.Rain)
	noRain := 0
	h.hours = make([]method.Hour, n)
	// A reading's sun is the mean of the hour that ends there: the instant on the
	// hour lies between it and the next.
	for i := range n - 1 {
		solar[i] = (solar[i] + solar[i+1]) / 2
	}
	for i := range n {
		h.hours[i] = method.Hour{AirC: air[i], DewC: math.Min(dew[i], air[i]), Wind2: wind[i], Cloud: cloud[i], Solar: solar[i]}
		// A reading's rain fell in the hour that ends there.
		if i+1 < n && rain[i+1] > 0 {
			h.hours[i].Rain = rain[i+1]
		}
		if math.IsNaN(rain[i]) {
			noRain++
		}
	}
	if noRain == n {
		h.notes = append(h.notes, Note{"rain-unknown", fmt.Sprintf("Station %s measures no rain: none is assumed since the last look at the soil.", st.ID)})
	}
	h.soil = soilProfile(&r, from, air)
	return h
}

func weatherWithDew(h weather.Hourly) weather.Hourly {
	if h.N == 0 {
		return h
	}
	out, _ := weather.WithDewPoint(h)
	return out
}

// bridge fills NaN: short gaps on a straight line, long ones with the mean of
// the same hour of the day plus what the two ends are off it.
func bridge(x []float64) (filled int) {
	var sum [24]float64
	var cnt [24]float64
	total, all := 0.0, 0.0
	for i, v := range x {
		if !math.IsNaN(v) {
			sum[i%24] += v
			cnt[i%24]++
			total += v
			all++
		}
	}
	if all == 0 {
		return 0
	}
	clim := func(i int) float64 {
		if cnt[i%24] == 0 {
			return total / all
		}
		return sum[i%24] / cnt[i%24]
	}
	for i := 0; i < len(x); {
		if !math.IsNaN(x[i]) {
			i++
			continue
		}
		j := i
		for j < len(x) && math.IsNaN(x[j]) {
			j++
		}
		for k := i; k < j; k++ {
			f := float64(k-i+1) / float64(j-i+1)
			left, right := 0.0, 0.0
			base := clim
			if j-i <= bridgeHours && i > 0 && j < len(x) {
				base = func(int) float64 { return 0 }
			}
			if i > 0 {
				left = x[i-1] - base(i-1)
			}
			if j < len(x) {
				right = x[j] - base(j)
			}
			if i == 0 {
				left = right
			}
			if j == len(x) {
				right = left
			}
			x[k] = base(k) + left + f*(right-left)
			filled++
		}
		i = j
	}
	return filled
}

// filler turns columns with gaps into columns without, noting how.
type filler struct {
	st  farm.Station
	h   *history
	n   int
	at  func(weather.Variable, int) float64
	air []float64
}

func (f *filler) column(v weather.Variable) []float64 {
	out := make([]float64, f.n)
	for i := range out {
		out[i] = f.at(v, i)
	}
	return out
}

func (f *filler) note(code, text string) {
	f.h.notes = append(f.h.notes, Note{code, fmt.Sprintf(text, f.st.ID)})
}

func (f *filler) dew() []float64 {
	d := f.column(weather.DewPoint)
	missing := 0
	for i, v := range d {
		if !math.IsNaN(v) {
			continue
		}
		missing++
		low := f.air[i]
		for j := max(0, i-24); j < i; j++ {
			low = math.Min(low, f.air[j])
		}
		d[i] = low
	}
	if missing > f.n/2 {
		f.note("humidity-assumed", "Station %s reads no humidity: past dew points are taken to be the day's minimum (FAO-56).")
	}
	return d
}

func (f *filler) wind() []float64 {
	u := f.column(weather.Wind)
	sum, n := 0.0, 0.0
	for i, v := range u {
		if math.IsNaN(v) {
			continue
		}
		height := f.st.WindHeightM
		if height <= 0 {
			height = 2
		}
		u[i] = method.Wind2(v, height)
		sum += u[i]
		n++
	}
	fill := guessWindMS
	if n > 0 {
		fill = sum / n
	}
	for i, v := range u {
		if math.IsNaN(v) {
			u[i] = fill
		}
	}
	if n < float64(f.n)/2 {
		f.note("wind-assumed", "Station %s reads little or no wind: a light wind, or the mean of what was read, stands for past hours.")
	}
	return u
}

// cloud of past hours: as read, or from sunshine by day (Crawford & Duchon
// 1999) and held through the night, or a guess.
func (f *filler) cloud(from time.Time) []float64 {
	c := f.column(weather.Cloud)
	read, derived := 0, 0
	held := math.NaN()
	for i := range c {
		if !math.IsNaN(c[i]) {
			read++
			held = c[i]
			continue
		}
		solar := f.at(weather.Solar, i)
		mid := from.Add(time.Duration(i)*time.Hour - 30*time.Minute)
		clear := sky.ShortwaveDown(sky.SinElevation(float64(mid.Unix()), f.st.LatDeg, f.st.LonDeg), 0, f.st.ElevationM)
		if clear > 150 && !math.IsNaN(solar) {
			held = math.Max(0, math.Min(1, 1-solar/clear))
			derived++
		}
		c[i] = held
	}
	for i := range c {
		if math.IsNaN(c[i]) {
			c[i] = guessCloud
		}
	}
	switch {
	case read >= f.n/2:
	case derived > 0:
		f.note("cloud-from-sun", "Cloud over station %s in past hours is judged from sunshine, and held through the nights.")
	default:
		f.note("cloud-assumed", "Neither cloud nor sunshine is read at station %s: 40 %% cloud stands for past hours.")
	}
	return c
}

// soilProfile returns the soil temperature by depth at the history's start:
// read, or the mean air temperature of its first days.
func soilProfile(r *weather.Hourly, from time.Time, air []float64) func(float64) float64 {
	depths := []float64{0.05, 0.10, 0.20, 0.50, 1.00}
	vars := []weather.Variable{weather.SoilTemp5, weather.SoilTemp10, weather.SoilTemp20, weather.SoilTemp50, weather.SoilTemp100}
	var zs, ts []float64
	i := r.Index(from)
	for k, v := range vars {
		if t := r.At(v, i); !math.IsNaN(t) {
			zs, ts = append(zs, depths[k]), append(ts, t)
		}
	}
	if len(zs) == 0 {
		n := min(len(air), deepSwingDays*24)
		mean := 0.0
		for _, v := range air[:n] {
			mean += v / float64(n)
		}
		return func(float64) float64 { return mean }
	}
	return func(z float64) float64 {
		if z <= zs[0] {
			return ts[0]
		}
		for k := 1; k < len(zs); k++ {
			if z <= zs[k] {
				return ts[k-1] + (ts[k]-ts[k-1])*(z-zs[k-1])/(zs[k]-zs[k-1])
			}
		}
		return ts[len(ts)-1]
	}
}
