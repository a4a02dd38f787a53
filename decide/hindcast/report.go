package hindcast

import (
	"math"
	"strconv"
	"time"

	"budward/decide/predict"
	"budward/physics/sky"
)

// Num is a number that may be unknown: NaN in Go, null in JSON.
type Num float64

// Known says whether it is a number.
func (n Num) Known() bool { return !math.IsNaN(float64(n)) && !math.IsInf(float64(n), 0) }

// MarshalJSON writes null for what is not known.
func (n Num) MarshalJSON() ([]byte, error) {
	if !n.Known() {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, float64(n), 'g', -1, 64), nil
}

// Report is what a replay found.
type Report struct {
	Station   string        `json:"station"`
	Place     predict.Place `json:"place"`
	PlaceFrom string        `json:"place_from"`
	Zone      string        `json:"zone"`
	FromAt    time.Time     `json:"from_at"`
	ToAt      time.Time     `json:"to_at"`
	Season    string        `json:"season"` // first and last evening
	Training  Training      `json:"training"`
	FrostC    float64       `json:"frost_c"`

	Seasons []SeasonCount `json:"by_season"`
	LeftOut []ReasonCount `json:"nights_left_out"`
	Read    []Instrument  `json:"instruments"`

	Findings     []Finding    `json:"findings"`
	Leads        []LeadReport `json:"leads"`
	DaysAhead    []DayScore   `json:"days_ahead"`
	DaysAheadWhy string       `json:"days_ahead_why"` // why there are none; "" = there are
	Notes        []string     `json:"notes"`

	// Table is every number said, for a file; not part of the JSON.
	Table []Row `json:"-"`
}

// SeasonCount is one season's nights.
type SeasonCount struct {
	Season string `json:"season"`
	Nights int    `json:"nights"` // asked for
	Scored int    `json:"scored_nights"`
	Frosty int    `json:"frosty_nights"` // scored, with a minimum at or below the frost limit
}

// ReasonCount is how many nights of the season were left out for one reason.
type ReasonCount struct {
	Why    string `json:"why"`
	Nights int    `json:"nights"`
}

// Instrument is one variable and how much of the season's nights has it.
type Instrument struct {
	Variable string `json:"variable"`
	Share    Num    `json:"known_share"` // of the hours of scored nights
}

// LeadReport is the scores of one moment of the night.
type LeadReport struct {
	Name  string        `json:"lead_name"`
	Label string        `json:"label"`
	All   []MethodScore `json:"all_nights"`
	Frost []MethodScore `json:"frosty_nights"`

	// Against the handbook regression of the same evening, on the nights both have.
	GainAll   Gain `json:"against_regression"`
	GainFrost Gain `json:"against_regression_frosty"`

	// Thirds is how often the model's 80 % band held by third of its predicted
	// minimum, coldest first.
	Thirds     []BandShare       `json:"thirds"`
	Thresholds []ThresholdReport `json:"thresholds"`
	Feed       FeedGain          `json:"with_forecast"`
}

// MethodScore is how well one method did on a set of nights.
type MethodScore struct {
	Method string `json:"method"`
	Label  string `json:"label"`
	N      int    `json:"n"`
	Left   int    `json:"left_out"` // nights on which it said nothing
	BiasK  Num    `json:"bias_k"`   // said minus measured
	RMSEK  Num    `json:"rmse_k"`
	MAEK   Num    `json:"mae_k"`

	// Of its distribution; null where it has none.
	CRPSK        Num `json:"crps_k"`
	Covered50    Num `json:"covered_50_share"`
	Covered80    Num `json:"covered_80_share"`
	Width50K     Num `json:"width_50_k"`
	Width80K     Num `json:"width_80_k"`
	Distribution int `json:"distribution_nights"`
}

// Gain is how much smaller the model's RMSE is than another method's, as a share
// of that, on the nights both have, with a 95 % interval from a paired bootstrap.
type Gain struct {
	N       int `json:"n"`
	Low     Num `json:"low_share"`
	Central Num `json:"central_share"`
	High    Num `json:"high_share"`
}

// BandShare is how often a band held.
type BandShare struct {
	N     int `json:"n"`
	FromC Num `json:"from_c"` // lowest and highest prediction of the third
	ToC   Num `json:"to_c"`
	Share Num `json:"held_share"`
}

// ThresholdReport is how well passing one temperature was foretold.
type ThresholdReport struct {
	ThresholdC  float64         `json:"threshold_c"`
	Events      int             `json:"event_nights"` // minimum at or below it
	Methods     []ThresholdCall `json:"methods"`
	Reliability []Reliability   `json:"reliability"` // of the model
}

// ThresholdCall is one method's record on one threshold.
type ThresholdCall struct {
	Method string `json:"method"`
	Label  string `json:"label"`
	N      int    `json:"n"`
	Brier  Num    `json:"brier_share"` // mean squared error of the probability
	// Calls are the alarms when the probability said is at least a half, and at
	// least the cost share of each case of Value.
	Even  Calls   `json:"even_chance"`
	Value []Value `json:"by_cost"`
}

// Calls counts alarms against what came.
type Calls struct {
	Hits        int `json:"hits_nights"`
	Misses      int `json:"misses_nights"`
	FalseAlarms int `json:"false_alarms_nights"`
	Quiet       int `json:"quiet_nights"`
}

// Value is what acting on a method is worth when acting costs CostShare of the
// loss it spares:
//
//	value = (E_usual - E) / (E_usual - E_perfect)
//
// E is the mean expense of acting whenever the probability said is at least the
// cost share, E_usual that of always or never acting, whichever these nights show
// to be cheaper, E_perfect that of acting on event nights alone. 1 is perfect, 0
// no better than the fixed habit, below 0 worse.
type Value struct {
	CostShare float64 `json:"cost_share"`
	Calls     Calls   `json:"calls"`
	Value     Num     `json:"value_share"`
}

// Reliability is one bin of probabilities said.
type Reliability struct {
	From float64 `json:"from_share"`
	To   float64 `json:"to_share"`
	N    int     `json:"n"`
	Said Num     `json:"said_share"` // mean
	Seen Num     `json:"seen_share"`
}

// FeedGain is what the model's error would come down to with a forecast of the
// night's minimum beside it: weighted by the two variances, errors taken as
// independent.
type FeedGain struct {
	ForecastK Num  `json:"forecast_error_k"` // RMSE of that forecast
	Measured  bool `json:"measured"`         // false: assumed, the stated prior of a first-day forecast
	LeftK     Num  `json:"left_k"`           // RMSE of the two together
}

// DayScore is how past forecasts did, by days ahead of the night.
type DayScore struct {
	AheadDays int `json:"ahead_days"` // 0: within 24 h of the minimum
	N         int `json:"n"`
	BiasK     Num `json:"bias_k"`
	RMSEK     Num `json:"rmse_k"`
	MAEK      Num `json:"mae_k"`
}

// Row is what one method said of one night at one lead.
type Row struct {
	Evening  sky.Date
	Year     int
	Lead     string
	Method   string
	MeanC    float64
	Band80   predict.Band
	HasBand  bool
	MinimumC float64
}
