package feed

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"
	"github.com/paulmach/orb/planar"

	"budward/decide/weather"
)

// Formats of warnings.
const (
	CAP  Format = "cap"  // Common Alerting Protocol 1.2 (OASIS), XML
	VTEC Format = "vtec" // text product of the US weather service with event codes
)

// Bounds of warnings. A file beyond them is refused, not cut.
const (
	MaxWarnings      = 1000
	MaxWarningAreas  = 5000  // areas, or codes, of one warning
	MaxPolygonPoints = 10000 // of one outline
	maxWarningText   = 100_000
)

// Significance says how serious a warning is.
type Significance string

// The grades of a warning.
const (
	IsWarning   Significance = "warning"   // it will, or does
	IsWatch     Significance = "watch"     // it may
	IsAdvisory  Significance = "advisory"  // it will, less severe
	IsStatement Significance = "statement" // said, not warned of
)

// WarningAction says what a message does to its event.
type WarningAction string

// The actions.
const (
	ActionNew       WarningAction = "new"
	ActionContinued WarningAction = "continued"
	ActionExtended  WarningAction = "extended" // in time or area
	ActionCorrected WarningAction = "corrected"
	ActionCancelled WarningAction = "cancelled"
	ActionExpired   WarningAction = "expired"
	ActionUpgraded  WarningAction = "upgraded" // replaced by a more serious one of the same message
)

// ends says whether a message takes its event away.
func (a WarningAction) ends() bool {
	return a == ActionCancelled || a == ActionExpired || a == ActionUpgraded
}

// Warning is one message about one event.
type Warning struct {
	Source       string        `json:"source"` // file or address
	Format       Format        `json:"format"`
	ID           string        `json:"id"`           // of this message
	EventID      string        `json:"event_id"`     // the same for all messages about one event; "" = not known
	Sender       string        `json:"sender"`       // office or address
	Event        string        `json:"event"`        // in words, as sent or as its code reads
	Phenomenon   string        `json:"phenomenon"`   // two letters of the US code, such as FZ; "" = not given
	Significance Significance  `json:"significance"` // "" = not known
	Action       WarningAction `json:"action"`
	Corrected    bool          `json:"corrected"` // the product is a correction
	Actual       bool          `json:"actual"`    // false: a test, an exercise or a draft
	Frost        bool          `json:"frost"`     // it is about frost or freeze
	SentAt       time.Time     `json:"sent_at"`
	OnsetAt      time.Time     `json:"onset_at"`         // zero: under way when sent
	ExpiresAt    time.Time     `json:"expires_at"`       // end of the event; zero: until further notice
	MessageUntil time.Time     `json:"message_until_at"` // a newer message is due by then; zero: not said
	Areas        []WarningArea `json:"areas"`
	Headline     string        `json:"headline"`
	Text         string        `json:"text"`
	Severity     string        `json:"severity,omitempty"` // CAP's words
	Urgency      string        `json:"urgency,omitempty"`
	Certainty    string        `json:"certainty,omitempty"`
	References   []string      `json:"references,omitempty"` // CAP: identifiers of the messages it replaces
}

// WarningArea is where a warning holds: by codes (US zone or county codes such as
// TXZ180, or "name=value" of another list), by outline, or by circle.
type WarningArea struct {
	Name    string       `json:"name"`
	Codes   []string     `json:"codes,omitempty"`
	Polygon [][2]float64 `json:"polygon,omitempty"` // closed, longitude then latitude
	Circle  *Circle      `json:"circle,omitempty"`
}

// Circle is a place and what lies about it.
type Circle struct {
	LonDeg  float64 `json:"lon_deg"`
	LatDeg  float64 `json:"lat_deg"`
	RadiusM float64 `json:"radius_m"`
}

// WarningList is what one file delivered.
type WarningList struct {
	Origin       string
	FedAt        time.Time
	Warnings     []Warning // in the order of the file
	Refused      []weather.Refusal
	RefusedTotal int
	Notes        []string
}

// Refuse counts r and lists it while there is room.
func (l *WarningList) Refuse(r weather.Refusal) {
	l.RefusedTotal++
	if len(l.Refused) < weather.MaxRefused {
		l.Refused = append(l.Refused, r)
	}
}

// WarningOptions say what a file cannot say of itself.
type WarningOptions struct {
	Format   Format    // Unknown: found out
	FedAt    time.Time // also the month and year of a text product that gives only day and hour
	MaxBytes int64     // 0: DefaultMaxBytes
}

