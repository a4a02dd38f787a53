package feed

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"budward/decide/weather"
)

// vtecCode is the event code of the US weather service (Valid Time Event Code,
// Instruction 10-1703, from memory):
//
//	/k.aaa.cccc.pp.s.####.yymmddThhnnZ-yymmddThhnnZ/
//
// k is the class of product (O operational, T test, E and X experimental), aaa the
// action, cccc the office, pp the phenomenon, s the significance, #### the number
// of the event in the year. A begin of zeros means under way, an end of zeros
// until further notice.
type vtecCode struct {
	class, action, office, phenomenon, significance, number string
	begin, end                                              time.Time
}

var (
	vtecStart = regexp.MustCompile(`(?m)^\s*/[OTEX]\.[A-Z]{3}\.`)
	vtecWhole = regexp.MustCompile(`^/([OTEX])\.(NEW|CON|EXT|EXA|EXB|UPG|CAN|EXP|COR|ROU)\.([A-Z]{4})\.([A-Z]{2})\.([WAYSFON])\.(\d{4})\.(\d{6}T\d{4}Z)-(\d{6}T\d{4}Z)/$`)
)

const vtecZero = "000000T0000Z"

func parseVTEC(s string) (vtecCode, error) {
	m := vtecWhole.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return vtecCode{}, errors.New("not an event code such as /O.NEW.KLCH.FZ.A.0001.220102T0600Z-220102T1500Z/")
	}
	c := vtecCode{class: m[1], action: m[2], office: m[3], phenomenon: m[4], significance: m[5], number: m[6]}
	for i, to := range []*time.Time{&c.begin, &c.end} {
		if m[7+i] == vtecZero {
			continue
		}
		t, err := time.Parse("20060102T1504Z", "20"+m[7+i]) // the code is younger than 2000
		if err != nil {
			return c, fmt.Errorf("%s is not a time", m[7+i])
		}
		*to = t
	}
	if !c.begin.IsZero() && !c.end.IsZero() && c.end.Before(c.begin) {
		return c, errors.New("the event ends before it begins")
	}
	return c, nil
}

var vtecActions = map[string]WarningAction{"NEW": ActionNew, "CON": ActionContinued, "EXT": ActionExtended, "EXA": ActionExtended, "EXB": ActionExtended,
	"UPG": ActionUpgraded, "CAN": ActionCancelled, "EXP": ActionExpired, "COR": ActionCorrected, "ROU": ActionContinued}

// fill writes the code into a warning. An event is named by the year it was sent
// in too: numbers start again every year. (An event that runs over New Year keeps
// its number: its begin, where there is one, decides.)
func (c *vtecCode) fill(w *Warning) {
	year := w.SentAt.Year()
	if !c.begin.IsZero() {
		year = c.begin.Year()
	}
	w.EventID = fmt.Sprintf("%d.%s.%s.%s.%s", year, c.office, c.phenomenon, c.significance, c.number)
	w.Phenomenon, w.Significance, w.Action = c.phenomenon, significances[c.significance], vtecActions[c.action]
	w.OnsetAt, w.ExpiresAt = c.begin, c.end
	w.Actual = w.Actual && (c.class == "O" || c.class == "X")
	w.Frost = aboutFrost(c.phenomenon, "")
}

// wmoHeading starts a bulletin: "WWUS74 KLCH 312037" and, for a correction, "CCA".
var (
	wmoHeading = regexp.MustCompile(`^([A-Z]{4}\d{2}) ([A-Z]{4}) (\d{2})(\d{2})(\d{2})(?: ([A-Z]{3}))?$`)
	ugcStart   = regexp.MustCompile(`^[A-Z]{2}[CZ](?:\d{3}|ALL)[->]`)
	ugcEnd     = regexp.MustCompile(`(?:^|-)(\d{6})-$`)
	timeLine   = regexp.MustCompile(`(?i)^(\d{1,2})(\d{2}) (?:(AM|PM) )?([A-Z]{3,4}) (?:SUN|MON|TUE|WED|THU|FRI|SAT) ([A-Z]{3}) (\d{1,2}) (\d{4})(?: |/|$)`)
)

// usZones are the abbreviations these products write, in hours from UTC.
var usZones = map[string]float64{"UTC": 0, "GMT": 0, "AST": -4, "EST": -5, "EDT": -4, "CST": -6, "CDT": -5, "MST": -7, "MDT": -6, "PST": -8, "PDT": -7,
	"AKST": -9, "AKDT": -8, "HST": -10, "SST": -11, "CHST": 10}

// product is a bulletin on its way through decodeVTEC.
type product struct {
	office    string
	wmo       [3]int // day, hour, minute in UTC; day 0 = no heading
	corrected bool
	sent      time.Time
}

// segment is a part of a bulletin for some zones.
type segment struct {
	line  int
	ugc   string
	codes []vtecLine
	body  []string
}

type vtecLine struct {
	line int
	text string
}

