package feed

import (
	"errors"
	"slices"
	"strings"
	"time"
)

// DateOrder is the order of day and month in dates written with strokes, such
// as 3/4/2024.
type DateOrder string

const (
	MonthFirst DateOrder = "mdy"
	DayFirst   DateOrder = "dmy"
)

// stampText is one time as read: either an instant, or a wall clock without an
// offset.
type stampText struct {
	instant time.Time // zero if wall is set
	wall    time.Time // the wall clock written as if it were UTC
}

// Layouts without an offset. A trailing Z or offset is tried first.
var wallLayouts = []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04", "2006/01/02 15:04:05", "2006/01/02 15:04"}

var strokeLayouts = map[DateOrder][]string{
	MonthFirst: {"1/2/2006 15:04:05", "1/2/2006 15:04", "1/2/2006 3:04:05 PM", "1/2/2006 3:04 PM"},
	DayFirst:   {"2/1/2006 15:04:05", "2/1/2006 15:04", "2.1.2006 15:04:05", "2.1.2006 15:04"},
}

var instantLayouts = []string{time.RFC3339, "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04Z07:00", "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05 Z07:00", "2006-01-02 15:04 Z07:00"}

const wantClock = "a time such as 2024-04-10T05:30:00Z, 2024-04-10T05:30:00-07:00 or 2024-04-10 05:30"

var (
	errTime    = errors.New("not " + wantClock)
	errStrokes = errors.New("a date with strokes can be read two ways; state the order of day and month (mdy or dmy)")
	errZone    = errors.New("a time without an offset; state the zone of the clock")
	errNever   = errors.New("this clock time does not exist: the clock was put forward over it")
	errTwice   = errors.New("this clock time came twice (clock put back) and the order of the rows does not say which it is; write times with their offset")
	errYear    = errors.New("year outside 1900 to 2200")
)

// parseStamp reads one time.
func parseStamp(s string, order DateOrder) (stampText, error) {
	s = strings.Join(strings.Fields(s), " ")
	if t, ok := strings.CutSuffix(s, " UTC"); ok {
		s = t + "Z"
	}
	for _, l := range instantLayouts {
		if t, err := time.Parse(l, s); err == nil {
			return stampText{instant: t.UTC()}, yearCheck(t)
		}
	}
	layouts := wallLayouts
	if order != "" {
		layouts = append(slices.Clone(wallLayouts), strokeLayouts[order]...)
	}
	for _, l := range layouts {
		if t, err := time.Parse(l, s); err == nil {
			return stampText{wall: t}, yearCheck(t)
		}
	}
	if order == "" {
		for _, ls := range strokeLayouts {
			for _, l := range ls {
				if _, err := time.Parse(l, s); err == nil {
					return stampText{}, errStrokes
				}
			}
		}
	}
	return stampText{}, errTime
}

func yearCheck(t time.Time) error {
	if y := t.Year(); y < 1900 || y > 2200 {
		return errYear
	}
	return nil
}

// instants returns the instants at which clocks in loc showed wall: one, two
// when the clock was put back over it, none when it was put forward over it;
// in order of time.
func instants(wall time.Time, loc *time.Location) []time.Time {
	var out []time.Time
	for _, probe := range []time.Duration{-26 * time.Hour, 0, 26 * time.Hour} {
		_, off := wall.Add(probe).In(loc).Zone()
		t := wall.Add(-time.Duration(off) * time.Second)
		_, back := t.In(loc).Zone()
		if back == off && !slices.ContainsFunc(out, t.Equal) {
			out = append(out, t)
		}
	}
	slices.SortFunc(out, func(a, b time.Time) int { return a.Compare(b) })
	return out
}

// rowTime is the time of one row on its way to an instant.
type rowTime struct {
	stamp stampText
	at    time.Time // the instant, when known
	err   error     // why the row cannot be dated
	cands []time.Time
}

// resolve turns the times of all rows, in file order, into instants. Wall clock
// times that came twice are settled by order: when the rows are in order of
// time, forwards or backwards, and the clock steps back exactly once within the
// hour that came twice, rows before the step are of the first passage and rows
// after it of the second; the step must also be no more than one and a half of
// the usual steps in true time, or it is a row written twice. Anything else
// leaves those rows undated with a reason. zone nil refuses wall clock times.
func resolve(rows []rowTime, zone *time.Location) {
	ambiguous := false
	for i := range rows {
		r := &rows[i]
		switch {
		case r.err != nil:
		case !r.stamp.instant.IsZero():
			r.at = r.stamp.instant
		case zone == nil:
			r.err = errZone
		default:
			switch c := instants(r.stamp.wall, zone); len(c) {
			case 0:
				r.err = errNever
			case 1:
				r.at = c[0].UTC()
			default:
				r.cands, ambiguous = c, true
			}
		}
	}
	if !ambiguous {
		return
	}
	dir, usual := direction(rows), usualRowStep(rows)
	for i := 0; i < len(rows); {
		if len(rows[i].cands) == 0 {
			i++
			continue
		}
		j := i + 1
		for j < len(rows) && (len(rows[j].cands) > 0 || rows[j].err != nil) &&
			(rows[j].err != nil || rows[j].stamp.wall.Sub(rows[i].stamp.wall).Abs() < 24*time.Hour) {
			j++
		}
		settle(rows[i:j], dir, usual)
		i = j
	}
}

// direction says whether the dated rows run forwards (+1), backwards (-1) or
// neither (0).
func direction(rows []rowTime) int {
	fwd, back := true, true
	var prev time.Time
	n := 0
	for i := range rows {
		if rows[i].at.IsZero() {
			continue
		}
		if n > 0 {
			fwd = fwd && !rows[i].at.Before(prev)
			back = back && !rows[i].at.After(prev)
		}
		prev = rows[i].at
		n++
	}
	switch {
	case n < 2:
		return +1 // nothing against it; the step back itself must show it
	case fwd:
		return +1
	case back:
		return -1
	}
	return 0
}

// foldOf is how far the clock was put back.
func foldOf(cands []time.Time) time.Duration { return cands[len(cands)-1].Sub(cands[0]) }

// usualRowStep is the median step between dated neighbours in the file; an hour
// when there are none.
func usualRowStep(rows []rowTime) time.Duration {
	var d []time.Duration
	for i := 1; i < len(rows); i++ {
		if a, b := rows[i-1].at, rows[i].at; !a.IsZero() && !b.IsZero() && !a.Equal(b) {
			d = append(d, b.Sub(a).Abs())
		}
	}
	if len(d) == 0 {
		return time.Hour
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// settle dates a run of rows whose clock times came twice.
func settle(run []rowTime, dir int, usual time.Duration) {
	step, steps := -1, 0
	prev := -1
	for i := range run {
		if len(run[i].cands) == 0 {
			continue
		}
		if prev >= 0 {
			d := run[i].stamp.wall.Sub(run[prev].stamp.wall)
			if dir < 0 {
				d = -d
			}
			if d <= 0 {
				step, steps = i, steps+1
				if d+foldOf(run[i].cands) > usual+usual/2 {
					steps++ // too long a wait for a clock put back: a row written twice
				}
			}
		}
		prev = i
	}
	for i := range run {
		if len(run[i].cands) == 0 {
			continue
		}
		if dir == 0 || steps != 1 {
			run[i].err = errTwice
			continue
		}
		second := i >= step
		if dir < 0 {
			second = !second
		}
		if second {
			run[i].at = run[i].cands[len(run[i].cands)-1].UTC()
		} else {
			run[i].at = run[i].cands[0].UTC()
		}
	}
}
