package feed

import (
	"slices"
	"time"
)

// InForce folds messages, in any order, into what stands at now: each event as its
// last message has it, in the areas that are left to it. Messages sent after now,
// tests and drafts do not count; what was cancelled, has expired or was replaced is
// out, and so is what has ended. Events to come are in: they are what a grower
// waits for. The latest sent comes first.
func InForce(list []Warning, now time.Time) []Warning {
	var known []Warning
	for _, w := range list {
		if w.Actual && !w.SentAt.After(now) {
			known = append(known, w)
		}
	}
	slices.SortStableFunc(known, func(a, b Warning) int { return a.SentAt.Compare(b.SentAt) })
	f := folder{stands: map[place]int{}, gone: map[string]bool{}}
	for i := range known {
		f.take(&known[i], i)
	}
	var out []Warning
	for i := len(known) - 1; i >= 0; i-- {
		w := known[i]
		if !w.ExpiresAt.IsZero() && !w.ExpiresAt.After(now) || w.Action.ends() || f.gone[w.ID] {
			continue
		}
		if w.EventID != "" {
			if w.Areas = f.left(&w, i); len(w.Areas) == 0 {
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

// place is one event in one area.
type place struct{ event, area string }

type folder struct {
	stands map[place]int   // index of the message that speaks for it last
	gone   map[string]bool // identifiers of CAP messages that were replaced
}

func (f *folder) take(w *Warning, i int) {
	for _, id := range w.References {
		f.gone[id] = true
	}
	if w.EventID == "" {
		return
	}
	for _, a := range w.Areas {
		for _, code := range areaKeys(&a) {
			k := place{w.EventID, code}
			if w.Action.ends() {
				delete(f.stands, k)
			} else {
				f.stands[k] = i
			}
		}
	}
}

// areaKeys names an area for comparing: its codes, or else its name.
func areaKeys(a *WarningArea) []string {
	if len(a.Codes) > 0 {
		return a.Codes
	}
	return []string{"name=" + a.Name}
}

// left returns the areas in which message i still speaks for its event.
func (f *folder) left(w *Warning, i int) (out []WarningArea) {
	speaks := func(code string) bool {
		k, ok := f.stands[place{w.EventID, code}]
		return ok && k == i
	}
	for _, a := range w.Areas {
		if len(a.Codes) == 0 {
			if speaks("name=" + a.Name) {
				out = append(out, a)
			}
			continue
		}
		a.Codes = slices.DeleteFunc(slices.Clone(a.Codes), func(c string) bool { return !speaks(c) })
		if len(a.Codes) > 0 {
			out = append(out, a)
		}
	}
	return out
}
