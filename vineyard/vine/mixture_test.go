package vine

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"
)

var seen = time.Date(2026, 4, 10, 9, 0, 0, 0, time.UTC)

func mixture(t testing.TB, text string) Mixture {
	t.Helper()
	m, err := ParseMixture(text, seen, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// sums is for sums of a handful of shares in double precision.
const sums = 1e-12

func TestMixtureFromCounts(t *testing.T) {
	w := Walk{At: seen, By: "Ada", Counts: []Count{{Stage{ModifiedEL, 3}, 60}, {Stage{BBCH, 11}, 30}, {Stage{ModifiedEL, 7}, 10}, {Stage{ModifiedEL, 4}, 0}}}
	m, err := w.Mixture()
	if err != nil {
		t.Fatal(err)
	}
	// 60 of 100 woolly, 40 at first leaf, the two scales' codes for it joined
	if len(m.Shares) != 2 || m.Shares[0].Step != FirstLeaf || math.Abs(m.Shares[0].Share-0.4) > sums || math.Abs(m.Shares[1].Share-0.6) > sums {
		t.Errorf("shares %+v", m.Shares)
	}
	if m.Counted != 100 || m.Source != Counted || m.By != "Ada" || !m.SeenAt.Equal(seen) {
		t.Errorf("provenance lost: %+v", m)
	}
	if got := m.ShareFrom(BudBurst); math.Abs(got-0.4) > sums {
		t.Errorf("green share %v, want 0.4", got)
	}
	if got := m.Mean(); math.Abs(float64(got)-(0.4*4+0.6*2)) > sums {
		t.Errorf("mean step %v, want 2.8", got)
	}
	if s := m.String(); !strings.Contains(s, "60 % woolly bud (E-L 3, BBCH 03-05)") {
		t.Errorf("in words: %s", s)
	}
}

func TestParseMixture(t *testing.T) {
	for _, c := range []struct {
		in      string
		shares  int
		counted int
	}{
		{"woolly=60%, EL 7=40%", 2, 0}, {"EL 3: 60 %; BBCH 11: 40%", 2, 0}, {"woolly=30, first leaf=20", 2, 50},
		{"bud burst", 1, 0}, {"EL 3=33.3%, EL 4=33.3%, EL 7=33.3%", 3, 0},
	} {
		m, err := ParseMixture(c.in, seen, "")
		if err != nil || len(m.Shares) != c.shares || m.Counted != c.counted {
			t.Errorf("%q: %+v, %v", c.in, m, err)
		}
		sum := 0.0
		for _, s := range m.Shares {
			sum += s.Share
		}
		if err := m.Validate(); err != nil || math.Abs(sum-1) > sums {
			t.Errorf("%q: sum %v, %v", c.in, sum, err)
		}
	}
	for _, in := range []string{"", "woolly=60%, EL 7=30%", "woolly=60%, EL 7=40", "woolly=x", "woolly=-3", "woolly=0", "woolly=NaN%",
		"woolly=120%", "woolly", "woolly,", "5=100%", "woolly=60% EL 7=40%", "woolly=1e9"} {
		at := seen
		if in == "woolly" {
			at = time.Time{} // a stage without a date cannot be moved on
		}
		m, err := ParseMixture(in, at, "")
		if in == "woolly," && err == nil {
			continue // a trailing comma is harmless
		}
		if !errors.As(err, new(*InputError)) && !errors.As(err, new(*StageError)) {
			t.Errorf("%q: %+v, %v; want a typed error", in, m, err)
		}
	}
}

func TestMixtureValidate(t *testing.T) {
	good := mixture(t, "woolly=60%, EL 7=40%")
	for name, edit := range map[string]func(*Mixture){
		"no shares": func(m *Mixture) { m.Shares = nil }, "no date": func(m *Mixture) { m.At = time.Time{} },
		"sum":   func(m *Mixture) { m.Shares[0].Share = 0.3 },
		"NaN":   func(m *Mixture) { m.Shares[0].Share = math.NaN() },
		"order": func(m *Mixture) { m.Shares[0].Step = Dormant },
		"step":  func(m *Mixture) { m.Shares[0].Step = 99 },
	} {
		m := good
		m.Shares = append([]Share(nil), good.Shares...)
		edit(&m)
		if err := m.Validate(); !errors.As(err, new(*InputError)) {
			t.Errorf("%s: error %v, want *InputError", name, err)
		}
		if _, err := NewLedger(m); err == nil {
			t.Errorf("%s: a ledger must not open on it", name)
		}
	}
}

func FuzzParseMixture(f *testing.F) {
	for _, s := range []string{"woolly=60%, EL 7=40%", "EL 3=5;BBCH 11=7", "bud burst", "=", "woolly=1e308%"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		m, err := ParseMixture(in, seen, "")
		if err == nil && m.Validate() != nil {
			t.Fatalf("%q gave a mixture that does not validate: %v", in, m.Validate())
		}
	})
}
