package hindcast

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"budward/decide/weather"
)

// head fills in what a Report says of the record itself.
func (rec *record) head(in *Input) Report {
	r := Report{Place: rec.place, PlaceFrom: rec.placeFrom, Zone: rec.zone.String(), FromAt: rec.h.Start, ToAt: rec.h.End(),
		Season: rec.season.String(), Training: rec.training, FrostC: in.FrostC}
	r.Station = rec.batches[0].StationID
	seasons, why := map[int]*SeasonCount{}, map[string]int{}
	for k := range rec.nights {
		n := &rec.nights[k]
		if !n.inside {
			continue
		}
		c := seasons[n.year]
		if c == nil {
			c = &SeasonCount{Season: fmt.Sprint(n.year)}
			seasons[n.year] = c
		}
		c.Nights++
		if n.why != "" {
			why[n.why]++
			continue
		}
		c.Scored++
		if n.minC <= in.FrostC {
			c.Frosty++
		}
	}
	for _, y := range slices.Sorted(maps.Keys(seasons)) {
		r.Seasons = append(r.Seasons, *seasons[y])
	}
	for _, w := range sortedKeys(why) {
		r.LeftOut = append(r.LeftOut, ReasonCount{w, why[w]})
	}
	for v := range weather.NumVariables {
		if share := rec.known(v); share > 0 {
			r.Read = append(r.Read, Instrument{v.String(), Num(share)})
		}
	}
	r.Findings = rec.findings
	if more := len(r.Findings) - MaxFindings; more > 0 {
		r.Findings = append(r.Findings[:MaxFindings:MaxFindings], Finding{Kind: "more", Count: more, Text: fmt.Sprintf("%d more findings.", more)})
	}
	return r
}

// known is the share of the hours of scored nights in which v was read.
func (rec *record) known(v weather.Variable) float64 {
	if rec.h.Cols[v] == nil {
		return 0
	}
	got, all := 0, 0
	for _, k := range rec.scored() {
		n := &rec.nights[k]
		for i := rec.h.Index(n.Sunset); i < rec.h.N && !rec.h.Time(i).After(n.End); i++ {
			all++
			if !math.IsNaN(rec.h.At(v, i)) {
				got++
			}
		}
	}
	return float64(got) / float64(all)
}

// notes are the sentences that belong beside the numbers.
func (rec *record) notes() []string {
	out := []string{
		"Each moment uses the last hourly reading at or before it, and nothing later.",
		"The simple methods but the square-root curve speak in the evening and do not change their word in the night.",
		"The form and the prior of the model were chosen on one station, Ithaca 13 E (New York) of the US Climate Reference Network, 2005-2017. Its scores there are no test of it.",
	}
	switch rec.training {
	case OtherYears:
		years := make([]string, 0, 8)
		for _, y := range rec.years() {
			years = append(years, fmt.Sprint(y))
		}
		out = append(out, "Each season ("+strings.Join(years, ", ")+") was left out in turn: everything was fitted to the other seasons, earlier and later; the model also to the nights of the season that had ended.")
	case PastOnly:
		out = append(out, "Everything was fitted to nights that had ended, as it would have been live; before there are enough of them the model is its stated prior and the simple methods say nothing.")
	}
	return append(out,
		"Value compares with always or never acting, whichever these nights themselves show to be cheaper.",
		"Most of what is left is weather that arrives in the night; what a forecast beside it would leave assumes that its errors and the model's are independent.")
}
