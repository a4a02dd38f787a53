package method

import (
	"math"

	"budward/physics/floor"
	"budward/physics/ground"
	"budward/vineyard/farm"
)

// Run is water given to a block's own system between two steps of a path.
type Run struct {
	From, To    int     // steps [From, To); fill and advance are added by the runner
	RateMmH     float64 // over the whole block; 0 = the system's
	UntilRefill bool    // stop when the wetted top 0.3 m is at field capacity and the share established
	AtOnce      bool    // one step that lays RateMmH down as an amount in mm
	WaterC      float64 // temperature of the water on arrival
}

// Trace is a block's course along a stretch of a path.
type Trace struct {
	CordonC []float64 // station's air carried to cordon height, degC
	GainK   []float64 // block's air less that
	GroundC []float64 // area mean of what lies on top of the floor
}

func (t *Trace) size(n int) {
	if cap(t.CordonC) < n {
		t.CordonC, t.GainK, t.GroundC = make([]float64, n), make([]float64, n), make([]float64, n)
	}
	t.CordonC, t.GainK, t.GroundC = t.CordonC[:n], t.GainK[:n], t.GroundC[:n]
}

// Given is the water a site has been given since Plan.
type Given struct {
	WaterMM             float64 // over the block
	FirstStep, LastStep int     // -1 = none
}

// Plan sets the water to come, in steps counted from the next one, and starts
// the account of what is given anew. nil gives none.
func (s *Site) Plan(runs []Run) {
	s.runs = runs
	s.state = append(s.state[:0], make([]runState, len(runs))...)
	s.step = 0
	s.Given = Given{FirstStep: -1, LastStep: -1}
}

// Drive runs the site on along steps beside the reference's own at the site's
// cordon height, with the planned water. The trace is reused.
func (s *Site) Drive(steps []floor.Weather, ref []RefStep, out *Trace) {
	out.size(len(steps))
	for i := range steps {
		w := steps[i]
		if len(s.runs) > 0 {
			s.dry()
			for k := range s.runs {
				s.water(&s.runs[k], &s.state[k])
			}
		}
		w.AirC = ref[i].CordonC
		out.CordonC[i] = w.AirC
		out.GainK[i] = s.Floor.Step(&w, ref[i].Sensible, StepS)
		g := 0.0
		for p := range s.Floor.Patches {
			g += s.Floor.Patches[p].Share * s.Floor.Patches[p].Flux.SurfaceC
		}
		out.GroundC[i] = g
		s.step++
	}
}

// refilled says whether a wetting has done its work: the share is established
// and the wetted ground, down to 0.3 m or to a hand below buried lines, holds
// field capacity.
func (s *Site) refilled(share float64) bool {
	depth := math.Max(RootZoneM, s.Block.System.BuriedM+0.1)
	return share >= s.established()-0.01 && s.wetMoisture(depth) >= s.Soil.FieldCapacity-0.002
}

type runState struct {
	hours float64 // run so far
	done  bool
	grown float64 // hour at which the share was last widened
}

func (s *Site) dry() {
	for p := range s.Floor.Patches {
		s.Floor.Patches[p].Supply = floor.Supply{}
	}
}

// delayH is the time from opening the valve to water on the ground.
func (s *Site) delayH() float64 {
	return s.Block.System.LineFillH + s.Block.System.AdvanceH/2
}

