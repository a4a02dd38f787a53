package weather

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// How past skill is weighed in RankOrigins. All are stated choices.
const (
	originHalfLifeNights = 30.0 // a night counts half as much as one this many nights later
	originPriorNights    = 10.0 // the prior weighs as much as this many nights of now
	originMaxLeadH       = 48.0 // issues earlier than this before the minimum say nothing of tonight
	originFreshH         = 24.0 // an origin whose last issue is older is passed over for a fresher one
)

// OriginSkill says how well the forecasts of one origin did at a station.
type OriginSkill struct {
	Origin       string    `json:"origin"`
	Issues       int       `json:"count"` // batches of this origin
	LastIssuedAt time.Time `json:"last_issued_at"`
	Fresh        bool      `json:"fresh"` // issued within the last day
	Score        Score     `json:"score"` // night minima as forecast, all leads to 48 h
	Nights       int       `json:"nights"`
	// BiasK is the mean of measured minus forecast, recent nights weighing more,
	// drawn towards zero while there are few; it is what correcting the forecast
	// would add.
	BiasK float64 `json:"bias_k"`
	// SDK is the spread about that bias, carried to a lead of 12 h, recent nights
	// weighing more, drawn towards the prior while there are few: what the choice
	// between origins goes by.
	SDK    float64 `json:"sd_k"`
	Chosen bool    `json:"chosen"`
	Why    string  `json:"why"` // one plain sentence
}

// RankOrigins groups the forecasts of one station by origin (name of a batch; nil
// takes Batch.Origin), scores each against the readings over the nights given,
// and chooses the one to go by: the first of the list.
//
// The rule is best recent skill, drawn towards the prior. With e_i measured minus
// forecast minimum of night i, s_i the prior's spread at that lead, and w_i =
// 2^(-age/30) for its age in nights,
//
//	bias = sum w_i e_i / (k + sum w_i)
//	SD   = s_12 sqrt((k + sum w_i ((e_i - bias)/s_i)^2) / (k + sum w_i)),  k = 10
//
// One night counts once for an origin: by the issue with the shortest lead. The
// lowest SD wins, so a new origin starts at the prior and neither luck nor one bad
// night decides; bias is not held against an origin, since the learned error takes
// it off. An origin whose last issue is older than a day is passed over while
// there is a fresher one. Equal ones: the later issue, then the name.
//
// forecasts and readings are batches of this station as fed and screened; nights
// are past ones in any order. No forecasts: an empty list.
func RankOrigins(forecasts, readings []Batch, nights []Night, now time.Time, name func(*Batch) string) ([]OriginSkill, error) {
	if name == nil {
		name = func(b *Batch) string { return b.Origin }
	}
	groups := map[string][]Batch{}
	for i := range forecasts {
		b := &forecasts[i]
		if b.IssuedAt.After(now) {
			continue // a night answered again later knows no more than then
		}
		groups[name(b)] = append(groups[name(b)], *b)
	}
	var out []OriginSkill
	for origin, list := range groups {
		pairs, _, err := Pairs(list, readings, nights)
		if err != nil {
			return nil, fmt.Errorf("forecasts from %s: %w", origin, err)
		}
		s := scoreOrigin(pairs, now)
		s.Origin, s.Issues = origin, len(list)
		for _, b := range list {
			if b.IssuedAt.After(s.LastIssuedAt) {
				s.LastIssuedAt = b.IssuedAt
			}
		}
		s.Fresh = now.Sub(s.LastIssuedAt).Hours() <= originFreshH
		out = append(out, s)
	}
	slices.SortFunc(out, compareOrigins)
	explainOrigins(out)
	return out, nil
}

// scoreOrigin scores the pairs of one origin.
func scoreOrigin(pairs []ForecastPair, now time.Time) OriginSkill {
	best := map[int64]ForecastPair{}
	for _, p := range pairs {
		e := p.MeasuredMinC - p.ForecastMinC
		if !(p.LeadH >= 0 && p.LeadH <= originMaxLeadH) || !(math.Abs(e) <= 20) {
			continue // beyond 20 K: a wrong unit or station, as in Learn
		}
		if q, ok := best[p.Night.Unix()]; !ok || p.LeadH < q.LeadH {
			best[p.Night.Unix()] = p
		}
	}
	used := make([]ForecastPair, 0, len(best))
	for _, p := range best {
		used = append(used, p)
	}
	slices.SortFunc(used, func(a, b ForecastPair) int { return a.Night.Compare(b.Night) }) // map order must not reach the sums
	prior := Prior()
	_, first, _ := prior.At(12)
	const k = originPriorNights
	s := OriginSkill{Nights: len(used)}
	f, o, w := make([]float64, len(used)), make([]float64, len(used)), make([]float64, len(used))
	sum, weight := 0.0, k
	for i, p := range used {
		f[i], o[i] = p.ForecastMinC, p.MeasuredMinC
		w[i] = math.Exp2(-math.Max(0, now.Sub(p.Night).Hours()/24) / originHalfLifeNights)
		sum, weight = sum+w[i]*(o[i]-f[i]), weight+w[i]
	}
	s.Score = ScorePairs(f, o)
	s.BiasK = sum / weight
	sq := k
	for i, p := range used {
		_, sd, _ := prior.At(math.Max(p.LeadH, 6)) // below 6 h the prior shrinks without end
		z := (o[i] - f[i] - s.BiasK) / sd
		sq += w[i] * z * z
	}
	s.SDK = first * math.Sqrt(sq/weight)
	return s
}

func compareOrigins(a, b OriginSkill) int {
	switch {
	case a.Fresh != b.Fresh:
		if a.Fresh {
			return -1
		}
		return +1
	case a.SDK < b.SDK:
		return -1
	case a.SDK > b.SDK:
		return +1
	}
	if c := b.LastIssuedAt.Compare(a.LastIssuedAt); c != 0 {
		return c
	}
	return strings.Compare(a.Origin, b.Origin)
}

// explainOrigins marks the first as chosen and says of each why.
func explainOrigins(list []OriginSkill) {
	for i := range list {
		s := &list[i]
		s.Chosen = i == 0
		how := fmt.Sprintf("off by %.1f K after correction, from %d nights", s.SDK, s.Nights)
		if s.Nights == 0 {
			how = fmt.Sprintf("no past nights yet, taken as %.1f K off", s.SDK)
		}
		switch {
		case len(list) == 1:
			s.Why = "The only one: " + how + "."
		case i == 0 && !s.Fresh:
			s.Why = "All are older than a day; this one was " + how + "."
		case i == 0:
			s.Why = "Best of late: " + how + "."
		case !s.Fresh && list[0].Fresh:
			s.Why = "Passed over: last issued more than a day ago (" + how + ")."
		default:
			s.Why = "Behind " + list[0].Origin + ": " + how + "."
		}
	}
}
