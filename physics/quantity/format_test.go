package quantity

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Wanted texts are worked by hand from the definitions of the units.
func TestFormat(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{US.Temperature(-2), "28.4 °F"},
		{Metric.Temperature(-2), "-2.0 °C"},
		{Metric.Temperature(-0.04), "0.0 °C"},
		{US.Temperature(Celsius(math.NaN())), Unknown},
		{US.Difference(0.7222), "1.3 °F"},
		{Metric.Difference(0.7222), "0.7 K"},
		{US.SignedDifference(0.7222), "+1.3 °F"},
		{US.SignedDifference(-0.7222), "-1.3 °F"},
		{US.SignedDifference(0.01), "0.0 °F"},
		{US.SignedDifference(-0.01), "0.0 °F"},
		{Metric.SignedDifference(Kelvin(math.NaN())), Unknown},
		{US.Rate(2.8058), "50.0 gpm/ac"},
		{Metric.Rate(0.5612), "0.56 mm/h"},
		{US.RainRate(2.794), "0.110 in/h"},
		{US.Length(0.762), "30.0 in"},
		{Metric.Length(0.762), "76.2 cm"},
		{US.Length(100), "328 ft"},
		{Metric.Length(100), "100 m"},
		{Metric.Length(0.003), "3.0 mm"},
		{US.Area(4.85623), "12.0 ac"},
		{Metric.Area(4.85623), "4.86 ha"},
		{US.Depth(27), "1.06 in"},
		{Metric.Depth(27), "27.0 mm"},
		{US.Flow(37.854), "600 gpm"},
		{Metric.Flow(37.854), "37.9 L/s"},
		{US.Flow(0.00105150), "1.00 gph"},
		{Metric.Flow(0.0010515), "3.79 L/h"},
		{US.Wind(1.5), "3.4 mph"},
		{Metric.Wind(1.5), "1.5 m/s"},
		{US.Volume(40), "10567 gal"},
		{US.Volume(12335), "10.0 acft"},
		{Metric.Volume(40), "40.0 m3"},
		{Metric.Volume(0.04), "40.0 L"},
		{US.Pressure(101.325), "29.92 inHg"},
		{Metric.Pressure(101.325), "101.3 kPa"},
		{US.Crop(12), "5.35 ton/ac"},
		{Metric.Crop(12), "12.0 t/ha"},
		{Percent(0.7), "70 %"},
		{Percent(0.001), "<1 %"},
		{Percent(0.999), ">99 %"},
		{Percent(0), "0 %"},
		{Percent(1), "100 %"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	if US.String() != "us" || Metric.String() != "metric" {
		t.Errorf("names of the systems: %v %v", US, Metric)
	}
}

func TestParseSystem(t *testing.T) {
	for text, want := range map[string]System{"us": US, " US ": US, "metric": Metric} {
		if got, err := ParseSystem(text); err != nil || got != want {
			t.Errorf("%q = %v, %v", text, got, err)
		}
	}
	if _, err := ParseSystem("imperial"); err == nil {
		t.Error("imperial gallons are not US gallons and must be refused")
	}
}

func TestUnknownSystemPanics(t *testing.T) {
	defer func() {
		if r, _ := recover().(string); !strings.HasPrefix(r, "quantity: ") {
			t.Errorf("panic %q, want one that names the package", r)
		}
	}()
	System(7).Temperature(0)
}

// What is printed reads back to within half of the last digit printed; the
// relative bound 0.006 covers three significant digits (half of 1 in 100), the
// absolute bounds the smallest digit each format prints.
func TestFormatReadsBack(t *testing.T) {
	type pair struct {
		kind  string
		print func(System, float64) string
		lo    float64
		hi    float64
		abs   float64
	}
	pairs := []pair{
		{"temperature", func(s System, v float64) string { return s.Temperature(Celsius(v)) }, -40, 50, 0.051},
		{"difference", func(s System, v float64) string { return s.SignedDifference(Kelvin(v)) }, -20, 20, 0.051},
		{"rate", func(s System, v float64) string { return s.Rate(MillimetrePerHour(v)) }, 0, 200, 0.0051},
		{"rate", func(s System, v float64) string { return s.RainRate(MillimetrePerHour(v)) }, 0, 200, 0.0127},
		{"length", func(s System, v float64) string { return s.Length(Metre(v)) }, -100, 4000, 0.0013},
		{"area", func(s System, v float64) string { return s.Area(Hectare(v)) }, 0, 500, 0.0051},
		{"depth", func(s System, v float64) string { return s.Depth(Millimetre(v)) }, 0, 500, 0.128},
		{"flow", func(s System, v float64) string { return s.Flow(LitrePerSecond(v)) }, 0, 500, 6e-6},
		{"wind", func(s System, v float64) string { return s.Wind(MetrePerSecond(v)) }, 0, 40, 0.051},
		{"volume", func(s System, v float64) string { return s.Volume(CubicMetre(v)) }, 0, 1e5, 0.0002},
		{"pressure", func(s System, v float64) string { return s.Pressure(Kilopascal(v)) }, 50, 110, 0.051},
		{"crop", func(s System, v float64) string { return s.Crop(TonnePerHectare(v)) }, 0, 60, 0.0113},
	}
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(pairs).Draw(t, "kind")
		s := rapid.SampledFrom([]System{US, Metric}).Draw(t, "system")
		v := rapid.Float64Range(p.lo, p.hi).Draw(t, "v")
		text := p.print(s, v)
		got, err := parsers[p.kind](text)
		if err != nil || math.Abs(got-v) > math.Max(p.abs, 0.011*math.Abs(v)) {
			t.Fatalf("%v prints as %q, which reads as %v, %v", v, text, got, err)
		}
	})
}

func TestConversions(t *testing.T) {
	// 1 mm/h on 1 ha is 10 m3/h, that is 2.7778 L/s; 1 mm on 1 ha is 10 m3.
	if f := MillimetrePerHour(1).Flow(1); math.Abs(float64(f)-2.77778) > 1e-5 {
		t.Errorf("flow %v", f)
	}
	if v := Millimetre(1).Volume(1); v != 10 {
		t.Errorf("volume %v", v)
	}
	if a := Hectare(1).Acres(); math.Abs(a-2.47105) > 1e-5 { // 1 ha = 2.47105 acres
		t.Errorf("acres %v", a)
	}
	if c := FromFahrenheit(212); math.Abs(float64(c)-100) > 1e-12 {
		t.Errorf("boiling point %v", c)
	}
	if k := FromFahrenheitDifference(1.8); math.Abs(float64(k)-1) > 1e-15 {
		t.Errorf("difference %v", k)
	}
	if k := Celsius(0).Kelvins(); k != 273.15 {
		t.Errorf("kelvin %v", k)
	}
}

func TestRangeError(t *testing.T) {
	err := InRange("dew point", math.NaN(), -50, 60, "degC", "FAO-56 eq. 11")
	if err == nil {
		t.Fatal("NaN must be outside every range")
	}
	if got, want := err.Error(), "dew point NaN degC is outside -50 to 60 degC (FAO-56 eq. 11)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if err := InRange("share", 1, 0, 1, "", ""); err != nil {
		t.Errorf("the ends belong to the range: %v", err)
	}
}
