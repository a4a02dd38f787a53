package main

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"budward/decide/hindcast"
	"budward/feed"
)

// springs of the record that have humidity and soil.
const firstSpring, lastSpring = 2012, 2017

// evenings replays the springs kept beside package hindcast.
func evenings(root string) (hindcast.Report, error) {
	// The moment is fixed, so that the page is the same whenever it is made.
	in := hindcast.Input{Now: time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC), Seed: 1}
	for y := firstSpring; y <= lastSpring; y++ {
		path := filepath.Join(root, "decide", "hindcast", "testdata", fmt.Sprintf("hourly02_spring_%d.txt.gz", y))
		f, err := os.Open(path)
		if err != nil {
			return hindcast.Report{}, err
		}
		b, err := feed.Decode(filepath.Base(path), f, feed.Options{StationID: "station", Format: feed.Hourly02})
		f.Close()
		if err != nil {
			return hindcast.Report{}, err
		}
		in.Records = append(in.Records, b)
	}
	return hindcast.Run(in)
}

// asked of the model against the handbook regression, by lead: how much lower
// its RMSE should be.
var askedGain = map[string]float64{"sunset-plus-2h": 0.10, "sunrise-minus-4h": 0.40, "sunrise-minus-2h": 0.57}

func (w *writer) ithaca(r hindcast.Report) {
	w.printf("## A night's minimum from the evening on: Ithaca, six springs\n\n")
	w.printf("US Climate Reference Network, Ithaca 13 E, New York, 15 March to 31 May, %d to %d, replayed hour\nby hour by `budward hindcast`; each spring is left out in turn and predicted from the others and from\nits own nights that had ended. **This is no test on unseen data**: the form of the model was chosen\nwith these springs in view. Other years and stations can be run with the same command. Beside the\nmodel: the handbook's regression on the evening's temperature and dew point, fitted on the other springs.\n", firstSpring, lastSpring)
	rows := [][]string{{"said at", "nights", "regression RMSE", "last night again", "model bias / RMSE", "lower by (95 % interval)", "asked", "80 % band held", "by third, coldest first", "frosty nights: model RMSE / regression"}}
	score := func(list []hindcast.MethodScore, method string) hindcast.MethodScore {
		for _, m := range list {
			if m.Method == method {
				return m
			}
		}
		return hindcast.MethodScore{}
	}
	for _, l := range r.Leads {
		m, reg, per := l.All[0], score(l.All, "regression"), score(l.All, "persistence")
		fm, fr := l.Frost[0], score(l.Frost, "regression")
		asked := "-"
		if a, ok := askedGain[l.Name]; ok {
			asked = fmt.Sprintf("%.0f %%", 100*a)
			w.goal("Ithaca, "+l.Label+", RMSE below the regression's", "by "+asked+" or more", fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*float64(l.GainAll.Central), 100*float64(l.GainAll.Low), 100*float64(l.GainAll.High)), float64(l.GainAll.Central) >= a)
		}
		thirds := ""
		for i, b := range l.Thirds {
			if i > 0 {
				thirds += ", "
			}
			thirds += fmt.Sprintf("%.0f", 100*float64(b.Share))
		}
		rows = append(rows, []string{l.Label, fmt.Sprint(m.N), plain(float64(reg.RMSEK), 2) + " K", plain(float64(per.RMSEK), 2) + " K",
			fmt.Sprintf("%+.2f / %.2f K", float64(m.BiasK), float64(m.RMSEK)),
			fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*float64(l.GainAll.Central), 100*float64(l.GainAll.Low), 100*float64(l.GainAll.High)), asked,
			fmt.Sprintf("%.0f %%", 100*float64(m.Covered80)), thirds + " %", fmt.Sprintf("%.2f / %.2f K", float64(fm.RMSEK), float64(fr.RMSEK))})
	}
	w.table(rows...)
	first := r.Leads[0]
	w.printf("What is left in the evening is mostly weather that has yet to arrive and that a thermometer cannot\nknow of: with a forecast of the minimum beside it (error %.1f K, %s) the evening's %.2f K\nwould come down to %.2f K.\n\n", float64(first.Feed.ForecastK), map[bool]string{true: "as measured", false: "assumed"}[first.Feed.Measured], float64(first.All[0].RMSEK), float64(first.Feed.LeftK))
}
