package sky

import (
	"errors"
	"math"
	"testing"
	"time"

	"budward/physics/quantity"
)

func near(t *testing.T, what string, got float64, err error, want, tol float64) {
	t.Helper()
	if err != nil || !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, %v; want %v within %v", what, got, err, want, tol)
	}
}

// FAO-56 examples 8 and 14 (Allen et al. 1998). Tolerance here and below: half
// of the last digit printed, unless a reason stands beside it.
func TestFAO56Parts(t *testing.T) {
	date := Date{2026, time.September, 3}
	if date.YearDay() != 246 {
		t.Fatalf("3 September is day %d", date.YearDay())
	}
	ra, err := Extraterrestrial(date, -20) // example 8
	near(t, "example 8 Ra", float64(ra), err, 32.2, 0.05)
	u2, err := WindAt2(3.2, 10) // example 14
	near(t, "example 14 u2", float64(u2), err, 2.4, 0.05)
	// Example 10 (from memory): Rio de Janeiro in May, 7.1 h of 10.9, Ra 25.1.
	rs, err := SolarFromSunshine(7.1, 10.9, 25.1)
	near(t, "example 10 Rs", float64(rs), err, 14.45, 0.01)
	// Example 15 (from memory): Lyon in July, 14.8 to 26.6 degC, Ra 40.6.
	rs, err = Hargreaves(14.8, 26.6, 40.6, Interior)
	near(t, "example 15 Rs", float64(rs), err, 22.3, 0.05)
}

// FAO-56 example 18: Uccle, 50 deg 48' N, 100 m, 6 July, every intermediate.
func TestFAO56Example18(t *testing.T) {
	date, lat := Date{2026, time.July, 6}, quantity.Degree(50.8)
	if date.YearDay() != 187 {
		t.Fatalf("6 July is day %d", date.YearDay())
	}
	ea, err1 := VapourFromExtremes(12.3, 21.5, 0.63, 0.84)
	ra, err2 := Extraterrestrial(date, lat)
	n, err3 := DaylightHours(date, lat)
	rs, err4 := SolarFromSunshine(9.25, n, ra)
	wind, err5 := quantity.ParseWind("10 km/h")
	if err := errors.Join(err1, err2, err3, err4, err5); err != nil {
		t.Fatal(err)
	}
	r, err := ReferenceDaily(DailyWeather{Date: date, Lat: lat, Elevation: 100, TMin: 12.3, TMax: 21.5,
		Vapour: ea, Wind: wind, WindHeight: 10, Solar: rs})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what           string
		got, want, tol float64
	}{
		{"u2", float64(r.U2), 2.078, 0.0005},
		{"slope", r.SlopeKPaK, 0.122, 0.0005},
		{"P", float64(r.Pressure), 100.1, 0.05},
		{"gamma", r.GammaKPaK, 0.0666, 0.00005},
		{"es", float64(r.Saturation), 1.997, 0.0005},
		{"ea", float64(r.Vapour), 1.409, 0.0005},
		{"Ra", float64(r.Extraterrestrial), 41.09, 0.005},
		{"N", r.DaylightH, 16.1, 0.05},
		{"Rs", float64(r.Solar), 22.07, 0.005},
		{"Rso", float64(r.ClearSky), 30.90, 0.005},
		{"Rns", float64(r.NetShort), 17.00, 0.005},
		{"Rnl", float64(r.NetLong), 3.71, 0.005},
		{"Rn", float64(r.Net), 13.28, 0.006}, // printed as the difference of rounded terms
		{"G", float64(r.Ground), 0, 0},
		{"ET0", float64(r.ET0), 3.880, 0.0005},
	} {
		near(t, "example 18 "+c.what, c.got, nil, c.want, c.tol)
	}
	if r.Limited || r.Carried {
		t.Errorf("nothing is limited here: %+v", r)
	}
}

// FAO-56 example 19: N'Diaye, 16 deg 13' N, 16 deg 15' W, 8 m, 1 October, 14 to
// 15 h in the zone of 15 deg W, every intermediate.
func TestFAO56Example19(t *testing.T) {
	zone := time.FixedZone("UTC-1", -3600)
	start := time.Date(2026, 10, 1, 14, 0, 0, 0, zone)
	if start.YearDay() != 274 {
		t.Fatalf("1 October is day %d", start.YearDay())
	}
	r, err := ReferenceHourly(HourlyWeather{Start: start, Lat: 16 + 13.0/60, Lon: -(16 + 15.0/60), Elevation: 8,
		T: 38, Vapour: 0.52 * quantity.Kilopascal(6.625), Wind: 3.3, WindHeight: 2, Solar: 2.450})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what           string
		got, want, tol float64
	}{
		{"es", float64(r.Saturation), 6.625, 0.0005}, // 3.445/0.52
		{"ea", float64(r.Vapour), 3.445, 0.0005},
		{"slope", r.SlopeKPaK, 0.358, 0.0005},
		{"gamma", r.GammaKPaK, 0.0673, 0.00005},
		{"Ra", float64(r.Extraterrestrial), 3.543, 0.0005},
		{"Rso", float64(r.ClearSky), 2.658, 0.0005}, // 0.75 x 3.543 + 8 x 2e-5 x 3.543
		{"Rns", float64(r.NetShort), 1.8865, 0.00005},
		{"Rnl", float64(r.NetLong), 0.137, 0.0005},
		{"Rn", float64(r.Net), 1.749, 0.0005},
		{"G", float64(r.Ground), 0.175, 0.0005},
		{"ET0", float64(r.ET0), 0.63, 0.005},
	} {
		near(t, "example 19 "+c.what, c.got, nil, c.want, c.tol)
	}
	// WindAt2 carries 2 m to 2 m: 4.87/ln(130.18) = 1.0002.
	near(t, "u2", float64(r.U2), nil, 3.3, 0.002)
	if r.Limited || r.Carried {
		t.Errorf("nothing is limited here: %+v", r)
	}
}

