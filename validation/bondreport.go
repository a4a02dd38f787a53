package main

import (
	"fmt"
	"math"
)

// bondvilleRuns is the record with the runs of the report.
type bondvilleRuns struct {
	screen                 screening
	white                  map[int]bool
	winter, autumn, spring []halfHour
	blind, told            [3][]modelled // by period: winter, autumn, spring
}

func runBondville(dir string) (*bondvilleRuns, error) {
	rows, sc, err := bondville(dir)
	if err != nil {
		return nil, err
	}
	r := &bondvilleRuns{screen: sc, white: snowDays(rows),
		winter: between(rows, winterFrom, winterTo), autumn: between(rows, autumnFrom, autumnTo), spring: between(rows, springFrom, springTo)}
	for i, p := range r.periods() {
		s := bondvilleSite()
		r.blind[i] = s.run(p, r.white)
		s.toldSnow = true
		r.told[i] = s.run(p, r.white)
	}
	return r, nil
}

func (r *bondvilleRuns) periods() [3][]halfHour {
	return [3][]halfHour{r.winter, r.autumn, r.spring}
}

// verdict is what the targets ask of a run over spring.
type verdict struct{ night, frosty, bare, soil32 score }

func judge(rows []halfHour, out []modelled) verdict {
	return verdict{
		night:  scoreIf(rows, out, 0, atNight, surfaceOff),
		frosty: scoreIf(rows, out, 0, isFrosty, surfaceOff),
		bare:   scoreIf(rows, out, 0, func(h *halfHour, m *modelled) bool { return frosty(h) && !m.white }, surfaceOff),
		soil32: scoreIf(rows, out, 0, always, soilOff(4)),
	}
}

func (w *writer) bondville(r *bondvilleRuns) {
	w.printf("## Bondville: surface and soil of one field, half hour by half hour\n\n")
	w.printf("Flat cropland in Illinois, 40 N, corn stubble in the cold season; NOAA/ARL, 1998. The\ncolumn starts from the measured soil on the first day and then runs free for 71\ndays: it is given air, humidity, wind, rain, solar radiation and long wave from the\nsky, and never a soil or surface temperature again.\n\n")
	w.printf("Test: 1 March to 10 May. Nothing is fitted on it. Fitted on 10 January to 27\nFebruary (the same stubble) and 12 October to 19 November (after harvest, up to the\nday before the soil probes were moved). The spring had been looked at when it was decided how\nto treat snow, long wave and the soil class; no number was set by it.\n\n")
	w.bondvilleSet(r)
	w.bondvilleFit(r)
	w.bondvilleScores(r)
	w.bondvilleSteps(r)
	w.bondvilleSurface(r)
	w.bondvilleSoil(r)
	w.bondvilleFluxes(r)
	w.bondvilleNights(r)
}

