package hindcast

import (
	"math"
	"slices"
	"time"

	"budward/decide/predict"
	"budward/decide/weather"
)

// references holds what the simple methods say, by scored night; NaN = nothing.
// All but the square-root curve say the same all night: they are evening methods.
type references struct {
	p       *replay
	t0, td0 []float64 // read at the evening; td0 NaN without humidity
	t0H     []float64 // hours from that reading to sunrise
	slopes  []float64 // (minimum - t0) / sqrt(hours), of each night

	regressionSaid, persistenceSaid, climatology []said
}

// leastNights is how many nights the handbook asks for before a fit is used (10 to
// 30), and how many residuals a band of a simple method needs.
const leastNights = 10

func newReferences(p *replay) references {
	n := len(p.idx)
	r := references{p: p, t0: nans(n), td0: nans(n), t0H: nans(n), slopes: nans(n)}
	h := &p.rec.h
	for i, at := range p.idx {
		nt := &p.rec.nights[at]
		k, ok := p.readBefore(nt, nt.evening())
		if !ok {
			continue
		}
		r.t0[i] = h.At(weather.AirTemp, k)
		r.td0[i] = h.At(weather.DewPoint, k)
		if math.IsNaN(r.td0[i]) {
			r.td0[i] = weather.DewFromRH(r.t0[i], h.At(weather.RelHumidity, k))
		}
		r.t0H[i] = nt.Sunrise.Sub(h.Time(k)).Hours()
		r.slopes[i] = (p.obs[i] - r.t0[i]) / math.Sqrt(math.Max(r.t0H[i], 1))
	}
	r.regressionSaid = p.dress(r.regress())
	r.persistenceSaid = p.dress(r.persist())
	r.climatology = r.usual()
	return r
}

func nans(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.NaN()
	}
	return out
}

// regress is the handbook's regression
//
//	Tmin = b0 + b1 T0 + b2 Td0
//
// T0 and Td0 read at the last hour up to two hours after sunset, fitted by least
// squares to all nights of the season in other years; without humidity tonight, or
// on fewer than leastNights nights, T0 alone. The handbook fits it to clear, calm
// nights only and in two steps; fitted jointly, and to all nights, it does better
// over all nights, so this is the harder to beat.
//
// Source: Snyder & de Melo-Abreu (2005), FAO Environment and Natural Resources
// Series 10, ch. 5 (from memory).
func (r *references) regress() []float64 {
	out := nans(len(r.t0))
	var last []float64 // coefficients, for as long as the nights learned from stay the same
	key := [2]int{-1, -1}
	for i := range r.t0 {
		if math.IsNaN(r.t0[i]) {
			continue
		}
		nt := &r.p.rec.nights[r.p.idx[i]]
		k := [2]int{nt.year, 0}
		if r.p.rec.training == PastOnly {
			k[0] = -2 - i
		}
		if !math.IsNaN(r.td0[i]) {
			k[1] = 1
		}
		if k != key {
			last, key = r.fit(i, k[1] == 1), k
		}
		switch {
		case last == nil:
		case len(last) == 3:
			out[i] = last[0] + last[1]*r.t0[i] + last[2]*r.td0[i]
		default:
			out[i] = last[0] + last[1]*r.t0[i]
		}
	}
	return out
}

// fit returns the coefficients for night i; nil with too few nights.
func (r *references) fit(i int, dew bool) []float64 {
	var xs [][]float64
	var ys []float64
	for j := range r.t0 {
		if !r.p.usable(i, j) || math.IsNaN(r.t0[j]) || (dew && math.IsNaN(r.td0[j])) {
			continue
		}
		x := []float64{1, r.t0[j]}
		if dew {
			x = append(x, r.td0[j])
		}
		xs, ys = append(xs, x), append(ys, r.p.obs[j])
	}
	if len(ys) < leastNights {
		if dew {
			return r.fit(i, false)
		}
		return nil
	}
	return leastSquares(xs, ys)
}

// leastSquares solves X'X b = X'y by elimination with pivots; nil if singular.
func leastSquares(xs [][]float64, ys []float64) []float64 {
	p := len(xs[0])
	a := make([][]float64, p)
	for i := range a {
		a[i] = make([]float64, p+1)
	}
	for k, x := range xs {
		for i := range p {
			for j := range p {
				a[i][j] += x[i] * x[j]
			}
			a[i][p] += x[i] * ys[k]
		}
	}
	for i := range p {
		best := i
		for k := i + 1; k < p; k++ {
			if math.Abs(a[k][i]) > math.Abs(a[best][i]) {
				best = k
			}
		}
		a[i], a[best] = a[best], a[i]
		if math.Abs(a[i][i]) < 1e-9 {
			return nil
		}
		for k := range p {
			if k == i {
				continue
			}
			f := a[k][i] / a[i][i]
			for j := i; j <= p; j++ {
				a[k][j] -= f * a[i][j]
			}
		}
	}
	out := make([]float64, p)
	for i := range out {
		out[i] = a[i][p] / a[i][i]
	}
	return out
}

