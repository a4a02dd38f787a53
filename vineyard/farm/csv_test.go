package farm

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// known stands in for what the application passes: two zones and one table.
var known = Known{
	Zone: func(name string) error {
		if name != "America/Los_Angeles" && name != "UTC" {
			return fmt.Errorf("unknown zone")
		}
		return nil
	},
	Table: func(name string, _ Species) error {
		if name != "concord-fao" {
			return fmt.Errorf("one of concord-fao")
		}
		return nil
	},
}

func files(m map[string]string) map[string][]byte {
	out := map[string][]byte{}
	for k, v := range m {
		out[k] = []byte(v)
	}
	return out
}

// edited is the template with pieces of text replaced; every old piece must be
// there, so that a test cannot pass by editing nothing.
func edited(t testing.TB, file string, pairs ...string) map[string][]byte {
	t.Helper()
	m := Template()
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(m[file], pairs[i]) {
			t.Fatalf("%s does not hold %q", file, pairs[i])
		}
		m[file] = strings.Replace(m[file], pairs[i], pairs[i+1], 1)
	}
	return files(m)
}

func TestTemplateImports(t *testing.T) {
	f, ps := ImportCSV(files(Template()), known)
	for _, p := range ps {
		t.Errorf("template: %s", p)
	}
	if len(f.Blocks) != 2 || len(f.Stations) != 1 || len(f.Sources) != 2 || len(f.Equipment) != 1 || len(f.People) != 1 {
		t.Fatalf("parts are missing: %+v", f)
	}
	b := f.Blocks[0]
	// want: the template's own cells, converted with the definitions of the units
	for _, v := range []struct {
		what      string
		got, want float64
	}{
		{"area", b.AreaHa, 12 * 0.40468564224}, {"cordon", b.CordonHeightM, 0.9144}, {"cold spot", float64(b.ColdSpotK), 1.5 / 1.8},
		{"crop", b.CropTHa, 4 * 0.90718474 / 0.40468564224}, {"price", b.PricePerT, 900 / 0.90718474},
		{"rate", b.System.RateMmH, 8.7 * 3.785411784 * 60 / 4046.8564224}, {"emitter", b.System.EmitterLPH, 0.58 * 3.785411784},
		{"line fill", b.System.LineFillH, 0.75}, {"source flow", f.Sources[0].FlowLPS, 400 * 3.785411784 / 60},
		{"water", float64(f.Sources[0].WaterTempC), 30.0 / 1.8}, {"lon", f.LonDeg, -121.31}, {"worst", f.WorstLossShare, 0.4},
		{"strip 1", b.Strips[0].Share, 0.3}, {"strip 2", b.Strips[1].Share, 0.7}, {"mown", b.Strips[1].HeightM, 0.0508},
		// moist on loam (0.14..0.28): 62.5 % of the available water
		{"moisture", b.Strips[0].Moisture.Value, 0.14 + 0.625*0.14},
	} {
		if math.Abs(v.got-v.want) > 1e-9*math.Max(1, math.Abs(v.want)) { // rounding of double precision
			t.Errorf("%s = %v, want %v", v.what, v.got, v.want)
		}
	}
	if b.Species != Vinifera || b.Use != Wine || f.Blocks[1].Use != Raisin || b.SecondaryShare >= 0 {
		t.Errorf("the register was not asked: %+v", b)
	}
	for _, d := range f.Defaults {
		if d.Where == "" || d.Field == "" || d.Why == "" {
			t.Errorf("default without place, field or source: %+v", d)
		}
	}
}

