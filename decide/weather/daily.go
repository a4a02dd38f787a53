package weather

import (
	"math"
	"slices"
	"time"

	"budward/physics/sky"
)

// DailyFlag marks how a value of a Daily came about; bits may be combined.
type DailyFlag uint8

const (
	DailyTrace       DailyFlag = 1 << iota // precipitation too little to measure, kept as 0
	DailyPresumed                          // precipitation missing, presumed zero by the source; kept as a gap
	DailyMinDoubtful                       // ScreenDaily kept TMinC and questions it
	DailyMaxDoubtful                       // the same of TMaxC
)

// Daily is one day of a station's record. A gap is NaN.
type Daily struct {
	Date     sky.Date
	TMinC    float64 // degC, lowest of the observation day
	TMaxC    float64 // degC, highest of the observation day
	PrecipMM float64 // mm
	Flags    DailyFlag
}

// DailyRecord is what one file of daily values delivered: days in order, each
// date at most once, of one station. Days without a row are absent: they are
// gaps too, and At answers for them.
type DailyRecord struct {
	StationID string
	Origin    string
	FedAt     time.Time
	Days      []Daily
	Gaps      int // values marked missing by the source

	// RefusedTotal counts every refusal; Refused lists the first MaxRefused.
	Refused      []Refusal
	RefusedTotal int
	Notes        []string
}

// Refuse counts r and lists it while there is room.
func (r *DailyRecord) Refuse(x Refusal) {
	r.RefusedTotal++
	if len(r.Refused) < MaxRefused {
		r.Refused = append(r.Refused, x)
	}
}

// find returns the place of a date in Days.
func (r *DailyRecord) find(d sky.Date) (int, bool) {
	return slices.BinarySearchFunc(r.Days, d, func(x Daily, d sky.Date) int { return compareDates(x.Date, d) })
}

// At returns the day of a date; one that is not there is all gaps.
func (r *DailyRecord) At(d sky.Date) Daily {
	if i, ok := r.find(d); ok {
		return r.Days[i]
	}
	return Daily{Date: d, TMinC: nan, TMaxC: nan, PrecipMM: nan}
}

func compareDates(a, b sky.Date) int {
	switch {
	case a.Before(b):
		return -1
	case b.Before(a):
		return +1
	}
	return 0
}

// SortDays puts the days in order and takes out every date but its first row in
// the order given, as a refusal for each one left out. Decoders call it.
func (r *DailyRecord) SortDays() {
	slices.SortStableFunc(r.Days, func(a, b Daily) int { return compareDates(a.Date, b.Date) })
	kept := r.Days[:0]
	for i, d := range r.Days {
		if i > 0 && d.Date == r.Days[i-1].Date {
			r.Refuse(Refusal{Origin: r.Origin, Field: "date", Value: d.Date.String(), Why: "the date is there already; the first counts"})
			continue
		}
		kept = append(kept, d)
	}
	r.Days = kept
}

// dailyValue picks one of the two temperatures of a day.
type dailyValue uint8

const (
	dailyMin dailyValue = iota
	dailyMax
)

func (d *Daily) value(which dailyValue) *float64 {
	if which == dailyMin {
		return &d.TMinC
	}
	return &d.TMaxC
}

func (v dailyValue) String() string {
	if v == dailyMin {
		return "tmin_c"
	}
	return "tmax_c"
}

func (v dailyValue) doubtful() DailyFlag {
	if v == dailyMin {
		return DailyMinDoubtful
	}
	return DailyMaxDoubtful
}

func isNaN(x float64) bool { return math.IsNaN(x) }
