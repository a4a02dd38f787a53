package farm

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Want: science.md F2 (Saxton & Rawls 2006 FC, WP, Ks) and F1 (quartz).
func TestSoilClasses(t *testing.T) {
	for _, c := range []struct {
		texture            string
		fc, wp, ks, quartz float64
	}{
		{"sand", .10, .05, 108, .92}, {"loamy sand", .12, .05, 97, .82}, {"Sandy-Loam", .18, .08, 50, .60}, {"loam", .28, .14, 15.5, .40},
		{"silt loam", .31, .11, 16, .25}, {"silt", .30, .06, 22, .10}, {"sandy clay loam", .27, .17, 11, .60}, {"clay loam", .36, .22, 4.3, .35},
		{"silty clay loam", .38, .22, 5.7, .10}, {"silty clay", .41, .27, 3.7, .10}, {"sandy clay", .36, .25, 1.4, .52}, {" CLAY ", .42, .30, 1.1, .25},
	} {
		g, notes, err := Soil{Texture: c.texture}.Resolve()
		if err != nil || g.FieldCapacity != c.fc || g.WiltingPoint != c.wp || g.KsMmH != c.ks || g.Quartz != c.quartz {
			t.Errorf("%s: %+v, %v; want %+v", c.texture, g, err, c)
		}
		if len(notes) != 1 || !strings.Contains(notes[0].Why, "Saxton") {
			t.Errorf("%s: class values must be listed: %+v", c.texture, notes)
		}
	}
}

func TestSoilMerge(t *testing.T) {
	g, _, err := Soil{Texture: "loam", FieldCapacity: 0.25}.Resolve()
	if err != nil || g.FieldCapacity != 0.25 || g.WiltingPoint != 0.14 {
		t.Errorf("own field capacity: %+v, %v", g, err)
	}
	full := Soil{FieldCapacity: 0.25, WiltingPoint: 0.1, Porosity: 0.45, Quartz: 0.5, KsMmH: 12}
	if g, notes, err := full.Resolve(); err != nil || g.Porosity != 0.45 || len(notes) != 1 {
		t.Errorf("all own: %+v, %v, %v", g, notes, err)
	}
	for _, bad := range []Soil{
		{}, {FieldCapacity: 0.3}, {Texture: "mud"},
		{Texture: "loam", WiltingPoint: 0.3}, {Texture: "loam", FieldCapacity: 0.44}, {Texture: "loam", Porosity: 0.27},
		{Texture: "loam", Quartz: 1.5}, {Texture: "loam", KsMmH: -1}, {Texture: "loam", FieldCapacity: math.NaN()},
	} {
		if _, _, err := bad.Resolve(); !errors.As(err, new(*FieldError)) {
			t.Errorf("%+v: error %v, want *FieldError", bad, err)
		}
	}
}

