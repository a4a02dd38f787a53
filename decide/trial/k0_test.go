package trial

import (
	"errors"
	"math"
	"testing"

	"budward/physics/quantity"
	"budward/physics/sky"
	"budward/vineyard/farm"
)

// gainLaw is a gain that falls with mixing as a heat flux shared out does: 8 W/m2
// over K0 + 3 W/m2K of other mixing, 1 K at the prior's K0.
func gainLaw(k0 float64) (float64, error) { return 8 / (k0 + 3), nil }

func measuredAs(gain, se, df float64) Measured {
	return Measured{Gain: Interval{gain - 2*se, gain, gain + 2*se}, SEK: se, DF: df}
}

// A measurement that says nothing leaves the prior: 5 and a factor of 1.6; the 10th
// and 90th of a normal spread lie 1.2816 standard deviations out: 5/1.6^1.2816 =
// 2.738, 5 x 1.6^1.2816 = 9.131.
func TestK0PriorAlone(t *testing.T) {
	k, err := K0From(gainLaw, measuredAs(1, 1000, 5), quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	const grid = 0.005 // as a share: a step of the sums is 0.8 %, joined by straight lines
	near(t, "central", k.CentralWM2K, 5, 5*grid)
	near(t, "low", k.LowWM2K, 2.738, 2.738*grid)
	near(t, "high", k.HighWM2K, 9.131, 9.131*grid)
	near(t, "factor", k.Factor, 1.6, 0.002) // the ends at 4 standard deviations
	if !k.PriorOnly || k.Why == "" {
		t.Errorf("%+v; want prior only", k)
	}
	near(t, "modelled", k.ModelledK, 1, 1e-12)
	near(t, "ratio", k.Ratio, 1, 1e-12)
}

// A much finer and wider sum over the same densities, written out anew.
func TestK0AgainstFineSum(t *testing.T) {
	for _, m := range []Measured{measuredAs(1.5, 0.1, 8), measuredAs(0.5, 0.1, 4), measuredAs(1, 0.05, 30), measuredAs(0.1, 0.2, 6), measuredAs(-0.3, 0.2, 6), measuredAs(4, 0.1, 10)} {
		k, err := K0From(gainLaw, m, quantity.Metric)
		if err != nil {
			t.Fatal(err)
		}
		const n = 20000
		var cum [n + 1]float64
		at := func(i int) float64 { return -4 + 8*float64(i)/n } // standard deviations of ln K0
		for i := 1; i <= n; i++ {
			z := at(i)
			g := 8 / (5*math.Pow(1.6, z) + 3)
			s := math.Sqrt(m.SEK*m.SEK + 0.04*g*g)
			u := (m.Gain.Central - g) / s
			cum[i] = cum[i-1] + math.Exp(-z*z/2)*math.Pow(1+u*u/m.DF, -(m.DF+1)/2)/s
		}
		for _, q := range []struct {
			p   float64
			got float64
		}{{0.1, k.LowWM2K}, {0.5, k.CentralWM2K}, {0.9, k.HighWM2K}} {
			i := 0
			for cum[i] < q.p*cum[n] {
				i++
			}
			// The model is asked every third of a standard deviation and taken to be
			// straight between: 8/(K0 + 3) bends by less than 0.2 % of itself there.
			if d := math.Log(q.got/5)/math.Log(1.6) - at(i); math.Abs(d) > 0.02 {
				t.Errorf("gain %v: quantile %v is off by %.3f standard deviations", m.Gain.Central, q.p, d)
			}
		}
	}
}

// More gain than modelled means less mixing; more nights, less spread.
func TestK0Directions(t *testing.T) {
	last := math.Inf(1)
	for _, g := range []float64{0.5, 0.8, 1, 1.5, 2.5} {
		k, err := K0From(gainLaw, measuredAs(g, 0.1, 10), quantity.Metric)
		if err != nil || !(k.CentralWM2K < last) || k.PriorOnly {
			t.Errorf("gain %v K gives K0 %.2f (%v), less than %.2f before", g, k.CentralWM2K, err, last)
		}
		last = k.CentralWM2K
	}
	for g, want := range map[float64]bool{1: false, 0.7: false, 4: true, -1: true} {
		if k, err := K0From(gainLaw, measuredAs(g, 0.1, 20), quantity.Metric); err != nil || (k.Doubt != "") != want {
			t.Errorf("gain %v K: doubt %q, %v; want doubt %v", g, k.Doubt, err, want)
		}
	}
	wide, _ := K0From(gainLaw, measuredAs(1, 0.5, 10), quantity.Metric)
	narrow, _ := K0From(gainLaw, measuredAs(1, 0.05, 10), quantity.Metric)
	if !(narrow.Factor < wide.Factor) {
		t.Errorf("factor %.2f with 0.05 K, %.2f with 0.5 K", narrow.Factor, wide.Factor)
	}
}

func TestK0WithoutContrast(t *testing.T) {
	k, err := K0From(func(k0 float64) (float64, error) { return 0.8 / (k0 + 3), nil }, measuredAs(0.1, 0.02, 20), quantity.Metric)
	if err != nil || !k.PriorOnly || k.Why == "" {
		t.Errorf("%+v, %v; floors 0.1 K apart tell nothing", k, err)
	}
	bad := errors.New("no model")
	if _, err := K0From(func(float64) (float64, error) { return 0, bad }, measuredAs(1, 0.1, 9), quantity.Metric); !errors.Is(err, bad) {
		t.Errorf("the model's error is lost: %v", err)
	}
}

// Where the place's own difference is in the gain it weighs: 0.3 K beside 0.4 K is
// 0.5 K.
func TestMeasuredAddsThePlace(t *testing.T) {
	r := Result{SEK: 0.4, PlaceIncluded: true}
	near(t, "standard error", r.Measured().SEK, 0.5, 1e-12)
	r.PlaceIncluded = false
	near(t, "standard error", r.Measured().SEK, 0.4, 1e-12)
}

var springNights = Weather{Nights: 8, LowC: 0.5, HighC: 16, DewC: -1, WindMS: 0.8, Middle: sky.Date{Year: 2024, Month: 4, Day: 8}}

func bareFloors(over, beside float64) Floors {
	bare := func(v float64) farm.Strip {
		return farm.Strip{Surface: farm.BareFirm, Moisture: farm.Moisture{Value: v}}
	}
	return Floors{Over: bare(over), Beside: bare(beside), Soil: farm.Soil{Texture: "loam"}, AreaHa: 10, CordonM: 1}
}

func modelled(t *testing.T, f Floors, w Weather, k0 float64) float64 {
	t.Helper()
	m, err := NewModel(f, w, 38.5, -122, 60)
	if err != nil {
		t.Fatal(err)
	}
	g, err := m.Gain(k0)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// Handbooks have moist firm ground 2 degF (1.1 K) warmer than dry firm ground on
// large blocks (The Grower, Apr 2008, table 2); a factor of two either way is what
// handbooks differ by, and a 10 ha plot gains less than a large block.
func TestModelOfWetting(t *testing.T) {
	g := modelled(t, bareFloors(0.28, 0.15), springNights, 5)
	if g < 0.3 || g > 2.2 {
		t.Errorf("moist against dry: %.2f K", g)
	}
	if back := modelled(t, bareFloors(0.15, 0.28), springNights, 5); math.Abs(back+g) > 0.1*g { // the reference's moisture differs between the two
		t.Errorf("exchanged: %.2f K, want %.2f", back, -g)
	}
	if same := modelled(t, bareFloors(0.2, 0.2), springNights, 5); same != 0 {
		t.Errorf("equal floors differ by %v K", same)
	}
	if more := modelled(t, bareFloors(0.28, 0.15), springNights, 15); !(more < 0.8*g) {
		t.Errorf("%.2f K with threefold K0, %.2f with one", more, g)
	}
}

// What was not read is taken, and said.
func TestModelSaysWhatItTook(t *testing.T) {
	w := springNights
	w.WindMS, w.HighC, w.DewC = math.NaN(), math.NaN(), math.NaN()
	m, err := NewModel(bareFloors(0.28, 0.15), w, 38.5, -122, 60)
	if err != nil || len(m.Notes) != 3 {
		t.Fatalf("%v, notes %q; want wind, day and humidity", err, m.Notes)
	}
	if g, err := m.Gain(5); err != nil || !(g > 0.2 && g < 2.5) {
		t.Errorf("%.2f K, %v", g, err)
	}
	if _, err := m.Gain(0); !errors.As(err, new(*InputError)) {
		t.Errorf("K0 of nothing: %v", err)
	}
	if _, err := NewModel(bareFloors(0.28, 0.15), Weather{}, 38.5, -122, 60); !errors.As(err, new(*InputError)) {
		t.Errorf("without nights: %v", err)
	}
	midsummer := springNights
	midsummer.Middle = sky.Date{Year: 2024, Month: 6, Day: 20}
	if _, err := NewModel(bareFloors(0.28, 0.15), midsummer, 78, 20, 0); !errors.As(err, new(*sky.NeverError)) {
		t.Errorf("midsummer at 78 N: %v; want a *sky.NeverError", err)
	}
}
