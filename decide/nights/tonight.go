package nights

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// Bounds of what one answer may be asked for.
const (
	MaxAhead  = 14
	MaxBlocks = 20000
)

// overAfterSunrise is when a night is over for the purpose of an answer; its
// minimum is at or soon after sunrise.
const overAfterSunrise = time.Hour

// InputError is something asked for that cannot be answered.
type InputError struct {
	Field, Value, Want string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s %q: expected %s", e.Field, e.Value, e.Want)
}

func (in *Input) fill() error {
	if in.Ahead == 0 {
		in.Ahead = 7
	}
	if in.Members == 0 {
		in.Members = weather.DefaultMembers
	}
	switch {
	case in.Zone == nil:
		return &InputError{"time zone", "", "the farm's zone"}
	case in.Now.IsZero():
		return &InputError{"now", "", "the present moment"}
	case in.Ahead < 1 || in.Ahead > MaxAhead:
		return &InputError{"nights ahead", fmt.Sprint(in.Ahead), fmt.Sprintf("1 to %d", MaxAhead)}
	case len(in.Farm.Blocks) == 0:
		return &InputError{"farm", in.Farm.Name, "at least one block"}
	case len(in.Farm.Blocks) > MaxBlocks:
		return &InputError{"blocks", fmt.Sprint(len(in.Farm.Blocks)), fmt.Sprintf("at most %d", MaxBlocks)}
	}
	return in.MixingK0.check()
}

// engine is one farm made ready.
type engine struct {
	in       *Input
	nights   []weather.Night
	stations map[string]*station
	states   []StationState
	notes    []Note
}

func newEngine(in *Input) (*engine, error) {
	if err := in.fill(); err != nil {
		return nil, err
	}
	e := &engine{in: in, stations: map[string]*station{}}
	var err error
	e.nights, err = weather.NightsAhead(in.Now, in.Farm.LatDeg, in.Farm.LonDeg, in.Zone, in.Ahead+1)
	if err != nil {
		if len(e.nights) == 0 {
			return nil, err
		}
		e.notes = append(e.notes, Note{"no-night", err.Error()})
	}
	// From an hour past sunrise on the coming night is the one to answer for.
	if len(e.nights) > 1 && !in.Now.Before(e.nights[0].Sunrise.Add(overAfterSunrise)) {
		e.nights = e.nights[1:]
	}
	e.nights = e.nights[:min(in.Ahead, len(e.nights))]
	wanted := map[string]bool{}
	for _, b := range in.Farm.Blocks {
		wanted[b.StationID] = true
	}
	for _, st := range in.Farm.Stations {
		data, ok := in.Stations[st.ID]
		if !wanted[st.ID] || !ok && !wanted[st.ID] {
			continue
		}
		s, state := prepare(st, &data, in, e.nights)
		if s != nil {
			e.stations[st.ID] = s
		}
		e.states = append(e.states, state)
	}
	return e, nil
}

// Tonight answers for every block of a farm.
//
// A block that cannot be answered says why and is placed among those to look
// at; it never makes the others fail.
func Tonight(in Input) (Answer, error) {
	e, err := newEngine(&in)
	if err != nil {
		return Answer{}, err
	}
	a := Answer{
		FarmID: in.Farm.ID, FarmName: in.Farm.Name, Zone: in.Farm.Zone, Currency: in.Farm.Currency,
		At: in.Now, Seed: in.Seed, Members: in.Members, Nights: e.nights, Stations: e.states, Notes: e.notes,
	}
	a.Blocks = make([]BlockAnswer, len(in.Farm.Blocks))
	e.each(func(i int, b farm.Block) { a.Blocks[i] = e.answer(b) })
	a.Shared = e.share(a.Blocks)
	for i := range a.Blocks {
		e.conclude(&a.Blocks[i])
	}
	a.Notes = append(a.Notes, labourNote(in.Farm))
	a.Notes = append(a.Notes, Note{"floor-unverified", "What floors are worth is checked against handbooks only: no open record of paired floors exists."})
	worstFirst(a.Blocks)
	return a, nil
}

// each runs f over the blocks on all processors.
func (e *engine) each(f func(i int, b farm.Block)) {
	var wg sync.WaitGroup
	var done atomic.Int64
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				f(i, e.in.Farm.Blocks[i])
				if n := int(done.Add(1)); e.in.Progress != nil {
					e.in.Progress(n, len(e.in.Farm.Blocks))
				}
			}
		}()
	}
	for i := range e.in.Farm.Blocks {
		next <- i
	}
	close(next)
	wg.Wait()
}