// DecodeWarnings reads CAP 1.2 or a text product with event codes (VTEC). What
// cannot be read is refused, message by message. A file without any warning that
// could be taken is an error, an *Error.
func DecodeWarnings(name string, r io.Reader, opts WarningOptions) (WarningList, error) {
	text, err := readAll(name, r, opts.MaxBytes)
	if err != nil {
		return WarningList{}, err
	}
	l := WarningList{Origin: name, FedAt: opts.FedAt}
	format := opts.Format
	if format == Unknown {
		format = detectWarning(text)
	}
	switch format {
	case CAP:
		err = decodeCAP(&l, text)
	case VTEC:
		err = decodeVTEC(&l, text)
	default:
		err = &Error{Origin: name, Value: fmt.Sprintf("begins with %.40q", text[:min(len(text), 40)]),
			Want: "a CAP 1.2 alert (XML) or a weather-service text with event codes such as /O.NEW.KLCH.FZ.A.0001.220102T0600Z-220102T1500Z/", Err: ErrUnknownFormat}
	}
	if err != nil {
		return WarningList{}, err
	}
	if len(l.Warnings) == 0 {
		e := &Error{Origin: name, Value: fmt.Sprintf("no warning could be taken (%d refused)", l.RefusedTotal), Want: "at least one"}
		if len(l.Refused) > 0 {
			f := l.Refused[0]
			e.Line, e.Field = f.Line, f.Field
			e.Value += fmt.Sprintf("; first refusal: %q, %s", f.Value, f.Why)
		}
		return WarningList{}, e
	}
	return l, nil
}

func detectWarning(text []byte) Format {
	head := bytes.TrimLeft(text, " \t\r\n\x01")
	switch {
	case bytes.HasPrefix(head, []byte("<")):
		return CAP
	case vtecStart.Match(text):
		return VTEC
	}
	return Unknown
}

// phenomena are the two-letter codes that matter to a vineyard in spring (US
// National Weather Service Instruction 10-1703, from memory).
var phenomena = map[string]string{"FZ": "Freeze", "FR": "Frost", "HZ": "Hard Freeze", "ZF": "Freezing Fog", "EC": "Extreme Cold", "CW": "Cold Weather",
	"WC": "Wind Chill", "WI": "Wind", "HW": "High Wind", "WS": "Winter Storm", "WW": "Winter Weather"}

var significances = map[string]Significance{"W": IsWarning, "A": IsWatch, "Y": IsAdvisory, "S": IsStatement, "F": IsStatement, "O": IsStatement, "N": IsStatement}

// eventName writes a code in words: "Freeze Watch".
func eventName(phenomenon string, s Significance) string {
	name := phenomena[phenomenon]
	if name == "" {
		name = "Event " + phenomenon
	}
	return strings.TrimSpace(name + " " + strings.ToUpper(string(s[:min(1, len(s))])) + string(s[min(1, len(s)):]))
}

// aboutFrost goes by the code, or else by the words.
func aboutFrost(phenomenon, event string) bool {
	if phenomenon != "" {
		return phenomenon == "FZ" || phenomenon == "FR" || phenomenon == "HZ"
	}
	event = strings.ToLower(event)
	return strings.Contains(event, "frost") || strings.Contains(event, "freez")
}

// Covers says whether a warning holds at a place, given in degrees and, where they
// are known, by the codes of its zone and county. known is false when the warning
// names areas only by codes and none were given to compare.
func (w *Warning) Covers(latDeg, lonDeg float64, codes []string) (covered, known bool) {
	at := orb.Point{lonDeg, latDeg}
	for i := range w.Areas {
		a := &w.Areas[i]
		if len(a.Polygon) > 0 {
			known = true
			ring := make(orb.Ring, len(a.Polygon))
			for k, p := range a.Polygon {
				ring[k] = p
			}
			covered = covered || planar.RingContains(ring, at)
		}
		if c := a.Circle; c != nil {
			known = true
			covered = covered || geo.Distance(orb.Point{c.LonDeg, c.LatDeg}, at) <= c.RadiusM
		}
		if len(codes) > 0 && len(a.Codes) > 0 {
			known = true
			covered = covered || slices.ContainsFunc(a.Codes, func(code string) bool { return codeCovers(code, codes) })
		}
	}
	return covered, known
}

// codeCovers knows that TXZ000 and TXZALL are all zones of Texas.
func codeCovers(code string, codes []string) bool {
	for _, c := range codes {
		c = strings.ToUpper(strings.TrimSpace(c))
		whole := len(code) == 6 && (code[3:] == "000" || code[3:] == "ALL") && strings.HasPrefix(c, code[:3])
		if c == code || whole {
			return true
		}
	}
	return false
}
