package hindcast

import (
	"budward/decide/weather"
)

// pairUp sets past forecasts against the minima of the scored nights.
func (rec *record) pairUp(in *Input) error {
	if len(in.Forecasts) == 0 {
		return nil
	}
	var nights []weather.Night
	for _, k := range rec.scored() {
		nights = append(nights, rec.nights[k].Night)
	}
	var issues []weather.Batch
	for i := range in.Forecasts {
		if k := in.Forecasts[i].Kind; k != weather.Forecast {
			return &InputError{"forecast " + in.Forecasts[i].Origin, string(k), "forecasts"}
		}
		b, rep := weather.Screen(in.Forecasts[i], in.Now, nil)
		rec.screened(&in.Forecasts[i], &rep)
		issues = append(issues, b)
	}
	pairs, _, err := weather.Pairs(issues, rec.batches, nights)
	if err != nil {
		return err
	}
	rec.pairs = pairs
	rec.firstDay = rec.day(0)
	return nil
}

// day scores the forecasts issued d to d+1 days before the minimum they say.
func (rec *record) day(d int) DayScore {
	var f, m []float64
	for _, q := range rec.pairs {
		if q.LeadH >= float64(24*d) && q.LeadH < float64(24*(d+1)) {
			f, m = append(f, q.ForecastMinC), append(m, q.MeasuredMinC)
		}
	}
	s := weather.ScorePairs(f, m)
	return DayScore{d, s.N, Num(s.BiasK), Num(s.RMSEK), Num(s.MAEK)}
}

// daysAhead scores past forecasts by days ahead, or says why it cannot.
func daysAhead(in *Input, rec *record) ([]DayScore, string) {
	if len(in.Forecasts) == 0 {
		return nil, "No past forecasts are stored for this station."
	}
	var out []DayScore
	for d := range weather.NumLeads {
		if s := rec.day(d); s.N > 0 {
			out = append(out, s)
		}
	}
	if len(out) == 0 {
		return nil, "No past forecast covers a whole night that was measured."
	}
	return out, ""
}
