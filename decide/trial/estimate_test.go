package trial

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"budward/physics/quantity"
	"budward/physics/sky"
)

// nightsOf makes pairs of one group from differences.
func nightsOf(k Kind, over Sensor, diffs ...float64) []Pair {
	var out []Pair
	for i, d := range diffs {
		out = append(out, Pair{Evening: sky.Date{Year: 2024, Month: 4, Day: 1}.AddDays(i), Kind: k, Over: over, AMinC: d, BMinC: 0, DiffK: d, WindMS: 1})
	}
	return out
}

func joinPairs(lists ...[]Pair) (out []Pair) {
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

func analysed(t *testing.T, pairs []Pair) Result {
	t.Helper()
	r := Result{Conf: 0.95, Pairs: pairs, Weather: Weather{Nights: len(pairs), WindMS: 1}}
	if err := r.analyse(quantity.Metric); err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.7g, want %.7g", name, got, want)
	}
}

// By hand. A over: 0.9 1.1 1.0 1.2 0.8, mean 1.0, sum of squares 0.10. B over:
// -0.3 -0.5 -0.4 -0.2 -0.6, mean -0.4, sum of squares 0.10. Gain (1.0 + 0.4)/2 =
// 0.7, offset (1.0 - 0.4)/2 = 0.3. Variance of a night 0.20/8 = 0.025; of the gain
// (0.025/5 + 0.025/5)/4 = 0.0025, standard error 0.05. t with 8 degrees of freedom
// is 2.306 (table named in TestTQuantile): 0.7 +- 0.1153.
func TestCrossOverByHand(t *testing.T) {
	r := analysed(t, joinPairs(nightsOf(Contrast, A, 0.9, 1.1, 1.0, 1.2, 0.8), nightsOf(Contrast, B, -0.3, -0.5, -0.4, -0.2, -0.6)))
	const rounding = 1e-12
	near(t, "mean A over", r.Groups[0].MeanK, 1, rounding)
	near(t, "mean B over", r.Groups[1].MeanK, -0.4, rounding)
	near(t, "weight A", r.Groups[0].Weight, 0.5, rounding)
	near(t, "weight B", r.Groups[1].Weight, -0.5, rounding)
	near(t, "spread of a night", r.NightK, math.Sqrt(0.025), rounding)
	near(t, "standard error", r.SEK, 0.05, rounding)
	near(t, "degrees of freedom", r.DF, 8, rounding)
	near(t, "gain", r.Gain.Central, 0.7, rounding)
	near(t, "low end", r.Gain.Low, 0.5847, 0.00006) // t is printed to three digits
	near(t, "high end", r.Gain.High, 0.8153, 0.00006)
	near(t, "offset", r.Offset.Central, 0.3, rounding)
	if !r.PlaceIncluded || r.Place != nil || r.Design != "swapped half-way" {
		t.Errorf("place %v %v, design %q", r.PlaceIncluded, r.Place, r.Design)
	}
}

// Student's sleep data, published with the R language (data set "sleep") and
// worked in its documentation of t.test: means 0.75 and 2.33; equal variances: 18
// degrees of freedom, 95 % interval of the difference -3.363874 to 0.203874; Welch:
// 17.776 degrees of freedom, -3.365483 to 0.205483.
var (
	sleep1 = []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	sleep2 = []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
)

func TestAgainstR(t *testing.T) {
	const printed = 1e-6 // the ends are printed to six or seven digits
	for _, c := range []struct {
		name      string
		pairs     []Pair
		gain      float64
		low, high float64
		df, dfTol float64
		place     bool
	}{
		// Before and after with A over: the difference of two means, pooled.
		{"before and trial", joinPairs(nightsOf(Before, A, sleep1...), nightsOf(Contrast, A, sleep2...)), 1.58, -0.203874, 3.363874, 18, 1e-9, false},
		// B over: the same, reversed.
		{"reversed", joinPairs(nightsOf(Before, B, sleep1...), nightsOf(Contrast, B, sleep2...)), -1.58, -3.363874, 0.203874, 18, 1e-9, false},
		// Swap: half of it.
		{"swap", joinPairs(nightsOf(Contrast, A, sleep2...), nightsOf(Contrast, B, sleep1...)), 0.79, -0.101937, 1.681937, 18, 1e-9, true},
		// Side by side has a spread of its own: Welch.
		{"side and trial", joinPairs(nightsOf(SideBySide, "", sleep1...), nightsOf(Contrast, A, sleep2...)), 1.58, -0.2054832, 3.3654832, 17.776, 0.0005, true},
	} {
		r := analysed(t, c.pairs)
		near(t, c.name+": gain", r.Gain.Central, c.gain, 1e-9)
		near(t, c.name+": low", r.Gain.Low, c.low, printed)
		near(t, c.name+": high", r.Gain.High, c.high, printed)
		near(t, c.name+": freedom", r.DF, c.df, c.dfTol)
		if r.PlaceIncluded != c.place {
			t.Errorf("%s: place included %v", c.name, r.PlaceIncluded)
		}
	}
}

