package sheet

import (
	"fmt"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"budward/physics/quantity"
)

// The night sheet as a printer gets it: through a real browser, one page of the
// right paper, in greys only, with every block's name on it. It takes a second a
// page, so it runs where CI=true or BUDWARD_PRINT=true ask for it.
func TestNightPrints(t *testing.T) {
	if os.Getenv("CI") != "true" && os.Getenv("BUDWARD_PRINT") != "true" {
		t.Skip("prints through a browser: set BUDWARD_PRINT=true")
	}
	browser := external(t, "chromium", "chromium")
	pdfinfo, pdftotext, pdftoppm := external(t, "pdfinfo", "poppler-utils"), external(t, "pdftotext", "poppler-utils"), external(t, "pdftoppm", "poppler-utils")
	dir := t.TempDir()
	run := func(program string, args ...string) string {
		out, err := exec.Command(program, args...).CombinedOutput()
		if err != nil {
			t.Fatalf("%s %v: %v\n%s", program, args, err, out)
		}
		return string(out)
	}
	for paper, size := range map[Paper]string{A4: "594.96 x 841.92", Letter: "612 x 792"} {
		for _, n := range []int{5, 14, 27, 40} {
			a, f := many(t, n)
			name := filepath.Join(dir, fmt.Sprintf("%s-%d", paper, n))
			html := night(t, a, f, Options{Units: quantity.US, Person: "mara", Paper: paper})
			if err := os.WriteFile(name+".html", []byte(html), 0o600); err != nil {
				t.Fatal(err)
			}
			run(browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run", "--user-data-dir="+filepath.Join(dir, "profile"),
				"--no-pdf-header-footer", "--print-to-pdf="+name+".pdf", "file://"+name+".html")
			info := run(pdfinfo, name+".pdf")
			if !strings.Contains(info, "Pages:           1\n") || !strings.Contains(info, size) {
				t.Errorf("%d blocks on %s:\n%s", n, paper, info)
			}
			text := strings.Join(strings.Fields(run(pdftotext, name+".pdf", "-")), " ")
			for i := range a.Blocks {
				if !strings.Contains(text, a.Blocks[i].BlockID) {
					t.Errorf("%d blocks on %s: %s is not printed", n, paper, a.Blocks[i].BlockID)
				}
			}
			for _, want := range []string{"Wednesday 8 to Thursday 9 April 2026", "By the clock", "Before anyone goes out", "Margin: likely minus"} {
				if !strings.Contains(text, want) {
					t.Errorf("%d blocks on %s: %q is not printed", n, paper, want)
				}
			}
			run(pdftoppm, "-r", "50", "-png", "-singlefile", name+".pdf", name)
			greyOnly(t, name+".png")
		}
	}
}

func greyOnly(t *testing.T, path string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	dark := 0
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			r, g, b, _ := img.At(x, y).RGBA()
			if r != g || g != b {
				t.Fatalf("%s: colour at %d %d", path, x, y)
			}
			if r < 0x8000 {
				dark++
			}
		}
	}
	if dark < 500 {
		t.Errorf("%s: only %d dark dots: nothing printed?", path, dark)
	}
}
