package sheet

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

//go:embed night.html.tmpl
var nightFiles embed.FS

var nightTemplate = template.Must(template.ParseFS(nightFiles, "night.html.tmpl"))

// nightPage is what the template prints.
type nightPage struct {
	Paper     Paper
	Points    float64 // of the tables
	Small     float64 // of the small print
	MarginMM  float64
	Title     string
	Both      string // both days
	Farm      string
	For       string
	Headline  string
	Counts    string
	Low       string // the one number
	LowWhere  string
	Crew      string
	Clock     grid
	Blocks    grid
	Pairs     grid // blocks with nothing to do, two to a line
	PairsHead string
	Left      []string // what is not on the page, and where it is
	Look      []string // not to be started, unknown, short
	Cautions  []caution
	From      []string
	Blank     []int // rows for readings by hand
	BlankMM   float64
}

type caution struct{ Kind, Text string }

// Night writes the night sheet: an HTML page for print that is one sheet of A4 or
// Letter, black and white, without anything to load. What to do stands in order of
// time, with both days; then the blocks, the most worrying first; then what not to
// do, what is unknown, and the cautions of everything advised.
//
// It fits by itself. Type gets smaller, down to 7 points, and blocks with nothing
// to do stand two to a line. Then, in this order, starts within a quarter, a half
// and a whole hour of one another share a line (each block's own time stands beside
// the block), all but the blocks to act on and the unknown stand two to a line and
// sunset and sunrise move to the head, cautions are kept to the first few of each kind, quiet blocks are named in one
// line, and the blocks at the end of the list are counted in one line that says how
// many, how near to harm, and where they are. Nothing is left out
// without such a line, and nothing is cut off by the edge of the page: should a
// printer's fonts be wider than any common one, a second page comes.
func Night(w io.Writer, a *nights.Answer, f *farm.Farm, o Options) error {
	v, err := newView(a, f, o)
	if err != nil {
		return err
	}
	p := v.fitNight()
	var b bytes.Buffer
	if err := nightTemplate.Execute(&b, p); err != nil {
		return fmt.Errorf("sheet: writing the night sheet: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

// squeeze says how much a page is made smaller.
type squeeze struct {
	points  float64
	two     bool          // blocks with nothing to do stand two to a line
	others  bool          // and so do all but those to act on and the unknown
	within  time.Duration // starts that share a line
	noQuiet bool          // quiet blocks in one line
	blocks  int           // rows of blocks at most; 0 = all
	plain   int           // cautions of each kind at most; 0 = all
}

// squeezes runs from the roomiest page to the tightest.
func (v *view) squeezes(yield func(squeeze) bool) {
	const enough = 8.0 // points: below it, two to a line is easier to read
	for _, points := range typeSizes {
		if points >= enough && !yield(squeeze{points: points}) {
			return
		}
	}
	for _, points := range typeSizes {
		if points <= enough+1 && !yield(squeeze{points: points, two: true}) {
			return
		}
	}
	s := squeeze{points: typeSizes[len(typeSizes)-1], two: true}
	for _, within := range []time.Duration{15 * time.Minute, 30 * time.Minute, time.Hour} {
		if s.within = within; !yield(s) {
			return
		}
	}
	if s.others = true; !yield(s) {
		return
	}
	if s.plain = 3; !yield(s) {
		return
	}
	if s.noQuiet = true; !yield(s) {
		return
	}
	if s.plain = 1; !yield(s) {
		return
	}
	s.within = 24 * time.Hour
	for s.blocks = len(v.a.Blocks); s.blocks > 0; s.blocks-- {
		if !yield(s) {
			return
		}
	}
}

// fitNight takes the roomiest page that fits, or the tightest there is.
func (v *view) fitNight() (p *nightPage) {
	width, height := v.o.Paper.printableMM()
	for s := range v.squeezes {
		p = v.nightPage(s)
		left := height - safetyMM - p.heightMM(width)
		if left < 0 {
			continue
		}
		p.BlankMM = 7 // what is left over is for readings by hand
		if n := int((left - headingMM - lineMM(p.Points) - 1) / p.BlankMM); n >= 2 {
			p.Blank = make([]int, min(n, 10))
		}
		return p
	}
	return p
}

// nightPage lays a page out.
func (v *view) nightPage(s squeeze) *nightPage {
	p := &nightPage{Paper: v.o.Paper, Points: s.points, Small: max(6.5, s.points-1), MarginMM: pageMarginMM, Farm: v.a.FarmName, Both: v.bothDays()}
	p.Title = "Night sheet, " + p.Both + ", " + p.Farm
	if who := v.person(); who != nil {
		p.For = "for " + who.Name
	}
	p.Headline, p.Counts = v.headline()
	if b := v.coldest(); b != nil {
		n := tonight(b)
		p.Low = v.temperature(n.Min.P50C)
		p.LowWhere = "lowest likely: " + b.BlockID + " " + cut(b.Name, 24)
		if !n.MinAt.IsZero() {
			p.LowWhere += ", about " + v.clock(five(n.MinAt))
		}
	}
	p.Crew = v.crew()
	if s.others {
		p.Crew = fmt.Sprintf("Sunset %s, sunrise %s. ", v.clock(v.a.Nights[0].Sunset), v.clock(v.a.Nights[0].Sunrise)) + p.Crew
	}
	p.Clock = v.clockGrid(s)
	p.Blocks, p.Pairs, p.Left = v.blockGrids(s)
	p.PairsHead = "Nothing to do, in the same order"
	if s.others {
		p.PairsHead = "The others, in the same order"
	}
	p.Look = v.lookAt()
	p.Cautions = v.cautions(s.plain)
	p.From = v.provenance()
	return p
}

// headline is the answer in words.
func (v *view) headline() (head, counts string) {
	n, act := len(v.a.Blocks), v.count(nights.Act)
	words := map[nights.Urgency]string{nights.Act: "act", nights.Watch: "watch", nights.Prepare: "prepare", nights.Quiet: "quiet", nights.Unknown: "unknown"}
	first := nights.Urgency("")
	switch {
	case act > 0:
		first, head = nights.Act, fmt.Sprintf("▲ ACT ON %d OF %s", act, strings.ToUpper(plural(n, "block", "blocks")))
	case v.count(nights.Watch) > 0:
		first, head = nights.Watch, fmt.Sprintf("◆ WATCH %d OF %s", v.count(nights.Watch), strings.ToUpper(plural(n, "block", "blocks")))
	case v.count(nights.Unknown) == n:
		first, head = nights.Unknown, "? NO ANSWER FOR ANY BLOCK"
	default:
		head = "○ NOTHING TO DO TONIGHT"
	}
	var rest []string
	for _, u := range []nights.Urgency{nights.Watch, nights.Prepare, nights.Quiet, nights.Unknown} {
		if c := v.count(u); c > 0 && u != first {
			rest = append(rest, fmt.Sprintf("%s %d", words[u], c))
		}
	}
	return head, strings.Join(rest, ", ")
}

// crew lists who can work through the night, with their numbers.
func (v *view) crew() string {
	var out []string
	for _, p := range v.f.People {
		if p.Night {
			out = append(out, strings.TrimSpace(p.Name+" "+p.Phone))
		}
	}
	if len(out) == 0 {
		return "Nobody is listed for the night."
	}
	const most = 8
	if len(out) > most {
		out = append(out[:most], fmt.Sprintf("and %d more", len(out)-most))
	}
	return "Out tonight: " + strings.Join(out, ", ") + "."
}

// clockGrid is what to do at what time.
func (v *view) clockGrid(s squeeze) grid {
	g := grid{Columns: []column{{"When", "b", 26}, {"What", "", 112}, {"Where", "b", 36}, {"Done by, at", "w", 20}}}
	n := &v.a.Nights[0]
	type entry struct {
		at  time.Time
		row gridRow
	}
	var list []entry
	names := 60 // signs: with their names, where that is not longer
	if s.within > 0 {
		names = 0
	}
	for _, t := range v.gather(s.within) {
		when := "first of all"
		if !t.at.IsZero() {
			when = v.clock(t.at)
		}
		if t.last.After(t.at) {
			when += "\u2013" + t.last.In(v.zone).Format("15:04")
		}
		list = append(list, entry{t.at, gridRow{"", []string{when, t.text(v), v.names(t.blocks, names), ""}}})
	}
	marks := []entry{{n.Sunset, gridRow{"sky", []string{v.clock(n.Sunset), "Sunset", "", ""}}}, {n.Sunrise, gridRow{"sky", []string{v.clock(n.Sunrise), "Sunrise", "", ""}}}}
	if b := v.coldest(); b != nil && !b.Nights[0].MinAt.IsZero() {
		at := five(b.Nights[0].MinAt)
		marks = append(marks, entry{at, gridRow{"sky", []string{v.clock(at), "Coldest about now", b.BlockID + " " + b.Name, ""}}})
	}
	if len(list) == 0 {
		list = append(list, entry{v.a.At, gridRow{"", []string{"", "Nothing is advised for tonight.", "", ""}}})
	}
	if !s.others {
		list = append(list, marks...)
	}
	slices.SortStableFunc(list, func(a, b entry) int { return a.at.Compare(b.at) })
	for _, e := range list {
		g.Rows = append(g.Rows, e.row)
	}
	return g
}

// gathered is a task, or several that share a line from at to last.
type gathered struct {
	task
	last time.Time
	many bool
}

// gather joins tasks of one kind that lie within a time of the first.
func (v *view) gather(within time.Duration) (out []gathered) {
	for _, t := range v.tasks() {
		i := slices.IndexFunc(out, func(x gathered) bool {
			return within > 0 && x.verb == t.verb && x.kind == t.kind && x.ahead == t.ahead && !x.at.IsZero() && !t.at.IsZero() && t.at.Sub(x.at) <= within
		})
		if i < 0 {
			out = append(out, gathered{task: t, last: t.at})
			continue
		}
		g := &out[i]
		g.blocks, g.last, g.many = append(slices.Clone(g.blocks), t.blocks...), t.at, true
	}
	return out
}

// text of several says that each block has its own moments.
func (g *gathered) text(v *view) string {
	if !g.many {
		return g.task.text(v)
	}
	t := g.task
	t.airC, t.until = nil, time.Time{}
	return strings.TrimSuffix(t.text(v), ".") + "; each block at its own times, below."
}

// blockGrids lists blocks, the most worrying first: those with something to do or
// to mind, and, two to a line, the others. It says what is not listed.
func (v *view) blockGrids(s squeeze) (g, pairs grid, left []string) {
	deg := v.degrees()
	g.Columns = []column{{"", "b", 23}, {"Block", "", 36}, {"Likely " + deg, "n", 15}, {"8 nights in 10", "n", 23}, {"10 % die at", "n", 16}, {"Margin", "n", 13}, {"Damage", "n", 13}, {"What", "t", 53}}
	half := []column{{"", "b", 17}, {"Block", "", 42}, {"Likely " + deg, "n", 12}, {"Margin", "n", 11}, {"Damage", "n", 12}}
	pairs.Columns = append(append(slices.Clone(half), column{"", "", 2}), half...)
	var quiet, over []*nights.BlockAnswer
	var plain [][]string
	for i := range v.a.Blocks {
		b := &v.a.Blocks[i]
		switch row := v.blockRow(b, s.points, g.Columns); {
		case s.noQuiet && b.Urgency == nights.Quiet:
			quiet = append(quiet, b)
		case s.blocks > 0 && len(g.Rows)+len(plain) >= s.blocks:
			over = append(over, b)
		case s.two && row.Cells[7] == "", s.others && b.Urgency != nights.Act && b.Urgency != nights.Unknown:
			note := ""
			if row.Cells[7] != "" {
				note = ": " + v.doingShort(b)
			}
			name := v.oneLine(b, note, half[1].MM/widthOf(pairs.Columns), s.points)
			plain = append(plain, []string{row.Cells[0], name, row.Cells[2], row.Cells[5], row.Cells[6]})
		default:
			g.Rows = append(g.Rows, row)
		}
	}
	for i, n := 0, (len(plain)+1)/2; i < n; i++ { // down the first column, then the second
		second := make([]string, len(half))
		if i+n < len(plain) {
			second = plain[i+n]
		}
		pairs.Rows = append(pairs.Rows, gridRow{"", slices.Concat(plain[i], []string{""}, second)})
	}
	if len(quiet) > 0 {
		left = append(left, fmt.Sprintf("○ %s not listed: %s.%s", plural(len(quiet), "quiet block is", "quiet blocks are"), v.ids(quiet), v.nearest(quiet)))
	}
	if len(over) > 0 {
		left = append(left, fmt.Sprintf("NOT ON THIS PAGE: %s (%s): %s.%s See the page Tonight or the table.", plural(len(over), "block", "blocks"), v.kinds(over), v.ids(over), v.nearest(over)))
	}
	return g, pairs, left
}

// oneLine is a block with a note, its name cut until both fit one line of a share
// of the page.
func (v *view) oneLine(b *nights.BlockAnswer, note string, share, points float64) string {
	width, _ := v.o.Paper.printableMM()
	for n := 40; n > 3; n-- {
		if s := b.BlockID + " " + cut(b.Name, n) + note; textMM(s, points, false) <= width*share-cellPadMM {
			return s
		}
	}
	return b.BlockID + note
}

func (v *view) blockRow(b *nights.BlockAnswer, points float64, cols []column) gridRow {
	cells := []string{mark(b.Urgency), v.oneLine(b, "", cols[1].MM/widthOf(cols), points), "", "", "", "", "", v.doing(b)}
	if n := tonight(b); n != nil && n.Min != nil {
		u := v.o.Units
		cells[2] = bare(u.Temperature(n.Min.P50C))
		cells[3] = bare(u.Temperature(n.Min.P10C)) + " to " + bare(u.Temperature(n.Min.P90C))
		if n.CriticalC != nil {
			cells[4] = bare(u.Temperature(*n.CriticalC))
		}
		if n.MarginK != nil {
			cells[5] = bare(u.SignedDifference(*n.MarginK))
		}
		if n.Risk != nil {
			cells[6] = percent(n.Risk.Probability)
		}
	} else if cells[7] == "" {
		cells[7] = "see below"
	}
	return gridRow{string(b.Urgency), cells}
}

// ids lists blocks, the first of many.
func (v *view) ids(list []*nights.BlockAnswer) string {
	const most = 40
	var out []string
	for _, b := range list[:min(len(list), most)] {
		out = append(out, b.BlockID)
	}
	if len(list) > most {
		out = append(out, fmt.Sprintf("and %d more", len(list)-most))
	}
	return strings.Join(out, ", ")
}

// kinds counts blocks by urgency.
func (v *view) kinds(list []*nights.BlockAnswer) string {
	var out []string
	for _, u := range []nights.Urgency{nights.Act, nights.Unknown, nights.Watch, nights.Prepare, nights.Quiet} {
		n := 0
		for _, b := range list {
			if b.Urgency == u {
				n++
			}
		}
		if n > 0 {
			out = append(out, fmt.Sprintf("%d %s", n, u))
		}
	}
	return strings.Join(out, ", ")
}

// nearest says how near to harm the nearest of some blocks is.
func (v *view) nearest(list []*nights.BlockAnswer) string {
	var least *quantity.Kelvin
	where := ""
	for _, b := range list {
		if n := tonight(b); n != nil && n.MarginK != nil && (least == nil || *n.MarginK < *least) {
			least, where = n.MarginK, b.BlockID
		}
	}
	if least == nil {
		return ""
	}
	return " Smallest margin " + strings.Replace(v.o.Units.SignedDifference(*least), "-", "\u2212", 1) + " (" + where + ")."
}

// heightMM estimates the page.
func (p *nightPage) heightMM(width float64) float64 {
	h := headMM
	if textMM(p.Headline+" ", 14, true)+textMM("("+p.Counts+")", 10, false) > width-6-textMM(p.LowWhere, 8.5, false) {
		h += lineMM(14)
	}
	h += float64(lines(p.Crew, width, p.Points, false))*lineMM(p.Points) + 1
	h += 2*headingMM + p.Clock.heightMM(width, p.Points, clockPadMM) + p.Blocks.heightMM(width, p.Points, blockPadMM)
	if len(p.Pairs.Rows) > 0 {
		h += headingMM + p.Pairs.heightMM(width, p.Points, blockPadMM)
	}
	for _, s := range p.Left {
		h += float64(lines(s, width, p.Points, true))*lineMM(p.Points) + 0.6
	}
	for _, s := range p.Look {
		h += float64(lines(s, width-4, p.Points, false)) * lineMM(p.Points)
	}
	if len(p.Look) > 0 {
		h += headingMM
	}
	if len(p.Cautions) > 0 {
		h += headingMM + p.cautionsMM(width)
	}
	return h + float64(lines(strings.Join(p.From, " "), width, p.Small, false))*lineMM(p.Small) + 2
}

// Heights of parts, in mm, as the style sheet sets them.
const (
	headMM     = 18.6 // both days, farm, headline
	headingMM  = 5.6  // of a part, with the space above
	clockPadMM = 1.75 // rows that people write on
	blockPadMM = 0.48
)

// cautionsMM estimates the cautions, which run in two columns.
func (p *nightPage) cautionsMM(width float64) float64 {
	n := 0
	for _, c := range p.Cautions {
		n += lines(c.Kind+" "+c.Text, width/2-2.5, p.Small, false)
	}
	return float64((n+1)/2+1) * lineMM(p.Small)
}
