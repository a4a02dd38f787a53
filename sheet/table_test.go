package sheet

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"budward/decide/nights"
	"budward/feed"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

func readCSV(t *testing.T, which Table, a *nights.Answer, f *farm.Farm, o Options) (header []string, rows [][]string) {
	t.Helper()
	var b bytes.Buffer
	if err := CSV(&b, which, a, f, o); err != nil {
		t.Fatal(err)
	}
	all, err := csv.NewReader(&b).ReadAll() // refuses rows of unequal width
	if err != nil {
		t.Fatal(err)
	}
	return all[0], all[1:]
}

func cellOf(t *testing.T, header []string, row []string, name string) string {
	t.Helper()
	i := slices.Index(header, name)
	if i < 0 {
		t.Fatalf("no column %s among %v", name, header)
	}
	return row[i]
}

// Every number written is the answer's, converted by the definition of the units.
func TestTonightCSV(t *testing.T) {
	a, f := demo(t)
	header, rows := readCSV(t, Tonight, a, f, us)
	metric, si := readCSV(t, Tonight, a, f, Options{Units: quantity.Metric})
	if len(rows) != len(a.Blocks) || len(si) != len(rows) {
		t.Fatalf("%d rows", len(rows))
	}
	num := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%q is no number", s)
		}
		return x
	}
	near := func(what string, got, want, tol float64) {
		if math.Abs(got-want) > tol {
			t.Errorf("%s: %g, want %g", what, got, want)
		}
	}
	const tol = 0.0051 // written to hundredths
	for i := range a.Blocks {
		b, n := &a.Blocks[i], &a.Blocks[i].Nights[0]
		if cellOf(t, header, rows[i], "block_id") != b.BlockID || cellOf(t, header, rows[i], "urgency") != string(b.Urgency) {
			t.Errorf("row %d: %v", i, rows[i])
		}
		near("min", num(cellOf(t, header, rows[i], "min_p50_f")), float64(n.Min.P50C)*1.8+32, tol)
		near("min", num(cellOf(t, metric, si[i], "min_p50_c")), float64(n.Min.P50C), tol)
		near("area", num(cellOf(t, header, rows[i], "area_ac")), b.AreaHa/0.40468564224, tol) // international acre
		if n.MarginK == nil {
			if cellOf(t, header, rows[i], "margin_delta_f") != "" || cellOf(t, header, rows[i], "unknown") == "" {
				t.Errorf("%s: an unknown margin is written: %v", b.BlockID, rows[i])
			}
			continue
		}
		near("margin", num(cellOf(t, header, rows[i], "margin_delta_f")), float64(*n.MarginK)*1.8, tol)
		near("margin", num(cellOf(t, metric, si[i], "margin_k")), float64(*n.MarginK), tol)
		near("loss", num(cellOf(t, header, rows[i], "loss_ton")), n.Risk.LossT/0.90718474, tol) // short ton
		near("chance", num(cellOf(t, header, rows[i], "damage_share")), n.Risk.Probability, 0.0005)
	}
	if got := cellOf(t, header, rows[0], "start_at"); got != "2026-04-09T03:40:00Z" {
		t.Errorf("start %q", got)
	}
	if got := cellOf(t, header, rows[0], "advice"); got != "sprinklers 20:40\u201308:40; by day: mow" {
		t.Errorf("advice %q", got)
	}
}

func TestOtherCSV(t *testing.T) {
	a, f := demo(t)
	header, rows := readCSV(t, Nights, a, f, us)
	if len(rows) != len(a.Blocks)*len(a.Nights) {
		t.Errorf("%d rows of nights", len(rows))
	}
	for _, r := range rows {
		if covered := cellOf(t, header, r, "covered"); (covered == "yes") != (cellOf(t, header, r, "min_p50_f") != "") || covered == "no" && cellOf(t, header, r, "why_not_covered") == "" {
			t.Errorf("%v", r)
		}
	}
	header, rows = readCSV(t, Tasks, a, f, us)
	if len(rows) != 9 || cellOf(t, header, rows[3], "at") != "2026-04-09T03:40:00Z" || cellOf(t, header, rows[3], "blocks") != "A1" || cellOf(t, header, rows[3], "do") != "start" {
		t.Errorf("%v", rows)
	}
	header, rows = readCSV(t, Notes, a, f, us)
	text := ""
	for _, r := range rows {
		text += cellOf(t, header, r, "about") + ": " + cellOf(t, header, r, "note") + "\n"
	}
	for _, want := range []string{"station flat: forecast from ", "critical temperatures: table ", "scenarios, seed 1", "default: "} {
		if !strings.Contains(text, want) {
			t.Errorf("the notes do not name %q", want)
		}
	}
	if err := CSV(&bytes.Buffer{}, "gossip", a, f, us); !errors.As(err, new(*InputError)) {
		t.Errorf("error %v", err)
	}
}

