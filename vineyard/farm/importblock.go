package farm

import (
	"errors"
	"fmt"

	"budward/physics/quantity"
)

// moisture reads a moisture with its spread, source and date against a soil.
// An empty value takes AssumedMoisture, listed.
func (imp *importer) moisture(kind string, index int, where, field string, t moistureText, soil Soil) Moisture {
	if _, _, err := soil.Resolve(); err != nil {
		imp.bad[cellKey{kind, index, field}] = true // the soil is reported by Check
		return Moisture{Source: MoistureAssumed}
	}
	var m Moisture
	var err error
	if t.value == "" {
		if m, err = AssumedMoisture(soil); err == nil {
			imp.note(where, field, fmt.Sprintf("%.3gm3/m3 +-%.2g", m.Value, m.Spread),
				"nothing known: half of the available water, with a spread that covers most of it (a guess of our own)")
		}
	} else if m, err = ParseMoisture(t.value, soil); err != nil {
		imp.cell(kind, index, where, field, t.value, wantOf(err))
		return Moisture{Source: MoistureAssumed}
	}
	if t.spread != "" {
		v, err := quantity.ParseShare(t.spread)
		if err != nil {
			imp.cell(kind, index, where, field+"_spread", t.spread, wantOf(err))
		}
		m.Spread = float64(v)
	}
	if t.source != "" {
		m.Source = MoistureSource(t.source)
	}
	if t.at != "" {
		if m.At, err = parseAt(t.at); err != nil {
			imp.cell(kind, index, where, field+"_at", t.at, wantOf(err))
		}
	}
	return m
}

// soilDefaults lists what a soil takes from its texture class.
func (imp *importer) soilDefaults(where string, s Soil) {
	if _, notes, err := s.Resolve(); err == nil {
		for _, n := range notes {
			imp.note(where, n.Field, n.Value, n.Why)
		}
	}
}

// place fills a place that was not written with the farm's own.
func (imp *importer) place(where string, f *Farm, g placeGiven, lat, lon, elevM *float64) {
	if !g.at {
		*lat, *lon = f.LatDeg, f.LonDeg
		imp.note(where, "lat, lon", plain(f.LatDeg)+", "+plain(f.LonDeg), "not given: the farm's own place")
	}
	if !g.elevation {
		*elevM = f.ElevationM
		imp.note(where, "elevation", metres(f.ElevationM), "not given: the farm's own elevation")
	}
}

func (imp *importer) station(f *Farm, i int, r *stationRow) {
	where := "station " + r.s.ID
	imp.place(where, f, r.place, &r.s.LatDeg, &r.s.LonDeg, &r.s.ElevationM)
	if r.s.Soil == (Soil{}) {
		r.s.Soil.Texture = "loam"
		imp.note(where, "soil", "loam", "nothing known of the ground about the station (a guess of our own)")
	}
	imp.soilDefaults(where, r.s.Soil)
	r.s.Surroundings.Moisture = imp.moisture("station", i, where, "surroundings_moisture", r.moist, r.s.Soil)
}

func (imp *importer) blocks(f *Farm, rows []blockRow) {
	strips := readTable(imp, StripsFile, "strip", stripColumns(), MaxBlocks*maxStrips, func(p *stripRow) string { return " " + p.s.Name + " of block " + p.block }, false)
	byBlock := map[string][]int{}
	for i, s := range strips {
		byBlock[s.block] = append(byBlock[s.block], i)
	}
	for i := range rows {
		p := &rows[i]
		where := "block " + p.b.ID
		note := func(field, value, why string) { imp.note(where, field, value, why) }
		imp.place(where, f, p.place, &p.b.LatDeg, &p.b.LonDeg, &p.b.ElevationM)
		imp.vineDefaults(p, note)
		imp.soilDefaults(where, p.b.Soil)
		if mine := byBlock[p.b.ID]; len(mine) > 0 {
			imp.stripsOf(i, where, p, strips, mine)
			delete(byBlock, p.b.ID)
		} else {
			imp.floorOf(i, where, p)
		}
		systemDefaults(p, note)
		f.Blocks = append(f.Blocks, p.b)
	}
	for i, s := range strips {
		if _, left := byBlock[s.block]; left {
			imp.cell("strip", i, "strip "+s.s.Name, "block", s.block, "the id of a block of blocks.csv")
		}
	}
}

