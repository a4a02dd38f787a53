package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// maxText bounds the text of one quantity; anything longer is not a quantity.
const maxText = 64

// UnitError says that a text is not a quantity of the kind asked for.
type UnitError struct {
	Quantity string   // what was expected, such as "temperature"
	Text     string   // what was given
	Why      string   // what is wrong with it
	Accepted []string // units that are accepted
	Example  string   // one text that would be accepted
}

// Error writes the text, what is wrong and what would be accepted.
func (e *UnitError) Error() string {
	return fmt.Sprintf("%s %q: %s; write a number and one of %s, such as %s",
		e.Quantity, e.Text, e.Why, strings.Join(e.Accepted, ", "), e.Example)
}

// unit is one unit of a measure: inner value = (written - zero) * factor.
type unit struct {
	name    string // as shown to people
	factor  float64
	zero    float64
	aliases []string // normalised, besides the normalised name
}

// measure is one kind of quantity with the units it may be written in.
type measure struct {
	name    string
	example string
	inner   string // inner unit, for RangeError
	lo, hi  float64
	units   []unit
}

func (m *measure) accepted() []string {
	out := make([]string, len(m.units))
	for i, u := range m.units {
		out[i] = u.name
	}
	return out
}

func (m *measure) fail(text, why string) error {
	if len(text) > maxText {
		text = text[:maxText] + "..."
	}
	return &UnitError{Quantity: m.name, Text: text, Why: why, Accepted: m.accepted(), Example: m.example}
}

// parse reads a number and a unit and returns the value in the inner unit.
func (m *measure) parse(text string) (float64, error) {
	x, unitText, why := split(text)
	if why != "" {
		return 0, m.fail(text, why)
	}
	if unitText == "" {
		return 0, m.fail(text, "the unit is missing")
	}
	u := m.find(unitText)
	if u == nil {
		return 0, m.fail(text, fmt.Sprintf("unit %q is not known here", unitText))
	}
	v := (x - u.zero) * u.factor
	if err := InRange(m.name, v, m.lo, m.hi, m.inner, fmt.Sprintf("read from %q", strings.TrimSpace(text))); err != nil {
		return 0, err
	}
	return v, nil
}

func (m *measure) find(unitText string) *unit {
	n := normal(unitText)
	for i := range m.units {
		u := &m.units[i]
		if n == normal(u.name) {
			return u
		}
		for _, a := range u.aliases {
			if n == a {
				return u
			}
		}
	}
	return nil
}

// normal folds the ways one unit is written into one: case, spaces, degree
// sign, raised digits, "per", "acre" and "hour" spelt out.
func normal(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch {
		case unicode.IsSpace(r) || r == '.' || r == '·':
		case r == '°' || r == 'º':
			b.WriteString("deg")
		case r == '²':
			b.WriteByte('2')
		case r == '³':
			b.WriteByte('3')
		case r == '^':
		default:
			b.WriteRune(r)
		}
	}
	n := b.String()
	head, tail, ok := strings.Cut(n, "/")
	if !ok {
		return n
	}
	if long, found := perLong[tail]; found {
		tail = long
	}
	return head + "/" + tail
}

// perLong shortens what stands after the stroke.
var perLong = map[string]string{
	"acre": "ac", "acres": "ac", "hour": "h", "hr": "h", "sec": "s", "second": "s", "minute": "min",
	"day": "d", "hectare": "ha",
}

