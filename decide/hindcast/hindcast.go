// Package hindcast replays a station's record as if it were live and scores what
// would have been said of each night's minimum, hour by hour, against what was
// then measured. Each evening uses only what was known by then. Beside the model
// of package predict stand, always, the simple methods a grower has without it:
// last night again, the season's usual, the handbook's square-root curve and the
// handbook's regression on the evening's temperature and dew point.
//
// A record is looked over first: what is flagged, impossible, stuck, shifted in
// time or drifting is named, left out and counted, and so are seasons and hours
// that are missing. A number that cannot be had is shown as unknown.
package hindcast

import (
	"errors"
	"fmt"
	"time"

	"budward/decide/predict"
	"budward/decide/weather"
)

// Training says which nights a prediction may learn from.
type Training string

const (
	// OtherYears learns from all other seasons of the record, earlier and later, and
	// from the nights of this season that had ended: each season is left out in turn.
	OtherYears Training = "other-years"
	// PastOnly learns only from nights that had ended: what a station would really
	// have known.
	PastOnly Training = "past-only"
)

// Input is a record and what to ask of it.
type Input struct {
	Records   []weather.Batch // readings of one station as decoded, not yet screened
	Forecasts []weather.Batch // its past forecasts as decoded; none = days ahead are not scored

	Place    *predict.Place // nil: as the record states
	Zone     *time.Location // of midnight and of dates; nil: the whole hour nearest the sun's time
	Season   Season         // nights that are scored; zero: DefaultSeason of the latitude
	Training Training       // "": OtherYears, or PastOnly where the record has one season

	ThresholdsC []float64 // passing these is scored; nil: DefaultThresholdsC
	CostShares  []float64 // cost of acting as a share of the loss it spares; nil: DefaultCostShares
	FrostC      float64   // nights with a minimum at or below it are scored apart; see HasFrostC
	HasFrostC   bool      // false: DefaultFrostC

	Now      time.Time // readings after it are excluded
	Seed     uint64    // of the bootstrap
	Progress func(done, total int)
	// Stop, where not nil, is asked before each prediction, by several goroutines;
	// once it says so the replay ends with ErrStopped.
	Stop func() bool
}

// ErrStopped says that Input.Stop ended the replay.
var ErrStopped = errors.New("hindcast: stopped before the end")

func (in *Input) stopped() bool { return in.Stop != nil && in.Stop() }

// Defaults.
const (
	DefaultFrostC = 3.0
	// MaxThresholds and MaxCostShares bound what is asked for at once.
	MaxThresholds = 20
	MaxCostShares = 20
)

// DefaultThresholdsC are -2, 0 and 2 degC.
func DefaultThresholdsC() []float64 { return []float64{-2, 0, 2} }

// DefaultCostShares are 5, 10, 20 and 40 %.
func DefaultCostShares() []float64 { return []float64{0.05, 0.1, 0.2, 0.4} }

// InputError is something wrong with an Input: which field, its value and what
// was expected.
type InputError struct {
	Field, Value, Want string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("hindcast: %s is %s; want %s", e.Field, e.Value, e.Want)
}

// check fills in the defaults.
func (in *Input) check() error {
	if in.Now.IsZero() {
		return &InputError{"now", "unknown", "the present moment"}
	}
	if in.Training != "" && in.Training != OtherYears && in.Training != PastOnly {
		return &InputError{"training", string(in.Training), string(OtherYears) + " or " + string(PastOnly)}
	}
	if in.ThresholdsC == nil {
		in.ThresholdsC = DefaultThresholdsC()
	}
	if len(in.ThresholdsC) > MaxThresholds {
		return &InputError{"number of thresholds", fmt.Sprint(len(in.ThresholdsC)), fmt.Sprintf("at most %d", MaxThresholds)}
	}
	for _, c := range in.ThresholdsC {
		if !weather.AirTemp.Plausible(c) {
			return &InputError{"threshold", fmt.Sprint(c), "a temperature in degC"}
		}
	}
	if in.CostShares == nil {
		in.CostShares = DefaultCostShares()
	}
	if len(in.CostShares) > MaxCostShares {
		return &InputError{"number of cost shares", fmt.Sprint(len(in.CostShares)), fmt.Sprintf("at most %d", MaxCostShares)}
	}
	for _, c := range in.CostShares {
		if !(c > 0 && c < 1) {
			return &InputError{"cost share", fmt.Sprint(c), "a share between 0 and 1"}
		}
	}
	if !in.HasFrostC {
		in.FrostC, in.HasFrostC = DefaultFrostC, true
	}
	if !weather.AirTemp.Plausible(in.FrostC) {
		return &InputError{"frost limit", fmt.Sprint(in.FrostC), "a temperature in degC"}
	}
	return nil
}

// Run replays the record. An error means that there was nothing to replay: no
// readings, no place, no whole night in the season.
func Run(in Input) (Report, error) {
	if err := in.check(); err != nil {
		return Report{}, err
	}
	rec, err := prepare(&in)
	if err != nil {
		return Report{}, err
	}
	if len(rec.scored()) == 0 {
		return Report{}, rec.nothing()
	}
	if err := rec.pairUp(&in); err != nil {
		return Report{}, err
	}
	r := rec.head(&in)
	replay := newReplay(&in, rec)
	for k := range leads {
		r.Leads = append(r.Leads, replay.lead(k))
		if in.stopped() {
			return Report{}, ErrStopped
		}
	}
	r.Table = replay.table
	r.DaysAhead, r.DaysAheadWhy = daysAhead(&in, rec)
	r.Notes = rec.notes()
	return r, nil
}
