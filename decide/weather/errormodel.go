package weather

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// NumLeads is the number of lead buckets of an ErrorModel; bucket i holds
// forecasts made 24 i to 24 (i+1) hours before the minimum they speak of.
const NumLeads = 8

// LeadError is the error of the station's forecasts at one lead: measured
// night minimum minus forecast night minimum.
type LeadError struct {
	BiasK  float64 `json:"bias_k"` // mean error; added to the forecast
	SDK    float64 `json:"sd_k"`   // standard deviation about the bias
	Nights int     `json:"nights"` // nights it was learned from; 0 = prior alone
}

// ErrorModel says how far a station's forecasts are from what is measured, by
// lead, and how the errors hang together. Everything but Leads is a stated
// guess that Learn leaves alone.
type ErrorModel struct {
	Leads [NumLeads]LeadError `json:"leads"`

	// NightCorr is the correlation of the errors of two successive nights.
	NightCorr float64 `json:"night_corr"`
	// HourCorr and HourSDK describe the hour-to-hour wander of temperature
	// within a night, an AR(1) process; it changes the shape of a night, not
	// the error of its minimum.
	HourCorr float64 `json:"hour_corr"`
	HourSDK  float64 `json:"hour_sd_k"`
	// DewSDK, CloudSD and WindLnSD are first-day and last-bucket spreads of
	// dew point (K), cloud (share of sky) and the logarithm of wind.
	DewSDK   [2]float64 `json:"dew_sd_k"`
	CloudSD  [2]float64 `json:"cloud_sd"`
	WindLnSD [2]float64 `json:"wind_ln_sd"`
	RainLnSD float64    `json:"rain_ln_sd"`
	// TempDew, TempCloud and TempWind are correlations with the error of the
	// night minimum: moister, cloudier and windier nights are warmer.
	TempDew   float64 `json:"temp_dew"`
	TempCloud float64 `json:"temp_cloud"`
	TempWind  float64 `json:"temp_wind"`
}

// Prior returns the error model before anything is known of a station.
//
// No bias. Spread of the night minimum 1.7 K on the first day rising to 3.3 K
// on the seventh: a stated guess in the range of what national services report
// for minimum temperature (mean absolute error of 1.3 K rising to 2.7 K, from
// memory, not verified). All other numbers are stated guesses too: they carry
// the physics (clear, calm, dry goes with cold) more than a measured value.
func Prior() ErrorModel {
	m := ErrorModel{
		NightCorr: 0.4, HourCorr: 0.8, HourSDK: 0.6,
		DewSDK: [2]float64{1.8, 3.5}, CloudSD: [2]float64{0.20, 0.40},
		WindLnSD: [2]float64{0.35, 0.60}, RainLnSD: 0.6,
		TempDew: 0.5, TempCloud: 0.4, TempWind: 0.3,
	}
	for i, sd := range [NumLeads]float64{1.7, 1.9, 2.15, 2.4, 2.7, 3.0, 3.3, 3.5} {
		m.Leads[i].SDK = sd
	}
	return m
}

// Bucket returns the lead bucket of a lead in hours; ok is false for negative
// or NaN leads and beyond the last bucket.
func Bucket(lead_h float64) (i int, ok bool) {
	if !(lead_h >= 0 && lead_h < 24*NumLeads) {
		return 0, false
	}
	return int(lead_h / 24), true
}

// At returns bias and spread at a lead in hours: on straight lines between the
// middles of the buckets; before the first middle (12 h) the bias is the first
// bucket's and the spread shrinks with the square root of the lead, as the
// error of a random walk does, to a quarter of its value at least (a stated
// guess). Beyond the last middle the last bucket is used and beyond is true.
func (m *ErrorModel) At(lead_h float64) (bias_k, sd_k float64, beyond bool) {
	if math.IsNaN(lead_h) {
		panic("weather: ErrorModel.At: lead is NaN")
	}
	pos := lead_h/24 - 0.5
	switch {
	case pos <= 0:
		l := m.Leads[0]
		return l.BiasK, l.SDK * math.Max(0.25, math.Sqrt(math.Max(lead_h, 0)/12)), false
	case pos >= NumLeads-1:
		l := m.Leads[NumLeads-1]
		return l.BiasK, l.SDK, lead_h > 24*NumLeads
	}
	i := int(pos)
	w := pos - float64(i)
	a, b := m.Leads[i], m.Leads[i+1]
	return a.BiasK + w*(b.BiasK-a.BiasK), a.SDK + w*(b.SDK-a.SDK), false
}

// grow returns the spread of another variable at a lead: its first-day value,
// rising in step with time to its last, and shrinking below 12 h as At does.
func grow(sd [2]float64, lead_h float64) float64 {
	pos := lead_h/24 - 0.5
	if pos <= 0 {
		return sd[0] * math.Max(0.25, math.Sqrt(math.Max(lead_h, 0)/12))
	}
	return sd[0] + (sd[1]-sd[0])*math.Min(1, pos/(NumLeads-1))
}

