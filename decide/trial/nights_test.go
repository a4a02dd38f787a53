package trial

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/physics/sky"
)

const testLat, testLon = 38.5, -122.0

var (
	testZone = time.FixedZone("PST", -8*3600)
	first    = sky.Date{Year: 2024, Month: 4, Day: 1}
)

// hung is one night of an invented spring as the thermometers saw it.
type hung struct {
	over  Sensor  // "" side by side
	place float64 // K, over less beside, floor apart
	gain  float64
	cloud float64
	wind  float64
	// clear: the clear fall of 12 K to sunrise; else its share
	fall     float64
	early    bool    // clouds come at midnight and it grows warmer
	rain     float64 // mm in one hour of the night
	missingA bool    // an hour
	missingB bool
}

func clearNight(over Sensor, gain float64) hung {
	return hung{over: over, gain: gain, wind: 0.8, fall: 1}
}

// season writes the nights from the first of April on, each reading at the end of
// its interval; A reads 0.3 K too much.
func season(nights []hung, step time.Duration, noise func() float64) (a, b weather.Batch) {
	a = weather.Batch{StationID: "left", Kind: weather.Reading, Origin: "a.csv"}
	b = weather.Batch{StationID: "right", Kind: weather.Reading, Origin: "b.csv"}
	for d, n := range nights {
		night, err := weather.NightOn(first.AddDays(d), testLat, testLon, testZone)
		if err != nil {
			panic(err)
		}
		start := first.AddDays(d).At(12, 0, testZone)
		extra := noise()
		for at := start; at.Before(start.Add(24 * time.Hour)); at = at.Add(step) {
			base := 14.0
			share := at.Sub(night.Sunset).Hours() / night.Sunrise.Sub(night.Sunset).Hours()
			switch {
			case n.early && share > 0.4:
				base -= 12 * n.fall * math.Sqrt(0.4) * math.Max(0, 1.4-share)
			case share >= 1:
				base -= 12 * n.fall * math.Max(0, 1-(share-1)*4)
			case share > 0:
				base -= 12 * n.fall * math.Sqrt(share)
			}
			way := map[Sensor]float64{A: 0.5, B: -0.5}[n.over] * (n.place + n.gain)
			if share < 0 || share > 1.1 {
				way = 0 // by day the air is mixed
			}
			inHour := func(h int) bool {
				return at.After(night.Sunset.Add(time.Duration(h)*time.Hour)) && !at.After(night.Sunset.Add(time.Duration(h+2)*time.Hour))
			}
			if !(n.missingA && inHour(5)) {
				a.Samples = append(a.Samples, weather.Sample{At: at, Var: weather.AirTemp, Value: base + 0.3 + way + extra/2})
			}
			if !(n.missingB && inHour(5)) {
				b.Samples = append(b.Samples, weather.Sample{At: at, Var: weather.AirTemp, Value: base - way - extra/2})
			}
			gust := 0.1 * math.Sin(float64(at.Hour())) // no anemometer reads the same all night
			if n.wind >= 0 {
				a.Samples = append(a.Samples, weather.Sample{At: at, Var: weather.Wind, Value: n.wind + gust}, weather.Sample{At: at, Var: weather.Cloud, Value: n.cloud})
			}
			if n.rain > 0 && at.Equal(start.Add(12*time.Hour)) {
				b.Samples = append(b.Samples, weather.Sample{At: at, Var: weather.Rain, Value: n.rain})
			}
		}
	}
	return a, b
}

func quiet() float64 { return 0 }

func session(k Kind, over Sensor, from, to int) Session {
	return Session{k, over, first.AddDays(from), first.AddDays(to)}
}

func inputOf(a, b weather.Batch, sessions ...Session) Input {
	return Input{A: []weather.Batch{a}, B: []weather.Batch{b}, LatDeg: testLat, LonDeg: testLon, Zone: testZone, Sessions: sessions,
		Units: quantity.Metric, Now: first.AddDays(200).At(0, 0, testZone)}
}

