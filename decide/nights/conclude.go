package nights

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"

	"budward/decide/method"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// When to worry. Stated choices: one in twenty is where a grower stays up, and
// saving less than a hundredth of the crop's value is not worth getting up for.
const (
	watchShare = 0.05
	lossTiny   = 0.01
)

// alternativeRuns turns an alternative's water into runs; nil without any.
func (k *block) alternativeRuns(a Alternative, night int) []method.Run {
	p := &k.st.central.path
	var runs []method.Run
	if a.RefillMM > 0 {
		at := a.RefillStart
		if at.IsZero() {
			at = k.in.Now
		}
		from := max(0, p.Index(at)+1)
		runs = append(runs, method.Run{From: from, To: from + 1, RateMmH: a.RefillMM, AtOnce: true, WaterC: k.waterC()})
	} else if !a.RefillStart.IsZero() {
		r := k.refillRun(a.RefillStart, night)
		if !a.RefillStop.IsZero() {
			r.To, r.UntilRefill = p.Index(a.RefillStop)+1, false
		}
		runs = append(runs, r)
	}
	if a.Run == RunWater {
		start := later(k.nights[night].Sunset, k.in.Now)
		runs = append(runs, method.Run{From: max(0, p.Index(start)+1), To: p.Index(k.nights[night].End) + 1, WaterC: k.waterC()})
	}
	return runs
}

// share hands out what is short tonight and ahead: each source's flow, and the
// hands that can work through the night, to the choices worth most per litre a
// second or per person. Choices that get none are closed, with the reason.
func (e *engine) share(blocks []BlockAnswer) []Shared {
	byID := map[string]*farm.Block{}
	for i := range e.in.Farm.Blocks {
		byID[e.in.Farm.Blocks[i].ID] = &e.in.Farm.Blocks[i]
	}
	for i := range blocks {
		choose(&blocks[i], e.in.Farm.WorstLossShare, byID[blocks[i].BlockID])
	}
	var out []Shared
	for _, s := range e.in.Farm.Sources {
		for _, ahead := range []bool{false, true} {
			if r, ok := e.shareSource(s, blocks, byID, ahead); ok {
				out = append(out, r)
			}
		}
	}
	if r, ok := e.shareHands(blocks, byID); ok {
		out = append(out, r)
	}
	return out
}

type claim struct {
	block  *BlockAnswer
	choice int
	def    *farm.Block
	use    float64
}

// worthPer orders claims by net worth per unit used, then by block.
func worthPer(c []claim) {
	sort.SliceStable(c, func(i, j int) bool {
		a := c[i].block.Choices[c[i].choice].Net / math.Max(c[i].use, 1e-9)
		b := c[j].block.Choices[c[j].choice].Net / math.Max(c[j].use, 1e-9)
		return a > b
	})
}

func usesWater(k ChoiceKind) bool { return k == RunWater || k == OverVine || k == WetFloor }

func (e *engine) shareSource(s farm.Source, blocks []BlockAnswer, byID map[string]*farm.Block, ahead bool) (Shared, bool) {
	var claims []claim
	need := 0.0
	for i := range blocks {
		def := byID[blocks[i].BlockID]
		for c := range blocks[i].Choices {
			x := &blocks[i].Choices[c]
			if !x.Chosen || x.Ahead != ahead || !usesWater(x.Kind) || def.System.SourceID != s.ID {
				continue
			}
			lps := def.System.RateMmH * def.AreaHa * 1e4 / 3600
			claims = append(claims, claim{&blocks[i], c, def, lps})
			need += lps
		}
	}
	if need <= s.FlowLPS*1.001 || s.FlowLPS <= 0 {
		return Shared{}, false
	}
	u := e.in.Units
	when := "tonight"
	if ahead {
		when = "now, for the nights ahead"
	}
	why := fmt.Sprintf("source %s gives %s; the blocks worth most per litre come first", s.Name, u.Flow(quantity.LitrePerSecond(s.FlowLPS)))
	left := e.ration(claims, s.FlowLPS, why)
	return Shared{
		What: s.Name, Need: u.Flow(quantity.LitrePerSecond(need)), Have: u.Flow(quantity.LitrePerSecond(s.FlowLPS)), Left: left,
		Text: fmt.Sprintf("%s is asked for %s %s and gives %s: %s go without at first.", s.Name, u.Flow(quantity.LitrePerSecond(need)), when, u.Flow(quantity.LitrePerSecond(s.FlowLPS)), strings.Join(left, ", ")),
	}, true
}

