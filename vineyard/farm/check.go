package farm

import (
	"fmt"
	"math"
	"regexp"
	"strings"
)

// checker collects problems. locate, where not nil, gives the file and line of
// a thing; skip says that a field's cell was already reported unreadable.
type checker struct {
	known    Known
	problems []Problem
	locate   func(kind string, index int) (file string, line int)
	skip     func(kind string, index int, field string) bool
	kind     string
	index    int
	where    string
}

// Check reports every problem of a farm at once, errors first.
func Check(f Farm, k Known) []Problem {
	c := &checker{known: k}
	c.farm(f)
	SortProblems(c.problems)
	return c.problems
}

func (c *checker) at(kind string, index int, id string) {
	c.kind, c.index = kind, index
	switch {
	case kind == "farm":
		c.where = "farm"
	case id == "":
		c.where = fmt.Sprintf("%s %d (no id)", kind, index+1)
	default:
		c.where = kind + " " + id
	}
}

func (c *checker) add(s Severity, field, value, want, means string) {
	if c.skip != nil && c.skip(c.kind, c.index, field) {
		return
	}
	p := Problem{Severity: s, Where: c.where, Field: field, Value: value, Want: want, Means: means}
	if c.locate != nil {
		p.File, p.Line = c.locate(c.kind, c.index)
	}
	c.problems = append(c.problems, p)
}

func (c *checker) err(field, value, want string) { c.add(SeverityError, field, value, want, "") }
func (c *checker) warn(field, value, want, means string) {
	c.add(SeverityWarning, field, value, want, means)
}

// within reports a number outside lo..hi; NaN is outside.
func (c *checker) within(field string, v, lo, hi float64, unit string) bool {
	if v >= lo && v <= hi {
		return true
	}
	c.err(field, plain(v)+unit, fmt.Sprintf("%s to %s%s", plain(lo), plain(hi), unit))
	return false
}

func (c *checker) oneOf(field, v string, allowed ...string) {
	for _, a := range allowed {
		if v == a {
			return
		}
	}
	c.err(field, v, "one of "+strings.Join(allowed, ", "))
}

