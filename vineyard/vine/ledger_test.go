package vine

import (
	"errors"
	"math"
	"math/rand"
	"testing"

	"budward/physics/quantity"
	"budward/vineyard/farm"

	"pgregory.net/rapid"
)

func ledger(t testing.TB, text string) Ledger {
	t.Helper()
	l, err := NewLedger(mixture(t, text))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// One frost by hand, Concord, -5 degC tissue, 40 % first leaf, 60 % woolly.
// First leaf: T50 -4.45, s = 4.394/3.3 = 1.3316, exponent -0.7324, kill 0.6753.
// Woolly: T50 -9.15, s = 4.394/6.1 = 0.7204, exponent 2.9895, kill 0.04791.
// Secondaries of both rest woolly: the same 0.04791.
// First swell (tertiaries): T50 -15, s = 4.394/8.8, exponent 4.9935, kill 0.00673.
func TestFrostByHand(t *testing.T) {
	l := ledger(t, "EL 7=40%, EL 3=60%")
	after, loss, err := l.Frost(concord(), quantity.Celsius(math.NaN()), -5)
	if err != nil {
		t.Fatal(err)
	}
	const tol = 2e-4 // the hand figures carry four digits
	wantPrimary := 0.4*0.6753 + 0.6*0.04791
	wantSecondary := wantPrimary * (1 - 0.04791)
	wantTertiary := wantPrimary * 0.04791 * (1 - 0.00673)
	carried := after.Carried()
	for _, v := range []struct {
		what      string
		got, want float64
	}{
		{"killed primaries", loss.Primary, wantPrimary}, {"killed leads", loss.Lead, wantPrimary},
		{"first leaf kill", loss.Stages[0].Kill, 0.6753}, {"woolly kill", loss.Stages[1].Kill, 0.04791},
		{"by primary", carried[Primary], 1 - wantPrimary}, {"by secondary", carried[Secondary], wantSecondary},
		{"by tertiary", carried[Tertiary], wantTertiary}, {"primary lost", after.PrimaryLost(), wantPrimary},
	} {
		if math.Abs(v.got-v.want) > tol {
			t.Errorf("%s = %v, want %v", v.what, v.got, v.want)
		}
	}
	if l.PrimaryLost() != 0 || after.Frosts != 1 {
		t.Error("the old book must be left alone and the frost counted")
	}
	if _, _, err := l.Frost(ontario(), -5, -5); !errors.As(err, new(*TableError)) {
		t.Errorf("thresholds do not kill: %v", err)
	}
	if _, _, err := l.Frost(concord(), -5, quantity.Celsius(math.NaN())); !errors.As(err, new(*InputError)) {
		t.Errorf("tissue unknown: %v", err)
	}
}

// Any season: nothing is made or lost, the dead stay dead, no frost kills more
// than was living, and a colder last frost never leaves more.
func TestSeasonInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		codes := []int{1, 2, 3, 4, 5, 7, 9, 11, 12}
		var counts []Count
		for _, c := range codes {
			counts = append(counts, Count{Stage{ModifiedEL, c}, rapid.IntRange(0, 20).Draw(t, "n")})
		}
		counts = append(counts, Count{Stage{ModifiedEL, 4}, 1})
		m, err := Walk{At: seen, Counts: counts}.Mixture()
		if err != nil {
			t.Fatal(err)
		}
		l, err := NewLedger(m)
		if err != nil {
			t.Fatal(err)
		}
		tab := rapid.SampledFrom([]Table{concord(), pinotNoir(), michigan()}).Draw(t, "table")
		alive, none := 1.0, 0.0
		for range rapid.IntRange(1, 6).Draw(t, "frosts") {
			temp := quantity.Celsius(rapid.Float64Range(-12, 1).Draw(t, "temp"))
			colder, _, err := l.Frost(tab, temp-1, temp-1)
			if err != nil {
				t.Fatal(err)
			}
			next, loss, err := l.Frost(tab, temp, temp)
			if err != nil {
				t.Fatal(err)
			}
			c, cc := next.Carried(), colder.Carried()
			if sum := c[0] + c[1] + c[2] + c[3]; math.Abs(sum-1) > sums {
				t.Fatalf("nodes sum to %v", sum)
			}
			if math.Abs(c[Primary]+loss.Primary-alive) > sums || c[Primary] < -sums || c[None] < none-sums {
				t.Fatalf("alive %v -> %v with %v killed; none %v -> %v", alive, c[Primary], loss.Primary, none, c[None])
			}
			if cc[Primary] > c[Primary]+sums {
				t.Fatalf("1 K colder leaves more: %v > %v", cc[Primary], c[Primary])
			}
			if err := next.Validate(); err != nil {
				t.Fatal(err)
			}
			agree(t, tab, l, next, loss, temp)
			l, alive, none = next, c[Primary], c[None]
			if rapid.Bool().Draw(t, "grow") {
				if l, _, err = l.Advance(DefaultThermal(farm.BurstMid), dayRun(l.At.AddDate(0, 0, 1), 3, 14)); err != nil {
					t.Fatal(err)
				}
				if got := l.Carried(); math.Abs(got[Primary]-alive) > sums {
					t.Fatalf("growing changed what lives: %v -> %v", alive, got[Primary])
				}
			}
		}
	})
}

