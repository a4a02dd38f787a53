package cli

import (
	"fmt"
	"strings"

	"budward/decide/nights"
)

type nightsCmd struct {
	Ahead int    `help:"Nights, 1 to 14." default:"7"`
	Block string `help:"Of one block." placeholder:"B"`
}

const maxAhead = 14

// Run prints every block, every night.
func (c *nightsCmd) Run(r *run) error {
	if c.Ahead < 1 || c.Ahead > maxAhead {
		return usage("--ahead %d: want 1 to %d", c.Ahead, maxAhead)
	}
	got, err := r.answer(c.Ahead)
	if err != nil {
		return err
	}
	blocks := got.Answer.Blocks
	if c.Block != "" {
		b, err := findBlock(got.Farm, c.Block)
		if err != nil {
			return err
		}
		for i, x := range blocks {
			if x.BlockID == b.ID {
				blocks = blocks[i : i+1]
				break
			}
		}
	}
	if r.g.JSON {
		out := []object{}
		for _, b := range blocks {
			out = append(out, object{{"block_id", b.BlockID}, {"name", b.Name}, {"urgency", b.Urgency}, {"unknown", b.Unknown}, {"nights", b.Nights}})
		}
		return r.json("budward.nights/1", object{{"farm_id", got.Answer.FarmID}, {"zone", got.Answer.Zone}, {"at", got.Answer.At}, {"seed", got.Answer.Seed},
			{"nights", got.Answer.Nights}, {"stations", got.Answer.Stations}, {"blocks", out}})
	}
	v := view{Answered: got, s: r.system, page: r.page()}
	v.week(blocks)
	return r.print(v.page)
}

const (
	perTable  = 7
	nightWide = 8
	nameWide  = Width - perTable*nightWide
)

// The chance of damage at which a night is marked.
const (
	likely   = 0.5
	possible = 0.05
)

// week is a table of nights by blocks: the likely minimum, marked where damage
// is possible or likely.
func (v *view) week(blocks []nights.BlockAnswer) {
	a := &v.Answer
	v.line("%s", v.paint(bold, fmt.Sprintf("Lowest temperature at cordon height, %s", degrees(v.s))))
	v.line("%s, as of %s", a.FarmName, dayClock(a.At, v.Zone))
	v.line("%s", "▲ damage likely (half or more)   ◆ possible (5 % or more)   - not covered")
	for from := 0; from < len(a.Nights); from += perTable {
		to := min(from+perTable, len(a.Nights))
		v.blank()
		head, next := left("", nameWide), left("", nameWide)
		for _, n := range a.Nights[from:to] {
			head += right(n.Sunset.In(v.Zone).Format("Mon 2")+" ", nightWide)
			next += right(n.Sunrise.In(v.Zone).Format("Mon 2")+" ", nightWide)
		}
		v.line("%s", head)
		v.line("%s", next)
		for i := range blocks {
			v.weekRow(&blocks[i], from, to)
		}
	}
	v.blank()
	v.weekNotes(blocks)
}

func (v *view) weekRow(b *nights.BlockAnswer, from, to int) {
	line := left(cut(b.BlockID+" "+b.Name, nameWide-1), nameWide)
	for i := from; i < to && i < len(b.Nights); i++ {
		n := &b.Nights[i]
		cell, mark, s := "-", " ", colourless
		if n.Min != nil {
			cell = bare(v.s.Temperature(n.Min.P50C))
			switch {
			case n.Risk == nil:
				mark, s = "?", skyblue
			case n.Risk.Probability >= likely:
				mark, s = "▲", vermilion
			case n.Risk.Probability >= possible:
				mark, s = "◆", orange
			}
		}
		line += right("", nightWide-runes(cell)-1) + v.paint(s, cell+mark)
	}
	v.line("%s", line)
}

// weekNotes says what the table cannot: which nights are not covered and why,
// and which blocks are unknown.
func (v *view) weekNotes(blocks []nights.BlockAnswer) {
	said := map[string]bool{}
	for i := range blocks {
		b := &blocks[i]
		if b.Unknown != "" {
			v.para("? ", "  ", b.BlockID+": "+sentence(b.Unknown))
		}
		for _, n := range b.Nights {
			if !n.Covered && n.Why != "" && !said[n.Label+n.Why] {
				said[n.Label+n.Why] = true
				v.para("- ", "  ", n.Label+": "+sentence(n.Why))
			}
		}
		for _, n := range b.Nights {
			for _, o := range n.Outside {
				if key := o.Code + n.Label; !said[key] {
					said[key] = true
					v.para("! ", "  ", strings.TrimSuffix(n.Label, ".")+": "+sentence(o.Text))
				}
			}
		}
	}
}