var idPattern = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$`)

// ids checks the form of ids and that each stands once, whatever its case.
func (c *checker) id(id string, seen map[string]bool) {
	if !idPattern.MatchString(id) {
		c.err("id", id, "1 to 40 letters, digits, _ . or -, beginning with a letter or digit")
		return
	}
	low := strings.ToLower(id)
	if seen[low] {
		c.err("id", id, "an id used only once (capitals do not count)")
	}
	seen[low] = true
}

// text checks the length and characters of a name.
func (c *checker) text(field, v string, max int) {
	bad := len(v) > max
	for _, r := range v {
		bad = bad || r < ' ' || r == 0x7f || r == 0xfffd
	}
	if bad {
		c.err(field, v, fmt.Sprintf("at most %d bytes of plain text in one line", max))
	}
}

// Hard bounds on the size of a farm.
const (
	MaxBlocks    = 5000
	MaxStations  = 1000
	MaxSources   = 1000
	MaxEquipment = 5000
	MaxPeople    = 1000
	maxStrips    = 12
	maxPolygon   = 10000
	maxName      = 120
)

var currencyPattern = regexp.MustCompile(`^[A-Z]{3}$`)

func (c *checker) farm(f Farm) {
	c.at("farm", 0, f.ID)
	c.id(f.ID, map[string]bool{})
	c.text("name", f.Name, maxName)
	if f.Zone == "" {
		c.err("zone", "", `an IANA time zone, such as "America/Los_Angeles"`)
	} else if c.known.Zone != nil {
		if err := c.known.Zone(f.Zone); err != nil {
			c.err("zone", f.Zone, `an IANA time zone, such as "America/Los_Angeles"`)
		}
	}
	c.place(f.LatDeg, f.LonDeg, f.ElevationM)
	if f.LatDeg == 0 && f.LonDeg == 0 {
		c.warn("lat, lon", "0, 0", "the farm's place", "sun times and short wave will be those of a point at sea")
	}
	if !currencyPattern.MatchString(f.Currency) {
		c.err("currency", f.Currency, `three capital letters of ISO 4217, such as "USD"`)
	}
	c.within("worst_loss", f.WorstLossShare, 0, 1, "")
	c.within("labour", f.LabourPerHour, 0, 1e6, "/h")
	c.within("hands_tonight", float64(f.HandsTonight), 0, 1000, "")
	for _, n := range []struct {
		field  string
		n, max int
	}{{"blocks", len(f.Blocks), MaxBlocks}, {"stations", len(f.Stations), MaxStations}, {"sources", len(f.Sources), MaxSources},
		{"equipment", len(f.Equipment), MaxEquipment}, {"people", len(f.People), MaxPeople}} {
		if n.n > n.max {
			c.err(n.field, fmt.Sprint(n.n), fmt.Sprintf("at most %d", n.max))
		}
	}
	if len(f.Blocks) == 0 {
		c.err("blocks", "0", "at least one block")
	}
	if len(f.Stations) == 0 {
		c.warn("stations", "0", "at least one station",
			"answers rest on the forecast's own grid and a wider band; hang a thermometer at cordon height in the coldest block")
	}
	x := indexOf(f)
	c.stations(f)
	c.sources(f)
	c.equipment(f)
	c.people(f)
	seen := map[string]bool{}
	for i, b := range f.Blocks {
		c.at("block", i, b.ID)
		c.id(b.ID, seen)
		c.block(b, x)
	}
}

// index holds what a farm's parts may refer to.
type index struct {
	stations  map[string]Station
	sources   map[string]Source
	equipment map[string]Equipment
}

func indexOf(f Farm) index {
	x := index{map[string]Station{}, map[string]Source{}, map[string]Equipment{}}
	for _, s := range f.Stations {
		x.stations[s.ID] = s
	}
	for _, s := range f.Sources {
		x.sources[s.ID] = s
	}
	for _, e := range f.Equipment {
		x.equipment[e.ID] = e
	}
	return x
}

// place checks a position; elevation from the Dead Sea shore to the highest
// vineyards with room to spare.
func (c *checker) place(lat, lon, elevM float64) {
	c.within("lat", lat, -90, 90, " deg")
	c.within("lon", lon, -180, 180, " deg")
	c.within("elevation", elevM, -450, 5000, "m")
}

func (c *checker) stations(f Farm) {
	seen := map[string]bool{}
	for i, s := range f.Stations {
		c.at("station", i, s.ID)
		c.id(s.ID, seen)
		c.text("name", s.Name, maxName)
		c.place(s.LatDeg, s.LonDeg, s.ElevationM)
		c.within("sensor_height", s.SensorHeightM, 0.05, 30, "m")
		c.within("wind_height", s.WindHeightM, 0.2, 100, "m")
		c.oneOf("shelter", string(s.Shelter), string(Aspirated), string(Screen), string(Open))
		c.soil(s.Soil)
		c.strip("surroundings", s.Surroundings, s.Soil)
	}
}

func (c *checker) soil(s Soil) {
	if _, _, err := s.Resolve(); err != nil {
		fe, ok := err.(*FieldError)
		if !ok {
			panic("farm: Resolve returned an error that is not a *FieldError")
		}
		c.err(fe.Field, fe.Value, fe.Want)
	}
}

func (c *checker) strip(field string, s Strip, soil Soil) {
	if err := s.State().check(); err != nil {
		c.err(field, s.State().String(), surfaceWant)
	}
	name := field + "_moisture"
	if field == "floor" {
		name = "moisture" // as in strips.csv
	}
	if g, _, err := soil.Resolve(); err == nil {
		if !(s.Moisture.Value >= 0 && s.Moisture.Value <= g.Porosity+1e-9) {
			c.err(name, plain(s.Moisture.Value)+"m3/m3", fmt.Sprintf("0 to the soil's porosity, %g m3/m3", g.Porosity))
		}
	}
	c.within(name+"_spread", s.Moisture.Spread, 0, 0.5, "m3/m3")
	c.oneOf(name+"_source", string(s.Moisture.Source), string(MoistureReading), string(MoistureHandFeel), string(MoistureAssumed))
}

func (c *checker) sources(f Farm) {
	seen := map[string]bool{}
	for i, s := range f.Sources {
		c.at("source", i, s.ID)
		c.id(s.ID, seen)
		c.text("name", s.Name, maxName)
		if !(s.FlowLPS >= 0.001 && s.FlowLPS <= 1e5) {
			c.err("flow", plain(s.FlowLPS)+"L/s", "above 0 (0.001L/s at least) and at most 100000L/s")
		}
		c.within("water_temp", float64(s.WaterTempC), 0, 60, "C")
		c.within("cost", s.CostPerM3, 0, 1e4, "/m3")
		if !s.FrostUseStated {
			c.warn("frost_use", "", "yes or no: whether the water right covers frost protection",
				"its use will be proposed with the caution to ask first")
		}
		if s.FrostUse && !s.FrostUseStated {
			c.err("frost_use", "yes", "to be marked as stated")
		}
	}
}

func (c *checker) equipment(f Farm) {
	seen := map[string]bool{}
	for i, e := range f.Equipment {
		c.at("equipment", i, e.ID)
		c.id(e.ID, seen)
		c.text("name", e.Name, maxName)
		c.oneOf("kind", string(e.Kind), string(Fan), string(Heaters))
		if !(e.AreaHa >= 1e-4 && e.AreaHa <= 1e4) {
			c.err("area", plain(e.AreaHa)+"ha", "above 0 (1m2 at least) and at most 10000ha")
		}
		c.within("count", float64(e.Count), 1, 1e5, "")
		c.within("cost", e.CostPerH, 0, 1e6, "/h")
		c.within("power", e.PowerKW, 0, 1e6, "kW")
		if e.Kind == Heaters && e.PowerKW == 0 {
			c.err("power", "0kW", "above 0: the heat of the fuel that the whole set burns")
		}
		// A fan serves 3-5 ha (FAO 4.0-4.5, Ontario 3-5); half as much again is
		// still believed.
		if e.Kind == Fan && e.Count > 0 && e.AreaHa > 7.5 {
			c.warn("area", plain(e.AreaHa)+"ha", "about 3 to 5 ha for one machine", "fans will look better than they are; give the area of one machine")
		}
	}
}

func (c *checker) people(f Farm) {
	seen := map[string]bool{}
	for i, p := range f.People {
		c.at("person", i, p.ID)
		c.id(p.ID, seen)
		c.text("name", p.Name, maxName)
		c.text("phone", p.Phone, 40)
		c.text("mail", p.Mail, maxName)
		if p.Mail != "" && (!strings.Contains(p.Mail, "@") || strings.ContainsAny(p.Mail, " ,;")) {
			c.err("mail", p.Mail, "one mail address")
		}
		c.oneOf("units", p.Units, "us", "metric")
		if p.Phone == "" && p.Mail == "" && p.Night {
			c.warn("phone", "", "a phone or a mail address", "an alarm cannot reach this person")
		}
	}
}

func sumShares(strips []Strip) float64 {
	sum := 0.0
	for _, s := range strips {
		sum += s.Share
	}
	return sum
}

// shareTol: shares typed with two decimals in three strips.
const shareTol = 0.005

func (c *checker) strips(b Block) {
	if len(b.Strips) == 0 || len(b.Strips) > maxStrips {
		c.err("strips", fmt.Sprint(len(b.Strips)), fmt.Sprintf("1 to %d strips", maxStrips))
		return
	}
	names := map[string]bool{}
	for _, s := range b.Strips {
		c.text("strip", s.Name, maxName)
		if s.Name == "" || names[s.Name] {
			c.err("strip", s.Name, "a name used once in the block")
		}
		names[s.Name] = true
		if !(s.Share >= 0.001 && s.Share <= 1) {
			c.err("share of "+s.Name, plain(s.Share), "0.001 to 1")
		}
		c.strip(stripField(s.Name), s, b.Soil)
	}
	if sum := sumShares(b.Strips); !(math.Abs(sum-1) <= shareTol) {
		c.err("strips", plain(sum), "shares that sum to 1 within 0.005")
	}
	if b.System.WetsStrip != "" && !names[b.System.WetsStrip] {
		c.err("wets_strip", b.System.WetsStrip, "the name of one of the block's strips")
	}
}

// The names of the two strips that blocks.csv can describe.
const (
	UnderVine = "under-vine"
	Middle    = "middle"
)

// stripField is the column that describes a strip of this name.
func stripField(name string) string {
	switch name {
	case UnderVine:
		return "undervine"
	case Middle:
		return "middle"
	}
	return "floor"
}
