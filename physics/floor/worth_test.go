package floor_test

import (
	"math"
	"testing"

	"budward/physics/floor"
	"budward/physics/sky"
)

const kToF = 1.8

// rows are what handbooks say a floor is worth against bare, firm, moist
// ground, in degF: The Grower, Apr 2008, table 2 (as in UC frost guides). Each
// may be off by a factor of two of its row or of its range; the mixing
// parameters are one stated prior for all and were not fitted to these rows.
var rows = []struct {
	name       string
	part       func() part
	from, upto float64 // degF colder
}{
	{"dry, firm", func() part { return whole(floor.Bare(), dryTop) }, 2, 2},
	{"freshly disked", func() part { return whole(must(floor.Loosened(0.1)), moist) }, 2, 2},
	{"moist, low cover", func() part { return whole(must(floor.Covered(0.05)), moist) }, 1, 3},
	{"moist, shredded", func() part { return whole(must(floor.Residue(0.02)), moist) }, 0.5, 0.5},
	{"high cover", func() part { return whole(must(floor.Covered(0.40)), moist) }, 2, 2},
}

func TestFloorsAgainstHandbook(t *testing.T) {
	k := springWeek()
	bare := k.run(t, whole(floor.Bare(), moist)).gain
	for _, r := range rows {
		colder := -kToF * (k.run(t, r.part()).gain - bare)
		if colder < r.from/2 || colder > 2*r.upto {
			t.Errorf("%s: %.2f degF colder than bare moist firm; handbook %.1f to %.1f, factor of two allowed", r.name, colder, r.from, r.upto)
		}
	}
}

// Where the handbook's rows do not overlap, their order must hold: shredded is
// warmer than everything else in the table.
func TestFloorOrder(t *testing.T) {
	k := springWeek()
	shredded := k.run(t, rows[3].part()).gain
	for i, r := range rows {
		if i == 3 {
			continue
		}
		if g := k.run(t, r.part()).gain; g >= shredded {
			t.Errorf("%s (%.2f K) is not colder than shredded (%.2f K)", r.name, g, shredded)
		}
	}
}

// After dry, windy days a crusted bare soil can be colder than short green
// cover (Snyder & Connell 1993, Calif. Agric. 47(1)).
func TestDryCrustColderThanShortCover(t *testing.T) {
	k := springWeek()
	crust := k.run(t, whole(floor.Bare(), dryTop)).gain
	short := k.run(t, whole(must(floor.Covered(0.03)), moist)).gain
	if crust >= short {
		t.Errorf("dry crust %.2f K, short cover %.2f K", crust, short)
	}
}

// Wetting ground that is near field capacity is worth nothing (common
// practice): less than 0.1 K, a fifth of a degree Fahrenheit.
func TestWettingMoistGroundIsWorthNothing(t *testing.T) {
	k := springWeek()
	dry := k.run(t, whole(floor.Bare(), moist)).gain
	p := whole(floor.Bare(), moist)
	p.supply = func(sec float64) floor.Supply {
		if sec > 3*86400 && sec < 3*86400+8*3600 {
			return floor.Supply{MmH: 3, TempC: 14}
		}
		return floor.Supply{}
	}
	if wet := k.run(t, p).gain; math.Abs(wet-dry) > 0.1 {
		t.Errorf("24 mm on ground at field capacity: %+.2f K", wet-dry)
	}
}

// Less than the whole floor wetted is worth less, in the order of the share.
func TestPartWettedIsWorthLess(t *testing.T) {
	k := springWeek()
	last := k.run(t, whole(floor.Bare(), dryTop)).gain
	for _, share := range []float64{0.3, 0.6, 1} {
		g := k.run(t, part{surface: floor.Bare(), water: moist, share: share}, part{surface: floor.Bare(), water: dryTop, share: 1 - share}).gain
		if g <= last {
			t.Errorf("share %.1f: %.3f K, not above %.3f", share, g, last)
		}
		last = g
	}
}

