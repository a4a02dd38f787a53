// Package weather holds what is read and what is forecast: samples with gaps
// and provenance, hourly series, scenarios of the nights ahead, and the error
// of a station's forecasts as learned from what was measured. It is pure: the
// present moment and the random seed are inputs.
package weather

import "time"

// Variable is one measured or forecast quantity, in one unit everywhere.
type Variable uint8

const (
	AirTemp      Variable = iota // degC
	DewPoint                     // degC
	RelHumidity                  // % over water
	Wind                         // m/s at the station's wind height
	Cloud                        // share of the sky, 0..1
	Rain                         // mm in the hour
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
// the value stands for.
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
}

// Hourly is a regular hourly grid of variables; NaN is a gap. Column values
// stand for the hour ENDING at Start + i h for readings, and for the instant
// Start + i h for forecasts.
type Hourly struct {
	Start time.Time
	N     int
	Cols  [NumVariables][]float64 // nil = the variable is absent throughout
}