// Every optional cell of the template left empty must be listed as a default.
func TestDefaultsAreListed(t *testing.T) {
	m := map[string]string{
		FarmFile:   "id,zone,lat,lon,elevation,currency\nq,UTC,38,-121,30m,USD\n",
		BlocksFile: "id,area,cultivar,soil,undervine_floor,middle_floor,system,rate,source\nB1,2ha,Merlot,loam,bare,disked,drip,0.5mm/h,w\n",
		SourcesFile: "id,flow\n" +
			"w,20L/s\n",
		StationsFile:  "id\ns1\n",
		EquipmentFile: "id,kind,area\nf,fan,4ha\n",
		PeopleFile:    "id\np\n",
	}
	f, ps := ImportCSV(files(m), known)
	if HasErrors(ps) {
		t.Fatalf("%v", ps)
	}
	got := map[string]bool{}
	for _, d := range f.Defaults {
		got[d.Where+"/"+d.Field] = true
	}
	for _, want := range []string{
		"farm/labour", "block B1/lat, lon", "block B1/elevation", "block B1/species", "block B1/use", "block B1/pruning",
		"block B1/cordon_height", "block B1/row_spacing", "block B1/vine_spacing", "block B1/secondary_share", "block B1/tertiary_share",
		"block B1/cold_spot", "block B1/soil", "block B1/undervine_share", "block B1/middle_floor", "block B1/undervine_moisture",
		"block B1/middle_moisture", "block B1/wet_share", "block B1/line_fill", "block B1/uniformity", "block B1/energy_cost",
		"block B1/emitter_spacing", "block B1/emitter_row_spacing", "block B1/emitter_flow",
		"source w/water_temp", "source w/cost", "station s1/sensor_height", "station s1/wind_height", "station s1/shelter",
		"station s1/surroundings", "station s1/surroundings_moisture", "station s1/soil", "station s1/lat, lon", "station s1/elevation",
		"equipment f/count", "equipment f/cost", "person p/units", "person p/night",
	} {
		if !got[want] {
			t.Errorf("default not listed: %s", want)
		}
		delete(got, want)
	}
	for extra := range got {
		t.Errorf("listed but not expected: %s", extra)
	}
	// the emitter that the rate and spacing ask for: 0.5 mm/h on 2.4 x 1.8 m
	if v := f.Blocks[0].System.EmitterLPH; math.Abs(v-0.5*2.4*1.8) > 1e-12 {
		t.Errorf("emitter flow %v, want 2.16", v)
	}
}

// find returns the problem at a place.
func find(ps []Problem, file string, line int, field string) *Problem {
	for i := range ps {
		if ps[i].File == file && ps[i].Line == line && ps[i].Field == field {
			return &ps[i]
		}
	}
	return nil
}