// The gain never rises with wind; at 3 m/s it is at most a third of that at
// 0.5 m/s (fans, floors and heaters lose their hold in wind: common practice).
func TestGainShrinksInWind(t *testing.T) {
	for _, pair := range [][2]part{
		{whole(floor.Bare(), moist), whole(floor.Bare(), dryTop)},
		{whole(floor.Bare(), moist), whole(must(floor.Covered(0.4)), moist)},
	} {
		var first, last float64
		for i, wind := range []float64{0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4} {
			k := springWeek()
			k.wind = wind
			g := k.run(t, pair[0]).gain - k.run(t, pair[1]).gain
			if i == 0 {
				first = g
			} else if g > last {
				t.Errorf("gain rises from %.3f to %.3f K at %.2f m/s", last, g, wind)
			}
			if wind == 3 && g > first/3 {
				t.Errorf("gain at 3 m/s %.2f K, at 0.5 m/s %.2f K", g, first)
			}
			last = g
		}
	}
}

// A hectare gains less than half of what fifty do: its air comes from outside.
func TestSmallBlockGainsLess(t *testing.T) {
	gain := func(ha float64) float64 {
		k := springWeek()
		f, err := floor.Fetch(ha)
		if err != nil {
			t.Fatal(err)
		}
		k.fetchM = f
		return k.run(t, whole(floor.Bare(), moist)).gain
	}
	if a, b := gain(1), gain(50); a >= b/2 {
		t.Errorf("1 ha %.2f K, 50 ha %.2f K", a, b)
	}
}

// By day the twin columns must not part: |d| at most 1.5 K, whatever the floor.
func TestDayDifferenceIsSmall(t *testing.T) {
	for _, wind := range []float64{0.5, 1, 3, 6} {
		k := springWeek()
		k.wind = wind
		for _, p := range []part{whole(floor.Bare(), moist), whole(floor.Bare(), dryTop), whole(must(floor.Loosened(0.15)), dryTop), whole(must(floor.Covered(0.4)), moist), whole(must(floor.Residue(0.05)), dryTop)} {
			if d := k.run(t, p).dayMost; d > 1.5 {
				t.Errorf("wind %.1f, %+v: %.2f K by day", wind, p.surface, d)
			}
		}
	}
}

// The choice of sky formula moves the long wave by 30 W/m2 and must not move
// what a floor is worth by more than a fifth, since both floors see one sky.
func TestGainAcrossSkyFormulas(t *testing.T) {
	worth := func(f sky.Formula) float64 {
		k := springWeek()
		k.formula = f
		return k.run(t, whole(floor.Bare(), moist)).gain - k.run(t, whole(floor.Bare(), dryTop)).gain
	}
	base := worth(sky.Default)
	for f := sky.DilleyOBrien; f <= sky.Swinbank; f++ {
		if g := worth(f); math.Abs(g/base-1) > 0.2 {
			t.Errorf("formula %d: %.3f K, default %.3f K", f, g, base)
		}
	}
}

// Shipped step (600 s) against a tenth of it: minimum and gain within 0.05 K.
func TestStepLength(t *testing.T) {
	for _, p := range []part{whole(floor.Bare(), moist), whole(floor.Bare(), dryTop), whole(must(floor.Covered(0.4)), moist), whole(must(floor.Residue(0.02)), moist)} {
		for _, warm := range []float64{0, -5} { // the second freezes the soil every night
			k := springWeek()
			k.warmK, k.days = warm, 4
			fine := k
			fine.dt = 60
			a, b := k.run(t, p), fine.run(t, p)
			if math.Abs(a.gain-b.gain) > 0.05 || math.Abs(a.minSurf-b.minSurf) > 0.05 {
				t.Errorf("%+v warm %+.0f: gain %.3f v %.3f, surface %.3f v %.3f", p.surface, warm, a.gain, b.gain, a.minSurf, b.minSurf)
			}
		}
	}
}

// Running water, calm, 60 degF, over the whole floor: 10 US gal/min per acre
// gives 0.2 to 1.0 degF and 35 gives 1 to 3 as an upper bound (common
// practice; the upper bound takes all heat down to 32 degF into the air). With
// energy closed the answer lies at or below those ranges' tops, at least half
// their bottoms, and rises with the rate.
func TestRunningWater(t *testing.T) {
	k := springWeek()
	k.wind = 0.5
	base := k.run(t, whole(floor.Bare(), moist)).gain
	worth := func(gpmAcre float64) float64 {
		p := whole(floor.Bare(), moist)
		p.supply = func(sec float64) floor.Supply {
			if sec > 5*86400+18*3600 {
				return floor.Supply{MmH: gpmAcre * 25.4 / 452.6, TempC: 15.6} // 1 in/h is 452.6 gpm/acre
			}
			return floor.Supply{}
		}
		return kToF * (k.run(t, p).gain - base)
	}
	ten, thirtyFive := worth(10), worth(35)
	if ten < 0.1 || ten > 1.0 {
		t.Errorf("10 gpm/acre: %.2f degF", ten)
	}
	if thirtyFive < 0.5 || thirtyFive > 3 || thirtyFive <= ten {
		t.Errorf("35 gpm/acre: %.2f degF (10: %.2f)", thirtyFive, ten)
	}
}

