package quantity

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// read adapts a typed parser to float64 for tables.
func read[T ~float64](f func(string) (T, error)) func(string) (float64, error) {
	return func(s string) (float64, error) { v, err := f(s); return float64(v), err }
}

var parsers = map[string]func(string) (float64, error){
	"temperature": read(ParseCelsius), "difference": read(ParseKelvin), "rate": read(ParseRate),
	"length": read(ParseLength), "area": read(ParseArea), "flow": read(ParseFlow),
	"depth": read(ParseDepth), "volume": read(ParseVolume), "pressure": read(ParsePressure),
	"wind": read(ParseWind), "crop": read(ParseCrop), "energy": read(ParseEnergy),
	"flux": read(ParseFlux), "power": read(ParsePower), "angle": read(ParseAngle),
	"percent": read(ParsePercent), "share": read(ParseShare),
	"latitude": read(ParseLatitude), "longitude": read(ParseLongitude),
	"duration": func(s string) (float64, error) { d, err := ParseDuration(s); return d.Hours(), err },
}

// Wanted values are the definitions of the units worked by hand (inch 25.4 mm,
// US gallon 231 in3, acre 43560 ft2, pound 0.45359237 kg), or the conversions
// of the trade named in the row.
var parseCases = []struct {
	kind, text string
	want, tol  float64 // tol is relative to the digits of want
}{
	{"temperature", "31F", -5.0 / 9, 1e-14},
	{"temperature", "32 °F", 0, 1e-14},
	{"temperature", "-40F", -40, 1e-13},
	{"temperature", "-40 degC", -40, 0},
	{"temperature", "-0.5C", -0.5, 0},
	{"temperature", "−0.5 c", -0.5, 0}, // true minus sign
	{"temperature", "272K", -1.15, 1e-12},
	{"temperature", " + 5.25 C ", 5.25, 0},
	{"temperature", ".5C", 0.5, 0},
	{"difference", "2F", 10.0 / 9, 1e-14},
	{"difference", "1.8 degF", 1, 1e-14},
	{"difference", "1.1K", 1.1, 0},
	{"difference", "-1C", -1, 0},
	{"rate", "2.8mm/h", 2.8, 0},
	{"rate", "1in/h", 25.4, 1e-14},
	{"rate", "452.6 gpm/acre", 25.4, 1e-4},      // 1 in/h = 452.6 US gpm/acre
	{"rate", "50gpm/ac", 0.11 * 25.4, 0.01},     // 50 gpm/acre = 0.11 in/h, two digits
	{"rate", "10 GPM / Acre", 0.561, 1e-3},      // a fifth of 50 gpm/acre = 2.806 mm/h
	{"rate", "24.96cm/d", 10.4, 1e-13},          // 249.6 mm in 24 h
	{"rate", "1 L/s/ha", 0.36, 1e-14},           // 3600 L/h on 10000 m2
	{"length", "30in", 0.762, 1e-14},            // 30 x 25.4 mm
	{"length", "12ft", 3.6576, 1e-14},           // 12 x 0.3048 m
	{"length", "0.3m", 0.3, 0},                  //
	{"length", "5 cm", 0.05, 1e-14},             //
	{"length", "3mm", 0.003, 1e-14},             //
	{"length", "-12 feet", -3.6576, 1e-14},      //
	{"area", "1acre", 0.40468564224, 1e-14},     // 43560 ft2
	{"area", "43560 ft2", 0.40468564224, 1e-14}, //
	{"area", "5ha", 5, 0},                       //
	{"area", "300m²", 0.03, 1e-14},              //
	{"flow", "600gpm", 37.854118, 1e-7},         // 600 x 3.785411784 / 60
	{"flow", "38L/s", 38, 0},                    //
	{"flow", "36 m3/h", 10, 1e-14},              //
	{"flow", "1gph", 3.785411784 / 3600, 1e-14}, //
	{"flow", "3.6L/h", 0.001, 1e-14},            //
	{"flow", "1 ft3/s", 28.316846592, 1e-14},    //
	{"depth", "27mm", 27, 0},                    //
	{"depth", "1in", 25.4, 0},                   //
	{"depth", "10 m3/ha", 1, 1e-14},             //
	{"volume", "40m3", 40, 0},                   //
	{"volume", "1000 L", 1, 1e-14},              //
	{"volume", "264.172 gal", 1, 1e-6},          // 1 m3 = 264.172 US gal
	{"volume", "1 acre-foot", 1233.48, 1e-5},    // 43560 ft3
	{"volume", "12 ac-in", 1233.48, 1e-5},       // the same
	{"pressure", "101.325kPa", 101.325, 0},      //
	{"pressure", "1013.25 hPa", 101.325, 1e-13}, //
	{"pressure", "1013.25mb", 101.325, 1e-13},   //
	{"pressure", "29.921 inHg", 101.325, 1e-4},  // standard atmosphere
	{"pressure", "760 mmHg", 101.325, 1e-6},     // standard atmosphere
	{"pressure", "14.696psi", 101.325, 1e-4},    // standard atmosphere
	{"wind", "1mph", 0.44704, 1e-14},            //
	{"wind", "1.5m/s", 1.5, 0},                  //
	{"wind", "36km/h", 10, 1e-14},               //
	{"wind", "1 kt", 0.514444, 1e-6},            //
	{"crop", "12t/ha", 12, 0},                   //
	{"crop", "1 ton/acre", 2.2417, 1e-4},        // 907.185 kg on 0.404686 ha
	{"crop", "2000 lb/ac", 2.2417, 1e-4},        // the same
	{"energy", "1kWh/m2", 3.6, 0},               //
	{"flux", "-90 W/m2", -90, 0},                //
	{"power", "1 hp", 0.7457, 1e-5},             //
	{"power", "1000000 BTU/h", 293.071, 1e-6},   //
	{"angle", "7°", 7, 0},                       //
	{"percent", "70%", 0.7, 1e-14},              //
	{"share", "70 %", 0.7, 1e-14},               //
	{"share", "0.12", 0.12, 0},                  //
	{"share", "0.12 m3/m3", 0.12, 0},            //
	{"latitude", "33.4S", -33.4, 0},             //
	{"latitude", "38.5° N", 38.5, 0},            //
	{"latitude", "-33.4", -33.4, 0},             //
	{"longitude", "122.4W", -122.4, 0},          //
	{"longitude", "16.25e", 16.25, 0},           //
	{"duration", "36h", 36, 0},                  //
	{"duration", "2d", 48, 0},                   //
	{"duration", "45min", 0.75, 1e-14},          //
	{"duration", "1h30min", 1.5, 1e-14},         //
	{"duration", "2 days 6 hours", 54, 1e-14},   //
	{"duration", "0.5 h", 0.5, 0},               //
}

