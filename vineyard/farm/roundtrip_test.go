package farm

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"budward/physics/quantity"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// What is exported is read back the same, to the last bit; a farm that came
// from an import keeps its list of defaults too.
func TestRoundTrip(t *testing.T) {
	f, _ := ImportCSV(files(Template()), known)
	got, ps := ImportCSV(files(ExportCSV(f)), known)
	if len(ps) > 0 {
		t.Errorf("template: %v", ps)
	}
	if d := cmp.Diff(f, got); d != "" {
		t.Errorf("template comes back changed: %s", d)
	}
	rapid.Check(t, func(t *rapid.T) {
		f := drawFarm(t)
		out := ExportCSV(f)
		got, ps := ImportCSV(files(out), known)
		if HasErrors(ps) {
			t.Fatalf("%v\n%v", ps, out)
		}
		// class values and the cultivar's own shares are listed anew; nothing else
		for _, d := range got.Defaults {
			if d.Field != "soil" && d.Field != "secondary_share" && d.Field != "tertiary_share" {
				t.Fatalf("a value was lost and filled in: %+v", d)
			}
		}
		got.Defaults = nil
		if d := cmp.Diff(f, got); d != "" {
			t.Fatalf("comes back changed: %s\n%v", d, out)
		}
	})
}

// drawFarm draws a farm that Check passes.
func drawFarm(t *rapid.T) Farm {
	num := func(name string, lo, hi float64) float64 {
		v := rapid.Float64Range(lo, hi).Draw(t, name)
		if math.Abs(v) < nothing {
			v = 0 // written as 0, see plain
		}
		return v
	}
	word := func(name string) string { return rapid.StringMatching(`[A-Za-z][a-z ,;"']{0,8}[a-z]`).Draw(t, name) }
	share := func(name string) float64 { return num(name, 0.01, 1) }
	at := func(name string) time.Time {
		if rapid.Bool().Draw(t, name+" stated") {
			return time.Unix(rapid.Int64Range(1.5e9, 2e9).Draw(t, name), 0).UTC()
		}
		return time.Time{}
	}
	surface := func(name string) Strip {
		switch rapid.IntRange(0, 3).Draw(t, name) {
		case 0:
			return Strip{Surface: BareFirm}
		case 1:
			return Strip{Surface: Disked, DepthM: num("depth", 0.01, 0.5)}
		case 2:
			return Strip{Surface: Cover, HeightM: num("height", 0.01, 1)}
		}
		return Strip{Surface: Residue, HeightM: num("thickness", 0.01, 0.2)}
	}
	strip := func(name string, part float64) Strip {
		s := surface(name)
		s.Name, s.Share = name, part
		s.Moisture = Moisture{num("moisture", 0, 0.35), num("spread", 0, 0.1),
			rapid.SampledFrom([]MoistureSource{MoistureReading, MoistureHandFeel, MoistureAssumed}).Draw(t, "source"), at("moisture at")}
		return s
	}
	f := Farm{ID: "q", Name: word("name"), Zone: "UTC", LatDeg: num("lat", -90, 90), LonDeg: num("lon", -180, 180), ElevationM: num("elev", -400, 4000),
		Currency: "EUR", WorstLossShare: share("worst"), LabourPerHour: num("labour", 0, 100), HandsTonight: rapid.IntRange(0, 9).Draw(t, "hands")}
	f.Stations = []Station{{ID: "s", Name: word("name"), LatDeg: num("lat", -90, 90), LonDeg: num("lon", -180, 180), SensorHeightM: num("h", 0.1, 10),
		WindHeightM: num("w", 0.5, 20), Shelter: Aspirated, Surroundings: strip("surroundings", 1), Soil: Soil{Texture: "silt loam", FieldCapacity: 0.3, KsMmH: num("ks", 1, 50)}}}
	f.Sources = []Source{{ID: "w", FlowLPS: num("flow", 0.1, 900), WaterTempC: quantity.Celsius(num("water", 0, 40)), CostPerM3: num("cost", 0, 3),
		FrostUseStated: true, FrostUse: rapid.Bool().Draw(t, "use")}}
	f.Equipment = []Equipment{{ID: "h", Kind: Heaters, AreaHa: num("area", 0.1, 9), Count: rapid.IntRange(1, 400).Draw(t, "count"), PowerKW: num("kw", 1, 9e3), CostPerH: num("cost", 0, 99)}}
	f.People = []Person{{ID: "p", Name: word("name"), Phone: "555-01", Units: "metric", Night: rapid.Bool().Draw(t, "night")}}
	for i := range rapid.IntRange(1, 3).Draw(t, "blocks") {
		part := num("part", 0.05, 0.95)
		b := Block{ID: fmt.Sprintf("B%d", i), Name: word("name"), AreaHa: num("area", 0.1, 80), Cultivar: "Merlot", Species: Vinifera, Use: Wine,
			Pruning: Cane, NodesKept: num("nodes", 1, 90), CordonHeightM: num("cordon", 0.3, 3), RowSpacingM: num("rs", 1, 4), VineSpacingM: num("vs", 0.5, 4),
			FetchM: num("fetch", 1, 900), LatDeg: num("lat", -90, 90), LonDeg: num("lon", -180, 180), ElevationM: num("elev", -400, 4000),
			ColdSpotK: quantity.Kelvin(num("cold", 0, 3)), StationID: "s", CropTHa: num("crop", 0.1, 40), PricePerT: num("price", 1, 9e3),
			SecondaryShare: -1, TertiaryShare: share("r3"), Soil: Soil{Texture: "clay loam"}, Strips: []Strip{strip("a, \"b\"", part), strip("c", 1-part)}}
		if rapid.Bool().Draw(t, "offset") {
			b.OffsetK, b.OffsetKnown = quantity.Kelvin(num("off", -5, 5)), true
		}
		if rapid.Bool().Draw(t, "system") {
			b.System = System{Kind: Furrow, SourceID: "w", RateMmH: num("rate", 0.1, 50), WetShare: share("wet"), LineFillH: num("fill", 0, 9),
				AdvanceH: num("adv", 0.1, 20), Uniformity: share("du"), EnergyCostPerH: num("energy", 0, 50), WetsStrip: "c", BuriedM: num("buried", 0.01, 1),
				EmitterLPH: num("lph", 0.5, 9), EmitterAlongM: num("along", 0.2, 3)}
			b.Protection = []string{"h"}
		}
		if rapid.Bool().Draw(t, "polygon") {
			x, y := num("x", -179, 179), num("y", -89, 89)
			b.Polygon = [][2]float64{{x, y}, {x + 0.01, y}, {x, y + 0.01}, {x, y}}
		}
		f.Blocks = append(f.Blocks, b)
	}
	return f
}

