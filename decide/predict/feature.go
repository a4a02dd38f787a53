package predict

import (
	"math"

	"budward/decide/weather"
	"budward/physics/sky"
)

// Group is a set of features that come from the same instruments, and are known
// or missing together.
type Group uint8

// The groups. Air is always there: without it there is no prediction.
const (
	Air       Group = iota // the last reading of the air, the season, the time left
	Trend                  // air temperature of the six hours before
	Afternoon              // air temperature of the afternoon and at sunset
	Yesterday              // air temperature of two days
	Sunshine               // solar radiation in the afternoon
	Rainfall               // rain gauge
	Surface                // infrared thermometer on the floor
	Humidity               // humidity or dew point
	Soil                   // soil thermometer at 5 cm
	Moisture               // soil moisture at 10, 20 or 5 cm
	WindSpeed              // anemometer
	Barometer              // pressure
	numGroups
)

var groupWords = [numGroups]string{"air temperature", "air temperature of the last hours", "air temperature of the afternoon",
	"air temperature of two days", "sunshine", "rain", "surface temperature", "humidity", "soil temperature", "soil moisture", "wind", "pressure"}

// String returns the group in plain words.
func (g Group) String() string {
	if g >= numGroups {
		panic("predict: Group out of range")
	}
	return groupWords[g]
}

// groupSet is a set of groups, one bit each.
type groupSet uint16

func (s groupSet) has(g Group) bool         { return s&(1<<g) != 0 }
func (s groupSet) with(g Group) groupSet    { return s | 1<<g }
func (s groupSet) without(g Group) groupSet { return s &^ (1 << g) }
func (s groupSet) holds(o groupSet) bool    { return s&o == o }

// row is what is known at one grid point of a night.
type row struct {
	sinceH, leftH float64 // hours since sunset, to sunrise (negative after it)
	airC          float64
	lowC          float64 // lowest reading of the night so far
	laterC        float64 // lowest reading from here to the night's end; NaN until it is over
	x             [numFeatures]float64
	known         groupSet
}

// reader looks up readings before grid point i.
type reader struct {
	h *weather.Hourly
	i int
}

func (r reader) at(v weather.Variable, back int) float64 { return r.h.At(v, r.i-back) }

func (r reader) dew(back int) float64 {
	if d := r.at(weather.DewPoint, back); !math.IsNaN(d) {
		return d
	}
	return weather.DewFromRH(r.at(weather.AirTemp, back), r.at(weather.RelHumidity, back))
}

func (r reader) gap(back int) float64 {
	return r.at(weather.SurfaceTemp, back) - r.at(weather.AirTemp, back)
}

// mean is the mean of v over n hours ending back hours ago; NaN unless at least
// need of them are known.
func (r reader) mean(v weather.Variable, back, n, need int) float64 {
	sum, k := 0.0, 0
	for j := range n {
		if x := r.at(v, back+j); !math.IsNaN(x) {
			sum, k = sum+x, k+1
		}
	}
	if k < need {
		return nan
	}
	return sum / float64(k)
}

// extreme is the highest (sign +1) or lowest (-1) of v over n hours ending back
// hours ago; NaN unless at least need of them are known.
func (r reader) extreme(v weather.Variable, sign float64, back, n, need int) float64 {
	best, k := math.Inf(-1), 0
	for j := range n {
		if x := r.at(v, back+j); !math.IsNaN(x) {
			best, k = math.Max(best, sign*x), k+1
		}
	}
	if k < need {
		return nan
	}
	return sign * best
}

// rowAt works out the row at grid point i of a night whose first grid point is
// first. It looks at no reading later than i. ok is false without an air
// temperature at i and in the three hours before.
func rowAt(h *weather.Hourly, n weather.Night, place Place, first, i int) (row, bool) {
	r := reader{h, i}
	t := h.Time(i)
	w := row{sinceH: t.Sub(n.Sunset).Hours(), leftH: n.Sunrise.Sub(t).Hours(), airC: r.at(weather.AirTemp, 0), laterC: nan}
	for j := range w.x {
		w.x[j] = nan
	}
	w.lowC = lowest(h, first, i)
	w.air(r, i-first, n)
	w.yesterday(r)
	w.sun(r, i-first, place)
	w.others(r, i-first)
	for g := range numGroups {
		w.known = w.known.with(g)
	}
	for j := range features {
		f := &features[j]
		w.x[j] = (w.x[j] - f.centre) / f.scale
		if math.IsNaN(w.x[j]) {
			w.known = w.known.without(f.group)
		}
	}
	return w, w.known.has(Air)
}

