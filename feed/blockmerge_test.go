package feed

import (
	"archive/zip"
	"bytes"
	"io"
	"strings"
	"testing"

	"budward/vineyard/farm"
)

// repack writes a workbook again with other bytes for its sheet.
func repack(t testing.TB, good []byte, sheet func(w io.Writer, old io.Reader) error) []byte {
	t.Helper()
	check := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	r, err := zip.NewReader(bytes.NewReader(good), int64(len(good)))
	check(err)
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range r.File {
		from, err := f.Open()
		check(err)
		to, err := w.Create(f.Name)
		check(err)
		if strings.HasSuffix(f.Name, "sheet1.xml") {
			check(sheet(to, from))
			continue
		}
		_, err = io.Copy(to, from)
		check(err)
	}
	check(w.Close())
	return out.Bytes()
}

// bombXLSX is a workbook with one sheet of n bytes of blanks.
func bombXLSX(t *testing.T, n int) []byte {
	return repack(t, workbook(t, "blocks", [][]any{{"id"}, {"B1"}}, nil), func(w io.Writer, _ io.Reader) error {
		blank := bytes.Repeat([]byte(" "), 1<<20)
		for range n >> 20 {
			if _, err := w.Write(blank); err != nil {
				return err
			}
		}
		return nil
	})
}

func templateFarm(t *testing.T) farm.Farm {
	t.Helper()
	f, problems := farm.ImportCSV(filesOf(farm.Template()), farm.Known{})
	if farm.HasErrors(problems) {
		t.Fatal(problems)
	}
	return f
}

func filesOf(texts map[string]string) map[string][]byte {
	out := map[string][]byte{}
	for name, text := range texts {
		out[name] = []byte(text)
	}
	return out
}

func importMerged(t *testing.T, b BlockFile, f farm.Farm) (farm.Farm, []BlockItem) {
	t.Helper()
	before := filesOf(farm.ExportCSV(f))
	files, items, err := b.Merge(before)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(before[farm.BlocksFile], []byte(farm.ExportCSV(f)[farm.BlocksFile])) {
		t.Error("the input was changed")
	}
	got, problems := farm.ImportCSV(files, farm.Known{})
	if farm.HasErrors(problems) {
		t.Fatalf("%v\n%s", problems, files[farm.BlocksFile])
	}
	return got, items
}

func blockOf(t *testing.T, f farm.Farm, id string) farm.Block {
	t.Helper()
	for _, b := range f.Blocks {
		if b.ID == id {
			return b
		}
	}
	t.Fatalf("no block %s", id)
	return farm.Block{}
}

// A map joined to a farm gives its blocks outline, area and place, and leaves all
// else as it was.
func TestMergeMap(t *testing.T) {
	f := templateFarm(t)
	b := decodeBlocks(t, collection(featureOf(`{"id":"b1"}`, polygon(square))), BlockOptions{})
	got, items := importMerged(t, b, f)
	old, now := blockOf(t, f, "B1"), blockOf(t, got, "B1")
	if len(now.Polygon) != 5 || now.LatDeg != 38.605 || now.AreaHa == old.AreaHa {
		t.Errorf("%+v", now)
	}
	now.Polygon, now.LatDeg, now.LonDeg, now.AreaHa = old.Polygon, old.LatDeg, old.LonDeg, old.AreaHa
	was := f
	for i := range got.Blocks {
		if got.Blocks[i].ID == "B1" {
			got.Blocks[i] = now
		}
	}
	a, z := farm.ExportCSV(was), farm.ExportCSV(got)
	for name := range a {
		if name != farm.DefaultsFile && a[name] != z[name] {
			t.Errorf("%s changed:\n%s\n%s", name, a[name], z[name])
		}
	}
	for _, d := range got.Defaults {
		if d.Where == "block B1" && d.Field == "lat, lon" {
			t.Error("the place is still listed as a default")
		}
	}
	if len(items) != 1 || !strings.Contains(items[0].Why, "changed: area, lat, lon, polygon") {
		t.Errorf("%+v", items)
	}
	// the same once more changes nothing
	if _, items := importMerged(t, b, got2(t, f, b)); !strings.Contains(items[0].Why, "nothing new") {
		t.Errorf("a second time: %+v", items)
	}
}

func got2(t *testing.T, f farm.Farm, b BlockFile) farm.Farm {
	t.Helper()
	f, _ = importMerged(t, b, f)
	return f
}

func TestMergeFloorsAndNewBlocks(t *testing.T) {
	f := templateFarm(t)
	raw := workbook(t, "blocks", [][]any{
		{"id", "area", "cultivar", "undervine_floor", "middle_floor", "soil", "station"},
		{"B1", "", "", "", "disked 4in", "", ""},
		{"B2", "9ac", "", "bare firm", "cover 4in", "", ""},
		{"B9", "2ha", "Chardonnay", "bare firm", "mown 2in", "loam", "gate"},
	}, nil)
	got, items := importMerged(t, decodeBlocks(t, string(raw), BlockOptions{}), f)
	if b := blockOf(t, got, "B1"); b.Strips[1].Surface != blockOf(t, f, "B1").Strips[1].Surface {
		t.Errorf("half a floor replaced the strips: %+v", b.Strips)
	}
	if b := blockOf(t, got, "B2"); len(b.Strips) != 2 || b.Strips[1].Surface != farm.Cover || b.AreaHa < 3.64 || b.AreaHa > 3.65 { // 9 acres are 3.642 ha
		t.Errorf("%+v", b)
	}
	if b := blockOf(t, got, "B9"); b.AreaHa != 2 || b.StationID != "gate" {
		t.Errorf("%+v", b)
	}
	text := ""
	for _, i := range items {
		text += i.ID + " " + i.Why + "\n"
	}
	for _, want := range []string{"B1 its strips stay", "B1 nothing new", "B2 its strips were replaced", "B9 added"} {
		if !strings.Contains(text, want) {
			t.Errorf("nothing says %q:\n%s", want, text)
		}
	}
}

