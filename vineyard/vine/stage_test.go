package vine

import (
	"errors"
	"testing"
)

// Want: science.md D1. Bud burst is E-L 4 (modified), 5 (1977), BBCH 07-09;
// E-L 15 = BBCH 53 (Coombe 1995); 1977 codes 07, 09, 12.
func TestStageScales(t *testing.T) {
	for _, c := range []struct {
		in   string
		want Stage
		step Step
		both string
	}{
		{"EL 4", Stage{ModifiedEL, 4}, BudBurst, "E-L 4, BBCH 07-09"},
		{"E-L 04", Stage{ModifiedEL, 4}, BudBurst, "E-L 4, BBCH 07-09"},
		{"el4", Stage{ModifiedEL, 4}, BudBurst, "E-L 4, BBCH 07-09"},
		{"EL 1977 5", Stage{OriginalEL, 5}, BudBurst, "E-L(1977) 5, E-L 4, BBCH 07-09"},
		{"old EL 05", Stage{OriginalEL, 5}, BudBurst, "E-L(1977) 5, E-L 4, BBCH 07-09"},
		{"BBCH 09", Stage{BBCH, 9}, BudBurst, "BBCH 09, E-L 4"},
		{"bbch7", Stage{BBCH, 7}, BudBurst, "BBCH 07, E-L 4"},
		{"Bud Burst", Stage{ModifiedEL, 4}, BudBurst, "E-L 4, BBCH 07-09"},
		{"budbreak", Stage{ModifiedEL, 4}, BudBurst, "E-L 4, BBCH 07-09"},
		{"woolly", Stage{ModifiedEL, 3}, FullSwell, "E-L 3, BBCH 03-05"},
		{"dormant", Stage{ModifiedEL, 1}, Dormant, "E-L 1, BBCH 00"},
		{"EL 7", Stage{ModifiedEL, 7}, FirstLeaf, "E-L 7, BBCH 11"},
		{"EL 1977 7", Stage{OriginalEL, 7}, FirstLeaf, "E-L(1977) 7, E-L 7, BBCH 11"},
		{"third leaf", Stage{BBCH, 13}, ThirdLeaf, "BBCH 13, E-L 9"},
		{"3 leaves", Stage{BBCH, 13}, ThirdLeaf, "BBCH 13, E-L 9"},
		{"4 leaves", Stage{ModifiedEL, 11}, FourthLeaf, "E-L 11, BBCH 14"},
		{"clusters out", Stage{ModifiedEL, 12}, ClustersOut, "E-L 12, BBCH 15/53"},
		{"EL 15", Stage{ModifiedEL, 15}, 11, "E-L 15, BBCH 53"},
		{"EL 19", Stage{ModifiedEL, 19}, 19, "E-L 19, BBCH 55-60"},
	} {
		got, err := ParseStage(c.in)
		if err != nil || got != c.want {
			t.Errorf("ParseStage(%q) = %+v, %v; want %+v", c.in, got, err, c.want)
			continue
		}
		if step, err := got.Step(); err != nil || step != c.step {
			t.Errorf("%q: step %v, %v; want %v", c.in, step, err, c.step)
		}
		if got.Both() != c.both {
			t.Errorf("%q: both scales %q, want %q", c.in, got.Both(), c.both)
		}
	}
}

func TestStageRefused(t *testing.T) {
	for _, in := range []string{"", "5", "EL", "EL 6", "EL 99", "EL 1977 4", "BBCH 08", "BBCH 200", "leafy", "0 leaves", "40 leaves"} {
		if got, err := ParseStage(in); !errors.As(err, new(*StageError)) {
			t.Errorf("ParseStage(%q) = %v, %v; want a *StageError", in, got, err)
		}
	}
	if _, err := (Stage{"other", 4}).Step(); !errors.As(err, new(*StageError)) {
		t.Error("an unknown scale must be refused")
	}
	if _, err := StageOf(-1); !errors.As(err, new(*StageError)) {
		t.Error("a step off the line must be refused")
	}
}

// Every stage of every scale: the line rises with the code on each scale
// (leaves and inflorescences are two runs of BBCH), what is printed is read
// back, and the modified stage of a step is not beyond it.
func TestStageOrder(t *testing.T) {
	for _, run := range []struct {
		scale  Scale
		lo, hi int
		codes  int // how many codes the scale has in the run, science.md D1
	}{{ModifiedEL, 0, 27, 22}, {OriginalEL, 0, 27, 14}, {BBCH, 0, 19, 15}, {BBCH, 50, 71, 10}} {
		last, n := Step(-1), 0
		for code := run.lo; code <= run.hi; code++ {
			st, err := NewStage(run.scale, code)
			if err != nil {
				continue
			}
			n++
			step, err := st.Step()
			if err != nil || step < last {
				t.Errorf("%v: step %v after %v, %v", st, step, last, err)
			}
			last = step
			if back, err := ParseStage(st.String()); err != nil || back != st {
				t.Errorf("%q reads back as %v, %v", st.String(), back, err)
			}
			on, err := StageOf(step)
			if s2, _ := on.Step(); err != nil || s2 > step {
				t.Errorf("%v: StageOf(%v) = %v, beyond it", st, step, on)
			}
		}
		if n != run.codes {
			t.Errorf("%s %d..%d has %d codes, want %d", run.scale, run.lo, run.hi, n, run.codes)
		}
	}
}

func TestStepNames(t *testing.T) {
	for _, c := range []struct {
		s    Step
		want string
	}{{0, "dormant"}, {3, "bud burst"}, {3.5, "bud burst to first leaf"}, {8, "clusters out"}, {11, "8 leaves"}, {20, "bloom"}, {21, "step 21 (off the line)"}} {
		if c.s.String() != c.want {
			t.Errorf("step %g is %q, want %q", float64(c.s), c.s, c.want)
		}
	}
	if Step(2.9).Green() || !BudBurst.Green() {
		t.Error("green tissue begins at bud burst")
	}
}

func FuzzParseStage(f *testing.F) {
	for _, s := range []string{"EL 4", "E-L(1977) 5", "BBCH 09", "woolly", "3rd leaf", "", "５", "EL 00000000000000000004"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		st, err := ParseStage(in)
		if err != nil {
			if !errors.As(err, new(*StageError)) {
				t.Fatalf("error %v is not a *StageError", err)
			}
			return
		}
		if back, err := ParseStage(st.String()); err != nil || back != st {
			t.Fatalf("%q -> %v -> %v, %v", in, st, back, err)
		}
	})
}
