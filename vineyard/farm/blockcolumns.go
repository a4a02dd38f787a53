package farm

import (
	"fmt"
	"strings"

	"budward/physics/quantity"
)

// blockRow is a block with what needs its other cells to be read.
type blockRow struct {
	b                       Block
	underShare              float64
	underShareGiven         bool
	underFloor, middleFloor string
	underMoist, middleMoist moistureText
	wetGiven, lineFillGiven bool
	uniformityGiven         bool
	secondaryGiven          bool
	tertiaryGiven           bool
	energyGiven             bool
	place                   placeGiven
}

func blockColumns() []column[blockRow] {
	cols := vineColumns()
	cols = append(cols, placeColumns(func(p *blockRow) *float64 { return &p.b.LatDeg },
		func(p *blockRow) *float64 { return &p.b.LonDeg }, func(p *blockRow) *float64 { return &p.b.ElevationM },
		func(p *blockRow) *placeGiven { return &p.place })...)
	cols = append(cols, siteColumns()...)
	cols = append(cols, soilColumns(func(p *blockRow) *Soil { return &p.b.Soil })...)
	cols = append(cols, floorColumns()...)
	return append(cols, systemColumns()...)
}

func vineColumns() []column[blockRow] {
	type row = blockRow
	cordon := func(p *row) *float64 { return &p.b.CordonHeightM }
	rowSp := func(p *row) *float64 { return &p.b.RowSpacingM }
	vineSp := func(p *row) *float64 { return &p.b.VineSpacingM }
	return []column[row]{
		text("id", func(p *row) *string { return &p.b.ID }).needed(),
		text("name", func(p *row) *string { return &p.b.Name }),
		measured("area", "ha", quantity.ParseArea, func(p *row) *float64 { return &p.b.AreaHa }).needed(),
		text("cultivar", func(p *row) *string { return &p.b.Cultivar }).needed(),
		word("species", func(p *row) *Species { return &p.b.Species }), // default by the register
		word("use", func(p *row) *Use { return &p.b.Use }),             // likewise
		word("pruning", func(p *row) *Pruning { return &p.b.Pruning }).orElse("spur", commonPractice),
		measured("nodes_kept", "", parsePlain(0, 1000), func(p *row) *float64 { return &p.b.NodesKept }),
		always(measured("cordon_height", "m", quantity.ParseLength, cordon), "m", cordon).
			orElse("0.9m", commonPractice+"; temperatures are for this height: measure it"),
		always(measured("row_spacing", "m", quantity.ParseLength, rowSp), "m", rowSp).orElse("2.4m", commonPractice),
		always(measured("vine_spacing", "m", quantity.ParseLength, vineSp), "m", vineSp).orElse("1.8m", commonPractice),
		measured("crop", "t/ha", quantity.ParseCrop, func(p *row) *float64 { return &p.b.CropTHa }),
		measured("price", "/t", perTonne, func(p *row) *float64 { return &p.b.PricePerT }),
		text("critical_table", func(p *row) *string { return &p.b.CriticalTable }),
		given(bearing("secondary_share", func(p *row) *float64 { return &p.b.SecondaryShare }), func(p *row) *bool { return &p.secondaryGiven }),
		given(bearing("tertiary_share", func(p *row) *float64 { return &p.b.TertiaryShare }), func(p *row) *bool { return &p.tertiaryGiven }),
	}
}

// bearing is a share whose empty cell means "by cultivar", kept as -1.
func bearing(name string, field func(*blockRow) *float64) column[blockRow] {
	c := share(name, field)
	c.write = func(p *blockRow) string {
		if *field(p) < 0 {
			return ""
		}
		return shareText(*field(p))
	}
	return c
}

func siteColumns() []column[blockRow] {
	type row = blockRow
	cold := func(p *row) *float64 { return (*float64)(&p.b.ColdSpotK) }
	return []column[row]{
		measured("fetch", "m", quantity.ParseLength, func(p *row) *float64 { return &p.b.FetchM }),
		always(measured("cold_spot", "K", quantity.ParseKelvin, cold), "K", cold).
			orElse("0.6K", "a guess of our own, about 1 degF: hang a thermometer in the coldest corner"),
		{name: "offset",
			read: func(p *row, s string) error {
				v, err := quantity.ParseKelvin(s)
				p.b.OffsetK, p.b.OffsetKnown = v, err == nil
				return err
			},
			write: func(p *row) string {
				if !p.b.OffsetKnown {
					return ""
				}
				return plain(float64(p.b.OffsetK)) + "K"
			}},
		text("station", func(p *row) *string { return &p.b.StationID }),
		{name: "protection",
			read:  func(p *row, s string) error { p.b.Protection = strings.Fields(s); return nil },
			write: func(p *row) string { return strings.Join(p.b.Protection, " ") }},
		{name: "polygon",
			read:  func(p *row, s string) error { v, err := parsePolygon(s); p.b.Polygon = v; return err },
			write: func(p *row) string { return polygonText(p.b.Polygon) }},
	}
}

// given notes that a cell was filled, where an empty one has a meaning.
func given(c column[blockRow], flag func(*blockRow) *bool) column[blockRow] {
	read := c.read
	c.read = func(p *blockRow, s string) error {
		*flag(p) = true
		return read(p, s)
	}
	return c
}