// lowest is the lowest air temperature of grid points a to b, with the hourly
// minima where known; NaN without any.
func lowest(h *weather.Hourly, a, b int) float64 {
	low := math.Inf(1)
	for k := a; k <= b; k++ {
		if x := h.At(weather.AirTemp, k); x < low {
			low = x
		}
		if x := h.At(weather.AirTempMin, k); h.Kind == weather.Reading && x < low {
			low = x
		}
	}
	if math.IsInf(low, 1) {
		return nan
	}
	return low
}

func (w *row) air(r reader, sinceFirst int, n weather.Night) {
	t := func(back int) float64 { return r.at(weather.AirTemp, back) }
	now := t(0)
	w.x[fOne] = 1
	w.x[fAir] = now
	w.x[fRate1] = now - t(1)
	w.x[fRate2] = t(1) - t(2)
	w.x[fRate3] = t(2) - t(3)
	w.x[fRate36] = (t(3) - t(6)) / 3
	w.x[fCooled] = now - t(sinceFirst)
	w.x[fBelowMax] = r.extreme(weather.AirTemp, +1, sinceFirst, 13, 7) - now
	w.x[fHoursLeft] = w.leftH
	season := 2 * math.Pi * float64(n.Sunset.UTC().YearDay()-80) / 365.25 // 21 March is zero
	w.x[fSeasonSin] = math.Sin(season)
	w.x[fSeasonCos] = math.Cos(season)
}

func (w *row) yesterday(r reader) {
	now := r.at(weather.AirTemp, 0)
	day, before := r.mean(weather.AirTemp, 0, 24, 20), r.mean(weather.AirTemp, 24, 24, 20)
	w.x[fMean24] = day - now
	w.x[fMean48] = before - day
	w.x[fLastMin] = r.extreme(weather.AirTemp, -1, 8, 16, 12) - now
}

// sun takes the share of a clear sky's short wave over the last five and the last
// two whole hours before the hour of sunset. Hours with the sun below 3 degrees
// count for nothing: hills and trees decide there.
func (w *row) sun(r reader, sinceFirst int, place Place) {
	share := func(from, to int) float64 { // hours before the first grid point of the night
		got, clear := 0.0, 0.0
		for back := from; back <= to; back++ {
			mid := r.h.Time(r.i-sinceFirst-back).Unix() - 1800
			sin := sky.SinElevation(float64(mid), place.LatDeg, place.LonDeg)
			s := r.at(weather.Solar, sinceFirst+back)
			if sin < 0.05 || math.IsNaN(s) {
				continue
			}
			got += s
			clear += sky.ShortwaveDown(sin, 0, 0)
		}
		if clear <= 0 {
			return nan
		}
		return got / clear
	}
	w.x[fClear6] = share(2, 6)
	w.x[fClear3] = share(1, 3)
}

func (w *row) others(r reader, sinceFirst int) {
	w.x[fRain2] = math.Log1p(2 * r.mean(weather.Rain, 0, 2, 2))
	w.x[fRain6] = math.Log1p(6 * r.mean(weather.Rain, 0, 6, 6))

	w.x[fGap] = r.gap(0)
	w.x[fGapRate1] = r.gap(0) - r.gap(1)
	w.x[fGapRate2] = r.gap(0) - r.gap(2)
	low := r.gap(0)
	for back := 1; back < sinceFirst; back++ {
		if g := r.gap(back); g < low {
			low = g
		}
	}
	w.x[fGapLow] = low

	depression := math.Max(0, r.at(weather.AirTemp, 0)-r.dew(0))
	w.x[fDepression] = depression
	w.x[fNearDew] = math.Log1p(depression)
	w.x[fDewRate] = r.dew(0) - r.dew(3)

	w.x[fSoilGap] = r.at(weather.SoilTemp5, 0) - r.at(weather.AirTemp, 0)
	for _, v := range []weather.Variable{weather.SoilMoist10, weather.SoilMoist20, weather.SoilMoist5} {
		if m := r.at(v, 0); !math.IsNaN(m) {
			w.x[fMoisture] = m
			break
		}
	}
	w.x[fWind] = math.Log1p(r.mean(weather.Wind, 0, 2, 1))
	w.x[fPressureRate] = r.at(weather.Pressure, 0) - r.at(weather.Pressure, 3)
}

var nan = math.NaN()
