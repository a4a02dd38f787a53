package cli

import (
	"fmt"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

type whatifCmd struct {
	Block  string   `help:"Block." placeholder:"B" required:""`
	Night  int      `help:"Night, 1 = the coming one." default:"1"`
	Floor  []string `sep:"none" help:"A floor to compare; may be given again." placeholder:"FLOOR"`
	Refill []string `sep:"none" help:"Water ahead of the night; may be given again." placeholder:"REFILL"`
	RunOf  []string `name:"run" sep:"none" help:"What runs in the night; may be given again." placeholder:"RUN"`
}

// maxAlternatives bounds the combinations of one question.
const maxAlternatives = 24

// Help is shown below the usage.
func (c *whatifCmd) Help() string {
	return `Every combination of the floors, refills and runs given is compared with the
block as it is.

FLOOR   a surface: "bare firm", "disked 4in", "mown 2in", "cover 12in",
        "shredded 1in"; after a comma its moisture: "bare firm, moist",
        "cover 12in, 18%". One strip alone: "middle: mown 2in"; several:
        "middle: mown 2in; under-vine: bare firm". "as it is" keeps the floor.
REFILL  with the block's own system: "from now", "24h from now",
        "12h from 18:00", "from Tue 06:00"; an amount as if at once: "1in",
        "20mm from Tue 06:00". "none" gives none.
RUN     "none", "water", "water 40gpm/ac", "sprinklers", "fan", "heaters";
        the last three for night 1 only.

budward whatif --block B1 --floor "bare firm" --floor "cover 12in" \
    --refill none --refill "24h from now"`
}

// Run compares choices.
func (c *whatifCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	f, err := o.Farm(r.ctx)
	if err != nil {
		return err
	}
	r.useUnits(f)
	b, err := findBlock(f, c.Block)
	if err != nil {
		return err
	}
	now, zone, err := o.Moment(r.ctx)
	if err != nil {
		return err
	}
	if c.Night < 1 || c.Night > maxAhead {
		return usage("--night %d: want 1 to %d", c.Night, maxAhead)
	}
	alts, err := c.alternatives(b, now, zone)
	if err != nil {
		return err
	}
	got, err := o.Compare(r.ctx, Question{BlockID: b.ID, Night: c.Night - 1, Alts: alts, Units: r.system})
	if err != nil {
		return err
	}
	if r.g.JSON {
		return r.json("budward.whatif/1", object{{"at", got.At}, {"block_id", b.ID}, {"night", got.Night}, {"compared", got.Compared}})
	}
	return r.print(compared(r.page(), got, r.system))
}

// alternatives makes every combination of what was given, the block as it is
// first.
func (c *whatifCmd) alternatives(b farm.Block, now time.Time, zone *time.Location) ([]nights.Alternative, error) {
	or := func(list []string, none string) []string {
		if len(list) == 0 {
			return []string{none}
		}
		return list
	}
	floors, refills, runs := or(c.Floor, asItIs), or(c.Refill, none), or(c.RunOf, none)
	if n := len(floors) * len(refills) * len(runs); n > maxAlternatives {
		return nil, usage("%d combinations; want at most %d", n, maxAlternatives)
	}
	out := []nights.Alternative{{Label: asItIs, Run: nights.Nothing}}
	for _, fl := range floors {
		for _, re := range refills {
			for _, ru := range runs {
				a, err := alternative(b, fl, re, ru, now, zone)
				if err != nil {
					return nil, err
				}
				if a.Label != asItIs {
					out = append(out, a)
				}
			}
		}
	}
	if len(out) == 1 {
		return nil, usage("whatif: give at least one --floor, --refill or --run to compare")
	}
	return out, nil
}

const (
	asItIs = "as it is"
	none   = "none"
)

func alternative(b farm.Block, floor, refill, run string, now time.Time, zone *time.Location) (nights.Alternative, error) {
	a := nights.Alternative{Run: nights.Nothing}
	var label []string
	floor, refill, run = squeeze(floor), squeeze(refill), squeeze(run)
	if floor != asItIs && floor != none && floor != "" {
		if err := readFloor(&a, b, floor); err != nil {
			return a, err
		}
		label = append(label, floor)
	}
	if refill != none && refill != "" {
		if err := readRefill(&a, refill, now, zone); err != nil {
			return a, err
		}
		if b.System.Kind == farm.NoSystem && a.RefillMM == 0 {
			return a, usage("--refill %s: block %s has no water system; give an amount, such as 1in", refill, b.ID)
		}
		label = append(label, "refill "+refill)
	}
	if run != none && run != "" {
		if err := readRun(&a, run); err != nil {
			return a, err
		}
		label = append(label, "run "+run)
	}
	if a.Label = strings.Join(label, ", "); a.Label == "" {
		a.Label = asItIs
	}
	return a, nil
}

// squeeze folds spaces and capitals.
func squeeze(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }

// readFloor reads "[STRIP: ]SURFACE[, MOISTURE]", several apart by semicolons.
func readFloor(a *nights.Alternative, b farm.Block, text string) error {
	a.Floor = map[string]farm.Strip{}
	for _, part := range strings.Split(text, ";") {
		name, what, found := strings.Cut(part, ":")
		if !found {
			name, what = "", part
		}
		name = strings.TrimSpace(name)
		if err := hasStrip(b, name, text); err != nil {
			return err
		}
		state, moist, wet := strings.Cut(what, ",")
		st, err := farm.ParseSurface(strings.TrimSpace(state))
		if err != nil {
			return usage("--floor %s: %v", text, err)
		}
		strip := farm.Strip{Name: name}.WithState(st)
		if wet {
			if strip.Moisture, err = farm.ParseMoisture(strings.TrimSpace(moist), b.Soil); err != nil {
				return usage("--floor %s: %v", text, err)
			}
		}
		if _, twice := a.Floor[name]; twice {
			return usage("--floor %s: a strip is named twice", text)
		}
		a.Floor[name] = strip
	}
	return nil
}

func hasStrip(b farm.Block, name, text string) error {
	var names []string
	for _, s := range b.Strips {
		if s.Name == name || name == "" {
			return nil
		}
		names = append(names, s.Name)
	}
	return usage("--floor %s: block %s has no strip %q; it has %s", text, b.ID, name, and(names))
}

// readRefill reads "[HOURS] [from MOMENT]" or "DEPTH [from MOMENT]".
func readRefill(a *nights.Alternative, text string, now time.Time, zone *time.Location) error {
	what, from, found := strings.Cut(" "+text, " from ")
	what = strings.TrimSpace(what)
	at := now
	if found {
		var err error
		if at, err = nextMoment(from, now, zone); err != nil {
			return usage("--refill %s: %v", text, err)
		}
	} else if what == "" {
		return usage(`--refill is empty; want "24h from now", "from 18:00", "1in" or none`)
	}
	a.RefillStart = at
	if what == "" {
		return nil
	}
	if d, err := quantity.ParseDuration(what); err == nil {
		if d <= 0 {
			return usage("--refill %s: want a time above zero", text)
		}
		a.RefillStop = at.Add(d)
		return nil
	}
	mm, err := quantity.ParseDepth(what)
	if err != nil || mm <= 0 {
		return usage(`--refill %s: want hours ("24h from now"), an amount ("1in"), "from 18:00" or none`, text)
	}
	a.RefillMM = float64(mm)
	return nil
}

// nextMoment reads "now", a clock time, a weekday with a clock time (the next
// such), or a full moment.
func nextMoment(text string, now time.Time, zone *time.Location) (time.Time, error) {
	text = strings.TrimSpace(text)
	if text == "now" {
		return now, nil
	}
	if t, err := ParseMoment(strings.ToUpper(text), zone); err == nil {
		if t.Before(now) {
			return t, fmt.Errorf("%s is past", text)
		}
		return t, nil
	}
	day, clock, found := strings.Cut(text, " ")
	if !found {
		day, clock = "", text
	}
	c, err := time.Parse("15:04", clock)
	if err != nil {
		return time.Time{}, fmt.Errorf(`want "now", "18:00", "Tue 06:00" or a date and time, not %q`, text)
	}
	local := now.In(zone)
	for i := range 8 {
		d := local.AddDate(0, 0, i)
		t, err := localMoment(text, time.Date(d.Year(), d.Month(), d.Day(), c.Hour(), c.Minute(), 0, 0, time.UTC), zone)
		if err != nil {
			return t, err
		}
		name := strings.ToLower(t.Weekday().String())
		if !t.Before(now) && (day == "" || len(day) >= 3 && strings.HasPrefix(name, day)) {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf(`%q is not a day of the week`, day)
}

func readRun(a *nights.Alternative, text string) error {
	word, rate, _ := strings.Cut(text, " ")
	kinds := map[string]nights.ChoiceKind{"water": nights.RunWater, "sprinklers": nights.OverVine, "fan": nights.RunFan, "heaters": nights.RunHeater}
	kind, ok := kinds[word]
	switch {
	case !ok:
		return usage("--run %s: want none, water, sprinklers, fan or heaters", text)
	case rate != "" && kind != nights.RunWater && kind != nights.OverVine:
		return usage("--run %s: only water and sprinklers take a rate", text)
	case rate != "":
		r, err := quantity.ParseRate(rate)
		if err != nil || r <= 0 {
			return usage("--run %s: want a rate such as 40gpm/ac or 2.2mm/h", text)
		}
		a.RunMmH = float64(r)
	}
	a.Run = kind
	return nil
}

// labelWide is the width of an alternative's name in the table.
const labelWide = 24

// compared writes what each choice makes of the night.
func compared(p *page, c Comparison, s quantity.System) *page {
	p.para("", "", fmt.Sprintf("%s %s, %s", c.Block.ID, c.Block.Name, c.Night.Label))
	stands := "what it stands is not known"
	if len(c.Compared) > 0 && c.Compared[0].Night.CriticalC != nil {
		stands = fmt.Sprintf("10 %% die at %s", bare(s.Temperature(*c.Compared[0].Night.CriticalC)))
	}
	p.line("As of %s; all in %s, at cordon height; %s.", dayClock(c.At, c.Zone), degrees(s), stands)
	p.blank()
	g := &grid{right: []bool{false, true, false, true, false}, max: []int{labelWide, 7, 14, 7, 20}}
	g.row("", "likely", "8 in 10", "damage", "worth")
	for i, x := range c.Compared {
		likely, span, chance, gain := "-", "", "", ""
		if n := &x.Night; n.Min != nil {
			likely, span = bare(s.Temperature(n.Min.P50C)), between(s.Temperature(n.Min.P10C), s.Temperature(n.Min.P90C))
			if x.Choice.Open && n.Risk != nil {
				chance = percent(x.Choice.Risk.Probability)
			}
		}
		if i > 0 && x.Choice.Open {
			gain = strings.Replace(worth(x.Choice.Gain, s), " "+unitOf(s.Difference(0)), "", 1)
		}
		g.row(fmt.Sprintf("%d %s", i, x.Label), likely, span, chance, gain)
	}
	p.grid(g, "")
	p.blank()
	for i, x := range c.Compared {
		comparedNotes(p, i, &x, s)
	}
	p.blank()
	p.para("", "", "Floors are compared as if they had been so through the days past. Worth: against the block as it is; the range is what is not known about it. "+handbooksOnly+" `budward trial plan` says how to measure your own.")
	return p
}

func comparedNotes(p *page, i int, x *nights.Compared, s quantity.System) {
	lead := fmt.Sprintf("%d: ", i)
	if runes(lead+x.Label) > labelWide {
		p.para(lead, "   ", x.Label)
	}
	if !x.Choice.Open {
		p.para(lead, "   ", sentence("not open: "+x.Choice.WhyNot))
		return
	}
	var say []string
	if x.Choice.WaterMM > 0 {
		say = append(say, fmt.Sprintf("takes %s over the block, %s.", s.Depth(quantity.Millimetre(x.Choice.WaterMM)), s.Volume(quantity.CubicMetre(x.Choice.WaterM3))))
	}
	if len(x.Choice.Conditions) > 0 {
		say = append(say, "Holds if "+strings.Join(x.Choice.Conditions, "; ")+".")
	}
	if x.Choice.StopRule != "" {
		say = append(say, x.Choice.StopRule)
	}
	if len(say)+len(x.Choice.Cautions) == 0 {
		return
	}
	p.para(lead, "   ", capital(strings.Join(say, " ")))
	for _, t := range x.Choice.Cautions {
		p.para("   ! ", "     ", t)
	}
}
