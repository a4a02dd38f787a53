package cli

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"budward/decide/trial"
	"budward/physics/quantity"
	"budward/physics/sky"
	"budward/vineyard/farm"
)

type trialCmd struct {
	Plan     trialPlanCmd     `cmd:"" help:"How to hang two thermometers, and for how many clear, calm nights."`
	Estimate trialEstimateCmd `cmd:"" help:"The gain from their readings, with its interval, every night listed."`
}

// trialFiles are the readings of a trial and how the thermometers hung.
type trialFiles struct {
	A          []string `name:"a" sep:"none" help:"File of readings of thermometer A; may be given again." placeholder:"FILE"`
	B          []string `name:"b" sep:"none" help:"File of readings of thermometer B; may be given again." placeholder:"FILE"`
	Side       []string `sep:"none" help:"First and last evening both hung at one place, such as 2026-03-10..2026-03-12." placeholder:"FROM..TO"`
	Before     []string `sep:"none" help:"Evenings in their places, the floors still alike, with what hung over the plot that is measured: A:FROM..TO." placeholder:"WHICH:FROM..TO"`
	Trial      []string `sep:"none" help:"Evenings with the floors different: A:FROM..TO, and after the swap B:FROM..TO." placeholder:"WHICH:FROM..TO"`
	Station    string   `help:"Station of the farm whose place and zone are meant." placeholder:"S"`
	Place      string   `help:"Where the trial is, such as 38.5N,122.4W,60m." placeholder:"LAT,LON"`
	Zone       string   `help:"Zone of the evenings and, in CSV, of times without an offset; 'farm' for the farm's." placeholder:"ZONE"`
	Confidence string   `help:"Of the interval." default:"95%" placeholder:"SHARE"`
	fileWords  `embed:""`
}

// TrialRequest is a trial to work out.
type TrialRequest struct {
	RecordRequest               // its Files are not used: A and B are
	A, B          []RecordFile  // by thermometer
	StationID     string        // "" = none of the farm's
	Input         trial.Input   // sessions, confidence
	Floors        *trial.Floors // nil = nothing is held against the model
	Stated        bool          // Units of Input were asked for
}

// Trialed is what a trial gave.
type Trialed struct {
	Result  trial.Result
	K0      *trial.K0 // nil = not asked for
	Notes   []string  // what the decoders and the model took
	Zone    *time.Location
	Farm    farm.Farm
	HasFarm bool
	System  quantity.System // of its sentences
}

// empty says whether no readings are given.
func (c *trialFiles) empty() bool {
	return len(c.A)+len(c.B)+len(c.Side)+len(c.Before)+len(c.Trial) == 0
}

func (c *trialFiles) question(r *run) (TrialRequest, error) {
	q := TrialRequest{StationID: c.Station, Stated: r.stated}
	q.Input.Units = r.system
	var err error
	if q.RecordRequest, err = c.request(r, nil, c.Place, c.Zone); err != nil {
		return q, err
	}
	if len(c.A) == 0 || len(c.B) == 0 {
		return q, usage("trial: want --a FILE and --b FILE, the readings of both thermometers")
	}
	for _, f := range c.A {
		q.A = append(q.A, r.file(f))
	}
	for _, f := range c.B {
		q.B = append(q.B, r.file(f))
	}
	if q.Input.Conf, err = parseConfidence(c.Confidence); err != nil {
		return q, err
	}
	for _, list := range []struct {
		flag  string
		kind  trial.Kind
		texts []string
	}{{"--side", trial.SideBySide, c.Side}, {"--before", trial.Before, c.Before}, {"--trial", trial.Contrast, c.Trial}} {
		for _, text := range list.texts {
			s, err := parseSession(list.kind, text)
			if err != nil {
				return q, usage("%s %s: %v", list.flag, text, err)
			}
			q.Input.Sessions = append(q.Input.Sessions, s)
		}
	}
	if len(q.Input.Sessions) == 0 {
		return q, usage("trial: want --trial A:FROM..TO and --trial B:FROM..TO, the evenings before and after the swap; or --side with one of them")
	}
	return q, nil
}

func parseConfidence(text string) (float64, error) {
	v, err := quantity.ParseShare(text)
	if err != nil || v < 0.5 || v > 0.999 {
		return 0, usage("--confidence %s: want 50%% to 99.9%%", text)
	}
	return float64(v), nil
}