func TestMergeRefuses(t *testing.T) {
	b := decodeBlocks(t, collection(featureOf(`{"id":"a"}`, `null`)), BlockOptions{})
	for name, files := range map[string]map[string][]byte{
		"torn":  {"blocks.csv": []byte("id,name\n\"a")},
		"no id": {"blocks.csv": []byte("name\nx\n")},
	} {
		_, _, err := b.Merge(files)
		wantError(t, name, err, "blocks.csv")
	}
	files, _, err := b.Merge(nil)
	if err != nil || string(files["blocks.csv"]) != "id\na\n" {
		t.Errorf("%q, %v", files, err)
	}
}

// Every column that is offered is one the farm reads, and every unit at the end of
// a name is one it understands: no value of a map is lost on the way.
func TestBlockColumnsAreTheFarms(t *testing.T) {
	known := map[string]string{"area": "area_ha", "cordon_height": "cordon_height_cm", "row_spacing": "row_spacing_m", "vine_spacing": "vine_spacing_ft", "fetch": "fetch_m",
		"cold_spot": "cold_spot_k", "offset": "offset_f", "crop": "crop_t_ha", "price": "price_per_ton", "rate": "rate_gpm_ac", "emitter_flow": "emitter_flow_lph",
		"line_fill": "line_fill_min", "advance": "advance_h", "energy_cost": "energy_cost_per_h", "wet_share": "wet_share_pct", "ks": "ks_mm_h", "buried": "buried_in", "elevation": "elevation_m"}
	header, cells := "id", "X1"
	for column, name := range known {
		got, unit, ok := findColumn(name)
		if !ok || got != column || unit == "" {
			t.Errorf("%s: %q %q %v", name, got, unit, ok)
		}
		header, cells = header+","+got, cells+","+cell("1", unit)
	}
	files := map[string][]byte{"farm.csv": []byte(farm.Template()["farm.csv"]), "blocks.csv": []byte(header + "\n" + cells + "\n")}
	_, problems := farm.ImportCSV(files, farm.Known{})
	for _, p := range problems {
		if p.File == "blocks.csv" && known[p.Field] != "" && strings.Contains(p.Want, "a number and a unit") {
			t.Errorf("not understood: %v", p)
		}
	}
	all := map[string][]byte{"farm.csv": []byte(farm.Template()["farm.csv"]), "blocks.csv": []byte(strings.Join(blockColumns, ",") + "\n" + strings.Repeat(",", len(blockColumns)-1) + "\n")}
	_, problems = farm.ImportCSV(all, farm.Known{})
	for _, p := range problems {
		if p.Field == "column" {
			t.Errorf("not a column: %v", p)
		}
	}
	if len(blockColumns) < 40 {
		t.Errorf("only %d columns", len(blockColumns))
	}
}

func FuzzGeoJSON(f *testing.F) {
	f.Add([]byte(collection(featureOf(`{"id":"a","acres":1e2,"x":{}}`, polygon(square)))))
	f.Add([]byte(collection(featureOf(`{"id":"b"}`, `{"type":"MultiPolygon","coordinates":[`+square+`]}`))))
	f.Fuzz(func(t *testing.T, text []byte) { fuzzBlocks(t, text, GeoJSON) })
}

// FuzzXLSX goes for what is inside the sheet; the packing around it is the
// library's. Its coverage differs from run to run, which keeps the fuzzer busy
// making inputs smaller: -fuzzminimizetime 10x leaves it more time to find any.
func FuzzXLSX(f *testing.F) {
	good := workbook(f, "blocks", [][]any{{"id", "area_ac"}, {"B1", 12.5}, {"B2", "3ha"}}, nil)
	repack(f, good, func(_ io.Writer, old io.Reader) error {
		text, err := io.ReadAll(old)
		f.Add(text)
		return err
	})
	f.Add([]byte(`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>id</t></is></c></row><row r="9"><c r="A9"><f>1+1</f><v>2</v></c></row></sheetData></worksheet>`))
	f.Fuzz(func(t *testing.T, sheet []byte) {
		fuzzBlocks(t, repack(t, good, func(w io.Writer, _ io.Reader) error { _, err := w.Write(sheet); return err }), XLSX)
	})
}

func fuzzBlocks(t *testing.T, text []byte, format Format) {
	b, err := DecodeBlocks("f", bytes.NewReader(text), BlockOptions{Format: format})
	if err != nil {
		if _, ok := err.(*Error); !ok || err.Error() == "" || len(b.Rows) != 0 {
			t.Fatalf("error %T %v", err, err)
		}
		return
	}
	if len(b.Items) > MaxBlockItems || b.ItemTotal < len(b.Items) || b.Refused > b.ItemTotal {
		t.Fatalf("%d items of %d", len(b.Items), b.ItemTotal)
	}
	for _, i := range b.Items {
		if i.Why == "" || i.Where == "" {
			t.Fatalf("item %+v", i)
		}
	}
	files, _, err := b.Merge(map[string][]byte{farm.BlocksFile: []byte("id,name\nB1,old\n")})
	if err != nil {
		t.Fatal(err)
	}
	farm.ImportCSV(files, farm.Known{}) // never panics
}
