package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"time"

	"golang.org/x/net/netutil"

	"budward/api"
	"budward/cli"
	"budward/feed"
)

// DefaultListen is where the program answers if nothing else is said.
const DefaultListen = "127.0.0.1:8099"

// Bounds of a connection. The longest answer, five hundred blocks, takes under a
// minute; the largest file may take api's two minutes to come.
const (
	headTime    = 5 * time.Second
	readTime    = 3 * time.Minute
	writeTime   = 5 * time.Minute
	idleTime    = 2 * time.Minute
	stopTime    = 10 * time.Second
	maxHead     = 32 << 10
	connections = 256
)

// ServeOptions say what one serving process is made of.
type ServeOptions struct {
	FarmPath string
	Addr     string   // "" = DefaultListen; port 0 = a free one
	Hosts    []string // names it is reached by beside this machine's own
	Poll     []string // "STATION=URL", "reading:STATION=URL"
	Seed     uint64
	Members  int              // scenarios; 0 = the usual number
	Now      func() time.Time // the clock
	Pages    fs.FS            // nil = none
	Stderr   io.Writer        // is told where it is reached, and the log
	Limits   api.Limits
	// Ready is told the address of the page once it can be asked for; may be nil.
	Ready func(url string)
	// Transport fetches for the pollers; nil = the network.
	Transport http.RoundTripper
}

// Serve answers for one farm file over HTTP until ctx ends: API, pages and pollers
// in one process. It then answers what has been asked, stops fetching and returns
// nil. An address that is not this machine's own is refused: there are no accounts,
// so whoever reached it could change the farm.
func Serve(ctx context.Context, o ServeOptions) error {
	office := newOffice(cli.Settings{FarmPath: o.FarmPath, Seed: o.Seed, Members: o.Members}, o.Now)
	return errors.Join(office.serve(ctx, o), office.Close())
}

// Serve is Serve for an office of the command line. Where its moment is a fixed
// one, as a demo's is, time goes on from there.
func (o *office) Serve(ctx context.Context, r cli.ServeRequest) error {
	clock := o.clock
	if o.set.Now != "" {
		base, _, err := o.Moment(ctx)
		if err != nil {
			return err
		}
		began := o.clock()
		clock = func() time.Time { return base.Add(o.clock().Sub(began)) }
	}
	if _, err := o.open(ctx); err != nil {
		return err
	}
	set := o.set
	set.Now, set.Progress = "", nil
	live := newOffice(set, clock)
	live.st = o.st // o closes it
	opts := ServeOptions{Addr: r.Listen, Hosts: r.Hosts, Poll: r.Poll, Pages: pages(), Stderr: r.Stderr}
	if r.Open {
		opts.Ready = openPage
	}
	return live.serve(ctx, opts)
}

func (o *office) serve(ctx context.Context, opts ServeOptions) error {
	clock := o.clock
	o.clock = func() time.Time { return clock().Truncate(time.Millisecond) } // as moments are kept
	f, err := o.Farm(ctx)
	if err != nil {
		return err
	}
	hosts, err := checkHosts(opts.Hosts)
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(opts.Stderr, nil))
	life, end := context.WithCancel(context.WithoutCancel(ctx)) // what is asked is answered when ctx has ended
	defer end()
	s := newService(life, o)
	if s.pollers, err = newPollers(opts.Poll, f, feed.WallClock{}, opts.Transport); err != nil {
		return err
	}
	handler, err := api.New(s, api.Options{Classify: classify, Pages: opts.Pages, Sheet: s.sheet, Hosts: hosts, Limits: opts.Limits, Log: log})
	if err != nil {
		return err
	}
	listener, err := listen(ctx, opts.Addr)
	if err != nil {
		return err
	}
	server := &http.Server{Handler: handler, ReadHeaderTimeout: headTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
		MaxHeaderBytes: maxHead, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
		BaseContext: func(net.Listener) context.Context { return context.WithoutCancel(ctx) }}
	url := "http://" + listener.Addr().String() + "/"
	fmt.Fprintf(opts.Stderr, "budward: %s is at %s on this machine; stop with Ctrl-C\n", f.Name, url)
	var tasks sync.WaitGroup
	for _, p := range s.pollers {
		tasks.Go(func() { s.run(ctx, p, log) })
	}
	tasks.Go(func() { s.answers.keepWarm(func(err error) { log.Error("no answer", "error", err) }) })
	s.answers.renew()
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(netutil.LimitListener(listener, connections)) }()
	if opts.Ready != nil {
		opts.Ready(url)
	}
	select {
	case err = <-failed:
	case <-ctx.Done():
		err = nil
	}
	return errors.Join(err, shut(server, s, end, &tasks))
}

// shut stops in order: no new questions, those asked are answered, no more
// fetching and working out.
func shut(server *http.Server, s *service, end context.CancelFunc, tasks *sync.WaitGroup) error {
	patience, done := context.WithTimeout(context.Background(), stopTime)
	defer done()
	err := server.Shutdown(patience)
	if errors.Is(err, context.DeadlineExceeded) { // somebody takes longer than we wait
		err = server.Close()
	}
	end()
	tasks.Wait()
	s.answers.wait(patience)
	return err
}

// listen listens on an address of this machine alone.
func listen(ctx context.Context, addr string) (net.Listener, error) {
	if addr == "" {
		addr = DefaultListen
	}
	refuse := func(why string) error {
		return &cli.UsageError{Text: fmt.Sprintf("--listen %s: %s", addr, why)}
	}
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, refuse("want an address and a port, such as " + DefaultListen)
	}
	const alone = "there are no accounts yet, so only this machine is answered: want 127.0.0.1, [::1] or localhost. " +
		"For a phone, put a server with a login in front of it and name that with --host"
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, refuse(alone)
	}
	var config net.ListenConfig
	l, err := config.Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, refuse(fmt.Sprintf("cannot be listened on (%v); another budward may be running: want a free port, or 0 for any", err))
	}
	// localhost is what the machine's tables say it is.
	if a, ok := l.Addr().(*net.TCPAddr); !ok || !a.IP.IsLoopback() {
		return nil, errors.Join(refuse(alone), l.Close())
	}
	return l, nil
}

// checkHosts reads the names the program is reached by.
func checkHosts(names []string) ([]string, error) {
	var out []string
	for _, n := range names {
		low := strings.ToLower(strings.TrimSpace(n))
		if low == "" || len(low) > 253 || strings.ContainsAny(low, "/:@*? \t") {
			return nil, &cli.UsageError{Text: fmt.Sprintf("--host %q: want a name alone, such as frost.example.org", n)}
		}
		out = append(out, low)
	}
	return out, nil
}

// openPage opens an address in this machine's browser. Where there is none the
// address that was printed is there to be opened by hand.
func openPage(url string) {
	command, args := "xdg-open", []string{url}
	switch runtime.GOOS {
	case "darwin":
		command = "open"
	case "windows":
		command, args = "rundll32", []string{"url.dll,FileProtocolHandler", url}
	}
	cmd := exec.Command(command, args...)
	if cmd.Start() == nil {
		go func() { _ = cmd.Wait() }() // how the browser ends is its own affair
	}
}
