package feed

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"
	"github.com/paulmach/orb/planar"

	"budward/physics/quantity"
)

type geoDocument struct {
	Type       string                     `json:"type"`
	Features   []json.RawMessage          `json:"features"`
	CRS        json.RawMessage            `json:"crs"`
	ID         json.RawMessage            `json:"id"`
	Geometry   *geoGeometry               `json:"geometry"`
	Properties map[string]json.RawMessage `json:"properties"`
}

type geoGeometry struct {
	Type        string          `json:"type"`
	Coordinates json.RawMessage `json:"coordinates"`
}

// decodeGeoJSON reads a FeatureCollection or one Feature (RFC 7946). A feature is
// a block: its properties are columns of blocks.csv, its Polygon the outline. The
// area, where no property gives one, is that of the outline on the WGS 84
// ellipsoid less its holes; the place, its centre of area. Outlines whose points
// run clockwise, against the RFC, are taken, turned and counted. Of a MultiPolygon
// the areas are summed and the largest part is the outline.
func decodeGeoJSON(m *mapper, raw []byte) error {
	origin := m.file.Origin
	text, err := checkText(origin, raw)
	if err != nil {
		return err
	}
	var doc geoDocument
	if err := strictJSON(text, &doc); err != nil {
		return jsonError(origin, text, err)
	}
	if crs := string(doc.CRS); crs != "" && crs != "null" && !strings.Contains(crs, "CRS84") && !strings.Contains(crs, "4326") {
		return &Error{Origin: origin, Field: "crs", Value: short(crs), Want: "longitude and latitude in degrees (WGS 84), as RFC 7946 has it"}
	}
	switch doc.Type {
	case "FeatureCollection":
		for i, f := range doc.Features {
			m.feature(f, "feature "+strconv.Itoa(i+1))
		}
	case "Feature":
		m.feature(text, "feature 1")
	default:
		return &Error{Origin: origin, Field: "type", Value: strconv.Quote(short(doc.Type)), Want: "FeatureCollection or Feature"}
	}
	return nil
}

// feature turns one feature into a block, or refuses it.
func (m *mapper) feature(raw json.RawMessage, where string) {
	row := BlockRow{Where: where, Cells: map[string]string{}}
	refuse := func(field, value, why string) {
		m.file.item(BlockItem{Where: where, ID: row.Cells["id"], Field: field, Value: value, Why: why})
	}
	var f geoDocument
	if err := json.Unmarshal(raw, &f); err != nil || f.Type != "Feature" {
		refuse("feature", string(raw), "not a Feature with type, geometry and properties")
		return
	}
	names := make([]string, 0, len(f.Properties))
	for name := range f.Properties {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if v, ok := scalar(f.Properties[name]); ok {
			m.put(&row, name, v)
		} else if _, _, known := m.column(name); known {
			refuse(name, string(f.Properties[name]), "a list or an object, not a value")
		}
	}
	if _, has := row.Cells["id"]; !has {
		if id, ok := scalar(f.ID); ok && id != "" {
			row.Cells["id"] = id
		}
	}
	row.ID = row.Cells["id"]
	if f.Geometry != nil {
		if err := m.outline(&row, f.Geometry); err != nil {
			refuse("geometry", f.Geometry.Type, err.Error())
			return
		}
	}
	m.take(row)
}

// scalar writes a JSON value as a cell; null and nothing are an empty one.
func scalar(raw json.RawMessage) (string, bool) {
	if len(raw) == 0 {
		return "", true
	}
	var v any
	d := json.NewDecoder(strings.NewReader(string(raw)))
	d.UseNumber()
	if err := d.Decode(&v); err != nil {
		return "", false
	}
	switch x := v.(type) {
	case nil:
		return "", true
	case string:
		return strings.TrimSpace(x), true
	case bool:
		return map[bool]string{true: "yes", false: "no"}[x], true
	case json.Number:
		f, err := x.Float64()
		if err != nil || math.IsInf(f, 0) {
			return "", false
		}
		if s := x.String(); !strings.ContainsAny(s, "eE") {
			return s, true
		}
		return plainNumber(f), true
	}
	return "", false
}