// Surface and soil close jointly: net radiation + water = sensible + latent +
// stored, and water likewise, to 1e-9 of the summed absolute fluxes, through
// frost, rain, irrigation and a growing wetted share.
func TestBudgetsClose(t *testing.T) {
	k := springWeek()
	k.warmK, k.days = -3, 10
	supply := func(sec float64) floor.Supply {
		if math.Mod(sec, 3*86400) < 6*3600 {
			return floor.Supply{MmH: 4, TempC: 15}
		}
		return floor.Supply{}
	}
	buried := func(sec float64) floor.Supply {
		return floor.Supply{MmH: 1, TempC: 15, BuriedM: 0.2}
	}
	o := k.run(t,
		part{surface: floor.Bare(), water: dryTop, share: 0.3, supply: supply},
		part{surface: must(floor.Covered(0.2)), water: moist, share: 0.3, supply: supply},
		part{surface: must(floor.Residue(0.03)), water: dryTop, share: 0.2, supply: buried},
		part{surface: must(floor.Loosened(0.12)), water: moist, share: 0.2})
	for i := range o.block.Patches {
		checkClosed(t, o.block.Patches[i].Strip)
	}
	checkClosed(t, o.ref)
}

func checkClosed(t *testing.T, s *floor.Strip) {
	t.Helper()
	if gap, of := s.HeatGap(); math.Abs(gap) > 1e-9*of {
		t.Errorf("%+v: heat off by %g of %g J/m2", s.Surface, gap, of)
	}
	if gap, of := s.WaterGap(); math.Abs(gap) > 1e-9*of {
		t.Errorf("%+v: water off by %g of %g m", s.Surface, gap, of)
	}
	if s.Budget.Refused > 0.02*s.Budget.Evaporated+1e-4 {
		t.Errorf("%+v: the soil refused %.2f mm of %.2f mm evaporation", s.Surface, 1000*s.Budget.Refused, 1000*s.Budget.Evaporated)
	}
}

// A share that grows out of dry ground keeps both accounts closed.
func TestGrowingShareCloses(t *testing.T) {
	k := springWeek()
	wet := floor.NewStrip(floor.Bare(), k.column(t, dryTop), 1, floor.DefaultExchange())
	dry := floor.NewStrip(floor.Bare(), k.column(t, dryTop), 1, floor.DefaultExchange())
	b := &floor.Block{Mix: floor.DefaultMixing(), FetchM: 300, Patches: []floor.Patch{{Strip: wet, Share: 0}, {Strip: dry, Share: 1}}}
	var given float64
	start := dry.Col.WaterHeld()
	for i := 1; i <= 4*144; i++ {
		if i%6 == 1 {
			b.Grow(0, 1, 0.02+0.4*float64(i)/(4*144))
			b.Patches[0].Supply = floor.Supply{MmH: 0.5 / b.Patches[0].Share, TempC: 14, NoLimit: true}
		}
		w := k.at(float64(i) * 600)
		b.Step(&w, -10, 600)
		given += 0.5 / 6 / 1000
	}
	checkClosed(t, wet)
	checkClosed(t, dry)
	held := 0.0
	out := 0.0
	for i := range b.Patches {
		p := &b.Patches[i]
		held += p.Share * p.Col.WaterHeld()
		out += p.Share * (p.Budget.Evaporated + p.Budget.Drained + p.Budget.Runoff)
	}
	if d := held + out - start - given; math.Abs(d) > 1e-9 {
		t.Errorf("block's water off by %.3g m of %.3g given", d, given)
	}
	if b.Patches[0].Share < 0.41 || math.Abs(b.Patches[0].Share+b.Patches[1].Share-1) > 1e-12 {
		t.Errorf("shares %.3f and %.3f", b.Patches[0].Share, b.Patches[1].Share)
	}
}

