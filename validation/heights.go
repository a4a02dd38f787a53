package main

import (
	"math"

	"budward/physics/air"
	"budward/physics/floor"
	"budward/physics/ground"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// What the two-level station is taken for; none of it is fitted.
const (
	armLowM, armHighM = 1.0, 2.0 // heights of the two levels, from memory
	armWindM          = 2.5      // height of its wind, from memory
	armGrassM         = 0.10     // grass a station is taken to stand on when nothing is said
	armRoughM         = 0.123 * armGrassM
	armBulk           = 1.4 // t/m3, turns water by mass into water by volume
)

// profile is one half hour of the two-level night: the step in air temperature
// from the low to the high level, measured and modelled.
type profile struct {
	time               string
	measured           float64 // top less bottom, K
	columns            float64 // by the floor's modelled sensible heat
	budget             float64 // by the station's own available energy, shared as saturated air shares it
	station            float64 // by the station's own sensible heat, which is made from the step itself
	wind, net, modelH  float64
	lowC, inversion10K float64
}

// isNight by the station's local time (UTC-6): net radiation below zero from
// sunset at about 17:20 to sunrise at about 07:10.
func isNight(l *levels) bool {
	h := l.time[11:16]
	return h <= "13:00" || h >= "23:30"
}

// armDay returns the profiles of a date, all hours. The floor column is driven
// by the lower level's air, the wind and the measured net radiation, from the
// first row on: the product has a forecast of the sky instead.
func armDay(all []levels, date string, grassM float64) []profile {
	var rows []levels
	for _, l := range all {
		if l.time[:10] == date {
			rows = append(rows, l)
		}
	}
	st := armStrip(&rows[0], grassM)
	out := make([]profile, len(rows))
	for i := range rows {
		r := &rows[i]
		before := &rows[max(0, i-1)]
		var sens float64
		for s := 1; s <= 3; s++ {
			f := float64(s) / 3
			mix := func(x, y float64) float64 {
				if math.IsNaN(x) || math.IsNaN(y) {
					return y
				}
				return x + f*(y-x)
			}
			t := mix(before.bottom, r.bottom)
			rh := mix(before.rh, r.rh)
			if math.IsNaN(rh) {
				rh = 0.9
			}
			w := floor.Weather{AirC: t, VapourKPa: rh * air.SatVapKPa(t), WindMS: wind2(mix(before.wind, r.wind)), Pressure: r.pressure}
			// Net radiation is measured, the sky is not: its long wave is what
			// makes the balance of the surface's last temperature come out.
			k := st.Flux.SurfaceC + quantity.ZeroCelsiusK
			w.LongWave = mix(before.net, r.net)/st.Surface.Emissivity + sky.StefanBoltzmann*k*k*k*k
			sens += st.Step(&w, &floor.Supply{}, 600).Sensible / 3
		}
		out[i] = armProfile(r, sens)
	}
	return out
}

func wind2(u float64) float64 {
	return u * math.Log(2/armRoughM) / math.Log(armWindM/armRoughM)
}

func armProfile(r *levels, sens float64) profile {
	step := func(h, toM float64) float64 {
		if math.IsNaN(h) {
			return math.NaN()
		}
		return floor.Transfer{FromM: armLowM, ToM: toM, Sensible: h, WindMS: wind2(r.wind), AirC: r.bottom, RoughnessM: armRoughM, Pressure: r.pressure}.DifferenceK()
	}
	// Available energy without any profile: net radiation and soil heat, shared
	// between sensible heat and dew as in saturated air, gamma/(s + gamma).
	t := (r.top + r.bottom) / 2
	slope := (air.SatVapKPa(t+0.5) - air.SatVapKPa(t-0.5))
	gamma := 0.000665 * r.pressure
	return profile{time: r.time, measured: r.top - r.bottom, columns: step(sens, armHighM),
		budget:  step((r.net+r.soilFlux)*gamma/(slope+gamma), armHighM),
		station: step(-r.sensible, armHighM), wind: r.wind, net: r.net, modelH: sens, lowC: r.bottom, inversion10K: step(sens, 10)}
}

func armStrip(first *levels, grassM float64) *floor.Strip {
	soil, ok := ground.ByTexture("silt loam")
	if !ok {
		panic("validation: no silt loam")
	}
	water := first.gravPct / 100 * armBulk
	c, err := ground.NewColumn(ground.Layers(ground.DefaultLayers, ground.DefaultTopM, ground.DefaultBottomM), soil, first.soilTempC, water)
	if err != nil {
		panic("validation: " + err.Error())
	}
	su, err := floor.Covered(grassM)
	if err != nil {
		panic("validation: " + err.Error())
	}
	return floor.NewStrip(su, c, armLowM, floor.DefaultExchange())
}

// Inversion by sign and size.
type agreement struct {
	N, RightSign int
	absSum, sum  float64
}

func (a agreement) MeanAbs() float64 { return a.absSum / float64(a.N) }
func (a agreement) Bias() float64    { return a.sum / float64(a.N) }
func (a agreement) Share() float64   { return float64(a.RightSign) / float64(a.N) }

func agree(p []profile, night []bool, get func(*profile) float64) agreement {
	var a agreement
	for i := range p {
		v := get(&p[i])
		if !night[i] || math.IsNaN(v) || math.IsNaN(p[i].measured) {
			continue
		}
		a.N++
		if (v > 0) == (p[i].measured > 0) {
			a.RightSign++
		}
		a.absSum += math.Abs(v - p[i].measured)
		a.sum += v - p[i].measured
	}
	return a
}
