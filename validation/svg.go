package main

import (
	"fmt"
	"math"
	"strings"
)

// series is one line or cloud of a chart.
type series struct {
	name   string
	x, y   []float64 // NaN breaks a line
	points bool      // dots instead of a line
}

// chart is a plot with two linear axes, drawn as SVG without script, readable on
// a light and on a dark page: it brings its own ground and follows the reader's
// preference where the page lets it. Lines differ by dash as well as by colour.
type chart struct {
	title, xLabel, yLabel string
	series                []series
	xTicks                []tick  // nil = chosen
	yMin, yMax            float64 // both zero = chosen
	diagonal              bool    // draw y = x
	zero                  bool    // draw y = 0
}

type tick struct {
	at   float64
	name string
}

const (
	chartW, chartH           = 720, 380
	left, right, top, bottom = 62, 16, 40, 78
)

// svgStyle: colours from Okabe & Ito's palette, made lighter on dark ground.
const svgStyle = `<style>
.g{fill:#fff}.t{fill:#222;font:13px sans-serif}.h{fill:#222;font:bold 14px sans-serif}.a{stroke:#222;fill:none}.l{stroke:#ddd;fill:none}.z{stroke:#777;fill:none;stroke-dasharray:2 3}
.s{fill:none;stroke-width:1.8}.p{fill:none;stroke-width:4;stroke-linecap:round;stroke-opacity:.45}
.c0{stroke:#0072b2}.c1{stroke:#d55e00;stroke-dasharray:7 3}.c2{stroke:#007a5a;stroke-dasharray:2 3}.c3{stroke:#a0508a;stroke-dasharray:9 3 2 3}.c4{stroke:#555;stroke-dasharray:4 4}
.p.c0,.p.c1,.p.c2,.p.c3,.p.c4{stroke-dasharray:none}.b0{fill:#0072b2}.b1{fill:#d55e00}.b2{fill:#007a5a}.e{stroke:#222;stroke-width:1.4;fill:none}
@media (prefers-color-scheme:dark){.g{fill:#16181c}.t,.h{fill:#e4e4e4}.a,.e{stroke:#e4e4e4}.l{stroke:#3a3d44}.z{stroke:#999}.c0{stroke:#56b4e9}.c1{stroke:#f0a030}.c2{stroke:#2fc79a}.c3{stroke:#e08fc8}.c4{stroke:#bbb}.b0{fill:#56b4e9}.b1{fill:#f0a030}.b2{fill:#2fc79a}}
</style>`

func svgOpen(b *strings.Builder, title string, h int) {
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" aria-label="%s">`, chartW, h, escape(title))
	fmt.Fprintf(b, "\n<title>%s</title>\n%s\n<rect class=\"g\" width=\"%d\" height=\"%d\"/>\n", escape(title), svgStyle, chartW, h)
	fmt.Fprintf(b, "<text class=\"h\" x=\"%d\" y=\"22\">%s</text>\n", left, escape(title))
}

func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(s)
}

func extent(c chart) (x0, x1, y0, y1 float64) {
	x0, y0 = math.Inf(1), math.Inf(1)
	x1, y1 = math.Inf(-1), math.Inf(-1)
	for _, s := range c.series {
		for i := range s.x {
			if math.IsNaN(s.y[i]) {
				continue
			}
			x0, x1 = math.Min(x0, s.x[i]), math.Max(x1, s.x[i])
			y0, y1 = math.Min(y0, s.y[i]), math.Max(y1, s.y[i])
		}
	}
	if c.zero {
		y0, y1 = math.Min(y0, 0), math.Max(y1, 0)
	}
	if c.diagonal {
		x0, y0 = math.Min(x0, y0), math.Min(x0, y0)
		x1, y1 = math.Max(x1, y1), math.Max(x1, y1)
	}
	if c.yMin != c.yMax {
		y0, y1 = c.yMin, c.yMax
	}
	return x0, x1, y0, y1
}