func (w *writer) bondvilleSet(r *bondvilleRuns) {
	sc := r.screen
	z, lo, hi, n := roughness(r.winter, r.autumn)
	zs, _, _, _ := roughness(r.spring)
	gap := nightGap(r.winter, r.autumn)
	w.printf("### What it is run with\n")
	p := bondvilleSite()
	w.table(
		[]string{"parameter", "value", "from"},
		[]string{"surface", fmt.Sprintf("residue, 2 cm: %.0f W m-2 K-1, passes %.2f of the sun, %.0f s/m", p.surface.CoverWM2K, p.surface.Passes, p.surface.SurfaceSM), "the shipped surface; its constants were set on the fitting months (below)"},
		[]string{"roughness length", fmt.Sprintf("%.3f m", siteRoughM), fmt.Sprintf("eddy correlation of the fitting months, near neutral: median %.4f m, quartiles %.3f and %.3f (%d half hours; the spring's own would be %.3f)", z, lo, hi, n, zs)},
		[]string{"albedo", fmt.Sprintf("%.2f", siteAlbedo), fmt.Sprintf("radiation of the fitting months by day: median %.2f (%.2f if the net radiometer's difference at night, below, is not carried over to the day)", albedo(gap.Bias(), r.white, r.winter, r.autumn), albedo(0, r.white, r.winter, r.autumn))},
		[]string{"emissivity", fmt.Sprintf("%.2f", p.surface.Emissivity), "shipped"},
		[]string{"soil", "silty clay loam (" + p.soil.String() + ")", "the shipped class; its field capacity is what the probes hold in winter, that of silt loam is not"},
		[]string{"exchange with the air", "as shipped", "no change"},
		[]string{"long wave", "as the pyrgeometer measured it", "see net radiation"},
		[]string{"below 64 cm", fmt.Sprintf("yearly wave about %.0f degC, column to %.0f m", annualMeanC, columnBottomM), "from memory; 2 K more or less moves 32 cm by " + r.deepSensitivity()},
	)
	w.printf("Screened on reading: %d half hours read; infrared thermometer missing in %d and stuck\nat one value in %d more (%d of them in the test), all left out; relative humidity above\n100 %% held to 100 in %d; negative rain counted as none in %d. The record's own\nreflected light shows snow on days %s.\n\n", sc.Rows, sc.MissingSurface, sc.Stuck, sc.StuckSpring, sc.OverSaturated, sc.NegativeRain, dayList(r.white))
}

func dayList(days map[int]bool) string {
	s := ""
	for d := range 366 {
		if days[d] {
			if s != "" {
				s += ", "
			}
			s += fmt.Sprint(d)
		}
	}
	return s
}

func nightGap(periods ...[]halfHour) score {
	var s score
	for _, rows := range periods {
		for i := range rows {
			if night(&rows[i]) {
				s.add(rows[i].net - longwaveNet(&rows[i]))
			}
		}
	}
	return s
}

func (r *bondvilleRuns) deepSensitivity() string {
	most := 0.0
	base := judge(r.spring, r.blind[2]).soil32.Bias()
	for _, d := range []float64{-2, 2} {
		s := bondvilleSite()
		s.annualC += d
		most = math.Max(most, math.Abs(judge(r.spring, s.run(r.spring, r.white)).soil32.Bias()-base))
	}
	return fmt.Sprintf("%.2f K", most)
}

// fitCost is what the residue's three constants were chosen by, over both
// fitting periods: RMSE of the surface at night, half of that on frosty nights
// and by day, and of the soil at 32 cm, a quarter at 16 cm.
func (r *bondvilleRuns) fitCost(s site) float64 {
	c := 0.0
	for _, rows := range [][]halfHour{r.winter, r.autumn} {
		out := s.run(rows, r.white)
		c += scoreIf(rows, out, 48, atNight, surfaceOff).RMSE() + 0.5*scoreIf(rows, out, 48, isFrosty, surfaceOff).RMSE() +
			0.5*scoreIf(rows, out, 48, byDay, surfaceOff).RMSE() + 0.5*scoreIf(rows, out, 48, always, soilOff(4)).RMSE() + 0.25*scoreIf(rows, out, 48, always, soilOff(3)).RMSE()
	}
	return c
}