// A full trial without noise beyond a wobble that cancels gives back what it was
// made of, whatever the numbers of nights.
func TestRecoversWhatItWasMadeOf(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 200 {
		o, s, g := r.NormFloat64(), r.NormFloat64(), r.NormFloat64()
		var pairs []Pair
		for _, x := range []struct {
			k    Kind
			over Sensor
			mean float64
		}{{SideBySide, "", o}, {Before, A, o + s}, {Before, B, o - s}, {Contrast, A, o + s + g}, {Contrast, B, o - s - g}} {
			for range 1 + r.IntN(5) {
				pairs = append(pairs, nightsOf(x.k, x.over, x.mean+0.1, x.mean-0.1)...)
			}
		}
		got := analysed(t, pairs)
		const rounding = 1e-9
		near(t, "gain", got.Gain.Central, g, rounding)
		near(t, "offset", got.Offset.Central, o, rounding)
		near(t, "place", got.Place.Central, s, rounding)
	}
}

// What a thermometer reads wrong by drops out of a swapped trial, and calling A B
// and B A changes nothing but the offset's sign.
func TestOffsetDropsOut(t *testing.T) {
	pairs := joinPairs(nightsOf(Before, A, 0.1, 0.2, 0), nightsOf(Before, B, 0.2, 0.4), nightsOf(Contrast, A, 0.9, 0.7, 1), nightsOf(Contrast, B, -0.3, -0.5))
	plain := analysed(t, pairs)
	var wrong, named []Pair
	for _, p := range pairs {
		w, n := p, p
		w.DiffK += 3
		n.DiffK, n.AMinC, n.BMinC = -p.DiffK, p.BMinC, p.AMinC
		n.Over = map[Sensor]Sensor{A: B, B: A}[p.Over]
		wrong, named = append(wrong, w), append(named, n)
	}
	const rounding = 1e-9
	for name, r := range map[string]Result{"3 K wrong": analysed(t, wrong), "names exchanged": analysed(t, named)} {
		near(t, name+": gain", r.Gain.Central, plain.Gain.Central, rounding)
		near(t, name+": low", r.Gain.Low, plain.Gain.Low, rounding)
		near(t, name+": place", r.Place.Central, plain.Place.Central, rounding)
	}
	near(t, "offset", analysed(t, wrong).Offset.Central, plain.Offset.Central+3, rounding)
	near(t, "offset exchanged", analysed(t, named).Offset.Central, -plain.Offset.Central, rounding)
}

// The interval holds the truth as often as it says.
func TestIntervalCovers(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	noise := func(sd float64) float64 { return sd * r.NormFloat64() }
	const trials = 3000
	for name, makeOne := range map[string]func() []Pair{
		"swap": func() (out []Pair) {
			for i := range 9 {
				over, way := A, 1.0
				if i >= 5 {
					over, way = B, -1
				}
				out = append(out, nightsOf(Contrast, over, 0.3+way*0.8+noise(0.4))...)
			}
			return out
		},
		"side by side": func() (out []Pair) {
			for range 3 {
				out = append(out, nightsOf(SideBySide, "", 0.3+noise(0.15))...)
			}
			for range 6 {
				out = append(out, nightsOf(Contrast, A, 0.3+0.8+noise(0.4))...)
			}
			return out
		},
	} {
		held := 0
		for range trials {
			if g := analysed(t, makeOne()).Gain; g.Low <= 0.8 && g.High >= 0.8 {
				held++
			}
		}
		// Three standard errors of a share of 0.95 in 3000 are 0.012. Satterthwaite's
		// freedom is itself an estimate: another 0.01.
		if share := float64(held) / trials; math.Abs(share-0.95) > 0.022 {
			t.Errorf("%s: the 95 %% interval held in %.3f", name, share)
		}
	}
}

