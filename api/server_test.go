package api

import (
	"bufio"
	"compress/gzip"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"budward/decide/nights"
	"budward/store"
)

func quiet() *fake {
	return &fake{
		tonight: func(context.Context, TonightQuery) (Answered, error) {
			return Answered{Answer: nights.Answer{FarmID: "quillby", At: noon}, Age: 90 * time.Second, Current: true}, nil
		},
		health: func() (Health, error) { return Health{Status: "ok", At: noon}, nil },
	}
}

// Every answer tells browsers that it loads from here alone and is framed by
// nobody.
func TestSecurityHeaders(t *testing.T) {
	h := serve(t, quiet(), nil)
	for _, path := range []string{"/", "/api/v1/health", "/api/v1/nowhere", "/api/v1/openapi.json", "/nothing.js"} {
		head := ask(h, request("GET", path, "")).Header()
		csp := head.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self';", "frame-ancestors 'none'", "base-uri 'none'"} {
			if !strings.Contains(csp, want) {
				t.Errorf("%s: policy %q lacks %q", path, csp, want)
			}
		}
		if strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") {
			t.Errorf("%s: policy %q", path, csp)
		}
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cross-Origin-Resource-Policy": "same-origin"} {
			if got := head.Get(name); got != want {
				t.Errorf("%s: %s is %q, want %q", path, name, got, want)
			}
		}
		if head.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s lets other sites read it", path)
		}
	}
}

// A page elsewhere whose own name is made to point at this machine is refused, as
// are pages of other sites and of other programs here.
func TestWhoMayAsk(t *testing.T) {
	h := serve(t, quiet(), func(o *Options) { o.Hosts = []string{"frost.example.org"} })
	for host, allowed := range map[string]bool{
		"127.0.0.1:8099": true, "localhost": true, "LOCALHOST:1": true, "[::1]:8099": true, "127.8.9.1": true, "frost.example.org": true,
		"evil.example": false, "evil.example:8099": false, "192.168.1.5:8099": false, "localhost.evil.example": false, "": false, "127.0.0.1.evil.example": false,
	} {
		r := request("GET", "/api/v1/health", "")
		r.Host = host
		if w := ask(h, r); allowed != (w.Code == http.StatusOK) {
			t.Errorf("host %q: status %d", host, w.Code)
		} else if !allowed {
			wantProblem(t, h, r, WrongHost, "header.Host")
		}
	}
	floor := `{"strips":[{"name":"","surface":"bare firm"}]}`
	wantProblem(t, h, request("PUT", "/api/v1/blocks/B1/floor", floor, "Sec-Fetch-Site: cross-site"), Foreign, "header.Sec-Fetch-Site")
	wantProblem(t, h, request("PUT", "/api/v1/blocks/B1/floor", floor, "Sec-Fetch-Site: same-site"), Foreign, "header.Sec-Fetch-Site")
	wantProblem(t, h, request("PUT", "/api/v1/blocks/B1/floor", floor, "Origin: http://evil.example"), Foreign, "header.Origin")
	wantProblem(t, h, request("GET", "/api/v1/tonight", "", "Sec-Fetch-Site: cross-site", "Sec-Fetch-Mode: no-cors"), Foreign, "")
	for _, ok := range [][]string{{"Sec-Fetch-Site: same-origin"}, {}, {"Sec-Fetch-Site: none"}, {"Origin: http://127.0.0.1:8099"}} {
		if w := ask(h, request("PUT", "/api/v1/blocks/B1/floor", floor, ok...)); w.Code != http.StatusOK {
			t.Errorf("%v: status %d: %s", ok, w.Code, w.Body)
		}
	}
	if w := ask(h, request("GET", "/api/v1/tonight", "", "Sec-Fetch-Site: cross-site", "Sec-Fetch-Mode: navigate")); w.Code != http.StatusOK {
		t.Errorf("a link from elsewhere: status %d", w.Code)
	}
}