func (w *writer) bondvilleFit(r *bondvilleRuns) {
	w.printf("### The fit, on the fitting months alone\n\nThree numbers of the residue were fitted: its conductance, the share of the sun it\npasses and its resistance to vapour. The cost is the sum over both periods of the\nRMSE of the surface at night, half that on frosty nights and by day and of the soil at\n32 cm, and a quarter at 16 cm. Everything else held, one number changed:\n")
	base := bondvilleSite()
	rows := [][]string{{"conductance W m-2 K-1", "cost", "sun passed", "cost", "resistance s/m", "cost"}}
	us := []float64{15, 25, base.surface.CoverWM2K, 45, 70}
	ps := []float64{0, 0.05, base.surface.Passes, 0.2, 0.35}
	rs := []float64{0, 5, base.surface.SurfaceSM, 50, 150}
	for i := range us {
		a, b, c := base, base, base
		a.surface.CoverWM2K, b.surface.Passes, c.surface.SurfaceSM = us[i], ps[i], rs[i]
		rows = append(rows, []string{plain(us[i], 0), plain(r.fitCost(a), 2), plain(ps[i], 2), plain(r.fitCost(b), 2), plain(rs[i], 0), plain(r.fitCost(c), 2)})
	}
	w.table(rows...)
	w.printf("The middle row is what is shipped, and every answer for shredded ground uses it. The\noptimum is flat. Its resistance to vapour is low, since the model has no water held on\nthe stubble itself. Packed straw would conduct a quarter of this; lying stubble is\nstirred by the wind and shows soil between.\n\n")
}

func (w *writer) bondvilleScores(r *bondvilleRuns) {
	w.printf("### Scores\n\nModelled less measured, bias / RMSE in K. *Told of the snow* lays 2 cm of it (0.15 W m-1\nK-1, albedo 0.75, both from memory) on the days on which the reflected light shows\nit; budward has no snow, and a farm would have to say so.\n")
	rows := [][]string{{"", "winter (fitted)", "autumn (fitted)", "**spring (test)**", "**spring, told of the snow**"}}
	line := func(name string, which func(*halfHour, *modelled) bool, get func(*halfHour, *modelled) float64) {
		cells := []string{name}
		for i, p := range r.periods() {
			cells = append(cells, both(scoreIf(p, r.blind[i], 48*(2-i)/2, which, get)))
		}
		rows = append(rows, append(cells, both(scoreIf(r.spring, r.told[2], 0, which, get))))
	}
	line("surface at night", atNight, surfaceOff)
	line("frosty nights (air below 3 degC, net below -30 W/m2)", isFrosty, surfaceOff)
	line("the same without the hours on snow", func(h *halfHour, m *modelled) bool { return frosty(h) && !m.white }, surfaceOff)
	line("surface by day (sun above 200 W/m2)", byDay, surfaceOff)
	line("soil at 16 cm", always, soilOff(3))
	line("soil at 32 cm", always, soilOff(4))
	line("soil at 64 cm", always, soilOff(5))
	w.table(rows...)
	b, t := judge(r.spring, r.blind[2]), judge(r.spring, r.told[2])
	deep := bondvilleSite()
	deep.toldSnow, deep.snowM = true, 0.05
	d := judge(r.spring, deep.run(r.spring, r.white))
	w.printf("Two centimetres go with the two millimetres of water in the gauge; their depth was not measured.\nWith five the frosty nights would be off by %s K. At 64 cm the probe itself jumps by 3 K within a\nday again and again from 3 to 11 November, which is most of the autumn's miss there.\n\n", both(d.frosty))
	w.printf("**Where it fails.** Of the %d frosty half hours of the spring, %d fell on the snow of 9 to\n13 March, which the gauge hardly saw: it blew in at 17 m/s. Run blind to it the model has\na dark, bare field there and is off by %.1f K over all frosty hours, which misses the\ntarget of 1.9 K; on the hours without snow it is off by %.1f K. By day the surface is %.1f K\ntoo warm in spring, more than in the fitting months; see evaporation below.\n\n", b.frosty.N, b.frosty.N-b.bare.N, b.frosty.RMSE(), b.bare.RMSE(), scoreIf(r.spring, r.blind[2], 0, byDay, surfaceOff).Bias())
	w.goal("Bondville, spring, surface at night", "RMSE <= 0.95 K, bias within 0.3 K", both(b.night)+" K", b.night.RMSE() <= 0.95 && math.Abs(b.night.Bias()) <= 0.3)
	w.goal("the same, frosty nights, blind to snow", "RMSE <= 1.9 K", both(b.frosty)+" K", b.frosty.RMSE() <= 1.9)
	w.goal("the same, frosty nights, told of the snow", "RMSE <= 1.9 K", both(t.frosty)+" K", t.frosty.RMSE() <= 1.9)
	w.goal("the same, soil at 32 cm", "RMSE <= 1.0 K", both(b.soil32)+" K", b.soil32.RMSE() <= 1.0)
}

