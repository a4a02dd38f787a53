// Package trial measures with two thermometers what a floor, or water put into it,
// is worth on a farm: it says how many clear, calm nights that takes and how to
// hang the thermometers (Plan, Protocol), works the nights out afterwards
// (Estimate) and says what they tell of the mixing K0 that floor gains rest on
// (K0From).
//
// No open record of two thermometers over contrasting floors is known, so floor
// gains are otherwise checked against handbooks only.
//
// One thermometer hangs over the floor that is measured, the other beside it over
// the floor it is held against. Half-way they are swapped: with D the lower
// reading of the night of thermometer A less that of B, o what A reads more than B
// in the same air, s what the place over the measured floor is warmer than the
// place beside it whatever the floor, and g the gain,
//
//	side by side          D = o           + noise
//	before, A over        D = o + s       + noise
//	before, B over        D = o - s       + noise
//	trial,  A over        D = o + s + g   + noise
//	trial,  B over        D = o - s - g   + noise
//
// so that half the difference of the two halves of a trial is free of o. Without
// nights before the floors differed, s cannot be told from g and stays in it: the
// result says so.
package trial

import (
	"fmt"
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// Kind is what a session was for.
type Kind string

const (
	SideBySide Kind = "side"   // both thermometers at one place
	Before     Kind = "before" // in their places, the floors not yet different
	Contrast   Kind = "trial"  // in their places, the floors different
)

// Sensor names one of the two thermometers.
type Sensor string

const (
	A Sensor = "A"
	B Sensor = "B"
)

// Session is a run of nights with the thermometers hanging in one way.
type Session struct {
	Kind Kind     `json:"session"`
	Over Sensor   `json:"over"` // which hangs over the measured floor; "" side by side
	From sky.Date `json:"from"` // first and last evening
	To   sky.Date `json:"to"`
}

// String names a session as the pages do.
func (s Session) String() string {
	span := s.From.String() + " to " + s.To.String()
	if s.Kind == SideBySide {
		return "side by side, " + span
	}
	return fmt.Sprintf("%s, %s over, %s", s.Kind, s.Over, span)
}

// Input is two records and how the thermometers hung.
type Input struct {
	A, B     []weather.Batch // readings of each thermometer as decoded, not yet screened
	LatDeg   float64
	LonDeg   float64
	Zone     *time.Location // of the evenings; nil: the whole hour nearest the sun
	Sessions []Session
	Rules    Rules   // zero: DefaultRules
	Conf     float64 // confidence of the intervals, 0.5..0.999; 0: 0.95
	Now      time.Time
	Units    quantity.System // of the sentences in the result
}

// Rules say which nights are clear and calm enough to count. Wind, cloud and rain
// are held against what was read, if it was; the shape of the cooling, of the
// mean of the two thermometers, always.
type Rules struct {
	MaxWindMS   float64 `json:"max_wind_m_s"`         // mean from an hour after sunset to the minimum
	MaxCloud    float64 `json:"max_cloud_share"`      // mean over the same hours
	MaxRainMM   float64 `json:"max_rain_mm"`          // in the night
	LeastDropK  float64 `json:"least_drop_k"`         // from sunset to the minimum
	BeforeRiseH float64 `json:"minimum_before_h"`     // the minimum comes no longer before sunrise
	MaxRiseK    float64 `json:"max_rise_k"`           // above the lowest so far, from two hours after sunset to sunrise
	SkipH       float64 `json:"rise_counted_after_h"` // after sunset
}

// DefaultRules: wind as FAO Environment and Natural Resources Series 10, ch. 5,
// asks of radiation-frost nights (2 m/s, from memory); no rain beyond what dew
// tips in a gauge; the rest is our own choice, stated and open to change: cloud or
// wind coming in shows as a weak fall, an early minimum, or a rise in the night.
func DefaultRules() Rules {
	return Rules{MaxWindMS: 2, MaxCloud: 0.3, MaxRainMM: 0.2, LeastDropK: 4, BeforeRiseH: 4, MaxRiseK: 1.5, SkipH: 2}
}

// Lines says the rules one by one in plain words.
func (r Rules) Lines(s quantity.System) []string {
	k := func(v float64) string { return s.Difference(quantity.Kelvin(v)) }
	return []string{
		fmt.Sprintf("mean wind up to the minimum at most %s, where wind was read", s.Wind(quantity.MetrePerSecond(r.MaxWindMS))),
		fmt.Sprintf("mean cloud up to the minimum at most %g %%, where cloud was read", 100*r.MaxCloud),
		fmt.Sprintf("no more than %s of rain in the night, where rain was read", s.Depth(quantity.Millimetre(r.MaxRainMM))),
		fmt.Sprintf("the air falls by at least %s from sunset", k(r.LeastDropK)),
		fmt.Sprintf("the minimum comes no earlier than %g h before sunrise", r.BeforeRiseH),
		fmt.Sprintf("from %g h after sunset to sunrise the air never rises more than %s above its lowest so far", r.SkipH, k(r.MaxRiseK)),
	}
}

// InputError is something wrong with what was handed in: which, its value and what
// was expected.
type InputError struct{ Field, Value, Want string }

func (e *InputError) Error() string {
	return fmt.Sprintf("trial: %s is %s; want %s", e.Field, e.Value, e.Want)
}

// TooFewError says that the nights that count cannot give a gain, and what is
// missing.
type TooFewError struct{ Text string }

func (e *TooFewError) Error() string { return "trial: " + e.Text }

// Flag is a weakness of a result, in one plain sentence.
type Flag struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Interval is a value with the ends of its interval.
type Interval struct {
	Low     float64 `json:"low_k"`
	Central float64 `json:"central_k"`
	High    float64 `json:"high_k"`
}

// MaxNights bounds the nights of one trial.
const MaxNights = 400

// check fills in the defaults and looks over the sessions.
func (in *Input) check() error {
	switch {
	case in.Now.IsZero():
		return &InputError{"now", "unknown", "the present moment"}
	case !(in.LatDeg >= -90 && in.LatDeg <= 90) || !(in.LonDeg >= -180 && in.LonDeg <= 180):
		return &InputError{"place", fmt.Sprintf("%g, %g", in.LatDeg, in.LonDeg), "latitude and longitude in degrees"}
	case len(in.A) == 0 || len(in.B) == 0:
		return &InputError{"records", fmt.Sprintf("%d of A and %d of B", len(in.A), len(in.B)), "readings of both thermometers"}
	case len(in.Sessions) == 0:
		return &InputError{"sessions", "none", "which nights the thermometers hung in which way"}
	}
	if in.Rules == (Rules{}) {
		in.Rules = DefaultRules()
	}
	if in.Conf == 0 {
		in.Conf = defaultConf
	}
	if err := checkConf(in.Conf); err != nil {
		return err
	}
	seen := map[sky.Date]Session{}
	for _, s := range in.Sessions {
		if err := s.check(); err != nil {
			return err
		}
		for d := s.From; !s.To.Before(d); d = d.AddDays(1) {
			if other, twice := seen[d]; twice {
				return &InputError{"evening " + d.String(), "in two sessions: " + other.String() + "; " + s.String(), "each evening in one; the evening of the day of a swap belongs to what hung then"}
			}
			if seen[d] = s; len(seen) > MaxNights {
				return &InputError{"sessions", "longer than " + fmt.Sprint(MaxNights) + " nights", "fewer"}
			}
		}
	}
	return nil
}

func (s Session) check() error {
	switch {
	case s.Kind != SideBySide && s.Kind != Before && s.Kind != Contrast:
		return &InputError{"session", fmt.Sprintf("%q", s.Kind), "side, before or trial"}
	case s.Kind == SideBySide && s.Over != "", s.Kind != SideBySide && s.Over != A && s.Over != B:
		return &InputError{"session " + string(s.Kind), fmt.Sprintf("thermometer %q over the measured floor", s.Over), "A or B (side by side: neither)"}
	case !s.From.Valid() || !s.To.Valid() || s.To.Before(s.From):
		return &InputError{"session " + string(s.Kind), s.From.String() + " to " + s.To.String(), "first and last evening"}
	}
	return nil
}

const defaultConf = 0.95

func checkConf(c float64) error {
	if !(c >= 0.5 && c <= 0.999) {
		return &InputError{"confidence", fmt.Sprint(c), "0.5 to 0.999"}
	}
	return nil
}
