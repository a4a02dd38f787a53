package nights_test

import (
	"fmt"
	"runtime"
	"testing"

	"budward/decide/nights"
	"budward/vineyard/farm"
)

// twenty blocks that differ in floor, soil, system and area.
func twenty() []farm.Block {
	var out []farm.Block
	textures := []string{"sandy loam", "loam", "silt loam", "clay loam"}
	for i := range 20 {
		b := testBlock(fmt.Sprintf("B%02d", i))
		b.AreaHa = 1 + float64(i%7)
		b.Soil.Texture = textures[i%4]
		switch i % 5 {
		case 0:
			dripOn(&b)
		case 1:
			b.System = farm.System{Kind: farm.Furrow, SourceID: "W", RateMmH: 5, AdvanceH: 3}
		case 2:
			b.System = farm.System{Kind: farm.OverVine, SourceID: "W", RateMmH: 3.5}
		case 3:
			b.Protection = []string{"F"}
			b.Strips[1].Surface = farm.Disked
			b.Strips[1].DepthM, b.Strips[1].HeightM = 0.1, 0
		}
		out = append(out, b)
	}
	return out
}

// Tonight for 20 blocks, 100 scenarios and 7 nights: about two seconds on two
// cores is the budget.
func BenchmarkTonight20Blocks(b *testing.B) {
	in := input(b, clearWeek{low: -1, high: 17, dew: -4, wind: 1, cloud: 0.05}, twenty()...)
	in.Farm.Equipment = []farm.Equipment{{ID: "F", Name: "Fan", Kind: farm.Fan, AreaHa: 4, Count: 1, CostPerH: 40}}
	b.ReportAllocs()
	for range b.N {
		if _, err := nights.Tonight(in); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(runtime.GOMAXPROCS(0)), "cores")
}
