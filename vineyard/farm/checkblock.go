package farm

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

func (c *checker) block(b Block, x index) {
	c.text("name", b.Name, maxName)
	c.text("cultivar", b.Cultivar, maxName)
	if !(b.AreaHa >= 1e-4 && b.AreaHa <= 2000) {
		c.err("area", plain(b.AreaHa)+"ha", "above 0 (1m2 at least) and at most 2000ha")
	} else if b.AreaHa < 1 {
		c.warn("area", plain(b.AreaHa)+"ha", "1 ha or more", "what its floor is worth is doubtful: the air of its neighbours decides")
	}
	c.vines(b)
	c.place(b.LatDeg, b.LonDeg, b.ElevationM)
	c.within("fetch", b.FetchM, 0, 20000, "m")
	c.within("cold_spot", float64(b.ColdSpotK), 0, 10, "K")
	c.within("offset", float64(b.OffsetK), -10, 10, "K")
	if b.OffsetK != 0 && !b.OffsetKnown {
		c.err("offset", plain(float64(b.OffsetK))+"K", "to be marked as known")
	}
	c.soil(b.Soil)
	c.strips(b)
	c.system(b, x)
	c.references(b, x)
	c.polygon(b.Polygon)
}

func (c *checker) vines(b Block) {
	cv, found := LookupCultivar(b.Cultivar)
	switch {
	case b.Cultivar == "":
		c.err("cultivar", "", "the cultivar's name")
	case !found && b.Species == "":
		c.warn("cultivar", b.Cultivar, "a cultivar of the register, or its species beside it",
			"its species is not known: the more tender vinifera table and general values for secondaries are taken")
	case !found:
		c.warn("cultivar", b.Cultivar, "a cultivar of the register", "general values for what its secondaries bear are taken")
	case b.Species != "" && b.Species != cv.Species:
		c.warn("species", string(b.Species), fmt.Sprintf("%s, which %s is", cv.Species, cv.Name),
			"tables of the species written here are used")
	}
	if b.Species != "" {
		c.oneOf("species", string(b.Species), string(Vinifera), string(Labrusca), string(Hybrid))
	}
	c.oneOf("use", string(b.Use), string(Wine), string(Table), string(Raisin), string(Juice))
	c.oneOf("pruning", string(b.Pruning), string(Spur), string(Cane), string(Minimal))
	c.within("nodes_kept", b.NodesKept, 0, 1000, "")
	c.within("cordon_height", b.CordonHeightM, 0.2, 3.5, "m")
	c.within("row_spacing", b.RowSpacingM, 0.8, 10, "m")
	c.within("vine_spacing", b.VineSpacingM, 0.3, 10, "m")
	c.within("crop", b.CropTHa, 0, 200, "t/ha")
	c.within("price", b.PricePerT, 0, 1e7, "/t")
	if b.CropTHa == 0 || b.PricePerT == 0 {
		c.warn("crop, price", plain(b.CropTHa)+"t/ha, "+plain(b.PricePerT)+"/t", "both above 0",
			"losses are told as shares of the crop, not in money, and nothing can be weighed against its cost")
	}
	for _, s := range []struct {
		field string
		v     float64
	}{{"secondary_share", b.SecondaryShare}, {"tertiary_share", b.TertiaryShare}} {
		if !(s.v < 0 || s.v <= 1) {
			c.err(s.field, plain(s.v), "0 to 1, or below 0 for the cultivar's own")
		}
	}
	if b.CriticalTable != "" && c.known.Table != nil {
		if err := c.known.Table(b.CriticalTable, b.Species); err != nil {
			c.err("critical_table", b.CriticalTable, err.Error())
		}
	}
}

func (c *checker) references(b Block, x index) {
	if b.StationID == "" {
		c.warn("station", "", "the station that speaks for it",
			"the nearest forecast is used with a wider band; hang a thermometer at cordon height")
	} else if _, ok := x.stations[b.StationID]; !ok {
		c.err("station", b.StationID, "the id of a station of this farm"+list(keys(x.stations)))
	}
	seen := map[string]bool{}
	for _, id := range b.Protection {
		if _, ok := x.equipment[id]; !ok {
			c.err("protection", id, "the id of equipment of this farm"+list(keys(x.equipment)))
		}
		if seen[id] {
			c.err("protection", id, "each piece of equipment once")
		}
		seen[id] = true
	}
}

func keys[T any](m map[string]T) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	return out
}

