// Package farm holds the nouns of a vineyard: farm, block, strip, soil,
// station, water source, water system, equipment and people, as a grower
// describes them. It computes no physics and touches no file or database.
package farm

import (
	"time"

	"budward/physics/quantity"
)

// Farm is everything one person is answerable for.
type Farm struct {
	ID         string  `json:"id"`
	Name       string  `json:"name"`
	Zone       string  `json:"zone"` // IANA time zone, such as "America/Los_Angeles"
	LatDeg     float64 `json:"lat_deg"`
	LonDeg     float64 `json:"lon_deg"`
	ElevationM float64 `json:"elevation_m"`
	Currency   string  `json:"currency"` // ISO 4217
	// WorstLossShare, where above zero, is the largest share of a block's crop
	// (0..1) the owner accepts to lose in a night; the decision then takes the
	// cheapest choice that respects it in nine nights of ten.
	WorstLossShare float64 `json:"worst_loss_share"`
	LabourPerHour  float64 `json:"labour_per_h"`  // money per person-hour
	HandsTonight   int     `json:"hands_tonight"` // people who can work through the night; 0 = not stated

	Stations  []Station   `json:"stations"`
	Blocks    []Block     `json:"blocks"`
	Sources   []Source    `json:"sources"`
	Equipment []Equipment `json:"equipment"`
	People    []Person    `json:"people"`
	// Defaults lists every value that was not given and was filled in.
	Defaults []Default `json:"defaults,omitempty"`
}

// Default records one value that was taken because none was given.
type Default struct {
	Where string `json:"where"` // "blocks.csv line 4" or "block B3"
	Field string `json:"field"`
	Value string `json:"value"` // with unit
	Why   string `json:"why"`   // source, or "common practice"
}

// Block is an area of one cultivar managed as one.
type Block struct {
	ID            string          `json:"id"`
	Name          string          `json:"name"`
	AreaHa        float64         `json:"area_ha"`
	Cultivar      string          `json:"cultivar"`
	Species       Species         `json:"species"`
	Use           Use             `json:"use"`
	Pruning       Pruning         `json:"pruning"`
	NodesKept     float64         `json:"nodes_kept"` // nodes per vine left at pruning
	CordonHeightM float64         `json:"cordon_height_m"`
	RowSpacingM   float64         `json:"row_spacing_m"`
	VineSpacingM  float64         `json:"vine_spacing_m"`
	FetchM        float64         `json:"fetch_m"` // upwind run of this floor; 0 = from the area
	LatDeg        float64         `json:"lat_deg"`
	LonDeg        float64         `json:"lon_deg"`
	ElevationM    float64         `json:"elevation_m"`
	ColdSpotK     quantity.Kelvin `json:"cold_spot_k"` // how much colder the coldest tenth of the block is than its mean, >= 0
	OffsetK       quantity.Kelvin `json:"offset_k"`    // grower's own estimate of block minus station on clear nights, floor apart
	OffsetKnown   bool            `json:"offset_known"`
	Soil          Soil            `json:"soil"`
	Strips        []Strip         `json:"strips"`
	System        System          `json:"system"`     // water system; Kind "" = none
	Protection    []string        `json:"protection"` // IDs of fans, heaters that serve this block
	StationID     string          `json:"station_id"`
	CropTHa       float64         `json:"crop_t_ha"`
	PricePerT     float64         `json:"price_per_t"`
	CriticalTable string          `json:"critical_table"` // name of a vine table; "" = by species
	// SecondaryShare, TertiaryShare: yield of a secondary or tertiary shoot as
	// a share of a primary's (0..1); below zero = by cultivar.
	SecondaryShare float64      `json:"secondary_share"`
	TertiaryShare  float64      `json:"tertiary_share"`
	Polygon        [][2]float64 `json:"polygon,omitempty"` // outer ring, lon lat, RFC 7946 order; may be empty
}

// Species groups cultivars whose cold tolerance may not be interchanged.
type Species string

const (
	Vinifera Species = "vinifera"
	Labrusca Species = "labrusca"
	Hybrid   Species = "hybrid"
)

// Use is what the crop is grown for.
type Use string

const (
	Wine   Use = "wine"
	Table  Use = "table"
	Raisin Use = "raisin"
	Juice  Use = "juice"
)

// Pruning is the way the vines are pruned.
type Pruning string

const (
	Spur    Pruning = "spur"
	Cane    Pruning = "cane"
	Minimal Pruning = "minimal"
)

// Soil is a block's soil: a USDA texture class, and numbers of the user's own
// where known (zero = take the class value).
type Soil struct {
	Texture       string  `json:"texture"`        // "loam", "sandy loam", ...
	FieldCapacity float64 `json:"field_capacity"` // m3/m3
	WiltingPoint  float64 `json:"wilting_point"`  // m3/m3
	Porosity      float64 `json:"porosity"`       // m3/m3
	Quartz        float64 `json:"quartz"`         // share of the solids
	KsMmH         float64 `json:"ks_mm_h"`        // saturated conductivity
}

// Surface is what lies on top of a strip.
type Surface string