// split cuts a text into its number and its unit; why is not empty when there
// is no readable number in front.
func split(text string) (x float64, unitText, why string) {
	if len(text) > maxText {
		return 0, "", fmt.Sprintf("longer than %d bytes", maxText)
	}
	s := strings.TrimSpace(text)
	if s == "" {
		return 0, "", "empty"
	}
	sign := ""
	for _, p := range []string{"+", "-", "\u2212"} {
		if rest, ok := strings.CutPrefix(s, p); ok {
			if s = strings.TrimSpace(rest); p != "+" {
				sign = "-"
			}
			break
		}
	}
	end, digits, points := 0, 0, 0
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || s[end] == '.') {
		if s[end] == '.' {
			points++
		} else {
			digits++
		}
		end++
	}
	rest := strings.TrimSpace(s[end:])
	switch {
	case strings.HasPrefix(rest, ","):
		return 0, "", "a comma in the number is not read, since it may stand for a decimal point or for thousands; use a point"
	case digits == 0:
		return 0, "", "no number in front"
	case points > 1:
		return 0, "", "more than one decimal point"
	case strings.HasPrefix(rest, "_") || strings.HasPrefix(rest, "'"):
		return 0, "", "separators inside a number are not read"
	}
	v, err := strconv.ParseFloat(sign+s[:end], 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, "", "the number cannot be read"
	}
	return v, rest, ""
}

// ParseCelsius reads a temperature such as 31F, -0.5C or 272K.
func ParseCelsius(text string) (Celsius, error) {
	v, err := temperature.parse(text)
	return Celsius(v), err
}

// ParseKelvin reads a temperature difference such as 2F, 1.1K or 1C. The
// 32-degree offset is never applied.
func ParseKelvin(text string) (Kelvin, error) {
	v, err := difference.parse(text)
	return Kelvin(v), err
}

// ParseRate reads an application or rain rate such as 10gpm/ac, 2.8mm/h or
// 0.11in/h.
func ParseRate(text string) (MillimetrePerHour, error) {
	v, err := rate.parse(text)
	return MillimetrePerHour(v), err
}

// ParseLength reads a length, height or elevation such as 30in, 12ft or 0.3m.
// It may be negative (land below the sea).
func ParseLength(text string) (Metre, error) {
	v, err := length.parse(text)
	return Metre(v), err
}

// ParseArea reads an area such as 12ac, 5ha or 300m2.
func ParseArea(text string) (Hectare, error) {
	v, err := area.parse(text)
	return Hectare(v), err
}

// ParseFlow reads a flow such as 600gpm, 38L/s, 10m3/h or 1gph.
func ParseFlow(text string) (LitrePerSecond, error) {
	v, err := flow.parse(text)
	return LitrePerSecond(v), err
}

// ParseDepth reads a depth of water such as 27mm or 1in.
func ParseDepth(text string) (Millimetre, error) {
	v, err := waterDepth.parse(text)
	return Millimetre(v), err
}

// ParseVolume reads a volume of water such as 40m3, 500gal or 2acft.
func ParseVolume(text string) (CubicMetre, error) {
	v, err := volume.parse(text)
	return CubicMetre(v), err
}

// ParsePressure reads an air or vapour pressure such as 101.3kPa, 1013hPa,
// 29.9inHg or 14.7psi.
func ParsePressure(text string) (Kilopascal, error) {
	v, err := pressure.parse(text)
	return Kilopascal(v), err
}

// ParseWind reads a wind speed such as 3mph, 1.5m/s, 5km/h or 4kt.
func ParseWind(text string) (MetrePerSecond, error) {
	v, err := wind.parse(text)
	return MetrePerSecond(v), err
}

// ParseCrop reads a mass per area such as 12t/ha or 5ton/ac (US short tons).
func ParseCrop(text string) (TonnePerHectare, error) {
	v, err := massPerArea.parse(text)
	return TonnePerHectare(v), err
}

// ParseEnergy reads an energy per area such as 22.1MJ/m2 or 6kWh/m2.
func ParseEnergy(text string) (MegajoulePerSquareMetre, error) {
	v, err := energy.parse(text)
	return MegajoulePerSquareMetre(v), err
}

// ParseFlux reads an energy flux density such as 123W/m2.
func ParseFlux(text string) (WattPerSquareMetre, error) {
	v, err := flux.parse(text)
	return WattPerSquareMetre(v), err
}

// ParsePower reads a power such as 70kW or 95hp.
func ParsePower(text string) (Kilowatt, error) {
	v, err := power.parse(text)
	return Kilowatt(v), err
}

