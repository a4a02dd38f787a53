package calc

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"budward/physics/quantity"
)

// value returns one number of a result.
func value(t *testing.T, a Answer, key string) float64 {
	t.Helper()
	for _, i := range a.Result {
		if i.Key == key {
			v, ok := i.Value.(float64)
			if !ok {
				t.Fatalf("%s: %s is %v, not a number", a.Name, key, i.Value)
			}
			return v
		}
	}
	t.Fatalf("%s: no %s in the result", a.Name, key)
	return 0
}

// The list is the one of the design's table of single formulas, with its result
// keys in order; et0 has its intermediates beside et0_mm.
func TestNamesAndResultKeys(t *testing.T) {
	const daily = "date=2015-07-06 lat=50.8N elev=100m tmin=12.3C tmax=21.5C rhmin=63% rhmax=84% wind=10km/h windheight=10m sun=9.25h"
	calls := map[string]struct{ args, keys string }{
		"saturation":    {"t=20C phase=water", "vapour_pressure_kpa slope_kpa_per_k"},
		"dewpoint":      {"t=2C rh=50%", "dew_point_c frost_point_c vapour_pressure_kpa"},
		"wetbulb":       {"t=2C rh=70% elev=100m", "wet_bulb_c"},
		"starttemp":     {"threshold=0C td=-5C elev=0m", "start_temperature_c"},
		"pressure":      {"elev=1800m", "pressure_kpa psychrometric_constant_kpa_per_k"},
		"et0":           {daily, "et0_mm u2_m_s pressure_kpa psychrometric_constant_kpa_per_k slope_kpa_per_k saturation_kpa vapour_pressure_kpa extraterrestrial_mj_m2 daylight_h solar_mj_m2 clear_sky_mj_m2 solar_ratio net_shortwave_mj_m2 net_longwave_mj_m2 net_radiation_mj_m2 soil_heat_mj_m2"},
		"daylength":     {"date=2026-04-08 lat=38.5N lon=122W zone=America/Los_Angeles", "hours sunrise_at sunset_at"},
		"skyradiation":  {"date=2026-09-03 lat=20S elev=0m sun=6h", "extraterrestrial_mj_m2 solar_mj_m2 clear_sky_mj_m2"},
		"emissivity":    {"t=0C vp=0.5kPa formula=prata", "emissivity longwave_w_m2"},
		"soilheat":      {"texture=loam moisture=20%", "conductivity_w_mk heat_capacity_mj_m3k diffusivity_m2_s damping_depth_m admittance"},
		"refill":        {"fc=25% moisture=16% depth=0.3m wetted=35% area=2ha", "strip_mm field_mm volume_m3"},
		"wettedshare":   {"flow=1gph hours=24h spacing='2.7m x 2.5m' texture=loam deficit=16%", "share depth_m"},
		"waterheat":     {"rate=1mm/h watertemp=10C", "heat_w_m2 gain_k gain_low_k gain_high_k"},
		"sprinklerrate": {"t=-2C wind=0.5m/s rh=90%", "rate_mm_h valid why_not"},
		"kill":          {"table=concord-fao stage='EL 4' t=-3.9C", "killed_fraction"},
		"crop":          {"primary=60% secondary=0% tertiary=0% r2=40% r3=0%", "crop_fraction"},
		"risk":          {"p=20% years=5", "risk_fraction"},
		"cooling":       {"t0=4C tmin=-4C hours=11h at=3h", "temperature_c"},
		"sample":        {"precision=10% confidence=95% expected=50% vines=4000 icc=0", "vines buds"},
	}
	for _, f := range Formulas() {
		c, ok := calls[f.Name]
		if !ok {
			t.Errorf("%s is not in the list of the design", f.Name)
			continue
		}
		delete(calls, f.Name)
		a, err := Run(f.Name, fields(c.args))
		if err != nil {
			t.Errorf("%s %s: %v", f.Name, c.args, err)
			continue
		}
		var keys []string
		for _, i := range a.Result {
			keys = append(keys, i.Key)
			for _, s := range []quantity.System{quantity.US, quantity.Metric} {
				i.Text(s) // must not panic
			}
		}
		if got := strings.Join(keys, " "); got != c.keys {
			t.Errorf("%s gives %s; want %s", f.Name, got, c.keys)
		}
		if a.Range == "" || a.Source == "" {
			t.Errorf("%s: range %q, source %q; want both", f.Name, a.Range, a.Source)
		}
	}
	for name := range calls {
		t.Errorf("formula %s is missing", name)
	}
}

