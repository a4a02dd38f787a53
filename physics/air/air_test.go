package air

import (
	"errors"
	"math"
	"testing"

	"budward/physics/quantity"
	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got float64, err error, want, tol float64) {
	t.Helper()
	if err != nil || !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, %v; want %v within %v", what, got, err, want, tol)
	}
}

// FAO-56 worked examples (Allen et al. 1998). Tolerance everywhere: half of the
// last digit the example prints.
func TestFAO56Examples(t *testing.T) {
	p, err := PressureAt(1800) // example 2
	near(t, "example 2 pressure", float64(p), err, 81.8, 0.05)
	g, err := PsychrometricConstant(p)
	near(t, "example 2 gamma", g, err, 0.054, 0.0005)

	hi, err := SaturationOverWater(24.5) // example 3
	near(t, "example 3 e(Tmax)", float64(hi), err, 3.075, 0.0005)
	lo, err := SaturationOverWater(15)
	near(t, "example 3 e(Tmin)", float64(lo), err, 1.705, 0.0005)
	near(t, "example 3 mean", float64(hi+lo)/2, nil, 2.39, 0.005)

	e1, err1 := VapourFromHumidity(18, 0.82) // example 5
	e2, err2 := VapourFromHumidity(25, 0.54)
	near(t, "example 5 ea", float64(e1+e2)/2, errors.Join(err1, err2), 1.70, 0.005)

	s, err := SlopeOverWater(38) // example 19
	near(t, "example 19 slope", s, err, 0.358, 0.0005)
	p, err = PressureAt(8)
	g, err2 = PsychrometricConstant(p)
	near(t, "example 19 gamma", g, errors.Join(err, err2), 0.0673, 0.00005)
	e, err := VapourFromHumidity(38, 0.52)
	near(t, "example 19 ea", float64(e), err, 3.445, 0.0005)
}

// Start temperature for a threshold of 0 degC and a dew point of -5 degC: 2.8
// degC at sea level, 3.0 at 500 m (worked by hand from the psychrometer
// equation; half of the last digit).
func TestStartTemperature(t *testing.T) {
	for _, c := range []struct {
		z    quantity.Metre
		want float64
	}{{0, 2.8}, {500, 3.0}} {
		p, err := PressureAt(c.z)
		if err != nil {
			t.Fatal(err)
		}
		got, err := StartTemperature(0, -5, p)
		near(t, "start temperature", float64(got), err, c.want, 0.05)
	}
	if got, err := StartTemperature(-1, -1, 100); err != nil || got != -1 {
		t.Errorf("saturated air: %v, %v; want the threshold", got, err)
	}
}

// Sonntag 1990 over supercooled water (coefficients from memory, not checked
// against the paper): the deficits that the doc comment states.
func TestSupercooled(t *testing.T) {
	for _, c := range []struct{ t, rel, dew float64 }{
		{-5, 0.002, 0.02}, {-15, 0.005, 0.06}, {-25, 0.012, 0.13}, {-40, 0.033, 0.32}, {-50, 0.057, 0.50},
	} {
		k := c.t + 273.15
		want := 0.1 * math.Exp(-6096.9385/k+16.635794-2.711193e-2*k+1.673952e-5*k*k+2.433502*math.Log(k))
		got, err := SaturationOverWater(quantity.Celsius(c.t))
		near(t, "supercooled saturation ratio", float64(got)/want, err, 1, c.rel)
		td, err := DewPoint(quantity.Kilopascal(want))
		near(t, "dew point", float64(td), err, c.t, c.dew)
	}
}

// The older ice constants (21.875, 265.5) agree down to -15 degC within 0.35 %,
// as SaturationOverIce says.
func TestIceAgainstOlderForm(t *testing.T) {
	for tc := -15.0; tc <= 0; tc++ {
		got, err := SaturationOverIce(quantity.Celsius(tc))
		near(t, "ice", float64(got)/(0.6108*math.Exp(21.875*tc/(tc+265.5))), err, 1, 0.0035)
	}
}

// Slopes against central differences: step 0.01 K leaves an error near 1e-8.
func TestSlopes(t *testing.T) {
	for tc := -45.0; tc <= 55; tc += 2.5 {
		const h = 0.01
		s, err := SlopeOverWater(quantity.Celsius(tc))
		near(t, "slope over water", s, err, (SatVapKPa(tc+h)-SatVapKPa(tc-h))/(2*h), 1e-6*s)
		if tc < 0 {
			s, err = SlopeOverIce(quantity.Celsius(tc))
			near(t, "slope over ice", s, err, (SatVapIceKPa(tc+h)-SatVapIceKPa(tc-h))/(2*h), 1e-6*s)
		}
	}
}

