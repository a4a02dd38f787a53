package weather

import (
	"math"
	"strings"
	"testing"
	"time"
)

// day is an invented run of hourly readings, two days of them, without fault.
func day() Batch {
	b := readings()
	for i := range 48 {
		c := math.Cos(2 * math.Pi * float64(i-15) / 24)
		b.Samples = append(b.Samples, Sample{hr(float64(i)), AirTemp, math.Round(10*(8+7*c)) / 10},
			Sample{hr(float64(i)), RelHumidity, math.Round(65 - 30*c)}, Sample{hr(float64(i)), Wind, 2 + c})
	}
	return b
}

func (b *Batch) set(i int, v Variable, x float64) {
	for k := range b.Samples {
		if b.Samples[k].Var == v && b.Samples[k].At.Equal(hr(float64(i))) {
			b.Samples[k].Value = x
			return
		}
	}
	panic("no such sample")
}

func TestScreenCleanDay(t *testing.T) {
	b := day()
	out, rep := Screen(b, hr(48), nil)
	if len(out.Samples) != len(b.Samples) || rep.RunTotal != 0 {
		t.Errorf("a clean day loses %d samples: %+v", len(b.Samples)-len(out.Samples), rep.Runs)
	}
}

func TestScreenReasons(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(b *Batch)
		now   float64
		want  map[Reason]int
		text  string
	}{
		"sentinel": {func(b *Batch) { b.set(5, AirTemp, -9999); b.set(6, AirTemp, -99) }, 48, map[Reason]int{Sentinel: 2}, "(2): a mark for a missing value"},
		"not a number": {func(b *Batch) { b.set(5, AirTemp, math.NaN()); b.set(7, Wind, math.Inf(1)) }, 48,
			map[Reason]int{NotANumber: 2}, "not a number"},
		"impossible": {func(b *Batch) { b.set(5, RelHumidity, 140); b.set(5, Wind, -1) }, 48, map[Reason]int{Impossible: 2}, "outside 0.5 to 105"},
		"future":     {func(*Batch) {}, 46, map[Reason]int{Future: 3}, "dated after the present moment"},
		"spike up":   {func(b *Batch) { b.set(20, AirTemp, 30) }, 48, map[Reason]int{Spike: 1}, "far from the values before and after"},
		"spike down": {func(b *Batch) { b.set(20, AirTemp, -12) }, 48, map[Reason]int{Spike: 1}, "far from the values"},
		"stuck": {func(b *Batch) {
			for i := 10; i < 18; i++ {
				b.set(i, AirTemp, 7.3)
			}
		}, 48, map[Reason]int{Stuck: 7}, "unchanged while other sensors moved"},
		"fog is not stuck": {func(b *Batch) {
			for i := 10; i < 22; i++ {
				b.set(i, RelHumidity, 100)
			}
		}, 48, map[Reason]int{}, ""},
		"Fahrenheit from the middle on": {func(b *Batch) {
			for i := 24; i < 48; i++ {
				b.set(i, AirTemp, 1.8*b.Samples[3*i].Value+32)
			}
		}, 48, map[Reason]int{UnitChange: 24}, "fits degrees Fahrenheit"},
		"Fahrenheit at first": {func(b *Batch) {
			for i := range 24 {
				b.set(i, AirTemp, 1.8*b.Samples[3*i].Value+32)
			}
		}, 48, map[Reason]int{UnitChange: 23 + 1}, "fits degrees Fahrenheit"},
	} {
		b := day()
		c.spoil(&b)
		out, rep := Screen(b, hr(c.now), nil)
		for _, r := range Reasons() {
			if rep.Excluded[r] != c.want[r] {
				// The cold hours of "Fahrenheit at first" stay below 55 degC; the
				// warm ones leave the plausible range and are impossible first.
				if name == "Fahrenheit at first" || name == "Fahrenheit from the middle on" {
					if rep.Excluded[UnitChange]+rep.Excluded[Impossible] == c.want[UnitChange] {
						continue
					}
				}
				t.Errorf("%s: %d excluded as %s, want %d (%+v)", name, rep.Excluded[r], r, c.want[r], rep.Runs)
			}
		}
		total := 0
		for _, n := range rep.Excluded {
			total += n
		}
		if len(out.Samples)+total != len(b.Samples) || rep.Kept != len(out.Samples) {
			t.Errorf("%s: %d kept + %d excluded of %d", name, len(out.Samples), total, len(b.Samples))
		}
		if c.text != "" && (len(rep.Runs) == 0 || !strings.Contains(rep.Runs[0].Text, c.text)) {
			t.Errorf("%s: text %+v, want %q", name, rep.Runs, c.text)
		}
	}
}

// A whole file in Fahrenheit has no step inside; the samples before it tell.
func TestScreenUnitChangeAgainstBefore(t *testing.T) {
	b := readings(Sample{hr(1), AirTemp, 30.2}, Sample{hr(2), AirTemp, 29.5})
	_, rep := Screen(b, hr(3), []Sample{{hr(0), AirTemp, -0.5}})
	if rep.Excluded[UnitChange] != 2 {
		t.Errorf("report %+v, want 2 left out", rep)
	}
	_, rep = Screen(b, hr(3), []Sample{{hr(0), AirTemp, 31}})
	if rep.RunTotal != 0 {
		t.Errorf("a warm day is left out: %+v", rep.Runs)
	}
}

// A great step that does not fit the units is kept and shown.
func TestScreenJumpKept(t *testing.T) {
	b := readings(Sample{hr(0), AirTemp, 20}, Sample{hr(1), AirTemp, 20}, Sample{hr(2), AirTemp, 3}, Sample{hr(3), AirTemp, 3})
	out, rep := Screen(b, hr(4), nil)
	if len(out.Samples) != 4 || rep.RunTotal != 1 || !rep.Runs[0].Kept || rep.Runs[0].Reason != Jump {
		t.Errorf("report %+v", rep)
	}
}

func TestScreenForecastFromTheFuture(t *testing.T) {
	b := issue(5, Sample{hr(6), AirTemp, 1}, Sample{hr(7), AirTemp, 1})
	if out, rep := Screen(b, hr(4), nil); len(out.Samples) != 0 || rep.Excluded[Future] != 2 {
		t.Errorf("report %+v", rep)
	}
	if out, _ := Screen(b, hr(5), nil); len(out.Samples) != 2 {
		t.Error("hours ahead of now are what a forecast is for")
	}
}

func TestScreenListIsBounded(t *testing.T) {
	b := readings()
	for i := range 2 * MaxExclusions {
		b.Samples = append(b.Samples, Sample{hr(float64(2 * i)), AirTemp, -9999}, Sample{hr(float64(2*i + 1)), AirTemp, float64(i % 2)})
	}
	_, rep := Screen(b, t0.Add(10000*time.Hour), nil)
	if len(rep.Runs) != MaxExclusions || rep.RunTotal != 2*MaxExclusions || rep.Excluded[Sentinel] != 2*MaxExclusions {
		t.Errorf("%d listed of %d, counted %v", len(rep.Runs), rep.RunTotal, rep.Excluded)
	}
}