func (e *engine) shareHands(blocks []BlockAnswer, byID map[string]*farm.Block) (Shared, bool) {
	if e.in.Farm.HandsTonight <= 0 {
		return Shared{}, false
	}
	var claims []claim
	for i := range blocks {
		for c := range blocks[i].Choices {
			x := &blocks[i].Choices[c]
			if x.Chosen && !x.Ahead && (x.Kind == OverVine || x.Kind == RunHeater || x.Kind == RunFan) {
				claims = append(claims, claim{&blocks[i], c, byID[blocks[i].BlockID], 1})
			}
		}
	}
	// One pair looks after up to three systems; no one works alone.
	have := float64(e.in.Farm.HandsTonight / 2 * systemsPerPair)
	if float64(len(claims)) <= have {
		return Shared{}, false
	}
	why := fmt.Sprintf("%d people can look after %.0f systems tonight (pairs, %d each): the blocks worth most come first", e.in.Farm.HandsTonight, have, systemsPerPair)
	left := e.ration(claims, have, why)
	return Shared{
		What: "hands", Need: fmt.Sprintf("%d systems", len(claims)), Have: fmt.Sprintf("%.0f systems", have), Left: left,
		Text: fmt.Sprintf("%d systems want starting tonight and %d people can look after %.0f: %s go without.", len(claims), e.in.Farm.HandsTonight, have, strings.Join(left, ", ")),
	}, true
}

const systemsPerPair = 3 // systems that two people can start and watch (a guess)

// ration serves claims in order of worth while there is enough, and closes the
// rest; it returns the IDs left out, least worth first.
func (e *engine) ration(claims []claim, have float64, why string) []string {
	worthPer(claims)
	var left []string
	for _, c := range claims {
		if c.use <= have*1.0001 {
			have -= c.use
			continue
		}
		x := &c.block.Choices[c.choice]
		x.Chosen, x.Open, x.WhyNot = false, false, why
		left = append([]string{c.block.BlockID}, left...)
		choose(c.block, e.in.Farm.WorstLossShare, c.def)
	}
	return left
}

// choose marks the best open choice for tonight and the best one ahead: the
// most worth after its cost, or, where the owner has set a worst acceptable
// loss, the cheapest that keeps nine nights in ten within it.
func choose(b *BlockAnswer, worst float64, def *farm.Block) {
	for i := range b.Choices {
		b.Choices[i].Chosen = false
	}
	if len(b.Choices) == 0 {
		return
	}
	for _, ahead := range []bool{false, true} {
		best := -1
		for i := range b.Choices {
			c := &b.Choices[i]
			if !c.Open || c.Kind == Nothing || c.Ahead != ahead || c.Gain.CentralK < 0.05 && c.Kind != OverVine {
				continue
			}
			if best < 0 || better(c, &b.Choices[best], worst) {
				best = i
			}
		}
		if best < 0 {
			continue
		}
		c := &b.Choices[best]
		tooMuch := worst > 0 && b.Choices[0].Risk.LossHigh > worst && c.Risk.LossHigh < b.Choices[0].Risk.LossHigh && !ahead
		if _, p := worstNight(b); ahead && p < watchShare {
			continue
		}
		c.Chosen = c.Net > 0 && c.Avoided > lossTiny*def.CropTHa*def.AreaHa*def.PricePerT || tooMuch
	}
}

func better(a, b *Choice, worst float64) bool {
	if worst > 0 && !a.Ahead {
		ok, okB := a.Risk.LossHigh <= worst, b.Risk.LossHigh <= worst
		if ok != okB {
			return ok
		}
		if !ok {
			return a.Risk.LossHigh < b.Risk.LossHigh
		}
	}
	return a.Net > b.Net
}