func TestImportProblems(t *testing.T) {
	for _, c := range []struct {
		name  string
		in    map[string][]byte
		file  string
		line  int
		field string
		want  string // part of Value, Want or Means
	}{
		{"bare number", edited(t, BlocksFile, "12ac", "12"), BlocksFile, 2, "area", "unit"},
		{"wrong unit", edited(t, BlocksFile, "12ac", "12gpm"), BlocksFile, 2, "area", "ha"},
		{"zero area", edited(t, BlocksFile, "12ac", "0ac"), BlocksFile, 2, "area", "above 0"},
		{"NaN", edited(t, BlocksFile, "12ac", "NaN ha"), BlocksFile, 2, "area", "number"},
		{"sentinel", edited(t, BlocksFile, "36in", "-9999in"), BlocksFile, 2, "cordon_height", "0.2 to 3.5m"},
		{"decimal comma", edited(t, BlocksFile, "12ac", "12,5ac"), BlocksFile, 2, "row", "decimal comma"},
		{"quoted decimal comma", edited(t, BlocksFile, "12ac", `"12,5ac"`), BlocksFile, 2, "area", "comma"},
		{"cordon", edited(t, BlocksFile, "36in", "36ft"), BlocksFile, 2, "cordon_height", "0.2 to 3.5m"},
		{"zero rate", edited(t, BlocksFile, "8.7gpm/ac", "0gpm/ac"), BlocksFile, 2, "rate", "above 0"},
		{"station", edited(t, BlocksFile, "1.5F,gate", "1.5F,gato"), BlocksFile, 2, "station", "gate"},
		{"no station", edited(t, BlocksFile, "1.5F,gate", "1.5F,"), BlocksFile, 2, "station", "thermometer"},
		{"source", edited(t, BlocksFile, "drip,well", "drip,wall"), BlocksFile, 2, "source", "canal, well"},
		{"system", edited(t, BlocksFile, "drip,well", "drips,well"), BlocksFile, 2, "system", "drip"},
		{"floor", edited(t, BlocksFile, "mown 2in", "mown 2"), BlocksFile, 2, "middle_floor", "unit"},
		{"floor word", edited(t, BlocksFile, "mown 2in", "lawn"), BlocksFile, 2, "middle_floor", "bare firm"},
		{"moisture", edited(t, BlocksFile, "slightly moist", "0.18"), BlocksFile, 2, "middle_moisture", "%aw"},
		{"wetter than pores", edited(t, BlocksFile, "18%", "80%"), BlocksFile, 3, "undervine_moisture", "porosity"},
		{"soil", edited(t, BlocksFile, "gate,loam", "gate,lome"), BlocksFile, 2, "soil", "sandy loam"},
		{"share", edited(t, BlocksFile, "loam,30%", "loam,130%"), BlocksFile, 2, "undervine_share", "0 to 1"},
		{"pruning", edited(t, BlocksFile, "spur", "spurr"), BlocksFile, 2, "pruning", "spur"},
		{"price", edited(t, BlocksFile, "900/ton", "900"), BlocksFile, 2, "price", "280/t"},
		{"money sign", edited(t, BlocksFile, "900/ton", "$900/ton"), BlocksFile, 2, "price", "without its sign"},
		{"cultivar", edited(t, BlocksFile, "Chardonnay", "Chardonay"), BlocksFile, 2, "cultivar", "register"},
		{"two ids", edited(t, BlocksFile, "B2", "b1"), BlocksFile, 3, "id", "once"},
		{"bad id", edited(t, BlocksFile, "B2", "B 2"), BlocksFile, 3, "id", "letters"},
		{"protection", edited(t, BlocksFile, "9/h,fan1", "9/h,fan2"), BlocksFile, 2, "protection", "fan1"},
		{"emitters", edited(t, BlocksFile, "0.58gph", "5.8gph"), BlocksFile, 2, "rate", "emitters"},
		{"set too large", edited(t, SourcesFile, "400gpm", "40gpm"), BlocksFile, 2, "rate", "3 sets"},
		{"larger than any source", edited(t, SourcesFile, "400gpm", "40gpm", "900gpm", "50gpm"), BlocksFile, 2, "rate", "no other source"},
		{"unknown column", edited(t, BlocksFile, "cold_spot", "cold_spots"), BlocksFile, 1, "column", `"cold_spot"`},
		{"missing column", edited(t, BlocksFile, "area", "acreage"), BlocksFile, 1, "column", "the column area"},
		{"column twice", edited(t, BlocksFile, "cordon_height", "area"), BlocksFile, 1, "column", "once"},
		{"zone", edited(t, FarmFile, "Los_Angeles", "Los_Angles"), FarmFile, 2, "zone", "IANA"},
		{"latitude", edited(t, FarmFile, "38.62N", "138.62N"), FarmFile, 2, "lat", "90"},
		{"currency", edited(t, FarmFile, "USD", "$"), FarmFile, 2, "currency", "ISO 4217"},
		{"shelter", edited(t, StationsFile, "screen", "box"), StationsFile, 2, "shelter", "aspirated"},
		{"temperature unit", edited(t, SourcesFile, "62F", "62"), SourcesFile, 2, "water_temp", "unit"},
		{"frost use", edited(t, SourcesFile, "yes", "maybe"), SourcesFile, 2, "frost_use", "yes"},
		{"frost use unknown", edited(t, SourcesFile, "0.06/m3,yes", "0.06/m3,"), SourcesFile, 2, "frost_use", "ask first"},
		{"kind", edited(t, EquipmentFile, "fan,10ac", "fann,10ac"), EquipmentFile, 2, "kind", "heaters"},
		{"count", edited(t, EquipmentFile, "10ac,1", "10ac,one"), EquipmentFile, 2, "count", "whole number"},
		{"mail", edited(t, PeopleFile, "ines@quillby.example", "ines"), PeopleFile, 2, "mail", "address"},
		{"empty", files(map[string]string{BlocksFile: "", FarmFile: Template()[FarmFile]}), BlocksFile, 0, "file", "header"},
		{"header only", files(map[string]string{BlocksFile: "id,area,cultivar\n", FarmFile: Template()[FarmFile]}), BlocksFile, 0, "rows", "row"},
		{"no blocks file", files(map[string]string{FarmFile: Template()[FarmFile]}), BlocksFile, 0, "file", BlocksFile},
		{"truncated", edited(t, BlocksFile, "furrow,canal,60gpm/ac,50%,,,,2h,70%,4/h,\n", "furrow,ca"), BlocksFile, 3, "row", "cut short"},
		{"open quote", edited(t, BlocksFile, "Upper bench", `"Upper bench`), BlocksFile, 3, "row", "quoted"},
		{"latin-1", edited(t, BlocksFile, "Upper bench", "Upper b\xe9nch"), BlocksFile, 3, "encoding", "UTF-8"},
		{"utf-16", edited(t, BlocksFile, "id,name", "\xff\xfei\x00d\x00"), BlocksFile, 1, "encoding", "UTF-8"},
		{"separators mixed", edited(t, BlocksFile, "id,name", "id;name"), BlocksFile, 1, "separator", "only one"},
		{"other file", map[string][]byte{"vines.csv": nil, FarmFile: []byte(Template()[FarmFile])}, "vines.csv", 0, "file", "not read"},
	} {
		_, ps := ImportCSV(c.in, known)
		p := find(ps, c.file, c.line, c.field)
		if p == nil {
			t.Errorf("%s: no problem at %s line %d %s; got %v", c.name, c.file, c.line, c.field, ps)
			continue
		}
		if !strings.Contains(p.Value+" "+p.Want+" "+p.Means, c.want) {
			t.Errorf("%s: %s does not say %q", c.name, p, c.want)
		}
		n := 0
		for _, q := range ps {
			if q.File == c.file && q.Line == c.line && q.Field == c.field {
				n++
			}
		}
		if n != 1 && c.field != "column" {
			t.Errorf("%s: told %d times: %v", c.name, n, ps)
		}
	}
}