// answer works out one block. Whatever goes wrong in it, the others are
// answered: a fault of the program becomes an unknown block that says so.
func (e *engine) answer(b farm.Block) (a BlockAnswer) {
	defer func() {
		if r := recover(); r != nil {
			a = e.unanswered(b)
			a.Unknown = "a fault in the program stopped the work on this block; please report it."
			a.Notes = append(a.Notes, Note{"fault", fmt.Sprint(r)})
		}
	}()
	st := e.stations[b.StationID]
	if st == nil {
		return e.unanswered(b)
	}
	k, err := makeBlock(b, st, e.in, e.nights)
	if err != nil {
		u := e.unanswered(b)
		u.Unknown = err.Error()
		return u
	}
	for n := range e.nights {
		k.ans.Nights = append(k.ans.Nights, k.night(n))
	}
	k.night0 = k.ans.Nights[0]
	k.ans.Learned.tell(e.in.Units, float64(k.night0.SpreadK), k.night0.Covered)
	if c := k.night0.CriticalC; c != nil && *c > k.limit.WarmC {
		u := e.in.Units
		k.note("above-practice", fmt.Sprintf("With buds %s colder than the air the table puts 10 %% kill at %s; practice expects no damage at or above %s at this stage. The table is followed, being the more careful.",
			u.Difference(k.night0.BudK), u.Temperature(*c), u.Temperature(k.limit.WarmC)))
	}
	if k.expose != nil && k.night0.Covered {
		k.shift0 = k.weigh(plan{only: -1}, 0, 1).shifts
		k.ans.Choices = k.choices()
	}
	if k.anyCovered() {
		k.ans.Starts = k.starts()
		k.ans.FloorWork = k.floorWork()
	}
	if k.offset.Nights == 0 && !k.offset.Stated {
		k.note("offset-unknown", fmt.Sprintf("Nothing is known of how this block differs from its station: give or take %s. A thermometer at cordon height for ten clear nights would tell.", e.in.Units.Difference(offsetPriorSD)))
	}
	return k.ans
}

func (k *block) anyCovered() bool {
	for _, n := range k.ans.Nights {
		if n.Covered {
			return true
		}
	}
	return false
}

// unanswered is the answer for a block without a usable station.
func (e *engine) unanswered(b farm.Block) BlockAnswer {
	a := BlockAnswer{BlockID: b.ID, Name: b.Name, AreaHa: b.AreaHa, Cultivar: b.Cultivar, StationID: b.StationID, Urgency: Unknown}
	switch {
	case b.StationID == "":
		a.Unknown = "no station named for this block: name the nearest one with a forecast in `farm import`."
	default:
		a.Unknown = fmt.Sprintf("station %s has no forecast that reaches a night ahead: run `budward feed forecast`.", b.StationID)
		for _, s := range e.states {
			for _, n := range s.Notes {
				if s.StationID == b.StationID && (n.Code == "forecast-unusable" || n.Code == "station-unusable" || n.Code == "forecast-short") {
					a.Unknown = n.Text
				}
			}
		}
	}
	a.Settle = "Feed a forecast, or hang a thermometer at cordon height and look tonight."
	for _, n := range e.nights {
		a.Nights = append(a.Nights, BlockNight{Label: n.Label, Why: "No forecast."})
	}
	return a
}

// oneBlock makes one block ready for one night that the forecast covers.
func oneBlock(in *Input, blockID string, night int) (*engine, *block, error) {
	e, err := newEngine(in)
	if err != nil {
		return nil, nil, err
	}
	var def *farm.Block
	for i := range in.Farm.Blocks {
		if in.Farm.Blocks[i].ID == blockID {
			def = &in.Farm.Blocks[i]
		}
	}
	if def == nil {
		return nil, nil, &InputError{"block", blockID, "the id of a block of the farm"}
	}
	if night < 0 || night >= len(e.nights) {
		return nil, nil, &InputError{"night", fmt.Sprint(night + 1), fmt.Sprintf("1 to %d", len(e.nights))}
	}
	st := e.stations[def.StationID]
	if st == nil {
		return nil, nil, &InputError{"block", blockID, "a block whose station has a forecast that reaches a night ahead"}
	}
	if !st.features[night].covered {
		return nil, nil, &InputError{"night", e.nights[night].Label, "a night that the forecast covers: " + st.ens.Coverage[night].Why}
	}
	k, err := makeBlock(*def, st, e.in, e.nights)
	return e, k, err
}