func TestLatentHeats(t *testing.T) {
	// Sublimation = vaporisation + fusion. The three are independent published
	// fits, rounded to 0.1-0.5 kJ/kg each: 0.05 % (1.4 kJ/kg) down to -20 degC.
	for tc := quantity.Celsius(-20); tc <= 0; tc++ {
		v, err1 := Vaporisation(tc)
		f, err2 := Fusion(tc)
		s, err3 := Sublimation(tc)
		near(t, "(vaporisation + fusion)/sublimation", float64((v+f)/s), errors.Join(err1, err2, err3), 1, 5e-4)
	}
	// Steam tables, kJ/kg (from memory; widely printed): 2500.9 at 0.01, 2453.5 at
	// 20, 2382.0 at 50 degC. The straight line is within 0.1 %.
	for _, c := range []struct {
		t    quantity.Celsius
		want float64
	}{{0.01, 2500.9e3}, {20, 2453.5e3}, {50, 2382.0e3}} {
		v, err := Vaporisation(c.t)
		near(t, "vaporisation", float64(v), err, c.want, 1e-3*c.want)
	}
	f, err := Fusion(0)
	near(t, "fusion at 0", float64(f), err, 334e3, 0.5e3) // 334 kJ/kg, three digits
	s, err := Sublimation(0)
	near(t, "sublimation at 0", float64(s), err, 2.83e6, 0.005e6) // 2.83 MJ/kg, three digits
	if f10, err := Fusion(-10); err != nil || f10 >= f {
		t.Errorf("fusion at -10 %v, %v: supercooled water must free less than %v", f10, err, f)
	}
}

// Dry air at 0 degC and 101.325 kPa weighs 1.2922 kg/m3 (from memory; printed
// in any handbook), vapour is lighter.
func TestDensity(t *testing.T) {
	got, err := Density(0, 0.02, 101.325)
	near(t, "density", got, err, 1.292, 0.001)
	wet, err := Density(0, 0.6, 101.325)
	if err != nil || wet >= got {
		t.Errorf("moist air %v, %v must be lighter than dry %v", wet, err, got)
	}
}

// A third of the way from air temperature down to dew point, the field rule for
// temperatures near freezing (public extension advice): the wet bulb lies within
// 0.5 K of it for a dew point depression of up to 6 K, which is all the rule is
// good for.
func TestThirdRule(t *testing.T) {
	for _, c := range []struct{ t, td quantity.Celsius }{{2, -1}, {2, -4}, {1, -3}, {3, 0}} {
		e, err1 := VapourFromDewPoint(c.td)
		tw, err2 := WetBulb(c.t, e, 101.3)
		near(t, "wet bulb", float64(tw), errors.Join(err1, err2), float64(c.t-(c.t-c.td)/3), 0.5)
	}
}

func TestOutOfRange(t *testing.T) {
	nan := math.NaN()
	c, kpa, sh := func(f float64) quantity.Celsius { return quantity.Celsius(f) },
		func(f float64) quantity.Kilopascal { return quantity.Kilopascal(f) },
		func(f float64) quantity.Share { return quantity.Share(f) }
	one := func(v any, err error) (any, error) { return v, err }
	calls := map[string]func() (any, error){
		"water cold":       func() (any, error) { return one(SaturationOverWater(-51)) },
		"water NaN":        func() (any, error) { return one(SaturationOverWater(c(nan))) },
		"ice warm":         func() (any, error) { return one(SaturationOverIce(0.1)) },
		"slope hot":        func() (any, error) { return one(SlopeOverWater(61)) },
		"ice slope warm":   func() (any, error) { return one(SlopeOverIce(1)) },
		"dew zero":         func() (any, error) { return one(DewPoint(0)) },
		"dew NaN":          func() (any, error) { return one(DewPoint(kpa(nan))) },
		"frost warm":       func() (any, error) { return one(FrostPoint(0.62)) },
		"rh zero":          func() (any, error) { return one(VapourFromHumidity(5, 0)) },
		"rh 101 %":         func() (any, error) { return one(VapourFromHumidity(5, 1.01)) },
		"rh NaN":           func() (any, error) { return one(VapourFromHumidity(5, sh(nan))) },
		"dew cold":         func() (any, error) { return one(VapourFromDewPoint(-50.1)) },
		"supersaturated":   func() (any, error) { return one(RelativeHumidity(0, 0.62)) },
		"wet bulb e high":  func() (any, error) { return one(WetBulb(0, 0.62, 100)) },
		"wet bulb e low":   func() (any, error) { return one(WetBulb(0, 0.001, 100)) },
		"wet bulb p":       func() (any, error) { return one(WetBulb(0, 0.5, 1000)) }, // hPa by mistake
		"wet bulb t NaN":   func() (any, error) { return one(WetBulb(c(nan), 0.5, 100)) },
		"ice bulb warm":    func() (any, error) { return one(IceBulb(10, 1, 100)) },
		"psychro too dry":  func() (any, error) { return one(VapourFromWetBulb(20, 0, 100)) },
		"psychro tw > t":   func() (any, error) { return one(VapourFromWetBulb(0, 1, 100)) },
		"psychro NaN":      func() (any, error) { return one(VapourFromWetBulb(0, c(nan), 100)) },
		"start td > tw":    func() (any, error) { return one(StartTemperature(0, 1, 100)) },
		"start td low":     func() (any, error) { return one(StartTemperature(0, -16, 100)) },
		"start high":       func() (any, error) { return one(StartTemperature(6, 0, 100)) },
		"start p":          func() (any, error) { return one(StartTemperature(0, -5, 0)) },
		"elevation":        func() (any, error) { return one(PressureAt(9000)) },
		"elevation NaN":    func() (any, error) { return one(PressureAt(quantity.Metre(nan))) },
		"gamma":            func() (any, error) { return one(PsychrometricConstant(1013)) },
		"vaporisation":     func() (any, error) { return one(Vaporisation(-31)) },
		"fusion warm":      func() (any, error) { return one(Fusion(1)) },
		"sublimation warm": func() (any, error) { return one(Sublimation(1)) },
		"density NaN":      func() (any, error) { return one(Density(0, kpa(nan), 100)) },
	}
	for name, call := range calls {
		v, err := call()
		var re *quantity.RangeError
		if !errors.As(err, &re) {
			t.Errorf("%s: %v, %v; want a *RangeError", name, v, err)
			continue
		}
		switch v {
		case quantity.Celsius(0), quantity.Kilopascal(0), quantity.Share(0), JoulePerKilogram(0), 0.0:
		default:
			t.Errorf("%s: returned the number %v with its error", name, v)
		}
	}
}