// Each emissivity formula at 0 degC and 0.5 kPa, worked by hand from the
// published equations: half of the last digit.
func TestEmissivityValues(t *testing.T) {
	want := map[Formula]float64{Brunt: 0.665, Brutsaert: 0.700, Idso: 0.772, Prata: 0.733, Swinbank: 0.699, DilleyOBrien: 0.728}
	lo, hi := 1.0, 0.0
	for _, f := range Formulas() {
		got, err := Emissivity(0, 0.5, f)
		near(t, f.String(), got, err, want[f], 0.0006) // 0.0005, and sigma 5.670 against 5.67
		lo, hi = min(lo, got), max(hi, got)
		if again, err := ParseFormula(f.String()); err != nil || again != f {
			t.Errorf("%s reads back as %v, %v", f, again, err)
		}
	}
	if len(want) != int(numFormulas) || len(Formulas()) != int(numFormulas) {
		t.Error("a formula is missing from the list")
	}
	// Their spread is about 34 W/m2.
	near(t, "spread", (hi-lo)*StefanBoltzmann*math.Pow(273.15, 4), nil, 34, 1)
	if _, err := ParseFormula("angstrom"); err == nil {
		t.Error("an unknown formula must be refused")
	}
}

// Cloud corrections at eps 0.728: by hand from the published forms.
func TestCloudForms(t *testing.T) {
	clear, err := Emissivity(0, 0.5, DilleyOBrien)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		f       CloudForm
		c, want float64
	}{
		{UnsworthMonteith, 0.5, 0.58*clear + 0.42},
		{UnsworthMonteith, 1, 0.16*clear + 0.84},
		{BrutsaertCloud, 0.5, 1.11 * clear},
		{Bolz, 1, 1.22 * clear},
		{Bolz, 0.25, (1 + 0.22/32) * clear}, // 0.25^2.5 = 1/32
		{SugitaBrutsaert, 1, 1.0496 * clear},
		{CrawfordDuchon, 0.25, 0.75*clear + 0.25},
	} {
		got, err := EmissivityUnder(0, 0.5, quantity.Share(c.c), DilleyOBrien, c.f)
		near(t, c.f.String(), got, err, c.want, 1e-12) // roundings
	}
	for _, f := range CloudForms() {
		got, err := EmissivityUnder(0, 0.5, 0, DilleyOBrien, f)
		near(t, f.String()+" without cloud", got, err, clear, 0)
	}
	if c, err := CloudFromSolar(0.7); err != nil || math.Abs(float64(c)-0.3) > 1e-15 {
		t.Errorf("cloud from solar %v, %v", c, err)
	}
	// Bolz under a full cover would make humid air shine more than a black body.
	_, err = EmissivityUnder(30, 4, 1, DilleyOBrien, Bolz)
	var re *quantity.RangeError
	if !errors.As(err, &re) {
		t.Errorf("an emissivity above 1 gave %v", err)
	}
}

func TestUnderCloud(t *testing.T) {
	s, err := UnderCloud(800, 1)
	near(t, "overcast", float64(s), err, 200, 1e-9) // a quarter is left
	s, err = UnderCloud(800, 0)
	near(t, "clear", float64(s), err, 800, 0)
	s, err = ClearSkyAt(1, 0)
	near(t, "zenith", float64(s), err, 1098*math.Exp(-0.057), 1e-9)
	s, err = ClearSkyAt(-0.2, 0)
	near(t, "night", float64(s), err, 0, 0)
}

// By night G is half of Rn and the evening's ratio is asked for; the sun's being
// down shows in Ra.
func TestReferenceHourlyAtNight(t *testing.T) {
	w := HourlyWeather{Start: time.Date(2026, 4, 14, 9, 0, 0, 0, time.UTC), Lat: 38.5, Lon: -122, Elevation: 50,
		T: 1, Vapour: 0.5, Wind: 1, WindHeight: 2}
	_, err := ReferenceHourly(w)
	var re *quantity.RangeError
	if !errors.As(err, &re) || re.Quantity != "Rs/Rso of the evening" {
		t.Fatalf("without the evening's ratio: %v", err)
	}
	w.NightRatio = 0.8
	r, err := ReferenceHourly(w)
	if err != nil || r.Extraterrestrial != 0 || !r.Carried || r.Net >= 0 || r.Ground != r.Net/2 {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestRatioIsFlagged(t *testing.T) {
	w := DailyWeather{Date: Date{2026, 4, 14}, Lat: 38.5, Elevation: 50, TMin: 2, TMax: 15, Vapour: 0.8,
		Wind: 2, WindHeight: 2, Solar: 3} // a dark day: Rs/Rso about 0.1
	r, err := ReferenceDaily(w)
	if err != nil || !r.Limited || r.Ratio != 0.3 {
		t.Errorf("%+v, %v; want the limit flagged", r, err)
	}
}
