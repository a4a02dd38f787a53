package weather

import (
	"math"
	"strings"
)

// variableInfo is one row of the table of variables.
type variableInfo struct {
	name     string // JSON and CSV name, unit last
	label    string // plain words
	unit     string // as shown
	lo, hi   float64
	rangeSrc string
}

// The ranges are the fixed plausible-value limits of the WMO Guide to the
// Global Observing System (WMO-No. 488, appendix VI.2, quality control of
// automatic stations), written down from memory and not verified here:
// air temperature -80..60, dew point -80..35, ground surface -80..80, soil
// -50..50 degC, humidity 0..100 %, wind 0..75 m/s, pressure 500..1100 hPa,
// radiation 0..1600 W/m2. Narrower than WMO where a vineyard allows it.
const (
	srcWMO      = "WMO-No. 488 app. VI.2 (from memory)"
	srcCommon   = "common practice"
	srcIdentity = "definition"
)

var variables = [NumVariables]variableInfo{
	AirTemp:      {"air_temp_c", "air temperature", "degC", -60, 55, srcWMO + ", narrowed"},
	DewPoint:     {"dew_point_c", "dew point", "degC", -80, 35, srcWMO},
	RelHumidity:  {"rh_pct", "relative humidity", "%", 0.5, 105, srcWMO + "; sensors at saturation read up to 105 (common practice)"},
	Wind:         {"wind_m_s", "wind", "m/s", 0, 75, srcWMO},
	Cloud:        {"cloud_frac", "cloud", "share of sky", 0, 1, srcIdentity},
	Rain:         {"rain_mm", "rain", "mm", 0, 300, "world record for one hour is about 305 mm (from memory)"},
	Solar:        {"solar_w_m2", "solar radiation", "W/m2", -10, 1600, srcWMO + "; a few W/m2 below zero is a sensor's night offset"},
	SurfaceTemp:  {"surface_temp_c", "surface temperature", "degC", -80, 80, srcWMO},
	SoilTemp5:    {"soil_temp_5cm_c", "soil temperature at 5 cm", "degC", -50, 60, srcWMO + ", hot dry skin allowed for"},
	SoilTemp10:   {"soil_temp_10cm_c", "soil temperature at 10 cm", "degC", -50, 55, srcWMO},
	SoilTemp20:   {"soil_temp_20cm_c", "soil temperature at 20 cm", "degC", -50, 50, srcWMO},
	SoilTemp50:   {"soil_temp_50cm_c", "soil temperature at 50 cm", "degC", -50, 50, srcWMO},
	SoilTemp100:  {"soil_temp_100cm_c", "soil temperature at 100 cm", "degC", -50, 50, srcWMO},
	SoilMoist5:   {"soil_moist_5cm_m3_m3", "soil moisture at 5 cm", "m3/m3", 0, 0.8, srcCommon + ": porosity of peat"},
	SoilMoist10:  {"soil_moist_10cm_m3_m3", "soil moisture at 10 cm", "m3/m3", 0, 0.8, srcCommon},
	SoilMoist20:  {"soil_moist_20cm_m3_m3", "soil moisture at 20 cm", "m3/m3", 0, 0.8, srcCommon},
	SoilMoist50:  {"soil_moist_50cm_m3_m3", "soil moisture at 50 cm", "m3/m3", 0, 0.8, srcCommon},
	SoilMoist100: {"soil_moist_100cm_m3_m3", "soil moisture at 100 cm", "m3/m3", 0, 0.8, srcCommon},
	Pressure:     {"pressure_kpa", "pressure", "kPa", 50, 110, srcWMO},
	AirTempMin:   {"air_temp_min_c", "lowest air temperature in the hour", "degC", -60, 55, srcWMO + ", narrowed"},
}

func (v Variable) info() variableInfo {
	if v >= NumVariables {
		panic("weather: Variable out of range")
	}
	return variables[v]
}

// String returns the JSON name with its unit suffix, such as air_temp_c.
func (v Variable) String() string { return v.info().name }

// Label returns the variable in plain words, without a unit.
func (v Variable) Label() string { return v.info().label }

// Unit returns the unit every value of v has inside the program.
func (v Variable) Unit() string { return v.info().unit }

// PlausibleRange returns the lowest and highest value of v that a reading or a
// forecast may have, and where the limits come from. Values outside are
// excluded by Screen, never clamped.
func (v Variable) PlausibleRange() (lo, hi float64, source string) {
	i := v.info()
	return i.lo, i.hi, i.rangeSrc
}

// Plausible says whether x is a number inside the plausible range of v.
func (v Variable) Plausible(x float64) bool {
	i := v.info()
	return x >= i.lo && x <= i.hi // NaN fails
}

// ParseVariable reads a JSON name such as air_temp_c, as printed by String.
func ParseVariable(name string) (Variable, error) {
	for v := range NumVariables {
		if variables[v].name == name {
			return v, nil
		}
	}
	return 0, &InputError{"variable", quote(name), "one of " + strings.Join(VariableNames(), ", ")}
}

// VariableNames lists the JSON names of all variables in their fixed order.
func VariableNames() []string {
	out := make([]string, NumVariables)
	for v := range NumVariables {
		out[v] = variables[v].name
	}
	return out
}

func quote(s string) string { return "\"" + s + "\"" }

var nan = math.NaN()
