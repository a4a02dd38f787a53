package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"budward/decide/nights"
	"budward/store"
	"budward/vineyard/farm"
)

// fake answers what a test has it answer; anything else is a panic.
type fake struct {
	Service
	tonight func(ctx context.Context, q TonightQuery) (Answered, error)
	take    func(ctx context.Context, u Upload) (Taken, error)
	health  func() (Health, error)
}

var noon = time.Date(2026, time.April, 8, 19, 0, 0, 0, time.UTC)

func (f *fake) Tonight(ctx context.Context, q TonightQuery) (Answered, error) {
	return f.tonight(ctx, q)
}
func (f *fake) Take(ctx context.Context, u Upload) (Taken, error) { return f.take(ctx, u) }
func (f *fake) Push(_ context.Context, _ string, body io.Reader) (Pushed, error) {
	b, err := io.ReadAll(body)
	return Pushed{Rows: len(b)}, err
}
func (f *fake) Health(context.Context) (Health, error) { return f.health() }
func (f *fake) Farm(context.Context) (Kept, error) {
	loam := farm.Soil{Texture: "loam"}
	return Kept{Now: noon, Zone: time.UTC, Revision: 3, Farm: farm.Farm{ID: "quillby", Blocks: []farm.Block{
		{ID: "B1", Soil: loam, System: farm.System{Kind: farm.Drip}, Strips: []farm.Strip{{Name: "under-vine", Share: 0.3, Surface: farm.BareFirm}, {Name: "middle", Share: 0.7, Surface: farm.BareFirm}}},
		{ID: "B2", Soil: loam, Strips: []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm}}},
	}}}, nil
}
func (f *fake) Compare(context.Context, Question) ([]nights.Compared, error) { return nil, nil }
func (f *fake) ChangeFloor(_ context.Context, c FloorChange) (Kept, error) {
	return Kept{Revision: 4}, nil
}
func (f *fake) WithdrawStage(_ context.Context, _ string, _ int64, _ string) error { return nil }
func (f *fake) RecordStage(_ context.Context, r store.StageRecord) (store.StageRecord, error) {
	r.ID = 7
	return r, nil
}

func classifyTest(err error) Kind {
	var none *store.NotFoundError
	var conflict *store.ConflictError
	switch {
	case errors.As(err, &none):
		return NotFound
	case errors.As(err, &conflict):
		return Conflict
	case errors.As(err, new(*farm.FieldError)), errors.As(err, new(*store.InvalidError)):
		return Invalid
	}
	return Invalid
}

// serve makes a handler on a fake; change may change the options.
func serve(t *testing.T, f *fake, change func(*Options)) http.Handler {
	t.Helper()
	o := Options{Version: "test", Classify: classifyTest, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		Pages: fstest.MapFS{"index.html": {Data: []byte("<!doctype html><title>x</title>" + strings.Repeat("<p>frost</p>", 200))},
			"assets/main-abc.js": {Data: []byte("export {}")}, "sw.js": {Data: []byte("self.x = 1")}}}
	if change != nil {
		change(&o)
	}
	h, err := New(f, o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// request is one request with headers as "Name: value".
func request(method, path, body string, headers ...string) *http.Request {
	r := httptest.NewRequest(method, "http://127.0.0.1:8099"+path, strings.NewReader(body))
	if body == "" {
		r.Body, r.ContentLength = http.NoBody, 0
	} else {
		r.Header.Set("Content-Type", "application/json")
	}
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Set(name, value)
	}
	return r
}

func ask(h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// problemOf reads a problem document and holds it against RFC 9457: its type, its
// media type, and status equal to that of the answer.
func problemOf(t *testing.T, w *httptest.ResponseRecorder) huma.ErrorModel {
	t.Helper()
	var m huma.ErrorModel
	if ct := w.Header().Get("Content-Type"); ct != "application/problem+json" {
		t.Fatalf("status %d with Content-Type %q: %s", w.Code, ct, w.Body)
	}
	if err := json.Unmarshal(w.Body.Bytes(), &m); err != nil {
		t.Fatalf("%v in %s", err, w.Body)
	}
	if m.Status != w.Code || !strings.HasPrefix(m.Type, prefix+"/problems#") || m.Title == "" || m.Detail == "" {
		t.Errorf("status %d with the problem %s", w.Code, w.Body)
	}
	return m
}

// wantProblem asks and wants a kind of problem about a place.
func wantProblem(t *testing.T, h http.Handler, r *http.Request, k Kind, location string) huma.ErrorModel {
	t.Helper()
	w := ask(h, r)
	if w.Code != k.Status {
		t.Errorf("%s %s: status %d, want %d: %s", r.Method, r.URL, w.Code, k.Status, w.Body)
		return huma.ErrorModel{}
	}
	m := problemOf(t, w)
	if m.Type != k.URI() {
		t.Errorf("%s %s: type %s, want %s", r.Method, r.URL, m.Type, k.URI())
	}
	if location == "" {
		return m
	}
	for _, e := range m.Errors {
		if e.Location == location {
			return m
		}
	}
	t.Errorf("%s %s: nothing is said about %s in %s", r.Method, r.URL, location, w.Body)
	return m
}

func readAll(t *testing.T, r io.Reader) string {
	t.Helper()
	var b bytes.Buffer
	if _, err := b.ReadFrom(r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func textLog(w io.Writer) *slog.Logger { return slog.New(slog.NewTextHandler(w, nil)) }
