package main

import (
	"fmt"
	"sync"

	"budward/decide/method"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

const gpmAcreMmH = 25.4 / 452.6 // 1 US gal/min per acre in mm/h

// waterGain returns what running water on the whole of a moist, bare floor from
// sunset on is worth at dawn, K.
func waterGain(gpmAcre, waterC, wind, areaHa float64) float64 {
	s := calmSpell()
	s.wind = wind
	b := trialBlock{texture: "loam", moisture: contentAt("loam", 1), areaHa: areaHa,
		system: farm.System{Kind: farm.MicroSprinkler, RateMmH: gpmAcre * gpmAcreMmH, WetShare: 1}}
	on := method.Run{From: s.dawn() - 11*6, To: s.dawn() + 1, WaterC: waterC}
	return b.run(s, []method.Run{on}, nil).gainK - b.run(s, nil, nil).gainK
}

func (w *writer) waterHeat() {
	w.printf("## Heat of running water\n\nWater at 60 degF (15.6 degC) run from sunset on over the whole of a moist, bare floor, loam. The\nheat is exact; what of it reaches the air is not. *Bound* takes all the heat into the air of\na calm night, *quarter* is what `calc waterheat` shows as its low figure, *columns* are runs of the\ntwin columns. degF.\n")
	rows := [][]string{{"US gal/min per acre", "mm/h", "heat, W/m2", "bound", "quarter", "columns 0.5 m/s", "1 m/s", "2 m/s", "1 ha, 1 m/s", "practice"}}
	practice := map[float64]string{10: "0.2 to 1", 15: "1 to 2 (1)", 25: "1 to 2 (1)", 35: "1 to 3, upper bound", 40: "1 to 2 (1)"}
	for _, g := range []float64{5, 10, 15, 25, 35, 40} {
		h, err := method.WaterHeat(quantity.MillimetrePerHour(g*gpmAcreMmH), 15.6, 0, false)
		if err != nil {
			panic("validation: " + err.Error())
		}
		f := func(wind, ha float64) string { return plain(1.8*waterGain(g, 15.6, wind, ha), 2) }
		rows = append(rows, []string{plain(g, 0), plain(g*gpmAcreMmH, 2), plain(float64(h.Cooling), 0), plain(1.8*float64(h.HighK), 1), plain(1.8*float64(h.LowK), 1), f(0.5, 50), f(1, 50), f(2, 50), f(1, 1), practice[g]})
	}
	w.table(rows...)
	w.printf("(1) Under-tree sprinklers in almond at 15, 25 and 40 gal/min per acre: the air warmed little\nand alike at all three rates, and an exposed sensor by 1-2 degF at the higher ones. The\nmodel, in which water only wets the ground, makes the gain rise with the rate. Sprinklers also\nwet air and trunks, which it leaves out.\n\nMost of the heat goes into the ground, which the water keeps warmer, and to the sky. Freezing adds\n93 W/m2 for each mm/h that does freeze; on ground above 0 degC none does.\n\n")
	temp := [][]string{{"water at", "5 degC", "10 degC", "15.6 degC", "20 degC"}}
	cells := []string{"10 gal/min per acre, 1 m/s, degF"}
	for _, t := range []float64{5, 10, 15.6, 20} {
		cells = append(cells, plain(1.8*waterGain(10, t, 1, 50), 2))
	}
	w.table(temp[0], cells)
	for _, c := range []struct{ gpm, lo, hi float64 }{{10, 0.2, 1}, {35, 1, 3}} {
		h, err := method.WaterHeat(quantity.MillimetrePerHour(c.gpm*gpmAcreMmH), 15.6, 0, false)
		if err != nil {
			panic("validation: " + err.Error())
		}
		v := 1.8 * float64(h.HighK)
		w.goal(fmt.Sprintf("Running water, %.0f gal/min per acre, all heat into the air", c.gpm), fmt.Sprintf("%.1f to %.1f degF (practice)", c.lo, c.hi), fmt.Sprintf("%.1f degF; the columns leave %.2f", v, 1.8*waterGain(c.gpm, 15.6, 0.5, 50)), v >= c.lo && v <= c.hi+0.05)
	}
}

// startHours are hours before dawn at which water is started.
var startHours = []int{10, 14, 18, 24, 36, 48, 60, 84, 108, 132, 156}

// stopH: water started earlier is stopped at dusk, 11 h before dawn.
const stopH = 11

// wetting is one start of a system.
type wetting struct {
	startH, endH  float64 // before dawn
	gainK         float64 // over the same block left alone
	mm            float64
	share, depthM float64
	moisture      float64 // of the wetted ground's top 0.3 m at dawn
	field         float64
	groundC       float64 // mean top of the floor less that of the block left alone, K
	evapMM        float64 // evaporated by the wetted ground beyond what dry ground gave up, mm
}

// change is a run made different in one process, to see what that does.
type change struct {
	name  string
	spell func(*spell)
	site  func(*method.Site)
	block func(*trialBlock)
	water float64 // degC; 0 = as given
}

const wellC = 15.0

// alone is the block left alone, worked out once for each case.
func (b trialBlock) alone(s spell, c change) trial {
	key := fmt.Sprintf("%+v %+v %s", s, b, c.name)
	if t, ok := aloneRuns.Load(key); ok {
		return t.(trial)
	}
	t := b.run(s, nil, c.site)
	aloneRuns.Store(key, t)
	return t
}

var aloneRuns sync.Map

func (b trialBlock) start(s spell, hours int, c change) wetting {
	if c.spell != nil {
		c.spell(&s)
	}
	if c.block != nil {
		c.block(&b)
	}
	temp := wellC
	if c.water != 0 {
		temp = c.water
	}
	base := b.alone(s, c)
	to := s.dawn() + 1 - stopH*6
	if hours <= stopH {
		to = s.dawn() + 1
	}
	on := b.run(s, []method.Run{{From: s.dawn() + 1 - hours*6, To: to, UntilRefill: true, WaterC: temp}}, c.site)
	o := wetting{startH: float64(hours), gainK: on.gainK - base.gainK, mm: on.site.Given.WaterMM, share: on.site.WetShare(), groundC: on.groundC - base.groundC, field: on.site.Soil.FieldCapacity}
	o.endH = float64(s.dawn()-on.site.Given.LastStep) / 6
	if p := on.site.Floor.Patches[1]; p.Share > 0 {
		o.moisture = p.Col.MeanWater(method.RootZoneM)
		o.evapMM = 1000 * (p.Budget.Evaporated - base.site.Floor.Patches[0].Budget.Evaporated)
	}
	o.depthM = wettedDepth(on.site)
	return o
}

// wettedDepth is how far down the wetted ground is moister than the dry ground
// beside it by wetterBy or more.
func wettedDepth(s *method.Site) float64 {
	const wetterBy = 0.03 // m3/m3
	dry, wet := s.Floor.Patches[0], s.Floor.Patches[1]
	if wet.Share == 0 {
		return 0
	}
	depth, z := 0.0, 0.0
	for i := range wet.Col.N {
		z += wet.Col.DZ[i]
		if wet.Col.Water[i]-dry.Col.Water[i] >= wetterBy {
			depth = z
		}
	}
	return depth
}