// curve is the handbook's square-root curve through the evening's reading T0 at
// time 0,
//
//	T(t) = T0 + b sqrt(t)
//
// carried on to sunrise. In the evening b is the mean of other years; later it is
// the least-squares slope of this night's readings since.
//
// Source: as regress.
func (r *references) curve(k int) []float64 {
	out := nans(len(r.t0))
	h := &r.p.rec.h
	for i, at := range r.p.idx {
		nt := &r.p.rec.nights[at]
		if math.IsNaN(r.t0[i]) || r.t0H[i] <= 0 {
			continue
		}
		start := nt.Sunrise.Add(-time.Duration(r.t0H[i] * float64(time.Hour)))
		b := math.NaN()
		if now, ok := r.p.readBefore(nt, leads[k].at(nt, r.p.rec.zone)); ok {
			xy, xx := 0.0, 0.0
			for g := h.Index(start); g <= now; g++ {
				t, x := h.Time(g).Sub(start).Hours(), h.At(weather.AirTemp, g)
				if t > 0.5 && !math.IsNaN(x) {
					xy, xx = xy+(x-r.t0[i])*math.Sqrt(t), xx+t
				}
			}
			b = xy / xx // 0/0: no reading since
			if xx == 0 {
				b = r.meanSlope(i)
			}
		}
		out[i] = r.t0[i] + b*math.Sqrt(r.t0H[i])
	}
	return out
}

func (r *references) meanSlope(i int) float64 {
	sum, n := 0.0, 0
	for j := range r.slopes {
		if r.p.usable(i, j) && !math.IsNaN(r.slopes[j]) {
			sum, n = sum+r.slopes[j], n+1
		}
	}
	if n < leastNights {
		return math.NaN()
	}
	return sum / float64(n)
}

// persist says last night's minimum again.
func (r *references) persist() []float64 {
	out := nans(len(r.t0))
	for i, at := range r.p.idx {
		if at == 0 {
			continue
		}
		last, n := &r.p.rec.nights[at-1], &r.p.rec.nights[at]
		if last.why == "" && last.date.AddDays(1) == n.date {
			out[i] = last.minC
		}
	}
	return out
}

const (
	usualDays  = 7  // on either side of the date, other years
	seasonDays = 21 // back in this season, where other years have too little
)

// usual is what is usual for the date: the minima of other years within usualDays
// of it, all equally likely. Where there are fewer than leastNights, and only past
// nights may be used, those of the last seasonDays of this season.
func (r *references) usual() []said {
	out := make([]said, len(r.t0))
	rec := r.p.rec
	for i, at := range r.p.idx {
		n := &rec.nights[at]
		var other, recent []float64
		for k := range rec.nights {
			u := &rec.nights[k]
			if u.why != "" || !rec.mayLearn(n, u) {
				continue
			}
			if u.year != n.year && daysApart(n, u) <= usualDays {
				other = append(other, u.minC)
			}
			if u.year == n.year && n.Sunset.Sub(u.Sunset) <= seasonDays*24*time.Hour+time.Hour {
				recent = append(recent, u.minC)
			}
		}
		if len(other) < leastNights && rec.training == PastOnly {
			other = recent
		}
		if len(other) < leastNights {
			continue
		}
		slices.Sort(other)
		mean := 0.0
		for _, x := range other {
			mean += x / float64(len(other))
		}
		out[i] = distribution(mean, other)
	}
	return out
}

func daysApart(a, b *night) int {
	d := a.date.YearDay() - b.date.YearDay()
	d = max(d, -d)
	return min(d, 365-d)
}

// dress turns points into distributions: the point and the errors it had on the
// nights that may be learned from. With fewer than leastNights of them it stays a
// point.
func (p *replay) dress(points []float64) []said {
	out := make([]said, len(points))
	for i, x := range points {
		if math.IsNaN(x) {
			continue
		}
		var m []float64
		for j, y := range points {
			if !math.IsNaN(y) && p.usable(i, j) {
				m = append(m, x+p.obs[j]-y)
			}
		}
		if len(m) < leastNights {
			out[i] = said{ok: true, meanC: x}
			continue
		}
		slices.Sort(m)
		out[i] = distribution(x, m)
	}
	return out
}

// mostMembers bounds a simple method's distribution; more are thinned to it.
const mostMembers = 100

// distribution is what sorted members say.
func distribution(mean float64, m []float64) said {
	if len(m) > mostMembers {
		thin := make([]float64, mostMembers)
		for k := range thin {
			thin[k] = quantile(m, (float64(k)+0.5)/mostMembers)
		}
		m = thin
	}
	return said{true, mean, m, predict.Band{LowC: quantile(m, 0.25), HighC: quantile(m, 0.75)},
		predict.Band{LowC: quantile(m, 0.1), HighC: quantile(m, 0.9)}}
}

// capped holds what a method says at lead k to the lowest reading so far: the
// minimum cannot be above it.
func (p *replay) capped(s []said, k int) []said {
	for i, at := range p.idx {
		n := &p.rec.nights[at]
		now, ok := p.readBefore(n, leads[k].at(n, p.rec.zone))
		if !s[i].ok || !ok {
			continue
		}
		low := math.Inf(1)
		for g := p.rec.h.Index(n.Sunset); g <= now; g++ {
			for _, v := range []weather.Variable{weather.AirTemp, weather.AirTempMin} {
				if x := p.rec.h.At(v, g); x < low {
					low = x
				}
			}
		}
		limit := func(x *float64) { *x = math.Min(*x, low) }
		limit(&s[i].meanC)
		for j := range s[i].members {
			limit(&s[i].members[j])
		}
		for _, x := range []*float64{&s[i].band50.LowC, &s[i].band50.HighC, &s[i].band80.LowC, &s[i].band80.HighC} {
			limit(x)
		}
	}
	return s
}

// quantile of sorted, equally likely members, each at the middle of its share.
func quantile(m []float64, p float64) float64 {
	pos := p*float64(len(m)) - 0.5
	i := int(math.Floor(pos))
	switch {
	case i < 0:
		return m[0]
	case i+1 >= len(m):
		return m[len(m)-1]
	}
	return m[i] + (m[i+1]-m[i])*(pos-float64(i))
}
