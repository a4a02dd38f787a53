package cli

import (
	"path/filepath"

	"budward/vineyard/farm"
)

type demoCmd struct {
	Print bool   `help:"Print tonight and exit, leaving nothing behind."`
	Dir   string `help:"Folder to make the demo farm in (else budward-demo here)." placeholder:"DIR"`
}

// Run makes the demo farm, prints its tonight and says how to go on.
func (c *demoCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	dir := c.Dir
	if dir == "" && !c.Print {
		dir = "budward-demo"
	}
	d, err := o.Demo(r.ctx, dir)
	if err != nil {
		return err
	}
	r.office = both{d.Office, o}
	if err := r.tonight("", false, 7); err != nil || r.g.JSON || dir == "" {
		return err
	}
	p := r.page()
	p.blank()
	p.para("", "", "An invented farm in an invented place, "+d.Now+". It is yours to try things on ("+
		"with go run, write go run ./cmd/budward for budward):")
	block := d.Farm.Blocks[0].ID
	for _, b := range d.Farm.Blocks {
		if b.System.Kind == farm.Drip {
			block = b.ID
			break
		}
	}
	p.line("  export BUDWARD_FARM=%s", filepath.ToSlash(d.Path))
	for _, cmd := range []string{"tonight --block " + block, "nights", "farm show"} {
		p.line("  budward %s --now '%s'", cmd, d.Now)
	}
	p.line("  budward whatif --block %s --now '%s' \\", block, d.Now)
	p.line(`      --floor "bare firm" --floor "cover 12in" --run none --run water`)
	return r.print(p)
}

// both is one office whose close closes another as well.
type both struct {
	Office
	outer Office
}

// Close closes both.
func (b both) Close() error {
	err := b.Office.Close()
	if e := b.outer.Close(); err == nil {
		err = e
	}
	return err
}
