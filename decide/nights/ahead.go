package nights

import (
	"fmt"
	"math"
	"time"

	"budward/decide/method"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

const (
	coldNightShare = 0.03 // a night counts as cold ahead from this probability of damage
	startNights    = 2    // cold nights that a start table is worked out for
	nearCapacity   = 0.95 // of field capacity: wetting beyond is worth nothing
)

// coldNights returns the nights that preparing for is about: those with a
// chance of damage, coldest first, or, where none has, the coldest covered.
func (k *block) coldNights(most int) []int {
	var cold []int
	best := -1
	low := func(n int) float64 { return float64(k.ans.Nights[n].Min.P50C) }
	for n := range k.ans.Nights {
		x := &k.ans.Nights[n]
		if !x.Covered {
			continue
		}
		if best < 0 || low(n) < low(best) {
			best = n
		}
		if x.Risk != nil && x.Risk.Probability >= coldNightShare {
			cold = append(cold, n)
		}
	}
	if len(cold) == 0 && best >= 0 {
		cold = []int{best}
	}
	for i := 1; i < len(cold); i++ {
		for j := i; j > 0 && low(cold[j]) < low(cold[j-1]); j-- {
			cold[j], cold[j-1] = cold[j-1], cold[j]
		}
	}
	return cold[:min(most, len(cold))]
}

// surfaceSystem says whether the block can put water into its floor.
func (k *block) surfaceSystem() bool {
	s := k.def.System
	return s.Kind != farm.NoSystem && s.Kind != farm.OverVine && s.RateMmH > 0
}

// refillRun gives water from start until the floor is refilled or the dusk of
// night n, or through the night where it starts later than that.
func (k *block) refillRun(start time.Time, n int) method.Run {
	p := &k.st.central.path
	stop := k.nights[n].Sunset
	if !start.Before(stop) {
		stop = k.nights[n].End
	}
	return method.Run{From: max(0, p.Index(start)+1), To: p.Index(stop) + 1, UntilRefill: true, WaterC: k.waterC()}
}

// wetFloor is starting the block's surface system now, for the coldest night
// ahead, until the floor is refilled.
func (k *block) wetFloor() *tonightPlan {
	if !k.surfaceSystem() {
		return nil
	}
	c := k.waterChoice(WetFloor, "start wetting the floor now")
	if c == nil || !c.choice.Open {
		return c
	}
	cold := k.coldNights(1)
	if len(cold) == 0 {
		return nil
	}
	night := cold[0]
	start := later(k.in.Now, k.st.ens.Start)
	table := k.tabulate([]method.Run{k.refillRun(start, night)}, nil, len(k.nights))
	if table.given.FirstStep < 0 {
		c.choice.Open, c.choice.WhyNot = false, "the wetted floor is at field capacity already: more water is worth nothing"
		return c
	}
	c.plan.table = table
	p := &k.st.central.path
	c.choice.StartAt, c.choice.StopAt = start, p.At(table.given.LastStep)
	c.choice.ForNight = night
	c.choice.WaterMM = table.given.WaterMM
	hours := c.choice.StopAt.Sub(start).Hours()
	c.choice.Cost, c.choice.WaterM3 = k.waterCost(table.given.WaterMM, hours)
	c.choice.Cost += hoursToOpen * k.in.Farm.LabourPerHour
	c.choice.Gain = k.extraGain(table, night)
	c.choice.StopRule = "Stop when the wetted soil feels moist to " + handDepth(k.in.Units) + ", or at dusk of the cold night; wetter than field capacity earns nothing."
	c.choice.Conditions = append(c.choice.Conditions, "sun on the wetted soil for a day or two; no disking and no traffic on it")
	c.choice.Cautions = []string{
		"No acid or fertiliser in the lines; check filters, leaks and the backflow device.",
		"Do not drive on wet ground until it has drained.",
		"Use water only as your right and local rules allow.",
	}
	return c
}

// handDepth is the depth a hand or an auger is held to, in round figures.
func handDepth(u quantity.System) string {
	if u == quantity.US {
		return "12 in"
	}
	return "30 cm"
}

// mow is cutting a tall cover short now.
func (k *block) mow() *tonightPlan {
	tall := false
	for _, s := range k.def.Strips {
		tall = tall || s.Surface == farm.Cover && s.HeightM > tallM
	}
	if !tall {
		return nil
	}
	cold := k.coldNights(1)
	if len(cold) == 0 {
		return nil
	}
	c := &tonightPlan{choice: Choice{Kind: MowFloor, Label: "mow the cover short", Open: true, StartAt: k.in.Now}}
	table := k.tabulate(nil, func(s *method.Site) { s.Mow(mownM) }, len(k.nights))
	c.plan.table = table
	c.choice.ForNight = cold[0]
	c.choice.Gain = k.extraGain(table, cold[0])
	c.choice.Cost = hoursMowPerHa * k.def.AreaHa * k.in.Farm.LabourPerHour
	c.choice.Conditions = []string{"done by daylight, days ahead, and what is cut let go or shredded fine; cover grows back by up to " + k.in.Units.Length(0.03) + " a day"}
	c.choice.Cautions = []string{"Keep off soft ground; people clear of the mower and its stones."}
	return c
}

// starts works out when wetting must begin for each cold night ahead.
func (k *block) starts() []StartCurve {
	if !k.surfaceSystem() {
		return nil
	}
	var out []StartCurve
	for _, n := range k.coldNights(startNights) {
		out = append(out, k.startCurve(n))
	}
	return out
}

type candidate struct {
	at    time.Time
	label string
}

// candidates lists the starts to compare for night n: now, then each dusk and
// each morning, off at dusk of that night; and the evening itself, running through
// the night.
func (k *block) candidates(n int) []candidate {
	zone := k.in.Zone
	list := []candidate{{k.in.Now, "now"}}
	evening := k.nights[n].Sunset.Add(2 * time.Hour)
	for i := 0; i <= n; i++ {
		dusk := k.nights[i].Sunset
		morning := k.nights[i].End
		day := func(t time.Time) string { return t.In(zone).Format("Mon") }
		if dusk.After(k.in.Now.Add(2*time.Hour)) && i < n {
			list = append(list, candidate{dusk, day(dusk) + " dusk"})
		}
		if i < n {
			list = append(list, candidate{morning, day(morning) + " morning"})
		}
	}
	if evening.After(k.in.Now.Add(2 * time.Hour)) {
		list = append(list, candidate{k.nights[n].Sunset, "that evening, all night"})
	}
	if len(list) > 10 { // every second one between the ends
		thin := list[:1:1]
		for i := 1; i < len(list)-1; i += 2 {
			thin = append(thin, list[i])
		}
		list = append(thin, list[len(list)-1])
	}
	return list
}

// startCurve works out night n. Each start is one run of the columns through
// the scenarios' mean weather; its gain is against the floor left as it is.
func (k *block) startCurve(n int) StartCurve {
	c := StartCurve{Night: n, Label: k.nights[n].Label, SpreadK: k.ans.Nights[n].SpreadK}
	end := k.st.lastStep(n + 1)
	f := &k.st.central
	base := k.oneRun(nil, n, end)
	minAt := k.ans.Nights[n].MinAt
	for _, s := range k.candidates(n) {
		w := k.oneRun([]method.Run{k.refillRun(s.at, n)}, n, end)
		given := k.scratch.Given
		p := StartPoint{StartAt: s.at, Label: s.label, StartH: minAt.Sub(s.at).Hours(), WaterMM: given.WaterMM, WetShare: k.scratch.WetShare()}
		p.FinishAt = s.at
		p.AllNight = !s.at.Before(k.nights[n].Sunset)
		if given.LastStep >= 0 {
			p.FinishAt = f.path.At(given.LastStep)
		}
		p.LeadH = minAt.Sub(p.FinishAt).Hours()
		p.Gain = k.startWorth(w.gainK-base.gainK, p.WetShare, p.FinishAt.Sub(s.at).Hours())
		c.Points = append(c.Points, p)
	}
	best := 0
	for i := range c.Points {
		if c.Points[i].Gain.CentralK > c.Points[best].Gain.CentralK+0.005 {
			best = i
		}
	}
	if len(c.Points) > 0 {
		c.Points[best].Best = true
	}
	c.Text = k.startText(&c, best)
	return c
}

// startWorth gives a gain its range: the prior on floor gains, and downwards
// also the smaller wetted share of the second model.
func (k *block) startWorth(gain, share, hours float64) Worth {
	low := gain * (1 - 1.28*gainSpread)
	if second, ok := k.site.SecondOpinion(hours); ok && share > 0 && second < share {
		low *= second / share
	}
	high := gain * (1 + 1.28*gainSpread)
	if gain < 0 {
		low, high = high, low
	}
	return Worth{quantity.Kelvin(math.Min(low, high)), quantity.Kelvin(gain), quantity.Kelvin(math.Max(low, high))}
}

// oneRun drives a copy of the block through the scenarios' mean weather with
// the runs given, to the end of night n, and reads that night.
func (k *block) oneRun(runs []method.Run, n, end int) worth {
	k.scratch.CopyFrom(k.site)
	k.scratch.Plan(runs)
	f := &k.st.central
	k.scratch.Drive(f.path.Steps[:end], f.ref[k.site.Height][:end], &k.trace)
	a, b, _ := k.st.steps(n)
	return read(&k.trace, f.path.Steps, a, b)
}

func (k *block) startText(c *StartCurve, best int) string {
	if len(c.Points) == 0 {
		return "No start left before this night."
	}
	u := k.in.Units
	b := &c.Points[best]
	spread := u.Difference(c.SpreadK)
	if b.WaterMM == 0 || b.Gain.CentralK < 0.03 {
		return fmt.Sprintf("Wetting is worth nothing to speak of for %s; the forecast's own error is %s.", c.Label, spread)
	}
	text := fmt.Sprintf("For %s the best start is %s, worth %s", c.Label, b.Label, u.SignedDifference(b.Gain.CentralK))
	var late, night *StartPoint
	for i := range c.Points {
		if p := &c.Points[i]; p.AllNight {
			night = p
		} else {
			late = p
		}
	}
	if late != nil && late != b {
		text += fmt.Sprintf("; begun %s and off at dusk it is %s", late.Label, u.SignedDifference(late.Gain.CentralK))
	}
	if night != nil && night != b {
		text += fmt.Sprintf("; left to the evening and run all night it is %s", u.SignedDifference(night.Gain.CentralK))
	}
	return text + fmt.Sprintf(". The forecast's own error is %s.", spread)
}

// floorWork answers: may I disk, mow, drive on it this week?
func (k *block) floorWork() []Verdict {
	cold := k.coldNights(1)
	if len(cold) == 0 {
		return nil
	}
	n := cold[0]
	worst, all := 0.0, true
	for i := range k.ans.Nights {
		x := &k.ans.Nights[i]
		all = all && x.Covered
		if x.Risk != nil {
			worst = math.Max(worst, x.Risk.Probability)
		}
	}
	end := k.st.lastStep(n + 1)
	base := k.oneRun(nil, n, end)
	return []Verdict{k.mayDisk(n, end, base, worst, all), k.mayMow(n, end, base), k.mayDrive()}
}

func (k *block) mayDisk(n, end int, base worth, worst float64, all bool) Verdict {
	v := Verdict{Work: "disk"}
	u := k.in.Units
	disked := k.def
	disked.Strips = append([]farm.Strip(nil), k.def.Strips...)
	for i := range disked.Strips {
		disked.Strips[i].Surface, disked.Strips[i].DepthM = farm.Disked, 0.10
		disked.Strips[i].Moisture.Value = k.site.Moisture(i)
	}
	v.WorthK = k.surfaceWorth(disked, n, end, base)
	label := k.ans.Nights[n].Label
	switch {
	case k.expose == nil:
		v.Text = fmt.Sprintf("No: what the buds can stand is unknown, and disking would change %s by %s.", label, u.SignedDifference(v.WorthK))
	case worst >= coldNightShare:
		v.Until = k.nights[len(k.nights)-1].End
		v.Text = fmt.Sprintf("No: damage is possible this week (up to %.0f %% on one night) and disking now would change %s by %s; loosened ground takes weeks of rain or rolling to settle.", 100*worst, label, u.SignedDifference(v.WorthK))
	case !all:
		v.Text = fmt.Sprintf("Not yet: the forecast does not reach the end of the week, and disking would change %s by %s for weeks.", label, u.SignedDifference(v.WorthK))
	default:
		v.OK = true
		v.Text = fmt.Sprintf("Yes as far as these nights go: no damage in sight. But it would change the coldest by %s and the ground stays loose for weeks, so not if more frost can come this season.", u.SignedDifference(v.WorthK))
	}
	return v
}

// surfaceWorth returns what another surface on the block's present soil would
// change on night n.
func (k *block) surfaceWorth(b farm.Block, n, end int, base worth) quantity.Kelvin {
	site := k.site.Clone()
	if err := site.Lay(b.Strips); err != nil {
		panic("nights: " + err.Error()) // strips made here are valid
	}
	var t method.Trace
	f := &k.st.central
	site.Plan(nil)
	site.Drive(f.path.Steps[:end], f.ref[site.Height][:end], &t)
	from, to, _ := k.st.steps(n)
	return quantity.Kelvin(read(&t, f.path.Steps, from, to).gainK - base.gainK)
}

func (k *block) mayMow(n, end int, base worth) Verdict {
	v := Verdict{Work: "mow"}
	u := k.in.Units
	tallest := 0.0
	short := append([]farm.Strip(nil), k.def.Strips...)
	for i, s := range short {
		if s.Surface == farm.Cover && s.HeightM > mownM {
			tallest = math.Max(tallest, s.HeightM)
			short[i].HeightM = mownM
		}
	}
	if tallest == 0 {
		v.OK = true
		v.Text = "Nothing to mow."
		return v
	}
	b := k.def
	b.Strips = short
	v.WorthK = k.surfaceWorth(b, n, end, base)
	days := k.nights[n].Sunset.Sub(k.in.Now).Hours() / 24
	switch {
	case k.wetTop() && days < 2:
		v.Text = fmt.Sprintf("Not now: the ground is too wet to drive on before %s; mown it would be worth %s.", k.ans.Nights[n].Label, u.SignedDifference(v.WorthK))
	default:
		v.OK = true
		v.Text = fmt.Sprintf("Yes, early: cut to %s it is worth %s on %s, and more once what is cut has rotted.", u.Length(mownM), u.SignedDifference(v.WorthK), k.ans.Nights[n].Label)
	}
	return v
}

const (
	firmShare    = 0.9 // of field capacity: ground drier than this carries a tractor (common practice)
	rainSpoilsMM = 5.0 // rain ahead that makes it soft again (common practice)
	rainAheadH   = 72
)

// wetTop says whether some strip is wetter than ground should be driven on.
func (k *block) wetTop() bool {
	for i := range k.def.Strips {
		if k.site.Moisture(i) > firmShare*k.site.Soil.FieldCapacity {
			return true
		}
	}
	return false
}

// rainAhead returns the rain expected in the next hours, and when the first
// millimetre of it has fallen.
func (s *station) rainAhead(hours int) (mm float64, from time.Time) {
	steps := s.central.path.Steps
	for i := range min(len(steps), hours*3600/method.StepS) {
		mm += steps[i].RainMmH * method.StepS / 3600
		if from.IsZero() && mm >= 1 {
			from = s.central.path.At(i)
		}
	}
	return mm, from
}

func (k *block) mayDrive() Verdict {
	v := Verdict{Work: "drive", OK: true, Text: "Dry enough to carry a tractor; keep off ground wetted for a cold night, packing wet soil or breaking a firm surface loses its warmth."}
	u := k.in.Units
	if k.wetTop() {
		v.OK = false
		v.Until = k.in.Now.Add(time.Duration(k.site.Soil.DrainH * float64(time.Hour)))
		v.Text = fmt.Sprintf("No: near or above field capacity; let it drain and dry until about %s, and look before you do.", v.Until.In(k.in.Zone).Format("Mon 2 Jan 15:04"))
		return v
	}
	if mm, from := k.st.rainAhead(rainAheadH); mm >= rainSpoilsMM {
		v.Text = fmt.Sprintf("Dry enough until the rain: %s is expected within three days, from about %s.", u.Depth(quantity.Millimetre(mm)), from.In(k.in.Zone).Format("Mon 15:04"))
	}
	return v
}

// inversionAt returns the modelled inversion between 10 m and height cordonM on
// a night of given wind and cloud: tonight's reference floor in the nearest
// variants, at the minimum.
func (s *station) inversionAt(wind, cloud float64, site *method.Site) float64 {
	iu, fu := position(tableWinds[:], wind, math.Log)
	ic, fc := position(tableClouds[:], cloud, func(x float64) float64 { return x })
	nc := len(tableClouds)
	at := func(v int) float64 { return s.inversion(v, site) }
	lo := at(iu*nc+ic)*(1-fc) + at(iu*nc+ic+1)*fc
	hi := at((iu+1)*nc+ic)*(1-fc) + at((iu+1)*nc+ic+1)*fc
	return lo*(1-fu) + hi*fu
}

func (s *station) inversion(v int, site *method.Site) float64 {
	if _, _, ok := s.steps(0); !ok {
		return 0
	}
	f := &s.variants[0][v]
	at := 0
	for i := range f.path.Steps {
		if f.path.Steps[i].AirC < f.path.Steps[at].AirC {
			at = i
		}
	}
	return method.Inversion(f.ref[site.Height][at], &f.path.Steps[at], site.CordonM, s.ref.Strip.Surface.RoughnessM)
}
