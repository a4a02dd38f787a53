package feed

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"budward/decide/weather"
	"budward/physics/sky"
)

func decodeDailyFile(t *testing.T, name string) weather.DailyRecord {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := DecodeDaily(name, f, DailyOptions{StationID: "merced"})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func date(s string) sky.Date {
	d, err := sky.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

// Want: the rows of the file itself, worked out by hand: 46.94 degF = 8.3 degC,
// 152 tenths = 15.2 mm; what SOURCE.md says of the record (the doubled date, the
// values that cannot be).
func TestDailyTable(t *testing.T) {
	r := decodeDailyFile(t, "ghcnd_table_merced_1976_2004.csv.gz")
	if len(r.Days) != 10367 {
		t.Fatalf("%d days", len(r.Days))
	}
	for i := 1; i < len(r.Days); i++ {
		if !r.Days[i-1].Date.Before(r.Days[i].Date) {
			t.Fatalf("%v after %v", r.Days[i].Date, r.Days[i-1].Date)
		}
	}
	const tol = 1e-6 // the decimals of the file
	for d, want := range map[string][2]float64{"2003-05-23": {-17.777778, 36.7}, "1998-06-07": {-2.8, 22.2}, "1978-05-16": {-1.1, 25.6}, "1983-09-25": {-3.3, 29.4}} {
		got := r.At(date(d))
		if math.Abs(got.TMinC-want[0]) > 0.05 || math.Abs(got.TMaxC-want[1]) > 0.05 { // SOURCE.md gives tenths
			t.Errorf("%s: %v, want %v", d, got, want)
		}
		if d == "1998-06-07" && math.Abs(got.PrecipMM-12.2) > tol {
			t.Errorf("%s: %g mm, want 122 tenths", d, got.PrecipMM)
		}
	}
	if r.RefusedTotal != 1 || !strings.Contains(r.Refused[0].Why, "again; the first counts") || r.Refused[0].Value != "1998-08-01" {
		t.Errorf("refused %d: %+v; want the doubled 1998-08-01", r.RefusedTotal, r.Refused)
	}
	if notes := strings.Join(r.Notes, "\n"); !strings.Contains(notes, "Fahrenheit") || !strings.Contains(notes, "tenths of a millimetre") {
		t.Errorf("notes %q", notes)
	}
	if got := r.At(date("1950-01-01")); !math.IsNaN(got.TMinC) || !math.IsNaN(got.PrecipMM) {
		t.Errorf("a day that is not there: %+v", got)
	}
}

// The two layouts of the same month give the same days.
func TestDailyLayoutsAgree(t *testing.T) {
	table, station := decodeDailyFile(t, "ghcnd_table_merced_1976_2004.csv.gz"), decodeDailyFile(t, "ghcnd_station_merced_june_1998.csv")
	if len(station.Days) != 30 {
		t.Fatalf("%d days in June", len(station.Days))
	}
	for _, d := range station.Days {
		o := table.At(d.Date)
		if math.Abs(d.TMinC-o.TMinC) > 1e-5 || math.Abs(d.TMaxC-o.TMaxC) > 1e-5 || math.Abs(d.PrecipMM-o.PrecipMM) > 1e-5 { // the table cuts binary tails at 1e-6
			t.Errorf("%v by station, %v in the table", d, o)
		}
	}
}

// Screening takes out or questions what SOURCE.md lists as implausible in these
// years, and leaves real frosts: the record's hardest, of December 1990, stands.
// One of its list, 1978-05-16 (-1.1 degC), stays: it is 3.8 spreads off, and rules
// that take it would question the real frosts of October 1996.
func TestDailyScreenMerced(t *testing.T) {
	r := decodeDailyFile(t, "ghcnd_table_merced_1976_2004.csv.gz")
	out, rep := weather.ScreenDaily(r, time.Date(2023, 5, 1, 0, 0, 0, 0, time.UTC))
	for _, d := range []string{"2003-05-23", "1998-06-07", "1983-09-25", "1982-08-10", "1992-12-29"} {
		if got := out.At(date(d)); !math.IsNaN(got.TMinC) {
			t.Errorf("%s stays: %+v", d, got)
		}
	}
	for _, d := range []string{"1979-08-24", "1979-08-26"} {
		if got := out.At(date(d)); !math.IsNaN(got.TMinC) && got.Flags&weather.DailyMinDoubtful == 0 {
			t.Errorf("%s is neither out nor questioned: %+v", d, got)
		}
	}
	before, after := 0, 0
	for i, d := range out.Days {
		if r.Days[i].TMinC <= 0 {
			before++
		}
		if d.TMinC <= 0 {
			after++
		}
	}
	// three frosts of that list are no frosts; all others must stay
	if before-after != 3 {
		t.Errorf("frost days %d before, %d after, want three fewer; excluded %v", before, after, rep.Excluded)
	}
	if got := out.At(date("1990-12-22")); got.TMinC != r.At(date("1990-12-22")).TMinC || !(got.TMinC < -5) {
		t.Errorf("1990-12-22: %+v", got)
	}
	if !rep.SeasonKnown || rep.Total != len(rep.Listed) || rep.Doubtful == 0 || rep.Days != len(r.Days) {
		t.Errorf("report %+v", rep)
	}
}

func TestDailyRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":           {"", "empty"},
		"prose":           {"hello, world\n", "begins with"},
		"no temperature":  {"date,PRCP\n2001-01-01,1\n", "begins with"},
		"unit not shown":  {"date,TMIN,TMAX\n2001-01-01,10,20\n", "do not show it"},
		"wrong unit":      {"date,TMIN\n2001-01-01,10\n", "want the unit"},
		"column twice":    {"date,TMIN,tmin\n2001-01-01,10,10\n", "twice"},
		"only flagged":    {"USC00045532,19980607,TMIN,-28,,I,0,1800\n", "quality flag I"},
		"only missing":    {"USC00045532,19980607,TMIN,-9999,,,0,1800\n", "1 gaps"},
		"not GHCN's text": {"USC00045532,19980607,TMIN,-28\n", "begins with"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := DecodeDaily("f", strings.NewReader(c.text), DailyOptions{})
			var e *Error
			if !errors.As(err, &e) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want %q", err, c.want)
			}
		})
	}
}

