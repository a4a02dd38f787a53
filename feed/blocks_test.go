package feed

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/xuri/excelize/v2"
)

func decodeBlocks(t *testing.T, text string, opts BlockOptions) BlockFile {
	t.Helper()
	b, err := DecodeBlocks("f", strings.NewReader(text), opts)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// says looks for an item whose reason holds a text.
func says(b *BlockFile, taken bool, text string) bool {
	return slices.ContainsFunc(b.Items, func(i BlockItem) bool { return i.Taken == taken && strings.Contains(i.Why, text) })
}

const square = `[[[-121.30,38.60],[-121.29,38.60],[-121.29,38.61],[-121.30,38.61],[-121.30,38.60]]]`

func collection(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

func featureOf(properties, geometry string) string {
	return `{"type":"Feature","properties":` + properties + `,"geometry":` + geometry + `}`
}

func polygon(coordinates string) string {
	return `{"type":"Polygon","coordinates":` + coordinates + `}`
}

// bandArea is the area in m2 between two parallels and two meridians on WGS 84, as
// the sum of small cells M N cos(phi) dphi dlambda by Simpson's rule: radii of
// curvature as any textbook of geodesy has them.
func bandArea(lat1, lat2, lon1, lon2 float64) float64 {
	const n = 200
	e2 := wgsF * (2 - wgsF)
	at := func(phi float64) float64 {
		w := 1 - e2*math.Sin(phi)*math.Sin(phi)
		return wgsA * (1 - e2) / math.Pow(w, 1.5) * wgsA / math.Sqrt(w) * math.Cos(phi)
	}
	rad := math.Pi / 180
	h := (lat2 - lat1) * rad / n
	sum := at(lat1*rad) + at(lat2*rad)
	for i := 1; i < n; i++ {
		sum += at(lat1*rad+float64(i)*h) * float64(2+2*(i%2))
	}
	return sum * h / 3 * (lon2 - lon1) * rad
}

func TestEllipsoidArea(t *testing.T) {
	for _, c := range [][4]float64{{38.60, 38.61, -121.30, -121.29}, {-0.01, 0.01, 10, 10.02}, {60, 60.1, 5, 5.1}, {-45, -44, 170, 171}, {0, 90, 0, 90}} {
		box := orb.Polygon{{{c[2], c[0]}, {c[3], c[0]}, {c[3], c[1]}, {c[2], c[1]}, {c[2], c[0]}}}
		got, want := ellipsoidArea(box), bandArea(c[0], c[1], c[2], c[3])
		// The small boxes lose digits in the difference of two sines: 1e-16 of the
		// sphere's area against theirs.
		if rel := math.Abs(got/want - 1); rel > 1e-8 {
			t.Errorf("%v: %.3f m2, want %.3f", c, got, want)
		}
	}
	// the eighth of the earth: WGS 84 has 510,065,622 km2 (its commonly quoted area, from memory)
	if a := bandArea(0, 90, 0, 90) * 8 / 1e12; math.Abs(a-510.065622) > 1e-5 {
		t.Errorf("the twin gives the earth %.6f million km2", a)
	}
}

func TestGeoJSON(t *testing.T) {
	b := decodeBlocks(t, collection(
		featureOf(`{"id":"N1","name":"North","VARIETY":"Chardonnay","acres":200.5,"row_spacing_ft":8,"crop":"5ton/ac","middle_floor":"mown 2in","undervine_floor":null,"colour":"red","tags":["a"],"cordon_height":["a"]}`, polygon(square)),
		`{"type":"Feature","id":7,"properties":{"cultivar":"Pinot Noir"},"geometry":`+polygon(`[[[-121.30,38.60],[-121.30,38.61],[-121.29,38.61],[-121.29,38.60],[-121.30,38.60]]]`)+`}`,
	), BlockOptions{Names: map[string]string{"colour": "notes"}})
	if len(b.Rows) != 2 || b.Rows[0].ID != "N1" || b.Rows[1].ID != "7" || b.Rewound != 1 {
		t.Fatalf("%+v", b)
	}
	c := b.Rows[0].Cells
	for k, want := range map[string]string{"area": "200.5ac", "cultivar": "Chardonnay", "row_spacing": "8ft", "crop": "5ton/ac", "lat": "38.605", "lon": "-121.295",
		"polygon": "-121.3 38.6; -121.29 38.6; -121.29 38.61; -121.3 38.61; -121.3 38.6", "middle_floor": "mown 2in"} {
		if c[k] != want {
			t.Errorf("%s = %q, want %q", k, c[k], want)
		}
	}
	if _, there := c["undervine_floor"]; there {
		t.Error("null became a value")
	}
	wantHa := fmt.Sprintf("%.4fha", bandArea(38.60, 38.61, -121.30, -121.29)/1e4)
	if got := b.Rows[1].Cells["area"]; got != wantHa {
		t.Errorf("area %s, want %s", got, wantHa)
	}
	if !strings.HasPrefix(b.Rows[1].Cells["polygon"], "-121.3 38.6; -121.29 38.6;") {
		t.Errorf("not turned: %s", b.Rows[1].Cells["polygon"])
	}
	for _, c := range []struct {
		taken bool
		text  string
	}{{true, "more than a tenth off"}, {true, "worked out from the outline"}, {true, "centre of the outline"}, {true, "taken with"}, {false, "a list or an object"}, {false, "not a column of blocks.csv"}} {
		if !says(&b, c.taken, c.text) {
			t.Errorf("nothing says %q (taken %v): %+v", c.text, c.taken, b.Items)
		}
	}
	if b.Refused != 2 { // tags, cordon_height
		t.Errorf("%d refused", b.Refused)
	}
}

func TestGeoJSONParts(t *testing.T) {
	small := `[[[-121.40,38.60],[-121.395,38.60],[-121.395,38.605],[-121.40,38.605],[-121.40,38.60]]]`
	b := decodeBlocks(t, collection(
		featureOf(`{"id":"two"}`, `{"type":"MultiPolygon","coordinates":[`+small+`,`+square+`]}`),
		featureOf(`{"id":"hole"}`, polygon(square[:len(square)-1]+`,[[-121.297,38.602],[-121.297,38.604],[-121.293,38.604],[-121.293,38.602],[-121.297,38.602]]]`)),
		featureOf(`{"id":"point"}`, `{"type":"Point","coordinates":[-121.3,38.6,25]}`),
		featureOf(`{"id":"none"}`, `null`),
	), BlockOptions{})
	ha := func(i int) (x float64) {
		fmt.Sscanf(b.Rows[i].Cells["area"], "%gha", &x)
		return x
	}
	whole := bandArea(38.60, 38.61, -121.30, -121.29) / 1e4
	const tol = 1e-4 // printed to a square metre
	if want := whole + bandArea(38.60, 38.605, -121.40, -121.395)/1e4; math.Abs(ha(0)-want) > tol || !strings.HasPrefix(b.Rows[0].Cells["polygon"], "-121.3 38.6;") {
		t.Errorf("two parts: %g ha, want %g; %v", ha(0), want, b.Rows[0].Cells)
	}
	if want := whole - bandArea(38.602, 38.604, -121.297, -121.293)/1e4; math.Abs(ha(1)-want) > tol {
		t.Errorf("with a hole: %g ha, want %g", ha(1), want)
	}
	if c := b.Rows[2].Cells; c["lon"] != "-121.3" || c["lat"] != "38.6" || c["area"] != "" {
		t.Errorf("a point: %v", c)
	}
	if c := b.Rows[3].Cells; len(c) != 1 {
		t.Errorf("no geometry: %v", c)
	}
	if b.Rewound != 0 || !says(&b, true, "holes count") || !says(&b, true, "largest part") {
		t.Errorf("%+v", b)
	}
}

func TestGeoJSONRefuses(t *testing.T) {
	with := func(geometry string) string { return collection(featureOf(`{"id":"x"}`, geometry)) }
	for name, c := range map[string]struct{ text, want string }{
		"empty":                     {"", "begins with"},
		"truncated":                 {collection(featureOf(`{"id":"x"}`, polygon(square)))[:200], "cut off"},
		"two values":                {`{"type":"FeatureCollection","features":[]} {}`, "more text"},
		"bare geometry":             {polygon(square), "FeatureCollection or Feature"},
		"none":                      {collection(), "at least one"},
		"no id":                     {collection(featureOf(`{}`, polygon(square))), "a block has an id"},
		"other map":                 {`{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::3857"}},"features":[]}`, "WGS 84"},
		"metres":                    {with(polygon(`[[[500000,4000000],[500100,4000000],[500100,4000100],[500000,4000000]]]`)), "map grid in metres"},
		"open":                      {with(polygon(`[[[0,0],[1,0],[1,1],[0,1]]]`)), "not closed"},
		"few":                       {with(polygon(`[[[0,0],[1,0],[0,0]]]`)), "3 points"},
		"bow tie":                   {with(polygon(`[[[0,0],[1,1],[1,0],[0,1],[0,0]]]`)), "crosses itself"},
		"flat":                      {with(polygon(`[[[0,0],[1,0],[2,0],[0,0]]]`)), "no area"},
		"no rings":                  {with(polygon(`[]`)), "without rings"},
		"line":                      {with(`{"type":"LineString","coordinates":[[0,0],[1,1]]}`), "want Polygon"},
		"numbers as text":           {with(polygon(`[[["0","0"]]]`)), "not rings"},
		"not UTF-8":                 {"{\"type\":\"Feature\xff\"}", "UTF-8"},
		"unknown column":            {collection(), "column of blocks.csv"},
		"feature that is no object": {collection(`7`), "not a Feature"},
	} {
		opts := BlockOptions{}
		if name == "unknown column" {
			opts.Names = map[string]string{"a": "b"}
		}
		_, err := DecodeBlocks("f", strings.NewReader(c.text), opts)
		wantError(t, name, err, c.want)
	}
	b := decodeBlocks(t, collection(featureOf(`{"id":"a"}`, `null`), featureOf(`{"id":"A"}`, `null`), featureOf(`{"id":"b"}`, polygon(`[[[0,0]]]`))), BlockOptions{})
	if len(b.Rows) != 1 || b.Refused != 2 || !says(&b, false, "again; the first counts") {
		t.Errorf("%+v", b)
	}
}

// workbook writes a sheet of rows into an XLSX file.
func workbook(t testing.TB, sheet string, rows [][]any, change func(f *excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	check := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	check(f.SetSheetName("Sheet1", sheet))
	for i, r := range rows {
		check(f.SetSheetRow(sheet, fmt.Sprintf("A%d", i+1), &r))
	}
	if change != nil {
		change(f)
	}
	var b bytes.Buffer
	check(f.Write(&b))
	return b.Bytes()
}

func TestXLSX(t *testing.T) {
	raw := workbook(t, "Blocks", [][]any{
		{}, // blank rows are left
		{"ID", "Area_ac", "Cultivar", "undervine_share", "Row spacing", "cold_spot_f", "middle_moisture_at", "price_per_t", "crop", "shade"},
		{"B1", 12.1, "Chardonnay", 0.3, "8ft", 1.5, 46000.0, 900, "=", "deep"},
		{7, 3, "=cmd", 0.25, 2.4},
		{"", 1},
		{"b1", 1},
	}, func(f *excelize.File) {
		style, err := f.NewStyle(&excelize.Style{NumFmt: 9}) // 0%
		if err != nil {
			t.Fatal(err)
		}
		for _, err := range []error{f.SetCellStyle("Blocks", "D3", "D3", style), f.SetCellFormula("Blocks", "I3", "1+1"),
			f.SetCellFormula("Blocks", "B4", "2+1"), f.SetCellValue("Blocks", "J4", "#REF!")} {
			if err != nil {
				t.Fatal(err)
			}
		}
	})
	b := decodeBlocks(t, string(raw), BlockOptions{})
	if len(b.Rows) != 2 || b.Rows[1].ID != "7" {
		t.Fatalf("%+v", b)
	}
	// 46000 days from 1899-12-30 is 2025-12-09, as any spreadsheet shows
	for k, want := range map[string]string{"area": "12.1ac", "undervine_share": "30%", "row_spacing": "8ft", "cold_spot": "1.5F", "middle_moisture_at": "2025-12-09", "price": "900/t"} {
		if got := b.Rows[0].Cells[k]; got != want {
			t.Errorf("%s = %q, want %q", k, got, want)
		}
	}
	if got := b.Rows[1].Cells["row_spacing"]; got != "2.4" { // no unit: for the farm's own check to refuse
		t.Errorf("row_spacing %q", got)
	}
	for _, c := range []struct {
		taken bool
		text  string
	}{{true, "last calculated"}, {false, "not a column"}, {false, "a block has an id"}, {false, "again; the first counts"}, {false, "an error of the spreadsheet"}} {
		if !says(&b, c.taken, c.text) {
			t.Errorf("nothing says %q: %+v", c.text, b.Items)
		}
	}
}

func TestXLSXRefuses(t *testing.T) {
	good := workbook(t, "blocks", [][]any{{"id"}, {"B1"}}, nil)
	wide := make([]any, 300)
	for i := range wide {
		wide[i] = i
	}
	for name, c := range map[string]struct {
		raw  []byte
		opts BlockOptions
		want string
	}{
		"half":      {good[:len(good)/2], BlockOptions{}, "cannot be opened"},
		"not a zip": {[]byte("PK\x03\x04 nothing"), BlockOptions{}, "cannot be opened"},
		"old excel": {[]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), BlockOptions{}, "GeoJSON or an XLSX"},
		"no sheet":  {good, BlockOptions{Sheet: "vines"}, `named "vines"`},
		"two sheets": {workbook(t, "a", nil, func(f *excelize.File) {
			if _, err := f.NewSheet("b"); err != nil {
				t.Fatal(err)
			}
		}), BlockOptions{}, `named "blocks"`},
		"empty":    {workbook(t, "blocks", nil, nil), BlockOptions{}, "is empty"},
		"no id":    {workbook(t, "blocks", [][]any{{"name"}, {"x"}}, nil), BlockOptions{}, "a column id"},
		"no rows":  {workbook(t, "blocks", [][]any{{"id"}}, nil), BlockOptions{}, "at least one block"},
		"too wide": {workbook(t, "blocks", [][]any{wide}, nil), BlockOptions{}, "at most 200"},
	} {
		_, err := DecodeBlocks("f", bytes.NewReader(c.raw), c.opts)
		wantError(t, name, err, c.want)
	}
	_, err := DecodeBlocks("f", bytes.NewReader(make([]byte, MaxBlockBytes+1)), BlockOptions{})
	wantError(t, "huge", err, "larger than")
}

// A small file that unpacks to a huge one is refused.
func TestXLSXBomb(t *testing.T) {
	if testing.Short() {
		t.Skip("packs a hundred megabytes")
	}
	raw := bombXLSX(t, 2*maxUnzipped)
	if len(raw) > 1<<20 {
		t.Fatalf("the bomb has %d bytes", len(raw))
	}
	_, err := DecodeBlocks("f", bytes.NewReader(raw), BlockOptions{})
	wantError(t, "bomb", err, "cannot be opened")
}
