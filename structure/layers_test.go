package structure

import (
	"fmt"
	"go/ast"
	"path"
	"slices"
	"strings"
	"testing"
)

// Dependencies point one way: physics <- vineyard <- decide <- adapters <- app.
// The physics can then be read, checked and used by others without the vineyard,
// and an answer depends on what it was given only, never on where it was asked.
var (
	pure     = []string{"physics", "vineyard", "decide"}
	adapters = []string{"store", "feed", "notify", "sheet", "api", "web", "cli"}
)

// mayImport says which layers a layer may use beside itself.
func mayImport(layer string) []string {
	switch {
	case layer == "physics":
		return nil
	case layer == "vineyard":
		return pure[:1]
	case layer == "decide":
		return pure[:2]
	case slices.Contains(adapters, layer):
		// Not one another: each can be replaced alone. What two of them share is
		// handed from one to the other by app.
		return pure
	case layer == "app":
		return slices.Concat(pure, adapters)
	case layer == "validation":
		// The report against real records runs the science itself, and reads files.
		return slices.Concat(pure, []string{"feed"})
	case layer == "cmd":
		// main parses and hands over.
		return []string{"app"}
	}
	return nil
}

func known(layer string) bool {
	return slices.Contains(slices.Concat(pure, adapters, []string{"app", "cmd", "structure", "validation"}), layer)
}

// contract is the one package of an adapter that other adapters may import: it
// holds the words for what is kept, and no engine.
const contract = module + "/store"

func dependencyComplaints(f goFile) (out []string) {
	if !known(f.layer()) {
		return []string{fmt.Sprintf("%s: folder %q is no layer; docs/ARCHITECTURE.md says where things live", f.path, f.layer())}
	}
	for _, p := range f.imports() {
		to := layerOf(p)
		ours := p == module || strings.HasPrefix(p, module+"/")
		if !ours || to == f.layer() || slices.Contains(mayImport(f.layer()), to) {
			continue
		}
		if p == contract && slices.Contains(adapters, f.layer()) {
			continue
		}
		// Tests of an adapter may put real neighbours together.
		if f.test && (slices.Contains(adapters, f.layer()) && slices.Contains(adapters, to) || f.layer() == "cmd") {
			continue
		}
		out = append(out, fmt.Sprintf("%s imports %s: %s may use %v only, so that dependencies point one way",
			f.path, p, f.layer(), mayImport(f.layer())))
	}
	return out
}

func TestDependencies(t *testing.T) {
	for _, f := range goFiles(t) {
		report(t, dependencyComplaints(f))
	}
	for _, c := range []struct {
		path, imports string
		want          int
	}{
		{"physics/air/x.go", module + "/physics/quantity", 0},
		{"physics/air/x.go", module + "/vineyard/farm", 1},
		{"vineyard/farm/x.go", module + "/decide/nights", 1},
		{"decide/nights/x_test.go", module + "/store", 1},
		{"decide/nights/x.go", module + "/app", 1},
		{"feed/x.go", module + "/store/sqlite", 1},
		{"feed/x.go", module + "/store", 0},
		{"feed/x_test.go", module + "/store/sqlite", 0},
		{"store/x.go", module + "/app", 1},
		{"cmd/budward/main.go", module + "/app", 0},
		{"cmd/budward/main.go", module + "/store", 1},
		{"app/x.go", module + "/cli", 0},
		{"extras/x.go", "fmt", 1},
	} {
		mustComplain(t, c.path+" with "+c.imports,
			dependencyComplaints(parse(t, c.path, "package x\nimport _ \""+c.imports+"\"\n")), c.want)
	}
}

// forbidden are the packages of the library that the pure layers may not import,
// and why.
var forbidden = []struct{ path, why string }{
	{"database/sql", "what is kept is handed in, so that an answer can be checked without a database"},
	{"net", "an answer may not depend on what can be reached"},
	{"os", "files, environment and arguments are read by adapters; the pure layers get values"},
	{"log", "what is worth saying is part of the result, where the caller sees it"},
	{"syscall", "an answer may not depend on the machine"},
	{"math/rand", "use math/rand/v2 with a source that is handed in: the old one is easily the global one"},
}

