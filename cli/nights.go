package cli

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/decide/weather"
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
	v.para("", "", fmt.Sprintf("%s, as of %s", a.FarmName, dayClock(a.At, v.Zone)))
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

// weekNotes says what the table cannot: which blocks are unknown, which nights
// are not covered, and where the physics is outside its competence, each once.
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
	}
	for _, o := range outsideOf(blocks) {
		v.para("! ", "  ", o.where(len(blocks), v.Answer.Nights, v.Zone)+": "+sentence(o.text))
	}
}

// outside is one warning with the nights and blocks it is about.
type outside struct {
	code, text string
	nights     []int
	blocks     []string
	most       int // largest percentage of scenarios
}

// scenarioShare finds how many scenarios a warning speaks of.
var scenarioShare = regexp.MustCompile(`in (\d+) % of scenarios`)

// outsideOf gathers the warnings of all nights and blocks by their code.
func outsideOf(blocks []nights.BlockAnswer) (out []*outside) {
	for i := range blocks {
		for at, n := range blocks[i].Nights {
			for _, note := range n.Outside {
				k := slices.IndexFunc(out, func(o *outside) bool { return o.code == note.Code })
				if k < 0 {
					out = append(out, &outside{code: note.Code, text: note.Text})
					k = len(out) - 1
				}
				out[k].add(at, blocks[i].BlockID, note.Text)
			}
		}
	}
	return out
}

func (o *outside) add(night int, block, text string) {
	if !slices.Contains(o.nights, night) {
		o.nights = append(o.nights, night)
	}
	if !slices.Contains(o.blocks, block) {
		o.blocks = append(o.blocks, block)
	}
	if m := scenarioShare.FindStringSubmatch(text); m != nil {
		if n, err := strconv.Atoi(m[1]); err == nil && n > o.most {
			o.most = n
			o.text = strings.Replace(text, m[0], fmt.Sprintf("in up to %d %% of scenarios", n), 1)
		}
	}
}

// where names the nights by their evenings, and the blocks if not all.
func (o *outside) where(blocks int, nights []weather.Night, zone *time.Location) string {
	slices.Sort(o.nights)
	var evenings []string
	for _, n := range o.nights {
		evenings = append(evenings, nights[n].Sunset.In(zone).Format("Mon 2"))
	}
	at := "Evening of " + and(evenings)
	if len(o.nights) == len(nights) {
		at = "Every night"
	}
	if len(o.blocks) < blocks {
		at += ", " + and(o.blocks)
	}
	return at
}