// Want: the feel classes 0-25, 25-50, 50-75, 75-100 % of available water, taken
// at their middles, on loam (0.14 to 0.28).
func TestMoisture(t *testing.T) {
	loam := Soil{Texture: "loam"}
	for _, c := range []struct {
		text   string
		want   float64
		source MoistureSource
	}{
		{"dry", 0.14 + 0.14*0.125, MoistureHandFeel}, {"slightly  moist", 0.14 + 0.14*0.375, MoistureHandFeel},
		{"Moist", 0.14 + 0.14*0.625, MoistureHandFeel}, {"wet", 0.14 + 0.14*0.875, MoistureHandFeel},
		{"field capacity", 0.28, MoistureHandFeel}, {"60%aw", 0.14 + 0.14*0.6, MoistureHandFeel}, {"60 % AW", 0.14 + 0.14*0.6, MoistureHandFeel},
		{"18%", 0.18, MoistureReading}, {"0.18m3/m3", 0.18, MoistureReading}, {"18% +-2%", 0.18, MoistureReading}, {"43%", 0.43, MoistureReading},
	} {
		m, err := ParseMoisture(c.text, loam)
		if err != nil || math.Abs(m.Value-c.want) > 1e-12 || m.Source != c.source {
			t.Errorf("%q: %+v, %v; want %v", c.text, m, err, c.want)
		}
		if !(m.Spread > 0) {
			t.Errorf("%q: no spread", c.text)
		}
	}
	for _, bad := range []string{"", "0.18", "18", "44%", "-3%", "damp", "18%aw x", "140%aw", "18mm", "NaN%", "18% +-x"} {
		if m, err := ParseMoisture(bad, loam); !errors.As(err, new(*FieldError)) {
			t.Errorf("%q: %+v, %v; want *FieldError", bad, m, err)
		}
	}
	if _, err := ParseMoisture("18%", Soil{}); !errors.As(err, new(*FieldError)) {
		t.Error("a soil that is not known cannot hold a moisture")
	}
	// knowing the soil's own field capacity narrows what a hand can tell; knowing
	// nothing is wider than either
	wide, _ := ParseMoisture("moist", loam)
	narrow, _ := ParseMoisture("moist", Soil{Texture: "loam", FieldCapacity: 0.28})
	none, _ := AssumedMoisture(loam)
	if !(narrow.Spread < wide.Spread && wide.Spread < none.Spread) {
		t.Errorf("spreads %v, %v, %v must widen", narrow.Spread, wide.Spread, none.Spread)
	}
}

func TestSurface(t *testing.T) {
	for _, c := range []struct {
		text    string
		want    SurfaceState
		assumed bool
	}{
		{"bare firm", SurfaceState{Surface: BareFirm}, false}, {"Bare", SurfaceState{Surface: BareFirm}, false},
		{"disked 4in", SurfaceState{Surface: Disked, DepthM: 0.1016}, false}, {"disked", SurfaceState{Surface: Disked, DepthM: 0.1}, true},
		{"mown", SurfaceState{Surface: Cover, HeightM: 0.05}, true}, {"mown 2in", SurfaceState{Surface: Cover, HeightM: 0.0508}, false},
		{"cover 12in", SurfaceState{Surface: Cover, HeightM: 0.3048}, false}, {"shredded 1in", SurfaceState{Surface: Residue, HeightM: 0.0254}, false},
		{"mulch 3 cm", SurfaceState{Surface: Residue, HeightM: 0.03}, false},
	} {
		got, err := ParseSurface(c.text)
		if err != nil || got.Surface != c.want.Surface || math.Abs(got.HeightM-c.want.HeightM) > 1e-12 ||
			math.Abs(got.DepthM-c.want.DepthM) > 1e-12 || (got.Assumed != "") != c.assumed {
			t.Errorf("%q: %+v, %v; want %+v, assumed %v", c.text, got, err, c.want, c.assumed)
		}
	}
	for _, bad := range []string{"", "cover", "shredded", "cover 12", "cover 12ft", "disked 0in", "lawn", "cover -3in", "disked 4gpm", "bare 3in"} {
		if got, err := ParseSurface(bad); !errors.As(err, new(*FieldError)) {
			t.Errorf("%q: %+v, %v; want *FieldError", bad, got, err)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0.01, 0.5).Draw(t, "measure")
		s := rapid.SampledFrom([]SurfaceState{{Surface: BareFirm}, {Surface: Disked, DepthM: v}, {Surface: Cover, HeightM: v}, {Surface: Residue, HeightM: v}}).Draw(t, "state")
		if got, err := ParseSurface(s.String()); err != nil || got != s {
			t.Fatalf("%v -> %q -> %v, %v", s, s.String(), got, err)
		}
	})
}

