package cli

import (
	"path/filepath"
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
	p.para("", "", "An invented farm in an invented place. It is yours to try things on; its present moment is "+d.Now+":")
	rest := " --farm " + filepath.ToSlash(d.Path) + " --now '" + d.Now + "'"
	block := d.Farm.Blocks[0].ID
	for _, cmd := range []string{"tonight --block " + block, "nights", `whatif --block ` + block + ` --floor "bare firm" --floor "cover 12in"`, "feed list", "farm show"} {
		p.line("  budward %s%s", cmd, " \\")
		p.line("    %s", rest[1:])
	}
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