// conclude sets a block's urgency, its sentence and what would settle doubt.
func (e *engine) conclude(b *BlockAnswer) {
	if b.Unknown != "" {
		b.Urgency = Unknown
		b.Reason = "Unknown: " + b.Unknown
		if b.Settle == "" {
			b.Settle = "Walk the block and record the stage of its shoots."
		}
		return
	}
	n := &b.Nights[0]
	if !n.Covered || n.Risk == nil {
		b.Urgency = Unknown
		b.Reason = "Unknown for tonight: " + n.Why
		b.Settle = "Feed a newer forecast."
		return
	}
	tonight, ahead := chosen(b, false), chosen(b, true)
	weekAt, week := worstNight(b)
	switch {
	case tonight != nil:
		b.Urgency = Act
	case n.Risk.Probability >= watchShare:
		b.Urgency = Watch
	case ahead != nil:
		b.Urgency = Prepare
	case week >= watchShare:
		b.Urgency = Watch
	default:
		b.Urgency = Quiet
	}
	b.Reason = e.sentence(b, tonight, ahead, weekAt, week)
	b.Settle = e.settle(b)
}

func chosen(b *BlockAnswer, ahead bool) *Choice {
	for i := range b.Choices {
		if b.Choices[i].Chosen && b.Choices[i].Ahead == ahead {
			return &b.Choices[i]
		}
	}
	return nil
}

func worstNight(b *BlockAnswer) (at int, p float64) {
	for i := range b.Nights {
		if r := b.Nights[i].Risk; r != nil && r.Probability > p {
			at, p = i, r.Probability
		}
	}
	return at, p
}

func (e *engine) clock(t time.Time) string { return t.In(e.in.Zone).Format("15:04") }

// sentence says what to do and why, in one breath.
func (e *engine) sentence(b *BlockAnswer, tonight, ahead *Choice, weekAt int, week float64) string {
	u, n := e.in.Units, &b.Nights[0]
	why := fmt.Sprintf("%s likely (%s to %s), 10 %% die at %s", u.Temperature(n.Min.P50C), u.Temperature(n.Min.P10C), u.Temperature(n.Min.P90C), u.Temperature(*n.CriticalC))
	var parts []string
	if tonight != nil {
		gain := fmt.Sprintf("for %s", u.SignedDifference(tonight.Gain.CentralK))
		if tonight.Kind == OverVine {
			gain = "to hold the vines at freezing"
		}
		parts = append(parts, fmt.Sprintf("%s from %s %s", tonight.Label, e.clock(tonight.StartAt), gain))
	}
	if ahead != nil {
		parts = append(parts, fmt.Sprintf("%s, worth %s on %s", ahead.Label, u.SignedDifference(ahead.Gain.CentralK), b.Nights[ahead.ForNight].Label))
	}
	if len(parts) > 0 {
		return capital(strings.Join(parts, ", and ")) + ". " + capital(why) + fmt.Sprintf("; %.0f %% chance of damage tonight, %.0f %% of crop at stake.", 100*n.Risk.Probability, 100*n.Risk.LossShare)
	}
	if n.Risk.Probability >= watchShare {
		return fmt.Sprintf("Watch: %s; %.0f %% chance of damage, and %s.", why, 100*n.Risk.Probability, e.whyNothing(b))
	}
	if week >= watchShare && weekAt > 0 {
		return fmt.Sprintf("Quiet tonight (%s); watch %s, %.0f %% chance of damage.", why, b.Nights[weekAt].Label, 100*week)
	}
	return fmt.Sprintf("Nothing to do: %s.", why)
}

// whyNothing says why no choice was taken.
func (e *engine) whyNothing(b *BlockAnswer) string {
	open := 0
	for i := range b.Choices {
		c := &b.Choices[i]
		if c.Kind == Nothing {
			continue
		}
		if !c.Open && c.WhyNot != "" && c.Kind == OverVine {
			return c.WhyNot
		}
		if c.Open {
			open++
		}
	}
	if open == 0 {
		return "nothing is open to this block"
	}
	return "nothing open to it is worth its cost"
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// settle names the reading or look that would narrow an answer too wide to
// decide on.
func (e *engine) settle(b *BlockAnswer) string {
	n := &b.Nights[0]
	if n.Risk.Probability < 0.1 || n.Risk.Probability > 0.9 {
		return ""
	}
	for _, note := range b.Notes {
		switch note.Code {
		case "offset-unknown":
			return "A thermometer at cordon height in this block tonight would settle it."
		case "advanced", "old-observation":
			return "A walk to count shoots by stage would settle how much it can stand."
		}
	}
	for _, s := range b.Floor {
		if s.Source != string(farm.MoistureReading) {
			return "A moisture reading (or an auger) in the top 30 cm would settle what the floor is worth."
		}
	}
	return "The next forecast, and a reading two hours after sunset, will narrow it."
}
