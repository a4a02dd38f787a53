package weather

import (
	"math"
	"slices"
	"time"
)

// PairReport says which nights of which issues Pairs could not use.
type PairReport struct {
	Pairs        int
	NotMeasured  int // a night whose readings have a gap
	NotForecast  int // an issue that does not have every hour of a night ahead of it
	IssuedDuring int // an issue made after sunset of the night: its minimum may be past
}

// Pairs sets past forecasts of one station against its readings, night by
// night: the lowest forecast temperature of the night against the lowest
// measured (AirTempMin where it is known). Only whole nights count: every hour
// forecast by the one issue, every hour measured. Issues are never mixed.
//
// forecasts and readings are batches as fed and screened; nights are those to
// look at, in any order. The pairs come in order of night and issue.
func Pairs(forecasts, readings []Batch, nights []Night) ([]ForecastPair, PairReport, error) {
	var rep PairReport
	if len(forecasts) == 0 || len(nights) == 0 {
		return nil, rep, nil
	}
	issues := slices.Clone(forecasts)
	slices.SortStableFunc(issues, func(a, b Batch) int { return a.IssuedAt.Compare(b.IssuedAt) })
	nights = slices.Clone(nights)
	slices.SortFunc(nights, func(a, b Night) int { return a.Sunset.Compare(b.Sunset) })
	measured := make([]float64, len(nights))
	for k, n := range nights {
		h, _, err := Grid(readings, GridStart(n.Sunset), n.End.Add(time.Hour))
		if err != nil {
			return nil, rep, err
		}
		low, _, ok := NightMin(&h, n, n.Sunset)
		if !ok {
			low = nan
		}
		measured[k] = low
	}
	var out []ForecastPair
	for k, n := range nights {
		for i := range issues {
			f := &issues[i]
			switch {
			case f.IssuedAt.After(n.End), n.Sunset.Sub(f.IssuedAt) > 24*NumLeads*time.Hour:
				continue
			case f.IssuedAt.After(n.Sunset):
				rep.IssuedDuring++
				continue
			}
			h, _, err := Grid(issues[i:i+1], GridStart(n.Sunset), n.End.Add(time.Hour))
			if err != nil {
				return nil, rep, err
			}
			low, at, ok := NightMin(&h, n, n.Sunset)
			switch {
			case !ok:
				rep.NotForecast++
			case math.IsNaN(measured[k]):
				rep.NotMeasured++
			default:
				out = append(out, ForecastPair{Night: n.Sunset, LeadH: at.Sub(f.IssuedAt).Hours(), ForecastMinC: low, MeasuredMinC: measured[k]})
				rep.Pairs++
			}
		}
	}
	return out, rep, nil
}
