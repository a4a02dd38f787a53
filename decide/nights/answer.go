// Package nights answers, block by block, how cold each coming night gets, what
// the block can stand, what would be lost with nothing done, what each choice
// open to it is worth, when slow water must start, and whether the floor may
// be worked. It is pure: state, weather, the present moment and a seed in; the
// answer out.
package nights

import (
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/vineyard/vine"
)

// Answer is the answer for one farm at one moment.
type Answer struct {
	FarmID   string          `json:"farm_id"`
	FarmName string          `json:"farm_name"`
	Zone     string          `json:"zone"`
	Currency string          `json:"currency"`
	At       time.Time       `json:"at"`
	Seed     uint64          `json:"seed"`
	Members  int             `json:"members"` // scenarios per station
	Nights   []weather.Night `json:"nights"`
	Stations []StationState  `json:"stations"`
	Blocks   []BlockAnswer   `json:"blocks"` // most worrying first
	Shared   []Shared        `json:"shared"` // sources and hands that were short
	Notes    []Note          `json:"notes"`
}

// Note is something assumed, guessed or missing that the reader must see.
type Note struct {
	Code string `json:"code"` // stable, kebab-case
	Text string `json:"text"` // one plain sentence
}

// StationState says what is known at a station.
type StationState struct {
	StationID     string             `json:"station_id"`
	Name          string             `json:"name"`
	ForecastFrom  string             `json:"forecast_from"` // origin; "" = no forecast
	IssuedAt      time.Time          `json:"issued_at"`
	ReadingsTo    time.Time          `json:"readings_to_at"` // last reading; zero = none
	ReadingHours  int                `json:"reading_hours"`  // hours of readings that the soil was run through
	LearnedNights int                `json:"learned_nights"` // nights the forecast error was learned from
	Coverage      []weather.Coverage `json:"coverage"`       // by night
	LowSoFar      *quantity.Celsius  `json:"low_so_far_c"`   // lowest reading of a night under way
	LowSoFarAt    time.Time          `json:"low_so_far_at"`
	Notes         []Note             `json:"notes"`
}

// Quantiles of a temperature, degC.
type Quantiles struct {
	P10C quantity.Celsius `json:"p10_c"`
	P50C quantity.Celsius `json:"p50_c"`
	P90C quantity.Celsius `json:"p90_c"`
}

// Worth is a gain with the range of what is known about it, K.
type Worth struct {
	LowK     quantity.Kelvin `json:"low_k"`
	CentralK quantity.Kelvin `json:"central_k"`
	HighK    quantity.Kelvin `json:"high_k"`
}

// Risk is what a night (or a run of nights) is expected to cost a block.
type Risk struct {
	Probability float64 `json:"probability"`     // that the coldest tenth falls below the 10 % critical temperature
	KillShare   float64 `json:"kill_share"`      // expected share of leading buds and shoots killed
	LossShare   float64 `json:"loss_share"`      // expected share of the crop lost
	LossLow     float64 `json:"loss_low_share"`  // one scenario in ten loses less than this
	LossHigh    float64 `json:"loss_high_share"` // one in ten loses more
	LossT       float64 `json:"loss_t"`          // tonnes expected
	LossMoney   float64 `json:"loss_money"`      // money expected, in the farm's currency
}

// BlockNight is one night of one block with nothing done beyond what is in
// place. Not covered: everything but Label and Why is empty. Without a stage or
// table (see BlockAnswer.Unknown) the temperatures are there and what depends
// on the vine is nil.
type BlockNight struct {
	Label       string            `json:"label"`
	Covered     bool              `json:"covered"`
	Why         string            `json:"why,omitempty"`
	Min         *Quantiles        `json:"min"`             // block mean at cordon height
	ColdSpotC   *quantity.Celsius `json:"cold_spot_p50_c"` // the coldest tenth of the block, median scenario
	MinAt       time.Time         `json:"min_at"`          // usual time of the minimum
	CriticalC   *quantity.Celsius `json:"critical_t10_c"`  // air temperature at which 10 % die: that night's stage and bud cooling
	Critical50C *quantity.Celsius `json:"critical_t50_c"`
	MarginK     *quantity.Kelvin  `json:"margin_k"`   // median minimum less CriticalC
	FloorGain   Worth             `json:"floor_gain"` // of the floor as it is, against the station's floor
	OffsetK     quantity.Kelvin   `json:"offset_k"`   // learned or stated block offset used
	HeightK     quantity.Kelvin   `json:"height_k"`   // from sensor to cordon height
	BudK        quantity.Kelvin   `json:"bud_k"`      // buds colder than the air by this, median scenario
	SpreadK     quantity.Kelvin   `json:"spread_k"`   // one standard deviation of the minimum
	HoursBelow  float64           `json:"below_h"`    // expected hours below CriticalC
	Risk        *Risk             `json:"risk"`
	Outside     []Note            `json:"outside,omitempty"` // where the physics is outside its competence
}

// ChoiceKind names what can be done.
type ChoiceKind string

const (
	Nothing   ChoiceKind = "nothing"
	RunWater  ChoiceKind = "run water tonight" // surface system through the night
	WetFloor  ChoiceKind = "wet the floor"     // refill ahead of cold nights
	MowFloor  ChoiceKind = "mow"               // short cover ahead of cold nights
	OverVine  ChoiceKind = "over-vine sprinklers"
	RunFan    ChoiceKind = "fan"
	RunHeater ChoiceKind = "heaters"
)

