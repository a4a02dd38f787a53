// Package weather holds what is read and what is forecast: samples with gaps
// and provenance, hourly series, scenarios of the nights ahead, and the error
// of a station's forecasts as learned from what was measured. It is pure: the
// present moment and the random seed are inputs.
package weather

import (
	"fmt"
	"time"
)

// Variable is one measured or forecast quantity, in one unit everywhere.
type Variable uint8

const (
	AirTemp      Variable = iota // degC
	DewPoint                     // degC
	RelHumidity                  // % over water
	Wind                         // m/s at the station's wind height
	Cloud                        // share of the sky, 0..1
	Rain                         // mm in the hour (readings: in the interval that ends at the sample)
	Solar                        // W/m2, global, hour mean
	SurfaceTemp                  // degC, infrared skin temperature
	SoilTemp5                    // degC at 5 cm
	SoilTemp10                   // degC
	SoilTemp20                   // degC
	SoilTemp50                   // degC
	SoilTemp100                  // degC
	SoilMoist5                   // m3/m3 at 5 cm
	SoilMoist10                  // m3/m3
	SoilMoist20                  // m3/m3
	SoilMoist50                  // m3/m3
	SoilMoist100                 // m3/m3
	Pressure                     // kPa at the station
	AirTempMin                   // degC, lowest in the hour
	NumVariables
)

// Kind tells readings from forecasts.
type Kind string

const (
	Reading  Kind = "reading"
	Forecast Kind = "forecast"
)

// Sample is one value of one variable. For readings At is the time of the
// observation, or the END of the interval averaged over; for forecasts the hour
// the value stands for (rain: the hour that BEGINS at At).
type Sample struct {
	At    time.Time
	Var   Variable
	Value float64
}

// Refusal is one item of a feed that was not taken, and why.
type Refusal struct {
	Origin string `json:"origin"` // file or address
	Line   int    `json:"line"`   // 1-based line or record; 0 = whole file
	Field  string `json:"field"`
	Value  string `json:"value"`
	Why    string `json:"why"`
}

// Batch is what one feed delivered: samples in time order, all of one station.
type Batch struct {
	StationID string
	Kind      Kind
	Origin    string    // file name or address
	IssuedAt  time.Time // forecasts: when it was issued; readings: zero
	FedAt     time.Time
	Samples   []Sample
	Refused   []Refusal
	Gaps      int // values marked missing by the source

	// RefusedTotal counts every refusal; Refused lists the first MaxRefused.
	RefusedTotal int
	// Notes say what the decoder took for granted, in plain sentences.
	Notes []string
	// ElevationM is the elevation the feed states for its point; NaN or 0 with
	// HasElevation false = not stated.
	ElevationM   float64
	HasElevation bool
	// LatDeg and LonDeg are where the source says its station stands, north and east
	// positive; HasPlace false = not stated.
	LatDeg, LonDeg float64
	HasPlace       bool
}

// MaxRefused bounds the refusals listed one by one in a Batch.
const MaxRefused = 100

// Refuse counts r and lists it while there is room.
func (b *Batch) Refuse(r Refusal) {
	b.RefusedTotal++
	if len(b.Refused) < MaxRefused {
		b.Refused = append(b.Refused, r)
	}
}

// Flag marks how a value of an Hourly came about; bits may be combined.
type Flag uint8

const (
	FlagMean         Flag = 1 << iota // mean (rain: sum, minimum: lowest) of several readings in the hour
	FlagInterpolated                  // between two forecast values at most an hour apart, off the grid's minute
	FlagFilled                        // a short gap filled by FillShort on request
	FlagDerived                       // computed from another variable
)

// SourceRef names a batch an Hourly was made from.
type SourceRef struct {
	Origin   string    `json:"origin"`
	IssuedAt time.Time `json:"issued_at"`
	FedAt    time.Time `json:"fed_at"`
}

// NoSource is the entry of Hourly.From where there is no value.
const NoSource int16 = -1

// Hourly is a regular hourly grid of variables; NaN is a gap. Column values
// stand for the hour ENDING at Start + i h for readings, and for the instant
// Start + i h for forecasts (forecast rain: the hour beginning there).
type Hourly struct {
	Start time.Time
	N     int
	Cols  [NumVariables][]float64 // nil = the variable is absent throughout

	Kind    Kind
	Sources []SourceRef           // the batches used
	From    [NumVariables][]int16 // index into Sources of each value, NoSource in a gap; nil with Cols nil or when made by hand
	Flags   [NumVariables][]Flag  // nil where no value of the variable has a flag
}

// InputError is bad data handed to this package: which input, its value and
// what was expected.
type InputError struct {
	Field, Value, Want string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("weather: %s is %s; want %s", e.Field, e.Value, e.Want)
}
