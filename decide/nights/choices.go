package nights

import (
	"fmt"
	"math"
	"slices"
	"time"

	"budward/decide/method"
	"budward/physics/air"
	"budward/physics/quantity"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// Hours of labour counted for a choice where the farm states a wage; stated
// guesses, listed with the answer.
const (
	hoursToOpen   = 0.5 // open valves and walk the lines
	hoursFan      = 1.5 // start, look in, stop
	hoursMowPerHa = 1.0
	mownM         = 0.05
	tallM         = 0.08 // cover above this is worth mowing
	burnLeadK     = 0.5  // start surface water and heaters this much above critical
	waterTempC    = 14   // where a source's temperature is not known
	gainZSpread   = 2.56 // a range of low to high is taken as 10 to 90 %
	holdShare     = 0.75 // over-vine rate must hold in this share of scenarios
)

// tonightPlan is a choice together with how it acts.
type tonightPlan struct {
	choice Choice
	plan   plan
}

// choices lists what is open to the block, with what each is worth. Nothing is
// first; the others follow in a fixed order.
func (k *block) choices() []Choice {
	nothing := k.weigh(plan{only: -1}, 0, 1)
	all := k.weigh(plan{only: -1}, 0, len(k.nights))
	out := []Choice{{Kind: Nothing, Label: "nothing more than is in place", Open: true, Risk: nothing.risk}}
	if k.st.features[0].covered {
		for _, c := range []*tonightPlan{k.runWater(), k.overVine(), k.fan(), k.heaters()} {
			if c == nil {
				continue
			}
			if c.choice.Open {
				c.plan.only = 0
				t := k.weigh(c.plan, 0, 1)
				c.choice.Risk = t.risk
				c.choice.Avoided = nothing.risk.LossMoney - t.risk.LossMoney
				c.choice.SavedShare = nothing.risk.LossShare - t.risk.LossShare
			}
			out = append(out, k.priced(c.choice))
		}
	}
	for _, c := range []*tonightPlan{k.wetFloor(), k.mow()} {
		if c == nil {
			continue
		}
		c.choice.Ahead = true
		if c.choice.Open {
			c.plan.only = -1
			t := k.weigh(c.plan, 0, len(k.nights))
			c.choice.Risk = t.risk
			c.choice.Avoided = all.risk.LossMoney - t.risk.LossMoney
			c.choice.SavedShare = all.risk.LossShare - t.risk.LossShare
		}
		out = append(out, k.priced(c.choice))
	}
	return out
}

func (k *block) priced(c Choice) Choice {
	c.Net = c.Avoided - c.Cost
	return c
}

func (k *block) source() (farm.Source, bool) {
	for _, s := range k.in.Farm.Sources {
		if s.ID == k.def.System.SourceID {
			return s, true
		}
	}
	return farm.Source{}, false
}

func (k *block) waterC() float64 {
	if s, ok := k.source(); ok && s.WaterTempC > 0 {
		return float64(s.WaterTempC)
	}
	k.noteOnce("water-temperature", fmt.Sprintf("Temperature of the water not stated: %s taken.", k.in.Units.Temperature(waterTempC)))
	return waterTempC
}

// labourNote says what labour was counted as.
func labourNote(f farm.Farm) Note {
	if f.LabourPerHour == 0 {
		return Note{"labour-free", "No wage is stated: labour is counted as free."}
	}
	return Note{"labour", fmt.Sprintf("Labour is counted as %.1f h to open water, %.1f h for a fan, the whole night for sprinklers and heaters, and %.1f h a hectare for mowing (guesses).", hoursToOpen, hoursFan, hoursMowPerHa)}
}

// waterCost returns the cost of mm over the block through hours of running.
func (k *block) waterCost(mm, hours float64) (cost, m3 float64) {
	m3 = mm * 10 * k.def.AreaHa
	if s, ok := k.source(); ok {
		cost = m3 * s.CostPerM3
	}
	return cost + hours*k.def.System.EnergyCostPerH, m3
}

// water starts a choice that uses the block's system; nil without one.
func (k *block) waterChoice(kind ChoiceKind, label string) *tonightPlan {
	sys := k.def.System
	if sys.Kind == farm.NoSystem || sys.RateMmH <= 0 {
		return nil
	}
	c := &tonightPlan{choice: Choice{Kind: kind, Label: label, Open: true}}
	if s, ok := k.source(); ok && s.FrostUseStated && !s.FrostUse {
		c.choice.Open, c.choice.WhyNot = false, fmt.Sprintf("the right of source %s does not cover frost protection", s.Name)
	} else if ok && !s.FrostUseStated {
		c.choice.Conditions = append(c.choice.Conditions, fmt.Sprintf("the right of source %s covers frost protection (not stated)", s.Name))
	}
	return c
}

// crossing returns when the cold tenth of scenarios, at the coldest tenth of
// the block, first falls to limit, looked for from now or from four hours before
// sunset; the present where it is there already, the zero time where it never
// gets there before the end of the night.
func (k *block) crossing(limit float64) time.Time {
	st := k.st
	_, b := st.ens.NightRange(0)
	from := later(k.in.Now, k.nights[0].Sunset.Add(-4*time.Hour))
	prev := math.NaN()
	for i := int(from.Sub(st.ens.Start) / time.Hour); i < b; i++ {
		q := k.coldAt(i)
		if q <= limit {
			at := st.ens.Time(i)
			if prev > limit {
				at = at.Add(-time.Duration((limit - q) / (prev - q) * float64(time.Hour)))
			}
			return later(at.Truncate(5*time.Minute), from)
		}
		prev = q
	}
	return time.Time{}
}

// coldAt returns the cold tenth of scenarios at the coldest tenth of the block
// at ensemble hour i.
func (k *block) coldAt(i int) float64 {
	st := k.st
	col := make([]float64, len(st.ens.Members))
	for m := range col {
		col[m] = st.ens.Members[m].AirTempC[i] + k.shift0[m]
	}
	return float64(quant(col, st.ens.Weights(), 0.1)) - float64(k.def.ColdSpotK)
}

// startBefore returns when to start for a limit: the crossing, or hours before
// the usual minimum where the cold tenth never crosses; lead earlier, never
// before now.
func (k *block) startBefore(limit float64, hours int, leadH float64) time.Time {
	start := k.crossing(limit)
	if start.IsZero() {
		start = k.night0.MinAt.Add(-time.Duration(hours) * time.Hour)
	}
	return later(start.Add(-time.Duration(leadH*float64(time.Hour))), k.in.Now)
}

// lastHalfHour is the least time before its stop that a method is started at.
const lastHalfHour = 30 * time.Minute

// tooLate closes a choice whose time is over.
func (k *block) tooLate(c *Choice) bool {
	if !k.in.Now.Before(k.nights[0].Sunrise) || c.StopAt.Sub(c.StartAt) < lastHalfHour {
		c.Open, c.WhyNot = false, "too late tonight: the sun is up, or nearly"
		c.StartAt, c.StopAt, c.Cost, c.WaterMM, c.WaterM3 = time.Time{}, time.Time{}, 0, 0, 0
		return true
	}
	return false
}

// runWater is the surface system run through tonight.
func (k *block) runWater() *tonightPlan {
	sys := k.def.System
	if sys.Kind == farm.OverVine {
		return nil
	}
	c := k.waterChoice(RunWater, "run the "+string(sys.Kind)+" through the night")
	if c == nil || !c.choice.Open {
		return c
	}
	limit, ok := k.critical(0, 0.1)
	if !ok {
		return nil
	}
	if k.expose[0].Basis() == vine.Tissue {
		limit += float64(k.night0.BudK)
	}
	start := k.startBefore(limit+burnLeadK, 3, sys.LineFillH+sys.AdvanceH)
	stop := k.nights[0].End
	c.choice.StartAt, c.choice.StopAt = start, stop
	if k.tooLate(&c.choice) {
		return c
	}
	p := &k.st.central.path
	run := []method.Run{{From: max(0, p.Index(start)+1), To: p.Index(stop) + 1, WaterC: k.waterC()}}
	table := k.tabulate(run, nil, 1)
	c.plan.table = table
	c.choice.WaterMM = table.given.WaterMM
	hours := stop.Sub(start).Hours()
	c.choice.Cost, c.choice.WaterM3 = k.waterCost(table.given.WaterMM, hours)
	c.choice.Cost += hoursToOpen * k.in.Farm.LabourPerHour
	c.choice.Gain = k.extraGain(table, 0)
	c.choice.StopRule = "Stop when the air at cordon height has risen above the critical temperature after sunrise."
	c.choice.Conditions = append(c.choice.Conditions, "calm; wind takes most of it away")
	c.choice.Cautions = method.SurfaceWaterCautions(k.in.Units)
	return c
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

// extraGain is what a table is worth beyond the floor as it is, on night n in
// the median scenario, with its range.
func (k *block) extraGain(t *gainTable, n int) Worth {
	f := &k.st.features[n]
	w := k.st.ens.Weights()
	g := make([]float64, len(f.wind))
	for m := range g {
		g[m] = t.at(n, f.wind[m], f.cloud[m]).gainK - k.base.at(n, f.wind[m], f.cloud[m]).gainK
	}
	mid := quantity.Kelvin(quant(g, w, 0.5))
	half := quantity.Kelvin(1.28 * gainSpread * math.Abs(float64(mid)))
	return Worth{mid - half, mid, mid + half}
}

// overVine is over-vine sprinkling: held or not by its rate, scenario by
// scenario.
func (k *block) overVine() *tonightPlan {
	if k.def.System.Kind != farm.OverVine {
		return nil
	}
	c := k.waterChoice(OverVine, "over-vine sprinklers")
	if c == nil || !c.choice.Open {
		return c
	}
	pressure := quantity.Kilopascal(air.PressureKPa(k.st.def.ElevationM))
	k.overVineTimes(&c.choice, pressure)
	if k.tooLate(&c.choice) || k.alreadyCold(&c.choice, pressure) {
		return c
	}
	f := &k.st.features[0]
	rate := k.def.System.RateMmH
	held, worst := 0.0, 0.0
	w := k.st.ens.Members
	need := make([]float64, len(w))
	for m := range w {
		x := k.memberAt(k.base, 0, m, 0)
		need[m] = requiredRate(x.air-float64(k.def.ColdSpotK), f.dew[m], f.wind[m])
		if need[m] <= rate {
			held += w[m].Weight
		}
		if !math.IsInf(need[m], 1) {
			worst = math.Max(worst, need[m])
		}
	}
	c.plan.holds = func(_, m int, _ member) bool { return need[m] <= rate }
	// Where the rate is not held, wetted tissue falls to the wet bulb.
	c.plan.warm = func(_, m int, x member) float64 {
		return math.Min(0, air.WetBulbC(x.air, satVap(math.Min(f.dew[m], x.air)), float64(pressure))-x.air)
	}
	u := k.in.Units
	if held < holdShare {
		c.choice.Open = false
		c.choice.WhyNot = fmt.Sprintf("do not start the sprinklers: their %s holds to about %s in tonight's air, and %.0f %% of scenarios ask for more (up to %s); vines wetted and then short of water end colder than dry ones",
			u.Rate(quantity.MillimetrePerHour(rate)), u.Temperature(k.holdsTo(rate)), 100*(1-held), u.Rate(quantity.MillimetrePerHour(worst)))
		return c
	}
	c.choice.Conditions = append(c.choice.Conditions,
		fmt.Sprintf("%s held without a break to the end; wind at the vines below %s", u.Rate(quantity.MillimetrePerHour(rate)), u.Wind(method.SprinkleWindMS)))
	c.choice.Cautions = method.SprinklerCautions(u)
	c.choice.StopRule = fmt.Sprintf("Stop only when the wet bulb upwind is above %s and the ice is loose and melting.", u.Temperature(0))
	c.choice.Gain = Worth{0, quantity.Kelvin(math.Max(0, -float64(k.night0.Min.P50C))), quantity.Kelvin(math.Max(0, -float64(k.night0.Min.P10C)))}
	return c
}

// alreadyCold closes over-vine sprinkling when the wet bulb at the block is
// below freezing now: the first water would cool tissue before it protects.
func (k *block) alreadyCold(c *Choice, p quantity.Kilopascal) bool {
	if !k.nights[0].Begun {
		return false
	}
	st := k.st
	w := st.ens.Weights()
	wet := make([]float64, len(w))
	for m := range wet {
		x := &st.ens.Members[m]
		t := x.AirTempC[0] + k.shift0[m]
		wet[m] = air.WetBulbC(t, satVap(math.Min(x.DewPointC[0], t)), float64(p))
	}
	if now := quant(wet, w, 0.5); now < 0 {
		c.Open = false
		c.WhyNot = fmt.Sprintf("do not start the sprinklers: the wet bulb is about %s already, and the first water would chill the vines below what they stand before it protects them; they had to run from %s on", k.in.Units.Temperature(now), k.in.Units.Temperature(*c.StartAirC))
		return true
	}
	return false
}

// requiredRate returns the application rate that holds wetted vines, the higher
// of the balance and the handbook; infinite where neither is valid.
func requiredRate(airC, dewC, wind float64) float64 {
	if airC >= 0 {
		return 0
	}
	rh := satVap(math.Min(dewC, airC)) / satVap(airC)
	r, err := method.SprinklerRate(quantity.Celsius(airC), quantity.Share(rh), quantity.MetrePerSecond(wind), method.VineTissue)
	if err != nil {
		return math.Inf(1)
	}
	if h, ok := method.HandbookSprinklerRate(quantity.Celsius(airC), quantity.MetrePerSecond(wind)); ok && h > r {
		r = h
	}
	return float64(r)
}

// holdsTo returns the lowest air temperature that an over-vine rate holds in
// the median scenario's dew point and wind, found by bisection.
func (k *block) holdsTo(rate float64) quantity.Celsius {
	f := &k.st.features[0]
	w := k.st.ens.Weights()
	dew, wind := float64(quant(f.dew, w, 0.5)), float64(quant(f.wind, w, 0.5))
	lo, hi := method.SprinkleLeastC, 0.0
	for range 40 {
		if mid := (lo + hi) / 2; requiredRate(mid, dew, wind) <= rate {
			hi = mid
		} else {
			lo = mid
		}
	}
	return quantity.Celsius(hi)
}

// overVineTimes sets start by wet bulb, stop, water and cost.
func (k *block) overVineTimes(c *Choice, p quantity.Kilopascal) {
	f := &k.st.features[0]
	dew := quantity.Celsius(quant(f.dew, k.st.ens.Weights(), 0.25)) // the drier side starts earlier
	start, beyond, err := method.StartTemperature(0, dew, p)
	if err != nil {
		panic("nights: " + err.Error()) // dew points of scenarios lie within its range
	}
	if beyond {
		c.Conditions = append(c.Conditions, "the air is very dry: evaporation cools before the water protects, and the start temperature is beyond the range its formula is checked for")
	}
	c.StartAirC = &start
	c.StartAt = k.startBefore(float64(start), 2, k.def.System.LineFillH)
	c.StopAt = k.nights[0].End
	hours := c.StopAt.Sub(c.StartAt).Hours()
	c.WaterMM = k.def.System.RateMmH * hours
	c.Cost, c.WaterM3 = k.waterCost(c.WaterMM, hours)
	c.Cost += hours * k.in.Farm.LabourPerHour
}

func (k *block) equipment(kind farm.EquipmentKind) []farm.Equipment {
	var out []farm.Equipment
	for _, e := range k.in.Farm.Equipment {
		for _, id := range k.def.Protection {
			if e.ID == id && e.Kind == kind {
				out = append(out, e)
			}
		}
	}
	return out
}

// mixingAt returns K at a member's wind.
func (k *block) mixingAt(wind float64) float64 {
	return k.site.Floor.Mix.K(wind, k.site.Floor.FetchM, 1280, 0)
}

// protected returns the area of all blocks that name a piece of equipment.
func (k *block) protectedHa(id string) float64 {
	ha := 0.0
	for _, b := range k.in.Farm.Blocks {
		if slices.Contains(b.Protection, id) {
			ha += b.AreaHa
		}
	}
	return ha
}

// fan is wind machines: a share of the inversion over the station's floor. A
// machine that several blocks name serves and costs each by its area.
func (k *block) fan() *tonightPlan {
	eq := k.equipment(farm.Fan)
	if len(eq) == 0 {
		return nil
	}
	c := &tonightPlan{choice: Choice{Kind: RunFan, Label: "run the fan", Open: true, Cautions: method.FanCautions(k.in.Units)}}
	share, cost := 0.0, 0.0
	for _, e := range eq {
		ha := k.protectedHa(e.ID)
		share += method.FanShare(max(1, e.Count), e.AreaHa, ha)
		cost += e.CostPerH * k.def.AreaHa / ha
		if e.AreaHa <= 0 {
			k.note("fan-area", fmt.Sprintf("Area of %s not stated: %s a machine taken.", e.Name, k.in.Units.Area(method.FanHectares)))
		}
	}
	share = math.Min(1, share)
	f := &k.st.features[0]
	w := k.st.ens.Weights()
	low, mid, high := make([]float64, len(w)), make([]float64, len(w)), make([]float64, len(w))
	useful := 0.0
	for m := range w {
		inv := k.st.inversionAt(f.wind[m], f.cloud[m], k.site)
		g := k.base.at(0, f.wind[m], f.cloud[m]).gainK
		low[m], mid[m], high[m] = method.FanGain(inv, g, k.mixingAt(f.wind[m]), share)
		if f.wind[m] > method.FanWindMS || inv < method.FanInversionK {
			low[m], mid[m], high[m] = 0, 0, 0
		} else {
			useful += w[m]
		}
	}
	c.plan.warm = k.ranged(low, mid, high)
	c.choice.Gain = Worth{quantity.Kelvin(quant(low, w, 0.5)), quantity.Kelvin(quant(mid, w, 0.5)), quantity.Kelvin(quant(high, w, 0.5))}
	k.activeTimes(&c.choice, cost, hoursFan)
	if !c.choice.Open {
		return c
	}
	c.choice.Conditions = append(c.choice.Conditions, fmt.Sprintf("an inversion of %s and wind below %s: so in %.0f %% of scenarios; the inversion is modelled, not measured",
		k.in.Units.Difference(method.FanInversionK), k.in.Units.Wind(method.FanWindMS), 100*useful))
	if share < 0.999 {
		c.choice.Conditions = append(c.choice.Conditions, fmt.Sprintf("the machines reach %.0f %% of the area they are named for", 100*share))
	}
	cold, warm := vine.FanStart(k.ans.Stage.Tonight.Mean())
	c.choice.Conditions = append(c.choice.Conditions, fmt.Sprintf("a published guide starts fans at %s to %s at this stage", k.in.Units.Temperature(cold), k.in.Units.Temperature(warm)))
	return c
}

// heaters burn what the set is rated for, over all blocks that name it.
func (k *block) heaters() *tonightPlan {
	eq := k.equipment(farm.Heaters)
	if len(eq) == 0 {
		return nil
	}
	c := &tonightPlan{choice: Choice{Kind: RunHeater, Label: "light the heaters", Open: true, Cautions: method.HeaterCautions}}
	out, cost := 0.0, 0.0
	for _, e := range eq {
		ha := k.protectedHa(e.ID)
		out += e.PowerKW * 1000 / (ha * 1e4)
		cost += e.CostPerH * k.def.AreaHa / ha
	}
	f := &k.st.features[0]
	w := k.st.ens.Weights()
	low, mid, high := make([]float64, len(w)), make([]float64, len(w)), make([]float64, len(w))
	for m := range w {
		low[m], mid[m], high[m] = method.HeaterGain(out, k.mixingAt(f.wind[m]))
	}
	c.plan.warm = k.ranged(low, mid, high)
	c.choice.Gain = Worth{quantity.Kelvin(quant(low, w, 0.5)), quantity.Kelvin(quant(mid, w, 0.5)), quantity.Kelvin(quant(high, w, 0.5))}
	k.activeTimes(&c.choice, cost, 0)
	if !c.choice.Open {
		return c
	}
	c.choice.Cost += c.choice.StopAt.Sub(c.choice.StartAt).Hours() * k.in.Farm.LabourPerHour // attended throughout
	c.choice.Conditions = append(c.choice.Conditions, fmt.Sprintf("%.0f W/m2 burnt, over half of it lost upward; wind blows the rest away", out))
	return c
}

// ranged turns low, central and high gains by member into a member's own.
func (k *block) ranged(low, mid, high []float64) func(int, int, member) float64 {
	return func(_, m int, _ member) float64 {
		return math.Max(math.Min(0, low[m]), mid[m]+k.gainZ[m]*(high[m]-low[m])/gainZSpread)
	}
}

// activeTimes sets start, stop and cost of a method started near the critical
// temperature.
func (k *block) activeTimes(c *Choice, perHour, hours float64) {
	limit := float64(*k.night0.CriticalC) + 2*burnLeadK
	c.StartAt = k.startBefore(limit, 3, 0)
	start := quantity.Celsius(limit)
	c.StartAirC = &start
	c.StopAt = k.nights[0].Sunrise.Add(time.Hour)
	c.StopRule = "Stop when the air at cordon height has risen above the critical temperature after sunrise."
	if k.tooLate(c) {
		return
	}
	c.Cost = c.StopAt.Sub(c.StartAt).Hours()*perHour + hours*k.in.Farm.LabourPerHour
}
