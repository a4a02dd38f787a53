package quantity

import (
	"fmt"
	"strconv"
)

// RangeError says that a value lies outside the range in which a formula or a
// field is valid. A function that returns it returns no number.
type RangeError struct {
	Quantity string  // what the value is, such as "dew point"
	Value    float64 // the value given; may be NaN
	Lo, Hi   float64 // the valid range, both ends included
	Unit     string  // unit of Value, Lo and Hi, such as "degC"; "" for a pure number
	Source   string  // the formula or rule that sets the range
}

// Error writes the quantity, the value, the valid range and where it comes from.
func (e *RangeError) Error() string {
	unit := ""
	if e.Unit != "" {
		unit = " " + e.Unit
	}
	s := fmt.Sprintf("%s %s%s is outside %s to %s%s", e.Quantity, number(e.Value), unit,
		number(e.Lo), number(e.Hi), unit)
	if e.Source != "" {
		s += " (" + e.Source + ")"
	}
	return s
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// InRange returns nil when lo <= v <= hi and a *RangeError otherwise. NaN is
// outside every range.
func InRange(name string, v, lo, hi float64, unit, source string) error {
	if v >= lo && v <= hi {
		return nil
	}
	return &RangeError{Quantity: name, Value: v, Lo: lo, Hi: hi, Unit: unit, Source: source}
}
