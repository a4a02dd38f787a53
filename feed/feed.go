// Package feed reads what others send: hourly forecasts of the public US
// weather service (gridpoint JSON), forecasts and readings as CSV, readings in the
// hourly02 text of the US climate reference network or pushed as JSON, daily
// records of GHCN-Daily, frost warnings (CAP 1.2, text with event codes), and
// blocks from maps and tables (GeoJSON, XLSX). A decoder turns bytes into the
// program's own variables and units. It never guesses a unit, a zone or a missing
// value: what it cannot read for certain it refuses, row by row where it can, the
// whole file where it must, and says why. A Poller fetches an address again and
// again without being a burden to whoever runs it.
package feed

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"budward/decide/weather"
)

// Format names a decoder.
type Format string

const (
	Unknown   Format = ""
	Gridpoint Format = "gridpoint" // hourly forecast JSON of the US weather service
	CSV       Format = "csv"       // forecast or readings with a header line
	Hourly02  Format = "hourly02"  // readings, US climate reference network
)

// Bounds. A file beyond them is refused, not cut.
const (
	DefaultMaxBytes = 64 << 20  // after decompression
	MaxSamples      = 8_000_000 // a year of nineteen variables at ten minutes is one million
	MaxRows         = 2_000_000
	MaxColumns      = 400
)

// Options say what a file cannot say of itself.
type Options struct {
	StationID string
	Format    Format         // Unknown: found out by Detect
	Kind      weather.Kind   // CSV only, required there
	IssuedAt  time.Time      // CSV forecasts, required there
	FedAt     time.Time      // stamped on the batch
	Header    HeaderMap      // CSV: which column is what; nil: guessed from clear names
	Zone      *time.Location // CSV: zone of times written without an offset; nil: such times are refused
	DateOrder DateOrder      // CSV: order in dates with strokes; empty: such dates are refused
	// DecimalComma says that numbers are written 3,5. Columns must then be
	// separated by semicolons or tabs.
	DecimalComma bool
	MaxBytes     int64 // 0: DefaultMaxBytes
}

// Error is a file that could not be taken: where, what was there and what was
// expected.
type Error struct {
	Origin string `json:"origin"`
	Line   int    `json:"line"` // 1-based; 0 = the whole file
	Field  string `json:"field"`
	Value  string `json:"value"`
	Want   string `json:"want"`
	Err    error  `json:"-"` // underlying error, if any
}

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Origin)
	if e.Line > 0 {
		fmt.Fprintf(&b, " line %d", e.Line)
	}
	if e.Field != "" {
		fmt.Fprintf(&b, ", %s", e.Field)
	}
	fmt.Fprintf(&b, ": %s; want %s", e.Value, e.Want)
	return b.String()
}

// Unwrap returns the underlying error.
func (e *Error) Unwrap() error { return e.Err }

// ErrUnknownFormat is wrapped by the Error of a file no decoder knows.
var ErrUnknownFormat = errors.New("unknown format")

// Decode reads one file and returns its samples in time order. Gzip is
// recognised by its first bytes and unpacked. The batch lists what was refused
// (the first weather.MaxRefused, all counted) and counts the gaps the source
// itself marks. Values are not yet screened: weather.Screen does that.
//
// An error is an *Error; it means nothing was taken.
func Decode(name string, r io.Reader, opts Options) (weather.Batch, error) {
	text, err := readAll(name, r, opts.MaxBytes)
	if err != nil {
		return weather.Batch{}, err
	}
	format := opts.Format
	if format == Unknown {
		format = Detect(name, text[:min(len(text), detectBytes)])
	}
	b := weather.Batch{StationID: opts.StationID, Origin: name, FedAt: opts.FedAt}
	switch format {
	case Gridpoint:
		err = decodeGridpoint(&b, text)
	case Hourly02:
		err = decodeHourly02(&b, text)
	case CSV:
		err = decodeCSV(&b, text, &opts)
	default:
		err = &Error{Origin: name, Value: fmt.Sprintf("begins with %.40q", text[:min(len(text), 40)]),
			Want: "a gridpoint JSON, an hourly02 text, or CSV with a header line", Err: ErrUnknownFormat}
	}
	if err != nil {
		return weather.Batch{}, err
	}
	if len(b.Samples) == 0 {
		return weather.Batch{}, noSamples(&b)
	}
	slices.SortStableFunc(b.Samples, func(x, y weather.Sample) int { return x.At.Compare(y.At) })
	return b, nil
}

