package farm

import (
	"fmt"
	"math"
	"strings"

	"budward/physics/quantity"
)

// feelClass is one class of the feel-and-appearance method: a share of the
// available water (between wilting point and field capacity).
type feelClass struct {
	words  []string
	lo, hi float64
}

// The classes of the USDA's feel-and-appearance method for estimating soil
// moisture (0-25, 25-50, 50-75, 75-100 % of the available water, and field
// capacity) [MEMORY, NRCS programme aid 1619].
var feelClasses = []feelClass{
	{[]string{"dry"}, 0, 0.25},
	{[]string{"slightly moist"}, 0.25, 0.50},
	{[]string{"moist"}, 0.50, 0.75},
	{[]string{"wet"}, 0.75, 1},
	{[]string{"field capacity", "fc", "at field capacity"}, 1, 1},
}

// Spreads, one standard deviation.
const (
	// feelError: a practised hand is within about 5 % of available water [MEMORY,
	// as above]; a rare user's is taken as twice that.
	feelError = 0.10
	// classFieldCapacity: field capacity of one soil about the class value;
	// +-0.05 taken as a range of plus or minus 1.7 standard deviations.
	classFieldCapacity = 0.03
	// readingError: a probe without calibration to the soil (common practice).
	readingError = 0.03
	// assumedError, of available water: nothing is known.
	assumedError = 0.30
)

// ParseMoisture reads the water content of a strip's top 30 cm:
//
//	"18%", "0.18m3/m3"        by volume, as read from a probe or an oven
//	"18% +-2%"                the same with its own spread
//	"60%aw"                   share of the available water of this soil
//	"dry", "slightly moist", "moist", "wet", "field capacity"   by hand-feel
//
// Words and %aw go through the soil's wilting point and field capacity. The
// spread says how little is known: by hand-feel the width of the class, the
// hand's own error and, where field capacity is a class value, its spread. A
// value above porosity, or a bare number, is a *FieldError. At is left zero.
func ParseMoisture(text string, soil Soil) (Moisture, error) {
	g, _, err := soil.Resolve()
	if err != nil {
		return Moisture{}, err
	}
	const want = `water by volume such as "18%" or "0.18m3/m3", a share of available water such as "60%aw", or dry, slightly moist, moist, wet, field capacity`
	s := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	available := g.FieldCapacity - g.WiltingPoint
	soilSpread := classFieldCapacity
	if soil.FieldCapacity > 0 {
		soilSpread = 0
	}
	for _, c := range feelClasses {
		for _, w := range c.words {
			if s == w {
				width := (c.hi - c.lo) / math.Sqrt(12) // sd of an even spread over the class
				return Moisture{
					Value:  g.WiltingPoint + available*(c.lo+c.hi)/2,
					Spread: math.Hypot(available*math.Hypot(width, feelError), soilSpread),
					Source: MoistureHandFeel,
				}, nil
			}
		}
	}
	if share, ok := strings.CutSuffix(s, "aw"); ok {
		v, err := quantity.ParsePercent(strings.TrimSpace(share))
		if err != nil {
			return Moisture{}, &FieldError{"moisture", text, want}
		}
		return Moisture{
			Value:  g.WiltingPoint + available*float64(v),
			Spread: math.Hypot(available*feelError, soilSpread),
			Source: MoistureHandFeel,
		}, nil
	}
	return volumetric(text, s, g.Porosity, want)
}

func volumetric(text, s string, porosity float64, want string) (Moisture, error) {
	value, spread, own := s, "", false
	for _, mark := range []string{"+-", "±", "+/-"} {
		if v, sp, ok := strings.Cut(s, mark); ok {
			value, spread, own = strings.TrimSpace(v), strings.TrimSpace(sp), true
			break
		}
	}
	if !strings.Contains(value, "%") && !strings.Contains(value, "m3") {
		return Moisture{}, &FieldError{"moisture", text, want}
	}
	v, err := quantity.ParseShare(value)
	if err != nil {
		return Moisture{}, &FieldError{"moisture", text, want}
	}
	m := Moisture{Value: float64(v), Spread: readingError, Source: MoistureReading}
	if own {
		sp, err := quantity.ParseShare(spread)
		if err != nil {
			return Moisture{}, &FieldError{"moisture", text, `the spread with its unit, such as "18% +-2%"`}
		}
		m.Spread = float64(sp)
	}
	if m.Value > porosity {
		return Moisture{}, &FieldError{"moisture", text, fmt.Sprintf("at most the soil's porosity, %g m3/m3", porosity)}
	}
	return m, nil
}

// AssumedMoisture is what is taken when nothing is known of a strip's moisture:
// half the available water, with a spread that covers most of it.
func AssumedMoisture(soil Soil) (Moisture, error) {
	g, _, err := soil.Resolve()
	if err != nil {
		return Moisture{}, err
	}
	available := g.FieldCapacity - g.WiltingPoint
	return Moisture{Value: g.WiltingPoint + available/2, Spread: available * assumedError, Source: MoistureAssumed}, nil
}
