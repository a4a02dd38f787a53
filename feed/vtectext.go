package feed

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// maxZoneLine bounds the zones of one segment as written.
const maxZoneLine = 20_000

// parseUGC reads the zones of a segment (Universal Geographic Code, US National
// Weather Service Instruction 10-1702, from memory):
//
//	NDZ018>020-032>034-MNZ001-070545-
//
// State and kind (Z zone, C county) carry on until they are named again, > is a
// range, the last number is day, hour and minute in UTC until which the message
// holds.
func parseUGC(s string, sent time.Time) (zones []string, until time.Time, err error) {
	m := ugcEnd.FindStringSubmatch(s)
	if m == nil {
		return nil, until, errors.New("not zones that end in day, hour and minute, such as TXZ180-011400-")
	}
	list := strings.TrimSuffix(strings.TrimSuffix(s, "-"), m[1])
	prefix := ""
	for _, part := range strings.Split(strings.Trim(list, "-"), "-") {
		if len(part) >= 6 && !isDigits(part[:1], 1) {
			prefix, part = part[:3], part[3:]
		}
		from, to, isRange := strings.Cut(part, ">")
		switch {
		case prefix == "" || prefix[2] != 'Z' && prefix[2] != 'C':
			return nil, until, fmt.Errorf("%q: want a state and Z or C first", short(part))
		case part == "ALL":
			zones = append(zones, prefix+part)
			continue
		case !isDigits(from, 3) || isRange && !isDigits(to, 3):
			return nil, until, fmt.Errorf("%q is not a number of three digits", short(part))
		}
		if !isRange {
			to = from
		}
		if atoi(to) < atoi(from) {
			return nil, until, fmt.Errorf("the range %s runs backwards", part)
		}
		for n := atoi(from); n <= atoi(to); n++ {
			if len(zones) >= MaxWarningAreas {
				return nil, until, fmt.Errorf("more than %d zones", MaxWarningAreas)
			}
			zones = append(zones, fmt.Sprintf("%s%03d", prefix, n))
		}
	}
	d := [3]int{atoi(m[1][:2]), atoi(m[1][2:4]), atoi(m[1][4:])}
	if d[1] > 23 || d[2] > 59 {
		return nil, until, fmt.Errorf("%s is not day, hour and minute", m[1])
	}
	return zones, nextDay(d, sent), nil
}

// nextDay is the first moment with this day, hour and minute that is not more
// than an hour before `from`, within five weeks; zero if there is none.
func nextDay(dhm [3]int, from time.Time) time.Time {
	if from.IsZero() {
		return time.Time{}
	}
	for m := range 3 {
		first := time.Date(from.Year(), from.Month(), 1, 0, 0, 0, 0, time.UTC).AddDate(0, m, 0)
		t := time.Date(first.Year(), first.Month(), dhm[0], dhm[1], dhm[2], 0, 0, time.UTC)
		if t.Month() == first.Month() && !t.Before(from.Add(-time.Hour)) && t.Before(from.AddDate(0, 0, 35)) {
			return t
		}
	}
	return time.Time{}
}

// read takes the body of a segment apart: the names of the zones, the text, and
// the headlines, which stand between dots.
func (s *segment) read() (names, text string, headlines []string) {
	body := s.body
	at := slices.IndexFunc(body, func(line string) bool { _, ok := parseTimeLine(line); return ok })
	var head []string
	if at >= 0 {
		head, body = body[:at], body[at+1:]
	}
	for i, line := range head {
		if strings.HasPrefix(strings.ToLower(line), "including") {
			head = head[:i]
			break
		}
	}
	names = strings.ReplaceAll(strings.Trim(strings.Join(head, ""), "- "), "-", ", ")
	if i := slices.Index(body, "&&"); i >= 0 {
		body = body[:i]
	}
	text = strings.TrimSpace(strings.Join(body, "\n"))
	text = text[:min(len(text), maxWarningText)]
	for i := 0; i < len(body); i++ {
		if !strings.HasPrefix(body[i], "...") {
			continue
		}
		line := body[i]
		for !strings.HasSuffix(line[3:], "...") && i+1 < len(body) && body[i+1] != "" && !strings.HasPrefix(body[i+1], "...") {
			i++
			line += " " + body[i]
		}
		headlines = append(headlines, strings.Trim(line, ". "))
	}
	return names, strings.ToValidUTF8(text, ""), headlines
}

// pickHeadline finds the headline of one event among those of its segment: by the
// event's name; where several have it, by what they say is done.
func pickHeadline(all []string, event string, action WarningAction) string {
	var own []string
	for _, h := range all {
		if strings.HasPrefix(strings.ToUpper(h), strings.ToUpper(event)) {
			own = append(own, h)
		}
	}
	if len(own) > 1 {
		own = slices.DeleteFunc(own, func(h string) bool { return headlineAction(h) != action })
	}
	return strings.Join(own, "; ")
}

func headlineAction(h string) WarningAction {
	h = strings.ToUpper(h)
	for _, x := range []struct {
		word string
		a    WarningAction
	}{{"REMAINS IN EFFECT", ActionContinued}, {"CANCEL", ActionCancelled}, {"EXPIRE", ActionExpired}, {"NO LONGER IN EFFECT", ActionCancelled},
		{"NOW IN EFFECT", ActionExtended}} {
		if strings.Contains(h, x.word) {
			return x.a
		}
	}
	return ActionNew
}