// vineDefaults takes species and use from the register and marks shares that
// come from the cultivar.
func (imp *importer) vineDefaults(p *blockRow, note func(field, value, why string)) {
	cv, found := LookupCultivar(p.b.Cultivar)
	if p.b.Species == "" && found {
		p.b.Species = cv.Species
		note("species", string(cv.Species), "the register's species of "+cv.Name)
	}
	if p.b.Use == "" {
		p.b.Use = cv.Use
		why := "the most common use of " + cv.Name
		if !found {
			why = commonPractice
		}
		note("use", string(cv.Use), why)
	}
	if !p.secondaryGiven {
		p.b.SecondaryShare = -1
		note("secondary_share", fmt.Sprintf("%g to %g", cv.Secondary.Low, cv.Secondary.High), cv.SecondarySource)
	}
	if !p.tertiaryGiven {
		p.b.TertiaryShare = -1
		note("tertiary_share", fmt.Sprintf("%g to %g", cv.Tertiary.Low, cv.Tertiary.High), cv.SecondarySource)
	}
}

// stripsOf takes a block's strips from strips.csv; floor columns beside them
// would say the same thing twice.
func (imp *importer) stripsOf(i int, where string, p *blockRow, strips []stripRow, mine []int) {
	if p.underFloor != "" || p.middleFloor != "" || p.underShareGiven {
		imp.cell("block", i, where, "middle_floor", p.middleFloor, "either floor columns here or rows in strips.csv, not both")
	}
	for _, j := range mine {
		s := strips[j].s
		for field, checked := range map[string]string{"share": "strips", "name": "strip", "floor": stripField(s.Name)} {
			if imp.bad[cellKey{"strip", j, field}] {
				imp.bad[cellKey{"block", i, checked}] = true // reported already
			}
		}
		if imp.bad[cellKey{"strip", j, "share"}] {
			imp.bad[cellKey{"block", i, "share of " + s.Name}] = true
		}
		name := "strip " + s.Name + " of block " + p.b.ID
		s.Moisture = imp.moisture("strip", j, name, "moisture", strips[j].moist, p.b.Soil)
		p.b.Strips = append(p.b.Strips, s)
	}
}

// floorOf builds the under-vine strip and the middle from the floor columns.
func (imp *importer) floorOf(i int, where string, p *blockRow) {
	if p.middleFloor == "" && p.underFloor == "" {
		imp.cell("block", i, where, "middle_floor", "", "the state of the floor, "+surfaceWant)
		imp.bad[cellKey{"block", i, "strips"}] = true
		return
	}
	if !p.underShareGiven {
		p.underShare = 0.25
		switch {
		case p.middleFloor == "":
			p.underShare = 1
			imp.note(where, "undervine_share", "1", "no middle is described: one floor for the whole block")
		case p.underFloor == "":
			p.underShare = 0
			imp.note(where, "undervine_share", "0", "no under-vine floor is described: one floor for the whole block")
		default:
			imp.note(where, "undervine_share", "0.25", commonPractice+": a strip of 0.6 m in rows of 2.4 m")
		}
	}
	for _, s := range []struct {
		name, floor string
		share       float64
		moist       moistureText
	}{{UnderVine, p.underFloor, p.underShare, p.underMoist}, {Middle, p.middleFloor, 1 - p.underShare, p.middleMoist}} {
		if s.share == 0 {
			continue
		}
		field := stripField(s.name)
		st, err := ParseSurface(s.floor)
		if err != nil {
			var fe *FieldError
			errors.As(err, &fe)
			imp.cell("block", i, where, field+"_floor", s.floor, fe.Want)
			imp.bad[cellKey{"block", i, field}] = true
		}
		if st.Assumed != "" {
			imp.note(where, field+"_floor", st.String(), commonPractice+": "+st.Assumed+" taken for "+s.floor)
		}
		strip := Strip{Name: s.name, Share: s.share}.WithState(st)
		strip.Moisture = imp.moisture("block", i, where, field+"_moisture", s.moist, p.b.Soil)
		p.b.Strips = append(p.b.Strips, strip)
	}
}

// mergeDefaults puts the defaults kept from an earlier import before those
// taken now; one field of one thing is listed once.
func (imp *importer) mergeDefaults(f *Farm) {
	kept := readTable(imp, DefaultsFile, "default", defaultColumns(), MaxBlocks*40, func(p *Default) string { return "" }, false)
	seen := map[[2]string]bool{}
	for _, d := range append(kept, imp.defaults...) {
		k := [2]string{d.Where, d.Field}
		if !seen[k] {
			seen[k] = true
			f.Defaults = append(f.Defaults, d)
		}
	}
}
