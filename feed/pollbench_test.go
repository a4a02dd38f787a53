package feed

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// pipeNet carries HTTP over pipes inside a synctest bubble: waiting costs no time
// of the tester's.
type pipeNet struct {
	conns  chan net.Conn
	closed chan struct{}
	once   sync.Once
}

func (p *pipeNet) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipeNet) Close() error {
	p.once.Do(func() { close(p.closed) })
	return nil
}

type pipeAddr struct{}

func (pipeAddr) Network() string { return "pipe" }
func (pipeAddr) String() string  { return "127.0.0.1:80" }

func (p *pipeNet) Addr() net.Addr { return pipeAddr{} }

func (p *pipeNet) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	here, there := net.Pipe()
	select {
	case p.conns <- there:
		return here, nil
	case <-p.closed:
		return nil, errors.New("connection refused")
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// benchClock is the bubble's clock moved to April 2024, and by jump.
type benchClock struct {
	mu   sync.Mutex
	jump time.Duration
}

var benchStart = time.Date(2024, 4, 10, 0, 0, 0, 0, time.UTC)

func (c *benchClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return benchStart.Add(time.Since(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))).Add(c.jump).UTC()
}

func (c *benchClock) Wait(ctx context.Context, d time.Duration) error {
	return WallClock{}.Wait(ctx, d)
}

// bench is a poller with the server it asks. Handlers are called in order; the
// last one goes on answering.
type bench struct {
	t     *testing.T
	p     *Poller
	clock *benchClock
	net   *pipeNet
	kept  []Delivery
	deny  error // what keep answers

	mu    sync.Mutex
	asked []time.Time
	head  []http.Header
	serve []http.HandlerFunc
}

func (b *bench) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	b.mu.Lock()
	b.asked, b.head = append(b.asked, b.clock.Now()), append(b.head, r.Header.Clone())
	h := b.serve[0]
	if len(b.serve) > 1 {
		b.serve = b.serve[1:]
	}
	b.mu.Unlock()
	h(w, r)
}

func (b *bench) keep(_ context.Context, d Delivery) error {
	if b.deny != nil {
		return b.deny
	}
	b.kept = append(b.kept, d)
	return nil
}

func inBench(t *testing.T, change func(*PollConfig), run func(b *bench), serve ...http.HandlerFunc) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, serve: serve, clock: &benchClock{}, net: &pipeNet{conns: make(chan net.Conn), closed: make(chan struct{})}}
		srv := httptest.NewUnstartedServer(b)
		srv.Listener = b.net
		srv.Start()
		tr := PollTransport()
		tr.Proxy, tr.DialContext = nil, b.net.dial
		cfg := PollConfig{URL: "http://weather.example/grid?token=s3cret", Kind: PollForecast, StationID: "flat", Contact: "grower@farm.example", Version: "1.0"}
		if change != nil {
			change(&cfg)
		}
		var err error
		b.p, err = NewPoller(cfg, PollEnv{Clock: b.clock, Transport: tr, Rand: rand.New(rand.NewPCG(1, 2))})
		if err != nil {
			t.Fatal(err)
		}
		run(b)
		tr.CloseIdleConnections()
		srv.CloseClientConnections()
		srv.Close()
	})
}

// poll tries once, after the time that lies between two tries.
func (b *bench) poll() (Outcome, error) {
	b.t.Helper()
	time.Sleep(2 * time.Minute) // the bubble's, not ours
	return b.p.Poll(b.t.Context(), b.keep)
}

func forecastAt(issued string) string {
	text := oneTemp("wmoUnit:degC", "2024-04-10T05:00:00+00:00/PT6H", "1")
	return strings.Replace(text, issueOf(text), issued, 1)
}

func issueOf(text string) string {
	_, rest, _ := strings.Cut(text, `"updateTime"`)
	_, rest, _ = strings.Cut(rest, `"`)
	issue, _, _ := strings.Cut(rest, `"`)
	return issue
}

func good(issued string, headers ...string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/geo+json")
		for i := 0; i < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		io.WriteString(w, forecastAt(issued))
	}
}

func status(code int, headers ...string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		for i := 0; i < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		w.WriteHeader(code)
	}
}

func body(contentType, text string, headers ...string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		for i := 0; i < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		w.Header().Set("Content-Type", contentType)
		io.WriteString(w, text)
	}
}

// raw answers with bytes as they are and hangs up.
func raw(text string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		c, _, err := w.(http.Hijacker).Hijack()
		if err != nil {
			panic(err)
		}
		io.WriteString(c, text)
		c.Close()
	}
}

func zipped(text string) string {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	io.WriteString(w, text)
	w.Close()
	return b.String()
}

const (
	issuedNoon = "2024-04-09T12:00:00+00:00"
	issuedOne  = "2024-04-09T13:00:00+00:00"
)
