package farm

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"budward/physics/quantity"
)

// column ties one CSV column to a field of T, both ways, so that what is
// written is read back the same.
type column[T any] struct {
	name  string
	need  bool   // an empty cell is an error
	def   string // taken, and listed, for an empty cell; "" = the field keeps its zero
	why   string // source of def
	read  func(p *T, text string) error
	write func(p *T) string // nil = the column is only read
}

// orElse gives a column a default with its source.
func (c column[T]) orElse(def, why string) column[T] {
	c.def, c.why = def, why
	return c
}

// needed makes an empty cell an error.
func (c column[T]) needed() column[T] {
	c.need = true
	return c
}

// text is a plain text column.
func text[T any](name string, field func(*T) *string) column[T] {
	return column[T]{name: name,
		read:  func(p *T, s string) error { *field(p) = s; return nil },
		write: func(p *T) string { return *field(p) }}
}

// word is a text column of named string type; it is folded to lower case.
func word[T any, W ~string](name string, field func(*T) *W) column[T] {
	return column[T]{name: name,
		read: func(p *T, s string) error {
			*field(p) = W(strings.Join(strings.Fields(strings.ToLower(s)), " "))
			return nil
		},
		write: func(p *T) string { return string(*field(p)) }}
}

// measured is a number with its unit, written in unit and read in any unit of
// its kind.
func measured[T any, Q ~float64](name, unit string, parse func(string) (Q, error), field func(*T) *float64) column[T] {
	return column[T]{name: name,
		read: func(p *T, s string) error {
			v, err := parse(s)
			*field(p) = float64(v)
			return err
		},
		write: func(p *T) string {
			if *field(p) == 0 {
				return ""
			}
			return plain(*field(p)) + unit
		}}
}

// always writes a measured column's zero too: for columns with a default, whose
// empty cell means something else.
func always[T any](c column[T], unit string, field func(*T) *float64) column[T] {
	c.write = func(p *T) string { return plain(*field(p)) + unit }
	return c
}

func parsePlain(lo, hi float64) func(string) (float64, error) {
	return func(s string) (float64, error) {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || !(v >= lo && v <= hi) || strings.ContainsAny(s, "xXpP_") {
			return 0, &FieldError{"", s, fmt.Sprintf("a number from %g to %g without a unit", lo, hi)}
		}
		return v, nil
	}
}

// parseShare reads a share and writes it so that it is read back exactly.
func parseShare(s string) (float64, error) {
	v, err := quantity.ParseShare(s)
	return float64(v), err
}

func shareText(v float64) string {
	s := plain(v)
	if !strings.Contains(s, ".") {
		s += ".0" // a bare whole number is refused on reading
	}
	return s
}

func share[T any](name string, field func(*T) *float64) column[T] {
	return column[T]{name: name,
		read:  func(p *T, s string) error { v, err := parseShare(s); *field(p) = v; return err },
		write: func(p *T) string { return shareText(*field(p)) }}
}

// optionalShare leaves the cell empty for zero.
func optionalShare[T any](name string, field func(*T) *float64) column[T] {
	c := share(name, field)
	c.write = func(p *T) string {
		if *field(p) == 0 {
			return ""
		}
		return shareText(*field(p))
	}
	return c
}

// parseSuffixed reads a number followed by exactly this unit without going
// through another unit; ok is false for any other text.
func parseSuffixed(s string, units ...string) (v float64, ok bool) {
	low := strings.ToLower(strings.ReplaceAll(s, " ", ""))
	for _, u := range units {
		num, found := strings.CutSuffix(low, u)
		if !found || strings.Trim(num, "0123456789.") != "" {
			continue
		}
		if v, err := strconv.ParseFloat(num, 64); err == nil {
			return v, true
		}
	}
	return 0, false
}

// parseLPH reads the flow of one emitter in L/h.
func parseLPH(s string) (float64, error) {
	if v, ok := parseSuffixed(s, "l/h", "lph"); ok {
		return v, nil
	}
	v, err := quantity.ParseFlow(s)
	return float64(v) * 3600, err
}

// parseHours reads a length of time in hours.
func parseHours(s string) (float64, error) {
	if v, ok := parseSuffixed(s, "h"); ok {
		return v, nil
	}
	d, err := quantity.ParseDuration(s)
	return d.Hours(), err
}

// parseMoney reads an amount per unit, such as "280/t". A bare number is
// refused: a ton is not a tonne and an acre-foot not a cubic metre. factor
// turns one of each unit into the inner unit.
func parseMoney(factor map[string]float64, example string) func(string) (float64, error) {
	return func(s string) (float64, error) {
		num, unit, ok := strings.Cut(strings.ToLower(strings.ReplaceAll(s, " ", "")), "/")
		v, err := parsePlain(0, 1e9)(num)
		f, known := factor[unit]
		if !ok || err != nil || !known {
			return 0, &FieldError{"", s, fmt.Sprintf("an amount per unit in the farm's currency, without its sign, such as %q", example)}
		}
		if f == 1 {
			return v, nil
		}
		return v * f, nil
	}
}

var (
	perTonne = parseMoney(map[string]float64{"t": 1, "tonne": 1, "ton": 1000 / quantity.ShortTonKg}, "280/t or 250/ton")
	perM3    = parseMoney(map[string]float64{"m3": 1, "acft": 1 / quantity.AcreFootM3, "ac-ft": 1 / quantity.AcreFootM3}, "0.05/m3 or 60/acft")
	perHour  = parseMoney(map[string]float64{"h": 1, "hr": 1, "hour": 1}, "25/h")
)

// yesNo is a tri-state: empty = not stated.
func yesNo[T any](name string, stated, value func(*T) *bool) column[T] {
	return column[T]{name: name,
		read: func(p *T, s string) error {
			switch strings.ToLower(s) {
			case "yes", "y", "true":
				*value(p) = true
			case "no", "n", "false":
				*value(p) = false
			default:
				return &FieldError{"", s, "yes, no, or an empty cell for not known"}
			}
			*stated(p) = true
			return nil
		},
		write: func(p *T) string {
			switch {
			case !*stated(p):
				return ""
			case *value(p):
				return "yes"
			}
			return "no"
		}}
}

// parseAt reads an instant (RFC 3339) or a date, which stands for its noon in
// UTC.
func parseAt(s string) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339Nano, s); err == nil {
		return t.UTC(), nil
	}
	if t, err := time.Parse(time.DateOnly, s); err == nil {
		return t.Add(12 * time.Hour), nil
	}
	return time.Time{}, &FieldError{"", s, `an instant such as "2026-03-01T16:00:00Z", or a date such as "2026-03-01"`}
}

func atText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}

// wantOf turns a reading error into what was expected.
func wantOf(err error) string {
	var fe *FieldError
	if errors.As(err, &fe) {
		return fe.Want
	}
	var ue *quantity.UnitError
	if errors.As(err, &ue) {
		return fmt.Sprintf("a number and a unit (%s), such as %s: %s", strings.Join(ue.Accepted, ", "), ue.Example, ue.Why)
	}
	return err.Error()
}
