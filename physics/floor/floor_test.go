package floor_test

import (
	"math"
	"testing"

	"budward/physics/air"
	"budward/physics/floor"
	"budward/physics/ground"
	"budward/physics/sky"
)

// week is an invented spring week: clear, calm, loam, 38 N, minima near 0 degC.
type week struct {
	texture string
	wind    float64
	cloud   float64
	dew     float64
	formula sky.Formula
	dt      float64
	days    int
	fetchM  float64
	mix     floor.Mixing
	warmK   float64
	front   float64 // K added from 20:00 before the last morning on
}

func springWeek() week {
	return week{texture: "loam", wind: 1, dew: -1, dt: 600, days: 7, fetchM: 566, mix: floor.DefaultMixing()}
}

// at returns the weather at sec seconds after local midnight of day one.
func (k week) at(sec float64) floor.Weather {
	// Air: sine by day, square-root cooling shape folded into a skewed sine:
	// minimum 0.5 degC at 06:00, maximum 17 degC at 15:00.
	h := math.Mod(sec/3600, 24)
	var t float64
	if h >= 6 && h < 15 {
		t = 0.5 + 16.5*math.Sin((h-6)/9*math.Pi/2)
	} else {
		hh := math.Mod(h-15+24, 24)
		t = 17 - 16.5*math.Pow(hh/15, 0.7)
	}
	t += k.warmK
	if sec > float64(k.days-1)*86400-4*3600 {
		t += k.front
	}
	e := air.SatVapKPa(math.Min(k.dew, t-0.1))
	// 1 April, 38 N 0 E: 2024-04-01 00:00 UTC is 1711929600.
	s := sky.SinElevation(1711929600+sec, 38, 0)
	return floor.Weather{
		AirC: t, VapourKPa: e, WindMS: k.wind, Pressure: 100,
		ShortWave: sky.ShortwaveDown(s, k.cloud, 100), LongWave: sky.LongwaveDown(t, e, k.cloud, k.formula),
	}
}

func moist(_ int, _ float64, s ground.Soil) float64  { return s.FieldCapacity }
func dryTop(_ int, _ float64, s ground.Soil) float64 { return 1.1 * s.WiltingPoint }

func (k week) column(t testing.TB, w func(int, float64, ground.Soil) float64) *ground.Column {
	t.Helper()
	s, ok := ground.ByTexture(k.texture)
	if !ok {
		t.Fatal(k.texture)
	}
	c, err := ground.NewColumn(ground.Layers(ground.DefaultLayers, ground.DefaultTopM, ground.DefaultBottomM), s, 11, s.FieldCapacity)
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.N {
		if err := c.SetWater(i, w(i, c.Depth[i], s)); err != nil {
			t.Fatal(err)
		}
	}
	c.SetTemp(func(float64) float64 { return 11 + k.warmK })
	return c
}

// outcome of a run: the block's air less the station's (K) at the last
// minimum, the surface then, and the largest |gain| by day.
type outcome struct {
	gain, minSurf, dayMost float64
	block                  *floor.Block
	ref                    *floor.Strip
}

func (k week) run(t testing.TB, parts ...part) outcome {
	t.Helper()
	grass, err := floor.Covered(0.10)
	if err != nil {
		t.Fatal(err)
	}
	ref := floor.NewStrip(grass, k.column(t, moist), 1.0, floor.DefaultExchange())
	b := &floor.Block{Mix: k.mix, FetchM: k.fetchM}
	for _, p := range parts {
		b.Patches = append(b.Patches, floor.Patch{Strip: floor.NewStrip(p.surface, k.column(t, p.water), 1.0, floor.DefaultExchange()), Share: p.share})
	}
	o := outcome{block: b, ref: ref}
	n := int(float64(k.days) * 86400 / k.dt)
	for i := 1; i <= n; i++ {
		sec := float64(i) * k.dt
		w := k.at(sec)
		for j := range parts {
			if parts[j].supply != nil {
				b.Patches[j].Supply = parts[j].supply(sec)
			}
		}
		f := ref.Step(&w, &floor.Supply{}, k.dt)
		d := b.Step(&w, f.Sensible, k.dt)
		last := float64(k.days-1) * 86400
		if sec == last+6*3600 {
			o.gain, o.minSurf = d, b.Patches[0].Flux.SurfaceC
		}
		if h := math.Mod(sec/3600, 24); h > 8 && h < 16 {
			o.dayMost = math.Max(o.dayMost, math.Abs(d))
		}
	}
	return o
}

type part struct {
	surface floor.Surface
	water   func(int, float64, ground.Soil) float64
	share   float64
	supply  func(sec float64) floor.Supply
}

func whole(s floor.Surface, w func(int, float64, ground.Soil) float64) part {
	return part{surface: s, water: w, share: 1}
}

func must(s floor.Surface, err error) floor.Surface {
	if err != nil {
		panic(err)
	}
	return s
}
