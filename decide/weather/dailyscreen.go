package weather

import (
	"fmt"
	"math"
	"slices"
	"time"

	"budward/physics/sky"
)

// Reasons of ScreenDaily beyond those of Screen.
const (
	MaxBelowMin Reason = "max_below_min" // the day's highest is below its lowest: one of the two is wrong
	Outlier     Reason = "outlier"       // far outside what the season has brought in all years of the record
	Repeated    Reason = "repeated"      // the date is there twice
)

// Limits of ScreenDaily. They are choices of our own, made so that what is taken
// out is an instrument or a clerk and not weather; the idea of testing a day
// against its neighbours and against its season in all years is that of the
// checks applied to GHCN-Daily itself (Durre et al. 2010, J. Appl. Meteor.
// Climatol. 49:1615-1633, from memory), whose limits are wider.
const (
	dailySpikeK       = 10.0 // K from both neighbouring days, to the same side
	dailySpikeSpreads = 6.0  // and this many of the month's usual spreads
	dailyOutSpreads   = 6.0  // from the season's median: taken out
	dailyDoubtSpreads = 4.0  // from the season's median: kept and questioned
	dailyWindowDays   = 10   // days to either side that are one season
	dailyLeastYears   = 10   // years of record below which the season is not known
	dailyLeastDays    = 150  // values in the window, and in the month, below which it is not known
	dailyLeastSpreadK = 1.0  // K: a spread below this is taken for this (values come in steps of about 0.6 K)
	madToSD           = 1.4826
)

// DailyExclusion is one value that ScreenDaily took out or, with Kept, questions.
type DailyExclusion struct {
	Date   sky.Date `json:"date"`
	Name   string   `json:"variable"`
	Reason Reason   `json:"reason"`
	Value  float64  `json:"value"`
	Kept   bool     `json:"kept"`
	Text   string   `json:"text"`
}

// DailyReport counts and lists what ScreenDaily did.
type DailyReport struct {
	Days     int            // days of the record
	Excluded map[Reason]int // values taken out, by reason
	Doubtful int            // values kept and questioned
	Listed   []DailyExclusion
	Total    int // all exclusions and questions; Listed holds the first MaxExclusions
	// SeasonKnown says whether the record is long enough for the test against the
	// season; without it single outliers that last for days are not found.
	SeasonKnown bool
}

// ScreenDaily returns a copy of r in which values that cannot be true are gaps,
// and a report of each. In this order:
//
//   - repeated: a date that is there twice counts once, as it came first;
//   - impossible: outside the plausible range of the variable (precipitation: 0
//     to 2000 mm, the record for one day is about 1825 mm, from memory);
//   - future: a day after the one of now in UTC+14, where days begin first;
//   - max_below_min: both temperatures of the day;
//   - spike: a temperature that stands out to the same side from the days before
//     and after by more than 10 K and more than 6 usual spreads of such
//     departures in that month at this station;
//   - outlier: a temperature more than 6 spreads from the median of the 21 days
//     about its date in all years, where there are at least 10 years.
//
// A temperature more than 4 such spreads from its median is kept, flagged and
// listed: it is for the reader to leave out. Spreads are 1.4826 times the median
// absolute deviation, so that the faults do not set the limits. A wrong value of
// one day in a stretch of wrong days, or 3.5 spreads off, stays: a record of
// frosts is as good as these rules.
func ScreenDaily(r DailyRecord, now time.Time) (DailyRecord, DailyReport) {
	s := dailyScreener{rec: r, rep: DailyReport{Excluded: map[Reason]int{}}}
	s.rec.Days = slices.Clone(r.Days)
	slices.SortStableFunc(s.rec.Days, func(a, b Daily) int { return compareDates(a.Date, b.Date) })
	s.single(sky.DateOf(now.In(time.FixedZone("", 14*3600))))
	s.rep.Days = len(s.rec.Days)
	for _, which := range []dailyValue{dailyMin, dailyMax} {
		s.spikes(which)
	}
	for _, which := range []dailyValue{dailyMin, dailyMax} {
		s.outliers(which)
	}
	slices.SortStableFunc(s.all, func(a, b DailyExclusion) int { return compareDates(a.Date, b.Date) })
	s.rep.Total = len(s.all)
	s.rep.Listed = s.all[:min(len(s.all), MaxExclusions)]
	return s.rec, s.rep
}

type dailyScreener struct {
	rec DailyRecord
	rep DailyReport
	all []DailyExclusion
}

// exclude makes a value a gap and lists it.
func (s *dailyScreener) exclude(d *Daily, name string, x *float64, why Reason, text string) {
	s.rep.Excluded[why]++
	s.list(d.Date, name, *x, why, false, text)
	*x = nan
}

func (s *dailyScreener) list(d sky.Date, name string, x float64, why Reason, kept bool, text string) {
	s.all = append(s.all, DailyExclusion{Date: d, Name: name, Reason: why, Value: x, Kept: kept,
		Text: fmt.Sprintf("%s %s %.1f: %s", d, name, x, text)})
}

