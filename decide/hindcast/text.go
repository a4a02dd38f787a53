package hindcast

import (
	"fmt"
	"strings"

	"budward/physics/quantity"
)

// textWidth is the width, in columns, that Text keeps to.
const textWidth = 80

// unknown stands where a number is not known.
const unknown = "-"

// Text writes the report as a page of plain text, at most 80 columns wide, with
// temperatures and differences in the units asked for.
func (r *Report) Text(sys quantity.System) string {
	w := page{sys: sys}
	w.record(r)
	for k := range r.Leads {
		w.lead(&r.Leads[k])
	}
	w.ahead(r)
	w.line("")
	for _, n := range r.Notes {
		w.wrap("* ", n)
	}
	return w.b.String()
}

// CSV writes every number said, one row for each night, moment and method.
func (r *Report) CSV() string {
	var b strings.Builder
	b.WriteString("evening,season,lead_name,method,mean_c,low80_c,high80_c,minimum_c\n")
	for i := range r.Table {
		t := &r.Table[i]
		lo, hi := "", ""
		if t.HasBand {
			lo, hi = fmt.Sprintf("%.2f", t.Band80.LowC), fmt.Sprintf("%.2f", t.Band80.HighC)
		}
		fmt.Fprintf(&b, "%s,%d,%s,%s,%.2f,%s,%s,%.1f\n", t.Evening, t.Year, t.Lead, t.Method, t.MeanC, lo, hi, t.MinimumC)
	}
	return b.String()
}

// page is a text being written.
type page struct {
	b   strings.Builder
	sys quantity.System
}

func (w *page) line(format string, args ...any) { fmt.Fprintf(&w.b, format+"\n", args...) }

