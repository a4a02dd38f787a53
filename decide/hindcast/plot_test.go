package hindcast

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"sync/atomic"
	"testing"

	"budward/physics/quantity"
)

// Pictures are whole XML, name every method, and draw the numbers of the report:
// the heights of two points stand to one another as their numbers do.
func TestPlots(t *testing.T) {
	r := six(t)
	plots := r.Plots(quantity.Metric)
	if len(plots) != 3 {
		t.Fatalf("%d plots, want 3", len(plots))
	}
	for _, p := range plots {
		d := xml.NewDecoder(strings.NewReader(p.SVG))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", p.Name, err)
			}
		}
		if strings.Contains(p.SVG, "NaN") || strings.Contains(p.SVG, "Inf") {
			t.Errorf("%s draws what is not a number", p.Name)
		}
	}
	for _, m := range methods {
		if !strings.Contains(plots[0].SVG, ">"+m.label+"<") {
			t.Errorf("the plot of errors does not name %s", m.label)
		}
	}
	p := plot{xMax: 3, yMax: 4}
	first, last := r.Leads[0].All[byModel].RMSEK, r.Leads[3].All[byModel].RMSEK
	zero := p.py(0)
	// Heights above the axis are proportional; a ten-millionth is rounding.
	if got, want := (zero-p.py(float64(first)))/(zero-p.py(float64(last))), float64(first/last); math.Abs(got/want-1) > 1e-7 {
		t.Errorf("heights %v to one, numbers %v to one", got, want)
	}
}

func TestPlotsOfNothing(t *testing.T) {
	var r Report
	if got := r.Plots(quantity.US); len(got) != 0 {
		t.Errorf("%d plots of an empty report", len(got))
	}
}

func TestRoundStep(t *testing.T) {
	for top, want := range map[float64]float64{1: 0.1, 2.6: 0.5, 3: 0.5, 100: 10, 0.9: 0.1, 7: 1} {
		if got := roundStep(top); math.Abs(got-want) > 1e-12 {
			t.Errorf("roundStep(%v) = %v, want %v", top, got, want)
		}
	}
}

// A replay that is stopped ends soon, with its own error and no report.
func TestStop(t *testing.T) {
	var asked, done atomic.Int64
	in := Input{Now: testNow, Records: springs(t, 2013), Progress: func(n, _ int) { done.Store(int64(n)) },
		Stop: func() bool { return asked.Add(1) > 5 }}
	r, err := Run(in)
	if !errors.Is(err, ErrStopped) || len(r.Leads) != 0 || done.Load() > 5 {
		t.Errorf("%v, %d leads, %d predictions", err, len(r.Leads), done.Load())
	}
}