// ticks returns round numbers from lo to hi, six or so.
func ticks(lo, hi float64) []tick {
	raw := (hi - lo) / 6
	mag := math.Pow(10, math.Floor(math.Log10(raw)))
	step := mag
	for _, m := range []float64{1, 2, 5, 10} {
		if step = m * mag; step >= raw {
			break
		}
	}
	digits := int(math.Max(0, -math.Floor(math.Log10(step)+1e-9)))
	var out []tick
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+1e-9*step; i++ {
		out = append(out, tick{i*step + 0, fmt.Sprintf("%.*f", digits, i*step+0)}) // + 0 turns a negative zero round
	}
	return out
}

func (c chart) svg() string {
	var b strings.Builder
	svgOpen(&b, c.title, chartH)
	x0, x1, y0, y1 := extent(c)
	if c.yMin == c.yMax {
		pad := 0.04 * (y1 - y0)
		y0, y1 = y0-pad, y1+pad
	}
	px := func(x float64) float64 { return left + (x-x0)/(x1-x0)*(chartW-left-right) }
	py := func(y float64) float64 { return chartH - bottom - (y-y0)/(y1-y0)*(chartH-top-bottom) }
	xt := c.xTicks
	if xt == nil {
		xt = ticks(x0, x1)
	}
	for _, t := range ticks(y0, y1) {
		fmt.Fprintf(&b, "<path class=\"l\" d=\"M%d %.1fH%d\"/><text class=\"t\" x=\"%d\" y=\"%.1f\" text-anchor=\"end\">%s</text>\n", left, py(t.at), chartW-right, left-6, py(t.at)+4, t.name)
	}
	for _, t := range xt {
		fmt.Fprintf(&b, "<path class=\"l\" d=\"M%.1f %dV%d\"/><text class=\"t\" x=\"%.1f\" y=\"%d\" text-anchor=\"middle\">%s</text>\n", px(t.at), top-6, chartH-bottom, px(t.at), chartH-bottom+17, escape(t.name))
	}
	fmt.Fprintf(&b, "<path class=\"a\" d=\"M%d %dV%dH%d\"/>\n", left, top-6, chartH-bottom, chartW-right)
	if c.zero {
		fmt.Fprintf(&b, "<path class=\"z\" d=\"M%d %.1fH%d\"/>\n", left, py(0), chartW-right)
	}
	if c.diagonal {
		fmt.Fprintf(&b, "<path class=\"z\" d=\"M%.1f %.1fL%.1f %.1f\"/>\n", px(x0), py(x0), px(x1), py(x1))
	}
	for i, s := range c.series {
		c.draw(&b, s, i, px, py)
	}
	fmt.Fprintf(&b, "<text class=\"t\" x=\"%d\" y=\"%d\" text-anchor=\"middle\">%s</text>\n", (left+chartW-right)/2, chartH-bottom+36, escape(c.xLabel))
	fmt.Fprintf(&b, "<text class=\"t\" transform=\"translate(16 %d) rotate(-90)\" text-anchor=\"middle\">%s</text>\n", (top+chartH-bottom)/2, escape(c.yLabel))
	legend(&b, c.series)
	b.WriteString("</svg>\n")
	return b.String()
}

func (c chart) draw(b *strings.Builder, s series, i int, px, py func(float64) float64) {
	class := "s"
	if s.points {
		class = "p"
	}
	fmt.Fprintf(b, "<path class=\"%s c%d\" d=\"", class, i%5)
	pen := false
	for k := range s.x {
		if math.IsNaN(s.y[k]) {
			pen = false
			continue
		}
		switch {
		case s.points:
			fmt.Fprintf(b, "M%.1f %.1fh0", px(s.x[k]), py(s.y[k]))
		case pen:
			fmt.Fprintf(b, "L%.1f %.1f", px(s.x[k]), py(s.y[k]))
		default:
			fmt.Fprintf(b, "M%.1f %.1f", px(s.x[k]), py(s.y[k]))
		}
		pen = true
	}
	b.WriteString("\"/>\n")
}