// parseSession reads "A:2026-03-10..2026-03-12", without the thermometer for nights
// side by side; one evening may stand alone.
func parseSession(kind trial.Kind, text string) (trial.Session, error) {
	s := trial.Session{Kind: kind}
	span := strings.TrimSpace(text)
	if kind != trial.SideBySide {
		over, rest, found := strings.Cut(span, ":")
		s.Over, span = trial.Sensor(strings.ToUpper(strings.TrimSpace(over))), rest
		if !found || s.Over != trial.A && s.Over != trial.B {
			return s, errors.New("want what hung over the measured floor and the evenings, such as A:2026-03-14..2026-03-22")
		}
	}
	from, to, found := strings.Cut(span, "..")
	if !found {
		to = from
	}
	var err error
	if s.From, err = parseEvening(from); err == nil {
		s.To, err = parseEvening(to)
	}
	if err == nil && s.To.Before(s.From) {
		err = errors.New("the last evening is before the first")
	}
	return s, err
}

func parseEvening(text string) (sky.Date, error) {
	t, err := time.Parse(time.DateOnly, strings.TrimSpace(text))
	if err != nil {
		return sky.Date{}, fmt.Errorf("want evenings such as 2026-03-10..2026-03-12, not %q", text)
	}
	return sky.DateOf(t), nil
}

type trialEstimateCmd struct {
	trialFiles `embed:""`
	Over       string `help:"Floor that is measured, to hold the gain against the model: surface and moisture, such as 'bare firm, moist'." placeholder:"FLOOR"`
	Beside     string `help:"Floor beside it, such as 'cover 12in, moist'." placeholder:"FLOOR"`
	Soil       string `help:"Texture of both plots' soil, such as loam." placeholder:"TEXTURE"`
	Area       string `help:"Size of each plot, such as 10ac." placeholder:"AREA"`
	Cordon     string `help:"Height the thermometers hang at." default:"1m" placeholder:"HEIGHT"`
}

// Help is shown below the usage.
func (c *trialEstimateCmd) Help() string {
	return `Only clear, calm nights count; every other is listed with its reason. Half the
difference of the nights before and after the swap is free of what the two
thermometers differ by.

    budward trial estimate --a a.csv --b b.csv --place 38.5N,122.4W \
        --zone America/Los_Angeles --side 2026-03-10..2026-03-12 \
        --trial A:2026-03-13..2026-03-25 --trial B:2026-03-26..2026-04-08 \
        --over "bare firm, moist" --beside "cover 12in, moist" \
        --soil loam --area 10ac`
}

// Run works a trial out.
func (c *trialEstimateCmd) Run(r *run) error {
	q, err := c.question(r)
	if err != nil {
		return err
	}
	if q.Floors, err = c.floors(); err != nil {
		return err
	}
	o, err := r.open()
	if err != nil {
		return err
	}
	done := r.progress("working the trial out")
	got, err := o.Trial(r.ctx, q)
	done()
	var few *trial.TooFewError
	if err != nil && !errors.As(err, &few) {
		return err
	}
	r.system = got.System
	if r.g.JSON {
		err = r.json("budward.trial-estimate/1", object{{"result", resultObject(&got.Result, few)}, {"mixing", got.K0}, {"notes", append([]string{}, got.Notes...)}})
	} else {
		err = r.print(estimatePage(r.page(), &got, few, r.system))
	}
	if err == nil && few != nil {
		return &NoAnswerError{few.Text}
	}
	return err
}