func TestRegister(t *testing.T) {
	for _, c := range []struct {
		name      string
		species   Species
		use       Use
		secondary float64 // science.md C3 where it gives one, else 0
	}{
		{"Chardonnay", Vinifera, Wine, 0.32}, {"concord", Labrusca, Juice, 0.35}, {"NIAGARA", Labrusca, Juice, 0.35},
		{"gewurztraminer", Vinifera, Wine, 0}, {"Shiraz", Vinifera, Wine, 0}, {"Thompson  seedless", Vinifera, Raisin, 0},
		{"L'Acadie", Hybrid, Wine, 0}, {"Maréchal Foch", Hybrid, Wine, 0}, {"Marquette", Hybrid, Wine, 0},
	} {
		cv, ok := LookupCultivar(c.name)
		if !ok || cv.Species != c.species || cv.Use != c.use || (c.secondary > 0 && cv.Secondary.Central != c.secondary) {
			t.Errorf("%s: %+v, %v", c.name, cv, ok)
		}
	}
	if cv, ok := LookupCultivar("no such vine"); ok || cv.Species != "" || cv.Secondary.Central == 0 {
		t.Errorf("unknown: %+v, %v", cv, ok)
	}
	names := map[string]bool{}
	for _, cv := range Cultivars() {
		for _, n := range append([]string{cv.Name}, cv.Aliases...) {
			if names[foldName(n)] {
				t.Errorf("%s stands twice", n)
			}
			names[foldName(n)] = true
		}
		for _, r := range []ShareRange{cv.Secondary, cv.Tertiary} {
			if !(0 <= r.Low && r.Low <= r.Central && r.Central <= r.High && r.High < 1) {
				t.Errorf("%s: range %+v", cv.Name, r)
			}
		}
		if cv.SecondarySource == "" || cv.Burst == "" || cv.Use == "" || cv.Species == "" {
			t.Errorf("%s is not complete: %+v", cv.Name, cv)
		}
	}
	if len(Cultivars()) < 36 {
		t.Errorf("%d cultivars; a few dozen are wanted", len(Cultivars()))
	}
}