// single holds each day against itself.
func (s *dailyScreener) single(today sky.Date) {
	kept := s.rec.Days[:0]
	for i, d := range s.rec.Days {
		if i > 0 && d.Date == s.rec.Days[i-1].Date {
			s.rep.Excluded[Repeated]++
			s.all = append(s.all, DailyExclusion{Date: d.Date, Name: "date", Reason: Repeated,
				Text: d.Date.String() + ": the date is there already; the first counts"})
			continue
		}
		kept = append(kept, d)
	}
	s.rec.Days = kept
	for i := range s.rec.Days {
		d := &s.rec.Days[i]
		for _, v := range []struct {
			name   string
			x      *float64
			lo, hi float64
		}{{"tmin_c", &d.TMinC, -60, 55}, {"tmax_c", &d.TMaxC, -60, 60}, {"precip_mm", &d.PrecipMM, 0, 2000}} {
			switch {
			case isNaN(*v.x):
			case !(*v.x >= v.lo && *v.x <= v.hi):
				s.exclude(d, v.name, v.x, Impossible, fmt.Sprintf("outside %g to %g", v.lo, v.hi))
			case today.Before(d.Date):
				s.exclude(d, v.name, v.x, Future, "dated after the present moment")
			}
		}
		if d.TMaxC < d.TMinC { // false with a gap
			text := fmt.Sprintf("the day's highest (%.1f) is below its lowest (%.1f)", d.TMaxC, d.TMinC)
			s.exclude(d, "tmin_c", &d.TMinC, MaxBelowMin, text)
			s.exclude(d, "tmax_c", &d.TMaxC, MaxBelowMin, text)
		}
	}
}

// departure is how far day i stands out from both neighbours to the same side,
// signed; ok is false unless all three are known.
func (s *dailyScreener) departure(i int, which dailyValue) (least, mean float64, ok bool) {
	days := s.rec.Days
	if i == 0 || i+1 >= len(days) || days[i-1].Date.AddDays(1) != days[i].Date || days[i].Date.AddDays(1) != days[i+1].Date {
		return 0, 0, false
	}
	a, x, c := *days[i-1].value(which), *days[i].value(which), *days[i+1].value(which)
	p, q := x-a, x-c
	if isNaN(p) || isNaN(q) {
		return 0, 0, false
	}
	mean = (p + q) / 2
	if p*q <= 0 {
		return 0, mean, true
	}
	return math.Copysign(math.Min(math.Abs(p), math.Abs(q)), p), mean, true
}

func (s *dailyScreener) spikes(which dailyValue) {
	var byMonth [13][]float64
	for i := range s.rec.Days {
		if _, mean, ok := s.departure(i, which); ok {
			m := s.rec.Days[i].Date.Month
			byMonth[m] = append(byMonth[m], math.Abs(mean))
		}
	}
	var limit [13]float64
	for m := range limit {
		limit[m] = dailySpikeK
		if len(byMonth[m]) >= dailyLeastDays {
			limit[m] = math.Max(dailySpikeK, dailySpikeSpreads*madToSD*median(byMonth[m]))
		}
	}
	var found []int // taken out afterwards, so that one fault does not hide the next
	for i := range s.rec.Days {
		if least, _, ok := s.departure(i, which); ok && math.Abs(least) > limit[s.rec.Days[i].Date.Month] {
			found = append(found, i)
		}
	}
	for _, i := range found {
		d := &s.rec.Days[i]
		a, c := *s.rec.Days[i-1].value(which), *s.rec.Days[i+1].value(which)
		s.exclude(d, which.String(), d.value(which), Spike,
			fmt.Sprintf("between days of %.1f and %.1f; the limit is %.1f K from both", a, c, limit[d.Date.Month]))
	}
}

// outliers holds each value against its season in all years.
func (s *dailyScreener) outliers(which dailyValue) {
	years := map[int]bool{}
	var byDay [367][]float64 // by month and day, 29 February its own
	for i := range s.rec.Days {
		d := &s.rec.Days[i]
		if x := *d.value(which); !isNaN(x) {
			years[d.Date.Year] = true
			byDay[leapDay(d.Date)] = append(byDay[leapDay(d.Date)], x)
		}
	}
	if len(years) < dailyLeastYears {
		return
	}
	var mid, spread [367]float64
	for k := 1; k <= 366; k++ {
		var near []float64
		for j := k - dailyWindowDays; j <= k+dailyWindowDays; j++ {
			near = append(near, byDay[(j+366-1)%366+1]...)
		}
		mid[k], spread[k] = nan, nan
		if len(near) >= dailyLeastDays {
			s.rep.SeasonKnown = true
			mid[k] = median(near)
			for i := range near {
				near[i] = math.Abs(near[i] - mid[k])
			}
			spread[k] = math.Max(dailyLeastSpreadK, madToSD*median(near))
		}
	}
	for i := range s.rec.Days {
		d := &s.rec.Days[i]
		k, x := leapDay(d.Date), *d.value(which)
		far := math.Abs(x-mid[k]) / spread[k]
		text := fmt.Sprintf("%.1f usual spreads from %.1f, the median of the season in %d years", far, mid[k], len(years))
		switch {
		case far > dailyOutSpreads: // false for NaN
			s.exclude(d, which.String(), d.value(which), Outlier, text)
		case far > dailyDoubtSpreads:
			d.Flags |= which.doubtful()
			s.rep.Doubtful++
			s.list(d.Date, which.String(), x, Outlier, true, text+"; kept, look at it")
		}
	}
}

// leapDay is the day of the year 1..366 as in a leap year.
func leapDay(d sky.Date) int { return sky.Date{Year: 2000, Month: d.Month, Day: d.Day}.YearDay() }

// median of a list that is not empty; the list is sorted by it.
func median(x []float64) float64 {
	slices.Sort(x)
	n := len(x)
	if n%2 == 1 {
		return x[n/2]
	}
	return (x[n/2-1] + x[n/2]) / 2
}
