package vine

import (
	"fmt"
	"math"
	"time"

	"budward/physics/quantity"
)

// Season is one year of a block: daily means from the season's start (1 January,
// 1 July in the south) to beyond bud burst, and the date on which half of the
// shoots had burst.
type Season struct {
	Days  []Day
	Burst time.Time
}

// BudbreakFit is a degree-day model fitted to a farm's own bud-break dates.
type BudbreakFit struct {
	BaseC     quantity.Celsius `json:"base_c"`
	SumDD     float64          `json:"sum_dd"`     // degC-days from the season's start
	ErrorDays float64          `json:"error_days"` // root mean square, each season foretold from the others
	WorstDays float64          `json:"worst_days"` // largest of those errors
	PriorDays float64          `json:"prior_days"` // the same with the base kept at 5 degC
	Seasons   int              `json:"seasons"`
	Flags     []Flag           `json:"flags,omitempty"`
}

// Bounds of the fit. The base is drawn towards 5 degC (García de
// Cortázar-Atauri et al. 2009) by fitShrinkK, against date errors of
// fitNoiseDays: guesses of our own. Cited bases of single cultivars run from 8
// to 13 degC.
const (
	minSeasons   = 3
	fewSeasons   = 6
	maxSeasons   = 100
	maxDays      = 400
	fitBaseLoC   = 0.0
	fitBaseHiC   = 13.0
	fitBaseStepK = 0.5
	fitShrinkK   = 3.0
	fitNoiseDays = 5.0
)

// season is a Season as the fit uses it.
type season struct {
	t     []float64
	burst int // index of the day of bud burst
}

// FitBudbreak fits base temperature and heat sum to at least three seasons. For
// each base on a grid (0 to 13 degC by 0.5), each season's date is foretold
// from the mean sum of the others; the base taken has the least
// sum(error^2)/5^2 + (base-5)^2/3^2. ErrorDays repeats all of that with each
// season left out in turn, so the choice of the base is paid for too. Fewer than
// six seasons are flagged.
func FitBudbreak(seasons []Season) (BudbreakFit, error) {
	if len(seasons) < minSeasons || len(seasons) > maxSeasons {
		return BudbreakFit{}, &InputError{"bud-break dates", fmt.Sprint(len(seasons)), "between 3 and 100 seasons with daily mean temperatures"}
	}
	data := make([]season, len(seasons))
	for i, s := range seasons {
		d, err := s.check(seasons[0])
		if err != nil {
			return BudbreakFit{}, err
		}
		data[i] = d
	}
	base := bestBase(data)
	fit := BudbreakFit{BaseC: quantity.Celsius(base), SumDD: meanSum(data, base, -1), Seasons: len(data)}
	var sum, prior float64
	for i := range data {
		rest := append(append([]season(nil), data[:i]...), data[i+1:]...)
		b := bestBase(rest)
		e := math.Abs(data[i].foretold(b, meanSum(rest, b, -1)))
		sum += e * e
		fit.WorstDays = math.Max(fit.WorstDays, e)
		p := data[i].foretold(float64(priorBurstBaseC), meanSum(rest, float64(priorBurstBaseC), -1))
		prior += p * p
	}
	fit.ErrorDays = math.Sqrt(sum / float64(len(data)))
	fit.PriorDays = math.Sqrt(prior / float64(len(data)))
	if len(data) < fewSeasons {
		fit.Flags = addFlag(fit.Flags, Flag{FlagFewDates, fmt.Sprintf("fitted to %d seasons only; the base is drawn towards 5 degC and the error is itself uncertain", len(data))})
	}
	return fit, nil
}

// Thermal returns p with the fitted base and sum in the place of the prior's.
func (b BudbreakFit) Thermal(p Thermal) Thermal {
	p.BurstBaseC, p.BurstDD = b.BaseC, b.SumDD
	p.Source = fmt.Sprintf("fitted to %d bud-break dates of this farm, error %.1f days; %s", b.Seasons, b.ErrorDays, p.Source)
	return p
}

func (s Season) check(first Season) (season, error) {
	if len(s.Days) == 0 || len(s.Days) > maxDays {
		return season{}, &InputError{"days of the season of " + s.Burst.Format(time.DateOnly), fmt.Sprint(len(s.Days)), "between 1 and 400 daily means"}
	}
	start, want := s.Days[0].Date, first.Days[0].Date
	if start.Month() != want.Month() || start.Day() != want.Day() {
		return season{}, &InputError{"start of the season", s.Days[0].iso(), "the same month and day in every season: " + want.Format("2 January")}
	}
	before, _, err := split(s.Days, s.Burst)
	if err != nil {
		return season{}, err
	}
	if n := len(before); n == 0 || before[n-1].iso() != s.Burst.In(before[n-1].Date.Location()).Format(time.DateOnly) {
		return season{}, &InputError{"bud-break date", s.Burst.Format(time.DateOnly), "a date within the season's days"}
	}
	out := season{t: make([]float64, len(s.Days)), burst: len(before) - 1}
	for i, d := range s.Days {
		out.t[i] = float64(d.MeanC)
	}
	return out, nil
}

// sum returns the heat above base up to and including the day of bud burst.
func (s season) sum(base float64) float64 {
	total := 0.0
	for _, t := range s.t[:s.burst+1] {
		total += math.Max(0, t-base)
	}
	return total
}

// foretold returns the error in days of the date on which the heat above base
// reaches need. A date not reached counts as the day after the last.
func (s season) foretold(base, need float64) float64 {
	total := 0.0
	for i, t := range s.t {
		total += math.Max(0, t-base)
		if total >= need-1e-9 {
			return float64(i - s.burst)
		}
	}
	return float64(len(s.t) - s.burst)
}

// meanSum is the mean heat sum of all seasons but the one at skip.
func meanSum(data []season, base float64, skip int) float64 {
	total, n := 0.0, 0
	for i, s := range data {
		if i != skip {
			total += s.sum(base)
			n++
		}
	}
	return total / float64(n)
}

func bestBase(data []season) float64 {
	best, least := float64(priorBurstBaseC), math.Inf(1)
	for b := fitBaseLoC; b <= fitBaseHiC; b += fitBaseStepK {
		cost := (b - float64(priorBurstBaseC)) * (b - float64(priorBurstBaseC)) / (fitShrinkK * fitShrinkK)
		for i := range data {
			e := data[i].foretold(b, meanSum(data, b, i))
			cost += e * e / (fitNoiseDays * fitNoiseDays)
		}
		if cost < least-1e-12 {
			best, least = b, cost
		}
	}
	return best
}