func TestAddresses(t *testing.T) {
	h := serve(t, quiet(), nil)
	wantProblem(t, h, request("GET", "/api/v1/nowhere", ""), NotFound, "path")
	wantProblem(t, h, request("GET", "/api/v2/health", ""), NotFound, "path")
	wantProblem(t, h, request("GET", "/missing.js", ""), NotFound, "path")
	wantProblem(t, h, request("POST", "/", ""), WrongMethod, "method")
	w := ask(h, request("DELETE", "/api/v1/health", ""))
	if w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") != "GET" {
		t.Errorf("DELETE health: status %d, Allow %q", w.Code, w.Header().Get("Allow"))
	}
	if got := ask(h, request("GET", "/docs", "")); strings.Contains(got.Body.String(), "unpkg") {
		t.Error("a page that loads from elsewhere is served")
	}
	for _, k := range Kinds() {
		if !strings.Contains(ask(h, request("GET", "/api/v1/problems", "")).Body.String(), `"`+k.Name+`"`) {
			t.Errorf("%s is not among the problems listed", k.Name)
		}
	}
}

// Every wrong body is refused with the place it is wrong at.
func TestBodies(t *testing.T) {
	h := serve(t, quiet(), nil)
	put := func(body string) *http.Request { return request("PUT", "/api/v1/blocks/B1/floor", body) }
	for body, location := range map[string]string{
		"":                    "body",
		"{":                   "body",
		"{\n  \"strips\": [}": "body",
		`{"strips":[]} x`:     "body",
		"\xff\xfe":            "body",
		`{"strips":[{"name":"middle"}],"strips":[]}`:      "body",
		strings.Repeat("[", 40) + strings.Repeat("]", 40): "body",
	} {
		m := wantProblem(t, h, put(body), Malformed, location)
		if len(body) > 0 && len(m.Errors) > 0 && m.Errors[0].Message == "" {
			t.Errorf("%q: nothing is said", body)
		}
	}
	for body, location := range map[string]string{
		`[]`:                             "body",
		`{}`:                             "body",
		`{"strips":[]}`:                  "body.strips",
		`{"strips":null}`:                "body.strips",
		`{"strips":[{"name":"middle"}]}`: "body.strips[0]",
		`{"strips":[{"name":"middle","surface":"bare firm"},{"name":"x","surface":"bare firm"}]}`: "body.strips[1].name",
		`{"strips":[{"name":"middle","surface":"bare firm"},{"name":"middle","surface":"mown"}]}`: "body.strips[1].name",
		`{"strips":[{"name":"","surface":"bare firm"},{"name":"middle","surface":"mown"}]}`:       "body.strips[1].name",
		`{"strips":[{"name":"middle","surface":"lava"}]}`:                                         "body.strips[0].surface",
		`{"strips":[{"name":"middle","surface":"cover"}]}`:                                        "body.strips[0].surface",
		`{"strips":[{"name":"middle","moisture":"18"}]}`:                                          "body.strips[0].moisture",
		`{"strips":[{"name":"middle","surface":7}]}`:                                              "body.strips[0].surface",
		`{"strips":[{"name":"middle","surface":"mown","depth":1}]}`:                               "body.strips[0].depth",
		`{"strips":[{"name":"middle","surface":"mown"}],"at":"yesterday"}`:                        "body.at",
		`{"strips":[{"name":"middle","surface":"mown"}],"at":"2026-04-08T19:00:01Z"}`:             "body.at",
		`{"strips":[{"name":"middle","surface":"mown"}],"by":"` + strings.Repeat("x", 200) + `"}`: "body.by",
	} {
		wantProblem(t, h, put(body), Invalid, location)
	}
	long := `{"strips":[{"name":"middle","surface":"` + strings.Repeat("lava ", 300) + `"}]}`
	if m := wantProblem(t, h, put(long), Invalid, "body.strips[0].surface"); len(fmt.Sprint(m.Errors[0].Value)) > maxShown+10 {
		t.Error("a long wrong value is shown again whole")
	}
	wantProblem(t, h, put(`{"strips":"`+strings.Repeat("x", maxBody)+`"}`), TooLarge, "body")
	wantProblem(t, h, request("PUT", "/api/v1/blocks/B1/floor", "<a/>", "Content-Type: text/xml"), Unreadable, "body")
	wantProblem(t, h, request("PUT", "/api/v1/blocks/B1/floor", "x", "Content-Encoding: gzip"), Unreadable, "header.Content-Encoding")
	wantProblem(t, h, request("PUT", "/api/v1/blocks/B9/floor", `{"strips":[{"name":"","surface":"mown"}]}`), NotFound, "path.id")
}