// water puts a run's water on the patches for the step to come.
func (s *Site) water(r *Run, st *runState) {
	i, from := s.step, r.From
	if !r.AtOnce {
		from += int(math.Round(s.delayH() * stepsPerHour))
	}
	if st.done || i < from || i >= r.To {
		return
	}
	rate := r.RateMmH
	if rate == 0 {
		rate = s.Block.System.RateMmH
	}
	if r.AtOnce {
		st.done = true
		rate *= stepsPerHour // the whole amount within one step
		s.widen(s.established())
	} else if st.hours == 0 || st.hours-st.grown >= 1-1e-9 {
		s.widen(s.shareAfter(s.ranH + 1))
		st.grown = st.hours
	}
	share := s.WetShare()
	if share <= 0 || rate <= 0 {
		return
	}
	if r.UntilRefill && st.hours > 0 && s.refilled(share) {
		st.done = true
		return
	}
	sup := floor.Supply{MmH: rate / share, TempC: r.WaterC, BuriedM: s.Block.System.BuriedM, NoLimit: r.AtOnce || pointSource(s.Block.System.Kind)}
	for p := s.strips; p < 2*s.strips; p++ {
		if s.Floor.Patches[p].Share > 0 {
			s.Floor.Patches[p].Supply = sup
		}
	}
	if s.Given.FirstStep < 0 {
		s.Given.FirstStep = i
	}
	s.Given.LastStep = i
	s.Given.WaterMM += rate / stepsPerHour
	st.hours += 1.0 / stepsPerHour
	s.ranH += 1.0 / stepsPerHour
}

func pointSource(k farm.SystemKind) bool { return k == farm.Drip || k == farm.MicroSprinkler }

// Shares of the floor wetted once running is established, where the farm does
// not say: FAO-56 table 20 (from memory), middle of its ranges. Point sources
// get theirs from the bulb and this as their limit.
var sharesByKind = map[farm.SystemKind]float64{
	farm.Drip: 0.35, farm.MicroSprinkler: 0.6, farm.Furrow: 0.5, farm.Flood: 1, farm.OverVine: 1, farm.NoSystem: 1,
}

// established is the share of the floor that the system wets in the end.
func (s *Site) established() float64 {
	if w := s.Block.System.WetShare; w > 0 {
		return math.Min(1, w)
	}
	return sharesByKind[s.Block.System.Kind]
}

// shareAfter returns the share of the floor wetted after hours of running:
// under drip the bulb that mass balance gives, growing to the established
// share; under the others that share from the start.
func (s *Site) shareAfter(hours float64) float64 {
	sys := &s.Block.System
	limit := s.established()
	if sys.Kind != farm.Drip || sys.EmitterLPH <= 0 {
		return limit
	}
	w, err := ground.BulbByMass(s.emitters(), hours, s.deficit(), s.Soil.WiderThanDeep)
	if err != nil {
		return limit
	}
	return math.Min(w.Share, limit)
}

func (s *Site) emitters() ground.Emitters {
	sys := &s.Block.System
	e := ground.Emitters{FlowLPH: sys.EmitterLPH, AlongM: sys.EmitterAlongM, AcrossM: sys.EmitterAcrossM}
	if e.AlongM <= 0 {
		e.AlongM = s.Block.VineSpacingM
	}
	if e.AcrossM <= 0 {
		e.AcrossM = s.Block.RowSpacingM
	}
	return e
}

// deficit is what the dry ground of the strip wetted first lacks to field
// capacity; ground already there still takes a little, up to a tenth of the
// drainable pores.
func (s *Site) deficit() float64 {
	least := math.Max(0.02, 0.1*(s.Soil.Porosity-s.Soil.FieldCapacity))
	return math.Max(least, s.Soil.FieldCapacity-s.Floor.Patches[s.fill[0]].Col.MeanWater(RootZoneM))
}

// SecondOpinion returns the share wetted after hours of running by the
// empirical bulb, to set beside the one in use; ok is false where the block
// has no drip or numbers outside its range.
func (s *Site) SecondOpinion(hours float64) (share float64, ok bool) {
	if s.Block.System.Kind != farm.Drip || s.Block.System.EmitterLPH <= 0 {
		return 0, false
	}
	w, err := ground.BulbEmpirical(s.emitters(), hours, s.Soil.KsMmH)
	if err != nil {
		return 0, false
	}
	return math.Min(w.Share, s.established()), true
}