// Validate says whether a stored model can be used.
func (m *ErrorModel) Validate() error {
	for i, l := range m.Leads {
		if !(math.Abs(l.BiasK) <= 20) {
			return &InputError{fmt.Sprintf("error model lead %d bias_k", i), fmt.Sprint(l.BiasK), "a number within 20 K of zero"}
		}
		if !(l.SDK > 0 && l.SDK <= 20) {
			return &InputError{fmt.Sprintf("error model lead %d sd_k", i), fmt.Sprint(l.SDK), "a number above 0 and at most 20 K"}
		}
	}
	for name, c := range map[string]float64{"night_corr": m.NightCorr, "hour_corr": m.HourCorr,
		"temp_dew": m.TempDew, "temp_cloud": m.TempCloud, "temp_wind": m.TempWind} {
		if !(c >= -0.99 && c <= 0.99) {
			return &InputError{"error model " + name, fmt.Sprint(c), "a correlation between -0.99 and 0.99"}
		}
	}
	for name, s := range map[string]float64{"hour_sd_k": m.HourSDK, "rain_ln_sd": m.RainLnSD,
		"dew_sd_k": math.Min(m.DewSDK[0], m.DewSDK[1]), "cloud_sd": math.Min(m.CloudSD[0], m.CloudSD[1]),
		"wind_ln_sd": math.Min(m.WindLnSD[0], m.WindLnSD[1])} {
		if !(s >= 0 && s <= 20) {
			return &InputError{"error model " + name, fmt.Sprint(s), "a spread from 0 to 20"}
		}
	}
	return nil
}

// ForecastPair is one forecast of a night's minimum and what was measured.
type ForecastPair struct {
	Night        time.Time `json:"night"`  // sunset of the night
	LeadH        float64   `json:"lead_h"` // from issue to the forecast minimum
	ForecastMinC float64   `json:"forecast_min_c"`
	MeasuredMinC float64   `json:"measured_min_c"`
}

// Pseudo-counts of the prior in Learn: its bias weighs as ten nights, its
// variance as twenty (stated choices: a bias is believed after some two weeks
// of a station's own nights, a spread after a month).
const (
	PriorBiasNights = 10
	PriorVarNights  = 20
)

// LearnReport says what Learn used.
type LearnReport struct {
	Nights   int           // different nights used, whatever the lead
	Used     [NumLeads]int // nights by lead bucket
	Repeated int           // pairs left out: another issue in the same bucket for the same night
	Refused  int           // pairs left out: not a number, implausible, or lead outside the buckets
}

// Learn returns prior moved towards the station's own forecast errors
// (measured minus forecast), lead bucket by lead bucket: the normal-inverse-
// gamma update with the prior worth PriorBiasNights for the bias and
// PriorVarNights for the variance.
//
//	bias = (k0 b0 + n mean) / (k0 + n)
//	var  = (v0 s0^2 + SS + k0 n/(k0+n) (mean-b0)^2) / (v0 + n)
//
// SS is the sum of squares about the mean. Without pairs it returns the prior.
// One night counts once per bucket: of several issues, the one whose lead is
// nearest the middle of the bucket. Errors beyond 20 K are refused: they are
// a wrong unit or station, not a forecast error.
//
// Reference: Gelman et al., Bayesian Data Analysis, section 3.3 (from memory).
func Learn(prior ErrorModel, pairs []ForecastPair) (ErrorModel, LearnReport) {
	var rep LearnReport
	out := prior
	for i, errs := range nightErrors(pairs, &rep) {
		n := float64(len(errs))
		rep.Used[i] = len(errs)
		if n == 0 {
			continue
		}
		mean := 0.0
		for _, e := range errs {
			mean += e / n
		}
		ss := 0.0
		for _, e := range errs {
			ss += (e - mean) * (e - mean)
		}
		const k0, v0 = PriorBiasNights, PriorVarNights
		b0, s0 := prior.Leads[i].BiasK, prior.Leads[i].SDK
		out.Leads[i] = LeadError{
			BiasK:  (k0*b0 + n*mean) / (k0 + n),
			SDK:    math.Sqrt((v0*s0*s0 + ss + k0*n/(k0+n)*(mean-b0)*(mean-b0)) / (v0 + n)),
			Nights: prior.Leads[i].Nights + len(errs),
		}
	}
	return out, rep
}

// nightErrors sorts the errors into buckets, one for each night.
func nightErrors(pairs []ForecastPair, rep *LearnReport) [NumLeads][]float64 {
	type key struct {
		bucket int
		night  int64
	}
	best := make(map[key]ForecastPair)
	for _, p := range pairs {
		i, ok := Bucket(p.LeadH)
		e := p.MeasuredMinC - p.ForecastMinC
		if !ok || !(math.Abs(e) <= 20) || !AirTemp.Plausible(p.MeasuredMinC) || !AirTemp.Plausible(p.ForecastMinC) {
			rep.Refused++
			continue
		}
		k := key{i, p.Night.Unix()}
		mid := 24*float64(i) + 12
		if q, seen := best[k]; seen {
			rep.Repeated++
			if math.Abs(q.LeadH-mid) <= math.Abs(p.LeadH-mid) {
				continue
			}
		}
		best[k] = p
	}
	var out [NumLeads][]float64
	nights := make(map[int64]bool)
	for k, p := range best {
		out[k.bucket] = append(out[k.bucket], p.MeasuredMinC-p.ForecastMinC)
		nights[k.night] = true
	}
	rep.Nights = len(nights)
	for i := range out {
		slices.Sort(out[i]) // map order must not reach the sums
	}
	return out
}
