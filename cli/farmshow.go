package cli

import (
	"fmt"
	"strings"

	"budward/physics/quantity"
	"budward/vineyard/farm"
)

func showFarm(p *page, f farm.Farm, s quantity.System) *page {
	p.para("", "", fmt.Sprintf("%s (%s)", f.Name, f.Zone))
	g := &grid{right: []bool{false, false, true, false, false, false}, max: []int{8, 18, 10, 14, 13, 0}}
	g.row("block", "name", "area", "cultivar", "water", "station")
	for _, b := range f.Blocks {
		g.row(b.ID, b.Name, s.Area(quantity.Hectare(b.AreaHa)), b.Cultivar, waterWord(b.System), cut(b.StationID, 6))
	}
	p.grid(g, "  ")
	if len(f.Sources) > 0 {
		p.heading("Water")
		for _, w := range f.Sources {
			use := "frost use not stated"
			if w.FrostUseStated {
				use = map[bool]string{true: "may be used against frost", false: "may not be used against frost"}[w.FrostUse]
			}
			p.para("  ", "    ", fmt.Sprintf("%s, %s: %s at %s, %s", w.ID, w.Name, s.Flow(quantity.LitrePerSecond(w.FlowLPS)), s.Temperature(w.WaterTempC), use))
		}
	}
	p.heading("Stations")
	for _, st := range f.Stations {
		p.para("  ", "    ", fmt.Sprintf("%s, %s: thermometer at %s (%s), surroundings %s", st.ID, st.Name,
			s.Length(quantity.Metre(st.SensorHeightM)), st.Shelter, surface(st.Surroundings.State().String(), s)))
	}
	if len(f.Equipment) > 0 {
		p.heading("Fans and heaters")
		for _, e := range f.Equipment {
			p.para("  ", "    ", fmt.Sprintf("%s, %s: %d x %s", e.ID, e.Name, e.Count, e.Kind))
		}
	}
	if n := len(f.Defaults); n > 0 {
		p.blank()
		p.line("%s taken for want of better: budward farm show --defaults", plural(n, "value was", "values were"))
	}
	return p
}

func waterWord(y farm.System) string {
	if y.Kind == farm.NoSystem {
		return "none"
	}
	return string(y.Kind)
}

func showBlock(p *page, f farm.Farm, b farm.Block, s quantity.System) *page {
	p.para("", "", fmt.Sprintf("%s %s, %s, %s", b.ID, b.Name, s.Area(quantity.Hectare(b.AreaHa)), b.Cultivar))
	say := func(label, format string, a ...any) {
		p.para("  "+left(label, 12), strings.Repeat(" ", 14), fmt.Sprintf(format, a...))
	}
	say("vines", "%s, %s, %s pruned, %.0f nodes kept; cordon at %s; rows %s, vines %s apart", b.Species, b.Use, b.Pruning, b.NodesKept,
		s.Length(quantity.Metre(b.CordonHeightM)), s.Length(quantity.Metre(b.RowSpacingM)), s.Length(quantity.Metre(b.VineSpacingM)))
	say("cold spot", "%s colder than the block", s.Difference(b.ColdSpotK))
	say("soil", "%s", b.Soil.Texture)
	for _, x := range b.Strips {
		say("floor", "%s, %s: %s, moisture %s +-%s (%s)", x.Name, quantity.Percent(quantity.Share(x.Share)), surface(x.State().String(), s),
			quantity.Percent(quantity.Share(x.Moisture.Value)), quantity.Percent(quantity.Share(x.Moisture.Spread)), x.Moisture.Source)
	}
	if y := b.System; y.Kind != farm.NoSystem {
		say("water", "%s from %s, %s, wets %s of the floor once established", y.Kind, y.SourceID, s.Rate(quantity.MillimetrePerHour(y.RateMmH)),
			quantity.Percent(quantity.Share(y.WetShare)))
	} else {
		say("water", "none")
	}
	if len(b.Protection) > 0 {
		say("also", "%s", and(b.Protection))
	}
	price, per := b.PricePerT, "t"
	if s == quantity.US {
		price, per = price*quantity.ShortTonKg/1000, "ton"
	}
	say("crop", "%s at %s a %s", s.Crop(quantity.TonnePerHectare(b.CropTHa)), money(price, f.Currency), per)
	say("station", "%s", b.StationID)
	for _, d := range f.Defaults {
		if d.Where == "block "+b.ID {
			say("taken", "%s = %s (%s)", d.Field, d.Value, d.Why)
		}
	}
	return p
}
