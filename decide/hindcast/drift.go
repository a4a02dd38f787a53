package hindcast

import (
	"fmt"
	"math"
	"time"

	"budward/decide/weather"
	"budward/physics/sky"
)

// How a drifting thermometer is found. In stretches of ten days the mean
// difference between the air and the surface (an infrared thermometer) is set
// against the same days of other years. At a station of the US reference network
// (13 years) 98 % of such differences were within 2.3 K and the greatest was
// 3.4 K, while the ground froze and snow came. Which of the two drifted is told by the soil at 5 cm: the
// difference to it that is less unusual belongs to the one that is right. Without
// soil, by the year itself: the temperature that is less unusual for its dates.
const (
	driftDays   = 10
	driftHours  = 120  // of a stretch that must be known
	driftYears  = 2    // other years there must be
	driftNearK  = 1.0  // a run of drifting stretches reaches out to this
	driftK      = 2.5  // a stretch that may be drifting
	driftSureK  = 3.5  // one of two such must reach this; of three none need
	driftAloneK = 6.0  // a single stretch is drifting beyond this
	perYear     = 37   // stretches in a year
	driftRounds = 2    // the second without the stretches found in the first
	driftUnsure = 1.25 // ratio of the two sums of squares below which it is not told which drifted
)

// stretch is ten days' means.
type stretch struct {
	air, surface, soil          float64 // over hours with air and surface
	anomaly                     float64 // of air - surface, against other years
	airSoil, surfaceSoil        float64 // anomalies against the soil
	airItself, surfaceItself    float64 // anomalies of the temperatures
	drifting, airDrifts, unsure bool
}

// checkDrift finds drifting thermometers, names them and takes their readings
// out.
func (rec *record) checkDrift() {
	year0 := rec.h.Start.Year()
	years := rec.h.End().Year() - year0 + 1
	s := make([]stretch, years*perYear)
	for k := range s {
		s[k] = rec.means(year0, k)
	}
	if !enoughYears(s) {
		rec.find(Finding{Kind: "drift-check", Kept: true,
			Text: "Drift of the thermometers is not checked: that takes air and surface temperature in three years or more."})
		return
	}
	for range driftRounds {
		anomalies(s)
		markRuns(s)
	}
	for a := 0; a < len(s); a++ {
		if !s[a].drifting {
			continue
		}
		b := a
		for b+1 < len(s) && s[b+1].drifting && s[b+1].airDrifts == s[a].airDrifts && s[b+1].anomaly*s[a].anomaly > 0 {
			b++
		}
		rec.drifted(year0, s, a, b)
		a = b
	}
}

// span returns the instants of stretch k, the last short at the year's end.
func span(year0, k int) (from, to time.Time) {
	start := sky.Date{Year: year0 + k/perYear, Month: time.January, Day: 1}
	from = start.AddDays(k%perYear*driftDays).At(0, 0, time.UTC)
	to = from.AddDate(0, 0, driftDays)
	if next := (sky.Date{Year: start.Year + 1, Month: time.January, Day: 1}).At(0, 0, time.UTC); to.After(next) {
		to = next
	}
	return from, to
}

func (rec *record) means(year0, k int) stretch {
	from, to := span(year0, k)
	var air, surface, soil float64
	n, ns := 0, 0
	for i := rec.h.Index(from); i < rec.h.N && rec.h.Time(i).Before(to); i++ {
		a, b, c := rec.h.At(weather.AirTemp, i), rec.h.At(weather.SurfaceTemp, i), rec.h.At(weather.SoilTemp5, i)
		if math.IsNaN(a) || math.IsNaN(b) {
			continue
		}
		air, surface, n = air+a, surface+b, n+1
		if !math.IsNaN(c) {
			soil, ns = soil+c, ns+1
		}
	}
	nan := math.NaN()
	out := stretch{nan, nan, nan, nan, nan, nan, nan, nan, false, false, false}
	if n >= driftHours/2 && n >= int(to.Sub(from).Hours())/2 {
		out.air, out.surface = air/float64(n), surface/float64(n)
		if ns >= n*9/10 {
			out.soil = soil / float64(ns)
		}
	}
	return out
}

// enoughYears says whether any stretch of the year is known in three years.
func enoughYears(s []stretch) bool {
	for k := range perYear {
		n := 0
		for j := k; j < len(s); j += perYear {
			if !math.IsNaN(s[j].air) {
				n++
			}
		}
		if n > driftYears {
			return true
		}
	}
	return false
}

