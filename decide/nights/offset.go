package nights

import (
	"math"

	"budward/decide/method"
	"budward/decide/weather"
	"budward/physics/quantity"
)

// Offset is how much colder or warmer a block's air is than the station's at
// cordon height on frosty nights, apart from what its floor explains.
type Offset struct {
	MeanK   float64 `json:"mean_k"`
	SpreadK float64 `json:"spread_k"` // one standard deviation of what is not known of it
	Nights  int     `json:"nights"`   // learned from
	Stated  bool    `json:"stated"`   // the prior is the grower's own estimate
}

// Priors of a block's offset: none known is zero with room for a degree; a
// grower's own estimate is believed to 0.7 K (stated guesses).
const (
	offsetPriorSD  = 1.0
	offsetStatedSD = 0.7
	coldNightC     = 5 // nights with a station minimum above this teach nothing about frost
)

// LearnOffset shrinks the mean of differences (block minimum less the
// station's at cordon height less the floor gain modelled for that night, K)
// towards the prior; each night counts with nightOffsetK of noise, a night of
// wind or cloud no more than a clear one.
func LearnOffset(prior, priorSD float64, stated bool, differences []float64) Offset {
	n := float64(len(differences))
	sum := 0.0
	for _, d := range differences {
		sum += d
	}
	p0, p1 := 1/sq(priorSD), n/sq(offsetNoiseK)
	o := Offset{MeanK: (prior*p0 + sum/sq(offsetNoiseK)) / (p0 + p1), Nights: len(differences), Stated: stated}
	o.SpreadK = math.Sqrt(1 / (p0 + p1))
	return o
}

// offsetNoiseK is the night-to-night spread and thermometer error of one
// paired night.
const offsetNoiseK = 0.8

// pastNight is one night behind us at the block.
type pastNight struct {
	stationMinC float64 // at sensor height
	cordonMinC  float64 // the station's air at cordon height
	blockMinC   float64 // with the floor gain
	from, to    int     // steps of the past
}

// pastNights finds the nights within the past's steps: from the sun's setting
// to two hours past its rising, told by short wave.
func (k *block) pastNights(cordon, gain []float64) []pastNight {
	p := &k.st.hist
	var out []pastNight
	const after = 2 * 3600 / method.StepS
	for i := 0; i < len(p.Steps); {
		if p.Steps[i].ShortWave > 0 {
			i++
			continue
		}
		j := i
		for j < len(p.Steps) && p.Steps[j].ShortWave <= 0 {
			j++
		}
		to := min(j+after, len(p.Steps))
		if i > 0 && j < len(p.Steps) && to-i > 12*3600/method.StepS/2 {
			n := pastNight{stationMinC: math.Inf(1), cordonMinC: math.Inf(1), blockMinC: math.Inf(1), from: i, to: to}
			for s := i; s < to; s++ {
				n.stationMinC = math.Min(n.stationMinC, p.Steps[s].AirC)
				n.cordonMinC = math.Min(n.cordonMinC, cordon[s])
				n.blockMinC = math.Min(n.blockMinC, cordon[s]+gain[s])
			}
			out = append(out, n)
		}
		i = j
	}
	return out
}

// learnOffset takes the thermometers hung in the block, pairs their nights with
// the station's, and returns the offset.
func (k *block) learnOffset(past []pastNight) Offset {
	prior, sd := 0.0, offsetPriorSD
	if k.def.OffsetKnown {
		prior, sd = float64(k.def.OffsetK), offsetStatedSD
	}
	var diffs []float64
	l := &Learned{PriorK: quantity.Kelvin(prior), PriorSpreadK: quantity.Kelvin(sd), Thermometers: []string{}, Mixing: k.in.mixing()}
	for _, st := range k.in.Farm.Stations {
		if st.BlockID != k.def.ID || st.ID == k.def.StationID {
			continue
		}
		in, ok := k.in.Stations[st.ID]
		if !ok {
			continue
		}
		l.Thermometers = append(l.Thermometers, st.ID)
		for _, n := range past {
			low, ok := k.lowest(&in.Readings, n)
			switch {
			case !ok:
				l.Gaps++
				continue
			case n.stationMinC > coldNightC:
				l.Mild++
			default:
				diffs = append(diffs, low-n.blockMinC)
			}
			l.Paired++
		}
	}
	l.Offset = LearnOffset(prior, sd, k.def.OffsetKnown, diffs)
	l.MovedK = quantity.Kelvin(l.Offset.MeanK - prior)
	k.ans.Learned = l
	return l.Offset
}

// lowest returns the lowest reading of a past night, if every hour is there.
func (k *block) lowest(r *weather.Hourly, n pastNight) (float64, bool) {
	p := &k.st.hist
	low := math.Inf(1)
	for i := r.Index(p.At(n.from)); i <= r.Index(p.At(n.to-1)); i++ {
		v := r.At(weather.AirTempMin, i)
		if math.IsNaN(v) {
			v = r.At(weather.AirTemp, i)
		}
		if math.IsNaN(v) {
			return 0, false
		}
		low = math.Min(low, v)
	}
	return low, !math.IsInf(low, 1)
}
