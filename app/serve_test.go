package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"budward/api"
)

// serving is the real program serving a farm on a port of its own, with a clock
// that tests move.
type serving struct {
	t     *testing.T
	url   string
	clock atomic.Int64 // Unix ms
	log   syncBuffer
	stop  func() error
	spec  *contract
}

// syncBuffer is a log that several write.
type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *syncBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *syncBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// serve begins to serve a program's farm.
func (p *program) serve(change func(*ServeOptions)) *serving {
	p.t.Helper()
	s := &serving{t: p.t, spec: readContract(p.t)}
	at, err := time.Parse(time.RFC3339, p.now)
	if err != nil {
		p.t.Fatal(err)
	}
	s.clock.Store(at.UnixMilli())
	ready := make(chan string, 1)
	o := ServeOptions{FarmPath: p.path("farm.db"), Addr: "127.0.0.1:0", Seed: 1, Members: 20, Stderr: &s.log,
		Now: func() time.Time { return time.UnixMilli(s.clock.Load()) }, Ready: func(u string) { ready <- u }}
	if change != nil {
		change(&o)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, o) }()
	s.stop = sync.OnceValue(func() error { cancel(); return <-done })
	p.t.Cleanup(func() {
		if err := s.stop(); err != nil {
			p.t.Errorf("serving ended with %v", err)
		}
	})
	select {
	case s.url = <-ready:
		s.url = strings.TrimSuffix(s.url, "/")
	case err := <-done:
		done <- err
		p.t.Fatalf("serving did not begin: %v", err)
	}
	return s
}

// pass lets time pass on the farm's clock.
func (s *serving) pass(d time.Duration) { s.clock.Add(d.Milliseconds()) }

// answer is what came back.
type answer struct {
	status int
	head   http.Header
	body   []byte
}

// ask asks, and holds what comes back against the OpenAPI document.
func (s *serving) ask(method, path, body string) answer {
	s.t.Helper()
	r, err := http.NewRequest(method, s.url+path, strings.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	if strings.HasPrefix(body, "{") {
		r.Header.Set("Content-Type", "application/json")
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	a := answer{resp.StatusCode, resp.Header, data}
	s.spec.check(s.t, method, path, a)
	return a
}

// get asks for what must be there and reads it.
func (s *serving) get(path string) map[string]any {
	s.t.Helper()
	return s.want(http.StatusOK, "GET", path, "")
}

// want asks for a status, and reads the object that comes.
func (s *serving) want(status int, method, path, body string) map[string]any {
	s.t.Helper()
	a := s.ask(method, path, body)
	if a.status != status {
		s.t.Fatalf("%s %s: status %d, want %d: %.500s", method, path, a.status, status, a.body)
	}
	if len(a.body) == 0 {
		return nil
	}
	var out map[string]any
	if err := json.Unmarshal(a.body, &out); err != nil {
		s.t.Fatalf("%s %s: %v: %.500s", method, path, err, a.body)
	}
	return out
}

// refused asks for a kind of problem about a place.
func (s *serving) refused(k api.Kind, location, method, path, body string) string {
	s.t.Helper()
	a := s.ask(method, path, body)
	var m struct {
		Type, Detail string
		Errors       []struct{ Location, Message string }
	}
	if err := json.Unmarshal(a.body, &m); err != nil || a.status != k.Status || m.Type != k.URI() {
		s.t.Errorf("%s %s: status %d, want %s: %.500s", method, path, a.status, k.Name, a.body)
	}
	for _, e := range m.Errors {
		if e.Location == location {
			return m.Detail
		}
	}
	s.t.Errorf("%s %s: nothing about %s: %.500s", method, path, location, a.body)
	return m.Detail
}

// contract is the OpenAPI document, to hold answers against.
type contract struct {
	compiler *jsonschema.Compiler
	paths    map[string]any
	checked  map[string]bool // "GET /api/v1/tonight 200"
}

func readContract(t *testing.T) *contract {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(api.Document()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("api.json", doc); err != nil {
		t.Fatal(err)
	}
	return &contract{compiler: c, paths: doc.(map[string]any)["paths"].(map[string]any), checked: map[string]bool{}}
}

// check holds an answer against what the document says of it: its status, its
// media type and its JSON.
func (c *contract) check(t *testing.T, method, path string, a answer) {
	t.Helper()
	path, _, _ = strings.Cut(path, "?")
	template := c.find(path)
	if template == "" || a.status == http.StatusNotModified {
		return // a page, or an address that is none
	}
	what := fmt.Sprintf("%s %s %d", method, template, a.status)
	o, ok := c.paths[template].(map[string]any)[strings.ToLower(method)].(map[string]any)
	if !ok {
		return // a method that is none
	}
	described, ok := o["responses"].(map[string]any)[fmt.Sprint(a.status)].(map[string]any)
	if !ok {
		t.Errorf("%s is not in the document: %.300s", what, a.body)
		return
	}
	c.checked[what] = true
	media := strings.Split(a.head.Get("Content-Type"), ";")[0]
	if media != "application/json" && media != "application/problem+json" {
		return
	}
	if content, _ := described["content"].(map[string]any); content[media] == nil {
		t.Errorf("%s: %s is not in the document", what, media)
		return
	}
	escape := strings.NewReplacer("~", "~0", "/", "~1", "{", "%7B", "}", "%7D")
	s, err := c.compiler.Compile(fmt.Sprintf("api.json#/paths/%s/%s/responses/%d/content/%s/schema",
		escape.Replace(template), strings.ToLower(method), a.status, escape.Replace(media)))
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(a.body))
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	if err := s.Validate(v); err != nil {
		t.Errorf("%s is not as the document says: %v", what, err)
	}
}

// find finds the path of the document that an address is of.
func (c *contract) find(path string) string {
	parts := strings.Split(path, "/")
next:
	for template := range c.paths {
		holes := strings.Split(template, "/")
		if len(holes) != len(parts) {
			continue
		}
		for i, h := range holes {
			if h != parts[i] && !strings.HasPrefix(h, "{") {
				continue next
			}
		}
		return template
	}
	return ""
}
