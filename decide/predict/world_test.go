package predict

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"budward/decide/weather"
	"budward/physics/sky"
)

// An invented place and invented weather whose law is known: air falls at a steady
// rate from sunset to sunrise, the rate drawn anew each night and shown by the
// surface, which is colder than the air by three times the rate. On some nights a
// front comes in the middle of the night that nothing foretells.
var (
	testPlace = Place{LatDeg: 40, LonDeg: -100}
	testZone  = time.FixedZone("UTC-7", -7*3600)
)

type world struct {
	h      weather.Hourly
	nights []weather.Night
	folds  []int
}

// newWorld makes years of days each from 1 March of 2001 on.
func newWorld(t *testing.T, seed uint64, years, days int, frontShare float64) *world {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	start := time.Date(2001, 2, 26, 0, 0, 0, 0, time.UTC)
	end := time.Date(2000+years, 3, days+3, 0, 0, 0, 0, time.UTC)
	w := &world{h: weather.NewHourly(start, int(end.Sub(start)/time.Hour), weather.Reading)}
	air, skin := w.h.Col(weather.AirTemp), w.h.Col(weather.SurfaceTemp)
	low := w.h.Col(weather.AirTempMin)
	for i := range air {
		air[i], skin[i] = 12, 16
	}
	for y := range years {
		for d := range days {
			n, err := weather.NightOn(sky.DateOf(time.Date(2001+y, 3, 1+d, 12, 0, 0, 0, time.UTC)), testPlace.LatDeg, testPlace.LonDeg, testZone)
			if err != nil {
				t.Fatal(err)
			}
			w.nights, w.folds = append(w.nights, n), append(w.folds, 2001+y)
			rate, evening := 0.2+0.8*rng.Float64(), 8+4*rng.NormFloat64()
			front := math.Inf(1)
			if rng.Float64() < frontShare {
				front = 6 + 2*rng.Float64() // hours after sunset
			}
			a := w.h.Index(n.Sunset)
			for i := a - 12; !w.h.Time(i).After(n.End); i++ {
				since := w.h.Time(i).Sub(n.Sunset).Hours()
				left := n.Sunrise.Sub(w.h.Time(i)).Hours()
				switch {
				case since < 0:
					air[i] = evening - since*0.5
				case left < 0:
					air[i] = air[i-1] + 2
				default:
					air[i] = evening - rate*since + 0.15*rng.NormFloat64()
					if since > front {
						air[i] -= 5
					}
				}
				skin[i] = air[i] - 3*rate + 0.3*rng.NormFloat64()
			}
		}
	}
	for i := range air {
		low[i] = air[i]
		if i > 0 {
			low[i] = math.Min(air[i], air[i-1])
		}
	}
	return w
}

func (w *world) history(t *testing.T) *History {
	t.Helper()
	p := NewHistory(testPlace)
	for k, n := range w.nights {
		if !p.Add(&w.h, n, w.folds[k]) {
			t.Fatalf("night %s not taken", n.Label)
		}
	}
	return p
}

func (w *world) min(t *testing.T, k int) float64 {
	t.Helper()
	m, _, ok := weather.NightMin(&w.h, w.nights[k], w.nights[k].Sunset)
	if !ok {
		t.Fatalf("night %s has a gap", w.nights[k].Label)
	}
	return m
}

func (w *world) predict(t *testing.T, p *History, k int, sinceH float64) Forecast {
	t.Helper()
	f, err := p.Predict(Query{H: &w.h, Night: w.nights[k], Now: w.nights[k].Sunset.Add(time.Duration(sinceH * float64(time.Hour))),
		Fold: w.folds[k], OtherFolds: true})
	if err != nil {
		t.Fatal(err)
	}
	return f
}
