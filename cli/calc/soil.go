package calc

import (
	"strings"

	"budward/physics/ground"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

var (
	keyTexture  = Key{"texture", "USDA texture class", "loam"}
	keyMoisture = Key{"moisture", "water content by volume", "16%"}
)

func soilFormulas() []Formula {
	return []Formula{
		{
			Name: "soilheat", Title: "how a soil conducts and stores heat",
			Range:  "from dry to saturated, unfrozen; conductivity good to 20-25 %",
			Source: "conductivity Peters-Lidard et al. (1998) after Johansen (1975); heat capacity de Vries (1963)",
			Keys: []Key{keyTexture, {"quartz", "share of the solids that is quartz", "40%"}, {"porosity", "pores by volume", "43%"},
				{"grain", "coarse or fine, beside quartz and porosity", "fine"}, keyMoisture},
			Sets: "moisture, with texture or with quartz and porosity", run: soilHeat,
		}, {
			Name: "refill", Title: "water that brings a strip's top layer to field capacity",
			Range:  "moisture up to porosity; nothing is needed above field capacity",
			Source: "1000 (field capacity - moisture) depth; field capacity by texture from Saxton & Rawls (2006), +-0.05",
			Keys: []Key{keyTexture, {"fc", "field capacity by volume", "25%"}, keyMoisture, {"depth", "layer to fill", "0.3m"},
				{"wetted", "share of the floor that the water reaches", "35%"}, {"area", "area of the block", "2ha"}},
			Sets: "moisture and depth, with texture or fc; wetted and area if wanted", run: refill,
		}, {
			Name: "wettedshare", Title: "share of the floor that point sources have wetted",
			Range:  "emitters of 0.05-400 L/h, deficit 1-50 %; evaporation and drainage left out, so an upper bound after days",
			Source: "mass balance of a half ellipsoid; Schwartzman & Zur (1986) as second opinion (from memory)",
			Keys: []Key{{"flow", "flow of one emitter", "1gph"}, {"hours", "hours of running", "24h"},
				{"spacing", "along the row x across the rows", "5ft x 9ft"}, keyTexture,
				{"ks", "saturated conductivity", "10mm/h"}, {"deficit", "water content after less before", "16%"}},
			Sets: "flow, hours, spacing and deficit, with texture or ks", run: wettedShare,
		},
	}
}

func (in *inputs) soil() ground.Soil {
	name := in.name("texture")
	if in.err != nil {
		return ground.Soil{}
	}
	s, ok := ground.ByTexture(farm.FoldTexture(name))
	if !ok {
		in.refuse("texture", "one of "+strings.Join(ground.Textures(), ", "))
	}
	return s
}

func soilHeat(in *inputs, a *Answer) {
	var s ground.Soil
	if in.has("texture") {
		s = in.soil()
	} else {
		in.or("grain", "fine", "the usual case")
		s.Quartz, s.Porosity = in.share("quartz"), in.share("porosity")
		s.Coarse = in.word("grain", "coarse", "fine") == "coarse"
		if in.err == nil {
			in.fail(quantity.InRange("porosity", s.Porosity, 0.25, 0.85, "m3/m3", "physical bounds of mineral soils"))
		}
	}
	moisture := in.moisture("moisture")
	if in.err != nil {
		return
	}
	k, err := s.Conductivity(moisture, 0)
	in.fail(err)
	c := s.HeatCapacity(moisture, 0)
	d, damping, mu := ground.Diffusive(k, c)
	a.Result = []Item{
		number("conductivity_w_mk", "conductivity", k, "W m-1 K-1"),
		number("heat_capacity_mj_m3k", "heat capacity", c/1e6, "MJ m-3 K-1"),
		number("diffusivity_m2_s", "diffusivity", d, "m2/s"),
		{"damping_depth_m", "damping depth of the day", damping, func(u quantity.System) string { return u.Length(quantity.Metre(damping)) }},
		number("admittance", "admittance", mu, "J m-2 K-1 s-1/2"),
	}
}

func refill(in *inputs, a *Answer) {
	in.or("wetted", "100%", "the whole floor")
	var s ground.Soil
	if in.has("fc") {
		s = ground.Soil{FieldCapacity: in.moisture("fc"), Porosity: 1}
	} else {
		s = in.soil()
	}
	moisture, depth, wetted := in.moisture("moisture"), in.metres("depth"), in.percent("wetted")
	if in.err != nil {
		return
	}
	mm, err := s.Refill(moisture, float64(depth))
	in.fail(err)
	strip, field := quantity.Millimetre(mm), quantity.Millimetre(mm*float64(wetted))
	text := func(d quantity.Millimetre) func(quantity.System) string {
		return func(u quantity.System) string { return u.Depth(d) }
	}
	a.Result = []Item{{"strip_mm", "over the wetted strip", float64(strip), text(strip)}, {"field_mm", "over the whole block", float64(field), text(field)}}
	if !in.has("area") {
		a.Result = append(a.Result, unknown("volume_m3", "volume", "area was not given"))
		return
	}
	area := parsed(in, "area", "area_ha", quantity.ParseArea)
	volume := field.Volume(area)
	a.Result = append(a.Result, Item{"volume_m3", "volume", float64(volume), func(u quantity.System) string { return u.Volume(volume) }})
}

func wettedShare(in *inputs, a *Answer) {
	flow := parsed(in, "flow", "flow_lps", quantity.ParseFlow)
	hours, deficit := in.hours("hours"), in.share("deficit")
	along, across := in.spacing()
	var ks, wide float64
	if in.has("texture") {
		s := in.soil()
		ks, wide = s.KsMmH, s.WiderThanDeep
	} else {
		in.defaults = append(in.defaults, "bulb as wide as it is deep (ks alone does not say)")
		ks, wide = float64(in.rate("ks")), 1
	}
	if in.err != nil {
		return
	}
	e := ground.Emitters{FlowLPH: float64(flow) * 3600, AlongM: along, AcrossM: across}
	mass, err := ground.BulbByMass(e, hours, deficit, wide)
	in.fail(err)
	fit, err := ground.BulbEmpirical(e, hours, ks)
	in.fail(err)
	by := func(label, unit string, m, f float64) func(quantity.System) string {
		return func(u quantity.System) string {
			if unit == "m" {
				return u.Length(quantity.Metre(m)) + " by mass balance, " + u.Length(quantity.Metre(f)) + " by the empirical fit"
			}
			return percent(m) + " by mass balance, " + percent(f) + " by the empirical fit"
		}
	}
	a.Result = []Item{
		{"share", "share of the floor", map[string]float64{"mass_balance": mass.Share, "empirical": fit.Share}, by("share", "", mass.Share, fit.Share)},
		{"depth_m", "depth", map[string]float64{"mass_balance": mass.DepthM, "empirical": fit.DepthM}, by("depth", "m", mass.DepthM, fit.DepthM)},
	}
	if mass.Band || fit.Band {
		a.Notes = append(a.Notes, "bulbs of neighbouring emitters have met in a band")
	}
}

// spacing reads "5ft x 9ft": along the row, across the rows.
func (in *inputs) spacing() (along, across float64) {
	text, ok := in.take("spacing")
	if !ok {
		return 0, 0
	}
	a, b, found := strings.Cut(strings.ReplaceAll(strings.ToLower(text), "×", "x"), "x")
	x, err1 := quantity.ParseLength(a)
	y, err2 := quantity.ParseLength(b)
	if !found || err1 != nil || err2 != nil {
		in.refuse("spacing", "two lengths, along the row x across the rows, such as 5ft x 9ft")
		return 0, 0
	}
	in.echo = append(in.echo, Item{"along_m", "along", float64(x), plain(a)}, Item{"across_m", "across", float64(y), plain(b)})
	return float64(x), float64(y)
}
