package nights

import (
	"math"
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
)

// Course is a night of one block hour by hour, for a chart: the scenarios'
// band at cordon height, what was read so far carried to the block, and the
// critical temperatures.
type Course struct {
	BlockID     string            `json:"block_id"`
	Night       int               `json:"night"`
	Label       string            `json:"label"`
	Sunset      time.Time         `json:"sunset_at"`
	Sunrise     time.Time         `json:"sunrise_at"`
	CriticalC   *quantity.Celsius `json:"critical_t10_c"`
	Critical50C *quantity.Celsius `json:"critical_t50_c"`
	Hours       []CourseHour      `json:"hours"`
	Observed    []CoursePoint     `json:"observed"` // station readings with the median difference of the block added
	Notes       []Note            `json:"notes"`
}

// CourseHour is the band at one hour.
type CourseHour struct {
	At   time.Time        `json:"at"`
	P10C quantity.Celsius `json:"p10_c"`
	P50C quantity.Celsius `json:"p50_c"`
	P90C quantity.Celsius `json:"p90_c"`
}

// CoursePoint is one reading carried to the block.
type CoursePoint struct {
	At   time.Time        `json:"at"`
	AirC quantity.Celsius `json:"air_c"`
}

// OneCourse returns the course of one block's night (0 = the first ahead). The
// difference of block and station is taken as constant through the night, as
// it is at the minimum; early in the evening it is smaller.
func OneCourse(in Input, blockID string, night int) (Course, error) {
	e, k, err := oneBlock(&in, blockID, night)
	if err != nil {
		return Course{}, err
	}
	st := k.st
	n := e.nights[night]
	c := Course{BlockID: blockID, Night: night, Label: n.Label, Sunset: n.Sunset, Sunrise: n.Sunrise, Notes: k.ans.Notes}
	summary := k.night(night)
	c.CriticalC, c.Critical50C = summary.CriticalC, summary.Critical50C
	w := st.ens.Weights()
	shift := make([]float64, len(w))
	for m := range shift {
		shift[m] = k.memberAt(k.base, night, m, 0).shift
	}
	col := make([]float64, len(w))
	a, b := st.ens.NightRange(night)
	for i := a; i < b; i++ {
		for m := range col {
			col[m] = st.ens.Members[m].AirTempC[i] + shift[m]
		}
		c.Hours = append(c.Hours, CourseHour{st.ens.Time(i), quant(col, w, 0.1), quant(col, w, 0.5), quant(col, w, 0.9)})
	}
	median := float64(quant(shift, w, 0.5))
	r := &st.in.Readings
	for i := r.Index(n.Sunset.Add(-3 * time.Hour)); i < r.N && !r.Time(i).After(n.End); i++ {
		if v := r.At(weather.AirTemp, i); !math.IsNaN(v) && !r.Time(i).After(in.Now) {
			c.Observed = append(c.Observed, CoursePoint{r.Time(i), quantity.Celsius(v + median)})
		}
	}
	return c, nil
}
