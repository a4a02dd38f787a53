package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// System is the units a person reads in.
type System int

// The two systems. US means US customary units with US gallons and short tons.
const (
	US System = iota
	Metric
)

// Unknown is printed for NaN, the inner mark of a value that is not known.
const Unknown = "unknown"

// ParseSystem reads "us" or "metric".
func ParseSystem(text string) (System, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "us":
		return US, nil
	case "metric":
		return Metric, nil
	}
	return 0, &UnitError{Quantity: "unit system", Text: text, Why: "not known",
		Accepted: []string{"us", "metric"}, Example: "us"}
}

// String returns "us" or "metric".
func (s System) String() string {
	switch s {
	case US:
		return "us"
	case Metric:
		return "metric"
	}
	return "System(" + strconv.Itoa(int(s)) + ")"
}

// pick panics on a System that does not exist: that is a programmer's error.
func (s System) pick(us, metric string) string {
	switch s {
	case US:
		return us
	case Metric:
		return metric
	}
	panic("quantity: unknown unit system " + strconv.Itoa(int(s)))
}

// fixed prints v with the digits after the point, never as -0, and with its
// unit; NaN prints as Unknown.
func fixed(v float64, digits int, unit string) string {
	switch {
	case math.IsNaN(v):
		return Unknown
	case math.IsInf(v, 0):
		return fmt.Sprintf("%+f %s", v, unit)
	}
	t := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(t, "-0.") == "" {
		t = strings.TrimPrefix(t, "-")
	}
	return t + " " + unit
}

// three prints v with about three significant digits and at most max digits
// after the point.
func three(v float64, max int, unit string) string {
	digits := max
	for a, limit := math.Abs(v), 9.995; digits > 0 && a >= limit*math.Pow(10, float64(2-max)); digits-- {
		limit *= 10
	}
	return fixed(v, digits, unit)
}

// Temperature prints a temperature to a tenth of a degree: "28.4 °F".
func (s System) Temperature(c Celsius) string {
	return s.pick(fixed(c.Fahrenheit(), 1, "°F"), fixed(float64(c), 1, "°C"))
}

// Difference prints a temperature difference: "1.3 °F", "0.7 K".
func (s System) Difference(k Kelvin) string {
	return s.pick(fixed(k.Fahrenheit(), 1, "°F"), fixed(float64(k), 1, "K"))
}

// SignedDifference prints a temperature difference with its sign, "+1.3 °F";
// what rounds to zero has none.
func (s System) SignedDifference(k Kelvin) string {
	t := s.Difference(k)
	if k > 0 && strings.Trim(strings.Fields(t)[0], "0.") != "" && !strings.HasPrefix(t, "+") {
		return "+" + t
	}
	return t
}

// Rate prints an application rate: "10.0 gpm/ac", "0.56 mm/h".
func (s System) Rate(r MillimetrePerHour) string {
	return s.pick(three(r.GPMPerAcre(), 1, "gpm/ac"), three(float64(r), 2, "mm/h"))
}

// RainRate prints a rain or evaporation rate: "0.11 in/h", "2.80 mm/h".
func (s System) RainRate(r MillimetrePerHour) string {
	return s.pick(three(float64(r)/InchMM, 3, "in/h"), three(float64(r), 2, "mm/h"))
}

// Length prints a length: inches below 5 ft and feet above; millimetres below
// 1 cm, centimetres below 1 m, metres above.
func (s System) Length(m Metre) string {
	v, a := float64(m), math.Abs(float64(m))
	us := three(v/FootM, 1, "ft")
	if a < 5*FootM {
		us = three(v*1000/InchMM, 1, "in")
	}
	metric := three(v, 2, "m")
	switch {
	case a < 0.01:
		metric = three(v*1000, 1, "mm")
	case a < 1:
		metric = three(v*100, 1, "cm")
	}
	return s.pick(us, metric)
}

// Area prints an area: "12.0 ac", "4.86 ha".
func (s System) Area(a Hectare) string {
	return s.pick(three(a.Acres(), 2, "ac"), three(float64(a), 2, "ha"))
}

// Depth prints a depth of water: "1.06 in", "27.0 mm".
func (s System) Depth(d Millimetre) string {
	return s.pick(three(float64(d)/InchMM, 2, "in"), three(float64(d), 1, "mm"))
}

// Flow prints a flow: gallons per hour below 1 gpm, gpm above; litres per hour
// below 0.5 L/s, litres per second above.
func (s System) Flow(f LitrePerSecond) string {
	v := float64(f)
	us := three(v*60/GallonL, 2, "gpm")
	if math.Abs(v)*60/GallonL < 1 {
		us = three(v*3600/GallonL, 2, "gph")
	}
	metric := three(v, 2, "L/s")
	if math.Abs(v) < 0.5 {
		metric = three(v*3600, 2, "L/h")
	}
	return s.pick(us, metric)
}

// Wind prints a wind speed: "3.4 mph", "1.5 m/s".
func (s System) Wind(w MetrePerSecond) string {
	return s.pick(fixed(float64(w)/MileHourMS, 1, "mph"), fixed(float64(w), 1, "m/s"))
}

// Volume prints a volume of water: gallons below a tenth of an acre-foot and
// acre-feet above; litres below 1 m3 and cubic metres above.
func (s System) Volume(v CubicMetre) string {
	x, a := float64(v), math.Abs(float64(v))
	us := three(x/AcreFootM3, 3, "acft")
	if a < AcreFootM3/10 {
		us = three(x*1000/GallonL, 1, "gal")
	}
	metric := three(x, 2, "m3")
	if a < 1 {
		metric = three(x*1000, 1, "L")
	}
	return s.pick(us, metric)
}

// Pressure prints an air pressure: "29.92 inHg", "101.3 kPa".
func (s System) Pressure(p Kilopascal) string {
	return s.pick(fixed(float64(p)/InHgKPa, 2, "inHg"), fixed(float64(p), 1, "kPa"))
}

// Crop prints a mass per area: "5.35 ton/ac" (short tons), "12.0 t/ha".
func (s System) Crop(m TonnePerHectare) string {
	const tonAcre = ShortTonKg / 1000 / (AcreM2 / 1e4)
	return s.pick(three(float64(m)/tonAcre, 2, "ton/ac"), three(float64(m), 2, "t/ha"))
}

// Percent prints a share as a whole percentage: "70 %". A share that is not
// zero or one never prints as 0 or 100: it prints "<1 %" or ">99 %".
func Percent(p Share) string {
	switch v := float64(p) * 100; {
	case math.IsNaN(v):
		return Unknown
	case v > 0 && v < 0.5:
		return "<1 %"
	case v < 100 && v >= 99.5:
		return ">99 %"
	default:
		return fixed(v, 0, "%")
	}
}