// Choice is one thing open to a block, with what it is worth.
type Choice struct {
	Kind       ChoiceKind        `json:"kind"`
	Label      string            `json:"label"` // plain words
	Open       bool              `json:"open"`  // false: may not or cannot be done; WhyNot says why
	WhyNot     string            `json:"why_not,omitempty"`
	Ahead      bool              `json:"ahead"`     // works on the nights to come (wetting, mowing), not on tonight alone
	Gain       Worth             `json:"gain"`      // beyond the floor as it is, on night ForNight, in the median scenario
	ForNight   int               `json:"for_night"` // index of the night Gain speaks of
	StartAt    time.Time         `json:"start_at"`
	StopAt     time.Time         `json:"stop_at"`
	StartAirC  *quantity.Celsius `json:"start_air_c,omitempty"` // start when the air (upwind) falls to this
	StopRule   string            `json:"stop_rule,omitempty"`
	WaterMM    float64           `json:"water_mm"` // over the block
	WaterM3    float64           `json:"water_m3"`
	Risk       Risk              `json:"risk"`          // with this done: of tonight, or of all nights covered where Ahead
	Avoided    float64           `json:"avoided_money"` // expected loss avoided against Nothing over the same nights
	SavedShare float64           `json:"saved_share"`   // expected share of the crop saved against Nothing over the same nights
	Cost       float64           `json:"cost_money"`    // water, energy and labour
	Net        float64           `json:"net_money"`     // Avoided less Cost
	// Conditions under which the gain holds, and cautions for who does it.
	Conditions []string `json:"conditions,omitempty"`
	Cautions   []string `json:"cautions,omitempty"`
	Chosen     bool     `json:"chosen"` // at most one for tonight and one ahead
}

// Urgency orders blocks and is shown as a word.
type Urgency string

const (
	Act     Urgency = "act"     // something pays tonight, or has to be started now for a night ahead, or the loss is beyond what the owner accepts
	Watch   Urgency = "watch"   // damage possible, nothing pays tonight
	Prepare Urgency = "prepare" // quiet tonight; something done by day pays for a night ahead
	Quiet   Urgency = "quiet"   // margin
	Unknown Urgency = "unknown" // no answer: treat as watch and look at the block
)

// BlockAnswer is everything about one block.
type BlockAnswer struct {
	BlockID   string       `json:"block_id"`
	Name      string       `json:"name"`
	AreaHa    float64      `json:"area_ha"`
	Cultivar  string       `json:"cultivar"`
	StationID string       `json:"station_id"`
	Unknown   string       `json:"unknown,omitempty"` // why there is no answer, and what would settle it
	Urgency   Urgency      `json:"urgency"`
	Reason    string       `json:"reason"` // one plain sentence: what to do and why
	Stage     StageState   `json:"stage"`
	Table     TableState   `json:"table"`
	Floor     []StripState `json:"floor"`
	Learned   *Learned     `json:"learned"` // nil: no answer for the block
	Nights    []BlockNight `json:"nights"`
	Choices   []Choice     `json:"choices"` // for tonight; Nothing first
	Starts    []StartCurve `json:"starts"`  // when to start wetting, for each cold night ahead
	FloorWork []Verdict    `json:"floor_work"`
	Settle    string       `json:"settle,omitempty"` // which reading or look would settle an uncertain answer
	Notes     []Note       `json:"notes"`
}

// StageState is how far a block is.
type StageState struct {
	Mixture vine.Mixture `json:"mixture"` // as seen
	Tonight vine.Mixture `json:"tonight"` // moved on to the first night
	Text    string       `json:"text"`
}

// TableState says which critical temperatures are used.
type TableState struct {
	Name   string `json:"name"`
	Basis  string `json:"basis"` // "tissue" or "air"
	Source string `json:"source"`
}

// StripState is a strip as the physics sees it now.
type StripState struct {
	Name          string  `json:"name"`
	Share         float64 `json:"share"`
	Surface       string  `json:"surface"`
	Moisture      float64 `json:"moisture_m3_m3"` // top 30 cm now, modelled on from the last look
	Source        string  `json:"moisture_source"`
	FieldCapacity float64 `json:"field_capacity_m3_m3"`
	RefillMM      float64 `json:"refill_mm"` // over the strip
}

// StartCurve is what wetting is worth on one cold night by when it begins.
type StartCurve struct {
	Night   int             `json:"night"` // index
	Label   string          `json:"label"`
	SpreadK quantity.Kelvin `json:"spread_k"` // the forecast's own error, to hold the gains against
	Points  []StartPoint    `json:"points"`
	Text    string          `json:"text"` // one sentence
}

// StartPoint is one start of a wetting.
type StartPoint struct {
	StartAt  time.Time `json:"start_at"`
	FinishAt time.Time `json:"finish_at"`
	StartH   float64   `json:"start_h"`   // hours before the minimum
	LeadH    float64   `json:"lead_h"`    // finish to the minimum
	Label    string    `json:"label"`     // "now", "Tue dusk", ...
	WaterMM  float64   `json:"water_mm"`  // given, over the block
	WetShare float64   `json:"wet_share"` // of the floor, at the finish
	Gain     Worth     `json:"gain"`
	AllNight bool      `json:"all_night"` // runs through the night itself: warm water on the ground is in its gain, not only stored warmth
	Best     bool      `json:"best"`
}

// Verdict answers one floor-work question for the week.
type Verdict struct {
	Work   string          `json:"work"` // "disk", "mow", "drive"
	OK     bool            `json:"ok"`
	WorthK quantity.Kelvin `json:"worth_k"`  // what doing it now would change on the coldest night covered; below zero = colder
	Until  time.Time       `json:"until_at"` // not before this; zero = no limit seen within the nights covered
	Text   string          `json:"text"`
}

// Shared is a source or crew that could not serve every block that asked.
type Shared struct {
	What string   `json:"what"`
	Need string   `json:"need"`
	Have string   `json:"have"`
	Left []string `json:"left_out"` // block IDs, least worth first
	Text string   `json:"text"`
}