func importComplaints(f goFile) (out []string) {
	if f.test || !slices.Contains(pure, f.layer()) {
		return nil // tests read their testdata
	}
	for _, p := range f.imports() {
		for _, bad := range forbidden {
			below := strings.HasPrefix(p, bad.path+"/") && p != "math/rand/v2"
			if p == bad.path || below {
				out = append(out, fmt.Sprintf("%s imports %s: %s", f.path, p, bad.why))
			}
		}
	}
	return out
}

func TestPureLayersImportNoWorld(t *testing.T) {
	for _, f := range goFiles(t) {
		report(t, importComplaints(f))
	}
	for p, want := range map[string]int{"os": 1, "os/exec": 1, "net/url": 1, "net/http": 1, "log/slog": 1, "database/sql/driver": 1,
		"math/rand": 1, "math/rand/v2": 0, "math": 0, "path": 0, "embed": 0} {
		source := "package x\nimport _ \"" + p + "\"\n"
		mustComplain(t, p, importComplaints(parse(t, "physics/x/x.go", source)), want)
		mustComplain(t, p+" in a test", importComplaints(parse(t, "physics/x/x_test.go", source)), 0)
		mustComplain(t, p+" in an adapter", importComplaints(parse(t, "feed/x.go", source)), 0)
	}
}

// The moment and chance are inputs of the pure layers: the same question has the
// same answer, tests need no waiting, and a night can be computed again a year
// later. time.Local is the machine's, not the farm's.
var (
	clockNames  = []string{"Now", "Since", "Until", "After", "AfterFunc", "Sleep", "Tick", "NewTimer", "NewTicker", "Local"}
	sourceNames = []string{"New", "NewPCG", "NewChaCha8", "NewZipf", "Rand", "Source", "PCG", "ChaCha8", "Zipf"}
)

func clockComplaints(f goFile) (out []string) {
	if f.test || !slices.Contains(pure, f.layer()) {
		return nil
	}
	for _, use := range uses(f) {
		switch {
		case use.pkg == "time" && slices.Contains(clockNames, use.name):
			out = append(out, fmt.Sprintf("%s:%d uses time.%s: the moment is an input here", f.path, use.line, use.name))
		case use.pkg == "math/rand/v2" && !slices.Contains(sourceNames, use.name):
			out = append(out, fmt.Sprintf("%s:%d uses rand.%s: the source of chance is an input here", f.path, use.line, use.name))
		}
	}
	return out
}

// use is one mention of a name of an imported package.
type use struct {
	pkg, name string
	line      int
}

func uses(f goFile) (out []use) {
	local := map[string]string{}
	for _, spec := range f.ast.Imports {
		p := strings.Trim(spec.Path.Value, `"`)
		name := path.Base(p)
		if p == "math/rand/v2" {
			name = "rand"
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		local[name] = p
	}
	ast.Inspect(f.ast, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if id, ok := sel.X.(*ast.Ident); ok && local[id.Name] != "" {
				out = append(out, use{local[id.Name], sel.Sel.Name, f.line(sel.Pos())})
			}
		}
		return true
	})
	return out
}

func TestPureLayersTakeMomentAndChanceAsInput(t *testing.T) {
	for _, f := range goFiles(t) {
		report(t, clockComplaints(f))
	}
	source := `package x
import (
	clock "time"
	"math/rand/v2"
)
func f(r *rand.Rand, at clock.Time) float64 {
	g := clock.Now // complaint
	_ = g
	_ = clock.Since(at) // complaint
	_ = at.In(clock.Local) // complaint
	_ = at.Local()
	_ = rand.New(rand.NewPCG(1, 2))
	return rand.Float64() + r.Float64() // complaint
}`
	mustComplain(t, "clock and chance", clockComplaints(parse(t, "decide/x/x.go", source)), 4)
	mustComplain(t, "the same in an adapter", clockComplaints(parse(t, "cli/x.go", source)), 0)
}

// Tests wait for nothing: a test that sleeps is slow on every machine and fails on
// a slow one. Time is an input, or testing/synctest's.
func TestNoTestSleeps(t *testing.T) {
	for _, f := range goFiles(t) {
		for _, use := range uses(f) {
			if f.test && use.pkg == "time" && use.name == "Sleep" && !slices.Contains(f.imports(), "testing/synctest") {
				t.Errorf("%s:%d sleeps", f.path, use.line)
			}
		}
	}
}
