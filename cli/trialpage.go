package cli

import (
	"fmt"
	"math"
	"reflect"
	"strings"

	"budward/decide/trial"
	"budward/physics/floor"
	"budward/physics/quantity"
)

// handbooksOnly stands beside floor gains.
const handbooksOnly = "No open record of two thermometers over two floors is known: floor gains are checked against handbooks only."

// springNights is about how many nights there are from bud swell to the last frosts.
const springNights = 78

// fine writes a difference to a hundredth, with its sign.
func fine(k float64, s quantity.System) string {
	unit := "K"
	if s == quantity.US {
		k, unit = k*1.8, "°F"
	}
	if math.IsNaN(k) {
		return quantity.Unknown
	}
	return fmt.Sprintf("%+.2f %s", k, unit)
}

// unsigned is fine without the sign, for spreads.
func unsigned(k float64, s quantity.System) string {
	return strings.TrimPrefix(fine(k, s), "+")
}

// spanned writes a value with its interval: "+0.70 K (0.58 to 0.82)".
func spanned(v trial.Interval, s quantity.System) string {
	return fmt.Sprintf("%s (%s to %s)", fine(v.Central, s), bare(fine(v.Low, s)), bare(fine(v.High, s)))
}

func planPage(p *page, of trial.Of, x trial.PlanResult, from string, s quantity.System) *page {
	what := "one floor against another"
	if of == trial.OfWetting {
		what = "a wetted floor against a dry one"
	}
	p.para("", "", p.paint(bold, fmt.Sprintf("%d clear, calm nights, about %d by the calendar", x.ClearTotal, x.Calendar)))
	p.para("", "", fmt.Sprintf("to measure %s to ±%s (%s).", what, unsigned(x.HalfK, s), percent(x.Conf)))
	p.blank()
	spread := "a stated guess"
	if x.LearnedDF > 0 {
		spread = fmt.Sprintf("the guess drawn towards earlier nights, %d degrees of freedom", x.LearnedDF)
	}
	p.para("", "", fmt.Sprintf("Taken: the difference changes by %s from night to night (%s); %s of the nights are clear and calm enough.", unsigned(x.NightSDK, s), spread, percent(x.ClearShare)))
	if from != "" {
		p.para("", "", "From readings: "+from+".")
	}
	if !x.Before {
		p.para("", "", fmt.Sprintf("Without nights before the floors differ, what the two places differ by whatever their floor (about %s) stays in the gain: --with-before plans them.", unsigned(trial.PlaceSDK, s)))
	}
	if x.Calendar > springNights {
		p.para("", "", "That is more than one spring has. Ask for less, or go on in the next: nights of several springs may be put together if the floors are the same.")
	}
	p.heading("Nights each way, and the interval they give")
	g := &grid{right: []bool{true, true}}
	for _, w := range x.Table {
		g.row(fmt.Sprint(w.EachNights), "±"+unsigned(w.HalfK, s))
	}
	p.grid(g, "  ")
	for i, st := range trial.Protocol(of, x, s) {
		p.heading(fmt.Sprintf("%d. %s", i+1, st.Title))
		for _, l := range st.Lines {
			p.para("  - ", "    ", l)
		}
	}
	p.heading("A night counts if")
	for _, l := range trial.DefaultRules().Lines(s) {
		p.para("  - ", "    ", l)
	}
	p.blank()
	p.para("", "", handbooksOnly+" `budward trial estimate` works the nights out.")
	return p
}

// resultObject is the result for machines; without a gain its numbers are null.
func resultObject(r *trial.Result, few *trial.TooFewError) object {
	o := object{}
	for _, m := range members(reflect.ValueOf(*r)) {
		switch m.name {
		case "gain", "standard_error_k", "freedom":
			if few != nil {
				m.value = nil
			}
		case "nights_used", "nights_left_out", "groups", "flags":
			if v := m.value.(reflect.Value); v.IsNil() {
				m.value = []object{}
			}
		}
		o = append(o, m)
	}
	return o
}

