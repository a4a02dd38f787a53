package structure

import (
	"fmt"
	"go/ast"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const nomenclature = "docs/nomenclature.md"

// table returns the rows of the first table below a heading, without its head.
func table(text, heading string) (out [][]string) {
	_, rest, found := strings.Cut(text, "\n"+heading+"\n")
	if !found {
		return nil
	}
	started := false
	for line := range strings.Lines(rest) {
		line = strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "|"):
			started = true
			cells := strings.Split(strings.Trim(line, "|"), "|")
			for i := range cells {
				cells[i] = strings.Trim(strings.TrimSpace(cells[i]), "`")
			}
			out = append(out, cells)
		case started || strings.HasPrefix(line, "#"):
			if len(out) < 2 {
				return nil
			}
			return out[2:] // head and rule
		}
	}
	if len(out) < 2 {
		return nil
	}
	return out[2:]
}

// One word stands for one thing: the word is the key of the table.
func TestWordsAreUnique(t *testing.T) {
	text := readFile(t, nomenclature)
	for _, heading := range []string{"## Words", "## Unit suffixes", "## Numbers without a unit"} {
		rows := table(text, heading)
		if len(rows) < 10 {
			t.Fatalf("%s: %d rows under %q: the table is not where this test looks", nomenclature, len(rows), heading)
		}
		seen := map[string]bool{}
		for _, row := range rows {
			if len(row) < 2 || row[0] == "" || row[1] == "" {
				t.Errorf("%s, %s: row %q lacks a word or a meaning", nomenclature, heading, row)
				continue
			}
			for word := range strings.SplitSeq(row[0], ",") {
				word = strings.ToLower(strings.TrimSpace(word))
				if seen[word] {
					t.Errorf("%s, %s: %q is there twice", nomenclature, heading, word)
				}
				seen[word] = true
			}
		}
	}
	sample := "\n## Words\n\n| a | b |\n|---|---|\n| x | y |\n\n| no | more |\n"
	if rows := table(sample, "## Words"); len(rows) != 1 || rows[0][0] != "x" {
		t.Errorf("table reads %q", rows)
	}
}

// jsonNumbers lists the JSON names of fields that hold numbers, with a place for
// each. numeric tells which named types of the tree are numbers.
func jsonNumbers(f goFile, numeric map[string]bool) map[string]string {
	out := map[string]string{}
	ast.Inspect(f.ast, func(n ast.Node) bool {
		s, ok := n.(*ast.StructType)
		if !ok {
			return true
		}
		for _, field := range s.Fields.List {
			if field.Tag == nil || !isNumber(field.Type, f.pkg, numeric) {
				continue
			}
			tag, err := strconv.Unquote(field.Tag.Value)
			if err != nil {
				panic("structure: " + err.Error())
			}
			name, _, _ := strings.Cut(reflect.StructTag(tag).Get("json"), ",")
			if name != "" && name != "-" {
				out[name] = fmt.Sprintf("%s:%d", f.path, f.line(field.Pos()))
			}
		}
		return true
	})
	return out
}

func isNumber(e ast.Expr, pkg string, numeric map[string]bool) bool {
	switch x := e.(type) {
	case *ast.Ident:
		return numeric[x.Name] || numeric[path.Base(pkg)+"."+x.Name]
	case *ast.SelectorExpr:
		id, ok := x.X.(*ast.Ident)
		return ok && numeric[id.Name+"."+x.Sel.Name]
	case *ast.StarExpr:
		return isNumber(x.X, pkg, numeric)
	case *ast.ArrayType:
		return isNumber(x.Elt, pkg, numeric)
	}
	return false
}

// numericTypes are the built-in numbers and the tree's own types made of them.
func numericTypes(files []goFile) map[string]bool {
	out := map[string]bool{"float64": true, "float32": true, "int": true, "int8": true, "int16": true, "int32": true,
		"int64": true, "uint": true, "uint8": true, "uint16": true, "uint32": true, "uint64": true}
	for range 3 { // types made of types made of numbers
		for _, f := range files {
			ast.Inspect(f.ast, func(n ast.Node) bool {
				if s, ok := n.(*ast.TypeSpec); ok && isNumber(s.Type, f.pkg, out) {
					out[path.Base(f.pkg)+"."+s.Name.Name] = true
				}
				return true
			})
		}
	}
	return out
}

// suffixed says whether a name ends in one of the unit suffixes.
func suffixed(name string, suffixes []string) bool {
	return slices.ContainsFunc(suffixes, func(s string) bool { return strings.HasSuffix(name, s) })
}

// column is one column of a nomenclature table, its cells split at commas.
func column(t *testing.T, heading string) (out []string) {
	t.Helper()
	for _, row := range table(readFile(t, nomenclature), heading) {
		for word := range strings.SplitSeq(row[0], ",") {
			out = append(out, strings.Trim(strings.TrimSpace(word), "`"))
		}
	}
	return out
}

// Every number that leaves or enters the program says its unit in its name, or is
// one of those listed as having none.
func TestNumbersNameTheirUnits(t *testing.T) {
	files := goFiles(t)
	suffixes, bare := column(t, "## Unit suffixes"), column(t, "## Numbers without a unit")
	numeric := numericTypes(files)
	for _, f := range files {
		if f.test {
			continue
		}
		for name, place := range jsonNumbers(f, numeric) {
			if !suffixed(name, suffixes) && !slices.Contains(bare, name) {
				t.Errorf("%s: the number %q ends in no unit of %s; name its unit, or list it there under \"Numbers without a unit\"",
					place, name, nomenclature)
			}
		}
	}
	source := "package x\ntype Step float64\ntype s struct {\n" +
		"A float64 `json:\"air_c\"`\nB Step `json:\"step,omitempty\"`\nC string `json:\"name\"`\nD []int `json:\"counts\"`\nE *float64\n}\n"
	f := parse(t, "app/x.go", source)
	got := jsonNumbers(f, numericTypes([]goFile{f}))
	if len(got) != 3 || got["air_c"] == "" || got["step"] == "" || got["counts"] == "" {
		t.Errorf("the sample's numbers are %v, want air_c, step and counts", got)
	}
}

// Links inside the documents lead somewhere.
func TestLinks(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)#\s]+)(#[^)]*)?\)`)
	found := 0
	walk(t, func(rel string) {
		if path.Ext(rel) != ".md" {
			return
		}
		for _, m := range link.FindAllStringSubmatch(readFile(t, rel), -1) {
			if strings.Contains(m[1], "://") || strings.HasPrefix(m[1], "mailto:") {
				continue
			}
			found++
			to := path.Join(path.Dir(rel), m[1])
			if _, err := os.Stat(filepath.Join(top, filepath.FromSlash(to))); err != nil {
				t.Errorf("%s links to %s, which is not there", rel, m[1])
			}
		}
	})
	if found < 5 {
		t.Errorf("%d links found in the documents: the search is wrong", found)
	}
}
