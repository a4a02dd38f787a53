package cli

import (
	"context"
	"fmt"
	"strings"

	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/farm"
)

type farmCmd struct {
	Import farmImportCmd `cmd:"" help:"Keep the farm described by a folder of CSV files."`
	Show   farmShowCmd   `cmd:"" help:"What is kept of the farm, or of one block."`
	Check  farmCheckCmd  `cmd:"" help:"List every problem at once, of a folder or of the farm kept."`
	Export farmExportCmd `cmd:"" help:"Write everything as open files; --template writes CSV files to start from."`
}

type farmImportCmd struct {
	Dir string `arg:"" help:"Folder with farm.csv, stations.csv, blocks.csv and the others." placeholder:"DIR"`
	At  string `help:"When the change was made in the field (else now), for mowing and the like." placeholder:"TIME"`
	Who string `help:"Who made it."`
	Why string `help:"Why."`
}

// Run keeps a farm.
func (c *farmImportCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	change := store.Change{Who: c.Who, Why: c.Why}
	if c.At != "" {
		_, zone, err := o.Moment(r.ctx)
		if err != nil {
			return err
		}
		if change.At, err = ParseMoment(c.At, zone); err != nil {
			return err
		}
	}
	got, err := o.ImportFarm(r.ctx, c.Dir, change)
	if err != nil {
		return err
	}
	if r.g.JSON {
		if err := r.json("budward.import/1", object{{"kept", got.Kept}, {"new", got.New}, {"farm_file", got.Path},
			{"blocks_count", len(got.Farm.Blocks)}, {"problems", problems(got.Problems)}, {"defaults", got.Farm.Defaults}}); err != nil {
			return err
		}
		return refusal(got)
	}
	p := r.page()
	listProblems(p, got.Problems)
	if got.Kept {
		verb := "Kept in"
		if got.New {
			verb = "Made the farm file"
		}
		p.para("", "", fmt.Sprintf("%s: %s, %s. %s %s.", got.Farm.Name, plural(len(got.Farm.Blocks), "block", "blocks"),
			plural(len(got.Farm.Stations), "station", "stations"), verb, got.Path))
		if n := len(got.Farm.Defaults); n > 0 {
			p.line("%s taken for want of better: budward farm show --defaults", plural(n, "value was", "values were"))
		}
	}
	if err := r.print(p); err != nil {
		return err
	}
	return refusal(got)
}

func refusal(got Imported) error {
	if got.Kept {
		return nil
	}
	return &ProblemsError{countErrors(got.Problems)}
}

func countErrors(list []farm.Problem) (n int) {
	for _, x := range list {
		if x.Severity == farm.SeverityError {
			n++
		}
	}
	return n
}

func problems(list []farm.Problem) []farm.Problem { return append([]farm.Problem{}, list...) }

func listProblems(p *page, list []farm.Problem) {
	for _, x := range list {
		s := orange
		if x.Severity == farm.SeverityError {
			s = vermilion
		}
		word := left(string(x.Severity), 8)
		lines := wrap(x.String(), Width-9)
		for i, l := range lines {
			lead := strings.Repeat(" ", 8)
			if i == 0 {
				lead = p.paint(s, word)
			}
			p.line("%s %s", lead, l)
		}
	}
}

type farmCheckCmd struct {
	Dir string `arg:"" optional:"" help:"Folder to check before importing it; without it, the farm as kept." placeholder:"DIR"`
}

// Run lists problems.
func (c *farmCheckCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	look := o.CheckFarm
	if c.Dir != "" {
		look = func(ctx context.Context) (farm.Farm, []farm.Problem, error) { return o.ReadFarm(ctx, c.Dir) }
	}
	f, list, err := look(r.ctx)
	if err != nil {
		return err
	}
	bad := countErrors(list)
	if r.g.JSON {
		err = r.json("budward.check/1", object{{"ok", bad == 0}, {"problems", problems(list)}, {"defaults", append([]farm.Default{}, f.Defaults...)}})
	} else {
		p := r.page()
		listProblems(p, list)
		p.line("%s, %s, %s.", plural(bad, "error", "errors"), plural(len(list)-bad, "warning", "warnings"),
			plural(len(f.Defaults), "value taken for want of better", "values taken for want of better"))
		listDefaults(p, f.Defaults)
		err = r.print(p)
	}
	if err == nil && bad > 0 {
		return &ProblemsError{bad}
	}
	return err
}