// air drawn over the whole stated range of the wet bulb.
func drawAir(t *rapid.T) (tc quantity.Celsius, e, p quantity.Kilopascal) {
	tc = quantity.Celsius(rapid.Float64Range(wetLoC, wetHiC).Draw(t, "t"))
	p = quantity.Kilopascal(rapid.Float64Range(pLoKPa, pHiKPa).Draw(t, "p"))
	share := rapid.Float64Range(0, 1).Draw(t, "share")
	hi := SatVapKPa(float64(tc))
	return tc, quantity.Kilopascal(min(vapLoKPa+share*(hi-vapLoKPa), hi)), p
}

// Dew point <= wet bulb <= t; more vapour or warmer air never lowers the wet
// bulb; the equation holds at the root. 1e-8 K and 1e-9 kPa are what the solver
// stops at.
func TestWetBulbProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tc, e, p := drawAir(t)
		tw, err1 := WetBulb(tc, e, p)
		td, err2 := DewPoint(e)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		if tw < td-1e-8 || tw > tc {
			t.Fatalf("dew point %v, wet bulb %v, air %v out of order", td, tw, tc)
		}
		w := float64(tw)
		if r := SatVapKPa(w) - 0.00066*(1+0.00115*w)*float64(p)*(float64(tc)-w) - float64(e); math.Abs(r) > 1e-9 {
			t.Fatalf("residual %v kPa at %v", r, tw)
		}
		if e2 := e * 1.01; float64(e2) <= SatVapKPa(float64(tc)) {
			if more, err := WetBulb(tc, e2, p); err != nil || more < tw {
				t.Fatalf("more vapour: %v after %v, %v", more, tw, err)
			}
		}
		if t2 := tc + 0.5; t2 <= wetHiC {
			if warmer, err := WetBulb(t2, e, p); err != nil || warmer < tw {
				t.Fatalf("warmer air: %v after %v, %v", warmer, tw, err)
			}
		}
	})
}

// A plain bisection as a twin of the Newton solver, to the bisection's own
// width.
func TestWetBulbTwin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tc, e, p := drawAir(t)
		got, err := WetBulb(tc, e, p)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := -60.0, float64(tc)
		for hi-lo > 1e-7 {
			m := (lo + hi) / 2
			if 0.6108*math.Exp(17.27*m/(m+237.3))-0.00066*(1+0.00115*m)*float64(p)*(float64(tc)-m) > float64(e) {
				hi = m
			} else {
				lo = m
			}
		}
		if math.Abs(float64(got)-(lo+hi)/2) > 1e-6 {
			t.Fatalf("%v, bisection %v", got, (lo+hi)/2)
		}
	})
}

func TestIceBulbProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tc, e, p := drawAir(t)
		ti, err := IceBulb(tc, e, p)
		if err != nil {
			// Refused only where a bulb at 0 degC would still be too cold.
			if r := 0.6108 - psyAIce*float64(p)*float64(tc) - float64(e); r >= 0 {
				t.Fatalf("refused although a root exists: %v", err)
			}
			return
		}
		w := float64(ti)
		if ti > 0 || math.Abs(SatVapIceKPa(w)-psyAIce*(1+0.00115*w)*float64(p)*(float64(tc)-w)-float64(e)) > 1e-9 {
			t.Fatalf("ice bulb %v does not solve its equation", ti)
		}
	})
}

// Round trips: dew point, frost point, wet bulb and back; humidity and back.
func TestRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tc, e, p := drawAir(t)
		td, err1 := DewPoint(e)
		back, err2 := VapourFromDewPoint(max(td, satLoC))
		if err := errors.Join(err1, err2); err != nil || math.Abs(float64(back/e)-1) > 1e-12 {
			t.Fatalf("dew point: %v became %v (%v)", e, back, err)
		}
		if e > quantity.Kilopascal(vapIceLoKPa) && e < satAtZeroKPa {
			tf, err := FrostPoint(e)
			if err != nil || math.Abs(SatVapIceKPa(float64(tf))/float64(e)-1) > 1e-12 || tf < td {
				t.Fatalf("frost point %v of %v, dew point %v (%v)", tf, e, td, err)
			}
		}
		rh, err1 := RelativeHumidity(tc, e)
		if rh >= 0.001 {
			again, err := VapourFromHumidity(tc, rh)
			if err := errors.Join(err1, err); err != nil || math.Abs(float64(again/e)-1) > 1e-12 {
				t.Fatalf("humidity: %v became %v (%v)", e, again, err)
			}
		}
		tw, err := WetBulb(tc, e, p)
		if err != nil {
			t.Fatal(err)
		}
		if tw >= wetLoC && float64(e) > vapLoKPa*1.001 {
			again, err := VapourFromWetBulb(tc, tw, p)
			if err != nil || math.Abs(float64(again-e)) > 1e-9 {
				t.Fatalf("wet bulb: %v became %v (%v)", e, again, err)
			}
		}
	})
}

// Start temperature and wet bulb are each other's inverse: at the start
// temperature the wet bulb is the threshold.
func TestStartTemperatureInvertsWetBulb(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tw := quantity.Celsius(rapid.Float64Range(-10, 5).Draw(t, "threshold"))
		td := tw - quantity.Celsius(rapid.Float64Range(0, 5).Draw(t, "depression"))
		p := quantity.Kilopascal(rapid.Float64Range(70, 105).Draw(t, "p"))
		start, err := StartTemperature(tw, td, p)
		if err != nil || start < tw {
			t.Fatalf("start %v for threshold %v (%v)", start, tw, err)
		}
		e, err1 := VapourFromDewPoint(td)
		back, err2 := WetBulb(start, e, p)
		if err := errors.Join(err1, err2); err != nil || math.Abs(float64(back-tw)) > 1e-8 {
			t.Fatalf("wet bulb at start %v is %v, want %v (%v)", start, back, tw, err)
		}
		// Drier air needs an earlier start, that is, a warmer one.
		if td-0.5 >= -15 {
			if drier, err := StartTemperature(tw, td-0.5, p); err != nil || drier <= start {
				t.Fatalf("drier air starts at %v, not above %v (%v)", drier, start, err)
			}
		}
	})
}

// Every answer is finite or refused, whatever comes in.
func FuzzMoistAir(f *testing.F) {
	f.Add(0.0, 0.5, 101.3)
	f.Add(-15.0, 0.05, 80.0)
	f.Add(math.NaN(), math.Inf(1), -1.0)
	f.Fuzz(func(t *testing.T, tc, e, p float64) {
		c, v, q := quantity.Celsius(tc), quantity.Kilopascal(e), quantity.Kilopascal(p)
		check := func(what string, got float64, err error) {
			if err != nil && got != 0 || math.IsNaN(got) || math.IsInf(got, 0) {
				t.Errorf("%s(%v, %v, %v) = %v, %v", what, tc, e, p, got, err)
			}
		}
		x, err := WetBulb(c, v, q)
		check("WetBulb", float64(x), err)
		x, err = IceBulb(c, v, q)
		check("IceBulb", float64(x), err)
		x, err = DewPoint(v)
		check("DewPoint", float64(x), err)
		x, err = FrostPoint(v)
		check("FrostPoint", float64(x), err)
		x, err = StartTemperature(c, quantity.Celsius(e), q)
		check("StartTemperature", float64(x), err)
		y, err := VapourFromWetBulb(c, quantity.Celsius(e), q)
		check("VapourFromWetBulb", float64(y), err)
		rho, err := Density(c, v, q)
		check("Density", rho, err)
	})
}

func BenchmarkWetBulbC(b *testing.B) {
	for b.Loop() {
		WetBulbC(2, 0.4, 100)
	}
}