// fields cuts a command line at spaces outside single quotes.
func fields(line string) (out []string) {
	quoted, word := false, ""
	for _, r := range line + " " {
		switch {
		case r == '\'':
			quoted = !quoted
		case r == ' ' && !quoted:
			if word != "" {
				out = append(out, word)
			}
			word = ""
		default:
			word += string(r)
		}
	}
	return out
}

// Want: FAO-56 (Allen et al. 1998), the examples named, as printed there; the
// others as said beside them.
func TestWorkedExamples(t *testing.T) {
	for _, c := range []struct {
		name, args, key string
		want, tol       float64
		why             string
	}{
		{"pressure", "elev=1800m", "pressure_kpa", 81.8, 0.05, "example 2, printed to 0.1"},
		{"pressure", "elev=1800m", "psychrometric_constant_kpa_per_k", 0.054, 0.0005, "example 2, printed to 0.001"},
		{"saturation", "t=24.5C", "vapour_pressure_kpa", 3.075, 0.0005, "example 3, printed to 0.001"},
		{"saturation", "t=59F", "vapour_pressure_kpa", 1.705, 0.0005, "example 3 (15 degC)"},
		{"skyradiation", "date=2015-09-03 lat=20S elev=0m sun=8h", "extraterrestrial_mj_m2", 32.2, 0.05, "example 8, printed to 0.1"},
		{"et0", "date=2015-07-06 lat=50.8N elev=100m tmin=12.3C tmax=21.5C rhmin=63% rhmax=84% wind=10km/h windheight=10m sun=9.25h", "et0_mm", 3.9, 0.05, "example 18, printed to 0.1"},
		{"et0", "date=2015-07-06 lat=50.8N elev=100m tmin=12.3C tmax=21.5C rhmin=63% rhmax=84% wind=10km/h windheight=10m sun=9.25h", "u2_m_s", 2.078, 0.001, "example 18, its table"},
		{"et0", "date=2015-07-06 lat=50.8N elev=100m tmin=12.3C tmax=21.5C rhmin=63% rhmax=84% wind=10km/h windheight=10m sun=9.25h", "net_longwave_mj_m2", 3.71, 0.01, "example 18"},
		{"et0", "date=2015-10-01 time=14:00 lat=16.22N lon=16.25W zone=UTC-1 elev=8m t=38C rh=52% wind=3.3m/s rs=2.45MJ/m2", "et0_mm", 0.63, 0.005, "example 19, printed to 0.01"},
		{"et0", "date=2015-10-01 time=14:00 lat=16.22N lon=16.25W zone=UTC-1 elev=8m t=38C rh=52% wind=3.3m/s rs=2.45MJ/m2", "extraterrestrial_mj_m2", 3.543, 0.02, "example 19; the sun's noon is rounded there"},
		{"emissivity", "t=0C vp=0.5kPa formula=brunt", "emissivity", 0.665, 0.0005, "0.52 + 0.205 sqrt(0.5), by hand"},
		{"cooling", "t0=4C tmin=-4C hours=11 at=3h", "temperature_c", -0.18, 0.005, "4 - 8 sqrt(3/11), by hand"},
		{"risk", "p=20% years=5", "risk_fraction", 0.67232, 1e-9, "1 - 0.8^5, by hand"},
		{"refill", "fc=25% moisture=16% depth=0.3m wetted=35% area=2ha", "strip_mm", 27, 1e-9, "0.09 of 300 mm, by hand"},
		{"refill", "fc=25% moisture=16% depth=0.3m wetted=35% area=2ha", "field_mm", 9.45, 1e-9, "35 % of 27 mm"},
		{"refill", "fc=25% moisture=16% depth=0.3m wetted=35% area=2ha", "volume_m3", 189, 1e-6, "9.45 mm on 2 ha"},
		{"waterheat", "rate=1mm/h watertemp=10C", "heat_w_m2", 11.6, 0.05, "4.18 MJ/m3K over 10 K in 3.6e6 s, by hand"},
		{"waterheat", "rate=1mm/h watertemp=10C freeze=yes", "heat_w_m2", 104.4, 0.1, "92.8 more: 334 kJ/kg"},
		{"kill", "table=concord-fao stage='EL 4' t=-3.9C", "killed_fraction", 0.1, 0.001, "FAO table 4.8: 10 % at bud burst"},
		{"kill", "table=concord-fao stage='EL 4' t=-8.9C", "killed_fraction", 0.9, 0.001, "FAO table 4.8: 90 % at bud burst"},
		{"crop", "primary=60% secondary=0% tertiary=0% r2=40% r3=0%", "crop_fraction", 0.64, 1e-12, "0.4 + 0.6*0.4, by hand"},
		{"dewpoint", "t=0C tw=0C elev=0m", "dew_point_c", 0, 0.001, "saturated air"},
	} {
		a, err := Run(c.name, fields(c.args))
		if err != nil {
			t.Errorf("%s %s: %v", c.name, c.args, err)
			continue
		}
		if got := value(t, a, c.key); math.Abs(got-c.want) > c.tol {
			t.Errorf("%s %s: %s = %g; want %g within %g (%s)", c.name, c.args, c.key, got, c.want, c.tol, c.why)
		}
	}
}