func TestGHCNRows(t *testing.T) {
	text := "id,date,element,value,mflag,qflag,sflag,obstime\n" +
		"USC00000001,20010301,TMIN,-15,,,0,0700\n" +
		"USC00000001,20010301,TMAX,120,,,0,0700\n" +
		"USC00000001,20010301,PRCP,0,T,,0,0700\n" +
		"USC00000001,20010301,SNOW,5,,,0,0700\n" +
		"USC00000001,20010301,TMIN,-20,,,0,0700\n" + // again
		"USC00000001,20010302,TMIN,-999,,X,0,0700\n" + // failed a check
		"USC00000001,20010302,PRCP,0,P,,0,0700\n" +
		"USC00000002,20010303,TMIN,10,,,0,0700\n" + // another station
		"USC00000001,20010231,TMIN,10,,,0,0700\n" + // no such day
		"USC00000001,20010304,TMIN,1.5,,,0,0700\n" +
		"USC00000001,20010305,TMIN\n"
	r, err := DecodeDaily("f", strings.NewReader(text), DailyOptions{})
	if err != nil {
		t.Fatal(err)
	}
	d := r.At(date("2001-03-01"))
	if d.TMinC != -1.5 || d.TMaxC != 12 || d.PrecipMM != 0 || d.Flags != weather.DailyTrace {
		t.Errorf("%+v", d)
	}
	if d := r.At(date("2001-03-02")); !math.IsNaN(d.TMinC) || !math.IsNaN(d.PrecipMM) || d.Flags != weather.DailyPresumed {
		t.Errorf("%+v", d)
	}
	if r.RefusedTotal != 6 || r.Gaps != 1 {
		t.Errorf("%d refused, %d gaps: %+v", r.RefusedTotal, r.Gaps, r.Refused)
	}
}

// A table whose rain cannot be told is taken without rain, and says so.
func TestDailyRain(t *testing.T) {
	row := func(prcp, inch string) string { return "2001-01-01," + prcp + "," + inch + ",8.3\n" }
	for name, c := range map[string]struct {
		text string
		want float64
	}{
		"tenths": {row("152", "0.5984252"), 15.2}, "millimetres": {row("152", "5.984252"), 152}, "neither": {row("152", "3"), math.NaN()}, "small": {row("3", "0.0118"), math.NaN()},
	} {
		r, err := DecodeDaily("f", strings.NewReader("date,PRCP_MM,PRCP,TMIN\n"+c.text), DailyOptions{TempUnit: "c"})
		if err != nil {
			t.Fatal(name, err)
		}
		if got := r.Days[0].PrecipMM; math.Abs(got-c.want) > 1e-9 || math.IsNaN(got) != math.IsNaN(c.want) {
			t.Errorf("%s: %g mm, want %g", name, got, c.want)
		}
		if math.IsNaN(c.want) && r.RefusedTotal == 0 {
			t.Errorf("%s: not told", name)
		}
	}
}

func FuzzDaily(f *testing.F) {
	f.Add([]byte("USC00000001,20010301,TMIN,-15,,,0,0700\nUSC00000001,20010301,PRCP,0,T,,0,0700\n"), "")
	f.Add([]byte("date,TMIN,TMAX,PRCP_MM,PRCP\n2001-03-01,46.94,64.94,152,0.598\n"), "f")
	f.Fuzz(func(t *testing.T, text []byte, unit string) {
		r, err := DecodeDaily("f", strings.NewReader(string(text)), DailyOptions{TempUnit: unit, MaxBytes: 1 << 20})
		if err != nil {
			if _, ok := err.(*Error); !ok || err.Error() == "" || len(r.Days) != 0 {
				t.Fatalf("error %T %v with %d days", err, err, len(r.Days))
			}
			return
		}
		for i, d := range r.Days {
			if i > 0 && !r.Days[i-1].Date.Before(d.Date) || !d.Date.Valid() || math.IsInf(d.TMinC, 0) || math.IsInf(d.PrecipMM, 0) {
				t.Fatalf("day %+v", d)
			}
		}
		if len(r.Refused) > weather.MaxRefused || r.RefusedTotal < len(r.Refused) {
			t.Fatalf("%d listed, %d counted", len(r.Refused), r.RefusedTotal)
		}
		out, rep := weather.ScreenDaily(r, time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC))
		if len(out.Days) != len(r.Days) || len(rep.Listed) > weather.MaxExclusions {
			t.Fatalf("%d days after screening %d", len(out.Days), len(r.Days))
		}
	})
}