func legend(b *strings.Builder, list []series) {
	x := left
	for i, s := range list {
		if s.name == "" {
			continue
		}
		y := chartH - 14
		if s.points {
			fmt.Fprintf(b, "<path class=\"p c%d\" style=\"stroke-width:10;stroke-opacity:1\" d=\"M%d %dh0\"/>", i%5, x+12, y-4)
		} else {
			fmt.Fprintf(b, "<path class=\"s c%d\" d=\"M%d %dh24\"/>", i%5, x, y-4)
		}
		fmt.Fprintf(b, "<text class=\"t\" x=\"%d\" y=\"%d\">%s</text>\n", x+30, y, escape(s.name))
		x += 46 + 7*len([]rune(s.name))
	}
}

// bar is one row of a bar chart: a value, and a range it is held against.
type bar struct {
	name     string
	value    float64
	from, to float64 // what is written down; equal values give a tick
}

// barChart draws values as bars and the ranges beside them as brackets.
func barChart(title, unit, valueName, rangeName string, bars []bar) string {
	const row, labelW = 34, 190
	h := top + row*len(bars) + 62
	var b strings.Builder
	svgOpen(&b, title, h)
	lo, hi := 0.0, 0.0
	for _, r := range bars {
		lo, hi = math.Min(lo, math.Min(r.value, r.from)), math.Max(hi, math.Max(r.value, r.to))
	}
	hi += 0.05 * (hi - lo)
	px := func(v float64) float64 { return labelW + (v-lo)/(hi-lo)*(chartW-labelW-right) }
	end := top + row*len(bars)
	for _, t := range ticks(lo, hi) {
		fmt.Fprintf(&b, "<path class=\"l\" d=\"M%.1f %dV%d\"/><text class=\"t\" x=\"%.1f\" y=\"%d\" text-anchor=\"middle\">%s</text>\n", px(t.at), top-6, end, px(t.at), end+16, t.name)
	}
	for i, r := range bars {
		y := top + row*i
		fmt.Fprintf(&b, "<text class=\"t\" x=\"%d\" y=\"%d\" text-anchor=\"end\">%s</text>", labelW-8, y+17, escape(r.name))
		fmt.Fprintf(&b, "<rect class=\"b0\" x=\"%.1f\" y=\"%d\" width=\"%.1f\" height=\"14\"/>", math.Min(px(0), px(r.value)), y+2, math.Abs(px(r.value)-px(0)))
		fmt.Fprintf(&b, "<path class=\"e\" d=\"M%.1f %dv8M%.1f %dv8M%.1f %dH%.1f\"/>\n", px(r.from), y+18, px(r.to), y+18, px(r.from), y+22, px(r.to))
	}
	fmt.Fprintf(&b, "<path class=\"a\" d=\"M%.1f %dV%d\"/>\n", px(0), top-6, end)
	fmt.Fprintf(&b, "<rect class=\"b0\" x=\"%d\" y=\"%d\" width=\"24\" height=\"10\"/><text class=\"t\" x=\"%d\" y=\"%d\">%s</text>", left, end+34, left+30, end+44, escape(valueName))
	x := left + 60 + 7*len(valueName)
	fmt.Fprintf(&b, "<path class=\"e\" d=\"M%d %dv8M%d %dv8M%d %dh24\"/><text class=\"t\" x=\"%d\" y=\"%d\">%s</text>", x, end+36, x+24, end+36, x, end+40, x+30, end+44, escape(rangeName))
	fmt.Fprintf(&b, "<text class=\"t\" x=\"%d\" y=\"%d\" text-anchor=\"end\">%s</text>\n</svg>\n", chartW-right, end+44, escape(unit))
	return b.String()
}