// All of several problems at once, errors before warnings.
func TestAllProblemsAtOnce(t *testing.T) {
	in := edited(t, BlocksFile, "12ac", "12", "36in", "36ft", "8ac", "-8ac", "1.5F,gate", "1.5F,")
	in[FarmFile] = []byte(strings.Replace(Template()[FarmFile], "USD", "dollars", 1))
	_, ps := ImportCSV(in, known)
	for _, w := range []struct {
		file  string
		line  int
		field string
	}{{BlocksFile, 2, "area"}, {BlocksFile, 2, "cordon_height"}, {BlocksFile, 3, "area"}, {BlocksFile, 2, "station"}, {FarmFile, 2, "currency"}} {
		if find(ps, w.file, w.line, w.field) == nil {
			t.Errorf("missing: %+v in %v", w, ps)
		}
	}
	if len(ps) != 5 {
		t.Errorf("%d problems, want 5: %v", len(ps), ps)
	}
	warned := false
	for _, p := range ps {
		warned = warned || p.Severity == SeverityWarning
		if warned && p.Severity == SeverityError {
			t.Error("an error after a warning")
		}
	}
}

// The same farm however a spreadsheet writes it.
func TestSpellings(t *testing.T) {
	want, _ := ImportCSV(files(Template()), known)
	for name, change := range map[string]func(string) string{
		"BOM":        func(s string) string { return "\ufeff" + s },
		"CRLF":       func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") },
		"CR":         func(s string) string { return strings.ReplaceAll(s, "\n", "\r") },
		"semicolons": func(s string) string { return strings.ReplaceAll(s, ",", ";") },
		"tabs":       func(s string) string { return strings.ReplaceAll(s, ",", "\t") },
		"capitals": func(s string) string {
			h, rest, _ := strings.Cut(s, "\n")
			return strings.ToUpper(strings.ReplaceAll(h, "_", " ")) + "\n" + rest
		},
		"blank rows": func(s string) string {
			return s + "\n" + strings.Repeat(",", strings.Count(strings.SplitN(s, "\n", 2)[0], ",")) + "\n"
		},
		"no last newline": func(s string) string { return strings.TrimSuffix(s, "\n") },
		"notes column": func(s string) string {
			return strings.ReplaceAll(strings.TrimSuffix(strings.Replace(s, "\n", ",notes\n", 1), "\n"), "\n", ",x\n") + "\n"
		},
	} {
		m := Template()
		for f := range m {
			m[f] = change(m[f])
		}
		if name == "notes column" { // the header got its column, the rows their cell
			for f, v := range m {
				lines := strings.Split(strings.TrimSuffix(v, "\n"), "\n")
				lines[0] = strings.TrimSuffix(lines[0], ",x")
				lines[len(lines)-1] += ",x"
				m[f] = strings.Join(lines, "\n") + "\n"
			}
		}
		got, ps := ImportCSV(files(m), known)
		if len(ps) > 0 {
			t.Errorf("%s: %v", name, ps)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s: the farm differs: %s", name, d)
		}
	}
	m := Template()
	m["FARM.CSV"] = m[FarmFile]
	delete(m, FarmFile)
	if got, ps := ImportCSV(files(m), known); len(ps) > 0 || got.ID != want.ID {
		t.Errorf("capitals in a file name: %v", ps)
	}
}