// floors reads what the model is to be asked; nil where nothing is.
func (c *trialEstimateCmd) floors() (*trial.Floors, error) {
	given := 0
	for _, t := range []string{c.Over, c.Beside, c.Soil, c.Area} {
		if t != "" {
			given++
		}
	}
	if given == 0 {
		return nil, nil
	}
	if given < 4 {
		return nil, usage("trial: to hold the gain against the model want all of --over, --beside, --soil and --area")
	}
	f := trial.Floors{Soil: farm.Soil{Texture: strings.ToLower(strings.TrimSpace(c.Soil))}}
	if _, _, err := f.Soil.Resolve(); err != nil {
		return nil, usage("--soil %s: %v", c.Soil, err)
	}
	area, err := quantity.ParseArea(c.Area)
	if err != nil {
		return nil, usage("--area: %v", err)
	}
	height, err := quantity.ParseLength(c.Cordon)
	if err != nil || height < 0.3 || height > 5 {
		return nil, usage("--cordon %s: want a height of 0.3 to 5 m", c.Cordon)
	}
	f.AreaHa, f.CordonM = float64(area), float64(height)
	if f.Over, err = parseWholeFloor("--over", c.Over, f.Soil); err != nil {
		return nil, err
	}
	f.Beside, err = parseWholeFloor("--beside", c.Beside, f.Soil)
	return &f, err
}

// parseWholeFloor reads "SURFACE, MOISTURE" of a whole plot.
func parseWholeFloor(flag, text string, soil farm.Soil) (farm.Strip, error) {
	state, moist, found := strings.Cut(squeeze(text), ",")
	st, err := farm.ParseSurface(strings.TrimSpace(state))
	if err != nil {
		return farm.Strip{}, usage("%s %s: %v", flag, text, err)
	}
	strip := farm.Strip{Share: 1}.WithState(st)
	if !found {
		return strip, usage("%s %s: want its moisture behind a comma, such as 'bare firm, moist' or 'cover 12in, 18%%'", flag, text)
	}
	if strip.Moisture, err = farm.ParseMoisture(strings.TrimSpace(moist), soil); err != nil {
		return strip, usage("%s %s: %v", flag, text, err)
	}
	return strip, nil
}

type trialPlanCmd struct {
	Of         string `help:"What is to be measured: floor (one floor against another) or wetting (the same floor, wetted and dry)." default:"floor" enum:"floor,wetting" placeholder:"WHAT"`
	Precision  string `help:"Half the width of the interval that is wanted, such as 0.4F." default:"0.2K" placeholder:"DIFF"`
	First      bool   `name:"with-before" help:"Plan nights before the floors differ, which tell what the places themselves differ by."`
	trialFiles `embed:""`
}

// Help is shown below the usage.
func (c *trialPlanCmd) Help() string {
	return `With readings of earlier nights (--a, --b and how they hung) the plan learns the
spread from night to night and the share of nights that count from them.

    budward trial plan --precision 0.4F
    budward trial plan --of wetting --with-before`
}

// Run plans a trial.
func (c *trialPlanCmd) Run(r *run) error {
	half, err := quantity.ParseKelvin(c.Precision)
	if err != nil {
		return usage("--precision: %v", err)
	}
	in := trial.PlanInput{PrecisionK: float64(half), Before: c.First}
	if in.Conf, err = parseConfidence(c.Confidence); err != nil {
		return err
	}
	var from string
	if !c.empty() {
		if from, err = c.learn(r, &in); err != nil {
			return err
		}
	}
	p, err := trial.MakePlan(in)
	if err != nil {
		return err
	}
	of := trial.Of(c.Of)
	if r.g.JSON {
		return r.json("budward.trial-plan/1", object{{"of", of}, {"precision_k", half}, {"plan", p}, {"learned_from", from}, {"steps", trial.Protocol(of, p, r.system)},
			{"rules", trial.DefaultRules()}})
	}
	return r.print(planPage(r.page(), of, p, from, r.system))
}

// learn takes spread and share of nights from readings that are there.
func (c *trialPlanCmd) learn(r *run, in *trial.PlanInput) (string, error) {
	q, err := c.question(r)
	if err != nil {
		return "", err
	}
	o, err := r.open()
	if err != nil {
		return "", err
	}
	got, err := o.Trial(r.ctx, q)
	if few := (*trial.TooFewError)(nil); err != nil && !errors.As(err, &few) {
		return "", err
	}
	r.system = got.System
	used, all := len(got.Result.Pairs), len(got.Result.Pairs)+len(got.Result.Excluded)
	in.NightSDK, in.NightDF = got.Result.NightK, got.Result.NightD
	if used == 0 {
		return fmt.Sprintf("none of %s given counts: the priors stand", plural(all, "night", "nights")), nil
	}
	in.Clear = float64(used) / float64(all)
	return fmt.Sprintf("%d of %s given count", used, plural(all, "night", "nights")), nil
}