// A simple twin: 200,000 single nodes, each with its own primary, secondary
// and tertiary, go through three frosts by the throw of dice.
func TestSequenceAgainstSingleNodes(t *testing.T) {
	tab := concord()
	temps := []quantity.Celsius{-4, -6, -5}
	l := ledger(t, "EL 7=40%, EL 3=60%")
	for _, temp := range temps {
		var err error
		if l, _, err = l.Frost(tab, 0, temp); err != nil {
			t.Fatal(err)
		}
	}
	rng := rand.New(rand.NewSource(7))
	kill := func(step Step, temp quantity.Celsius) bool {
		c, _, err := tab.Curve(step)
		if err != nil {
			t.Fatal(err)
		}
		return rng.Float64() < c.Kill(temp)
	}
	const n = 200_000
	var left [4]float64
	for i := range n {
		steps := []Step{FirstLeaf, FullSwell, FirstSwell}
		if i >= n*4/10 {
			steps[0] = FullSwell
		}
		bud := 0
		for _, temp := range temps {
			for bud < 3 && kill(steps[bud], temp) {
				bud++
			}
		}
		left[bud] += 1.0 / n
	}
	// 5 standard errors of a share counted on n nodes, at most 5*sqrt(0.25/n)
	tol := 5 * math.Sqrt(0.25/n)
	for b, want := range left {
		if got := l.Carried()[b]; math.Abs(got-want) > tol {
			t.Errorf("carried by bud %d: %v, single nodes say %v (+-%.4f)", b, got, want, tol)
		}
	}
}