// decodeVTEC reads text products: bulletins one after another, each of segments
// that end at $$. A segment names zones or counties (UGC), one or more event codes
// and a text; each code becomes one warning. Segments that cannot be read are
// refused.
func decodeVTEC(l *WarningList, text []byte) error {
	var p product
	var s *segment
	open := "" // a zone line not yet at its end
	close := func() {
		if s != nil {
			s.take(l, &p)
		}
		s, open = nil, ""
	}
	for i, raw := range strings.Split(string(text), "\n") {
		line := strings.TrimRight(strings.Map(printable, raw), " ")
		if m := wmoHeading.FindStringSubmatch(line); m != nil {
			close()
			p = product{office: m[2], wmo: [3]int{atoi(m[3]), atoi(m[4]), atoi(m[5])}, corrected: strings.HasPrefix(m[6], "CC")}
			continue
		}
		if t, ok := parseTimeLine(line); ok && p.sent.IsZero() && s == nil {
			p.date(t)
		}
		switch {
		case line == "$$":
			close()
		case s == nil && ugcStart.MatchString(line):
			s = &segment{line: i + 1}
			open = line
		case s != nil && open != "" && s.ugc == "":
			open += line
		case s != nil:
			s.add(i+1, line)
		}
		if s != nil && s.ugc == "" && (ugcEnd.MatchString(open) || len(open) > maxZoneLine) {
			s.ugc = open
		}
		if len(l.Warnings) > MaxWarnings {
			return &Error{Origin: l.Origin, Line: i + 1, Value: "too many warnings", Want: fmt.Sprintf("at most %d", MaxWarnings)}
		}
	}
	close()
	return nil
}

func printable(r rune) rune {
	if r < ' ' {
		return -1
	}
	return r
}

func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		panic("feed: digits that are no number: " + s)
	}
	return n
}

func (s *segment) add(line int, text string) {
	if vtecStart.MatchString(text) {
		s.codes = append(s.codes, vtecLine{line, strings.TrimSpace(text)})
		return
	}
	s.body = append(s.body, text)
}

// localTime is what a line such as "237 PM CST Fri Dec 31 2021" says.
type localTime struct {
	wall time.Time // written as if it were UTC
	zone string
}

func parseTimeLine(line string) (localTime, bool) {
	m := timeLine.FindStringSubmatch(line)
	if m == nil {
		return localTime{}, false
	}
	text := fmt.Sprintf("%s:%s %s %s %s %s", m[1], m[2], strings.ToUpper(m[3]), m[5], m[6], m[7])
	layout := "3:04 PM Jan 2 2006"
	if m[3] == "" {
		layout = "15:04  Jan 2 2006"
	}
	t, err := time.Parse(layout, text)
	return localTime{t, strings.ToUpper(m[4])}, err == nil && yearCheck(t) == nil
}

// date dates a bulletin: by its line of local time where the zone is known, else
// by day, hour and minute of the heading on the day nearest to that line.
func (p *product) date(t localTime) {
	if off, ok := usZones[t.zone]; ok {
		p.sent = t.wall.Add(-time.Duration(off * float64(time.Hour)))
		return
	}
	p.sent = nearDay(p.wmo, t.wall)
}

// nearDay is the moment with this day of the month, hour and minute nearest to
// `about`; zero when day is 0 or the nearest is more than three days off.
func nearDay(dhm [3]int, about time.Time) time.Time {
	if dhm[0] == 0 || dhm[1] > 23 || dhm[2] > 59 || about.IsZero() {
		return time.Time{}
	}
	best := time.Time{}
	for m := -1; m <= 1; m++ {
		first := time.Date(about.Year(), about.Month(), 1, 0, 0, 0, 0, time.UTC).AddDate(0, m, 0)
		t := time.Date(first.Year(), first.Month(), dhm[0], dhm[1], dhm[2], 0, 0, time.UTC)
		if t.Month() == first.Month() && (best.IsZero() || t.Sub(about).Abs() < best.Sub(about).Abs()) {
			best = t
		}
	}
	if best.Sub(about).Abs() > 72*time.Hour {
		return time.Time{}
	}
	return best
}

// take turns a segment into warnings, or refuses it.
func (s *segment) take(l *WarningList, p *product) {
	refuse := func(line int, field, value, why string) {
		l.Refuse(weather.Refusal{Origin: l.Origin, Line: line, Field: field, Value: short(value), Why: why})
	}
	if p.sent.IsZero() {
		p.sent = nearDay(p.wmo, l.FedAt)
	}
	zones, until, err := parseUGC(s.ugc, p.sent)
	switch {
	case p.sent.IsZero():
		refuse(s.line, "time of issue", "", "no line such as 237 PM CST Fri Dec 31 2021, and day and hour of the heading do not say the month")
		return
	case err != nil:
		refuse(s.line, "zones", s.ugc, err.Error())
		return
	case len(s.codes) == 0:
		refuse(s.line, "event code", "", "the segment has none (/O.NEW....)")
		return
	}
	names, text, headlines := s.read()
	for _, c := range s.codes {
		code, err := parseVTEC(c.text)
		if err != nil {
			refuse(c.line, "event code", c.text, err.Error())
			continue
		}
		w := Warning{Source: l.Origin, Format: VTEC, Sender: code.office, Actual: true, Corrected: p.corrected || code.action == "COR",
			SentAt: p.sent, MessageUntil: until, Text: text, Areas: []WarningArea{{Name: names, Codes: zones}}}
		code.fill(&w)
		w.Event = eventName(w.Phenomenon, w.Significance)
		w.ID = fmt.Sprintf("%s.%s.%s.%s", w.EventID, code.action, p.sent.Format("20060102T1504Z"), zones[0])
		w.Headline = pickHeadline(headlines, w.Event, w.Action)
		l.Warnings = append(l.Warnings, w)
	}
}