// The same physics in either unit.
func TestUnitsGiveTheSame(t *testing.T) {
	metric, err1 := Run("wetbulb", fields("t=2C td=-3C elev=304.8m"))
	us, err2 := Run("wetbulb", fields("t=35.6F td=26.6F elev=1000ft"))
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	const rounding = 1e-9
	if a, b := value(t, metric, "wet_bulb_c"), value(t, us, "wet_bulb_c"); math.Abs(a-b) > rounding {
		t.Errorf("metric %v, US %v", a, b)
	}
}

func TestSampleOfBuds(t *testing.T) {
	a, err := Run("sample", fields("precision=10% confidence=95% expected=50% vines=100000000 icc=0 pervine=1"))
	if err == nil {
		t.Fatalf("a hundred million vines in one stratum were believed: %+v", a.Result)
	}
	a, err = Run("sample", fields("precision=10% confidence=95% expected=50% vines=1000000 icc=0 pervine=1"))
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range a.Result {
		if n, ok := i.Value.(int); !ok || n != 97 { // 1.96^2 0.25 / 0.1^2 = 96.04
			t.Errorf("%s = %v; want 97", i.Key, i.Value)
		}
	}
}

// Where a formula has no answer it says so and gives no number.
func TestNoNumberOutsideTheRange(t *testing.T) {
	a, err := Run("sprinklerrate", fields("t=-12C wind=0.5m/s rh=90%"))
	if err != nil {
		t.Fatal(err)
	}
	if a.Result[0].Value != nil || a.Result[1].Value != false || a.Result[2].Value == nil {
		t.Errorf("at -12 degC: %+v; want no rate, not valid, and why", a.Result)
	}
	a, err = Run("dewpoint", fields("t=20C rh=80%"))
	if err != nil || a.Result[1].Value != nil {
		t.Errorf("frost point of warm air: %+v, %v; want none", a.Result, err)
	}
	for _, call := range []string{"saturation t=80C", "saturation t=5C phase=ice", "wetbulb t=2C td=5C elev=0m", "starttemp threshold=0C td=4C elev=0m",
		"pressure elev=9000m", "cooling t0=-4C tmin=4C hours=11h at=3h", "risk p=1.2 years=3", "daylength date=2026-06-21 lat=70N lon=20E zone=Europe/Oslo",
		"refill texture=loam moisture=60% depth=0.3m", "crop primary=60% secondary=0% tertiary=0% r2=40% r3=-5%"} {
		name, args, _ := strings.Cut(call, " ")
		if a, err := Run(name, fields(args)); err == nil {
			t.Errorf("%s gives %+v; want an error", call, a.Result)
		}
	}
}