// Every wrong parameter is refused by its name.
func TestParameters(t *testing.T) {
	h := serve(t, quiet(), nil)
	for path, location := range map[string]string{
		"/tonight?ahead=0": "query.ahead", "/tonight?ahead=15": "query.ahead", "/tonight?ahead=x": "query.ahead", "/tonight?units=imperial": "query.units",
		"/tonight?unit=us": "query.unit", "/tonight?wait=perhaps": "query.wait",
		"/blocks/B1/course?night=14": "query.night", "/blocks/B1/course?night=-1": "query.night",
		"/feeds?limit=0": "query.limit", "/feeds?limit=501": "query.limit", "/feeds?kind=rumour": "query.kind", "/feeds?before=0": "query.before",
	} {
		wantProblem(t, h, request("GET", prefix+path, ""), Invalid, location)
	}
	wantProblem(t, h, request("DELETE", prefix+"/blocks/B1/stages/x?why=y", ""), Invalid, "path.sid")
	wantProblem(t, h, request("DELETE", prefix+"/blocks/B1/stages/1", ""), Invalid, "query.why")
	wantProblem(t, h, request("POST", prefix+"/feeds/0/withdraw", `{"why":"wrong"}`), Invalid, "path.id")
	wantProblem(t, h, request("POST", prefix+"/feeds/1/withdraw", `{"why":""}`), Invalid, "body.why")
	wantProblem(t, h, request("GET", prefix+"/blocks/B9/course", ""), NotFound, "path.id")
}

