package feed

import (
	"strings"

	"budward/decide/weather"
)

// dimension is what a unit measures.
type dimension uint8

const (
	temperature dimension = iota
	speed
	share      // of the sky, of saturation, of soil volume
	humidity   // share of saturation, kept in %
	waterDepth // rain
	waterRate
	flux
	pressure
)

// conversion takes a value from a feed's unit to the program's: x * scale + add.
type conversion struct {
	dim        dimension
	scale, add float64
}

func (c conversion) apply(x float64) float64 { return x*c.scale + c.add }

// units are the units understood, by their plain name. Factors are exact by
// definition of the units (inch 25.4 mm, knot 1852 m/h, mile 1609.344 m)
// except the conventional inch of mercury (3.386389 kPa, NIST SP 811).
var units = map[dimension]map[string]conversion{
	temperature: {"c": {scale: 1}, "f": {scale: 1 / 1.8, add: -32 / 1.8}, "k": {scale: 1, add: -273.15}},
	speed:       {"m/s": {scale: 1}, "km/h": {scale: 1 / 3.6}, "mph": {scale: 0.44704}, "kt": {scale: 1852.0 / 3600}},
	share:       {"%": {scale: 0.01}, "fraction": {scale: 1}, "okta": {scale: 0.125}, "m3/m3": {scale: 1}},
	humidity:    {"%": {scale: 1}, "fraction": {scale: 100}},
	waterDepth:  {"mm": {scale: 1}, "in": {scale: 25.4}, "m": {scale: 1000}},
	waterRate:   {"mm/h": {scale: 1}, "in/h": {scale: 25.4}},
	flux:        {"w/m2": {scale: 1}},
	pressure:    {"kpa": {scale: 1}, "hpa": {scale: 0.1}, "pa": {scale: 0.001}, "inhg": {scale: 3.386389}},
}

// unitNames gives the order units are shown in, and the ending by which a
// column name carries them.
var unitNames = map[dimension][]struct{ unit, suffix string }{
	temperature: {{"c", "c"}, {"f", "f"}, {"k", "k"}},
	speed:       {{"m/s", "m_s"}, {"km/h", "km_h"}, {"mph", "mph"}, {"kt", "kt"}},
	share:       {{"%", "pct"}, {"fraction", "frac"}, {"okta", "okta"}, {"m3/m3", "m3_m3"}},
	humidity:    {{"%", "pct"}, {"fraction", "frac"}},
	waterDepth:  {{"mm", "mm"}, {"in", "in"}},
	waterRate:   {{"mm/h", "mm_h"}, {"in/h", "in_h"}},
	flux:        {{"w/m2", "w_m2"}},
	pressure:    {{"kpa", "kpa"}, {"hpa", "hpa"}, {"inhg", "inhg"}},
}

// unitAlias brings the ways units are written to their plain names.
var unitAlias = map[string]string{
	"c": "c", "degc": "c", "deg c": "c", "°c": "c", "° c": "c", "celsius": "c", "℃": "c",
	"f": "f", "degf": "f", "deg f": "f", "°f": "f", "° f": "f", "fahrenheit": "f", "℉": "f",
	"k": "k", "kelvin": "k",
	"m/s": "m/s", "m s-1": "m/s", "m_s": "m/s", "mps": "m/s", "ms-1": "m/s", "m_s-1": "m/s",
	"km/h": "km/h", "km_h": "km/h", "kmh": "km/h", "kph": "km/h", "km h-1": "km/h", "km_h-1": "km/h",
	"mph": "mph", "mi/h": "mph", "miles/h": "mph",
	"kt": "kt", "kts": "kt", "kn": "kt", "knot": "kt", "knots": "kt",
	"%": "%", "pct": "%", "percent": "%",
	"fraction": "fraction", "frac": "fraction", "0-1": "fraction", "0..1": "fraction",
	"okta": "okta", "oktas": "okta", "eighths": "okta",
	"m3/m3": "m3/m3", "m3_m3": "m3/m3", "m³/m³": "m3/m3", "m3 m-3": "m3/m3", "vwc": "m3/m3",
	"mm": "mm", "in": "in", "inch": "in", "inches": "in", "m": "m",
	"mm/h": "mm/h", "mm_h": "mm/h", "mm/hr": "mm/h", "in/h": "in/h", "in_h": "in/h", "in/hr": "in/h",
	"w/m2": "w/m2", "w_m2": "w/m2", "w/m²": "w/m2", "w/m^2": "w/m2", "w m-2": "w/m2",
	"kpa": "kpa", "hpa": "hpa", "mb": "hpa", "mbar": "hpa", "pa": "pa", "inhg": "inhg", "in hg": "inhg",
}

// dimensions lists what a variable may be given in.
func dimensions(v weather.Variable) []dimension {
	switch v {
	case weather.RelHumidity:
		return []dimension{humidity}
	case weather.Wind:
		return []dimension{speed}
	case weather.Cloud, weather.SoilMoist5, weather.SoilMoist10, weather.SoilMoist20, weather.SoilMoist50, weather.SoilMoist100:
		return []dimension{share}
	case weather.Rain:
		return []dimension{waterDepth, waterRate}
	case weather.Solar:
		return []dimension{flux}
	case weather.Pressure:
		return []dimension{pressure}
	}
	return []dimension{temperature}
}

// unitFits refuses units of the right dimension that make no sense for v.
func unitFits(v weather.Variable, unit string) bool {
	switch unit {
	case "okta":
		return v == weather.Cloud
	case "m3/m3":
		return v != weather.Cloud
	}
	return true
}

// unitFor returns the conversion of a unit's plain name for v.
func unitFor(v weather.Variable, unit string) (conversion, bool) {
	for _, d := range dimensions(v) {
		if c, ok := units[d][unit]; ok && unitFits(v, unit) {
			c.dim = d
			return c, true
		}
	}
	return conversion{}, false
}

// plainUnit brings a written unit to its plain name; "" if it is not known.
func plainUnit(s string) string {
	return unitAlias[strings.Join(strings.Fields(strings.ToLower(s)), " ")]
}

// suffixes returns the endings by which a column of v may carry its unit.
func suffixes(v weather.Variable) []string {
	var out []string
	for _, d := range dimensions(v) {
		for _, u := range unitNames[d] {
			if unitFits(v, u.unit) {
				out = append(out, u.suffix)
			}
		}
	}
	return out
}