func TestParse(t *testing.T) {
	for _, c := range parseCases {
		got, err := parsers[c.kind](c.text)
		if err != nil || !(math.Abs(got-c.want) <= c.tol*math.Max(1, math.Abs(c.want))) {
			t.Errorf("%s %q = %v, %v; want %v", c.kind, c.text, got, err, c.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct{ kind, text, says string }{
		{"temperature", "31", "unit is missing"},
		{"temperature", "", "empty"},
		{"temperature", "   ", "empty"},
		{"temperature", "F", "no number"},
		{"temperature", "-1,5C", "comma"},
		{"temperature", "1 ,5C", "comma"},
		{"temperature", "NaN C", "no number"},
		{"temperature", "InfC", "no number"},
		{"temperature", "-infF", "no number"},
		{"temperature", "0x1F", "not known"},
		{"temperature", "1e3F", "not known"},
		{"temperature", "1.2.3C", "more than one"},
		{"temperature", "--3C", "no number"},
		{"temperature", "1_000F", "separators"},
		{"temperature", "10mm", "not known"},
		{"temperature", strings.Repeat("1", 70) + "F", "longer"},
		{"difference", "2", "unit is missing"},
		{"rate", "10", "unit is missing"},
		{"rate", "10gpm", "not known"}, // a flow, not a rate
		{"rate", "2.8mm", "not known"}, // a depth, not a rate
		{"length", "12", "unit is missing"},
		{"area", "12", "unit is missing"},
		{"flow", "600", "unit is missing"},
		{"flow", "10gpm/ac", "not known"},
		{"depth", "27", "unit is missing"},
		{"volume", "1,233m3", "comma"},
		{"pressure", "1013", "unit is missing"},
		{"wind", "3", "unit is missing"},
		{"crop", "5 tons/ha", "not known"}, // short or metric?
		{"percent", "0.7", "unit is missing"},
		{"percent", "70", "unit is missing"},
		{"share", "1", "may mean either"},
		{"share", "70", "may mean either"},
		{"latitude", "-33S", "may mean either"},
		{"latitude", "38.5E", "not known"},
		{"longitude", "16.2N", "not known"},
		{"duration", "36", "unit is missing"},
		{"duration", "-3h", "sign"},
		{"duration", "3min 2h", "larger units come first"},
		{"duration", "1h 1h", "larger units come first"},
		{"duration", "1h -5min", "sign"},
		{"duration", "1h 5", "unit is missing"},
	} {
		v, err := parsers[c.kind](c.text)
		var ue *UnitError
		if !errors.As(err, &ue) || v != 0 {
			t.Errorf("%s %q = %v, %v; want a *UnitError and no number", c.kind, c.text, v, err)
			continue
		}
		if !strings.Contains(ue.Why, c.says) || len(ue.Accepted) == 0 || ue.Example == "" {
			t.Errorf("%s %q: %v; want it to say %q and what is accepted", c.kind, c.text, err, c.says)
		}
	}
	for _, c := range []struct{ kind, text string }{
		{"temperature", "-300C"}, {"temperature", "-500F"}, {"temperature", "-1K"},
		{"rate", "-1mm/h"}, {"area", "-1ha"}, {"flow", "-1gpm"}, {"wind", "-1m/s"},
		{"percent", "101%"}, {"percent", "-1%"}, {"share", "1.5"}, {"share", "-0.1"},
		{"latitude", "91"}, {"longitude", "181W"}, {"duration", "40000d"},
	} {
		v, err := parsers[c.kind](c.text)
		var re *RangeError
		if !errors.As(err, &re) || v != 0 {
			t.Errorf("%s %q = %v, %v; want a *RangeError and no number", c.kind, c.text, v, err)
		}
	}
}

// Every accepted unit reads, the example of each measure reads, and no two
// units of one measure are written alike.
func TestUnitTables(t *testing.T) {
	for _, m := range []*measure{&temperature, &difference, &rate, &length, &area, &flow,
		&waterDepth, &volume, &pressure, &wind, &massPerArea, &energy, &flux, &power,
		&percent, &share, &angle, &duration} {
		seen := map[string]string{}
		for _, u := range m.units {
			if _, err := m.parse("1" + u.name); err != nil {
				t.Errorf("%s: accepted unit %q does not read: %v", m.name, u.name, err)
			}
			for _, a := range append([]string{normal(u.name)}, u.aliases...) {
				if other, dup := seen[a]; dup {
					t.Errorf("%s: %q stands for both %s and %s", m.name, a, other, u.name)
				}
				if normal(a) != a {
					t.Errorf("%s: alias %q can never match, its normal form is %q", m.name, a, normal(a))
				}
				seen[a] = u.name
			}
		}
		if _, err := m.parse(strings.Fields(m.example)[0]); err != nil {
			t.Errorf("%s: example %q does not read: %v", m.name, m.example, err)
		}
	}
}

// A text in any unit reads to the value that inner-unit text gives after the
// conversion is undone: read(x unit) = (x - zero) factor, checked here through
// ratios of two readings so that the factor itself is not the expectation.
func TestParseIsLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := []*measure{&rate, &length, &area, &flow, &waterDepth, &volume, &pressure, &wind,
			&massPerArea, &energy, &power, &difference}
		m := rapid.SampledFrom(ms).Draw(t, "measure")
		u := rapid.SampledFrom(m.units).Draw(t, "unit")
		x := rapid.Float64Range(0.001, 1e6).Draw(t, "x")
		k := float64(rapid.IntRange(2, 50).Draw(t, "k"))
		text := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) + u.name }
		one, err1 := m.parse(text(x))
		many, err2 := m.parse(text(x * k))
		if err1 != nil || err2 != nil || math.Abs(many/one-k) > 1e-12*k { // a few roundings
			t.Fatalf("%s %s: %v %v, %v %v", m.name, text(x), one, err1, many, err2)
		}
	})
}

