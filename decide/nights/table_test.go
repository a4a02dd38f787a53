package nights

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"budward/decide/method"
	"budward/decide/weather"
	"budward/vineyard/farm"
)

// The gain table against brute force: 200 random floors, soils, areas, waters
// and nights, each also run through the columns with exactly that night's wind
// and cloud. Within 0.1 K, the error that tables are allowed.
func TestTableAgainstBruteForce(t *testing.T) {
	if testing.Short() {
		t.Skip("200 brute-force runs are left out of short runs")
	}
	const cases, ahead, tol = 200, 3, 0.1
	rng := rand.New(rand.NewPCG(1, 2))
	worst := 0.0
	var in *Input
	var st *station
	var nights []weather.Night
	for c := range cases {
		if c%5 == 0 { // five blocks under one sky
			in, st, nights = randomStation(t, rng, ahead)
		}
		b := randomBlock(rng)
		k, err := makeBlock(b, st, in, nights)
		if err != nil {
			t.Fatal(err)
		}
		n := rng.IntN(ahead)
		wind := math.Exp(rng.Float64()*math.Log(6/0.3)) * 0.3
		cloud := rng.Float64()
		got := k.base.at(n, wind, cloud)
		altered := method.NewPath(st.ens.Start, st.altered(st.meanHours(), wind, cloud), st.place())
		from, to, _ := st.steps(n)
		ref := st.ref.Clone()
		k.scratch.CopyFrom(k.site)
		k.scratch.Plan(nil)
		p := &st.central.path
		k.scratch.Drive(p.Steps[:from], ref.Run(p.Steps[:from])[k.site.Height], &k.trace)
		night := altered.Steps[from:to]
		k.scratch.Drive(night, ref.Run(night)[k.site.Height], &k.trace)
		want := read(&k.trace, night, 0, to-from)
		d := math.Abs(got.gainK - want.gainK)
		worst = math.Max(worst, d)
		if !(d <= tol) {
			t.Errorf("case %d: %s/%s on %s, wind %.2f cloud %.2f night %d: table %.3f K, columns %.3f K", c, b.Strips[0].State(), b.Strips[1].State(), b.Soil.Texture, wind, cloud, n, got.gainK, want.gainK)
		}
	}
	t.Logf("worst difference %.3f K", worst)
}

func randomStation(t *testing.T, rng *rand.Rand, ahead int) (*Input, *station, []weather.Night) {
	t.Helper()
	zone := time.FixedZone("", -8*3600)
	now := time.Date(2024, time.Month(3+rng.IntN(3)), 1+rng.IntN(28), 15, 0, 0, 0, zone)
	low, swing, dew := -3+6*rng.Float64(), 8+10*rng.Float64(), -6+6*rng.Float64()
	windDay, cloud := 0.5+4*rng.Float64(), rng.Float64()
	h := weather.NewHourly(now.UTC().Truncate(time.Hour), 24*(ahead+1), weather.Forecast)
	for i := range h.N {
		hour := float64(h.Time(i).In(zone).Hour())
		air := low + swing*0.5*(1+math.Sin((hour-10.5)/24*2*math.Pi))
		h.Col(weather.AirTemp)[i], h.Col(weather.DewPoint)[i] = air, math.Min(dew, air)
		h.Col(weather.Wind)[i], h.Col(weather.Cloud)[i], h.Col(weather.Rain)[i] = windDay, cloud, 0
	}
	def := farm.Station{ID: "S", LatDeg: 38, LonDeg: -122, SensorHeightM: 1.5, WindHeightM: 2, Soil: farm.Soil{Texture: "loam"},
		Surroundings: farm.Strip{Share: 1, Surface: farm.Cover, HeightM: 0.1, Moisture: farm.Moisture{Value: 0.25}}}
	in := &Input{Zone: zone, Now: now, Ahead: ahead, Members: 4, Seed: rng.Uint64()}
	in.Farm.Stations = []farm.Station{def}
	nights, err := weather.NightsAhead(now, 38, -122, zone, ahead)
	if err != nil {
		t.Fatal(err)
	}
	data := StationInput{Forecast: h, IssuedAt: now}
	in.Farm.Blocks = []farm.Block{{StationID: "S", CordonHeightM: 1.1}}
	st, state := prepare(def, &data, in, nights)
	if st == nil {
		t.Fatalf("station: %+v", state)
	}
	return in, st, nights
}

func randomBlock(rng *rand.Rand) farm.Block {
	textures := []string{"sand", "sandy loam", "loam", "silt loam", "clay loam", "clay"}
	b := farm.Block{ID: "R", AreaHa: math.Exp(rng.Float64()*math.Log(100)) * 0.5, CordonHeightM: 1.1, RowSpacingM: 2.5, VineSpacingM: 1.8}
	b.Soil.Texture = textures[rng.IntN(len(textures))]
	share := 0.2 + 0.6*rng.Float64()
	for i := range 2 {
		s := farm.Strip{Name: []string{"a", "b"}[i], Share: share}
		switch rng.IntN(4) {
		case 0:
			s.Surface = farm.BareFirm
		case 1:
			s.Surface, s.DepthM = farm.Disked, 0.05+0.15*rng.Float64()
		case 2:
			s.Surface, s.HeightM = farm.Cover, 0.03+0.5*rng.Float64()
		case 3:
			s.Surface, s.HeightM = farm.Residue, 0.01+0.04*rng.Float64()
		}
		soil, _, _ := b.Soil.Resolve()
		s.Moisture.Value = soil.WiltingPoint + (soil.FieldCapacity-soil.WiltingPoint)*rng.Float64()
		b.Strips = append(b.Strips, s)
		share = 1 - share
	}
	return b
}