// ParseAngle reads an angle such as 7deg.
func ParseAngle(text string) (Degree, error) {
	v, err := angle.parse(text)
	return Degree(v), err
}

// ParsePercent reads a share with its percent sign, such as 70%. Use it where
// 0.7 might be meant as 0.7 % (relative humidity).
func ParsePercent(text string) (Share, error) {
	v, err := percent.parse(text)
	return Share(v), err
}

// ParseShare reads a share written as 70%, 0.12m3/m3, or as a bare fraction
// with its decimal point, 0.7. A bare whole number is refused: 1 may be one
// percent or the whole.
func ParseShare(text string) (Share, error) {
	x, unitText, why := split(text)
	if why == "" && unitText == "" {
		if !strings.Contains(text, ".") {
			return 0, share.fail(text, "a whole number without a percent sign may mean either")
		}
		err := InRange(share.name, x, 0, 1, "", "a bare fraction")
		if err != nil {
			return 0, err
		}
		return Share(x), nil
	}
	v, err := share.parse(text)
	return Share(v), err
}

// ParseLatitude reads a latitude in degrees: 38.5N, 33.4S, 38.5deg or a bare
// decimal number, north positive.
func ParseLatitude(text string) (Degree, error) { return parsePlace(text, &latitude, 'n', 's') }

// ParseLongitude reads a longitude in degrees: 122.4W, 16.2E, or a bare decimal
// number, east positive.
func ParseLongitude(text string) (Degree, error) { return parsePlace(text, &longitude, 'e', 'w') }

func parsePlace(text string, m *measure, plus, minus rune) (Degree, error) {
	x, unitText, why := split(text)
	if why != "" {
		return 0, m.fail(text, why)
	}
	n := strings.TrimPrefix(normal(unitText), "deg")
	switch n {
	case "":
	case string(plus), string(minus):
		if x < 0 {
			return 0, m.fail(text, "a sign and a letter together may mean either")
		}
		if n == string(minus) {
			x = -x
		}
	default:
		return 0, m.fail(text, fmt.Sprintf("unit %q is not known here", unitText))
	}
	if err := InRange(m.name, x, m.lo, m.hi, m.inner, fmt.Sprintf("read from %q", strings.TrimSpace(text))); err != nil {
		return 0, err
	}
	return Degree(x), nil
}

// ParseDuration reads a length of time such as 36h, 2d, 45min or 1h 30min,
// larger units first, each once. It is at least 0 and at most 100 years.
func ParseDuration(text string) (time.Duration, error) {
	rest := strings.TrimSpace(text)
	if len(rest) > maxText || rest == "" || rest[0] == '-' || rest[0] == '+' {
		_, _, why := split(rest)
		if why == "" {
			why = "a length of time has no sign"
		}
		return 0, duration.fail(text, why)
	}
	const maxHours = 100 * 366 * 24.0
	hours, last := 0.0, math.Inf(1)
	for rest != "" {
		end := strings.IndexFunc(rest, func(r rune) bool { return unicode.IsLetter(r) })
		if end < 0 {
			end = len(rest)
		}
		tail := strings.TrimLeftFunc(rest[end:], unicode.IsLetter)
		part := strings.TrimSuffix(rest, tail)
		v, err := duration.parse(part)
		if err != nil {
			if ue, ok := err.(*UnitError); ok {
				return 0, duration.fail(text, ue.Why)
			}
			return 0, err
		}
		_, unitText, _ := split(part)
		size := duration.find(unitText).factor
		if size >= last {
			return 0, duration.fail(text, "larger units come first and each once")
		}
		last, hours, rest = size, hours+v, strings.TrimSpace(tail)
		if strings.HasPrefix(rest, "-") || strings.HasPrefix(rest, "+") {
			return 0, duration.fail(text, "a sign inside a length of time")
		}
	}
	if err := InRange(duration.name, hours, 0, maxHours, "h", "at most 100 years"); err != nil {
		return 0, err
	}
	return time.Duration(math.Round(hours * float64(time.Hour))), nil
}
