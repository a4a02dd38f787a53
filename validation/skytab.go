package main

import (
	"math"

	"budward/physics/air"
	"budward/physics/sky"
)

func skyDefault(t, rh float64) float64 {
	return sky.LongwaveDown(t, air.SatVapKPa(t)*rh/100, 0, sky.Default)
}

func (w *writer) skyFormulas(rows []clearSky) {
	w.printf("## Long wave from a clear sky\n\nSix published formulas against the pyrgeometer at Bondville on 23 steadily clear nights\nof the year. The instruments there disagree by some 20 W/m2 (above), so the order by\nscatter is firmer than that by bias.\n")
	t := [][]string{{"formula", "bias W/m2", "scatter W/m2"}}
	for _, f := range sky.Formulas() {
		var s score
		for _, r := range rows {
			s.add(sky.LongwaveDown(r.air, air.SatVapKPa(r.air)*math.Min(r.rh, 100)/100, 0, f) - r.longwave)
		}
		name := f.String()
		if f == sky.Default {
			name = "**" + name + "** (shipped)"
		}
		t = append(t, []string{name, plain(s.Bias(), 1), plain(math.Sqrt(s.RMSE()*s.RMSE()-s.Bias()*s.Bias()), 1)})
	}
	w.table(t...)
	w.printf("None was fitted here. The shipped one was *chosen* among the six by this table, so for\nit the table is no independent test.\n\n")
}