const (
	BareFirm Surface = "bare firm" // undisturbed, rolled or rained-in
	Disked   Surface = "disked"    // freshly loosened, DepthM deep
	Cover    Surface = "cover"     // living cover, HeightM tall (mown or not)
	Residue  Surface = "residue"   // shredded or mulched residue, HeightM thick
)

// Strip is a share of a block's floor with one surface and one moisture.
type Strip struct {
	Name     string   `json:"name"`  // "under-vine", "middle"
	Share    float64  `json:"share"` // of the block's floor, 0..1; a block's strips sum to 1
	Surface  Surface  `json:"surface"`
	HeightM  float64  `json:"height_m"` // cover height or residue thickness
	DepthM   float64  `json:"depth_m"`  // loosened depth
	Moisture Moisture `json:"moisture"`
}

// MoistureSource says where a moisture value comes from.
type MoistureSource string

const (
	MoistureReading  MoistureSource = "reading"
	MoistureHandFeel MoistureSource = "hand-feel"
	MoistureAssumed  MoistureSource = "assumed"
)

// Moisture is the water content of a strip's top 30 cm.
type Moisture struct {
	Value  float64        `json:"value_m3_m3"`
	Spread float64        `json:"spread_m3_m3"` // one standard deviation of what is not known
	Source MoistureSource `json:"source"`
	At     time.Time      `json:"at"`
}

// SystemKind is the way a block gets water.
type SystemKind string

const (
	NoSystem       SystemKind = ""
	Drip           SystemKind = "drip"
	MicroSprinkler SystemKind = "micro-sprinkler"
	Furrow         SystemKind = "furrow"
	Flood          SystemKind = "flood"
	OverVine       SystemKind = "over-vine sprinkler"
)

// System is a block's water system.
type System struct {
	Kind           SystemKind `json:"kind"`
	SourceID       string     `json:"source_id"`
	RateMmH        float64    `json:"rate_mm_h"`   // application rate averaged over the whole block
	WetShare       float64    `json:"wet_share"`   // share of the floor wetted once running is established
	EmitterLPH     float64    `json:"emitter_lph"` // flow of one emitter, point sources only
	EmitterAlongM  float64    `json:"emitter_along_m"`
	EmitterAcrossM float64    `json:"emitter_across_m"`
	BuriedM        float64    `json:"buried_m"`    // depth of buried lines, 0 = at the surface
	WetsStrip      string     `json:"wets_strip"`  // name of the strip it wets first; "" = the first one
	LineFillH      float64    `json:"line_fill_h"` // hours from opening to the last emitter
	AdvanceH       float64    `json:"advance_h"`   // hours for furrow or flood water to reach the end
	Uniformity     float64    `json:"uniformity"`  // distribution uniformity 0..1
	EnergyCostPerH float64    `json:"energy_cost_per_h"`
}

// Station is where weather is read or forecast for.
type Station struct {
	ID         string  `json:"id"`
	Name       string  `json:"name"`
	LatDeg     float64 `json:"lat_deg"`
	LonDeg     float64 `json:"lon_deg"`
	ElevationM float64 `json:"elevation_m"`
	// BlockID, where set, says that this is a thermometer hung in a block at
	// cordon height: its readings teach the block's offset.
	BlockID       string  `json:"block_id"`
	SensorHeightM float64 `json:"sensor_height_m"`
	WindHeightM   float64 `json:"wind_height_m"`
	Shelter       Shelter `json:"shelter"`
	// Surroundings describe the floor of the few hundred metres upwind.
	Surroundings Strip `json:"surroundings"`
	Soil         Soil  `json:"soil"`
}

// Shelter is the way a thermometer is housed.
type Shelter string

const (
	Aspirated Shelter = "aspirated"
	Screen    Shelter = "screen"
	Open      Shelter = "open"
)

// Source is a water source.
type Source struct {
	ID             string           `json:"id"`
	Name           string           `json:"name"`
	FlowLPS        float64          `json:"flow_lps"`
	WaterTempC     quantity.Celsius `json:"water_temp_c"`
	CostPerM3      float64          `json:"cost_per_m3"`
	FrostUseStated bool             `json:"frost_use_stated"` // the user has said whether the right covers frost protection
	FrostUse       bool             `json:"frost_use"`
}

// EquipmentKind is what a piece of equipment does.
type EquipmentKind string

const (
	Fan     EquipmentKind = "fan"
	Heaters EquipmentKind = "heaters"
)

// Equipment is a fan or a set of heaters.
type Equipment struct {
	ID       string        `json:"id"`
	Name     string        `json:"name"`
	Kind     EquipmentKind `json:"kind"`
	AreaHa   float64       `json:"area_ha"` // area one machine or the whole set serves
	Count    int           `json:"count"`
	PowerKW  float64       `json:"power_kw"`   // heaters: heat of fuel burnt by the whole set
	CostPerH float64       `json:"cost_per_h"` // fuel and energy, whole set
}

// Person is someone who works or answers.
type Person struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Phone string `json:"phone"`
	Mail  string `json:"mail"`
	Units string `json:"units"` // "us" or "metric"
	Night bool   `json:"night"` // can work through the night
}