// list names up to eight ids, in order, or none.
func list(ids []string) string {
	if len(ids) == 0 || len(ids) > 8 {
		return ""
	}
	sort.Strings(ids)
	return ": " + strings.Join(ids, ", ")
}

func (c *checker) system(b Block, x index) {
	s := b.System
	c.oneOf("system", string(s.Kind), string(NoSystem), string(Drip), string(MicroSprinkler), string(Furrow), string(Flood), string(OverVine))
	if s.Kind == NoSystem {
		if s.SourceID != "" || s.RateMmH != 0 {
			c.err("system", "", "the kind of water system, where a source or a rate is given")
		}
		return
	}
	if !(s.RateMmH >= 0.001 && s.RateMmH <= 200) {
		c.err("rate", plain(s.RateMmH)+"mm/h", "above 0 (0.001mm/h at least) and at most 200mm/h, averaged over the whole block")
	}
	if !(s.WetShare >= 0.001 && s.WetShare <= 1) {
		c.err("wet_share", plain(s.WetShare), "0.001 to 1")
	}
	if !(s.Uniformity >= 0.01 && s.Uniformity <= 1) {
		c.err("uniformity", plain(s.Uniformity), "0.01 to 1")
	}
	c.within("line_fill", s.LineFillH, 0, 48, "h")
	c.within("advance", s.AdvanceH, 0, 240, "h")
	c.within("buried", s.BuriedM, 0, 1.5, "m")
	c.within("energy_cost", s.EnergyCostPerH, 0, 1e6, "/h")
	if s.Kind == Drip || s.Kind == MicroSprinkler {
		c.emitters(s)
	}
	if s.SourceID == "" {
		c.err("source", "", "the id of the water source that feeds the system")
		return
	}
	src, ok := x.sources[s.SourceID]
	if !ok {
		c.err("source", s.SourceID, "the id of a water source of this farm"+list(keys(x.sources)))
		return
	}
	// 1 mm/h on 1 ha is 10 m3/h.
	need := s.RateMmH * b.AreaHa * 10 / 3.6
	if src.FlowLPS > 0 && need > src.FlowLPS*1.02 { // a fiftieth is rounding of typed rates
		largest := 0.0
		for _, o := range x.sources {
			largest = math.Max(largest, o.FlowLPS)
		}
		means := fmt.Sprintf("the block cannot run as one set from %s; it must be run in %d sets", s.SourceID, int(math.Ceil(need/src.FlowLPS)))
		if need > largest*1.02 {
			means += ", and no other source here could carry it at once"
		}
		c.warn("rate", fmt.Sprintf("%smm/h on %sha takes %.3gL/s", plain(s.RateMmH), plain(b.AreaHa), need),
			fmt.Sprintf("at most the %sL/s of source %s", plain(src.FlowLPS), s.SourceID), means)
	}
}

func (c *checker) emitters(s System) {
	ok := c.within("emitter_flow", s.EmitterLPH, 0.1, 1000, "L/h")
	ok = c.within("emitter_spacing", s.EmitterAlongM, 0.05, 20, "m") && ok
	ok = c.within("emitter_row_spacing", s.EmitterAcrossM, 0.1, 20, "m") && ok
	if !ok || !(s.RateMmH > 0) {
		return
	}
	rate := s.EmitterLPH / (s.EmitterAlongM * s.EmitterAcrossM)
	if r := rate / s.RateMmH; r < 0.8 || r > 1.25 {
		c.warn("rate", plain(s.RateMmH)+"mm/h", fmt.Sprintf("about %.2fmm/h, which the emitters' flow and spacing give", rate),
			"water applied and floor wetted will not agree")
	}
}

func (c *checker) polygon(p [][2]float64) {
	if len(p) == 0 {
		return
	}
	if len(p) < 4 || len(p) > maxPolygon {
		c.err("polygon", fmt.Sprintf("%d points", len(p)), fmt.Sprintf("4 to %d points, the last the same as the first", maxPolygon))
		return
	}
	for _, q := range p {
		if !(q[0] >= -180 && q[0] <= 180 && q[1] >= -90 && q[1] <= 90) {
			c.err("polygon", fmt.Sprintf("%g %g", q[0], q[1]), "longitude then latitude in degrees")
			return
		}
	}
	if p[0] != p[len(p)-1] {
		c.err("polygon", fmt.Sprintf("%d points", len(p)), "a closed ring: the last point the same as the first")
	}
}
