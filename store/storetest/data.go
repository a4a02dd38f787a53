package storetest

import (
	"fmt"
	"math"
	"time"

	"budward/decide/weather"
	"budward/store"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// day0 is the moment that all test times count from. It is no wall clock.
var day0 = time.Date(2026, 3, 20, 14, 0, 0, 0, time.UTC)

func hour(n float64) time.Time { return day0.Add(time.Duration(n * float64(time.Hour))) }

// Farm is an invented farm that uses every noun and every field kind: two
// stations, three blocks, awkward numbers, characters outside ASCII.
func Farm() farm.Farm {
	strips := func(moisture float64) []farm.Strip {
		return []farm.Strip{
			{Name: "under-vine", Share: 1.0 / 3, Surface: farm.BareFirm,
				Moisture: farm.Moisture{Value: moisture, Spread: 0.02, Source: farm.MoistureHandFeel, At: hour(-30)}},
			{Name: "middle", Share: 2.0 / 3, Surface: farm.Cover, HeightM: 0.12,
				Moisture: farm.Moisture{Value: 0.18, Spread: 0.05, Source: farm.MoistureAssumed, At: hour(-30)}},
		}
	}
	return farm.Farm{
		ID: "lowfield", Name: "Lowfield & Søn", Zone: "America/Los_Angeles", LatDeg: 38.5, LonDeg: -121.25, ElevationM: 31.4,
		Currency: "USD", WorstLossShare: 0.25, LabourPerHour: 22.5, HandsTonight: 3,
		Stations: []farm.Station{
			{ID: "gate", Name: "at the gate", LatDeg: 38.51, LonDeg: -121.2, SensorHeightM: 1.5, WindHeightM: 2, Shelter: farm.Screen,
				Surroundings: farm.Strip{Name: "grass", Share: 1, Surface: farm.Cover, HeightM: 0.1,
					Moisture: farm.Moisture{Value: 0.2, Spread: 0.05, Source: farm.MoistureAssumed, At: hour(-50)}},
				Soil: farm.Soil{Texture: "loam"}},
			{ID: "pond", Shelter: farm.Open},
		},
		Sources: []farm.Source{{ID: "well", Name: "old well", FlowLPS: 31.7, WaterTempC: 16.1, CostPerM3: 0.07, FrostUseStated: true, FrostUse: true}},
		Equipment: []farm.Equipment{
			{ID: "fan1", Kind: farm.Fan, AreaHa: 4.2, Count: 1, CostPerH: 61},
			{ID: "heat", Kind: farm.Heaters, AreaHa: 2, Count: 90, PowerKW: 2400, CostPerH: 410},
		},
		People:   []farm.Person{{ID: "ana", Name: "Ana", Phone: "555 0100", Mail: "ana@example.org", Units: "us", Night: true}},
		Defaults: []farm.Default{{Where: "block B2", Field: "fetch_m", Value: "200 m", Why: "common practice"}},
		Blocks: []farm.Block{
			{ID: "B1", Name: "creek", AreaHa: 2.4, Cultivar: "Thompson Seedless", Species: farm.Vinifera, Use: farm.Raisin, Pruning: farm.Cane,
				NodesKept: 60, CordonHeightM: 1.35, RowSpacingM: 3.6, VineSpacingM: 2.1, ColdSpotK: 0.7, OffsetK: -0.3, OffsetKnown: true,
				Soil:   farm.Soil{Texture: "sandy loam", FieldCapacity: 0.21, WiltingPoint: 0.09},
				Strips: strips(0.12), StationID: "gate", Protection: []string{"fan1", "heat"},
				System: farm.System{Kind: farm.Drip, SourceID: "well", RateMmH: 0.56, WetShare: 0.3, EmitterLPH: 3.8,
					EmitterAlongM: 1, EmitterAcrossM: 3.6, WetsStrip: "under-vine", LineFillH: 0.5, Uniformity: 0.9},
				CropTHa: 20, PricePerT: 310, SecondaryShare: -1, TertiaryShare: -1,
				Polygon: [][2]float64{{-121.2, 38.5}, {-121.19, 38.5}, {-121.19, 38.51}, {-121.2, 38.5}}},
			{ID: "B2", Name: "hill", AreaHa: 1e-3, Strips: strips(0.3), StationID: "pond"},
			{ID: "B3", Name: "no station, no water"},
		},
	}
}

// Readings is a batch of three variables over n hours, with a gap, a refusal, and
// values at the edges of what a float can hold.
func Readings(station string, from float64, n int) weather.Batch {
	b := weather.Batch{StationID: station, Kind: weather.Reading, Origin: "logger.csv", FedAt: hour(from + float64(n)),
		Gaps: 1, Notes: []string{"times without a zone were taken as local"}, ElevationM: 12.5, HasElevation: true}
	b.Refuse(weather.Refusal{Origin: "logger.csv", Line: 7, Field: "air_temp_c", Value: "99,9", Why: "decimal comma"})
	for i := range n {
		at := hour(from + float64(i))
		b.Samples = append(b.Samples,
			weather.Sample{At: at, Var: weather.AirTemp, Value: 4 - 5*math.Sin(float64(i)/4)},
			weather.Sample{At: at, Var: weather.Wind, Value: math.SmallestNonzeroFloat64 * float64(i)})
		if i != 1 {
			b.Samples = append(b.Samples, weather.Sample{At: at, Var: weather.SoilMoist10, Value: 0.1 + 1.0/3})
		}
	}
	return b
}

// Forecast is a batch of two variables over n hours, issued at hour issued and
// fed half an hour later.
func Forecast(station string, issued float64, n int) weather.Batch {
	b := weather.Batch{StationID: station, Kind: weather.Forecast, Origin: fmt.Sprintf("forecast %g.json", issued),
		IssuedAt: hour(issued), FedAt: hour(issued + 0.5)}
	for i := range n {
		at := hour(issued + 1 + float64(i))
		b.Samples = append(b.Samples,
			weather.Sample{At: at, Var: weather.AirTemp, Value: issued + float64(i)/8},
			weather.Sample{At: at, Var: weather.DewPoint, Value: -1})
	}
	return b
}

// Stage is a walk through a block at an hour.
func Stage(block string, at float64) store.StageRecord {
	return store.StageRecord{BlockID: block, At: hour(at), Who: "Ana", Unit: store.Shoots, Note: "north rows only",
		Counts: []store.StageCount{
			{Stage: vine.Stage{Scale: vine.ModifiedEL, Code: 4}, Amount: 22},
			{Stage: vine.Stage{Scale: vine.ModifiedEL, Code: 3}, Amount: 31},
			{Stage: vine.Stage{Scale: vine.BBCH, Code: 11}, Amount: 4},
		}}
}

func change(at float64) store.Change {
	return store.Change{At: hour(at), Who: "Ana", Why: "import"}
}
