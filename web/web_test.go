package web

import (
	"bytes"
	"compress/gzip"
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"
)

func files(t *testing.T) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := fs.WalkDir(Assets(), ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		out[p], err = fs.ReadFile(Assets(), p)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

var reference = regexp.MustCompile(`(?:src|href)="([^"]*)"`)

// Everything the first page asks for is in the program, and from nowhere else.
func TestIndexRefersToWhatIsThere(t *testing.T) {
	all := files(t)
	index, ok := all["index.html"]
	if !ok {
		t.Fatal("index.html is not embedded: run npm run build in web")
	}
	n := 0
	for _, m := range reference.FindAllSubmatch(index, -1) {
		ref := string(m[1])
		if strings.HasPrefix(ref, "/api/") {
			continue
		}
		n++
		if !strings.HasPrefix(ref, "./") {
			t.Errorf("index.html refers to %q: want a file of its own, ./NAME", ref)
		} else if _, ok := all[path.Clean(ref)]; !ok {
			t.Errorf("index.html refers to %q, which is not embedded", ref)
		}
	}
	if n < 4 { // script, style, icon, manifest
		t.Errorf("%d references found in index.html: the search is wrong", n)
	}
}

// The service worker keeps every file that a page may ask for.
func TestServiceWorkerKnowsEveryFile(t *testing.T) {
	all := files(t)
	worker := string(all["sw.js"])
	for name := range all {
		if name == "sw.js" || name == "index.html" { // itself; kept as ./
			continue
		}
		if strings.HasPrefix(name, "assets/") && !strings.Contains(worker, name) {
			t.Errorf("sw.js does not keep %s: offline it would be missing", name)
		}
	}
	if strings.Contains(worker, "__FILES__") || strings.Contains(worker, "__VERSION__") {
		t.Error("sw.js still holds the marks that the build replaces")
	}
}

// Style sheets and pages load nothing from elsewhere.
func TestNothingFromElsewhere(t *testing.T) {
	for name, data := range files(t) {
		ext := path.Ext(name)
		if ext != ".css" && ext != ".html" && ext != ".webmanifest" {
			continue
		}
		for _, mark := range []string{"http:", "https:", `"//`, "(//"} {
			if bytes.Contains(data, []byte(mark)) {
				t.Errorf("%s holds %q: pages load from the program alone", name, mark)
			}
		}
	}
}

// maxFirstView is what the first view may weigh over the wire, without its data:
// 120 kB are allowed with it, and an answer for fourteen blocks takes some 25.
const maxFirstView = 60_000

func TestFirstViewIsLight(t *testing.T) {
	all := files(t)
	total := 0
	for name, data := range all {
		base := path.Base(name)
		lazy := false
		for _, page := range []string{"Block", "Farm", "Feeds", "Nights"} {
			lazy = lazy || strings.HasPrefix(base, page+"-")
		}
		if lazy {
			continue
		}
		var b bytes.Buffer
		z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // a constant level that exists
		if _, err := z.Write(data); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		total += b.Len()
	}
	if total == 0 || total > maxFirstView {
		t.Errorf("the first view weighs %d bytes packed, want at most %d", total, maxFirstView)
	}
}