// outline reads a geometry into polygon, area, lat and lon.
func (m *mapper) outline(row *BlockRow, g *geoGeometry) error {
	var parts [][][][]float64
	var err error
	switch g.Type {
	case "Polygon":
		var p [][][]float64
		err = json.Unmarshal(g.Coordinates, &p)
		parts = [][][][]float64{p}
	case "MultiPolygon":
		err = json.Unmarshal(g.Coordinates, &parts)
	case "Point":
		return m.point(row, g)
	default:
		return errors.New("want Polygon, MultiPolygon or Point")
	}
	if err != nil {
		return errors.New("the coordinates are not rings of longitude and latitude")
	}
	note := func(field, value, why string) {
		m.file.item(BlockItem{Where: row.Where, ID: row.ID, Field: field, Value: value, Taken: true, Why: why})
	}
	var largest orb.Polygon
	total, most := 0.0, 0.0
	for i, part := range parts {
		p, turned, err := polygonOf(part)
		if err != nil {
			if len(parts) > 1 {
				err = fmt.Errorf("part %d: %w", i+1, err)
			}
			return err
		}
		m.file.Rewound += turned
		a := ellipsoidArea(p)
		if total += a; a > most {
			largest, most = p, a
		}
		if len(p) > 1 {
			note("polygon", fmt.Sprintf("%d holes", len(p)-1), "holes count in the area; the outline is kept without them")
		}
		if len(p[0]) > maxRingTested {
			note("polygon", fmt.Sprintf("%d points", len(p[0])), fmt.Sprintf("more than %d points: not tested for crossing itself", maxRingTested))
		}
	}
	if most <= 0 {
		return errors.New("the outline has no area")
	}
	if len(parts) > 1 {
		note("polygon", fmt.Sprintf("%d parts", len(parts)), "the areas are summed; the largest part is kept as the outline")
	}
	m.fromOutline(row, largest, total/1e4, note)
	return nil
}

// fromOutline fills what the properties did not give.
func (m *mapper) fromOutline(row *BlockRow, p orb.Polygon, ha float64, note func(field, value, why string)) {
	points := make([]string, len(p[0]))
	for i, q := range p[0] {
		points[i] = plainNumber(q[0]) + " " + plainNumber(q[1])
	}
	if _, given := row.Cells["polygon"]; !given {
		row.Cells["polygon"] = strings.Join(points, "; ")
	}
	outline := strconv.FormatFloat(ha, 'f', 4, 64) + "ha"
	if given, ok := row.Cells["area"]; !ok {
		row.Cells["area"] = outline
		note("area", outline, "worked out from the outline; give the planted area if it is less")
	} else if a, err := quantity.ParseArea(given); err == nil && math.Abs(float64(a)-ha) > 0.1*ha {
		note("area", given, "the outline has "+outline+", more than a tenth off; the area given counts")
	}
	_, lat := row.Cells["lat"]
	_, lon := row.Cells["lon"]
	if !lat && !lon {
		c, _ := planar.CentroidArea(p)
		row.Cells["lon"], row.Cells["lat"] = plainNumber(math.Round(c[0]*1e6)/1e6), plainNumber(math.Round(c[1]*1e6)/1e6)
		note("lat, lon", row.Cells["lat"]+", "+row.Cells["lon"], "centre of the outline")
	}
}

func (m *mapper) point(row *BlockRow, g *geoGeometry) error {
	var q []float64
	if err := json.Unmarshal(g.Coordinates, &q); err != nil {
		return errors.New("the coordinates are not longitude and latitude")
	}
	p, err := position(q)
	if err != nil {
		return err
	}
	_, lat := row.Cells["lat"]
	_, lon := row.Cells["lon"]
	if !lat && !lon {
		row.Cells["lon"], row.Cells["lat"] = plainNumber(p[0]), plainNumber(p[1])
	}
	return nil
}