// wrap writes text behind a mark, later lines set in under it.
func (w *page) wrap(mark, text string) {
	indent := strings.Repeat(" ", len([]rune(mark)))
	line := mark
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > textWidth {
			w.b.WriteString(line + "\n")
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	w.b.WriteString(line + "\n")
}

func (w *page) record(r *Report) {
	w.line("Record       %s to %s", r.FromAt.Format("2006-01-02"), r.ToAt.Format("2006-01-02"))
	if r.Station != "" {
		w.line("Station      %s", r.Station)
	}
	w.line("Place        %.3f, %.3f (%s); midnight in %s", r.Place.LatDeg, r.Place.LonDeg, r.PlaceFrom, r.Zone)
	w.line("Evenings     %s of each year; learned from: %s", r.Season, r.Training)
	w.line("")
	w.line("Season   nights  scored  minimum %s or less", w.temp(r.FrostC))
	for _, s := range r.Seasons {
		w.line("%-6s   %6d  %6d  %6d", s.Season, s.Nights, s.Scored, s.Frosty)
	}
	for _, o := range r.LeftOut {
		w.wrap("", fmt.Sprintf("Left out: %s, %s.", countNights(o.Nights), o.Why))
	}
	if len(r.Findings) > 0 {
		w.line("")
		w.line("Found in the record")
		for _, f := range r.Findings {
			w.wrap("* ", f.Text)
		}
	}
}

func (w *page) temp(c float64) string { return w.sys.Temperature(quantity.Celsius(c)) }

// The next four write a number in its column: a difference in the units shown, with
// its sign, a share in per cent, a plain number.
func (w *page) diff(n Num) string     { return w.cell(n, "%.2f", w.perK()) }
func (w *page) signed(n Num) string   { return w.cell(n, "%+.2f", w.perK()) }
func (w *page) share(n Num) string    { return w.cell(n, "%.0f %%", 100) }
func (w *page) fraction(n Num) string { return w.cell(n, "%.2f", 1) }

func (w *page) cell(n Num, format string, by Num) string {
	if !n.Known() {
		return unknown
	}
	return fmt.Sprintf(format, float64(n*by))
}

// perK is the size of a kelvin in the units shown.
func (w *page) perK() Num {
	if w.sys == quantity.US {
		return 1.8
	}
	return 1
}

func (w *page) unit() string {
	if w.sys == quantity.US {
		return "°F"
	}
	return "K"
}

func (w *page) lead(l *LeadReport) {
	w.line("")
	w.line("%s", strings.ToUpper(l.Label[:1])+l.Label[1:])
	w.line("%-20s %5s %6s %6s %6s %6s %5s %5s %6s", "errors in "+w.unit(), "n", "bias", "RMSE", "MAE", "CRPS", "in 50", "in 80", "width")
	w.scores(l.All)
	w.line("nights with a minimum at the frost limit or below")
	w.scores(l.Frost)
	w.wrap("", fmt.Sprintf("RMSE below that of the handbook regression: %s; frosty nights: %s.", w.gain(l.GainAll), w.gain(l.GainFrost)))
	text := "80 % band held, by third of the predicted minimum, in %:"
	for _, t := range l.Thirds {
		text += " " + w.cell(t.Share, "%.0f", 100)
	}
	w.wrap("", text+".")
	how := "assumed"
	if l.Feed.Measured {
		how = "measured"
	}
	w.wrap("", fmt.Sprintf("With a forecast of the minimum beside it, error %s %s (%s): RMSE %s %s.", w.diff(l.Feed.ForecastK), w.unit(), how, w.diff(l.Feed.LeftK), w.unit()))
	for k := range l.Thresholds {
		w.threshold(&l.Thresholds[k])
	}
}

func countNights(n int) string {
	if n == 1 {
		return "1 night"
	}
	return fmt.Sprintf("%d nights", n)
}

func (w *page) gain(g Gain) string {
	if !g.Central.Known() {
		return unknown
	}
	if !g.Low.Known() {
		return fmt.Sprintf("%s %% (%s, too few for an interval)", w.cell(g.Central, "%.1f", 100), countNights(g.N))
	}
	return fmt.Sprintf("%s %% (%s to %s)", w.cell(g.Central, "%.1f", 100), w.cell(g.Low, "%.1f", 100), w.cell(g.High, "%.1f", 100))
}

func (w *page) scores(list []MethodScore) {
	for _, s := range list {
		w.line("  %-18s %5d %6s %6s %6s %6s %5s %5s %6s", s.Label, s.N, w.signed(s.BiasK), w.diff(s.RMSEK), w.diff(s.MAEK), w.diff(s.CRPSK),
			w.share(s.Covered50), w.share(s.Covered80), w.diff(s.Width80K))
	}
}

func (w *page) threshold(t *ThresholdReport) {
	w.line("At or below %s: %s", w.temp(t.ThresholdC), countNights(t.Events))
	head := fmt.Sprintf("  %-18s %4s %4s %5s %6s", "even chance", "hit", "miss", "false", "Brier")
	if len(t.Methods) > 0 {
		for k, v := range t.Methods[0].Value {
			if k == maxCostColumns {
				break
			}
			head += fmt.Sprintf(" %7s", fmt.Sprintf("C/L %.2g", v.CostShare))
		}
	}
	w.line("%s", strings.TrimRight(head, " "))
	for _, m := range t.Methods {
		text := fmt.Sprintf("  %-18s %4d %4d %5d %6s", m.Label, m.Even.Hits, m.Even.Misses, m.Even.FalseAlarms, w.fraction(m.Brier))
		for k, v := range m.Value {
			if k == maxCostColumns {
				break
			}
			text += fmt.Sprintf(" %7s", w.fraction(v.Value))
		}
		w.line("%s", text)
	}
	text := "chance said/seen in %, (nights):"
	for _, b := range t.Reliability {
		if b.N > 0 {
			text += fmt.Sprintf(" %s/%s(%d)", w.cell(b.Said, "%.0f", 100), w.cell(b.Seen, "%.0f", 100), b.N)
		}
	}
	w.wrap("  ", text)
}

// maxCostColumns is how many cost shares fit beside one another; the JSON has all.
const maxCostColumns = 5

func (w *page) ahead(r *Report) {
	w.line("")
	if r.DaysAheadWhy != "" {
		w.wrap("", "Days ahead: "+r.DaysAheadWhy)
		return
	}
	w.line("Days ahead, past forecasts: errors in %s", w.unit())
	for _, d := range r.DaysAhead {
		w.line("  %d  %5d nights  bias %6s  RMSE %6s  MAE %6s", d.AheadDays, d.N, w.signed(d.BiasK), w.diff(d.RMSEK), w.diff(d.MAEK))
	}
}
