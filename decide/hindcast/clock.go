package hindcast

import (
	"fmt"
	"math"
	"slices"
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// How a shifted clock is found. Each day the middle of the light is set against
// the sun's noon. Light above lightCapWM2 counts no more, so that a cloudy
// morning or afternoon hardly moves the middle: over 13 years at a station of the
// US reference network the median of ten days was never more than 0.34 h off.
const (
	lightCapWM2   = 50.0
	lightLeast    = 4 * lightCapWM2 // W h/m2 of capped light below which a day tells nothing
	clockDays     = 7               // days whose median is taken
	clockNeed     = 4               // of which so many must tell
	clockLimitH   = 0.6             // beyond it the clock is called shifted
	clockSlack    = 24 * time.Hour  // left out on either side: the day of the change is not known to the hour
	heatAmpK      = 3.0             // daily swing below which a day's temperature tells nothing
	heatLagH      = 2.8             // usual lag of the air's daily wave behind the sun
	heatLimitH    = 4.0             // by temperature alone: lags of 1.2 to 5.9 h are weather
	lightNeedDays = 0.5             // share of days that must have light for it to be used
)

// checkClock finds stretches in which the record's clock is off the sun's, names
// them and keeps their nights out.
func (rec *record) checkClock() {
	var days []sky.Date
	var noons []time.Time
	var light, heat []float64
	for d := sky.DateOf(rec.h.Start.In(rec.zone)); !sky.DateOf(rec.h.End().In(rec.zone)).Before(d); d = d.AddDays(1) {
		day, err := sky.SunDay(d, quantity.Degree(rec.place.LatDeg), quantity.Degree(rec.place.LonDeg), rec.zone)
		if err != nil {
			continue // no sunrise: no night either
		}
		days, noons = append(days, d), append(noons, day.Noon)
		light = append(light, rec.lightMiddle(day.Noon))
		heat = append(heat, rec.heatMiddle(day.Noon))
	}
	shift, limit, by := light, clockLimitH, "sunshine"
	if float64(countKnown(light)) < lightNeedDays*float64(countKnown(heat)) {
		shift, limit, by = heat, heatLimitH, "the daily course of the air temperature"
		rec.find(Finding{Kind: "clock-check", Kept: true,
			Text: fmt.Sprintf("The clock is checked by air temperature alone: shifts of less than %g hours go unseen.", heatLimitH)})
	}
	off := make([]float64, len(days))
	for k := range days {
		off[k] = windowMedian(noons, shift, k)
	}
	for a := 0; a < len(off); {
		if !(math.Abs(off[a]) > limit) {
			a++
			continue
		}
		b := a
		for b+1 < len(off) && math.Abs(off[b+1]) > limit && off[b+1]*off[a] > 0 && noons[b+1].Sub(noons[b]) < 48*time.Hour {
			b++
		}
		rec.shifted(noons[a], noons[b], median(slices.Clone(off[a:b+1])), by)
		a = b + 1
	}
}

func (rec *record) shifted(a, b time.Time, shiftH float64, by string) {
	iv := interval{a.Add(-12*time.Hour - clockSlack), b.Add(12*time.Hour + clockSlack), whyClock}
	rec.badClock = append(rec.badClock, iv)
	word := "ahead of"
	if shiftH < 0 {
		word = "behind"
	}
	rec.find(Finding{Kind: "clock-shift", FromAt: iv.from, ToAt: iv.to, Count: int(iv.to.Sub(iv.from) / time.Hour),
		Text: fmt.Sprintf("The clock runs %.1f h %s the sun's from %s to %s, by %s (a wrong place does the same).", math.Abs(shiftH), word,
			sky.DateOf(a.In(rec.zone)), sky.DateOf(b.In(rec.zone)), by)})
}

// windowMedian is the median of the days within clockDays about day k.
func windowMedian(noons []time.Time, x []float64, k int) float64 {
	var got []float64
	half := time.Duration(clockDays/2)*24*time.Hour + 12*time.Hour
	for j := max(0, k-clockDays/2); j <= min(len(x)-1, k+clockDays/2); j++ {
		if d := noons[j].Sub(noons[k]); d.Abs() <= half && !math.IsNaN(x[j]) {
			got = append(got, x[j])
		}
	}
	if len(got) < clockNeed {
		return math.NaN()
	}
	return median(got)
}

// lightMiddle is the middle of a day's light, in hours after noon; NaN with an
// hour missing or too little light. A mean on the circle: shifts up to half a day
// are seen.
func (rec *record) lightMiddle(noon time.Time) float64 {
	var s, c, sum float64
	i := rec.h.Index(noon.Add(-12 * time.Hour))
	for k := i; k < i+24; k++ {
		v := rec.h.At(weather.Solar, k)
		if math.IsNaN(v) {
			return math.NaN()
		}
		v = math.Min(math.Max(v, 0), lightCapWM2)
		angle := (rec.h.Time(k).Sub(noon).Hours() - 0.5) * math.Pi / 12 // the hour's middle
		s, c, sum = s+v*math.Sin(angle), c+v*math.Cos(angle), sum+v
	}
	if sum < lightLeast {
		return math.NaN()
	}
	return math.Atan2(s, c) * 12 / math.Pi
}

// heatMiddle is how much later than usual, in hours, the day's wave of air
// temperature comes; NaN with an hour missing or little swing.
func (rec *record) heatMiddle(noon time.Time) float64 {
	var s, c float64
	i := rec.h.Index(noon.Add(-12 * time.Hour))
	for k := i; k < i+24; k++ {
		v := rec.h.At(weather.AirTemp, k)
		if math.IsNaN(v) {
			return math.NaN()
		}
		angle := rec.h.Time(k).Sub(noon).Hours() * math.Pi / 12
		s, c = s+v*math.Sin(angle), c+v*math.Cos(angle)
	}
	if math.Hypot(s, c)/12 < heatAmpK {
		return math.NaN()
	}
	return math.Remainder(math.Atan2(s, c)*12/math.Pi-heatLagH, 24)
}

func countKnown(x []float64) int {
	n := 0
	for _, v := range x {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n
}

// median sorts x; of an even number it takes the mean of the middle two.
func median(x []float64) float64 {
	slices.Sort(x)
	n := len(x)
	switch {
	case n == 0:
		return math.NaN()
	case n%2 == 1:
		return x[n/2]
	}
	return (x[n/2-1] + x[n/2]) / 2
}
