package trial

import (
	"fmt"
	"math"
)

// PlanInput is what is wanted of a trial.
type PlanInput struct {
	PrecisionK float64 // half the width of the interval, K
	Conf       float64 // 0: 0.95
	Before     bool    // as many nights before the floors differ, so that the place drops out
	// Earlier nights of like thermometers, if there are any: their spread (K) and its
	// degrees of freedom.
	NightSDK float64
	NightDF  int
	// Clear is the share of nights that are clear and calm enough; 0: PriorClear.
	Clear float64
}

// Priors of a plan.
const (
	// PriorClear: about one spring night in three is clear and calm enough (a stated
	// guess; the share of nights that counted in a trial replaces it).
	PriorClear = 1.0 / 3
	// priorNights is how many nights the prior of the spread counts for.
	priorNights = 4
	// SideNights side by side find an offset of 0.1 K, and a thermometer that is out
	// of order: 0.15 K / sqrt(3) = 0.09 K.
	SideNights = 3
	leastEach  = 2
	mostEach   = 200
)

// PlanResult is how many nights it takes.
type PlanResult struct {
	Conf       float64 `json:"confidence_share"`
	NightSDK   float64 `json:"night_sd_k"` // taken: the prior, or learned
	LearnedDF  int     `json:"learned_freedom"`
	SideNights int     `json:"side_nights"`
	EachNights int     `json:"each_nights"` // hung one way, of the trial and, if asked for, of the time before
	Before     bool    `json:"before"`
	ClearTotal int     `json:"clear_nights"` // all, side by side too
	ClearShare float64 `json:"clear_share"`
	Calendar   int     `json:"calendar_nights"` // expected to pass until then
	HalfK      float64 `json:"half_width_k"`    // expected half width with these nights
	Table      []Width `json:"widths"`          // what other numbers of nights give
}

// Width is what a number of nights gives.
type Width struct {
	EachNights int     `json:"each_nights"`
	HalfK      float64 `json:"half_width_k"`
}

// LearnSD draws the spread of n nights' differences towards the prior, which
// counts for priorNights of them:
//
//	sd^2 = (nu0 sd0^2 + nu s^2) / (nu0 + nu)
func LearnSD(sdK float64, df int) float64 {
	nu0, nu := float64(priorNights), float64(df)
	if df == 0 {
		return PriorNightSDK
	}
	return math.Sqrt((nu0*PriorNightSDK*PriorNightSDK + nu*sdK*sdK) / (nu0 + nu))
}

// halfWidth is the expected half width of the interval of a swapped trial with m
// nights each way:
//
//	t(2m - 2) sd / sqrt(2m)
//
// and with as many nights before, also swapped, t(4m - 4) sd / sqrt(m).
func halfWidth(m int, sdK, conf float64, before bool) float64 {
	n := float64(m)
	if before {
		return tQuantile(conf, 4*n-4) * sdK / math.Sqrt(n)
	}
	return tQuantile(conf, 2*n-2) * sdK / math.Sqrt(2*n)
}

// MakePlan says how many clear, calm nights a wanted precision takes.
func MakePlan(in PlanInput) (PlanResult, error) {
	if in.Conf == 0 {
		in.Conf = defaultConf
	}
	if in.Clear == 0 {
		in.Clear = PriorClear
	}
	if err := checkConf(in.Conf); err != nil {
		return PlanResult{}, err
	}
	switch {
	case !(in.PrecisionK >= 0.05 && in.PrecisionK <= 3):
		return PlanResult{}, &InputError{"precision", fmt.Sprintf("%g K", in.PrecisionK), "0.05 to 3 K: thermometers tell no less, and no floor is worth more"}
	case !(in.Clear > 0 && in.Clear <= 1):
		return PlanResult{}, &InputError{"share of clear nights", fmt.Sprint(in.Clear), "above 0, at most 1"}
	case in.NightDF < 0 || in.NightDF > 0 && !(in.NightSDK >= 0 && in.NightSDK < 10):
		return PlanResult{}, &InputError{"spread of earlier nights", fmt.Sprintf("%g K with %d degrees of freedom", in.NightSDK, in.NightDF), "0 to 10 K"}
	}
	out := PlanResult{Conf: in.Conf, NightSDK: LearnSD(in.NightSDK, in.NightDF), LearnedDF: in.NightDF, SideNights: SideNights, Before: in.Before, ClearShare: in.Clear}
	for m := leastEach; ; m++ {
		if m > mostEach {
			return out, &InputError{"precision", fmt.Sprintf("%g K", in.PrecisionK), fmt.Sprintf("one that %d nights each way can give: %.2f K", mostEach, halfWidth(mostEach, out.NightSDK, in.Conf, in.Before))}
		}
		if h := halfWidth(m, out.NightSDK, in.Conf, in.Before); h <= in.PrecisionK {
			out.EachNights, out.HalfK = m, h
			break
		}
	}
	for _, m := range []int{2, 3, 4, 5, 6, 8, 10, 15, 20} {
		out.Table = append(out.Table, Width{m, halfWidth(m, out.NightSDK, in.Conf, in.Before)})
	}
	sessions := 2
	if in.Before {
		sessions = 4
	}
	out.ClearTotal = SideNights + sessions*out.EachNights
	out.Calendar = int(math.Ceil(float64(out.ClearTotal) / in.Clear))
	return out, nil
}
