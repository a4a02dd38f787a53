package hindcast

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"budward/decide/weather"
)

// Finding is one thing wrong with a record: what, where, and how many values or
// nights it cost.
type Finding struct {
	Kind     string    `json:"kind"`     // stable, kebab-case
	Variable string    `json:"variable"` // JSON name; "" = the record as a whole
	FromAt   time.Time `json:"from_at"`
	ToAt     time.Time `json:"to_at"`
	Count    int       `json:"count"` // values; evenings for no-night; nights for missing-season
	Kept     bool      `json:"kept"`  // named, but not left out
	Text     string    `json:"text"`
}

// MaxFindings bounds the findings listed; the last says how many more there are.
const MaxFindings = 200

func (rec *record) find(f Finding) { rec.findings = append(rec.findings, f) }

// screened takes over what Screen and the decoder left out of one file.
func (rec *record) screened(b *weather.Batch, rep *weather.ScreenReport) {
	if b.RefusedTotal > 0 {
		text := fmt.Sprintf("%s: %d values or lines refused", b.Origin, b.RefusedTotal)
		if len(b.Refused) > 0 {
			f := b.Refused[0]
			text += fmt.Sprintf("; the first: line %d, %s %q, %s", f.Line, f.Field, f.Value, f.Why)
		}
		rec.find(Finding{Kind: "refused", Count: b.RefusedTotal, Text: text + "."})
	}
	for _, e := range rep.Runs {
		rec.find(Finding{Kind: kebab(e.Reason), Variable: e.Name, FromAt: e.From, ToAt: e.To, Count: e.Count, Kept: e.Kept, Text: b.Origin + ": " + e.Text + "."})
		if !e.Kept && (e.Var == weather.AirTemp || e.Var == weather.AirTempMin) {
			rec.badAir = append(rec.badAir, interval{e.From, e.To, "air temperature left out: " + words(e.Reason)})
		}
	}
	if more := rep.RunTotal - len(rep.Runs); more > 0 {
		rec.find(Finding{Kind: "more", Count: more, Text: fmt.Sprintf("%s: %d more runs of values left out.", b.Origin, more)})
	}
}

// kebab is a Reason as a Finding's kind.
func kebab(r weather.Reason) string {
	out := []byte(r)
	for i := range out {
		if out[i] == '_' {
			out[i] = '-'
		}
	}
	return string(out)
}

// words is a Reason in plain words.
func words(r weather.Reason) string {
	switch r {
	case weather.Stuck:
		return "thermometer stuck"
	case weather.UnitChange:
		return "Fahrenheit taken for Celsius"
	case weather.Spike:
		return "single odd values"
	case weather.Sentinel, weather.NotANumber:
		return "marks for missing values"
	case weather.Impossible:
		return "impossible values"
	case weather.Future:
		return "dated after the present moment"
	}
	return string(r)
}

func (rec *record) gridded(rep *weather.GridReport) {
	if rep.Conflicts > 0 {
		rec.find(Finding{Kind: "conflicts", Count: rep.Conflicts, Text: fmt.Sprintf("%d readings disagree with another of the same time; the last counts.", rep.Conflicts)})
	}
	if rep.PartialHours > 0 {
		rec.find(Finding{Kind: "partial-hours", Count: rep.PartialHours, Text: fmt.Sprintf("%d hours are too little covered by readings and left as gaps.", rep.PartialHours)})
	}
	if !rec.h.Has(weather.AirTempMin) {
		rec.find(Finding{Kind: "no-hourly-minimum", Variable: weather.AirTempMin.String(), Kept: true,
			Text: "No lowest temperature of each hour: a night's minimum is the lowest hourly reading, some tenths of a degree too high."})
	}
}

// missingSeasons names the seasons between the first and the last that have no
// night, or less than half of them.
func (rec *record) missingSeasons() {
	asked, used := map[int]int{}, map[int]int{}
	for k := range rec.nights {
		if n := &rec.nights[k]; n.inside {
			asked[n.year]++
			if n.why == "" {
				used[n.year]++
			}
		}
	}
	for _, y := range slices.Sorted(maps.Keys(asked)) {
		if 2*used[y] < asked[y] {
			rec.find(Finding{Kind: "missing-season", Count: asked[y] - used[y],
				Text: fmt.Sprintf("Season of %d: %d of %d nights cannot be used.", y, asked[y]-used[y], asked[y])})
		}
	}
}

func sortedKeys(m map[string]int) []string { return slices.Sorted(maps.Keys(m)) }

func asNever(err error, never **weather.NoNightError) bool { return errors.As(err, never) }
