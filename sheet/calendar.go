package sheet

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// DefaultAlarmBefore is how long before a start the calendar wakes people: time
// to get up, dress and drive.
const DefaultAlarmBefore = 30 * time.Minute

const (
	maxAlarmBefore = 24 * time.Hour
	taskLasts      = 15 * time.Minute // an entry of a calendar needs a length
	possibleDamage = 0.05             // a night is entered when a block's chance of damage is this or more
)

// Calendar writes what is advised as an iCalendar (RFC 5545): an entry for each
// start, with an alarm before it and one at it, an entry for each stop with its
// rule, and one for each night on which damage is possible. Times are in UTC, so
// that no reader needs to know the farm's zone. An entry keeps its UID when its
// time moves with the forecast: reading a later calendar puts the entry right, it
// does not add a second one.
func Calendar(w io.Writer, a *nights.Answer, f *farm.Farm, o Options) error {
	v, err := newView(a, f, o)
	if err != nil {
		return err
	}
	if v.o.AlarmBefore == 0 {
		v.o.AlarmBefore = DefaultAlarmBefore
	}
	if v.o.AlarmBefore < 0 || v.o.AlarmBefore > maxAlarmBefore {
		return &InputError{"alarm before", v.o.AlarmBefore.String(), "a time up to " + maxAlarmBefore.String()}
	}
	cal := ics.NewCalendarFor("budward")
	cal.SetProductId("-//budward//frost nights//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName(singleLine("Frost, " + a.FarmName))
	v.addTasks(cal)
	v.addNights(cal)
	var b bytes.Buffer
	if err := cal.SerializeTo(&b, ics.WithNewLine("\r\n")); err != nil {
		return fmt.Errorf("sheet: writing the calendar: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

// event begins an entry. The sequence rises with the moment of the answer.
func (v *view) event(cal *ics.Calendar, uid string, from, to time.Time, summary, text string) *ics.VEvent {
	e := cal.AddEvent(uid + "@budward")
	e.SetDtStampTime(v.a.At)
	e.SetModifiedAt(v.a.At)
	e.SetSequence(int(v.a.At.Unix() / 60))
	e.SetStartAt(from)
	e.SetEndAt(to)
	e.SetSummary(singleLine(summary))
	e.SetDescription(plainText(text))
	e.SetTimeTransparency(ics.TransparencyTransparent)
	return e
}

// slug makes a part of a UID.
func slug(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '-', r == '_', r == '.':
			return r
		}
		return '-'
	}, strings.ToLower(s))
}

func (v *view) addTasks(cal *ics.Calendar) {
	count := map[string]int{}
	for _, t := range v.tasks() {
		verb := map[taskVerb]string{taskStart: "start", taskStop: "stop"}[t.verb]
		evening := v.a.Nights[t.forNight].Sunset.In(v.zone).Format(time.DateOnly)
		base := fmt.Sprintf("%s-%s-%s-%s", slug(v.a.FarmID), evening, slug(string(t.kind)), verb)
		count[base]++
		at := t.at
		if at.IsZero() {
			at = five(v.a.At)
		}
		where := v.names(t.blocks, 200)
		lines := []string{t.text(v), "Where: " + where + "."}
		if t.verb == taskStart && t.rule != "" {
			lines = append(lines, sentence(t.rule))
		}
		lines = append(lines, t.rules...)
		lines = append(lines, v.asOf())
		e := v.event(cal, fmt.Sprintf("%s-%d", base, count[base]), at, at.Add(taskLasts), strings.TrimSuffix(t.headline(), ".")+": "+v.names(t.blocks, 60), strings.Join(lines, "\n"))
		e.SetLocation(singleLine(where + ", " + v.a.FarmName))
		if t.verb == taskStart {
			v.alarm(e, v.o.AlarmBefore, "In "+minutes(v.o.AlarmBefore)+": "+t.headline()+" "+where)
			v.alarm(e, 0, "Now: "+t.headline()+" "+where)
		}
	}
}

// headline is a task in a few words.
func (t *task) headline() string {
	if t.verb == taskStop {
		return "Stop by its rule, " + kindWords[t.kind] + "."
	}
	switch t.kind {
	case nights.OverVine, nights.RunHeater:
		return "Start the " + kindWords[t.kind] + "."
	}
	return capital(t.label) + "."
}

func minutes(d time.Duration) string {
	if d%time.Hour == 0 && d > 0 {
		return plural(int(d/time.Hour), "hour", "hours")
	}
	return plural(int(d/time.Minute), "minute", "minutes")
}

func (v *view) alarm(e *ics.VEvent, before time.Duration, text string) {
	a := e.AddAlarm()
	a.SetAction(ics.ActionDisplay)
	a.SetTrigger("-PT" + fmt.Sprint(int(before/time.Minute)) + "M")
	a.SetDescription(singleLine(text))
}

func (v *view) asOf() string {
	return "Worked out " + v.a.At.In(v.zone).Format("Mon 2 Jan 2006 15:04 MST") + "; times move with the forecast."
}

// addNights enters the nights on which damage is possible.
func (v *view) addNights(cal *ics.Calendar) {
	for i, n := range v.a.Nights {
		var at []string
		most := 0.0
		var low *quantity.Celsius
		for k := range v.a.Blocks {
			b := &v.a.Blocks[k]
			if i >= len(b.Nights) || b.Nights[i].Risk == nil || !(b.Nights[i].Risk.Probability >= possibleDamage) {
				continue
			}
			x := &b.Nights[i]
			at, most = append(at, b.BlockID), max(most, x.Risk.Probability)
			if x.Min != nil && (low == nil || x.Min.P50C < *low) {
				low = &x.Min.P50C
			}
		}
		if len(at) == 0 {
			continue
		}
		summary := fmt.Sprintf("Frost possible: %s", plural(len(at), "block", "blocks"))
		text := fmt.Sprintf("Chance of damage up to %s, with nothing done.", percent(most))
		if low != nil {
			summary += ", " + v.temperature(*low) + " likely"
			text += fmt.Sprintf(" Lowest likely %s at cordon height.", v.temperature(*low))
		}
		slices.Sort(at)
		text += "\nBlocks: " + strings.Join(at, ", ") + ".\n" + v.asOf()
		uid := fmt.Sprintf("%s-%s-night", slug(v.a.FarmID), n.Sunset.In(v.zone).Format(time.DateOnly))
		v.event(cal, uid, n.Sunset, n.Sunrise, summary, text)
	}
}

// plainText is a text without signs that no reader should meet.
func plainText(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' || r == 0x7f || r == 0xfffd {
			return -1
		}
		return r
	}, s)
}

func singleLine(s string) string { return strings.ReplaceAll(plainText(s), "\n", " ") }