// Any bytes: no panic; with no error listed the farm passes Check and survives
// a round trip.
func FuzzImportCSV(f *testing.F) {
	for _, v := range Template() {
		f.Add([]byte(v), uint8(0))
		f.Add([]byte(v), uint8(5))
		f.Add([]byte("\ufeff"+strings.ReplaceAll(v, ",", ";")), uint8(1))
	}
	f.Add([]byte("id,area,cultivar,soil,middle_floor\nB1,2ha,Merlot,loam,\"bare"), uint8(5))
	f.Add([]byte("block,name,share,floor\nB1,x,1.0,bare\n"), uint8(6))
	f.Add([]byte("id\n"), uint8(4)) // a header alone
	f.Add([]byte{0xff, 0xfe, 0, 0}, uint8(0))
	f.Fuzz(func(t *testing.T, data []byte, which uint8) {
		in := files(Template())
		in[Files()[int(which)%len(Files())]] = data
		farm, ps := ImportCSV(in, known)
		for _, p := range ps {
			if p.Field == "" || p.Want == "" || p.Severity == "" {
				t.Fatalf("a problem that says nothing: %+v", p)
			}
		}
		if HasErrors(ps) {
			return
		}
		if again := Check(farm, known); HasErrors(again) {
			t.Fatalf("imported without error, yet Check says %v", again)
		}
		back, ps := ImportCSV(files(ExportCSV(farm)), known)
		if HasErrors(ps) {
			t.Fatalf("its own export is refused: %v", ps)
		}
		farm.Defaults, back.Defaults = nil, nil
		// plain writes what is below 1e-15 as 0
		if d := cmp.Diff(farm, back, cmpopts.EquateApprox(0, nothing)); d != "" {
			t.Fatalf("comes back changed: %s", d)
		}
	})
}
