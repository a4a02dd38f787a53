package sheet

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"

	"budward/decide/nights"
	"budward/vineyard/farm"
)

func calendar(t *testing.T, a *nights.Answer, f *farm.Farm, o Options) (*ics.Calendar, string) {
	t.Helper()
	var b bytes.Buffer
	if err := Calendar(&b, a, f, o); err != nil {
		t.Fatal(err)
	}
	cal, err := ics.ParseCalendar(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	return cal, b.String()
}

func property(e *ics.VEvent, p ics.ComponentProperty) string {
	if x := e.GetProperty(p); x != nil {
		return x.Value
	}
	return ""
}

// find returns the entry whose summary begins with a text.
func find(t *testing.T, cal *ics.Calendar, summary string) *ics.VEvent {
	t.Helper()
	for _, e := range cal.Events() {
		if strings.HasPrefix(property(e, ics.ComponentPropertySummary), summary) {
			return e
		}
	}
	t.Fatalf("no entry %q", summary)
	return nil
}

// Written, read by the library's own parser, and found again: times as in the
// answer (20:40 PDT is 03:40 UTC), an alarm half an hour before and one at the
// start.
func TestCalendar(t *testing.T) {
	a, f := demo(t)
	cal, text := calendar(t, a, f, us)
	e := find(t, cal, "Start the sprinklers")
	if got := property(e, ics.ComponentPropertySummary); got != "Start the sprinklers: A1 Creek Flat" {
		t.Errorf("summary %q", got)
	}
	from, err := e.GetStartAt()
	if err != nil || !from.Equal(time.Date(2026, 4, 9, 3, 40, 0, 0, time.UTC)) {
		t.Errorf("start %v %v", from, err)
	}
	if d := property(e, ics.ComponentPropertyDescription); !strings.Contains(d, "36.3 °F") || !strings.Contains(d, "Never run a fan on wetted vines.") || !strings.Contains(d, "\n") {
		t.Errorf("description %q", d)
	}
	alarms := e.Alarms()
	if len(alarms) != 2 || alarms[0].GetProperty(ics.ComponentPropertyTrigger).Value != "-PT30M" || alarms[1].GetProperty(ics.ComponentPropertyTrigger).Value != "-PT0M" ||
		alarms[0].GetProperty(ics.ComponentPropertyAction).Value != "DISPLAY" {
		t.Errorf("alarms %+v", alarms)
	}
	if e := find(t, cal, "Stop by its rule, sprinklers"); len(e.Alarms()) != 0 || !strings.Contains(property(e, ics.ComponentPropertyDescription), "stop only when the wet bulb") {
		t.Errorf("%+v", e)
	}
	n := find(t, cal, "Frost possible")
	if from, _ := n.GetStartAt(); !from.Equal(a.Nights[0].Sunset.Truncate(time.Second)) {
		t.Errorf("the night begins %v", from)
	}
	uids := map[string]bool{}
	for _, e := range cal.Events() {
		uid := e.Id()
		if uids[uid] || !strings.HasPrefix(uid, "larkmoor-2026-04-") || !strings.HasSuffix(uid, "@budward") {
			t.Errorf("uid %q", uid)
		}
		uids[uid] = true
		if property(e, ics.ComponentPropertyDtstamp) != "20260408T220000Z" { // 15:00 PDT
			t.Errorf("stamp %q", property(e, ics.ComponentPropertyDtstamp))
		}
	}
	checkForm(t, text)
}

// RFC 5545 section 3.1: lines end with CRLF and hold at most 75 octets, never half
// a sign.
func checkForm(t *testing.T, text string) {
	t.Helper()
	if !strings.HasPrefix(text, "BEGIN:VCALENDAR\r\n") || !strings.HasSuffix(text, "END:VCALENDAR\r\n") {
		t.Errorf("begins %.20q, ends %q", text, text[len(text)-20:])
	}
	for _, line := range strings.Split(text, "\r\n") {
		if len(line) > 75 || strings.ContainsAny(line, "\r\n") || !utf8.ValidString(line) {
			t.Errorf("line of %d octets: %q", len(line), line)
		}
	}
}

// Moved by a later forecast, an entry keeps its UID and gets a higher sequence.
func TestCalendarUIDsStay(t *testing.T) {
	a, f := demo(t)
	before, _ := calendar(t, a, f, us)
	a.At = a.At.Add(3 * time.Hour)
	for i := range a.Blocks {
		for k := range a.Blocks[i].Choices {
			if c := &a.Blocks[i].Choices[k]; !c.Ahead && !c.StartAt.IsZero() {
				c.StartAt = c.StartAt.Add(35 * time.Minute)
			}
		}
	}
	after, _ := calendar(t, a, f, us)
	x, y := find(t, before, "Start the sprinklers"), find(t, after, "Start the sprinklers")
	p, _ := x.GetStartAt()
	q, _ := y.GetStartAt()
	if x.Id() != y.Id() || q.Sub(p) != 35*time.Minute || !(property(x, ics.ComponentPropertySequence) < property(y, ics.ComponentPropertySequence)) {
		t.Errorf("%s at %v, then %s at %v", x.Id(), p, y.Id(), q)
	}
}

func TestCalendarOddTexts(t *testing.T) {
	a, f := demo(t)
	a.FarmName = "One; two, three\nEND:VCALENDAR"
	for i := range a.Blocks {
		a.Blocks[i].Name = "Å\x00ngström\r\nATTENDEE:mailto:x@y.example;" + strings.Repeat("ü,", 60)
	}
	cal, text := calendar(t, a, f, us)
	if strings.Contains(text, "\nATTENDEE") || strings.Count(text, "\nEND:VCALENDAR") != 1 {
		t.Error("a name became a property")
	}
	e := find(t, cal, "Start the sprinklers")
	if got := property(e, ics.ComponentPropertyLocation); !strings.Contains(got, "One; two, three") || !strings.Contains(got, "ü,ü,") {
		t.Errorf("location %q", got)
	}
	checkForm(t, text)
}

func TestCalendarRefuses(t *testing.T) {
	a, f := demo(t)
	for _, d := range []time.Duration{-time.Minute, 48 * time.Hour} {
		o := us
		o.AlarmBefore = d
		var e *InputError
		if err := Calendar(&bytes.Buffer{}, a, f, o); !errors.As(err, &e) || e.Field != "alarm before" {
			t.Errorf("%v: %v", d, err)
		}
	}
	// nothing advised and no risk: a calendar without entries is still one
	for i := range a.Blocks {
		a.Blocks[i].Choices, a.Blocks[i].Nights = nil, nil
	}
	cal, _ := calendar(t, a, f, us)
	if n := len(cal.Events()); n != 0 {
		t.Errorf("%d entries", n)
	}
}