func TestStripsFile(t *testing.T) {
	m := Template()
	m[BlocksFile] = "id,area,cultivar,soil,station\nB1,2ha,Merlot,loam,gate\n"
	m[StripsFile] = "block,name,share,floor,moisture,moisture_spread,moisture_at\n" +
		"B1,berm,20%,bare firm,12%,3%,2026-03-02\nB1,wheel track,0.3,bare firm,20% +-1%,,\nB1,sward,50%,cover 12in,60%aw,,2026-03-02T15:00:00-08:00\n"
	f, ps := ImportCSV(files(m), known)
	if HasErrors(ps) {
		t.Fatal(ps)
	}
	s := f.Blocks[0].Strips
	if len(s) != 3 || s[0].Moisture.Spread != 0.03 || !s[0].Moisture.At.Equal(time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)) ||
		s[1].Moisture.Spread != 0.01 || !s[2].Moisture.At.Equal(time.Date(2026, 3, 2, 23, 0, 0, 0, time.UTC)) || math.Abs(s[2].HeightM-0.3048) > 1e-12 { // rounding
		t.Errorf("strips: %+v", s)
	}
	for name, c := range map[string]struct {
		old, new, field string
		line            int
		file            string
	}{
		"sum":     {"B1,berm,20%", "B1,berm,40%", "strips", 2, BlocksFile},
		"unknown": {"B1,berm", "B9,berm", "block", 2, StripsFile},
		"twice":   {"B1,sward", "B1,berm", "strip", 2, BlocksFile},
		"share":   {"B1,berm,20%", "B1,berm,x", "share", 2, StripsFile},
		"at":      {"2026-03-02\n", "yesterday\n", "moisture_at", 2, StripsFile},
	} {
		m2 := map[string]string{}
		for k, v := range m {
			m2[k] = v
		}
		if !strings.Contains(m2[StripsFile], c.old) {
			t.Fatalf("%s: nothing to edit", name)
		}
		m2[StripsFile] = strings.Replace(m2[StripsFile], c.old, c.new, 1)
		if _, ps := ImportCSV(files(m2), known); find(ps, c.file, c.line, c.field) == nil {
			t.Errorf("%s: %v", name, ps)
		}
	}
	m[BlocksFile] = "id,area,cultivar,soil,station,middle_floor\nB1,2ha,Merlot,loam,gate,bare\n"
	if _, ps := ImportCSV(files(m), known); find(ps, BlocksFile, 2, "middle_floor") == nil {
		t.Errorf("floor told twice: %v", ps)
	}
}

func TestBounds(t *testing.T) {
	m := Template()
	var b strings.Builder
	b.WriteString("id,area,cultivar,soil,middle_floor,station\n")
	for i := range MaxBlocks + 3 {
		fmt.Fprintf(&b, "B%d,2ha,Merlot,loam,bare,gate\n", i)
	}
	m[BlocksFile] = b.String()
	f, ps := ImportCSV(files(m), known)
	if find(ps, BlocksFile, MaxBlocks+2, "rows") == nil || len(f.Blocks) != MaxBlocks {
		t.Errorf("%d blocks, %d problems", len(f.Blocks), len(ps))
	}
	m[BlocksFile] = strings.Repeat("x", MaxFileBytes+1)
	if _, ps := ImportCSV(files(m), known); find(ps, BlocksFile, 0, "size") == nil {
		t.Error("a file too large must be refused")
	}
	m[BlocksFile] = "id,area,cultivar\n" + strings.Repeat("B 1,0,\n", MaxBlocks)
	if _, ps := ImportCSV(files(m), known); len(ps) > maxProblems+1 || !HasErrors(ps) {
		t.Errorf("%d problems listed", len(ps))
	}
}