// anomalies sets each stretch against the same days of the other years, those
// found drifting left out.
func anomalies(s []stretch) {
	against := func(k int, f func(*stretch) float64) float64 {
		sum, n := 0.0, 0
		for j := k % perYear; j < len(s); j += perYear {
			if v := f(&s[j]); j != k && !s[j].drifting && !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		if n < driftYears {
			return math.NaN()
		}
		return f(&s[k]) - sum/float64(n)
	}
	for k := range s {
		s[k].anomaly = against(k, func(x *stretch) float64 { return x.air - x.surface })
		s[k].airSoil = against(k, func(x *stretch) float64 { return x.air - x.soil })
		s[k].surfaceSoil = against(k, func(x *stretch) float64 { return x.surface - x.soil })
		s[k].airItself = against(k, func(x *stretch) float64 { return x.air })
		s[k].surfaceItself = against(k, func(x *stretch) float64 { return x.surface })
	}
}

// markRuns marks the stretches of runs that drift.
func markRuns(s []stretch) {
	for k := range s {
		s[k].drifting = false
	}
	for a := 0; a < len(s); a++ {
		if !(math.Abs(s[a].anomaly) >= driftK) {
			continue
		}
		same := func(k int, limit float64) bool {
			return k >= 0 && k < len(s) && math.Abs(s[k].anomaly) >= limit && s[k].anomaly*s[a].anomaly > 0
		}
		b, top := a, math.Abs(s[a].anomaly)
		for same(b+1, driftK) {
			b++
			top = math.Max(top, math.Abs(s[b].anomaly))
		}
		n := b - a + 1
		if n >= 3 || (n == 2 && top >= driftSureK) || top >= driftAloneK {
			lo, hi := a, b
			for same(lo-1, driftNearK) {
				lo--
			}
			for same(hi+1, driftNearK) {
				hi++
			}
			attribute(s[lo : hi+1])
		}
		a = b
	}
}

// attribute marks a run and says which thermometer drifts.
func attribute(run []stretch) {
	var ifAir, ifSurface float64 // sums of squares that stay unexplained
	n := 0
	for k := range run {
		if x, y := run[k].surfaceSoil, run[k].airSoil; !math.IsNaN(x) && !math.IsNaN(y) {
			ifAir, ifSurface, n = ifAir+x*x, ifSurface+y*y, n+1
		}
	}
	if n == 0 {
		for k := range run {
			ifAir += run[k].surfaceItself * run[k].surfaceItself
			ifSurface += run[k].airItself * run[k].airItself
		}
	}
	for k := range run {
		run[k].drifting = true
		run[k].airDrifts = ifAir < ifSurface
		run[k].unsure = math.Max(ifAir, ifSurface) < driftUnsure*math.Min(ifAir, ifSurface)
	}
}

// drifted takes out what drifts in stretches a to b. Where it cannot be told which
// of the two it is, both go.
func (rec *record) drifted(year0 int, s []stretch, a, b int) {
	from, _ := span(year0, a)
	_, to := span(year0, b)
	top := 0.0
	for k := a; k <= b; k++ {
		if math.Abs(s[k].anomaly) > math.Abs(top) {
			top = s[k].anomaly
		}
	}
	vars, who := []weather.Variable{weather.SurfaceTemp}, "the surface thermometer"
	switch {
	case s[a].unsure:
		vars, who = []weather.Variable{weather.AirTemp, weather.AirTempMin, weather.SurfaceTemp}, "the air or the surface thermometer, it cannot be told which"
	case s[a].airDrifts:
		vars, who = []weather.Variable{weather.AirTemp, weather.AirTempMin}, "the air thermometer"
	}
	count := 0
	for _, v := range vars {
		for i := rec.h.Index(from); i < rec.h.N && rec.h.Time(i).Before(to); i++ {
			if !math.IsNaN(rec.h.At(v, i)) {
				rec.h.Cols[v][i] = math.NaN()
				count++
			}
		}
	}
	if vars[0] == weather.AirTemp {
		rec.badAir = append(rec.badAir, interval{from, to, whyDrift})
	}
	rec.find(Finding{Kind: "drift", Variable: vars[0].String(), FromAt: from, ToAt: to, Count: count,
		Text: fmt.Sprintf("Air minus surface is up to %+.1f K off the same days of other years from %s to %s: %s drifts, was moved or stands over other ground; left out.",
			top, sky.DateOf(from), sky.DateOf(to), who)})
}