// stepEffect is the largest change of a spring score, and the root mean square
// change of the surface over all half hours, when the step is shortened.
func (r *bondvilleRuns) stepEffect(seconds float64) (scores, series, most float64) {
	s := bondvilleSite()
	s.stepS = seconds
	out := s.run(r.spring, r.white)
	a, b := judge(r.spring, r.blind[2]), judge(r.spring, out)
	for _, p := range [][2]score{{a.night, b.night}, {a.frosty, b.frosty}, {a.soil32, b.soil32}} {
		scores = math.Max(scores, math.Max(math.Abs(p[0].Bias()-p[1].Bias()), math.Abs(p[0].RMSE()-p[1].RMSE())))
	}
	n := 0.0
	for i := range out {
		if night(&r.spring[i]) {
			d := out[i].surface - r.blind[2][i].surface
			series += d * d
			most = math.Max(most, math.Abs(d))
			n++
		}
	}
	return scores, math.Sqrt(series / n), most
}

func (w *writer) bondvilleSteps(r *bondvilleRuns) {
	w.printf("### Length of the step\n\nThe shipped step of 600 s, halved and quartered, spring:\n")
	rows := [][]string{{"step", "largest change of a score above", "surface at night, root mean square change", "largest change in one half hour"}}
	worst := 0.0
	for _, s := range []float64{300, 150} {
		a, b, c := r.stepEffect(s)
		worst = math.Max(worst, math.Max(a, b))
		rows = append(rows, []string{plain(s, 0) + " s", plain(a, 3) + " K", plain(b, 3) + " K", plain(c, 2) + " K"})
	}
	w.table(rows...)
	w.goal("Bondville, step halved and quartered", "results move by less than 0.05 K", plain(worst, 3)+" K", worst < 0.05)
}

func (w *writer) bondvilleSurface(r *bondvilleRuns) {
	var x, y, xs, ys []float64
	for i := range r.spring {
		h, m := &r.spring[i], &r.blind[2][i]
		if !night(h) || math.IsNaN(h.surface) {
			continue
		}
		if m.white {
			xs, ys = append(xs, h.surface), append(ys, m.surface)
		} else {
			x, y = append(x, h.surface), append(y, m.surface)
		}
	}
	w.plot("bondville_night_scatter", "modelled against measured surface temperature at night, spring", chart{
		title: "Bondville, surface at night, 1 March to 10 May", xLabel: "measured, degC", yLabel: "modelled, degC", diagonal: true,
		series: []series{{name: "no snow", x: x, y: y, points: true}, {name: "snow on the ground (model blind to it)", x: xs, y: ys, points: true}}}.svg())
	const from, days = 94, 7 // 4 April on: the last frosts of the record
	var t, meas, mod, ta []float64
	for i := range r.spring {
		h := &r.spring[i]
		if h.day < from || h.day >= from+days {
			continue
		}
		t = append(t, float64(len(t))/48)
		meas, mod, ta = append(meas, h.surface), append(mod, r.blind[2][i].surface), append(ta, h.air)
	}
	var at []tick
	for d := range days {
		at = append(at, tick{float64(d), fmt.Sprintf("%d Apr", 4+d)})
	}
	w.plot("bondville_week", "surface and air temperature over a week in April", chart{
		title: "Bondville, 4 to 10 April: after five weeks of running free", xLabel: "local standard time, from midnight", yLabel: "degC", xTicks: at,
		series: []series{{name: "surface, modelled", x: t, y: mod}, {name: "surface, measured", x: t, y: meas}, {name: "air at 3 m", x: t, y: ta}}}.svg())
}
