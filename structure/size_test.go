package structure

import (
	"fmt"
	"go/ast"
	"path"
	"regexp"
	"strings"
	"testing"
)

const (
	// maxFileLines: a file is read in one sitting. It is under this.
	maxFileLines = 500
	// maxFuncLines: a function is seen whole on one screen. It is under this. Test
	// functions may be longer: a table of cases is read from top to bottom.
	maxFuncLines = 70
)

func sizeComplaints(f goFile, source string) (out []string) {
	if n := strings.Count(source, "\n"); n >= maxFileLines {
		out = append(out, fmt.Sprintf("%s has %d lines, want under %d: split it", f.path, n, maxFileLines))
	}
	if f.test {
		return out
	}
	ast.Inspect(f.ast, func(n ast.Node) bool {
		if d, ok := n.(*ast.FuncDecl); ok && d.Body != nil {
			if lines := f.line(d.End()) - f.line(d.Pos()) + 1; lines >= maxFuncLines {
				out = append(out, fmt.Sprintf("%s:%d: %s has %d lines, want under %d: split it",
					f.path, f.line(d.Pos()), d.Name.Name, lines, maxFuncLines))
			}
		}
		return true
	})
	return out
}

func TestSizes(t *testing.T) {
	for _, f := range goFiles(t) {
		report(t, sizeComplaints(f, readFile(t, f.path)))
	}
	long := "package x\nfunc f() {\n" + strings.Repeat("\n", 68) + "}\n" // 70 lines
	short := "package x\nfunc f() {\n" + strings.Repeat("\n", 67) + "}\n"
	mustComplain(t, "a long function", sizeComplaints(parse(t, "app/x.go", long), long), 1)
	mustComplain(t, "a short function", sizeComplaints(parse(t, "app/x.go", short), short), 0)
	mustComplain(t, "a long test", sizeComplaints(parse(t, "app/x_test.go", long), long), 0)
	file := "package x\n" + strings.Repeat("\n", 499)
	mustComplain(t, "a long file", sizeComplaints(parse(t, "app/x_test.go", file), file), 1)
}

// Every package says what it is for before it says what it does.
func TestPackageComments(t *testing.T) {
	comment := map[string]string{}
	for _, f := range goFiles(t) {
		dir := path.Dir(f.path)
		if _, seen := comment[dir]; !seen {
			comment[dir] = ""
		}
		if !f.test && f.ast.Doc != nil {
			if comment[dir] != "" {
				t.Errorf("%s: a second package comment", f.path)
			}
			comment[dir] = f.ast.Doc.Text()
		}
	}
	for dir, text := range comment {
		start := regexp.MustCompile(`^(Package|Command) \S+ `)
		if words := len(strings.Fields(text)); !start.MatchString(text) || words < 8 {
			t.Errorf("%s: package comment %q; want one that begins with Package or Command and says what it is for", dir, text)
		}
	}
}

// No file is the mark of one machine or of unfinished work. The patterns are
// written in halves so that this file does not hold them.
var marks = []struct {
	pattern *regexp.Regexp
	why     string
}{
	{regexp.MustCompile(`(^|[^\w.])/(work|root|home)` + `/`), "a path of one machine"},
	{regexp.MustCompile(`proxy\.golang` + `\.org|registry\.npmjs` + `\.org|deb\.debian` + `\.org`), "the host of a package registry"},
	{regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME|XX` + `X)\b`), "unfinished work: do it, or file it where it will be found"},
	{regexp.MustCompile(`(?m)^(<<<<<<<|>>>>>>>) `), "an unresolved merge"},
}

func markComplaints(rel, text string) (out []string) {
	for _, m := range marks {
		if at := m.pattern.FindStringIndex(text); at != nil {
			out = append(out, fmt.Sprintf("%s:%d: %q: %s", rel, 1+strings.Count(text[:at[0]], "\n"), text[at[0]:at[1]], m.why))
		}
	}
	return out
}

func TestNoMarks(t *testing.T) {
	walk(t, func(rel string) {
		text := readFile(t, rel)
		if strings.ContainsRune(text[:min(len(text), 8000)], 0) {
			return // not a text
		}
		report(t, markComplaints(rel, text))
	})
	for text, want := range map[string]int{
		"see /wo" + "rk/x": 1, "\"/ro" + "ot/x\"": 1, "TO" + "DO: later": 1, "https://registry.npmjs" + ".org/x": 1,
		"net/work/x": 0, "todo": 0, "https://example.org/home/x": 0,
	} {
		mustComplain(t, text, markComplaints("x", text), want)
	}
}