func TestAlternatives(t *testing.T) {
	h := serve(t, quiet(), nil)
	post := func(block, alternative string) *http.Request {
		return request("POST", prefix+"/blocks/"+block+"/whatif", `{"night":0,"alternatives":[`+alternative+`]}`)
	}
	for alternative, location := range map[string]string{
		`{}`:           "body.alternatives[0]",
		`{"label":""}`: "body.alternatives[0].label",
		`{"label":"a","floor":{"attic":"bare firm"}}`:                                                                  `body.alternatives[0].floor["attic"]`,
		`{"label":"a","floor":{"middle":"lava"}}`:                                                                      `body.alternatives[0].floor["middle"]`,
		`{"label":"a","floor":{"middle":"bare firm, soaking"}}`:                                                        `body.alternatives[0].floor["middle"]`,
		`{"label":"a","run":"away"}`:                                                                                   "body.alternatives[0].run",
		`{"label":"a","run":"fan","run_mm_h":2}`:                                                                       "body.alternatives[0].run_mm_h",
		`{"label":"a","run":"run water tonight","run_mm_h":0}`:                                                         "body.alternatives[0].run_mm_h",
		`{"label":"a","refill_mm":20}`:                                                                                 "body.alternatives[0].refill_start_at",
		`{"label":"a","refill_stop_at":"2026-04-09T00:00:00Z"}`:                                                        "body.alternatives[0].refill_start_at",
		`{"label":"a","refill_start_at":"2026-04-01T00:00:00Z"}`:                                                       "body.alternatives[0].refill_start_at",
		`{"label":"a","refill_start_at":"2026-04-09T00:00:00Z","refill_stop_at":"2026-04-08T23:00:00Z"}`:               "body.alternatives[0].refill_stop_at",
		`{"label":"a","refill_start_at":"2026-04-09T00:00:00Z","refill_mm":-1}`:                                        "body.alternatives[0].refill_mm",
		`{"label":"a","refill_start_at":"2026-04-09T00:00:00Z","refill_stop_at":"2026-04-09T01:00:00Z","refill_mm":9}`: "body.alternatives[0].refill_stop_at",
		`{"label":"a"},{"label":"b","floor":{"":"cover"}}`:                                                             `body.alternatives[1].floor[""]`,
	} {
		wantProblem(t, h, post("B1", alternative), Invalid, location)
	}
	wantProblem(t, h, post("B2", `{"label":"a","refill_start_at":"2026-04-09T00:00:00Z"}`), Invalid, "body.alternatives[0].refill_start_at")
	wantProblem(t, h, request("POST", prefix+"/blocks/B1/whatif", `{"night":14,"alternatives":[{"label":"a"}]}`), Invalid, "body.night")
	wantProblem(t, h, request("POST", prefix+"/blocks/B1/whatif", `{"alternatives":[`+strings.Repeat(`{"label":"a"},`, 24)+`{"label":"a"}]}`), Invalid, "body.alternatives")
	good := `{"label":"a","floor":{"middle":"cover 12in, moist","under-vine":"bare firm"},"refill_start_at":"2026-04-08T19:00:00Z","refill_stop_at":null,"run":"run water tonight","run_mm_h":2.5}`
	if w := ask(h, post("b1", good)); w.Code != http.StatusOK || strings.TrimSpace(w.Body.String()) != "[]" {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
}

func TestStageBodies(t *testing.T) {
	h := serve(t, quiet(), nil)
	post := func(body string) *http.Request { return request("POST", prefix+"/blocks/B1/stages", body) }
	for body, location := range map[string]string{
		`{}`: "body.shares",
		`{"shares":[{"stage":"EL 4","share":1}],"counts":[{"stage":"EL 4","shoots":3}]}`: "body.counts",
		`{"shares":[{"stage":"4","share":1}]}`:                                           "body.shares[0].stage",
		`{"shares":[{"stage":"EL 4","share":0.5},{"stage":"EL 99","share":0.5}]}`:        "body.shares[1].stage",
		`{"shares":[{"stage":"EL 4","share":0.5}]}`:                                      "body.shares",
		`{"shares":[{"stage":"EL 4","share":1.5}]}`:                                      "body.shares[0].share",
		`{"counts":[{"stage":"EL 4","shoots":-1}]}`:                                      "body.counts[0].shoots",
		`{"counts":[{"stage":"EL 4","shoots":1.5}]}`:                                     "body.counts[0].shoots",
		`{"counts":[{"stage":"EL 4","shoots":0}]}`:                                       "body.counts",
		`{"counts":[{"stage":"EL 4","shoots":4},{"stage":"EL 4","shoots":4}]}`:           "body.counts",
		`{"at":"2026-04-09T00:00:00Z","shares":[{"stage":"EL 4","share":1}]}`:            "body.at",
	} {
		wantProblem(t, h, post(body), Invalid, location)
	}
	w := ask(h, post(`{"by":"Mara","counts":[{"stage":"woolly","shoots":30},{"stage":"BBCH 09","shoots":10}]}`))
	if w.Code != http.StatusCreated || w.Header().Get("Location") != prefix+"/blocks/B1/stages/7" {
		t.Fatalf("status %d, Location %q: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	for _, want := range []string{`"unit":"shoots"`, `"counted":40`, `"share":0.75`, `"withdrawn_at":null`, `"at":"2026-04-08T19:00:00Z"`} {
		if !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s lacks %s", w.Body, want)
		}
	}
	if w := ask(h, request("DELETE", prefix+"/blocks/B1/stages/7?why=wrong+row", "")); w.Code != http.StatusNoContent || w.Body.Len() > 0 {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
}

// A fault of the program is told to the log, and to the asker as no more than that.
func TestFaults(t *testing.T) {
	f := quiet()
	f.tonight = func(context.Context, TonightQuery) (Answered, error) { panic("the roof is off") }
	var log strings.Builder
	h := serve(t, f, func(o *Options) { o.Log = textLog(&log); o.Classify = func(error) Kind { return Fault } })
	m := wantProblem(t, h, request("GET", prefix+"/tonight", ""), Fault, "")
	f.tonight = func(context.Context, TonightQuery) (Answered, error) { return Answered{}, fmt.Errorf("secret cellar") }
	m2 := wantProblem(t, h, request("GET", prefix+"/tonight", ""), Fault, "")
	if strings.Contains(m.Detail+m2.Detail, "roof") || strings.Contains(m2.Detail, "cellar") {
		t.Errorf("told: %s %s", m.Detail, m2.Detail)
	}
	if !strings.Contains(log.String(), "the roof is off") || !strings.Contains(log.String(), "secret cellar") {
		t.Errorf("the log says %s", log.String())
	}
	if w := ask(h, request("GET", prefix+"/health", "")); w.Code != http.StatusOK {
		t.Errorf("after a fault: status %d", w.Code)
	}
}

func TestAgeAndRevalidation(t *testing.T) {
	h := serve(t, quiet(), nil)
	w := ask(h, request("GET", prefix+"/tonight?units=metric", ""))
	if w.Header().Get("Age") != "90" || !strings.Contains(w.Body.String(), `"age_h":0,"current":true`) {
		t.Errorf("Age %q: %s", w.Header().Get("Age"), w.Body)
	}
	tag := w.Header().Get("ETag")
	again := ask(h, request("GET", prefix+"/tonight?units=metric", "", "If-None-Match: "+tag))
	if tag == "" || again.Code != http.StatusNotModified || again.Body.Len() != 0 {
		t.Errorf("ETag %q: status %d, %d bytes", tag, again.Code, again.Body.Len())
	}
	if w := ask(h, request("GET", prefix+"/tonight", "", `If-None-Match: "other"`)); w.Code != http.StatusOK {
		t.Errorf("another tag: status %d", w.Code)
	}
	head := ask(h, request("HEAD", prefix+"/health", ""))
	if head.Code != http.StatusOK || head.Body.Len() != 0 || head.Header().Get("Content-Length") == "" {
		t.Errorf("HEAD: status %d, %d bytes", head.Code, head.Body.Len())
	}
}

func TestPages(t *testing.T) {
	h := serve(t, quiet(), nil)
	w := ask(h, request("GET", "/", "", "Accept-Encoding: br, gzip"))
	if w.Header().Get("Content-Encoding") != "gzip" || w.Header().Get("Cache-Control") != "no-cache" {
		t.Errorf("the page comes with %v", w.Header())
	}
	z, err := gzip.NewReader(w.Body)
	if err != nil {
		t.Fatal(err)
	}
	plain := ask(h, request("GET", "/", ""))
	if text := readAll(t, z); text != plain.Body.String() || !strings.HasPrefix(text, "<!doctype html>") {
		t.Error("packed and plain page differ")
	}
	tag := w.Header().Get("ETag")
	if tag == plain.Header().Get("ETag") {
		t.Error("packed and plain page have one tag")
	}
	if w := ask(h, request("GET", "/", "", "Accept-Encoding: gzip", "If-None-Match: "+tag)); w.Code != http.StatusNotModified || w.Header().Get("Content-Encoding") != "" {
		t.Errorf("unchanged: status %d", w.Code)
	}
	if got := ask(h, request("GET", "/assets/main-abc.js", "")).Header(); !strings.Contains(got.Get("Cache-Control"), "immutable") || got.Get("Content-Type") != "text/javascript; charset=utf-8" {
		t.Errorf("a script comes with %v", got)
	}
	if got := ask(h, request("GET", "/sw.js", "")).Header().Get("Cache-Control"); got != "no-cache" {
		t.Errorf("the worker is kept: %q", got)
	}
	if w := ask(h, request("GET", "/blocks/B1", "")); !strings.HasPrefix(w.Body.String(), "<!doctype html>") {
		t.Errorf("an address of the page's own: status %d", w.Code)
	}
	for accept, want := range map[string]bool{"": false, "gzip": true, "gzip;q=0": false, "*": true, "*;q=0": false, "deflate": false, "GZIP;q=0.5": true, "*, gzip;q=0": false} {
		if got := takesGzip(request("GET", "/", "", "Accept-Encoding: "+accept)); got != want {
			t.Errorf("Accept-Encoding %q: %v", accept, got)
		}
	}
	for name, files := range map[string]fstest.MapFS{"an unknown kind": {"x.exe": {}}, "too much": {"x.js": {Data: make([]byte, maxPageBytes+1)}}} {
		if _, err := loadPages(files); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	ready, err := loadPages(fstest.MapFS{"a.js": {Data: []byte(strings.Repeat("x", 99))}, "a.js.gz": {Data: []byte("packed before")}})
	if err != nil || string(ready["a.js"].packed) != "packed before" || len(ready) != 1 {
		t.Errorf("%v, %v", ready, err)
	}
}

// A body that does not come is given up, and holds up nobody else.
func TestSlowBody(t *testing.T) {
	s := httptest.NewServer(serve(t, quiet(), func(o *Options) { o.Limits.BodyTime = 30 * time.Millisecond }))
	defer s.Close()
	c, err := net.Dial("tcp", s.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	// A bound of a library's own would cut in after five seconds.
	if err := c.SetReadDeadline(time.Now().Add(4 * time.Second)); err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(c, "PUT /api/v1/blocks/B1/floor HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 50\r\n\r\n{\"strips\":")
	resp, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatal(err)
	}
	body := readAll(t, resp.Body)
	if resp.StatusCode != http.StatusRequestTimeout || !strings.Contains(body, `"location":"body"`) {
		t.Errorf("status %d: %s", resp.StatusCode, body)
	}
}

// More than the bound at once are told to come again; files by a bound of their
// own.
func TestBusy(t *testing.T) {
	f := quiet()
	enter, leave := make(chan bool), make(chan bool)
	f.tonight = func(context.Context, TonightQuery) (Answered, error) { enter <- true; <-leave; return Answered{}, nil }
	f.take = func(context.Context, Upload) (Taken, error) { enter <- true; <-leave; return Taken{}, nil }
	h := serve(t, f, func(o *Options) { o.Limits.Requests, o.Limits.Uploads = 2, 1 })
	done := make(chan int)
	begin := func(r *http.Request) {
		go func() { done <- ask(h, r).Code }()
		<-enter
	}
	begin(request("POST", prefix+"/forecasts", "data"))
	if w := ask(h, request("POST", prefix+"/forecasts", "data")); w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" {
		t.Errorf("a second file: status %d", w.Code)
	}
	begin(request("GET", prefix+"/tonight", ""))
	w := ask(h, request("GET", prefix+"/health", ""))
	if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" {
		t.Errorf("a third request: status %d", w.Code)
	}
	problemOf(t, w)
	if w := ask(h, request("GET", "/", "")); w.Code != http.StatusOK {
		t.Errorf("the page when busy: status %d", w.Code)
	}
	for range 2 {
		leave <- true
		if code := <-done; code != http.StatusOK {
			t.Errorf("one that was let in: status %d", code)
		}
	}
	if w := ask(h, request("GET", prefix+"/health", "")); w.Code != http.StatusOK {
		t.Errorf("afterwards: status %d", w.Code)
	}
}

// A change made on no particular revision is made again when somebody was faster;
// one made on a revision is not.
func TestFloorRaces(t *testing.T) {
	f := &racing{fake: quiet(), left: 2}
	o := Options{Classify: classifyTest, Log: textLog(&strings.Builder{})}
	h, err := New(f, o)
	if err != nil {
		t.Fatal(err)
	}
	if w := ask(h, request("PUT", prefix+"/blocks/B1/floor", `{"strips":[{"name":"middle","surface":"mown"}]}`)); w.Code != http.StatusOK ||
		!strings.Contains(w.Body.String(), `\"mown\" is taken as`) {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	f.left = 3
	wantProblem(t, h, request("PUT", prefix+"/blocks/B1/floor", `{"strips":[{"name":"middle","surface":"mown"}]}`), Conflict, "body.revision")
	f.left = 1
	wantProblem(t, h, request("PUT", prefix+"/blocks/B1/floor", `{"revision":2,"strips":[{"name":"middle","surface":"mown"}]}`), Conflict, "body.revision")
}

// racing is a farm that others change first, some times.
type racing struct {
	*fake
	left int
}

func (r *racing) ChangeFloor(_ context.Context, c FloorChange) (Kept, error) {
	if r.left > 0 {
		r.left--
		return Kept{}, &store.ConflictError{What: "farm", ID: "quillby", Why: "changed meanwhile"}
	}
	return Kept{Revision: c.BasedOn + 1}, nil
}
