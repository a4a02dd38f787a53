package cli

import (
	"fmt"
	"io"
	"regexp"
	"strings"
	"unicode/utf8"
)

// Width is the number of columns everything printed fits into.
const Width = 80

// page collects the lines of one answer.
type page struct {
	b     strings.Builder
	color bool
}

func (p *page) line(format string, a ...any) {
	p.b.WriteString(strings.TrimRight(fmt.Sprintf(format, a...), " "))
	p.b.WriteByte('\n')
}

func (p *page) blank() { p.b.WriteByte('\n') }

// para writes a text wrapped to the width: first in front of the first line,
// rest in front of the others.
func (p *page) para(first, rest, text string) {
	for i, l := range wrap(text, Width-max(runes(first), runes(rest))) {
		lead := rest
		if i == 0 {
			lead = first
		}
		p.line("%s%s", lead, l)
	}
}

// heading writes a line that starts a part of a page.
func (p *page) heading(s string) {
	p.blank()
	p.line("%s", p.paint(bold, s))
}

func (p *page) writeTo(w io.Writer) error {
	_, err := io.WriteString(w, p.b.String())
	return err
}

// style is an SGR code.
type style string

// The colours are those of Okabe and Ito's palette for colour-blind readers, at
// the nearest of the 256 terminal colours; they stand beside words and shapes
// and never carry a meaning alone.
const (
	bold       style = "1"
	vermilion  style = "1;38;5;166"
	orange     style = "1;38;5;214"
	bluegreen  style = "38;5;36"
	skyblue    style = "1;38;5;74"
	colourless style = ""
)

func (p *page) paint(s style, text string) string {
	if !p.color || s == colourless || text == "" {
		return text
	}
	return "\x1b[" + string(s) + "m" + text + "\x1b[0m"
}

func runes(s string) int { return utf8.RuneCountInString(s) }

// wrap breaks a text between words so that no line is wider than width, unless
// one word is. A command in backquotes and a number with its unit stay together.
func wrap(text string, width int) []string {
	var lines []string
	line := ""
	for _, w := range words(text) {
		switch {
		case line == "":
			line = w
		case runes(line)+1+runes(w) <= width:
			line += " " + w
		default:
			lines, line = append(lines, line), w
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// maxTogether bounds what wrap keeps on one line.
const maxTogether = 40

var unitWords = regexp.MustCompile(`^(°F|°C|K|%|h|min|mph|m/s|gpm/ac|gpm|ac|ha|in|ft|mm|acft|m3|L/s)\W*$`)

// words cuts a text into what wrap keeps together.
func words(text string) (out []string) {
	open := false
	for _, w := range strings.Fields(text) {
		n := len(out) - 1
		number := n >= 0 && strings.ContainsAny(out[n][len(out[n])-1:], "0123456789")
		if n >= 0 && runes(out[n])+1+runes(w) <= maxTogether && (open || number && unitWords.MatchString(w)) {
			out[n] += " " + w
		} else {
			out = append(out, w)
		}
		if strings.Count(w, "`")%2 == 1 {
			open = !open
		}
	}
	return out
}

// cut shortens a text to width, with an ellipsis where it was longer.
func cut(s string, width int) string {
	if runes(s) <= width {
		return s
	}
	r := []rune(s)
	return strings.TrimRight(string(r[:width-1]), " ") + "…"
}

// left and right pad a text to width.
func left(s string, width int) string  { return s + strings.Repeat(" ", max(0, width-runes(s))) }
func right(s string, width int) string { return strings.Repeat(" ", max(0, width-runes(s))) + s }

// grid is a table: cells padded to the widest of their column.
type grid struct {
	right []bool // columns set to the right
	rows  [][]string
	max   []int // widest a column may be; 0 = as wide as it gets
}

func (g *grid) row(cells ...string) { g.rows = append(g.rows, cells) }

// lines returns the table's lines, two spaces between columns. The widths of its
// columns must add up to at most Width; cells longer than their column's max are
// cut.
func (g *grid) lines(indent string) []string {
	var width []int
	for _, r := range g.rows {
		for i, c := range r {
			if i >= len(width) {
				width = append(width, 0)
			}
			n := runes(c)
			if i < len(g.max) && g.max[i] > 0 {
				n = min(n, g.max[i])
			}
			width[i] = max(width[i], n)
		}
	}
	var out []string
	for _, r := range g.rows {
		var b strings.Builder
		b.WriteString(indent)
		for i, c := range r {
			if i > 0 {
				b.WriteString("  ")
			}
			c = cut(c, max(1, width[i]))
			if i < len(g.right) && g.right[i] {
				b.WriteString(right(c, width[i]))
			} else {
				b.WriteString(left(c, width[i]))
			}
		}
		out = append(out, strings.TrimRight(b.String(), " "))
	}
	return out
}

func (p *page) grid(g *grid, indent string) {
	for _, l := range g.lines(indent) {
		p.line("%s", l)
	}
}

// and joins words: "a", "a and b", "a, b and c".
func and(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

// plural writes a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
