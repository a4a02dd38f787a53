package farm

import (
	"fmt"
	"strconv"
	"strings"

	"budward/physics/quantity"
)

// The columns of each file. Defaults name their source, or "common practice".

const commonPractice = "common practice"

func intColumn[T any](name string, lo, hi int, field func(*T) *int) column[T] {
	return column[T]{name: name,
		read: func(p *T, s string) error {
			n, err := strconv.Atoi(s)
			if err != nil || n < lo || n > hi {
				return &FieldError{"", s, fmt.Sprintf("a whole number from %d to %d", lo, hi)}
			}
			*field(p) = n
			return nil
		},
		write: func(p *T) string {
			if *field(p) == 0 {
				return ""
			}
			return strconv.Itoa(*field(p))
		}}
}

// placeGiven says which of latitude and longitude, and elevation, were written.
type placeGiven struct{ at, elevation bool }

// placeColumns are lat, lon and elevation. They are always written, since an
// empty cell stands for the farm's own place.
func placeColumns[T any](lat, lon, elev func(*T) *float64, given func(*T) *placeGiven) []column[T] {
	mark := func(c column[T], flag func(*placeGiven) *bool) column[T] {
		read := c.read
		c.read = func(p *T, s string) error {
			*flag(given(p)) = true
			return read(p, s)
		}
		return c
	}
	at := func(g *placeGiven) *bool { return &g.at }
	return []column[T]{
		mark(always(measured("lat", "", quantity.ParseLatitude, lat), "", lat), at),
		mark(always(measured("lon", "", quantity.ParseLongitude, lon), "", lon), at),
		mark(always(measured("elevation", "m", quantity.ParseLength, elev), "m", elev), func(g *placeGiven) *bool { return &g.elevation }),
	}
}

func soilColumns[T any](soil func(*T) *Soil) []column[T] {
	return []column[T]{
		{name: "soil",
			read:  func(p *T, s string) error { soil(p).Texture = FoldTexture(s); return nil },
			write: func(p *T) string { return soil(p).Texture }},
		optionalShare("field_capacity", func(p *T) *float64 { return &soil(p).FieldCapacity }),
		optionalShare("wilting_point", func(p *T) *float64 { return &soil(p).WiltingPoint }),
		optionalShare("porosity", func(p *T) *float64 { return &soil(p).Porosity }),
		optionalShare("quartz", func(p *T) *float64 { return &soil(p).Quartz }),
		measured("ks", "mm/h", quantity.ParseRate, func(p *T) *float64 { return &soil(p).KsMmH }),
	}
}

func farmColumns() []column[Farm] {
	cols := []column[Farm]{
		text("id", func(p *Farm) *string { return &p.ID }).needed(),
		text("name", func(p *Farm) *string { return &p.Name }),
		text("zone", func(p *Farm) *string { return &p.Zone }).needed(),
	}
	place := placeColumns(func(p *Farm) *float64 { return &p.LatDeg }, func(p *Farm) *float64 { return &p.LonDeg },
		func(p *Farm) *float64 { return &p.ElevationM }, func(*Farm) *placeGiven { return &placeGiven{} })
	for i := range place {
		place[i] = place[i].needed()
	}
	labour := func(p *Farm) *float64 { return &p.LabourPerHour }
	return append(append(cols, place...),
		text("currency", func(p *Farm) *string { return &p.Currency }).needed(),
		optionalShare("worst_loss", func(p *Farm) *float64 { return &p.WorstLossShare }),
		always(measured("labour", "/h", perHour, labour), "/h", labour).orElse("0/h", "not given: work is counted as free"),
		intColumn("hands_tonight", 0, 1000, func(p *Farm) *int { return &p.HandsTonight }),
	)
}

// stationRow is a station with the texts that need its soil to be read.
type stationRow struct {
	s     Station
	moist moistureText
	place placeGiven
}

