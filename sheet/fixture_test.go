package sheet

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"
	_ "time/tzdata"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

// demo is an answer of 14 blocks for an invented farm, as the program gave it, with
// the farm. SOURCE.md says where it comes from.
func demo(t testing.TB) (*nights.Answer, *farm.Farm) {
	t.Helper()
	raw, err := os.Open("testdata/answer.json.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	z, err := gzip.NewReader(raw)
	if err != nil {
		t.Fatal(err)
	}
	var a nights.Answer
	if err := json.NewDecoder(z).Decode(&a); err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	names, err := filepath.Glob("testdata/farm/*.csv")
	if err != nil || len(names) < 5 {
		t.Fatalf("%v %v", names, err)
	}
	for _, n := range names {
		if files[filepath.Base(n)], err = os.ReadFile(n); err != nil {
			t.Fatal(err)
		}
	}
	f, problems := farm.ImportCSV(files, farm.Known{})
	if farm.HasErrors(problems) {
		t.Fatal(problems)
	}
	return &a, &f
}

// many is the answer with n blocks: the demo's again and again under other names,
// each copy's own start some minutes later.
func many(t testing.TB, n int) (*nights.Answer, *farm.Farm) {
	t.Helper()
	a, f := demo(t)
	base := a.Blocks
	a.Blocks = nil
	for i := range n {
		b := base[i%len(base)]
		if lap := i / len(base); lap > 0 {
			b.BlockID, b.Name = fmt.Sprintf("%s-%d", b.BlockID, lap+1), fmt.Sprintf("%s, terrace %d", b.Name, lap+1)
			b.Choices = append([]nights.Choice(nil), b.Choices...)
			for k := range b.Choices {
				if c := &b.Choices[k]; !c.Ahead && !c.StartAt.IsZero() {
					c.StartAt = c.StartAt.Add(time.Duration(lap*20) * time.Minute)
				}
			}
		}
		a.Blocks = append(a.Blocks, b)
	}
	order := []nights.Urgency{nights.Act, nights.Unknown, nights.Watch, nights.Prepare, nights.Quiet}
	slices.SortStableFunc(a.Blocks, func(x, y nights.BlockAnswer) int {
		return slices.Index(order, x.Urgency) - slices.Index(order, y.Urgency)
	})
	return a, f
}

// external returns the path of a program that a test needs: without it the test
// is left out with a clear message, and fails where CI=true promises it.
func external(t *testing.T, program, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not there: install %s", program, debianPackage)
		}
		t.Skipf("%s is not there (Debian package %s): left out", program, debianPackage)
	}
	return path
}

var us = Options{Units: quantity.US}