func TestTooFew(t *testing.T) {
	for name, pairs := range map[string][]Pair{
		"nothing":                nil,
		"one way alone":          nightsOf(Contrast, A, 1, 1.2, 0.9, 1),
		"no trial":               joinPairs(nightsOf(Before, A, 1, 2), nightsOf(Before, B, 1, 2)),
		"before and after apart": joinPairs(nightsOf(Before, A, 0, 0.1, 0.2), nightsOf(Contrast, B, -1, -1.2, -0.9)),
		"one night each way":     joinPairs(nightsOf(Contrast, A, 1), nightsOf(Contrast, B, -1)),
	} {
		r := Result{Conf: 0.95, Pairs: pairs}
		if err := r.analyse(quantity.Metric); !errors.As(err, new(*TooFewError)) {
			t.Errorf("%s: %v, %+v; want a *TooFewError", name, err, r.Gain)
		}
	}
	// Each becomes enough with what the message asks for.
	for name, pairs := range map[string][]Pair{
		"side by side helps one way":     joinPairs(nightsOf(SideBySide, "", 0.1, 0.2), nightsOf(Contrast, A, 1, 1.2)),
		"side by side helps apart":       joinPairs(nightsOf(SideBySide, "", 0), nightsOf(Before, A, 0, 0.1), nightsOf(Contrast, B, -1, -1.2)),
		"two nights one way, one other":  joinPairs(nightsOf(Contrast, A, 1, 1.1), nightsOf(Contrast, B, -1)),
		"one side night, taken as field": joinPairs(nightsOf(SideBySide, "", 0.1), nightsOf(Contrast, A, 1, 1.2)),
	} {
		if r := analysed(t, pairs); !(r.Gain.Low < r.Gain.Central && r.Gain.Central < r.Gain.High) {
			t.Errorf("%s: %+v", name, r.Gain)
		}
	}
}

func codes(r Result) map[string]bool {
	out := map[string]bool{}
	for _, f := range r.Flags {
		out[f.Code] = true
	}
	return out
}

// Weaknesses are flagged, and only where they are.
func TestFlags(t *testing.T) {
	good := joinPairs(nightsOf(SideBySide, "", 0.3, 0.35, 0.25), nightsOf(Before, A, 0.4, 0.2, 0.3), nightsOf(Before, B, 0.1, 0.5, 0.3),
		nightsOf(Contrast, A, 1.2, 1, 1.1), nightsOf(Contrast, B, -0.4, -0.6, -0.5))
	if c := codes(analysed(t, good)); len(c) != 0 {
		t.Errorf("a good trial is flagged %v", c)
	}
	for code, pairs := range map[string][]Pair{
		"place-included":  joinPairs(nightsOf(Contrast, A, 1.2, 1, 1.1), nightsOf(Contrast, B, -0.4, -0.6, -0.5)),
		"few-nights":      joinPairs(nightsOf(Contrast, A, 1.2, 1), nightsOf(Contrast, B, -0.4, -0.6)),
		"unbalanced":      joinPairs(nightsOf(Contrast, A, 1.2, 1, 1.1, 1, 1.2), nightsOf(Contrast, B, -0.4, -0.6)),
		"spread-at-least": joinPairs(nightsOf(Contrast, A, 1, 1, 1), nightsOf(Contrast, B, -0.4, -0.4, -0.4)),
		"offset-moved":    joinPairs(nightsOf(SideBySide, "", 1.3, 1.35, 1.25), nightsOf(Contrast, A, 1.2, 1, 1.1), nightsOf(Contrast, B, -0.4, -0.6, -0.5)),
	} {
		if c := codes(analysed(t, pairs)); !c[code] {
			t.Errorf("%s is not flagged: %v", code, c)
		}
	}
}