func listDefaults(p *page, list []farm.Default) {
	for _, d := range list {
		p.para("  ", "    ", fmt.Sprintf("%s: %s = %s (%s)", d.Where, d.Field, d.Value, d.Why))
	}
}

type farmExportCmd struct {
	Dir      string `arg:"" help:"Folder to make; it must not exist or be empty." placeholder:"DIR"`
	Template bool   `help:"Only the CSV files of a small invented farm, to write over."`
}

// Run exports everything, or the template.
func (c *farmExportCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	var files []string
	if c.Template {
		files, err = o.Template(r.ctx, c.Dir)
	} else {
		var m store.Manifest
		m, err = o.ExportFarm(r.ctx, c.Dir)
		files = m.Files
	}
	if err != nil {
		return err
	}
	if r.g.JSON {
		return r.json("budward.files/1", object{{"folder", c.Dir}, {"files", files}})
	}
	p := r.page()
	p.line("%s in %s:", plural(len(files), "file", "files"), c.Dir)
	for _, f := range files {
		p.line("  %s", f)
	}
	if c.Template {
		p.line("Write your own farm over them, then: budward farm import %s", c.Dir)
	}
	return r.print(p)
}

type farmShowCmd struct {
	Block    string `help:"One block in full." placeholder:"B"`
	Defaults bool   `help:"Only what was taken for want of better."`
}

// Run shows the farm.
func (c *farmShowCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	f, err := o.Farm(r.ctx)
	if err != nil {
		return err
	}
	r.useUnits(f)
	switch p := r.page(); {
	case c.Block != "":
		b, err := findBlock(f, c.Block)
		if err != nil {
			return err
		}
		if r.g.JSON {
			return r.json("budward.block/1", b)
		}
		return r.print(showBlock(p, f, b, r.system))
	case r.g.JSON:
		return r.json("budward.farm/1", f)
	case c.Defaults:
		p.line("%s taken for want of better. Give the value in the CSV, and it is gone.", plural(len(f.Defaults), "value", "values"))
		listDefaults(p, f.Defaults)
		return r.print(p)
	default:
		return r.print(showFarm(p, f, r.system))
	}
}

// useUnits takes the units of the farm's people where none were asked for and
// all who say agree.
func (r *run) useUnits(f farm.Farm) {
	if s, ok := UnitsOf(f); ok && !r.stated {
		r.system = s
	}
}

// UnitsOf is the system that a farm's people read in, if they agree.
func UnitsOf(f farm.Farm) (quantity.System, bool) {
	found := ""
	for _, x := range f.People {
		switch {
		case x.Units == "" || x.Units == found:
		case found == "":
			found = x.Units
		default:
			return 0, false
		}
	}
	s, err := quantity.ParseSystem(found)
	return s, err == nil
}

// findBlock finds a block by ID or name, in any capitals.
func findBlock(f farm.Farm, text string) (farm.Block, error) {
	var ids []string
	for _, b := range f.Blocks {
		if b.ID == text {
			return b, nil
		}
		ids = append(ids, b.ID)
	}
	for _, b := range f.Blocks {
		if strings.EqualFold(b.ID, text) || strings.EqualFold(b.Name, text) {
			return b, nil
		}
	}
	return farm.Block{}, usage("there is no block %q; the farm has %s", text, strings.Join(ids, ", "))
}

// findStation finds the ID of a station, in any capitals.
func findStation(f farm.Farm, text string) (string, error) {
	var ids []string
	for _, s := range f.Stations {
		if strings.EqualFold(s.ID, text) {
			return s.ID, nil
		}
		ids = append(ids, s.ID)
	}
	return "", usage("there is no station %q; the farm has %s", text, strings.Join(ids, ", "))
}
