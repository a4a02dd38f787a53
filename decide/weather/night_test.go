package weather

import (
	"errors"
	"math"
	"testing"
	"time"
	_ "time/tzdata"

	"budward/physics/quantity"
	"budward/physics/sky"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func TestNightsAheadLabels(t *testing.T) {
	z := zone(t, "America/Los_Angeles")
	for _, c := range []struct {
		now, first, last string
		n                int
	}{
		{"2024-02-20 12:00", "Tue 20 - Wed 21 Feb", "Mon 26 - Tue 27 Feb", 7},
		{"2024-02-28 12:00", "Wed 28 - Thu 29 Feb", "Thu 29 Feb - Fri 1 Mar", 2}, // leap day
		{"2023-12-31 12:00", "Sun 31 Dec 2023 - Mon 1 Jan 2024", "Mon 1 - Tue 2 Jan", 2},
	} {
		now, err := time.ParseInLocation("2006-01-02 15:04", c.now, z)
		if err != nil {
			t.Fatal(err)
		}
		ns, err := NightsAhead(now, 38.5, -122.5, z, c.n)
		if err != nil || len(ns) != c.n || ns[0].Label != c.first || ns[c.n-1].Label != c.last || ns[0].Begun {
			t.Errorf("%s: %v, %v", c.now, ns, err)
		}
		for _, n := range ns {
			if !n.Sunset.Before(n.Sunrise) || n.End.Sub(n.Sunrise) != 2*time.Hour {
				t.Errorf("%s: %+v", c.now, n)
			}
		}
	}
}

// A night under way stays the first until two hours past sunrise.
func TestNightsAheadBegun(t *testing.T) {
	z := zone(t, "Europe/Berlin")
	noon := time.Date(2024, 4, 22, 12, 0, 0, 0, z)
	ns, err := NightsAhead(noon, 49.5, 8.4, z, 2)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		now   time.Time
		label string
		begun bool
	}{
		{ns[0].Sunset.Add(-time.Minute), "Mon 22 - Tue 23 Apr", false},
		{ns[0].Sunset.Add(time.Minute), "Mon 22 - Tue 23 Apr", true},
		{ns[0].Sunrise, "Mon 22 - Tue 23 Apr", true},
		{ns[0].End.Add(-time.Minute), "Mon 22 - Tue 23 Apr", true},
		{ns[0].End, "Tue 23 - Wed 24 Apr", false},
	} {
		got, err := NightsAhead(c.now, 49.5, 8.4, z, 1)
		if err != nil || got[0].Label != c.label || got[0].Begun != c.begun {
			t.Errorf("%v: %+v, %v; want %s begun %v", c.now, got, err, c.label, c.begun)
		}
	}
}

// Across a change of the clock the nights are an hour apart by the clock and 24
// by the sun: successive sunsets differ by minutes.
func TestNightsAheadDST(t *testing.T) {
	z := zone(t, "America/New_York")
	ns, err := NightsAhead(time.Date(2024, 3, 8, 12, 0, 0, 0, z), 42.4, -76.5, z, 5)
	if err != nil {
		t.Fatal(err)
	}
	for k := 1; k < len(ns); k++ {
		d := ns[k].Sunset.Sub(ns[k-1].Sunset)
		if (d - 24*time.Hour).Abs() > 3*time.Minute { // at 42 N near the equinox sunset moves by about 70 s a day
			t.Errorf("sunsets %v apart", d)
		}
	}
	if ns[1].Label != "Sat 9 - Sun 10 Mar" { // the night of the change
		t.Errorf("label %q", ns[1].Label)
	}
}

func TestNightsAheadHighLatitude(t *testing.T) {
	z := zone(t, "Europe/Helsinki")
	got, err := NightsAhead(time.Date(2024, 6, 10, 12, 0, 0, 0, z), 69, 27, z, 3)
	var none *NoNightError
	var never *sky.NeverError
	if len(got) != 0 || !errors.As(err, &none) || !errors.As(err, &never) || !never.Up {
		t.Errorf("midnight sun: %v, %v", got, err)
	}
	// Nights that still come before the midnight sun are given, then the reason.
	got, err = NightsAhead(time.Date(2024, 5, 10, 12, 0, 0, 0, z), 69, 27, z, 30)
	if len(got) == 0 || len(got) == 30 || !errors.As(err, &none) {
		t.Errorf("before the midnight sun: %d nights, %v", len(got), err)
	}
	if _, err := NightsAhead(time.Date(2024, 12, 21, 12, 0, 0, 0, z), 69, 27, z, 1); !errors.As(err, &none) {
		t.Errorf("polar night: %v", err)
	}
	if _, err := NightsAhead(t0, 91, 0, time.UTC, 1); !errors.As(err, new(*quantity.RangeError)) {
		t.Errorf("latitude 91: %v", err)
	}
	if _, err := NightsAhead(t0, 45, 0, time.UTC, 0); !errors.As(err, new(*InputError)) {
		t.Errorf("no nights asked: %v", err)
	}
}

// Pairs of a synthetic station whose forecasts are 1.5 K too warm come out so.
func TestPairs(t *testing.T) {
	nights := sevenNights()
	truth := func(i int) float64 { return 3 - 5*math.Cos(2*math.Pi*float64(i-6)/24) + float64(i/24)*0.3 }
	r := readings()
	for i := range 24 * 9 {
		if i == 24*3+2 {
			continue // 02:00 in the night of day 3 (index 2) was not read
		}
		r.Samples = append(r.Samples, Sample{hr(float64(i)), AirTemp, truth(i)})
	}
	var fs []Batch
	for d := range 7 {
		f := issue(float64(24*d + 12))
		for i := 24*d + 12; i < 24*(d+3); i++ {
			f.Samples = append(f.Samples, Sample{hr(float64(i)), AirTemp, truth(i) + 1.5})
		}
		fs = append(fs, f)
	}
	fs = append(fs, issue(24*2+22)) // made during a night
	ps, rep, err := Pairs(fs, []Batch{r}, nights)
	if err != nil {
		t.Fatal(err)
	}
	// Each issue covers the nights of its own day and the next (60 h from noon
	// end at 23:00 of the day after); 13 whole nights less two unmeasured.
	if rep.Pairs != 11 || rep.NotMeasured != 2 || rep.IssuedDuring != 1 {
		t.Errorf("report %+v", rep)
	}
	for _, p := range ps {
		if e := p.MeasuredMinC - p.ForecastMinC; math.Abs(e+1.5) > 1e-9 {
			t.Errorf("pair %+v: error %v, want -1.5", p, e)
		}
		if !(p.LeadH > 0 && p.LeadH < 48) {
			t.Errorf("pair %+v: lead", p)
		}
	}
	m, learned := Learn(Prior(), ps)
	if learned.Nights != 6 { // seven less the one not measured
		t.Errorf("%d different nights, want 6", learned.Nights)
	}
	if m.Leads[0].Nights != 6 || m.Leads[1].Nights != 5 || !(m.Leads[0].BiasK < -0.5) {
		t.Errorf("learned %+v", m.Leads[:2])
	}
}
