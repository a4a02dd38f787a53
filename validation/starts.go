package main

import (
	"fmt"

	"budward/decide/method"
	"budward/physics/floor"
	"budward/physics/ground"
	"budward/vineyard/farm"
)

// system of the start-time section.
type wettingSystem struct {
	name string
	sys  farm.System
}

func wettingSystems() []wettingSystem {
	return []wettingSystem{{"drip", drip()}, {"furrow", furrow()}}
}

var startSoils = []string{"sandy loam", "loam", "clay loam"}

// dryLoam is the case that the mechanisms are shown on.
func dryBlock(texture string, sys farm.System) trialBlock {
	return trialBlock{texture: texture, moisture: contentAt(texture, 0.1), areaHa: 50, system: sys}
}

func (w *writer) starts() {
	w.printf("## When to start: the worth of a wetting by its start\n\nAir at cordon height at dawn, block wetted less the same block left alone, K; 50 ha of bare,\nfirm ground, clear and calm (0.7 m/s) unless said otherwise, eight like days in early\nApril at 38.5 N, water at 15 degC, soil at 10 degC when they begin. *Drip* is\none 3.8 L/h emitter a vine at 2.5 x 2.7 m (0.56 mm/h, 10 gal/min per acre) and can wet 35 %% of the\nfloor; *furrow* gives 8 mm/h to half the floor and takes 4 h to its far end. Water stops when the wetted 30 cm are at field\ncapacity, or at dusk 11 h before dawn; a start within those 11 h runs on to dawn. The soil is\nshort of water: a tenth of what it can hold between wilting point and field capacity is left.\n")
	for _, s := range wettingSystems() {
		w.startCurves(s)
	}
	w.startTables()
	w.mechanisms()
	w.practice()
}

func (w *writer) startCurves(ws wettingSystem) {
	rows := [][]string{{ws.name + ", dry soil; start, h before dawn"}}
	for _, h := range startHours {
		rows[0] = append(rows[0], fmt.Sprint(h))
	}
	var list []series
	for _, tex := range startSoils {
		cells, ends, mm, share := []string{tex + ", gain"}, []string{"... ends, h before dawn"}, []string{"... water, mm over the block"}, []string{"... share wetted / depth, m"}
		state := []string{"... moisture of the wetted 30 cm at dawn / extra evaporation, mm"}
		one := series{name: tex}
		for _, h := range startHours {
			r := dryBlock(tex, ws.sys).start(calmSpell(), h, change{})
			cells, ends, mm = append(cells, plain(r.gainK, 2)), append(ends, plain(r.endH, 0)), append(mm, plain(r.mm, 0))
			share = append(share, fmt.Sprintf("%.2f / %.2f", r.share, r.depthM))
			state = append(state, fmt.Sprintf("%.2f / %.1f", r.moisture, r.evapMM))
			one.x, one.y = append(one.x, -float64(h)), append(one.y, r.gainK)
		}
		rows = append(rows, cells, ends, mm, share, state)
		list = append(list, one)
	}
	w.table(rows...)
	var at []tick
	for _, h := range []int{156, 132, 108, 84, 60, 48, 36, 24, 10} {
		at = append(at, tick{-float64(h), fmt.Sprint(h)})
	}
	w.plot("starts_"+ws.name, "worth of a wetting by "+ws.name+" against its start", chart{
		title: "Worth at dawn of a wetting by " + ws.name + ", dry soil, clear and calm", xLabel: "start, hours before dawn", yLabel: "K", xTicks: at, zero: true, series: list}.svg())
	if ws.sys.Kind == farm.Drip {
		w.printf("\nAt 10 h the water runs through the night and its own heat is most of the worth; at 14 h it has three\nhours before the stop at dusk, on a floor that then cools from wet. From there on the share grows.\n")
		return
	}
	w.printf("\nClay loam cannot take 8 mm/h in: most of the 80 mm runs off at the tail, and what is worth 1 K on the\nnight itself is the heat of that stream.\n\n")
}