// position reads longitude and latitude; a height is left.
func position(q []float64) (orb.Point, error) {
	switch {
	case len(q) < 2:
		return orb.Point{}, errors.New("a point has longitude and latitude")
	case !(math.Abs(q[0]) <= 180 && math.Abs(q[1]) <= 90):
		return orb.Point{}, fmt.Errorf("%g %g is not longitude and latitude in degrees (a map grid in metres?)", q[0], q[1])
	}
	return orb.Point{q[0], q[1]}, nil
}

// polygonOf checks rings and turns those that run the wrong way round.
func polygonOf(rings [][][]float64) (p orb.Polygon, turned int, err error) {
	if len(rings) == 0 {
		return nil, 0, errors.New("a polygon without rings")
	}
	points := 0
	for i, r := range rings {
		if points += len(r); len(r) < 4 || points > MaxPolygonPoints {
			return nil, 0, fmt.Errorf("%d points in ring %d; want at least 4, and at most %d in all", len(r), i+1, MaxPolygonPoints)
		}
		ring := make(orb.Ring, len(r))
		for k, q := range r {
			if ring[k], err = position(q); err != nil {
				return nil, 0, err
			}
		}
		switch {
		case ring[0] != ring[len(ring)-1]:
			return nil, 0, fmt.Errorf("ring %d is not closed: its last point is not its first", i+1)
		case len(ring) <= maxRingTested && crossesItself(ring):
			return nil, 0, fmt.Errorf("ring %d crosses itself", i+1)
		}
		want := orb.CCW
		if i > 0 {
			want = orb.CW
		}
		if o := ring.Orientation(); o != 0 && o != want {
			ring.Reverse()
			turned++
		}
		p = append(p, ring)
	}
	return p, turned, nil
}

// crossesItself tests every pair of sides that are not neighbours.
func crossesItself(r orb.Ring) bool {
	n := len(r) - 1
	for i := range n {
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 {
				continue // neighbours through the first point
			}
			if cross(r[i], r[i+1], r[j], r[j+1]) {
				return true
			}
		}
	}
	return false
}

// cross says whether two sides cut through one another; sides that only touch do
// not.
func cross(a, b, c, d orb.Point) bool {
	side := func(p, q, r orb.Point) float64 { return (q[0]-p[0])*(r[1]-p[1]) - (q[1]-p[1])*(r[0]-p[0]) }
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}

// WGS 84, defining values (NIMA TR8350.2).
const (
	wgsA = 6378137.0
	wgsF = 1 / 298.257223563
)

// ellipsoidArea is the area of a polygon on WGS 84 in m2, holes taken off. The
// points are moved to their authalic latitudes, on which the sphere of equal area
// has the same areas as the ellipsoid:
//
//	q(phi) = (1-e2) (sin phi/(1 - e2 sin2 phi) + atanh(e sin phi)/e)
//	sin beta = q(phi)/q(90),  R2 = a2 q(90)/2
//
// Sides are lines of the projection, not geodesics: for the size of a vineyard the
// difference is below one part in a million. Source: Snyder 1987, USGS
// Professional Paper 1395, eqs. 3-11 to 3-13 (from memory); checked against the sum
// of small cells M N cos(phi) dphi dlambda in TestEllipsoidArea.
func ellipsoidArea(p orb.Polygon) float64 {
	e2 := wgsF * (2 - wgsF)
	e := math.Sqrt(e2)
	q := func(s float64) float64 { return (1 - e2) * (s/(1-e2*s*s) + math.Atanh(e*s)/e) }
	pole := q(1)
	moved := make(orb.Polygon, len(p))
	for i, r := range p {
		moved[i] = make(orb.Ring, len(r))
		for k, pt := range r {
			s := q(math.Sin(pt[1]*math.Pi/180)) / pole
			moved[i][k] = orb.Point{pt[0], math.Asin(math.Max(-1, math.Min(1, s))) * 180 / math.Pi}
		}
	}
	return geo.Area(moved) / (orb.EarthRadius * orb.EarthRadius) * (wgsA * wgsA * pole / 2)
}
