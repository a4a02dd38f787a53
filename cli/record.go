package cli

import (
	"io"
	"os"
	"regexp"
	"strings"

	"budward/physics/quantity"
)

// fileWords say of files what they cannot say of themselves.
type fileWords struct {
	Map          string `help:"CSV: which column is what, such as 'time=Date Time, air_temp=Outside unit F'." placeholder:"MAP"`
	Format       string `help:"csv or hourly02 (else found out)." placeholder:"FORMAT"`
	DateOrder    string `help:"CSV: mdy or dmy, for dates written with strokes." placeholder:"ORDER"`
	DecimalComma bool   `help:"CSV: numbers are written 3,5."`
}

// RecordFile is a file of readings that is looked at and not kept.
type RecordFile struct {
	Name string
	Open func() (io.ReadCloser, error)
}

// RecordRequest says what record is meant, and where its station stands.
type RecordRequest struct {
	Files        []RecordFile
	Place        *PlaceDeg // nil = as the record or the farm states
	Zone         string    // as written; of times without an offset, and of midnight
	Map          string
	Format       string
	DateOrder    string
	DecimalComma bool
}

// PlaceDeg is a place in degrees, north and east positive; its elevation is 0 where
// none was given.
type PlaceDeg struct {
	Lat, Lon  quantity.Degree
	Elevation quantity.Metre
}

func (w *fileWords) request(r *run, files []string, place, zone string) (RecordRequest, error) {
	q := RecordRequest{Zone: zone, Map: w.Map, Format: w.Format, DateOrder: w.DateOrder, DecimalComma: w.DecimalComma}
	for _, f := range files {
		q.Files = append(q.Files, r.file(f))
	}
	if place != "" {
		p, err := parsePlace(place)
		if err != nil {
			return q, err
		}
		q.Place = &p
	}
	return q, nil
}

// file is a file by its name; - is standard input.
func (r *run) file(name string) RecordFile {
	if name == "-" {
		return RecordFile{"standard input", func() (io.ReadCloser, error) { return io.NopCloser(r.env.Stdin), nil }}
	}
	return RecordFile{name, func() (io.ReadCloser, error) { return os.Open(name) }}
}

// parsePlace reads "38.5N,122.4W", or with signs "38.5,-122.4"; an elevation may
// follow.
func parsePlace(text string) (PlaceDeg, error) {
	fail := func(why string) (PlaceDeg, error) {
		return PlaceDeg{}, usage("--place %s: %s; want latitude and longitude such as 38.5N,122.4W or 38.5,-122.4, with an elevation such as 60m behind it if you like", text, why)
	}
	parts := strings.Split(text, ",")
	if len(parts) < 2 || len(parts) > 3 {
		return fail("not two or three values")
	}
	lat, err := quantity.ParseLatitude(strings.TrimSpace(parts[0]))
	if err != nil {
		return fail(err.Error())
	}
	lon, err := quantity.ParseLongitude(strings.TrimSpace(parts[1]))
	if err != nil {
		return fail(err.Error())
	}
	p := PlaceDeg{Lat: lat, Lon: lon}
	if len(parts) == 3 {
		if p.Elevation, err = quantity.ParseLength(strings.TrimSpace(parts[2])); err != nil {
			return fail(err.Error())
		}
	}
	return p, nil
}

var (
	aFlag     = regexp.MustCompile(`^--[a-z][a-z-]*$`)
	aNegative = regexp.MustCompile(`^[-−][0-9.]`)
)

const recordFlag = "--record"

// joined joins flags to values that kong would not take for such: a value may
// begin with a minus ("--threshold -2C" is read as "--threshold=-2C"; no flag
// begins with a digit), and every word behind --record, up to the next flag, is a
// file.
func joined(args []string) []string {
	out := make([]string, 0, len(args))
	files := false // between --record and the next flag
	word := func(a string) bool { return a == "-" || !strings.HasPrefix(a, "-") }
	for i, a := range args {
		switch {
		case a == recordFlag && i+1 < len(args) && word(args[i+1]):
			files = true
		case files && word(a):
			out = append(out, recordFlag+"="+a)
		case len(out) > 0 && aFlag.MatchString(out[len(out)-1]) && aNegative.MatchString(a):
			files = false
			out[len(out)-1] += "=" + a
		default:
			files = false
			out = append(out, a)
		}
	}
	return out
}