func TestWrongInputsAreNamed(t *testing.T) {
	for _, c := range []struct{ call, want string }{
		{"wetblub t=2C", "there is no such formula"},
		{"wetbulb t=2 rh=70% elev=100m", "unit is missing"},
		{"wetbulb t=2C rh=70 elev=100m", "unit is missing"},
		{"wetbulb t=2C elev=100m", "moisture of the air is missing"},
		{"wetbulb t=2C rh=70% td=-3C elev=100m", "not both"},
		{"wetbulb t=2C rh=70%", "elev: is missing"},
		{"wetbulb t=2C rh=70% elev=100m cloud=3", "no such input"},
		{"wetbulb t=2C t=3C rh=70% elev=100m", "given twice"},
		{"wetbulb t= rh=70% elev=100m", "no value"},
		{"wetbulb 2C", "key=value"},
		{"dewpoint t=2C rh=70% elev=100m", "not used beside"},
		{"saturation t=2C phase=steam", "one of water, ice"},
		{"skyradiation date=2026-02-30 lat=20S elev=0m sun=6h", "2026-02-30"},
		{"daylength date=2026-04-08 lat=38N lon=122W zone=Mars/Olympus", "time zone"},
		{"daylength date=2026-04-08 lat=98N lon=122W zone=UTC", "latitude"},
		{"soilheat texture=gravel moisture=20%", "one of clay"},
		{"wettedshare flow=1gph hours=24h spacing=5ft texture=loam deficit=16%", "two lengths"},
		{"kill table=nobody stage='EL 4' t=-2C", "one of "},
		{"kill table=concord-fao stage=4 t=-2C", "scale with the number"},
		{"sample precision=10% confidence=95% expected=50% vines=12.5 icc=0", "whole number"},
	} {
		name, args, _ := strings.Cut(c.call, " ")
		_, err := Run(name, fields(args))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v; want it to say %q", c.call, err, c.want)
		}
		var in *InputError
		if ok := errors.As(err, &in); !ok && !strings.Contains(c.call, "98N") {
			t.Errorf("%s: error %T, want *InputError", c.call, err)
		}
	}
}

func TestDefaultsAreSaid(t *testing.T) {
	a, err := Run("emissivity", fields("t=0C td=-5C"))
	if err != nil || len(a.Defaults) != 2 {
		t.Fatalf("%v, %v; want the sky and the formula named as taken", a.Defaults, err)
	}
	joined := strings.Join(a.Defaults, "\n")
	if !strings.Contains(joined, "cloud = 0%") || !strings.Contains(joined, "formula = ") {
		t.Errorf("taken: %s", joined)
	}
}

func TestZones(t *testing.T) {
	for text, want := range map[string]int{"UTC": 0, "UTC-8": -8, "UTC+05:30": 5, "+0200": 2, "Z": 0, "-8": -8} {
		z, err := Zone(text)
		if err != nil || z == nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if text == "UTC+05:30" {
			continue
		}
		if _, off := date(2026).In(z).Zone(); off != want*3600 {
			t.Errorf("%s is %d s from UTC; want %d h", text, off, want)
		}
	}
	for _, text := range []string{"", "Local", "UTC+99", "Nowhere"} {
		if z, err := Zone(text); err == nil {
			t.Errorf("%q was taken as %v", text, z)
		}
	}
	if !slices.ContainsFunc(Formulas(), func(f Formula) bool { return strings.Contains(f.Usage(), "zone=") }) {
		t.Error("no formula shows how a zone is written")
	}
}

func date(year int) time.Time { return time.Date(year, time.April, 8, 12, 0, 0, 0, time.UTC) }
