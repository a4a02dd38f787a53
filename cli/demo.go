package cli

import (
	"path/filepath"

	"budward/vineyard/farm"
)

type demoCmd struct {
	Print  bool   `help:"Print tonight and exit, leaving nothing behind unless --dir names a folder."`
	Dir    string `help:"Folder to make the demo farm in (else budward-demo here)." placeholder:"DIR"`
	Listen string `help:"Address and port of the page; port 0 takes a free one." default:"127.0.0.1:8099" placeholder:"127.0.0.1:8099"`
	NoOpen bool   `help:"Serve the page without opening a browser."`
}

// Run makes the demo farm and serves its page, or prints its tonight and says
// how to go on.
func (c *demoCmd) Run(r *run) error {
	if !c.Print && !r.g.JSON {
		return c.page(r)
	}
	o, err := r.open()
	if err != nil {
		return err
	}
	dir := c.Dir
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

// page serves the demo farm, its clock going on from the demo's moment.
func (c *demoCmd) page(r *run) error {
	dir := c.Dir
	if dir == "" {
		dir = "budward-demo"
	}
	o, err := r.open()
	if err != nil {
		return err
	}
	d, err := o.Demo(r.ctx, dir)
	if err != nil {
		return err
	}
	r.office = both{d.Office, o}
	p := r.page()
	p.para("", "", "An invented farm in an invented place, "+d.Now+"; its farm file is "+filepath.ToSlash(d.Path)+
		". `budward demo --print` prints tonight instead.")
	if err := r.print(p); err != nil {
		return err
	}
	return r.serve(d.Office, ServeRequest{Listen: c.Listen, Open: !c.NoOpen})
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
