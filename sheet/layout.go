package sheet

import (
	"math"
	"strings"
	"unicode"
)

// The page. Lengths are in mm, type in points. What a printer's own sans serif
// measures is not known here, so text is measured as Helvetica and taken to be
// wider by wideFont: Arial and Liberation Sans are as wide, Noto Sans is 1.07 times,
// DejaVu Sans 1.15; for the last, room left over elsewhere is used up.
const (
	pageMarginMM = 8.0
	wideFont     = 1.15
	boldWider    = 1.07
	lineHeight   = 1.22 // of the type size, set in the style sheet
	mmPerPoint   = 25.4 / 72
	safetyMM     = 3.0 // left free at the foot
	cellPadMM    = 1.5 // left and right of a cell's text, together
)

// printableMM is width and height of what can be printed on.
func (p Paper) printableMM() (width, height float64) {
	if p == A4 {
		return 210 - 2*pageMarginMM, 297 - 2*pageMarginMM
	}
	return 215.9 - 2*pageMarginMM, 279.4 - 2*pageMarginMM
}

// typeSizes are tried from the largest on, in points, for the tables.
var typeSizes = []float64{9, 8.5, 8, 7.5, 7}

// Widths of signs in thousandths of the type size, as the Adobe font metrics of
// Helvetica have them (from memory; they only decide how small the type gets).
var signWidths = func() map[rune]float64 {
	m := map[rune]float64{}
	for w, signs := range map[float64]string{222: "ijl'", 278: " .,:;!|/\\tfI[]", 333: "r-()`", 400: "°", 500: "ckvxyzsJ", 556: "abdeghnopqu0123456789LF?$_#–",
		584: "+<>=−~", 611: "TZ", 667: "ABEKPSVXY", 722: "CDHNRUw", 778: "GOQ", 833: "mM", 889: "%", 944: "W", 1000: "…—▲◆□○•"} {
		for _, r := range signs {
			m[r] = w
		}
	}
	return m
}()

func textMM(s string, points float64, bold bool) float64 {
	w := 0.0
	for _, r := range s {
		switch x, ok := signWidths[r]; {
		case ok:
			w += x
		case unicode.Is(unicode.Mn, r): // stands over the sign before it
		case r > 0x2e80:
			w += 1000
		default:
			w += 700
		}
	}
	w *= points * mmPerPoint / 1000 * wideFont
	if bold {
		w *= boldWider
	}
	return w
}

// lines is how many lines a text takes in a width; words break only where one is
// wider than a line.
func lines(text string, widthMM, points float64, bold bool) int {
	space := textMM(" ", points, bold)
	n, at := 1, 0.0
	for i, word := range strings.Fields(text) {
		w := textMM(word, points, bold)
		switch {
		case i == 0 || at+space+w <= widthMM:
			if i > 0 {
				at += space
			}
			at += w
		default:
			n++
			at = w
		}
		if at > widthMM {
			more := math.Ceil(at/widthMM) - 1
			n += int(more)
			at -= more * widthMM
		}
	}
	return n
}

func lineMM(points float64) float64 { return points * mmPerPoint * lineHeight }

// column is one column of a table: its width in mm of a page 190 mm wide.
type column struct {
	Head  string
	Class string // b bold, n number, w to write in
	MM    float64
}

// Share is a column's width in per cent, for the style sheet.
func (c column) Share(all []column) float64 { return math.Round(1000*c.MM/widthOf(all)) / 10 }

func widthOf(all []column) (sum float64) {
	for _, x := range all {
		sum += x.MM
	}
	return sum
}

// grid is a table of the sheet.
type grid struct {
	Columns []column
	Rows    []gridRow
}

type gridRow struct {
	Class string
	Cells []string
}

// heightMM estimates a table with its head. Rows of class sky have the least
// padding.
func (g *grid) heightMM(pageMM, points, padMM float64) float64 {
	if len(g.Rows) == 0 {
		return 0
	}
	h := 0.0
	for i := -1; i < len(g.Rows); i++ {
		most, pad := 1, padMM
		for k, c := range g.Columns {
			text := c.Head
			if i >= 0 {
				text = g.Rows[i].Cells[k]
			}
			if c.Class == "n" && i >= 0 {
				continue // never broken
			}
			most = max(most, lines(text, pageMM*c.MM/widthOf(g.Columns)-cellPadMM, points, c.Class == "b"))
		}
		if i < 0 || g.Rows[i].Class == "sky" {
			pad = blockPadMM
		}
		h += float64(most)*lineMM(points) + pad
	}
	return h
}