// From readings to the gain: offset, place and gain that the records were made of
// come back; the night before a session's end counts, the one after does not.
func TestFromReadings(t *testing.T) {
	var nights []hung
	for i := range 21 {
		n := clearNight(A, 0)
		switch {
		case i < 3:
			n.over = ""
		case i < 6:
			n.place = 0.2
		case i < 9:
			n.over, n.place = B, 0.2
		case i < 15:
			n.place, n.gain = 0.2, 0.9
		default:
			n.over, n.place, n.gain = B, 0.2, 0.9
		}
		nights = append(nights, n)
	}
	sessions := []Session{session(SideBySide, "", 0, 2), session(Before, A, 3, 5), session(Before, B, 6, 8), session(Contrast, A, 9, 14), session(Contrast, B, 15, 20)}
	r := rand.New(rand.NewPCG(2, 9))
	for name, c := range map[string]struct {
		step  time.Duration
		noise func() float64
		tol   float64
	}{
		"hourly": {time.Hour, quiet, 1e-9}, // nothing but rounding
		"10 min": {10 * time.Minute, quiet, 1e-9},
		// Standard error 0.1 sqrt(4 (1/3 + 1/3 + 1/6 + 1/6))/2 = 0.1 K at most; three of them.
		"noisy": {10 * time.Minute, func() float64 { return 0.1 * r.NormFloat64() }, 0.3},
	} {
		a, b := season(nights, c.step, c.noise)
		got, err := Estimate(inputOf(a, b, sessions...))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(got.Pairs) != 21 || len(got.Excluded) != 0 {
			t.Fatalf("%s: %d nights count, left out %v", name, len(got.Pairs), got.Excluded)
		}
		near(t, name+": gain", got.Gain.Central, 0.9, c.tol)
		near(t, name+": offset", got.Offset.Central, 0.3, c.tol)
		near(t, name+": place", got.Place.Central, 0.2, c.tol)
		if w := got.Weather; w.Nights != 12 || !(math.Abs(w.WindMS-0.8) < 0.1) || !(math.Abs(w.HighC-14.15) < 0.3) || !(math.Abs(w.LowC-1.6) < 0.8) || w.Middle.Before(first.AddDays(9)) {
			t.Errorf("%s: the nights were %+v", name, w)
		}
		if c := codes(got); c["wind-not-read"] || c["log-unlike"] {
			t.Errorf("%s: flags %v", name, c)
		}
	}
}

// Each rule leaves out the night that breaks it, with its reason, and no other.
func TestNightsLeftOut(t *testing.T) {
	broken := map[int]struct {
		n    hung
		want string
	}{
		1: {hung{over: A, gain: 1, wind: 3.5, fall: 1}, "wind 3.5"},
		2: {hung{over: A, gain: 1, wind: 0.8, cloud: 0.7, fall: 1}, "cloud 70 %"},
		3: {hung{over: A, gain: 1, wind: 0.8, fall: 0.2}, "fell by only"},
		4: {hung{over: A, gain: 1, wind: 0.8, fall: 1, early: true}, "rose by"},
		5: {hung{over: A, gain: 1, wind: 0.8, fall: 1, rain: 4}, "rain 4.0 mm"},
		6: {hung{over: A, gain: 1, wind: 0.8, fall: 1, missingA: true}, "thermometer A"},
		7: {hung{over: A, gain: 1, wind: 0.8, fall: 1, missingB: true}, "thermometer B"},
	}
	var nights []hung
	for i := range 13 {
		n := clearNight(A, 1)
		if i >= 9 {
			n.over = B
		}
		if x, bad := broken[i]; bad {
			n = x.n
		}
		nights = append(nights, n)
	}
	a, b := season(nights, time.Hour, quiet)
	in := inputOf(a, b, session(Contrast, A, 0, 8), session(Contrast, B, 9, 12), session(Contrast, B, 400, 401))
	in.Now = first.AddDays(401).At(9, 0, testZone) // that morning, half an hour before the night is over; nothing was read
	got, err := Estimate(in)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "gain", got.Gain.Central, 1, 1e-9)
	if len(got.Pairs) != 6 {
		t.Errorf("%d nights count, want 6", len(got.Pairs))
	}
	for _, x := range got.Excluded {
		day := int(x.Evening.At(12, 0, testZone).Sub(first.At(12, 0, testZone)).Hours() / 24)
		want := "both thermometers"
		if day == 401 {
			want = "not over yet"
		}
		if day < 400 {
			want = broken[day].want
		}
		if want == "" || !strings.Contains(x.Why, want) || x.Label == "" {
			t.Errorf("night %d (%s): %q; want %q", day, x.Label, x.Why, want)
		}
		delete(broken, day)
	}
	if len(broken) > 0 {
		t.Errorf("not left out: %v", broken)
	}
	// The early minimum is named too.
	if !strings.Contains(got.Excluded[3].Why, "before sunrise") {
		t.Errorf("the night that clouded over: %q", got.Excluded[3].Why)
	}
}