// hostile gives texts that spreadsheets take for formulas to every name.
func hostile(t *testing.T) (*nights.Answer, *farm.Farm, []string) {
	a, f := demo(t)
	names := []string{`=cmd|' /C calc'!A0`, "+1+1", "-2+3", "@SUM(1)", "\t=1", "  =1", "\uff1d1", "=HYPERLINK(\"http://x.example\",\"y\")", "plain", "O'Brien", "a,\"b\"\nc"}
	for i := range a.Blocks {
		a.Blocks[i].Name = names[i%len(names)]
		a.Blocks[i].Reason = names[(i+1)%len(names)]
	}
	return a, f, names
}

func TestCSVHasNoFormulas(t *testing.T) {
	a, f, _ := hostile(t)
	for _, which := range []Table{Tonight, Nights, Tasks, Notes} {
		_, rows := readCSV(t, which, a, f, us)
		for _, r := range rows {
			for _, c := range r {
				head := strings.TrimSpace(c)
				if _, err := strconv.ParseFloat(c, 64); err == nil || head == "" {
					continue
				}
				if strings.ContainsRune("=+-@\uff1d", []rune(head)[0]) {
					t.Errorf("%s: cell %q", which, c)
				}
			}
		}
	}
	for in, want := range map[string]string{"=1": "'=1", "-x": "'-x", "plain": "plain", "": "", "a=b": "a=b", " @x": "' @x", "\u00a0=1": "'\u00a0=1"} {
		if got := unformula(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

// Read again by the same library: texts are texts, numbers numbers, times dates in
// the farm's clock.
func TestXLSXRoundTrip(t *testing.T) {
	a, f, names := hostile(t)
	var b bytes.Buffer
	if err := XLSX(&b, a, f, us); err != nil {
		t.Fatal(err)
	}
	book, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if got := book.GetSheetList(); !slices.Equal(got, []string{"Tonight", "Nights", "Tasks", "Notes"}) {
		t.Fatalf("sheets %v", got)
	}
	rows, err := book.GetRows("Tonight", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	csvHeader, csvRows := readCSV(t, Tonight, a, f, us)
	if len(rows) != len(csvRows)+1 || len(rows[0]) != len(csvHeader) {
		t.Fatalf("%d rows, %d columns", len(rows), len(rows[0]))
	}
	for i := range a.Blocks {
		if got, want := cellOf(t, rows[0], rows[i+1], "name"), plainText(names[i%len(names)]); got != want {
			t.Errorf("name %q, want %q", got, want)
		}
		at, err := excelize.CoordinatesToCellName(slices.Index(rows[0], "name")+1, i+2)
		if err != nil {
			t.Fatal(err)
		}
		if formula, err := book.GetCellFormula("Tonight", at); err != nil || formula != "" {
			t.Errorf("%s is a formula %q, %v", at, formula, err)
		}
		if x, y := cellOf(t, rows[0], rows[i+1], "min_p50_f"), cellOf(t, csvHeader, csvRows[i], "min_p50_f"); x != y {
			t.Errorf("%s in the workbook, %s in the CSV", x, y)
		}
	}
	i := slices.Index(rows[0], "start_local")
	days, err := strconv.ParseFloat(rows[1][i], 64)
	if err != nil {
		t.Fatal(err)
	}
	got, err := excelize.ExcelDateToTime(days, false)
	if err != nil || got.Round(time.Minute) != time.Date(2026, 4, 8, 20, 40, 0, 0, time.UTC) {
		t.Errorf("start %v %v, want the farm's 20:40", got, err)
	}
}

// The map is read by the program's own reader of maps: outlines, ids and areas come
// back.
func TestGeoJSONRoundTrip(t *testing.T) {
	a, f := demo(t)
	clockwise := [][2]float64{{-121.87, 38.54}, {-121.87, 38.541}, {-121.869, 38.541}, {-121.869, 38.54}, {-121.87, 38.54}}
	for i := range f.Blocks {
		switch f.Blocks[i].ID {
		case "A1":
			f.Blocks[i].Polygon = clockwise
		case "A2":
			f.Blocks[i].LatDeg, f.Blocks[i].LonDeg = 38.55, -121.88
			f.Defaults = slices.DeleteFunc(f.Defaults, func(d farm.Default) bool { return d.Where == "block A2" && d.Field == "lat, lon" })
		}
	}
	var out bytes.Buffer
	if err := GeoJSON(&out, a, f, us); err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Type     string
		Budward  map[string]any
		Features []struct {
			Type, ID   string
			Geometry   *struct{ Type string }
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(out.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Type != "FeatureCollection" || doc.Budward["schema"] != GeoSchema || len(doc.Features) != len(a.Blocks) || len(doc.Budward["sources"].([]any)) != 2 {
		t.Errorf("%+v", doc.Budward)
	}
	for i, x := range doc.Features {
		b := &a.Blocks[i]
		kind := ""
		if x.Geometry != nil {
			kind = x.Geometry.Type
		}
		if want := map[string]string{"A1": "Polygon", "A2": "Point"}[b.BlockID]; x.Type != "Feature" || x.ID != b.BlockID || kind != want {
			t.Errorf("%s: %s geometry %q, want %q", b.BlockID, x.Type, kind, want)
		}
		got, ok := x.Properties["min_p50_c"].(float64)
		if !ok || math.Abs(got-float64(b.Nights[0].Min.P50C)) > 0.0051 { // written to hundredths
			t.Errorf("%s: %v", b.BlockID, x.Properties)
		}
		if b.Nights[0].MarginK == nil && x.Properties["margin_k"] != nil {
			t.Errorf("%s: an unknown margin is %v", b.BlockID, x.Properties["margin_k"])
		}
	}
	back, err := feed.DecodeBlocks("map", bytes.NewReader(out.Bytes()), feed.BlockOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(back.Rows) != len(a.Blocks) || back.Rewound != 0 || back.Rows[0].ID != "A1" || !strings.HasPrefix(back.Rows[0].Cells["polygon"], "-121.87 38.54; -121.869 38.54;") {
		t.Errorf("%v %+v", back.String(), back.Rows[0])
	}
	if back.Rows[0].Cells["area"] == "" || back.Rows[1].Cells["cultivar"] == "" {
		t.Errorf("%+v", back.Rows[:2])
	}
}

// Values that are not known are empty, null or left out everywhere, and nothing
// breaks on them.
func TestTablesOfNothing(t *testing.T) {
	a, f := demo(t)
	nan := quantity.Celsius(math.NaN())
	a.Blocks[0].Nights[0].Min.P50C = nan
	a.Blocks[0].Nights[0].CriticalC = &nan
	a.Blocks[0].Nights[0].Risk.LossMoney = math.Inf(1)
	a.Blocks[1].Nights, a.Blocks[1].Choices = nil, nil
	for i := range a.Blocks[2].Nights {
		a.Blocks[2].Nights[i] = nights.BlockNight{Label: "x", Why: "not covered"}
	}
	header, rows := readCSV(t, Tonight, a, f, us)
	for _, c := range []string{"min_p50_f", "critical_t10_f", "loss_money"} {
		if got := cellOf(t, header, rows[0], c); got != "" {
			t.Errorf("%s = %q", c, got)
		}
	}
	for _, i := range []int{1, 2} {
		if got := cellOf(t, header, rows[i], "min_p50_f"); got != "" {
			t.Errorf("row %d: %q", i, got)
		}
	}
	var out bytes.Buffer
	if err := GeoJSON(&out, a, f, us); err != nil || strings.Contains(out.String(), "NaN") {
		t.Errorf("%v", err)
	}
	for _, write := range []func() error{
		func() error { return XLSX(&bytes.Buffer{}, a, f, us) },
		func() error { return Calendar(&bytes.Buffer{}, a, f, us) },
		func() error { return Night(&bytes.Buffer{}, a, f, us) },
	} {
		if err := write(); err != nil {
			t.Error(err)
		}
	}
}
