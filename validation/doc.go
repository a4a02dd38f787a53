package main

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// writer gathers the page and its plots.
type writer struct {
	b     strings.Builder
	plots []page
	want  []target
}

// target is one figure that was asked for, and what was reached.
type target struct {
	name, asked, reached string
	met                  bool
}

func (w *writer) printf(format string, a ...any) { fmt.Fprintf(&w.b, format, a...) }

// plot adds an SVG below docs/validation and shows it.
func (w *writer) plot(name, alt, svg string) {
	w.plots = append(w.plots, page{"validation/" + name + ".svg", svg})
	w.printf("\n![%s](validation/%s.svg)\n", alt, name)
}

// table writes a Markdown table; the first row is its head.
func (w *writer) table(rows ...[]string) {
	w.printf("\n")
	for i, r := range rows {
		w.printf("| %s |\n", strings.Join(r, " | "))
		if i == 0 {
			w.printf("|%s\n", strings.Repeat("---|", len(r)))
		}
	}
	w.printf("\n")
}

// goal notes a target for the list at the head of the page.
func (w *writer) goal(name, asked, reached string, met bool) {
	w.want = append(w.want, target{name, asked, reached, met})
}

func signed(v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	return fmt.Sprintf("%+.2f", v)
}

func plain(v float64, digits int) string {
	if math.IsNaN(v) {
		return "-"
	}
	return strconv.FormatFloat(v, 'f', digits, 64)
}

// both is bias and RMSE of a score.
func both(s score) string {
	if s.N == 0 {
		return "-"
	}
	return fmt.Sprintf("%+.2f / %.2f", s.Bias(), s.RMSE())
}

var numberInText = regexp.MustCompile(`[-+]?\d+(\.\d+)?`)

// differs tells where two texts differ by more than the last printed digit of a
// number (processors round the last bits of a float differently, and a printed
// digit may tip over); "" if nowhere.
func differs(old, now string) string {
	a, b := strings.Split(old, "\n"), strings.Split(now, "\n")
	for i := range max(len(a), len(b)) {
		if i >= len(a) || i >= len(b) {
			return fmt.Sprintf("line %d is in one of the two only", i+1)
		}
		if a[i] == b[i] {
			continue
		}
		if numberInText.ReplaceAllString(a[i], "#") != numberInText.ReplaceAllString(b[i], "#") {
			return fmt.Sprintf("line %d: %q, now %q", i+1, clip(a[i]), clip(b[i]))
		}
		x, y := numberInText.FindAllString(a[i], -1), numberInText.FindAllString(b[i], -1)
		for k := range x {
			u, _ := strconv.ParseFloat(x[k], 64)
			v, _ := strconv.ParseFloat(y[k], 64)
			_, frac, _ := strings.Cut(x[k], ".")
			if math.Abs(u-v) > 1.01*math.Pow(10, -float64(len(frac))) {
				return fmt.Sprintf("line %d: %s, now %s", i+1, x[k], y[k])
			}
		}
	}
	return ""
}

func clip(s string) string {
	if len(s) > 100 {
		return s[:100] + "..."
	}
	return s
}