// Without wind, cloud or rain calm is judged from the cooling alone, and said.
func TestWithoutOtherInstruments(t *testing.T) {
	var nights []hung
	for i := range 8 {
		n := clearNight(A, 1)
		n.wind = -1 // not read
		if i >= 4 {
			n.over = B
		}
		nights = append(nights, n)
	}
	a, b := season(nights, 30*time.Minute, quiet)
	got, err := Estimate(inputOf(a, b, session(Contrast, A, 0, 3), session(Contrast, B, 4, 7)))
	if err != nil || len(got.Pairs) != 8 || !codes(got)["wind-not-read"] || !math.IsNaN(got.Weather.WindMS) {
		t.Errorf("%v, %d nights, %v", err, len(got.Pairs), got.Flags)
	}
	// One logs every ten minutes and the other every hour: the lowest within the hour
	// of the one is not held against the hourly mean of the other.
	quick, _ := season(nights, 10*time.Minute, quiet)
	got, err = Estimate(inputOf(quick, b, session(Contrast, A, 0, 3), session(Contrast, B, 4, 7)))
	if err != nil || !codes(got)["log-unlike"] {
		t.Errorf("%v; unlike loggers are flagged %v", err, got.Flags)
	}
}

// No night counts: the error says so and the result lists why.
func TestNoNightCounts(t *testing.T) {
	var nights []hung
	for range 6 {
		n := clearNight(A, 1)
		n.wind = 5
		nights = append(nights, n)
	}
	a, b := season(nights, time.Hour, quiet)
	got, err := Estimate(inputOf(a, b, session(Contrast, A, 0, 2), session(Contrast, B, 3, 5)))
	if !errors.As(err, new(*TooFewError)) || len(got.Excluded) != 6 {
		t.Errorf("%v, left out %v", err, got.Excluded)
	}
}

func TestInputRefused(t *testing.T) {
	a, b := season([]hung{clearNight(A, 1)}, time.Hour, quiet)
	good := inputOf(a, b, session(Contrast, A, 0, 0))
	for name, change := range map[string]func(in *Input){
		"no now":        func(in *Input) { in.Now = time.Time{} },
		"no place":      func(in *Input) { in.LatDeg = math.NaN() },
		"no A":          func(in *Input) { in.A = nil },
		"no session":    func(in *Input) { in.Sessions = nil },
		"confidence":    func(in *Input) { in.Conf = 95 },
		"kind":          func(in *Input) { in.Sessions[0].Kind = "after" },
		"sensor":        func(in *Input) { in.Sessions[0].Over = "C" },
		"side over":     func(in *Input) { in.Sessions[0].Kind = SideBySide },
		"backwards":     func(in *Input) { in.Sessions[0].From = first.AddDays(3) },
		"no date":       func(in *Input) { in.Sessions[0].To = sky.Date{Year: 2024, Month: 4, Day: 31} },
		"twice":         func(in *Input) { in.Sessions = append(in.Sessions, session(Contrast, B, 0, 2)) },
		"too long":      func(in *Input) { in.Sessions[0].To = first.AddDays(500) },
		"a forecast":    func(in *Input) { in.B[0].Kind = weather.Forecast },
		"all yet to be": func(in *Input) { in.Now = first.AddDays(-9).At(0, 0, testZone) },
	} {
		in := good
		in.A, in.B, in.Sessions = []weather.Batch{a}, []weather.Batch{b}, append([]Session(nil), good.Sessions...)
		change(&in)
		if _, err := Estimate(in); !errors.As(err, new(*InputError)) {
			t.Errorf("%s: %v; want an *InputError", name, err)
		}
	}
}