func TestCriticalOfMixture(t *testing.T) {
	// one stage: the table's own numbers (bisection stops at 1e-6 K)
	e, err := Expose(concord(), ledger(t, "bud burst"), CropInput{})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []struct {
		share float64
		want  quantity.Celsius
	}{{0.1, -3.9}, {0.5, -6.4}, {0.9, -8.9}} {
		if got, err := e.Critical(v.share); err != nil || !near(got, v.want, 1e-5) {
			t.Errorf("critical(%v) = %v, %v; want %v", v.share, got, err, v.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		green := rapid.IntRange(0, 100).Draw(t, "green")
		m, err := Walk{At: seen, Counts: []Count{{Stage{ModifiedEL, 7}, green}, {Stage{ModifiedEL, 3}, 101 - green}}}.Mixture()
		if err != nil {
			t.Fatal(err)
		}
		l, err := NewLedger(m)
		if err != nil {
			t.Fatal(err)
		}
		e, err := Expose(concord(), l, CropInput{})
		if err != nil {
			t.Fatal(err)
		}
		share := rapid.Float64Range(0.02, 0.98).Draw(t, "share")
		temp, err := e.Critical(share)
		if err != nil {
			t.Fatal(err)
		}
		// slope at most 1.4 per K, bisection to 1e-6 K
		if o, err := e.Night(0, temp); err != nil || math.Abs(o.Kill-share) > 1e-5 {
			t.Fatalf("kill(critical(%v)) = %v, %v", share, o.Kill, err)
		}
	})
	if _, err := e.Critical(1); !errors.As(err, new(*InputError)) {
		t.Errorf("critical(1): %v", err)
	}
}

// A new walk after a frost keeps what is dead and keeps the order of opening.
func TestObserve(t *testing.T) {
	l := ledger(t, "EL 7=40%, EL 3=60%")
	hurt, _, err := l.Frost(pinotNoir(), 0, -2.6) // green mostly dead, wool mostly alive
	if err != nil {
		t.Fatal(err)
	}
	later, err := hurt.Observe(mixture(t, "EL 9=50%, EL 4=50%"))
	if err != nil {
		t.Fatal(err)
	}
	a, b := hurt.Carried(), later.Carried()
	for i := range a {
		if math.Abs(a[i]-b[i]) > sums {
			t.Errorf("bud %d: %v became %v by looking", i, a[i], b[i])
		}
	}
	if err := later.Validate(); err != nil {
		t.Error(err)
	}
	// 0..0.4 and 0.4..0.5 at E-L 9, 0.5..1 at bud burst
	if len(later.Cohorts) != 3 || later.Cohorts[0].Step != 5.5 || later.Cohorts[1].Step != 5.5 || later.Cohorts[2].Step != BudBurst {
		t.Errorf("cohorts %+v", later.Cohorts)
	}
}

// After a frost the secondaries grow out: a leaf per 20 degC-days once they
// have burst, from woolly (53 degC-days base 5 to bud burst), and are then no
// hardier than any green shoot.
func TestSecondariesGrow(t *testing.T) {
	l := killAt(ledger(t, "EL 7=40%, EL 3=60%"), BudBurst)
	grown, flags, err := l.Advance(DefaultThermal(farm.BurstMid), dayRun(seen.AddDate(0, 0, 1), 10, 18))
	if err != nil || !has(flags, FlagAdvanced) {
		t.Fatal(flags, err)
	}
	// 53/13 = 4.0769 days to bud burst, 5.9231 days at 8 degC-days, 20 a leaf
	want := 3 + 5.9231*8/20
	got := grown.Cohorts[0].Leads[0]
	if got.Bud != Secondary || math.Abs(float64(got.Step)-want) > 1e-3 { // the hand figures carry four decimals
		t.Errorf("secondary is %+v, want step %v", got, want)
	}
	before, _, err := l.Frost(pinotNoir(), 0, -2.2)
	if err != nil {
		t.Fatal(err)
	}
	after, _, err := grown.Frost(pinotNoir(), 0, -2.2)
	if err != nil {
		t.Fatal(err)
	}
	alive := func(l Ledger) float64 { // of the nodes that were first to open
		sum := 0.0
		for _, ld := range l.Cohorts[0].Leads {
			if ld.Bud == Secondary {
				sum += ld.Share
			}
		}
		return sum
	}
	if !(alive(after) < 0.5*alive(before)) {
		t.Errorf("secondaries left: resting %v, grown out %v", alive(before), alive(after))
	}
}

func TestLedgerValidate(t *testing.T) {
	good := ledger(t, "EL 7=40%, EL 3=60%")
	for name, edit := range map[string]func(*Ledger){
		"empty": func(l *Ledger) { l.Cohorts = nil }, "gap": func(l *Ledger) { l.Cohorts[1].From = 0.5 },
		"short": func(l *Ledger) { l.Cohorts[1].To = 0.9 },
		"leads": func(l *Ledger) { l.Cohorts[0].Leads = []Lead{{Primary, 4, 0.5}} },
		"bud":   func(l *Ledger) { l.Cohorts[0].Leads = []Lead{{9, 4, 1}} },
		"step":  func(l *Ledger) { l.Cohorts[0].Step = Step(math.NaN()) },
	} {
		bad := good
		bad.Cohorts = append([]Cohort(nil), good.Cohorts...)
		edit(&bad)
		if err := bad.Validate(); !errors.As(err, new(*InputError)) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// agree holds the quick route (Exposure) against the book.
func agree(t *rapid.T, tab Table, before, after Ledger, loss Loss, temp quantity.Celsius) {
	in := CropInput{R2: Range{0.3, 0.4, 0.5}, R3: Range{0, 0.05, 0.1}, Push: priorPush, Pruning: farm.Cane, Nodes: nodesCommon}
	e, err := Expose(tab, before, in)
	if err != nil {
		t.Fatal(err)
	}
	got, err := e.Night(temp, temp)
	if err != nil {
		t.Fatal(err)
	}
	want, err := after.Crop(in)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Crop.Central-want.Fraction.Central) > sums || math.Abs(got.Crop.Low-want.Fraction.Low) > sums ||
		math.Abs(got.Kill*e.Living()-loss.Lead) > sums {
		t.Fatalf("at %v: quick %+v, book %+v and %v killed", temp, got, want, loss.Lead)
	}
}

func BenchmarkNight(b *testing.B) {
	m, err := DefaultThermal(farm.BurstMid).Advance(mixture(b, "EL 7=40%, EL 3=60%"), dayRun(seen.AddDate(0, 0, 1), 7, 14))
	if err != nil {
		b.Fatal(err)
	}
	l, err := NewLedger(m)
	if err != nil {
		b.Fatal(err)
	}
	in, _ := CropInputFor(farm.Block{Cultivar: "Chardonnay", Pruning: farm.Cane, SecondaryShare: -1, TertiaryShare: -1})
	e, err := Expose(pinotNoir(), l, in)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := e.Night(-2, -2.5); err != nil {
			b.Fatal(err)
		}
	}
}
