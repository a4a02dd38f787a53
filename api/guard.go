package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net"
	"net/http"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
)

// policy lets the pages load from here alone, and nobody frame them.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// guarded is the handler of everything behind what guards it.
func (s *server) guarded() http.Handler {
	sites := http.NewCrossOriginProtection()
	sites.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		writeProblem(w, Foreign, "header.Origin", "Pages of other sites may not change anything here.")
	}))
	return s.caught(headers(s.ownName(ownSite(sites.Handler(s.bounded(s.mux))))))
}

// caught turns a panic into an answer, and tells the log.
func (s *server) caught(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if x := recover(); x != nil {
				if x == http.ErrAbortHandler {
					panic(x)
				}
				s.opts.Log.Error("fault", "method", r.Method, "path", cut(r.URL.Path), "panic", fmt.Sprint(x), "stack", string(debug.Stack()))
				writeProblem(w, Fault, "", "The program failed at this; its log says more.")
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// headers tells browsers what they may do with what comes from here.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		if strings.HasPrefix(r.URL.Path, "/api/") {
			h.Set("Cache-Control", "private, no-cache")
		}
		next.ServeHTTP(w, r)
	})
}

// ownName refuses requests by a name that is not this machine's. Without it a page
// elsewhere could have its own name point here and then read everything.
func (s *server) ownName(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := r.Host
		if h, _, err := net.SplitHostPort(name); err == nil {
			name = h
		}
		name = strings.ToLower(strings.Trim(name, "[]"))
		ip := net.ParseIP(name)
		if name != "localhost" && !(ip != nil && ip.IsLoopback()) && !slices.Contains(s.opts.Hosts, name) {
			writeProblem(w, WrongHost, "header.Host", "This program is not reached as "+strconv.Quote(cut(r.Host))+".")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// ownSite keeps pages of other sites, and of other programs on this machine, from
// making the API work; a link may lead to it.
func ownSite(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		from := r.Header.Get("Sec-Fetch-Site")
		elsewhere := from == "cross-site" || from == "same-site"
		link := r.Method == http.MethodGet && r.Header.Get("Sec-Fetch-Mode") == "navigate"
		if elsewhere && !link && strings.HasPrefix(r.URL.Path, "/api/") {
			writeProblem(w, Foreign, "header.Sec-Fetch-Site", "Pages of other sites may not ask here.")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// bounded bounds how many requests of the API are answered at once, and holds
// their answers back until they are whole.
func (s *server) bounded(next http.Handler) http.Handler {
	turns := make(chan struct{}, s.opts.Limits.Requests)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !strings.HasPrefix(r.URL.Path, "/api/") {
			next.ServeHTTP(w, r)
			return
		}
		select {
		case turns <- struct{}{}:
			defer func() { <-turns }()
		default:
			w.Header().Set("Retry-After", retryAfter)
			writeProblem(w, Busy, "", fmt.Sprintf("%d requests are being answered.", s.opts.Limits.Requests))
			return
		}
		if r.Header.Get("Content-Encoding") != "" {
			writeProblem(w, Unreadable, "header.Content-Encoding", "Bodies are not taken packed this way; a packed file is, as it is.")
			return
		}
		whole := &held{ResponseWriter: w, status: http.StatusOK}
		next.ServeHTTP(whole, r)
		whole.send(r)
	})
}

// held holds an answer back, so that one that fails while it is written is an
// error and not half an answer, and so that it can be compared and packed.
type held struct {
	http.ResponseWriter
	status int
	body   bytes.Buffer
}

func (h *held) WriteHeader(status int)      { h.status = status }
func (h *held) Write(b []byte) (int, error) { return h.body.Write(b) }

// Unwrap is for http.ResponseController.
func (h *held) Unwrap() http.ResponseWriter { return h.ResponseWriter }

// worthPacking is the size from which an answer is packed: below, it is one
// packet either way.
const worthPacking = 1400

// packLevel: level 5 packs an answer for five hundred blocks to a tenth.
const packLevel = 5

func (h *held) send(r *http.Request) {
	data, head := h.body.Bytes(), h.Header()
	if h.status == http.StatusOK && (r.Method == http.MethodGet || r.Method == http.MethodHead) {
		sum := sha256.Sum256(data)
		tag := `W/"` + hex.EncodeToString(sum[:12]) + `"`
		head.Set("ETag", tag)
		head.Set("Vary", "Accept-Encoding")
		if known(r, tag) {
			head.Del("Content-Type")
			h.ResponseWriter.WriteHeader(http.StatusNotModified)
			return
		}
		if len(data) >= worthPacking && takesGzip(r) && !strings.Contains(head.Get("Content-Type"), "spreadsheet") {
			data = pack(data, packLevel)
			head.Set("Content-Encoding", "gzip")
		}
	}
	if h.status != http.StatusNoContent {
		head.Set("Content-Length", strconv.Itoa(len(data)))
	}
	h.ResponseWriter.WriteHeader(h.status)
	if r.Method != http.MethodHead {
		_, _ = h.ResponseWriter.Write(data) // the reader has gone if this fails
	}
}
