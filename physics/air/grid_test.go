package air

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"budward/physics/quantity"
)

// grid reads a CSV of testdata, header checked; text cells read as NaN.
func grid(t *testing.T, name string, header ...string) [][]float64 {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	recs, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range header {
		if recs[0][i] != h {
			t.Fatalf("%s: column %d is %q, want %q", name, i, recs[0][i], h)
		}
	}
	out := make([][]float64, 0, len(recs)-1)
	for _, rec := range recs[1:] {
		row := make([]float64, len(rec))
		for i, s := range rec {
			if row[i], err = strconv.ParseFloat(s, 64); err != nil {
				row[i] = math.NaN()
			}
		}
		out = append(out, row)
	}
	return out
}

// Wanted: psychrolib 1.1.1, testdata/SOURCE.md.
func TestSaturationGrid(t *testing.T) {
	rows := grid(t, "saturation.csv", "t_c", "phase", "saturation_kpa")
	if len(rows) != 111 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		tc, want := quantity.Celsius(r[0]), r[2]
		// Both curves start from 0.6108 kPa where Hyland and Wexler have 0.6112
		// (0.06 %); the exponents add the rest.
		got, err, tol := quantity.Kilopascal(0), error(nil), 0.0008
		if tc <= 0 {
			got, err = SaturationOverIce(tc)
		} else {
			got, err = SaturationOverWater(tc)
			tol = 0.0012
		}
		if err != nil || !(math.Abs(float64(got)/want-1) <= tol) {
			t.Errorf("saturation at %v = %v, %v; want %v within %v", tc, got, err, want, tol)
		}
	}
}

// Wanted: psychrolib 1.1.1, testdata/SOURCE.md. Like is compared with like: the
// package's dew point and wet bulb are over ice below 0 degC, so there the
// frost point and the ice bulb are compared with them, at the package's own
// vapour pressure (its RH is over ice below 0 degC, ours never is).
//
// Tolerances:
//   - dew point 0.1 K asked for, 0.03 K held: the two saturation curves differ
//     by at most 0.1 % in shape, and 1 % of vapour pressure is about 0.15 K.
//   - wet bulb 0.15 K for t <= 20 degC and RH >= 30 %, 0.4 K elsewhere: the
//     package solves the enthalpy balance of adiabatic saturation; the
//     psychrometer equation has an empirical coefficient fitted to ventilated
//     instruments, which differs from the thermodynamic one by a few percent
//     (more when hot), and the difference grows with the depression t - tw.
//   - ice bulb 0.15 K everywhere: the same reason, with depressions that are
//     smaller below 0 degC.
//   - density 0.01 %: both treat moist air as a mix of ideal gases.
func TestMoistAirGrid(t *testing.T) {
	rows := grid(t, "moist_air.csv", "t_c", "rh", "p_kpa", "vapour_pressure_kpa",
		"dew_or_frost_point_c", "wet_or_ice_bulb_c", "density_kg_m3")
	if len(rows) != 1012 {
		t.Fatalf("%d rows", len(rows))
	}
	n := map[string]int{}
	check := func(what string, r []float64, got quantity.Celsius, err error, want, tol float64) {
		n[what]++
		if err != nil || !(math.Abs(float64(got)-want) <= tol) {
			t.Errorf("%s at t %v, rh %v, p %v = %v, %v; want %v within %v", what, r[0], r[1], r[2], got, err, want, tol)
		}
	}
	for _, r := range rows {
		tc, p, e := quantity.Celsius(r[0]), quantity.Kilopascal(r[2]), quantity.Kilopascal(r[3])
		if r[1] == 1 {
			// Saturated: the package's curve is up to 0.11 % above ours.
			e = min(e, quantity.Kilopascal(SatVapKPa(r[0])))
		}
		if want := r[4]; want >= 0.01 {
			td, err := DewPoint(e)
			check("dew point", r, td, err, want, 0.03)
		} else {
			tf, err := FrostPoint(e)
			check("frost point", r, tf, err, want, 0.03)
		}
		if want := r[5]; want >= 0 {
			tol := 0.4
			if r[0] <= 20 && r[1] >= 0.3 {
				tol = 0.15
			}
			tw, err := WetBulb(tc, e, p)
			check("wet bulb", r, tw, err, want, tol)
		} else {
			ti, err := IceBulb(tc, e, p)
			check("ice bulb", r, ti, err, want, 0.15)
		}
		rho, err := Density(tc, e, p)
		if err != nil || !(math.Abs(rho/r[6]-1) <= 1e-4) {
			t.Errorf("density at %v = %v, %v; want %v", r[:4], rho, err, r[6])
		}
	}
	for what, least := range map[string]int{"dew point": 450, "frost point": 300, "wet bulb": 500, "ice bulb": 200} {
		if n[what] < least {
			t.Errorf("%s compared in %d rows only", what, n[what])
		}
	}
}

// Same humidity given as RH over water at t >= 0 degC, where both agree on what
// RH means: dew point within 0.1 K above zero, frost point within 0.1 K below.
func TestGridFromHumidity(t *testing.T) {
	for _, r := range grid(t, "moist_air.csv") {
		if r[0] <= 0 {
			continue
		}
		e, err := VapourFromHumidity(quantity.Celsius(r[0]), quantity.Share(r[1]))
		if err != nil {
			t.Fatal(err)
		}
		got, err := DewPoint(e)
		if r[4] < 0 {
			got, err = FrostPoint(e)
		}
		if err != nil || !(math.Abs(float64(got)-r[4]) <= 0.1) {
			t.Errorf("at %v: %v, %v; want %v", r[:3], got, err, r[4])
		}
	}
}