// moistureText is a moisture as written.
type moistureText struct{ value, spread, source, at string }

// moistureColumns are the four columns of a moisture, named after prefix.
func moistureColumns[T any](prefix string, m func(*T) *moistureText, of func(*T) Moisture) []column[T] {
	col := func(suffix string, field func(*moistureText) *string, write func(Moisture) string) column[T] {
		return column[T]{name: prefix + suffix,
			read:  func(p *T, s string) error { *field(m(p)) = s; return nil },
			write: func(p *T) string { return write(of(p)) }}
	}
	return []column[T]{
		col("", func(t *moistureText) *string { return &t.value }, func(v Moisture) string { return plain(v.Value) + "m3/m3" }),
		col("_spread", func(t *moistureText) *string { return &t.spread }, func(v Moisture) string { return plain(v.Spread) + "m3/m3" }),
		col("_source", func(t *moistureText) *string { return &t.source }, func(v Moisture) string { return string(v.Source) }),
		col("_at", func(t *moistureText) *string { return &t.at }, func(v Moisture) string { return atText(v.At) }),
	}
}

func stationColumns() []column[stationRow] {
	type row = stationRow
	sensor := func(p *row) *float64 { return &p.s.SensorHeightM }
	wind := func(p *row) *float64 { return &p.s.WindHeightM }
	cols := []column[row]{
		text("id", func(p *row) *string { return &p.s.ID }).needed(),
		text("name", func(p *row) *string { return &p.s.Name }),
	}
	cols = append(cols, placeColumns(func(p *row) *float64 { return &p.s.LatDeg }, func(p *row) *float64 { return &p.s.LonDeg },
		func(p *row) *float64 { return &p.s.ElevationM }, func(p *row) *placeGiven { return &p.place })...)
	cols = append(cols,
		always(measured("sensor_height", "m", quantity.ParseLength, sensor), "m", sensor).
			orElse("1.5m", "screens stand at 1.25 to 2 m (WMO-No. 8)"),
		always(measured("wind_height", "m", quantity.ParseLength, wind), "m", wind).
			orElse("2m", commonPractice+" of farm stations; weather services use 10 m"),
		word("shelter", func(p *row) *Shelter { return &p.s.Shelter }).orElse("screen", commonPractice),
		column[row]{name: "surroundings",
			read: func(p *row, s string) error {
				st, err := ParseSurface(s)
				p.s.Surroundings = Strip{Name: "surroundings", Share: 1}.WithState(st)
				return err
			},
			write: func(p *row) string { return p.s.Surroundings.State().String() }}.
			orElse("cover 0.1m", "weather stations usually stand among short grass or fields (common practice)"),
	)
	cols = append(cols, moistureColumns("surroundings_moisture", func(p *row) *moistureText { return &p.moist },
		func(p *row) Moisture { return p.s.Surroundings.Moisture })...)
	return append(cols, soilColumns(func(p *row) *Soil { return &p.s.Soil })...)
}

func sourceColumns() []column[Source] {
	temp := func(p *Source) *float64 { return (*float64)(&p.WaterTempC) }
	cost := func(p *Source) *float64 { return &p.CostPerM3 }
	return []column[Source]{
		text("id", func(p *Source) *string { return &p.ID }).needed(),
		text("name", func(p *Source) *string { return &p.Name }),
		measured("flow", "L/s", quantity.ParseFlow, func(p *Source) *float64 { return &p.FlowLPS }).needed(),
		always(measured("water_temp", "C", quantity.ParseCelsius, temp), "C", temp).
			orElse("15C", "well water near the yearly mean air temperature (common practice); pond and canal water in spring is colder"),
		always(measured("cost", "/m3", perM3, cost), "/m3", cost).orElse("0/m3", "not given: water is counted as free"),
		yesNo("frost_use", func(p *Source) *bool { return &p.FrostUseStated }, func(p *Source) *bool { return &p.FrostUse }),
	}
}

