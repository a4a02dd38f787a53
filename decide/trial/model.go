package trial

import (
	"fmt"
	"math"
	"time"

	"budward/decide/method"
	"budward/physics/quantity"
	"budward/physics/sky"
	"budward/vineyard/farm"
)

// Floors are the two floors of a trial, for the model.
type Floors struct {
	Over    farm.Strip // the measured one; a whole plot
	Beside  farm.Strip
	Soil    farm.Soil
	AreaHa  float64 // of each plot
	CordonM float64
}

// Model works out the gain of a trial's floors: both plots of the same size under
// the same clear, calm days of the trial's season, day after day alike.
type Model struct {
	Notes []string // what was taken because it was not read
	over  *method.Site
	other *method.Site
	path  method.Path
	ref   [][]method.RefStep
}

const (
	modelDays   = 5    // up to the night that counts: the top 30 cm follow
	calmWindMS  = 1.0  // at 2 m, where no wind was read
	daySwingK   = 14.0 // where the days' highest was not read (common practice: clear spring days swing 12-18 K)
	dewBelowK   = 1.0  // dew point below the minimum, where no humidity was read
	stationTall = 0.1  // m, grass of the station both plots are held against; it drops out
	warmestH    = 15   // hour of the day's highest, sun's time
)

// NewModel lays the floors out under the weather of a trial.
func NewModel(f Floors, w Weather, latDeg, lonDeg, elevationM float64) (*Model, error) {
	m := &Model{}
	note := func(format string, a ...any) { m.Notes = append(m.Notes, fmt.Sprintf(format, a...)) }
	if w.Nights == 0 {
		return nil, &InputError{"weather", "unknown", "a trial with nights that count"}
	}
	if math.IsNaN(w.WindMS) {
		w.WindMS = calmWindMS
		note("no wind was read: %g m/s at 2 m is taken", calmWindMS)
	}
	if math.IsNaN(w.HighC) {
		w.HighC = w.LowC + daySwingK
		note("the days were not read: %g K above the minimum is taken for their highest", daySwingK)
	}
	if math.IsNaN(w.DewC) {
		w.DewC = w.LowC - dewBelowK
		note("no humidity was read: a dew point %g K below the minimum is taken", dewBelowK)
	}
	mean := func(float64) float64 { return (w.LowC + w.HighC) / 2 }
	st := farm.Station{ID: "beside", SensorHeightM: f.CordonM, Soil: f.Soil,
		Surroundings: farm.Strip{Name: "grass", Share: 1, Surface: farm.Cover, HeightM: stationTall, Moisture: f.Beside.Moisture}}
	ref, err := method.NewReference(st, []float64{f.CordonM}, mean)
	if err != nil {
		return nil, err
	}
	site := func(name string, s farm.Strip) (*method.Site, error) {
		s.Name, s.Share = name, 1
		return method.NewSite(farm.Block{ID: name, AreaHa: f.AreaHa, CordonHeightM: f.CordonM, Soil: f.Soil, Strips: []farm.Strip{s}}, ref, mean)
	}
	if m.over, err = site("measured floor", f.Over); err != nil {
		return nil, err
	}
	if m.other, err = site("floor beside it", f.Beside); err != nil {
		return nil, err
	}
	if m.path, err = days(w, method.Place{LatDeg: latDeg, LonDeg: lonDeg, ElevationM: elevationM, Formula: sky.Default}); err != nil {
		return nil, err
	}
	m.ref = ref.Run(m.path.Steps)
	return m, nil
}

// Gain is the modelled air minimum over the measured floor less that beside it, K,
// with the mixing K0 (W m-2 K-1) given.
func (m *Model) Gain(k0WM2K float64) (float64, error) {
	if !(k0WM2K > 0) {
		return 0, &InputError{"K0", fmt.Sprint(k0WM2K), "above 0 W/m2K"}
	}
	at := func(s *method.Site) float64 {
		run := s.Clone()
		run.Floor.Mix.K0WM2K = k0WM2K
		run.Plan(nil)
		var t method.Trace
		run.Drive(m.path.Steps, m.ref[run.Height], &t)
		return t.GainK[len(t.GainK)-1]
	}
	return at(m.over) - at(m.other), nil
}

// days is a run of days alike up to the last sunrise: lowest at sunrise, highest at
// three in the afternoon by the sun, cooling in between as the 0.7th power of time.
func days(w Weather, p method.Place) (method.Path, error) {
	zone := time.FixedZone("", int(math.Round(p.LonDeg/15*3600)))
	night, err := sky.NightOf(w.Middle, quantity.Degree(p.LatDeg), quantity.Degree(p.LonDeg), zone)
	if err != nil {
		return method.Path{}, err
	}
	start := w.Middle.AddDays(1-modelDays).At(0, 0, zone)
	rise := math.Round(night.Sunrise.Sub(w.Middle.AddDays(1).At(0, 0, zone)).Hours())
	dawn := modelDays*24 + int(rise)
	var hours []method.Hour
	for i := range dawn + 1 {
		h := float64(i % 24)
		t := w.HighC - (w.HighC-w.LowC)*math.Pow(math.Mod(h-warmestH+24, 24)/(24-warmestH+rise), 0.7)
		if h >= rise && h < warmestH {
			t = w.LowC + (w.HighC-w.LowC)*math.Sin((h-rise)/(warmestH-rise)*math.Pi/2)
		}
		hours = append(hours, method.Hour{AirC: t, DewC: math.Min(w.DewC, t), Wind2: w.WindMS, Solar: math.NaN()})
	}
	return method.NewPath(start, hours, p), nil
}