// Problems that a CSV file cannot hold, since the importer would not build them.
func TestCheckDirect(t *testing.T) {
	good, _ := ImportCSV(files(Template()), known)
	if ps := Check(good, known); len(ps) != 0 {
		t.Fatalf("the template: %v", ps)
	}
	for name, c := range map[string]struct {
		edit  func(*Farm)
		where string
		field string
	}{
		"no blocks":      {func(f *Farm) { f.Blocks = nil }, "farm", "blocks"},
		"strip sum":      {func(f *Farm) { f.Blocks[0].Strips[0].Share = 0.5 }, "block B1", "strips"},
		"no strips":      {func(f *Farm) { f.Blocks[0].Strips = nil }, "block B1", "strips"},
		"no id":          {func(f *Farm) { f.Blocks[1].ID = "" }, "block 2 (no id)", "id"},
		"NaN area":       {func(f *Farm) { f.Blocks[0].AreaHa = math.NaN() }, "block B1", "area"},
		"NaN rate":       {func(f *Farm) { f.Blocks[0].System.RateMmH = math.NaN() }, "block B1", "rate"},
		"wets strip":     {func(f *Farm) { f.Blocks[0].System.WetsStrip = "berm" }, "block B1", "wets_strip"},
		"open ring":      {func(f *Farm) { f.Blocks[0].Polygon = [][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}} }, "block B1", "polygon"},
		"short ring":     {func(f *Farm) { f.Blocks[0].Polygon = [][2]float64{{0, 0}, {0, 0}} }, "block B1", "polygon"},
		"offset":         {func(f *Farm) { f.Blocks[0].OffsetK = 2 }, "block B1", "offset"},
		"rate, no kind":  {func(f *Farm) { f.Blocks[0].System.Kind = NoSystem }, "block B1", "system"},
		"table":          {func(f *Farm) { f.Blocks[0].CriticalTable = "mine" }, "block B1", "critical_table"},
		"species":        {func(f *Farm) { f.Blocks[0].Species = Labrusca }, "block B1", "species"},
		"floor":          {func(f *Farm) { f.Blocks[0].Strips[1].HeightM = 0 }, "block B1", "middle"},
		"moisture":       {func(f *Farm) { f.Blocks[0].Strips[1].Moisture.Value = math.NaN() }, "block B1", "middle_moisture"},
		"heat":           {func(f *Farm) { f.Equipment[0].Kind, f.Equipment[0].PowerKW = Heaters, 0 }, "equipment fan1", "power"},
		"fan area":       {func(f *Farm) { f.Equipment[0].AreaHa = 40 }, "equipment fan1", "area"},
		"unreachable":    {func(f *Farm) { f.People[0].Phone, f.People[0].Mail = "", "" }, "person ines", "phone"},
		"no stations":    {func(f *Farm) { f.Stations = nil }, "farm", "stations"},
		"worst loss":     {func(f *Farm) { f.WorstLossShare = 40 }, "farm", "worst_loss"},
		"frost use":      {func(f *Farm) { f.Sources[0].FrostUseStated = false }, "source well", "frost_use"},
		"secondary":      {func(f *Farm) { f.Blocks[0].SecondaryShare = 1.5 }, "block B1", "secondary_share"},
		"small block":    {func(f *Farm) { f.Blocks[0].AreaHa = 0.4 }, "block B1", "area"},
		"no money":       {func(f *Farm) { f.Blocks[0].PricePerT = 0 }, "block B1", "crop, price"},
		"name in lines":  {func(f *Farm) { f.Blocks[0].Name = "a\nb" }, "block B1", "name"},
		"place":          {func(f *Farm) { f.Stations[0].LonDeg = 200 }, "station gate", "lon"},
		"source small":   {func(f *Farm) { f.Sources[0].FlowLPS = 6.0 }, "block B1", "rate"}, // 8.7 gpm/ac on 12 ac is 104.4 gpm, 6.59 L/s
		"emitters":       {func(f *Farm) { f.Blocks[0].System.EmitterLPH *= 0.7 }, "block B1", "rate"},
		"two same strip": {func(f *Farm) { f.Blocks[0].Strips[1].Name = UnderVine }, "block B1", "strip"},
	} {
		f := clone(good)
		c.edit(&f)
		found := false
		for _, p := range Check(f, known) {
			found = found || (p.Where == c.where && p.Field == c.field)
			if p.Want == "" || fmt.Sprint(p) == "" {
				t.Errorf("%s: says nothing: %+v", name, p)
			}
		}
		if !found {
			t.Errorf("%s: no problem at %s %s: %v", name, c.where, c.field, Check(f, known))
		}
	}
	// a polygon may be missing, and with nothing known the outside checks are left out
	if ps := Check(good, Known{}); len(ps) != 0 {
		t.Errorf("without outside checks: %v", ps)
	}
}

func clone(f Farm) Farm {
	f.Blocks = append([]Block(nil), f.Blocks...)
	for i := range f.Blocks {
		f.Blocks[i].Strips = append([]Strip(nil), f.Blocks[i].Strips...)
	}
	f.Stations = append([]Station(nil), f.Stations...)
	f.Sources = append([]Source(nil), f.Sources...)
	f.Equipment = append([]Equipment(nil), f.Equipment...)
	f.People = append([]Person(nil), f.People...)
	return f
}

func FuzzParseMoisture(f *testing.F) {
	for _, s := range []string{"18%", "60%aw", "moist", "0.18m3/m3", "18% +-2%", "+-", "%aw"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		m, err := ParseMoisture(in, Soil{Texture: "loam"})
		if err == nil && !(m.Value >= 0 && m.Value <= 0.43 && m.Spread >= 0) {
			t.Fatalf("%q gave %+v", in, m)
		}
	})
}

func FuzzParseSurface(f *testing.F) {
	for _, s := range []string{"bare firm", "disked 4in", "mown", "cover 12in", "shredded 1in", "cover 1e9in"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		st, err := ParseSurface(in)
		if err != nil {
			return
		}
		again, err := ParseSurface(st.String())
		if st.Assumed = ""; err != nil || again != st {
			t.Fatalf("%q -> %q -> %+v, %v", in, st.String(), again, err)
		}
	})
}