// A surface cut off by still air cannot run away: with no wind at all under a
// dry clear sky it stays within 12 K of the air (skin depressions of 5-10 K are
// the largest seen on calm nights: common practice).
func TestNoRunaway(t *testing.T) {
	k := springWeek()
	k.wind, k.dew, k.formula = 0, -12, sky.Brunt
	o := k.run(t, whole(must(floor.Covered(1.0)), moist))
	if depression := 0.5 - o.minSurf; depression > 12 {
		t.Errorf("surface %.1f K below the air", depression)
	}
}

func BenchmarkBlockStep(b *testing.B) {
	k := springWeek()
	blk := &floor.Block{Mix: k.mix, FetchM: 300, Patches: []floor.Patch{
		{Strip: floor.NewStrip(floor.Bare(), k.column(b, moist), 1, floor.DefaultExchange()), Share: 0.4},
		{Strip: floor.NewStrip(must(floor.Covered(0.1)), k.column(b, moist), 1, floor.DefaultExchange()), Share: 0.6},
	}}
	b.ReportAllocs()
	ws := make([]floor.Weather, 144)
	for i := range ws {
		ws[i] = k.at(float64(i) * 600)
	}
	b.ResetTimer()
	for i := range b.N {
		blk.Step(&ws[i%144], -10, 600)
	}
}

// More heat on the floor never makes the air colder: water from a trickle to a
// flood, run through a calm night over ground of any size.
func TestMoreHeatIsNeverColder(t *testing.T) {
	for _, fetch := range []float64{80, 566, 3000} {
		for _, wind := range []float64{0.2, 0.7, 2} {
			last := math.Inf(-1)
			for _, rate := range []float64{0, 0.5, 1, 2, 4, 8, 16, 32} {
				k := springWeek()
				k.wind, k.fetchM = wind, fetch
				p := whole(floor.Bare(), moist)
				p.supply = func(sec float64) floor.Supply {
					if sec > 5*86400+18*3600 {
						return floor.Supply{MmH: rate, TempC: 15}
					}
					return floor.Supply{}
				}
				g := k.run(t, p).gain
				if g < last {
					t.Errorf("fetch %v m, wind %v m/s: %.2f K at %v mm/h, %.2f K at less", fetch, wind, g, rate, last)
				}
				last = g
			}
		}
	}
}

// A cold front after warm days: the warm floor must not hold its block many
// degrees above the cold air around it. Handbooks stop at 1-3 degF and one old
// claim of 5 degF (2.8 K); 3.5 K is asked, for fetches up to 3 km and no wind.
func TestColdFront(t *testing.T) {
	for _, fetch := range []float64{300, 3000} {
		for _, front := range []float64{-4, -11} {
			k := springWeek()
			k.wind, k.fetchM = 0.2, fetch
			k.front = front
			if g := k.run(t, whole(floor.Bare(), moist)).gain; g > 3.5 || g < 0 {
				t.Errorf("fetch %v m, air %v K colder on the last night: gain %.2f K", fetch, front, g)
			}
		}
	}
}

// Frozen days: no floor parts the air by more than 1.5 K by day there either.
func TestFrozenDays(t *testing.T) {
	for _, wind := range []float64{0.2, 1, 4} {
		k := springWeek()
		k.wind, k.warmK = wind, -14
		for _, p := range []part{whole(floor.Bare(), moist), whole(must(floor.Loosened(0.15)), dryTop), whole(must(floor.Covered(0.4)), moist)} {
			if d := k.run(t, p).dayMost; d > 1.5 {
				t.Errorf("wind %.1f, %+v: %.2f K by day", wind, p.surface, d)
			}
		}
	}
}

// A frozen week, for the cost of freezing beside BenchmarkBlockStep.
func BenchmarkFrozenBlockStep(b *testing.B) {
	k := springWeek()
	k.warmK = -14
	blk := &floor.Block{Mix: k.mix, FetchM: 300, Patches: []floor.Patch{
		{Strip: floor.NewStrip(floor.Bare(), k.column(b, moist), 1, floor.DefaultExchange()), Share: 0.4},
		{Strip: floor.NewStrip(must(floor.Covered(0.1)), k.column(b, moist), 1, floor.DefaultExchange()), Share: 0.6},
	}}
	ws := make([]floor.Weather, 144)
	for i := range ws {
		ws[i] = k.at(float64(i) * 600)
	}
	b.ReportAllocs()
	b.ResetTimer()
	for i := range b.N {
		blk.Step(&ws[i%144], -10, 600)
	}
}
