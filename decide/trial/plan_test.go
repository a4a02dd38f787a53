package trial

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"budward/physics/quantity"
)

// By hand with printed values of t (table named in TestTQuantile): spread 0.4 K, 8
// nights each way: t(14) = 2.145, 2.145 x 0.4/4 = 0.2145; 9 each way: t(16) =
// 2.120, 2.120 x 0.4/sqrt(18) = 0.1999. With nights before, 16 each way: t(60) =
// 2.000, 2.000 x 0.4/4 = 0.2000 and a little more; 17 each way: t(64) = 1.998,
// 1.998 x 0.4/sqrt(17) = 0.1938.
func TestPlanByHand(t *testing.T) {
	const printed = 0.0001 // t to three digits
	near(t, "8 each way", halfWidth(8, 0.4, 0.95, false), 0.2145, printed)
	near(t, "9 each way", halfWidth(9, 0.4, 0.95, false), 0.1999, printed)
	near(t, "17 each way, before too", halfWidth(17, 0.4, 0.95, true), 0.1938, printed)
	p, err := MakePlan(PlanInput{PrecisionK: 0.2})
	if err != nil || p.EachNights != 9 || p.ClearTotal != 3+18 || p.Calendar != 63 || p.NightSDK != PriorNightSDK {
		t.Errorf("%+v, %v; want 9 each way, 21 clear nights in 63", p, err)
	}
	p, err = MakePlan(PlanInput{PrecisionK: 0.195, Before: true, Clear: 0.5})
	if err != nil || p.EachNights != 17 || p.ClearTotal != 3+4*17 || p.Calendar != 142 {
		t.Errorf("%+v, %v; want 17 each way, before too: 71 clear nights in 142", p, err)
	}
}

// Four nights of 0.4 K and six of 0.2 K: (4 x 0.16 + 6 x 0.04)/10 = 0.088, root
// 0.29665.
func TestLearnSD(t *testing.T) {
	near(t, "spread", LearnSD(0.2, 6), 0.29665, 0.00001)
	near(t, "from nothing", LearnSD(math.NaN(), 0), PriorNightSDK, 0)
	p, err := MakePlan(PlanInput{PrecisionK: 0.2, NightSDK: 0.2, NightDF: 6})
	if err != nil || math.Abs(p.NightSDK-0.29665) > 0.00001 || p.EachNights >= 9 {
		t.Errorf("%+v, %v; want fewer nights with a smaller spread", p, err)
	}
}

// Trials made with the planned nights have, in the mean, intervals as wide as
// planned.
func TestPlanHolds(t *testing.T) {
	p, err := MakePlan(PlanInput{PrecisionK: 0.25})
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(5, 5))
	const trials = 500
	sum := 0.0
	for range trials {
		var pairs []Pair
		for range p.EachNights {
			pairs = append(pairs, nightsOf(Contrast, A, 1+0.4*r.NormFloat64())...)
			pairs = append(pairs, nightsOf(Contrast, B, -1+0.4*r.NormFloat64())...)
		}
		g := analysed(t, pairs).Gain
		sum += (g.High - g.Low) / 2
	}
	// The mean of a sample's spread lies 1/(4 df) below the true one: 2.5 % for 10
	// degrees of freedom; 1 % for the mean of 500.
	if got := sum / trials; math.Abs(got/p.HalfK-1) > 0.04 {
		t.Errorf("half width %.3f K, planned %.3f", got, p.HalfK)
	}
}

func TestPlanRefuses(t *testing.T) {
	for name, in := range map[string]PlanInput{
		"nothing asked": {}, "too fine": {PrecisionK: 0.01}, "too coarse": {PrecisionK: 10}, "not a number": {PrecisionK: math.NaN()},
		"confidence": {PrecisionK: 0.2, Conf: 95}, "clear": {PrecisionK: 0.2, Clear: 2}, "spread": {PrecisionK: 0.2, NightSDK: math.NaN(), NightDF: 3},
		"out of reach": {PrecisionK: 0.05, NightSDK: 5, NightDF: 50},
	} {
		if _, err := MakePlan(in); !errors.As(err, new(*InputError)) {
			t.Errorf("%s: %v; want an *InputError", name, err)
		}
	}
}

// The protocol says what the plan says, in the units asked for, and each of the
// things a trial fails by.
func TestProtocol(t *testing.T) {
	p, err := MakePlan(PlanInput{PrecisionK: 0.2, Before: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, of := range []Of{OfFloor, OfWetting} {
		for _, sys := range []quantity.System{quantity.US, quantity.Metric} {
			all := ""
			for _, s := range Protocol(of, p, sys) {
				all += s.Title + "\n" + strings.Join(s.Lines, "\n") + "\n"
			}
			for _, want := range []string{"cordon height", "same shelter", "swapped after 17", "34 clear, calm nights", "Side by side: 3", "cold air", "sprinkler"} {
				if !strings.Contains(all, want) {
					t.Errorf("%s: %q is not said", of, want)
				}
			}
			if strings.Contains(all, "field capacity") != (of == OfWetting) || strings.Contains(all, "°F") != (sys == quantity.US) {
				t.Errorf("%s, %v:\n%s", of, sys, all)
			}
		}
	}
}
