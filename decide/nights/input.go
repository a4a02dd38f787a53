package nights

import (
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// Input is all that an answer rests on.
type Input struct {
	Farm    farm.Farm
	Zone    *time.Location
	Now     time.Time
	Ahead   int             // nights, 1..14; 0 = 7
	Members int             // scenarios; 0 = weather.DefaultMembers
	Seed    uint64          // same input and seed, same answer
	Units   quantity.System // of the sentences in the answer

	// Progress, where not nil, is told after each block; it is called from
	// several goroutines.
	Progress func(done, blocks int)

	Stations map[string]StationInput   // by station ID
	Stages   map[string][]vine.Mixture // observations by block ID, any order
	Tables   []vine.Table              // the user's own critical temperatures

	// MixingK0 is calm mixing learned from a trial of contrasting floors; nil: the
	// prior.
	MixingK0 *MixingK0
}

// StationInput is what is known at one station, from the store.
type StationInput struct {
	// Forecast is a grid of forecasts (later issues win), reaching as far ahead
	// as they do. N = 0: no forecast.
	Forecast weather.Hourly
	Origin   string    // of the latest issue
	IssuedAt time.Time // of the latest issue
	// Readings is a grid of screened readings up to now, as far back as there are
	// (30 days are used). N = 0: none.
	Readings weather.Hourly
	// Pairs are past forecasts against what was measured.
	Pairs []weather.ForecastPair
	Notes []Note
}

// Alternative is a choice to compare in WhatIf; zero fields mean "as it is".
type Alternative struct {
	Label string
	// Floor replaces the surface of the named strips ("" = every strip).
	Floor map[string]farm.Strip
	// RefillStart and RefillStop give water to the block's own system between
	// these times; zero = none.
	RefillStart, RefillStop time.Time
	// RefillMM, where above zero, is given as if at once at RefillStart, evenly
	// over the wetted share the block's system establishes (or the whole floor
	// without a system).
	RefillMM float64
	// Run is the night method: Nothing, RunWater, OverVine, RunFan, RunHeater.
	Run ChoiceKind
	// RunMmH overrides the application rate of the water run; 0 = the block's.
	RunMmH float64
}

// Compared is one alternative worked out for one night.
type Compared struct {
	Label  string     `json:"label"`
	Night  BlockNight `json:"night"`
	Choice Choice     `json:"choice"`
}
