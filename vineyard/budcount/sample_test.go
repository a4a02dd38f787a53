package budcount

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"budward/physics/quantity"
)

// Want: the textbook figure for one bud a vine: n = 1.96^2 * 0.25 / 0.1^2 =
// 96.04, so 97 (about 100 buds for +-10 points, as extension guides say).
func TestSizeSimple(t *testing.T) {
	s, err := Plan{Precision: 0.1, Confidence: 0.95, Expected: 0.5, PerVine: 1}.Size()
	if err != nil || s.Buds != 97 || s.Vines != 97 {
		t.Errorf("%+v, %v; want 97 buds on 97 vines", s, err)
	}
}

// Want by hand: design effect 1 + 9*0.2 = 2.8, so 96.04*2.8 = 268.9 buds; 26.9
// vines of ten.
func TestSizeClusters(t *testing.T) {
	s, err := Plan{Precision: 0.1, Confidence: 0.95, Expected: 0.5, PerVine: 10, ICC: 0.2}.Size()
	if err != nil || s.Vines != 27 || s.Buds != 270 || math.Abs(s.Design-2.8) > 1e-12 { // rounding
		t.Errorf("%+v, %v; want 27 vines, 270 buds, design 2.8", s, err)
	}
}

func TestSizeFewVines(t *testing.T) {
	few, err := Plan{Precision: 0.1, Confidence: 0.95, Expected: 0.5, Vines: 60, PerVine: 10, ICC: 0.2}.Size()
	if err != nil || few.Vines >= 27 {
		t.Errorf("60 vines in all: %+v, %v; want fewer than 27 to visit", few, err)
	}
	all, err := Plan{Precision: 0.05, Confidence: 0.95, Expected: 0.5, Vines: 8, PerVine: 10, ICC: 0.2}.Size()
	if err != nil || !all.AllVines || all.Vines != 8 || !(all.HalfWidth > 0.05) {
		t.Errorf("8 vines in all: %+v, %v; want all 8 and a half width above 0.05", all, err)
	}
}

// The half width is what repeated surveys of an invented block show: vines with
// their own kill drawn from a beta-like two-point law of the given correlation.
func TestSizeAgainstDrawnSurveys(t *testing.T) {
	const p, icc, m = 0.4, 0.15, 8
	s, err := Plan{Precision: 0.08, Confidence: 0.95, Expected: p, PerVine: m, ICC: icc}.Size()
	if err != nil {
		t.Fatal(err)
	}
	// Two kinds of vine, p +- d with equal odds: icc = d^2 / (p (1-p)).
	d := math.Sqrt(icc * p * (1 - p))
	r := rand.New(rand.NewPCG(7, 7))
	const surveys = 4000
	inside := 0
	for range surveys {
		dead := 0
		for range s.Vines {
			pv := p + d
			if r.IntN(2) == 0 {
				pv = p - d
			}
			for range m {
				if r.Float64() < pv {
					dead++
				}
			}
		}
		if math.Abs(float64(dead)/float64(s.Buds)-p) <= float64(s.HalfWidth) {
			inside++
		}
	}
	got := float64(inside) / surveys
	// Three standard errors of a share near 0.95 from 4000 surveys are 0.010;
	// 0.01 more for the steps of whole buds.
	if math.Abs(got-0.95) > 0.02 {
		t.Errorf("%.3f of the surveys lie within the half width, want 0.95", got)
	}
}

func TestSizeRefuses(t *testing.T) {
	good := Plan{Precision: 0.1, Confidence: 0.95, Expected: 0.5, PerVine: 10, ICC: 0.2}
	for name, change := range map[string]func(*Plan){
		"no precision":      func(p *Plan) { p.Precision = 0 },
		"unknown precision": func(p *Plan) { p.Precision = quantity.Share(math.NaN()) },
		"certainty":         func(p *Plan) { p.Confidence = 1 },
		"share above one":   func(p *Plan) { p.Expected = 1.1 },
		"correlation":       func(p *Plan) { p.ICC = -0.1 },
		"no buds":           func(p *Plan) { p.PerVine = 0 },
		"negative vines":    func(p *Plan) { p.Vines = -1 },
	} {
		p := good
		change(&p)
		if _, err := p.Size(); !errors.As(err, new(*quantity.RangeError)) {
			t.Errorf("%s: error %v, want *quantity.RangeError", name, err)
		}
	}
}