// The offset belongs to temperatures and never to differences: the difference
// of two readings is the reading of the difference.
func TestDifferenceHasNoOffset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unitName := rapid.SampledFrom([]string{"F", "C", "K"}).Draw(t, "unit")
		a := rapid.Float64Range(250, 330).Draw(t, "a")
		b := rapid.Float64Range(250, 330).Draw(t, "b")
		text := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) + unitName }
		ca, err1 := ParseCelsius(text(a))
		cb, err2 := ParseCelsius(text(b))
		d, err3 := ParseKelvin(text(a - b))
		if err := errors.Join(err1, err2, err3); err != nil || math.Abs(float64(ca-cb)-float64(d)) > 1e-12 { // roundings near 300
			t.Fatalf("%v - %v = %v, but difference reads %v (%v)", ca, cb, ca-cb, d, err)
		}
	})
}

func TestDurationWhole(t *testing.T) {
	d, err := ParseDuration("1d 2h 3min 4s")
	if want := 26*time.Hour + 3*time.Minute + 4*time.Second; err != nil || d != want {
		t.Errorf("got %v, %v; want %v", d, err, want)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"31F", "-0.5C", "10gpm/ac", "10 gpm/acre", "2.8mm/h", "12 ac", "70%",
		"1h 30min", "38.5N", "1,5C", "NaN", "0x1p3F", "−3 °C", "1e9F", "3 m3/m3", "", ".", "+"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for kind, p := range parsers {
			v, err := p(s)
			if err == nil {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%s %q gave %v", kind, s, v)
				}
				continue
			}
			var ue *UnitError
			var re *RangeError
			if v != 0 || !errors.As(err, &ue) && !errors.As(err, &re) || err.Error() == "" {
				t.Fatalf("%s %q gave %v with error %T %v", kind, s, v, err, err)
			}
		}
	})
}