// noSamples is the error of a file that was read and held nothing of use.
func noSamples(b *weather.Batch) error {
	e := &Error{Origin: b.Origin, Value: fmt.Sprintf("no value could be taken (%d gaps, %d refused)", b.Gaps, b.RefusedTotal),
		Want: "at least one value"}
	if len(b.Refused) > 0 {
		f := b.Refused[0]
		e.Line, e.Field = f.Line, f.Field
		e.Value += fmt.Sprintf("; first refusal: %q, %s", f.Value, f.Why)
	}
	return e
}

// detectBytes is how much of a file Detect looks at.
const detectBytes = 64 << 10

// Detect says which decoder fits, from the first bytes of a file; packed or
// not. The name is used only where the bytes leave it open.
func Detect(name string, head []byte) Format {
	if isGzip(head) {
		if zr, err := gzip.NewReader(bytes.NewReader(head)); err == nil {
			plain, _ := io.ReadAll(io.LimitReader(zr, detectBytes)) // cut off by nature: the error says so
			head = plain
		}
	}
	head = bytes.TrimPrefix(head, utf8BOM)
	head = bytes.TrimLeft(head, " \t\r\n")
	switch {
	case len(head) == 0:
		return Unknown
	case head[0] == '{':
		return Gridpoint
	case looksHourly02(head):
		return Hourly02
	}
	line, _, _ := bytes.Cut(head, []byte("\n"))
	if bytes.ContainsAny(line, ",;\t") && hasLetter(line) {
		return CSV
	}
	if strings.HasSuffix(strings.ToLower(strings.TrimSuffix(name, ".gz")), ".csv") {
		return CSV
	}
	return Unknown
}

func hasLetter(line []byte) bool {
	for _, c := range line {
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' {
			return true
		}
	}
	return false
}

var utf8BOM = []byte{0xEF, 0xBB, 0xBF}

func isGzip(b []byte) bool { return len(b) >= 2 && b[0] == 0x1f && b[1] == 0x8b }

// readAll reads at most maxBytes of unpacked text and checks that it is UTF-8.
func readAll(name string, r io.Reader, maxBytes int64) ([]byte, error) {
	if maxBytes <= 0 {
		maxBytes = DefaultMaxBytes
	}
	raw, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, &Error{Origin: name, Value: "cannot be read: " + err.Error(), Want: "a readable file", Err: err}
	}
	if int64(len(raw)) > maxBytes {
		return nil, tooBig(name, maxBytes)
	}
	if isGzip(raw) {
		zr, err := gzip.NewReader(bytes.NewReader(raw))
		if err == nil {
			raw, err = io.ReadAll(io.LimitReader(zr, maxBytes+1))
		}
		if err != nil {
			return nil, &Error{Origin: name, Value: "packed file is damaged or cut off: " + err.Error(), Want: "a whole gzip file", Err: err}
		}
		if int64(len(raw)) > maxBytes {
			return nil, tooBig(name, maxBytes)
		}
	}
	return checkText(name, raw)
}

func tooBig(name string, maxBytes int64) error {
	return &Error{Origin: name, Value: fmt.Sprintf("larger than %d bytes", maxBytes), Want: "a smaller file, for instance one year at a time"}
}

// checkText strips a UTF-8 byte order mark and refuses other encodings.
func checkText(name string, raw []byte) ([]byte, error) {
	wrong := func(line int, value string) error {
		return &Error{Origin: name, Line: line, Field: "encoding", Value: value, Want: "plain text saved as UTF-8"}
	}
	switch {
	case bytes.HasPrefix(raw, []byte{0xFF, 0xFE}), bytes.HasPrefix(raw, []byte{0xFE, 0xFF}):
		return nil, wrong(0, "UTF-16")
	}
	raw = bytes.TrimPrefix(raw, utf8BOM)
	if len(bytes.TrimSpace(raw)) == 0 {
		return nil, &Error{Origin: name, Value: "empty", Want: "a file with data"}
	}
	if i := bytes.IndexByte(raw, 0); i >= 0 {
		return nil, wrong(1+bytes.Count(raw[:i], []byte("\n")), "a zero byte (UTF-16 or a binary file)")
	}
	if !utf8.Valid(raw) {
		for i := 0; i < len(raw); {
			c, n := utf8.DecodeRune(raw[i:])
			if c == utf8.RuneError && n == 1 {
				return nil, wrong(1+bytes.Count(raw[:i], []byte("\n")), fmt.Sprintf("byte 0x%02X is not UTF-8 (Latin-1 or Windows text?)", raw[i]))
			}
			i += n
		}
	}
	return raw, nil
}

// short cuts a value for a message.
func short(s string) string {
	const most = 60
	if len(s) <= most {
		return s
	}
	cut := most
	for cut > 0 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return s[:cut] + "..."
}