func equipmentColumns() []column[Equipment] {
	cost := func(p *Equipment) *float64 { return &p.CostPerH }
	return []column[Equipment]{
		text("id", func(p *Equipment) *string { return &p.ID }).needed(),
		text("name", func(p *Equipment) *string { return &p.Name }),
		word("kind", func(p *Equipment) *EquipmentKind { return &p.Kind }).needed(),
		measured("area", "ha", quantity.ParseArea, func(p *Equipment) *float64 { return &p.AreaHa }).needed(),
		intColumn("count", 1, 100000, func(p *Equipment) *int { return &p.Count }).orElse("1", commonPractice),
		measured("power", "kW", quantity.ParsePower, func(p *Equipment) *float64 { return &p.PowerKW }),
		always(measured("cost", "/h", perHour, cost), "/h", cost).orElse("0/h", "not given: running is counted as free"),
	}
}

func personColumns() []column[Person] {
	return []column[Person]{
		text("id", func(p *Person) *string { return &p.ID }).needed(),
		text("name", func(p *Person) *string { return &p.Name }),
		text("phone", func(p *Person) *string { return &p.Phone }),
		text("mail", func(p *Person) *string { return &p.Mail }),
		word("units", func(p *Person) *string { return &p.Units }).orElse("us", commonPractice),
		column[Person]{name: "night",
			read: func(p *Person, s string) error {
				var stated bool
				return yesNo("", func(*Person) *bool { return &stated }, func(q *Person) *bool { return &q.Night }).read(p, s)
			},
			write: func(p *Person) string {
				if p.Night {
					return "yes"
				}
				return "no"
			}}.orElse("no", "nobody is counted on at night who was not named for it"),
	}
}

// stripRow is one strip of a block with the texts that need its soil.
type stripRow struct {
	block string
	s     Strip
	moist moistureText
}

func stripColumns() []column[stripRow] {
	type row = stripRow
	cols := []column[row]{
		text("block", func(p *row) *string { return &p.block }).needed(),
		text("name", func(p *row) *string { return &p.s.Name }).needed(),
		share("share", func(p *row) *float64 { return &p.s.Share }).needed(),
		column[row]{name: "floor",
			read: func(p *row, s string) error {
				st, err := ParseSurface(s)
				p.s = p.s.WithState(st)
				return err
			},
			write: func(p *row) string { return p.s.State().String() }}.needed(),
	}
	return append(cols, moistureColumns("moisture", func(p *row) *moistureText { return &p.moist },
		func(p *row) Moisture { return p.s.Moisture })...)
}

func defaultColumns() []column[Default] {
	return []column[Default]{
		text("where", func(p *Default) *string { return &p.Where }).needed(),
		text("field", func(p *Default) *string { return &p.Field }).needed(),
		text("value", func(p *Default) *string { return &p.Value }),
		text("why", func(p *Default) *string { return &p.Why }).needed(),
	}
}

// polygonText writes a ring as "lon lat; lon lat; ...".
func polygonText(p [][2]float64) string {
	parts := make([]string, len(p))
	for i, q := range p {
		parts[i] = plain(q[0]) + " " + plain(q[1])
	}
	return strings.Join(parts, "; ")
}

func parsePolygon(s string) ([][2]float64, error) {
	var out [][2]float64
	for _, pair := range strings.Split(s, ";") {
		f := strings.Fields(pair)
		if len(f) == 0 {
			continue
		}
		var q [2]float64
		ok := len(f) == 2
		for i := 0; ok && i < 2; i++ {
			v, err := parsePlain(-180, 180)(f[i])
			q[i], ok = v, err == nil
		}
		if !ok || len(out) >= maxPolygon {
			return nil, &FieldError{"", strings.TrimSpace(pair), `points "longitude latitude" in degrees with ; between them`}
		}
		out = append(out, q)
	}
	return out, nil
}
