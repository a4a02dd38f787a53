package structure

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

const module = "budward"

// goFile is one parsed Go file of the tree.
type goFile struct {
	path string // from the top folder, with forward slashes
	pkg  string // import path
	test bool
	ast  *ast.File
	fset *token.FileSet
}

// layer is the top folder a file is in.
func (f goFile) layer() string { return layerOf(f.pkg) }

func layerOf(pkg string) string {
	rest := strings.TrimPrefix(strings.TrimPrefix(pkg, module), "/")
	top, _, _ := strings.Cut(rest, "/")
	return top
}

// imports lists the import paths of a file.
func (f goFile) imports() (out []string) {
	for _, s := range f.ast.Imports {
		p, err := strconv.Unquote(s.Path.Value)
		if err != nil {
			panic("structure: " + err.Error())
		}
		out = append(out, p)
	}
	return out
}

func (f goFile) line(p token.Pos) int { return f.fset.Position(p).Line }

const top = ".."

// skipped are folders whose contents are not ours to shape.
func skipped(name string) bool {
	return name == "node_modules" || name == "bin" || name == "data" || name == ".git"
}

// walk visits every file of the tree.
func walk(t *testing.T, visit func(rel string)) {
	t.Helper()
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && p != top && skipped(d.Name()):
			return filepath.SkipDir
		case d.Type().IsRegular():
			rel, err := filepath.Rel(top, p)
			if err != nil {
				return err
			}
			visit(filepath.ToSlash(rel))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// goFiles parses every Go file of the tree.
func goFiles(t *testing.T) (out []goFile) {
	t.Helper()
	walk(t, func(rel string) {
		if !strings.HasSuffix(rel, ".go") || strings.Contains(rel, "testdata/") {
			return
		}
		out = append(out, parse(t, rel, readFile(t, rel)))
	})
	if len(out) < 20 {
		t.Fatalf("only %d Go files found: the walk is wrong", len(out))
	}
	return out
}

func parse(t *testing.T, rel, source string) goFile {
	t.Helper()
	fset := token.NewFileSet()
	f, err := parser.ParseFile(fset, rel, source, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	return goFile{path: rel, pkg: path.Join(module, path.Dir(rel)), test: strings.HasSuffix(rel, "_test.go"), ast: f, fset: fset}
}

func readFile(t *testing.T, rel string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(top, filepath.FromSlash(rel)))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// report fails the test with every complaint; samples of broken code must draw
// exactly the complaints named beside them, or the check checks nothing.
func report(t *testing.T, complaints []string) {
	t.Helper()
	for _, c := range complaints {
		t.Error(c)
	}
}

func mustComplain(t *testing.T, name string, complaints []string, want int) {
	t.Helper()
	if len(complaints) != want {
		t.Errorf("%s draws %d complaints, want %d: %q", name, len(complaints), want, complaints)
	}
}