func estimatePage(p *page, t *Trialed, few *trial.TooFewError, s quantity.System) *page {
	r := &t.Result
	if few != nil {
		p.para("", "", p.paint(bold, "No gain can be worked out: "+few.Text+"."))
	} else {
		p.para("", "", p.paint(bold, "Gain "+spanned(r.Gain, s)))
		p.para("", "", fmt.Sprintf("of the measured floor over that beside it, in the minimum of clear, calm nights; %s interval.", percent(r.Conf)))
		p.blank()
		p.para("", "", fmt.Sprintf("From %s, %s. Standard error %s, t with %.3g degrees of freedom; a night's difference scatters by %s.",
			plural(len(r.Pairs), "night", "nights"), r.Design, unsigned(r.SEK, s), r.DF, unsigned(r.NightK, s)))
		if r.Offset != nil {
			p.para("", "", "Thermometer A reads "+spanned(*r.Offset, s)+" against B in the same air.")
		}
		if r.Place != nil {
			p.para("", "", "Before the floors differed the place of the measured floor was "+spanned(*r.Place, s)+" against the other.")
		}
		for _, f := range r.Flags {
			p.para("! ", "  ", f.Text)
		}
		mixing(p, t, s)
	}
	groups(p, r, s)
	nightsUsed(p, r, s)
	if len(r.Excluded) > 0 {
		p.heading(fmt.Sprintf("Left out: %s", plural(len(r.Excluded), "night", "nights")))
		for _, x := range r.Excluded {
			p.para("  "+left(x.Label, 22)+" ", strings.Repeat(" ", 25), x.Why)
		}
	}
	p.heading("A night counts if")
	for _, l := range r.Rules.Lines(s) {
		p.para("  - ", "    ", l)
	}
	if few != nil {
		for _, f := range r.Flags {
			p.para("! ", "  ", f.Text)
		}
	}
	for _, n := range t.Notes {
		p.para("note: ", "  ", sentence(n))
	}
	return p
}

func mixing(p *page, t *Trialed, s quantity.System) {
	p.heading("What it says of the mixing K0")
	k := t.K0
	if k == nil {
		p.para("  ", "  ", "Nothing was held against the model: give --over, --beside, --soil and --area.")
		return
	}
	p.para("  ", "  ", fmt.Sprintf("Modelled for these floors: %s; measured over modelled %.2f (%.2f to %.2f).", fine(k.ModelledK, s), k.Ratio, k.RatioLow, k.RatioHigh))
	prior := floor.DefaultMixing().K0WM2K
	if k.PriorOnly {
		p.para("  ", "  ", fmt.Sprintf("K0 prior only, %g W/m2K: %s.", prior, k.Why))
		if t.Result.PlaceIncluded {
			p.para("  ", "  ", "Nights before the floors differ would take the places' own difference out of it.")
		}
	} else {
		p.para("  ", "  ", fmt.Sprintf("K0 %.1f W/m2K (%.1f to %.1f, 8 chances in 10); the prior was %g within a factor of %g.", k.CentralWM2K, k.LowWM2K, k.HighWM2K, prior, trial.K0SpreadFactor))
	}
	if k.Doubt != "" {
		p.para("  ! ", "    ", sentence(k.Doubt))
	}
	p.para("  ", "  ", "It holds for plots of this size. Other answers still use the prior.")
}

func groups(p *page, r *trial.Result, s quantity.System) {
	if len(r.Groups) == 0 {
		return
	}
	p.heading("How they hung")
	g := &grid{right: []bool{false, false, true, true, true, true}}
	g.row("", "measured floor", "nights", "A less B", "scatter", "weight")
	names := map[trial.Kind]string{trial.SideBySide: "side by side", trial.Before: "before", trial.Contrast: "trial"}
	for _, x := range r.Groups {
		over := string(x.Over)
		if over == "" {
			over = "-"
		}
		g.row(names[x.Kind], over, fmt.Sprint(x.N), fine(x.MeanK, s), unsigned(x.SDK, s), fmt.Sprintf("%+.3f", x.Weight))
	}
	p.grid(g, "  ")
}

func nightsUsed(p *page, r *trial.Result, s quantity.System) {
	if len(r.Pairs) == 0 {
		return
	}
	p.heading("Nights that count")
	g := &grid{right: []bool{false, false, false, true, true, true, true}}
	g.row("", "", "over", "A", "B", "A less B", "wind")
	for _, x := range r.Pairs {
		wind := "-"
		if !math.IsNaN(x.WindMS) {
			wind = s.Wind(quantity.MetrePerSecond(x.WindMS))
		}
		g.row(x.Label, string(x.Kind), string(x.Over), s.Temperature(quantity.Celsius(x.AMinC)), s.Temperature(quantity.Celsius(x.BMinC)), fine(x.DiffK, s), wind)
	}
	p.grid(g, "  ")
}
