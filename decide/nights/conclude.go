package nights

import (
	"fmt"
	"math"
	"slices"
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

// possible says whether an alternative's water can be given at all.
func (k *block) possible(a Alternative, night int) error {
	water := a.Run == RunWater || !a.RefillStart.IsZero() && a.RefillMM == 0
	if water && !k.surfaceSystem() {
		return &InputError{"run", "water", "a block with drip, micro-sprinklers, furrows or flood (an amount, such as 1in, may be laid down anywhere)"}
	}
	if a.RefillStart.IsZero() {
		return nil
	}
	if a.RefillStart.Before(k.st.ens.Start) || a.RefillStart.After(k.nights[night].Sunrise) {
		return &InputError{"refill", a.RefillStart.In(k.in.Zone).Format("Mon 2 Jan 15:04"), "a start between now and the sunrise of the night asked about"}
	}
	return nil
}

// share hands out what is short tonight and ahead: each source's flow, and the
// hands that can work through the night, to the choices worth most per litre a
// second or per system. Choices that get none are closed, with the reason.
func (e *engine) share(blocks []BlockAnswer) []Shared {
	byID := map[string]*farm.Block{}
	for i := range e.in.Farm.Blocks {
		byID[e.in.Farm.Blocks[i].ID] = &e.in.Farm.Blocks[i]
	}
	for i := range blocks {
		e.choose(&blocks[i], byID[blocks[i].BlockID])
	}
	var out []Shared
	for _, s := range e.in.Farm.Sources {
		if r, ok := e.shareSource(s, blocks, byID); ok {
			out = append(out, r)
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

func (c claim) of() *Choice { return &c.block.Choices[c.choice] }

// worthPer orders claims by net worth per unit used, then by block.
func worthPer(c []claim) {
	sort.SliceStable(c, func(i, j int) bool {
		return c[i].of().Net/math.Max(c[i].use, 1e-9) > c[j].of().Net/math.Max(c[j].use, 1e-9)
	})
}

func usesWater(k ChoiceKind) bool { return k == RunWater || k == OverVine || k == WetFloor }

// peak returns the largest use at any one time while c runs, c and those
// already served together.
func peak(c claim, served []claim) float64 {
	most := 0.0
	x := c.of()
	for _, at := range append([]claim{c}, served...) {
		t := at.of().StartAt
		if t.Before(x.StartAt) {
			t = x.StartAt
		}
		if !t.Before(x.StopAt) {
			continue
		}
		sum := c.use
		for _, s := range served {
			if y := s.of(); !t.Before(y.StartAt) && t.Before(y.StopAt) {
				sum += s.use
			}
		}
		most = math.Max(most, sum)
	}
	return most
}

// ration serves claims in order of worth as long as, at every moment, there is
// enough; it closes the rest and returns their IDs, least worth first. A block
// whose choice is closed may take up its next best one; those are served too.
func (e *engine) ration(claims []claim, have float64, why string) []string {
	worthPer(claims)
	var served []claim
	var left []string
	for _, c := range claims {
		if peak(c, served) <= have*1.0001 {
			served = append(served, c)
			continue
		}
		x := c.of()
		x.Chosen, x.Open, x.WhyNot = false, false, why
		left = append([]string{c.block.BlockID}, left...)
		e.choose(c.block, c.def)
	}
	return left
}

// shareSource hands out one source. Closing a choice can bring up another that
// wants the same water, so it goes on until all that is chosen fits.
func (e *engine) shareSource(s farm.Source, blocks []BlockAnswer, byID map[string]*farm.Block) (Shared, bool) {
	if s.FlowLPS <= 0 {
		return Shared{}, false
	}
	u := e.in.Units
	why := fmt.Sprintf("source %s gives %s; the blocks worth most per litre come first", s.Name, u.Flow(quantity.LitrePerSecond(s.FlowLPS)))
	most := 0.0
	var left []string
	for range 2 * len(blocks) {
		claims := waterClaims(s.ID, blocks, byID)
		need := 0.0
		for i, c := range claims {
			need = math.Max(need, peak(c, append(append([]claim(nil), claims[:i]...), claims[i+1:]...)))
		}
		most = math.Max(most, need)
		if need <= s.FlowLPS*1.001 {
			break
		}
		for _, id := range e.ration(claims, s.FlowLPS, why) {
			if !slices.Contains(left, id) {
				left = append(left, id)
			}
		}
	}
	if len(left) == 0 {
		return Shared{}, false
	}
	need, have := u.Flow(quantity.LitrePerSecond(most)), u.Flow(quantity.LitrePerSecond(s.FlowLPS))
	return Shared{What: s.Name, Need: need, Have: have, Left: left,
		Text: fmt.Sprintf("%s is asked for %s at once and gives %s: %s go without at first.", s.Name, need, have, strings.Join(left, ", "))}, true
}

func waterClaims(source string, blocks []BlockAnswer, byID map[string]*farm.Block) []claim {
	var claims []claim
	for i := range blocks {
		def := byID[blocks[i].BlockID]
		for c := range blocks[i].Choices {
			x := &blocks[i].Choices[c]
			if x.Chosen && usesWater(x.Kind) && def.System.SourceID == source {
				claims = append(claims, claim{&blocks[i], c, def, def.System.RateMmH * def.AreaHa * 1e4 / 3600})
			}
		}
	}
	return claims
}

// Systems that people can start and watch through a night (guesses): three to a
// pair, one to a person alone, who is told not to be.
func systemsFor(hands int) int { return hands/2*3 + hands%2 }

const aloneCaution = "One pair of hands only: find a second person before the night. No one works alone with water, engines or fuel in the dark."

func (e *engine) shareHands(blocks []BlockAnswer, byID map[string]*farm.Block) (Shared, bool) {
	hands := e.in.Farm.HandsTonight
	if hands <= 0 {
		return Shared{}, false
	}
	have := systemsFor(hands)
	people := fmt.Sprintf("%d people", hands)
	if hands == 1 {
		people = "one person"
	}
	why := fmt.Sprintf("%s can look after %d running systems tonight (a guess): the blocks worth most come first", people, have)
	most := 0
	var left []string
	for range 2 * len(blocks) {
		claims := handClaims(blocks, byID)
		most = max(most, len(claims))
		if hands == 1 {
			for _, c := range claims {
				if x := c.of(); !slices.Contains(x.Cautions, aloneCaution) {
					x.Cautions = append([]string{aloneCaution}, x.Cautions...)
				}
			}
		}
		if len(claims) <= have {
			break
		}
		worthPer(claims)
		for _, c := range claims[have:] {
			x := c.of()
			x.Chosen, x.Open, x.WhyNot = false, false, why
			left = append([]string{c.block.BlockID}, left...)
			e.choose(c.block, c.def)
		}
	}
	if len(left) == 0 {
		return Shared{}, false
	}
	return Shared{What: "hands", Need: fmt.Sprintf("%d systems", most), Have: fmt.Sprintf("%d systems", have), Left: left,
		Text: fmt.Sprintf("%d systems want starting tonight and %s can look after %d: %s go without.", most, people, have, strings.Join(left, ", "))}, true
}

func handClaims(blocks []BlockAnswer, byID map[string]*farm.Block) []claim {
	var claims []claim
	for i := range blocks {
		for c := range blocks[i].Choices {
			x := &blocks[i].Choices[c]
			if x.Chosen && !x.Ahead && (x.Kind == OverVine || x.Kind == RunHeater || x.Kind == RunFan) {
				claims = append(claims, claim{&blocks[i], c, byID[blocks[i].BlockID], 1})
			}
		}
	}
	return claims
}

// choose marks the best open choice for tonight and the best one ahead: the
// most worth after its cost, or, where the owner has set a worst acceptable
// loss, the cheapest that keeps nine nights in ten within it. Without a crop or
// a price nothing can be weighed in money; then the share of the crop saved
// decides. Of two that want the block's own water at the same time the one
// worth more stays.
func (e *engine) choose(b *BlockAnswer, def *farm.Block) {
	for i := range b.Choices {
		b.Choices[i].Chosen = false
	}
	if len(b.Choices) == 0 {
		return
	}
	e.chooseOne(b, def, false)
	e.chooseOne(b, def, true)
	now, ahead := chosen(b, false), chosen(b, true)
	if now != nil && ahead != nil && usesWater(now.Kind) && usesWater(ahead.Kind) && ahead.StartAt.Before(now.StopAt) && now.StartAt.Before(ahead.StopAt) {
		// A refill that runs through tonight warms tonight too: it holds all that
		// the night's own run would give and more.
		if ahead.Net >= now.Net {
			now.Chosen = false
		} else {
			ahead.Chosen = false
		}
	}
}

func (e *engine) chooseOne(b *BlockAnswer, def *farm.Block, ahead bool) {
	worst := e.in.Farm.WorstLossShare
	best := -1
	for i := range b.Choices {
		c := &b.Choices[i]
		if !c.Open || c.Kind == Nothing || c.Ahead != ahead {
			continue
		}
		if best < 0 || better(c, &b.Choices[best], worst) {
			best = i
		}
	}
	if best < 0 {
		return
	}
	if _, p := worstNight(b); ahead && p < watchShare {
		return
	}
	c := &b.Choices[best]
	value := def.CropTHa * def.AreaHa * def.PricePerT
	if value == 0 {
		c.Chosen = c.SavedShare > lossTiny
		return
	}
	tooMuch := !ahead && worst > 0 && b.Choices[0].Risk.LossHigh > worst && c.Risk.LossHigh < b.Choices[0].Risk.LossHigh
	c.Chosen = c.Net > 0 && c.Avoided > lossTiny*value || tooMuch
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
	if a.Net != b.Net {
		return a.Net > b.Net
	}
	return a.SavedShare > b.SavedShare
}

// conclude sets a block's urgency, its sentence and what would settle doubt.
func (e *engine) conclude(b *BlockAnswer) {
	if b.Unknown != "" {
		b.Urgency = Unknown
		b.Reason = "Unknown: " + b.Unknown
		if len(b.Nights) > 0 && b.Nights[0].Min != nil {
			m := b.Nights[0].Min
			b.Reason = fmt.Sprintf("%s likely (%s to %s); ", e.in.Units.Temperature(m.P50C), e.in.Units.Temperature(m.P10C), e.in.Units.Temperature(m.P90C)) + b.Unknown
		}
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
	case tonight != nil || ahead != nil && ahead.Kind == WetFloor: // its hour is now
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
	if tonight == nil && ahead != nil && n.Risk.Probability >= watchShare {
		parts = append(parts, "for tonight itself "+e.whyNothing(b))
	}
	if len(parts) > 0 {
		return capital(strings.Join(parts, ", and ")) + ". " + capital(why) + fmt.Sprintf("; %.0f %% chance of damage tonight, %.0f %% of the crop expected lost with nothing done.", 100*n.Risk.Probability, 100*n.Risk.LossShare)
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
		if c.Kind == Nothing || c.Ahead {
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
	if b.Choices[0].Risk.LossMoney == 0 && b.Choices[0].Risk.LossShare > lossTiny {
		return "nothing open to it saves a hundredth of the crop (no crop or price is given, so its cost is not weighed)"
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
