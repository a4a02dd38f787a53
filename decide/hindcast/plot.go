package hindcast

import (
	"fmt"
	"math"
	"strings"

	"budward/physics/quantity"
)

// Plot is one picture of a report, as SVG without script.
type Plot struct {
	Name string // of a file, without its ending
	SVG  string
}

// Plots draws the report: the error of every method through the night, over all
// nights and over frosty ones, and how often what was said to be likely came.
// Pictures with nothing in them are left out.
func (r *Report) Plots(sys quantity.System) []Plot {
	w := page{sys: sys}
	var out []Plot
	for _, c := range []struct {
		name, title string
		scores      func(*LeadReport) []MethodScore
	}{
		{"rmse", "Error of the minimum said, all nights", func(l *LeadReport) []MethodScore { return l.All }},
		{"rmse-frosty", "Error of the minimum said, nights of " + w.temp(r.FrostC) + " or less", func(l *LeadReport) []MethodScore { return l.Frost }},
	} {
		p := plot{title: c.title, yLabel: "RMSE, " + w.unit(), xLabel: "when it is said"}
		for k := range r.Leads {
			p.xNames = append(p.xNames, r.Leads[k].Label)
		}
		for m := range methods {
			s := line{name: methods[m].label}
			for k := range r.Leads {
				if y := c.scores(&r.Leads[k])[m].RMSEK * w.perK(); y.Known() {
					s.x, s.y = append(s.x, float64(k)), append(s.y, float64(y))
					p.yMax = math.Max(p.yMax, float64(y))
				}
			}
			p.lines = append(p.lines, s)
		}
		p.xMax = float64(max(1, len(r.Leads)-1))
		out = p.add(out, c.name)
	}
	return r.reliabilityPlot(&w).add(out, "reliability")
}

// reliabilityPlot is the model's, in the evening, threshold by threshold.
func (r *Report) reliabilityPlot(w *page) plot {
	p := plot{title: "Chance said and share that came", xLabel: "chance said, %", yLabel: "came, %", xMax: 100, yMax: 100, diagonal: true}
	if len(r.Leads) == 0 {
		return p
	}
	p.title += ", " + r.Leads[0].Label
	list := r.Leads[0].Thresholds
	if len(list) > maxPlotLines {
		p.title += fmt.Sprintf(" (%d of %d thresholds)", maxPlotLines, len(list))
		list = list[:maxPlotLines]
	}
	for _, t := range list {
		s := line{name: "at or below " + w.temp(t.ThresholdC)}
		for _, b := range t.Reliability {
			if b.N > 0 {
				s.x, s.y = append(s.x, 100*float64(b.Said)), append(s.y, 100*float64(b.Seen))
			}
		}
		p.lines = append(p.lines, s)
	}
	return p
}

// plot is a picture with both axes from zero, or with named places along x.
type plot struct {
	title, xLabel, yLabel string
	xNames                []string
	xMax, yMax            float64
	diagonal              bool
	lines                 []line
}

// maxPlotLines is how many lines can be told apart in one picture; the report's
// text and JSON have all.
const maxPlotLines = 5

type line struct {
	name string
	x, y []float64
}

const (
	plotW, plotH                             = 720, 400
	plotLeft, plotRight, plotTop, plotBottom = 60, 24, 40, 100
	legendWide                               = 200 // of one name, three in a row
)

// plotStyle: Okabe and Ito's palette; lines differ by dash as well as by colour.
const plotStyle = `<style>
.g{fill:#fff}.t{fill:#222;font:13px sans-serif}.h{fill:#222;font:bold 14px sans-serif}.a{stroke:#222;fill:none}.l{stroke:#ddd;fill:none}.z{stroke:#777;fill:none;stroke-dasharray:2 3}
.s{fill:none;stroke-width:2}.c0{stroke:#0072b2}.c1{stroke:#d55e00;stroke-dasharray:8 3}.c2{stroke:#007a5a;stroke-dasharray:2 3}.c3{stroke:#a0508a;stroke-dasharray:9 3 2 3}.c4{stroke:#555;stroke-dasharray:4 4}
@media (prefers-color-scheme:dark){.g{fill:#16181c}.t,.h{fill:#e4e4e4}.a{stroke:#e4e4e4}.l{stroke:#3a3d44}.z{stroke:#999}.c0{stroke:#56b4e9}.c1{stroke:#f0a030}.c2{stroke:#2fc79a}.c3{stroke:#e08fc8}.c4{stroke:#bbb}}
</style>`

var escapes = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

// add draws the plot, unless nothing is in it.
func (p plot) add(to []Plot, name string) []Plot {
	points := 0
	for _, s := range p.lines {
		points += len(s.x)
	}
	if points == 0 || !(p.xMax > 0) || !(p.yMax > 0) {
		return to
	}
	return append(to, Plot{name, p.svg()})
}

