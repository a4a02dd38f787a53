package api

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strconv"
	"strings"
)

// Bounds of what the pages may be: they are held in memory, packed and unpacked.
const (
	maxPageFiles = 500
	maxPageBytes = 16 << 20
)

// types of the files of the pages. The machine's own table is not asked: it
// differs from one to the next.
var types = map[string]string{
	".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".mjs": "text/javascript; charset=utf-8",
	".css": "text/css; charset=utf-8", ".json": "application/json", ".webmanifest": "application/manifest+json",
	".svg": "image/svg+xml", ".png": "image/png", ".ico": "image/x-icon", ".woff2": "font/woff2", ".txt": "text/plain; charset=utf-8",
	".map": "application/json",
}

// page is one file of the pages.
type page struct {
	contentType string
	cache       string
	plain       []byte
	packed      []byte // gzip; nil where it would not be shorter
	tag         string // of the contents
}

type pages map[string]page

// loadPages reads the files of the pages, packs them and takes their fingerprints.
// A file beside another with .gz behind its name is that other packed.
func loadPages(files fs.FS) (pages, error) {
	out := pages{}
	if files == nil {
		return out, nil
	}
	ready := map[string][]byte{}
	total := 0
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		if total += len(data); total > maxPageBytes || len(out)+len(ready) >= maxPageFiles {
			return fmt.Errorf("more than %d files or %d bytes", maxPageFiles, maxPageBytes)
		}
		if of, ok := strings.CutSuffix(name, ".gz"); ok {
			ready[of] = data
			return nil
		}
		p := page{contentType: types[path.Ext(name)], plain: data, cache: "no-cache"}
		if p.contentType == "" {
			return fmt.Errorf("%s: a file of a kind that is not known", name)
		}
		if strings.HasPrefix(name, "assets/") { // their names hold a fingerprint
			p.cache = "public, max-age=31536000, immutable"
		}
		sum := sha256.Sum256(data)
		p.tag = hex.EncodeToString(sum[:12])
		out[name] = p
		return nil
	})
	if err != nil {
		return nil, err
	}
	for name, p := range out {
		p.packed = ready[name]
		if p.packed == nil {
			p.packed = pack(p.plain, gzip.BestCompression)
		}
		if len(p.packed) >= len(p.plain) {
			p.packed = nil
		}
		out[name] = p
	}
	return out, nil
}

// pack packs with gzip.
func pack(data []byte, level int) []byte {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, level)
	if err != nil {
		panic("api: " + err.Error())
	}
	if _, err := z.Write(data); err != nil {
		panic("api: writing to memory: " + err.Error())
	}
	if err := z.Close(); err != nil {
		panic("api: writing to memory: " + err.Error())
	}
	return b.Bytes()
}

// ServeHTTP hands out a file of the pages. An address without a file that is no
// file's name is one of the page's own, and gets index.html.
func (ps pages) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		writeProblem(w, WrongMethod, "method", r.Method+" is not for pages.")
		return
	}
	name := strings.TrimPrefix(path.Clean(r.URL.Path), "/")
	p, ok := ps[name]
	if !ok && path.Ext(name) == "" {
		p, ok = ps["index.html"]
	}
	if !ok {
		writeProblem(w, NotFound, "path", "There is no "+cut(r.URL.Path)+".")
		return
	}
	h := w.Header()
	h.Set("Content-Type", p.contentType)
	h.Set("Cache-Control", p.cache)
	h.Set("Vary", "Accept-Encoding")
	data, tag := p.plain, `"`+p.tag+`"`
	if p.packed != nil && takesGzip(r) {
		data, tag = p.packed, `"`+p.tag+`-gzip"`
		h.Set("Content-Encoding", "gzip")
	}
	h.Set("ETag", tag)
	if known(r, tag) {
		h.Del("Content-Encoding")
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Length", strconv.Itoa(len(data)))
	if r.Method == http.MethodGet {
		_, _ = w.Write(data) // the reader has gone if this fails
	}
}

// known says whether the asker has this version already. Tags are compared weakly
// (RFC 9110, 13.1.2).
func known(r *http.Request, tag string) bool {
	for t := range strings.SplitSeq(r.Header.Get("If-None-Match"), ",") {
		t = strings.TrimSpace(t)
		if t == "*" || strings.TrimPrefix(t, "W/") == strings.TrimPrefix(tag, "W/") {
			return true
		}
	}
	return false
}

// takesGzip says whether the asker takes gzip (RFC 9110, 12.5.3); only a weight
// of 0 forbids.
func takesGzip(r *http.Request) bool {
	takes := false
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, params, _ := strings.Cut(part, ";")
		weight := strings.ReplaceAll(params, " ", "")
		if name = strings.ToLower(strings.TrimSpace(name)); name == "gzip" || name == "*" && !takes {
			q, err := strconv.ParseFloat(strings.TrimPrefix(weight, "q="), 64)
			takes = weight == "" || err == nil && q > 0
			if name == "gzip" {
				return takes
			}
		}
	}
	return takes
}
