package main

import (
	"math"
	"time"

	"budward/decide/method"
	"budward/physics/ground"
	"budward/physics/sky"
	"budward/vineyard/farm"
)

// spell is an invented stretch of spring weather at 38.5 N from local midnight
// of 1 April: the lowest air at 06:00, the highest at 15:00, the same every day,
// so that what differs between two runs is the floor or the water alone.
type spell struct {
	name     string
	days     int
	wind     float64 // at 2 m, m/s
	lowC     float64
	highC    float64
	dewC     float64
	dayCloud float64 // from 07:00 to 18:00 of all days but the last
	cloud    float64 // otherwise
	noSun    bool    // no short wave at all, air unchanged: to see what the sun does
}

func calmSpell() spell {
	return spell{name: "clear, calm (0.7 m/s)", days: 8, wind: 0.7, lowC: 0.5, highC: 17, dewC: -1}
}

const dawnHour = 6

// path lays the spell out in steps.
func (s spell) path() method.Path {
	start := time.Date(2024, 4, 1, 0, 0, 0, 0, time.FixedZone("", -8*3600))
	var hours []method.Hour
	for i := range s.days*24 + 1 {
		h := float64(i % 24)
		t := s.highC - (s.highC-s.lowC)*math.Pow(math.Mod(h-15+24, 24)/15, 0.7)
		if h >= dawnHour && h < 15 {
			t = s.lowC + (s.highC-s.lowC)*math.Sin((h-dawnHour)/9*math.Pi/2)
		}
		cloud := s.cloud
		if h >= 7 && h <= 18 && i < (s.days-1)*24 {
			cloud = s.dayCloud
		}
		solar := math.NaN()
		if s.noSun {
			solar = 0
		}
		hours = append(hours, method.Hour{AirC: t, DewC: math.Min(s.dewC, t), Wind2: s.wind, Cloud: cloud, Solar: solar})
	}
	return method.NewPath(start, hours, method.Place{LatDeg: 38.5, LonDeg: -120, ElevationM: 60, Formula: sky.Default})
}

// dawn is the step that ends at the last 06:00.
func (s spell) dawn() int { return (s.days-1)*144 + dawnHour*6 - 1 }

// trialBlock is a bare, firm block of one soil and moisture.
type trialBlock struct {
	texture  string
	moisture float64
	areaHa   float64
	system   farm.System
}

// share of the water between wilting point and field capacity, as water content.
func contentAt(texture string, share float64) float64 {
	s, ok := ground.ByTexture(texture)
	if !ok {
		panic("validation: unknown texture " + texture)
	}
	return s.WiltingPoint + share*(s.FieldCapacity-s.WiltingPoint)
}

const (
	rowM, vineM = 2.7, 2.5
	emitterLPH  = 3.785
	cordonM     = 1.0
	soilStartC  = 10.0
)

// drip is one emitter of 3.785 L/h (1 gal/h) a vine, 0.56 mm/h (10 US gal/min
// per acre) over the block.
func drip() farm.System {
	return farm.System{Kind: farm.Drip, RateMmH: emitterLPH / (rowM * vineM), EmitterLPH: emitterLPH, EmitterAlongM: vineM, EmitterAcrossM: rowM}
}

// furrow wets half the floor at 8 mm/h and takes four hours to the far end.
func furrow() farm.System {
	return farm.System{Kind: farm.Furrow, RateMmH: 8, AdvanceH: 4, WetShare: 0.5}
}

func (b trialBlock) farmBlock() farm.Block {
	return farm.Block{ID: "trial", AreaHa: b.areaHa, CordonHeightM: cordonM, RowSpacingM: rowM, VineSpacingM: vineM,
		Soil: farm.Soil{Texture: b.texture}, System: b.system,
		Strips: []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: farm.Moisture{Value: b.moisture}}}}
}

// trial is a block driven through a spell.
type trial struct {
	gainK   float64 // at the last dawn, against the station's 10 cm grass
	groundC float64 // top of the floor then, mean of the block
	site    *method.Site
}

func (b trialBlock) run(s spell, runs []method.Run, change func(*method.Site)) trial {
	warm := func(float64) float64 { return soilStartC }
	st := farm.Station{ID: "S", SensorHeightM: 1.5, Soil: farm.Soil{Texture: "loam"},
		Surroundings: farm.Strip{Share: 1, Surface: farm.Cover, HeightM: 0.1, Moisture: farm.Moisture{Value: 0.27}}}
	ref, err := method.NewReference(st, []float64{cordonM}, warm)
	if err != nil {
		panic("validation: " + err.Error())
	}
	site, err := method.NewSite(b.farmBlock(), ref, warm)
	if err != nil {
		panic("validation: " + err.Error())
	}
	if change != nil {
		change(site)
	}
	site.Plan(runs)
	var tr method.Trace
	p := s.path()
	steps := p.Steps[:s.dawn()+1]
	site.Drive(steps, ref.Run(steps)[site.Height], &tr)
	return trial{gainK: tr.GainK[s.dawn()], groundC: tr.GroundC[s.dawn()], site: site}
}