func (p *plot) px(x float64) float64 { return plotLeft + x/p.xMax*(plotW-plotLeft-plotRight) }
func (p *plot) py(y float64) float64 { return plotH - plotBottom - y/p.yMax*(plotH-plotTop-plotBottom) }

func (p *plot) svg() string {
	var b strings.Builder
	title := escapes.Replace(p.title)
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"%s\">\n<title>%s</title>\n%s\n", plotW, plotH, title, title, plotStyle)
	fmt.Fprintf(&b, "<rect class=\"g\" width=\"%d\" height=\"%d\"/>\n<text class=\"h\" x=\"%d\" y=\"22\">%s</text>\n", plotW, plotH, plotLeft, title)
	yStep := roundStep(p.yMax)
	p.yMax = yStep * math.Ceil(p.yMax/yStep-1e-9)
	for i := 0; float64(i)*yStep <= p.yMax+1e-9*yStep; i++ {
		y := float64(i) * yStep
		fmt.Fprintf(&b, "<path class=\"l\" d=\"M%d %.1fH%d\"/><text class=\"t\" x=\"%d\" y=\"%.1f\" text-anchor=\"end\">%.4g</text>\n", plotLeft, p.py(y), plotW-plotRight, plotLeft-6, p.py(y)+4, y)
	}
	p.xTicks(&b)
	fmt.Fprintf(&b, "<path class=\"a\" d=\"M%d %dV%dH%d\"/>\n", plotLeft, plotTop, plotH-plotBottom, plotW-plotRight)
	if p.diagonal {
		fmt.Fprintf(&b, "<path class=\"z\" d=\"M%.1f %.1fL%.1f %.1f\"/>\n", p.px(0), p.py(0), p.px(p.xMax), p.py(p.yMax))
	}
	for i, s := range p.lines {
		p.draw(&b, i, s)
	}
	fmt.Fprintf(&b, "<text class=\"t\" x=\"%d\" y=\"%d\" text-anchor=\"middle\">%s</text>\n", (plotLeft+plotW-plotRight)/2, plotH-plotBottom+38, escapes.Replace(p.xLabel))
	fmt.Fprintf(&b, "<text class=\"t\" transform=\"translate(16 %d) rotate(-90)\" text-anchor=\"middle\">%s</text>\n</svg>\n", (plotTop+plotH-plotBottom)/2, escapes.Replace(p.yLabel))
	return b.String()
}

func (p *plot) xTicks(b *strings.Builder) {
	step, names := roundStep(p.xMax), p.xNames
	if names != nil {
		step = 1
	}
	for i := 0; float64(i)*step <= p.xMax+1e-9*step; i++ {
		x := float64(i) * step
		name, anchor := fmt.Sprintf("%.4g", x), "middle"
		if names != nil {
			if i >= len(names) {
				break
			}
			name = names[i]
			if i == 0 {
				anchor = "start"
			} else if i == len(names)-1 {
				anchor = "end"
			}
		}
		fmt.Fprintf(b, "<path class=\"l\" d=\"M%.1f %dV%d\"/><text class=\"t\" x=\"%.1f\" y=\"%d\" text-anchor=\"%s\">%s</text>\n",
			p.px(x), plotTop, plotH-plotBottom, p.px(x), plotH-plotBottom+18, anchor, escapes.Replace(name))
	}
}

// draw draws line i with its name below the picture.
func (p *plot) draw(b *strings.Builder, i int, s line) {
	fmt.Fprintf(b, "<path class=\"s c%d\" d=\"", i%maxPlotLines)
	for k := range s.x {
		letter := 'L'
		if k == 0 {
			letter = 'M'
		}
		fmt.Fprintf(b, "%c%.1f %.1f", letter, p.px(s.x[k]), p.py(s.y[k]))
	}
	b.WriteString("\"/>\n")
	for k := range s.x {
		fmt.Fprintf(b, "<circle class=\"s c%d\" style=\"stroke-dasharray:none\" cx=\"%.1f\" cy=\"%.1f\" r=\"3\"/>", i%maxPlotLines, p.px(s.x[k]), p.py(s.y[k]))
	}
	x, y := plotLeft+legendWide*(i%3), plotH-34+18*(i/3%2)
	fmt.Fprintf(b, "\n<path class=\"s c%d\" d=\"M%d %dh28\"/><text class=\"t\" x=\"%d\" y=\"%d\">%s</text>\n", i%maxPlotLines, x, y-4, x+34, y, escapes.Replace(s.name))
}

// roundStep is a round distance of which five to ten make top.
func roundStep(top float64) float64 {
	mag := math.Pow(10, math.Floor(math.Log10(top)))
	for _, m := range []float64{0.1, 0.2, 0.5, 1} {
		if top/(m*mag) <= 10 {
			return m * mag
		}
	}
	panic("hindcast: roundStep of " + fmt.Sprint(top))
}