func (w *writer) startTables() {
	w.printf("### By starting moisture, weather and size\n\nGain in K at three starts (18, 48 and 108 h before dawn). Moisture is the share left of the water\nbetween wilting point and field capacity.\n")
	rows := [][]string{{"case", "drip 18 h", "48 h", "108 h", "furrow 18 h", "48 h", "108 h"}}
	line := func(name string, b trialBlock, s spell) {
		cells := []string{name}
		for _, ws := range wettingSystems() {
			b.system = ws.sys
			for _, h := range []int{18, 48, 108} {
				cells = append(cells, plain(b.start(s, h, change{}).gainK, 2))
			}
		}
		rows = append(rows, cells)
	}
	for _, tex := range startSoils {
		for _, m := range []float64{0.1, 0.5, 0.9} {
			line(fmt.Sprintf("%s, %.0f %% left", tex, 100*m), trialBlock{texture: tex, moisture: contentAt(tex, m), areaHa: 50}, calmSpell())
		}
	}
	loam := dryBlock("loam", farm.System{})
	for _, c := range []struct {
		name string
		make func(*spell)
	}{
		{"dry loam, breeze of 2 m/s", func(s *spell) { s.wind = 2 }},
		{"dry loam, days three quarters clouded", func(s *spell) { s.dayCloud = 0.75 }},
		{"dry loam, half clouded day and night", func(s *spell) { s.dayCloud, s.cloud = 0.5, 0.5 }},
		{"dry loam, dry air (dew point -8 degC)", func(s *spell) { s.dewC = -8 }},
		{"dry loam, cold spell (-3 to 9 degC)", func(s *spell) { s.lowC, s.highC, s.dewC = -3, 9, -4 }},
	} {
		s := calmSpell()
		c.make(&s)
		line(c.name, loam, s)
	}
	for _, ha := range []float64{1, 5, 200} {
		b := loam
		b.areaHa = ha
		line(fmt.Sprintf("dry loam, block of %.0f ha", ha), b, calmSpell())
	}
	w.table(rows...)
	w.printf("Loam and heavier soil that is half full already gains little, near field capacity nothing to speak\nof: what is worth having is getting *away from dry*. Sandy loam gains longer, and loses it sooner.\nA breeze, cloud at night and a small block take more than half of it away, since the block's air is\nthen not its own. A cold spell makes it worth more: the ground has more to give.\n\n")
}

// changes take one process away at a time.
func changes() []change {
	wetOnly := func(f func(*method.Site)) func(*method.Site) { return f }
	return []change{
		{name: "as it is"},
		{name: "whole share wet from the first hour", block: func(b *trialBlock) {
			if b.system.Kind == farm.Drip { // a system of the same rate whose share does not grow
				b.system = farm.System{Kind: farm.MicroSprinkler, RateMmH: b.system.RateMmH, WetShare: 0.35}
			}
		}},
		{name: "no sun on any day", spell: func(s *spell) { s.noSun = true }},
		{name: "no evaporation", site: wetOnly(func(s *method.Site) {
			for i := range s.Floor.Patches {
				s.Floor.Patches[i].Surface.SurfaceSM = 1e7
			}
		})},
		{name: "water at 5 degC", water: 5},
		{name: "water at 25 degC", water: 25},
		{name: "drains ten times slower", site: func(s *method.Site) {
			for i := range s.Floor.Patches {
				c := s.Floor.Patches[i].Col
				for l := range c.Soil {
					c.Soil[l].DrainH *= 10
				}
			}
		}},
	}
}

func (w *writer) mechanisms() {
	w.printf("### What makes the curve\n\nDry loam, with one process at a time taken away or changed, from the wetted and the dry run alike:\n")
	for _, ws := range wettingSystems() {
		hours := []int{10, 18, 24, 36, 48, 60, 108}
		rows := [][]string{{ws.name + "; start, h before dawn"}}
		for _, h := range hours {
			rows[0] = append(rows[0], fmt.Sprint(h))
		}
		for _, c := range changes() {
			if c.name == "whole share wet from the first hour" && ws.sys.Kind != farm.Drip {
				continue
			}
			cells := []string{c.name}
			for _, h := range hours {
				cells = append(cells, plain(dryBlock("loam", ws.sys).start(calmSpell(), h, c).gainK, 2))
			}
			rows = append(rows, cells)
		}
		w.table(rows...)
	}
	w.bulbs()
}

// bulbs sets the two models of the wetted share side by side.
func (w *writer) bulbs() {
	soil, _ := ground.ByTexture("loam")
	e := ground.Emitters{FlowLPH: emitterLPH, AlongM: vineM, AcrossM: rowM}
	rows := [][]string{{"drip, dry loam; hours of running", "6", "12", "24", "48", "72"}, {"share by mass balance (used)"}, {"share by the empirical fit"}, {"depth by mass balance, m"}}
	for _, h := range []float64{6, 12, 24, 48, 72} {
		m, err := ground.BulbByMass(e, h, soil.FieldCapacity-contentAt("loam", 0.1), soil.WiderThanDeep)
		if err != nil {
			panic("validation: " + err.Error())
		}
		f, err := ground.BulbEmpirical(e, h, soil.KsMmH)
		if err != nil {
			panic("validation: " + err.Error())
		}
		rows[1], rows[2], rows[3] = append(rows[1], plain(m.Share, 2)), append(rows[2], plain(f.Share, 2)), append(rows[3], plain(m.DepthM, 2))
	}
	w.table(rows...)
}