// WhatIf compares alternatives for one block and night, each as if the floor
// had been so throughout the past that is known.
func WhatIf(in Input, blockID string, night int, alts []Alternative) ([]Compared, error) {
	e, ref, err := oneBlock(&in, blockID, night)
	if err != nil {
		return nil, err
	}
	out := make([]Compared, 0, len(alts))
	for _, a := range alts {
		c, err := e.compare(ref, ref.def, ref.st, night, a)
		if err != nil {
			return nil, fmt.Errorf("alternative %q: %w", a.Label, err)
		}
		out = append(out, c)
	}
	return out, nil
}

// compare works out one alternative.
func (e *engine) compare(ref *block, def farm.Block, st *station, night int, a Alternative) (Compared, error) {
	def.Strips = append([]farm.Strip(nil), def.Strips...)
	if err := ref.possible(a, night); err != nil {
		return Compared{}, err
	}
	named := 0
	for i, s := range def.Strips {
		r, ok := a.Floor[s.Name]
		if !ok {
			r, ok = a.Floor[""]
		} else {
			named++
		}
		if !ok {
			continue
		}
		def.Strips[i].Surface, def.Strips[i].HeightM, def.Strips[i].DepthM = r.Surface, r.HeightM, r.DepthM
		if r.Moisture.Value > 0 {
			def.Strips[i].Moisture = r.Moisture
		}
	}
	if len(a.Floor) > 0 && a.Floor[""].Surface == "" && named < len(a.Floor) {
		return Compared{}, &InputError{"floor", "", "names of strips of this block"}
	}
	if a.RunMmH > 0 {
		def.System.RateMmH = a.RunMmH
	}
	k, err := makeBlock(def, st, e.in, e.nights)
	if err != nil {
		return Compared{}, err
	}
	if runs := k.alternativeRuns(a, night); runs != nil {
		k.base = k.tabulate(runs, nil, len(e.nights))
	}
	c := Compared{Label: a.Label, Night: k.night(night)}
	gain := quantity.Kelvin(c.Night.FloorGain.CentralK - ref.night(night).FloorGain.CentralK)
	half := quantity.Kelvin(1.28 * gainSpread * math.Abs(float64(gain)))
	c.Choice = Choice{Kind: Nothing, Label: a.Label, Open: true, ForNight: night, Gain: Worth{gain - half, gain, gain + half}, WaterMM: k.base.given.WaterMM}
	c.Choice.WaterM3 = c.Choice.WaterMM * 10 * def.AreaHa
	if c.Night.Risk != nil {
		c.Choice.Risk = *c.Night.Risk
	}
	if a.Run == Nothing || a.Run == "" || a.Run == RunWater {
		return c, nil
	}
	return k.compareActive(c, a.Run, night)
}

// compareActive adds an active method; it is reckoned for tonight's night only
// where that is the one asked about.
func (k *block) compareActive(c Compared, run ChoiceKind, night int) (Compared, error) {
	if night != 0 {
		return c, &InputError{"run", string(run), "tonight (night 1): start and stop of active methods are worked out for the coming night only"}
	}
	k.ans.Nights = []BlockNight{c.Night}
	k.night0 = c.Night
	if k.expose == nil {
		return c, &InputError{"run", string(run), "a block whose stage is recorded"}
	}
	k.shift0 = k.weigh(plan{only: -1}, 0, 1).shifts
	k.ans.Stage.Tonight = k.ans.Stage.Mixture
	makers := map[ChoiceKind]func() *tonightPlan{OverVine: k.overVine, RunFan: k.fan, RunHeater: k.heaters}
	p := makers[run]()
	if p == nil {
		return c, &InputError{"run", string(run), "something this block has (see `farm show`)"}
	}
	p.choice.Label = c.Label
	if p.choice.Open {
		p.plan.only = 0
		p.choice.Risk = k.weigh(p.plan, 0, 1).risk
	}
	p.choice.WaterMM += c.Choice.WaterMM
	c.Choice = p.choice
	return c, nil
}