// floorColumns are only read: floors are written to strips.csv.
func floorColumns() []column[blockRow] {
	type row = blockRow
	read := func(name string, field func(*row) *string) column[row] {
		return column[row]{name: name, read: func(p *row, s string) error { *field(p) = s; return nil }}
	}
	cols := []column[row]{
		{name: "undervine_share", read: func(p *row, s string) error {
			v, err := parseShare(s)
			p.underShare, p.underShareGiven = v, err == nil
			return err
		}},
		read("undervine_floor", func(p *row) *string { return &p.underFloor }),
		read("middle_floor", func(p *row) *string { return &p.middleFloor }),
	}
	none := func(*row) Moisture { return Moisture{} }
	moist := append(moistureColumns("undervine_moisture", func(p *row) *moistureText { return &p.underMoist }, none),
		moistureColumns("middle_moisture", func(p *row) *moistureText { return &p.middleMoist }, none)...)
	for _, m := range moist {
		m.write = nil
		cols = append(cols, m)
	}
	return cols
}

func systemColumns() []column[blockRow] {
	type row = blockRow
	return []column[row]{
		{name: "system",
			read: func(p *row, s string) error {
				k := SystemKind(strings.Join(strings.Fields(strings.ToLower(s)), " "))
				if k == "none" {
					k = NoSystem
				}
				p.b.System.Kind = k
				return nil
			},
			write: func(p *row) string { return string(p.b.System.Kind) }},
		text("source", func(p *row) *string { return &p.b.System.SourceID }),
		measured("rate", "mm/h", quantity.ParseRate, func(p *row) *float64 { return &p.b.System.RateMmH }),
		given(optionalShare("wet_share", func(p *row) *float64 { return &p.b.System.WetShare }), func(p *row) *bool { return &p.wetGiven }),
		measured("emitter_flow", "L/h", parseLPH, func(p *row) *float64 { return &p.b.System.EmitterLPH }),
		measured("emitter_spacing", "m", quantity.ParseLength, func(p *row) *float64 { return &p.b.System.EmitterAlongM }),
		measured("emitter_row_spacing", "m", quantity.ParseLength, func(p *row) *float64 { return &p.b.System.EmitterAcrossM }),
		measured("buried", "m", quantity.ParseLength, func(p *row) *float64 { return &p.b.System.BuriedM }),
		text("wets_strip", func(p *row) *string { return &p.b.System.WetsStrip }),
		given(column[row]{name: "line_fill",
			read: func(p *row, s string) error { v, err := parseHours(s); p.b.System.LineFillH = v; return err },
			write: func(p *row) string {
				if p.b.System.Kind == NoSystem && p.b.System.LineFillH == 0 {
					return ""
				}
				return plain(p.b.System.LineFillH) + "h"
			}}, func(p *row) *bool { return &p.lineFillGiven }),
		measured("advance", "h", parseHours, func(p *row) *float64 { return &p.b.System.AdvanceH }),
		given(optionalShare("uniformity", func(p *row) *float64 { return &p.b.System.Uniformity }), func(p *row) *bool { return &p.uniformityGiven }),
		given(column[row]{name: "energy_cost",
			read: func(p *row, s string) error { v, err := perHour(s); p.b.System.EnergyCostPerH = v; return err },
			write: func(p *row) string {
				if p.b.System.Kind == NoSystem && p.b.System.EnergyCostPerH == 0 {
					return ""
				}
				return plain(p.b.System.EnergyCostPerH) + "/h"
			}}, func(p *row) *bool { return &p.energyGiven }),
	}
}

// systemDefaults fills what a water system was not given and lists it.
// Wetted shares: FAO-56 table 20 (drip 0.3-0.4, furrow with wide beds 0.4-0.6,
// basin and sprinkler 1.0) [MEMORY]; micro-sprinklers common practice.
func systemDefaults(p *blockRow, note func(field, value, why string)) {
	s := &p.b.System
	if s.Kind == NoSystem {
		return
	}
	wet := map[SystemKind]struct {
		share float64
		why   string
	}{
		Drip:           {0.35, "FAO-56 table 20: 0.3 to 0.4 for drip"},
		MicroSprinkler: {0.5, commonPractice},
		Furrow:         {0.5, "FAO-56 table 20: 0.4 to 0.6 for furrows with wide beds"},
		Flood:          {1, "FAO-56 table 20: 1.0 for basins and borders"},
		OverVine:       {1, "FAO-56 table 20: 1.0 for sprinklers"},
	}
	if w, ok := wet[s.Kind]; ok && !p.wetGiven {
		s.WetShare = w.share
		note("wet_share", plain(w.share), w.why)
	}
	if !p.lineFillGiven {
		s.LineFillH = 0.5
		note("line_fill", "0.5h", commonPractice+": half an hour until the last emitter runs")
	}
	if !p.uniformityGiven {
		s.Uniformity = 0.85
		note("uniformity", "0.85", commonPractice)
	}
	if !p.energyGiven {
		note("energy_cost", "0/h", "not given: pumping is counted as free")
	}
	if s.Kind != Drip && s.Kind != MicroSprinkler {
		return
	}
	if s.EmitterAlongM == 0 {
		s.EmitterAlongM = p.b.VineSpacingM
		note("emitter_spacing", metres(s.EmitterAlongM), "one emitter per vine: the vine spacing (common practice)")
	}
	if s.EmitterAcrossM == 0 {
		s.EmitterAcrossM = p.b.RowSpacingM
		note("emitter_row_spacing", metres(s.EmitterAcrossM), "one line per row: the row spacing (common practice)")
	}
	if s.EmitterLPH == 0 && s.RateMmH > 0 {
		s.EmitterLPH = s.RateMmH * s.EmitterAlongM * s.EmitterAcrossM
		note("emitter_flow", fmt.Sprintf("%.4gL/h", s.EmitterLPH), "from the application rate and the emitter spacing")
	}
}
