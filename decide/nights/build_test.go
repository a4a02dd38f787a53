package nights_test

import (
	"math"
	"testing"
	"time"

	"budward/decide/nights"
	"budward/decide/weather"
	"budward/physics/air"
	"budward/physics/quantity"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// An invented place at 38.5 N, and a present moment in spring.
var (
	zone = time.FixedZone("PST", -8*3600)
	now  = time.Date(2024, 4, 8, 15, 0, 0, 0, zone)
)

// clearWeek is a regular hourly run of clear, calm spring days: lowest at
// sunrise, highest in mid-afternoon.
type clearWeek struct {
	low, high, dew, wind, cloud float64
}

func (w clearWeek) air(t time.Time) float64 {
	h := float64(t.In(zone).Hour()) + float64(t.In(zone).Minute())/60
	if h >= 6 && h < 15 {
		return w.low + (w.high-w.low)*math.Sin((h-6)/9*math.Pi/2)
	}
	return w.high - (w.high-w.low)*math.Pow(math.Mod(h-15+24, 24)/15, 0.7)
}

func (w clearWeek) grid(start time.Time, hours int, kind weather.Kind) weather.Hourly {
	h := weather.NewHourly(start, hours, kind)
	for i := range hours {
		t := w.air(h.Time(i))
		h.Col(weather.AirTemp)[i] = t
		h.Col(weather.DewPoint)[i] = math.Min(w.dew, t)
		h.Col(weather.RelHumidity)[i] = 100 * air.SatVapKPa(math.Min(w.dew, t)) / air.SatVapKPa(t)
		h.Col(weather.Wind)[i] = w.wind
		h.Col(weather.Cloud)[i] = w.cloud
		h.Col(weather.Rain)[i] = 0
	}
	return h
}

func moist(v float64) farm.Moisture {
	return farm.Moisture{Value: v, Spread: 0.02, Source: farm.MoistureReading}
}

func testStation() farm.Station {
	return farm.Station{ID: "S", Name: "Meadow", LatDeg: 38.5, LonDeg: -122, ElevationM: 60, SensorHeightM: 1.5, WindHeightM: 2,
		Shelter:      farm.Screen,
		Surroundings: farm.Strip{Name: "grass", Share: 1, Surface: farm.Cover, HeightM: 0.1, Moisture: moist(0.26)},
		Soil:         farm.Soil{Texture: "loam"}}
}

func testBlock(id string) farm.Block {
	return farm.Block{ID: id, Name: "Block " + id, AreaHa: 4, Cultivar: "Chardonnay", Species: farm.Vinifera, Use: farm.Wine, Pruning: farm.Cane,
		NodesKept: 30, CordonHeightM: 1, RowSpacingM: 2.7, VineSpacingM: 1.8, ColdSpotK: 0.6, Soil: farm.Soil{Texture: "loam"},
		Strips: []farm.Strip{
			{Name: "under-vine", Share: 0.4, Surface: farm.BareFirm, Moisture: moist(0.16)},
			{Name: "middle", Share: 0.6, Surface: farm.Cover, HeightM: 0.3, Moisture: moist(0.2)},
		},
		StationID: "S", CropTHa: 9, PricePerT: 1500, SecondaryShare: -1, TertiaryShare: -1}
}

func dripOn(b *farm.Block) {
	b.System = farm.System{Kind: farm.Drip, SourceID: "W", RateMmH: 0.8, EmitterLPH: 3.8, EmitterAlongM: 1.8, EmitterAcrossM: 2.7, LineFillH: 0.5, Uniformity: 0.9}
}

func staged(t testing.TB, text string) []vine.Mixture {
	t.Helper()
	m, err := vine.ParseMixture(text, now.Add(-20*time.Hour), "test")
	if err != nil {
		t.Fatal(err)
	}
	return []vine.Mixture{m}
}

// input is a farm of the given blocks under the given week, all at first leaf.
func input(t testing.TB, w clearWeek, blocks ...farm.Block) nights.Input {
	t.Helper()
	in := nights.Input{
		Farm: farm.Farm{ID: "f", Name: "Test", Zone: "Etc/GMT+8", LatDeg: 38.5, LonDeg: -122, ElevationM: 60, Currency: "USD",
			LabourPerHour: 25, Stations: []farm.Station{testStation()}, Blocks: blocks,
			Sources: []farm.Source{{ID: "W", Name: "Well", FlowLPS: 200, WaterTempC: 15, CostPerM3: 0.05, FrostUseStated: true, FrostUse: true}}},
		Zone: zone, Now: now, Seed: 7, Units: quantity.US,
		Stations: map[string]nights.StationInput{"S": {
			Forecast: w.grid(now.UTC().Truncate(time.Hour), 24*8, weather.Forecast), Origin: "test", IssuedAt: now.Add(-time.Hour),
			Readings: w.grid(now.UTC().Truncate(time.Hour).Add(-10*24*time.Hour), 241, weather.Reading),
		}},
		Stages: map[string][]vine.Mixture{},
	}
	for i := range in.Stations {
		s := in.Stations[i]
		for k := range s.Forecast.N { // grids made by hand carry their issue here
			_ = k
		}
		in.Stations[i] = s
	}
	for _, b := range blocks {
		in.Stages[b.ID] = staged(t, "EL 7")
	}
	return in
}