func (w *writer) practice() {
	at := func(sys farm.System, hours int, c change) float64 {
		return dryBlock("loam", sys).start(calmSpell(), hours, c).gainK
	}
	d, f := drip(), furrow()
	alike := changes()
	w.printf("**Share wetted.** Drip starts from a spot and grows: with the whole share wet from the first hour an 18 h\nstart would be worth %.2f K instead of %.2f, a 60 h start no more than it is. This is what makes slow\ndrip an early starter. The two models of the share differ by more than two after a day, and the\nlower one would push the start earlier still.\n\n", at(d, 18, alike[1]), at(d, 18, alike[0]))
	w.printf("**Depth and drainage.** By the time the share is there the water is past 30 cm, which is all a night\ndraws on, and drains. On loam, draining ten times slower would be worth %.2f K more for a start 108 h\nahead; sandy loam's wetted 30 cm lose a third of their water by then, and the worth falls with it.\n\n", at(d, 108, alike[6])-at(d, 108, alike[0]))
	w.printf("**Sun.** Without any, wetting by drip 60 h ahead is worth %.2f K instead of %.2f, by furrow %.2f instead\nof %.2f: between a third and a half of the worth is daytime heat that moist ground takes in and dry\nground does not. A late start has none of it.\n\n", at(d, 60, alike[2]), at(d, 60, alike[0]), at(f, 60, alike[2]), at(f, 60, alike[0]))
	loam := dryBlock("loam", farm.System{})
	w.printf("**Evaporation.** Wetted ground gives up 3 to 10 mm more than dry ground (last rows of the tables above),\n2.5 MJ/m2 each: with drainage that is why the curves stop rising after two days or three. Taken\naway from the wetted and the dry block alike, the dry one alone would be %.1f K warmer at dawn, more\nthan any wetting brings, and a wetting 60 h ahead worth %.2f K by drip and %.2f K by furrow: evaporation\nsets how warm a floor is, less how much a wetting adds.\n\n", loam.run(calmSpell(), nil, alike[3].site).gainK-loam.run(calmSpell(), nil, nil).gainK, at(d, 60, alike[3]), at(f, 60, alike[3]))
	w.printf("**Water temperature.** 10 K either way moves a drip started days ahead by %.2f K and one started 10 h\nbefore dawn, which still runs then, by %.2f.\n\n", (at(d, 60, alike[5])-at(d, 60, alike[4]))/2, (at(d, 10, alike[5])-at(d, 10, alike[4]))/2)
	w.practiceAndPhysics(at(d, 18, alike[0]), at(d, 60, alike[0]), at(f, 24, alike[0]), at(f, 48, alike[0]))
	w.goal("Slow drip, dry loam: worth of an 18 h start against 60 h", "at most 60 % (common practice: start early)", fmt.Sprintf("%.0f %%", 100*at(d, 18, alike[0])/at(d, 60, alike[0])), at(d, 18, alike[0]) <= 0.6*at(d, 60, alike[0]))
}

func (w *writer) practiceAndPhysics(drip18, drip60, furrow24, furrow48 float64) {
	dry := 1.8 * (usualNight().gain(floor.Bare(), false) - usualNight().gain(floor.Bare(), true))
	w.printf("### Where practice and the columns differ\n")
	w.table(
		[]string{"", "practice", "columns", "why"},
		[]string{"slow drip", "run days ahead, to wet as much soil as it can", fmt.Sprintf("18 h ahead %.2f K, 60 h %.2f K", drip18, drip60), "agree: the share must grow"},
		[]string{"furrow, flood", "bare ground is best about two days after wetting", fmt.Sprintf("a day ahead %.2f K, two days %.2f K: the later start comes out ahead", furrow24, furrow48), "fresh water at 15 degC is warmer than the soil at 10, and two days' evaporation is saved. Practice also wants ground that carries a tractor, drained roots and time for what breaks, which the columns do not know"},
		[]string{"wet against dry, whole floor", "2 degF in the tables, 5 in one old study", fmt.Sprintf("%.1f degF on 50 ha at 1 m/s", dry), "likely: the columns' dry ground still evaporates and conducts a little; their air is shared with what lies upwind"},
		[]string{"soil half full or better", "wet it all the same, if dry on top", "a few hundredths of a kelvin on loam and heavier, some two thirds of a dry soil's gain on sandy loam", "the step from dry to half wet triples what ground can give; the rest adds a third"},
		[]string{"water on the night", "worth 0.2 to 1 degF at 10 gal/min per acre", "0.1 to 0.2 degF over the whole floor", "most of its heat goes into the ground and to the sky; see above"},
		[]string{"small blocks", "not spoken of", "1 ha gains a quarter of what 50 ha does", "the air comes from next door"},
	)
	w.printf("The columns' preference for a furrow start a day ahead rests on a tenth of a kelvin, less than any\nforecast's error. **It is no reason to start later than practice does**: starts are to be advised by\npractice, or by the columns where they ask for an earlier one.\n")
}
