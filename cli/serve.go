package cli

import (
	"context"
	"io"
)

type serveCmd struct {
	Listen string   `help:"Address and port to answer on; port 0 takes a free one." default:"127.0.0.1:8099" placeholder:"127.0.0.1:8099"`
	Host   []string `help:"A further name under which it is reached, through a server with a login of its own; may be given again." placeholder:"NAME"`
	Poll   []string `sep:"none" help:"Forecast to fetch by itself: STATION=URL; readings: reading:STATION=URL. May be given again." placeholder:"STATION=URL"`
	Open   bool     `help:"Open the page in this machine's browser."`
}

// Help is shown below the usage.
func (c *serveCmd) Help() string {
	return `Answers on this machine alone (127.0.0.1) until it is stopped with Ctrl-C: there are no
accounts yet. For a phone, put a server with a login in front of it and name it
with --host.

budward serve --poll flat=https://example.org/forecast.json`
}

// ServeRequest says how the program is to serve.
type ServeRequest struct {
	Listen string
	Hosts  []string
	Poll   []string
	// Open opens the page in the machine's browser.
	Open bool
	// Stderr is told where the program is reached, and its log.
	Stderr io.Writer
}

// Server is an Office that can serve its farm: API, pages and pollers in one
// process, until ctx ends. Where it is reached is told on Stderr.
type Server interface {
	Serve(ctx context.Context, r ServeRequest) error
}

// Run serves.
func (c *serveCmd) Run(r *run) error {
	o, err := r.open()
	if err != nil {
		return err
	}
	return r.serve(o, ServeRequest{Listen: c.Listen, Hosts: c.Host, Poll: c.Poll, Open: c.Open})
}

// serve serves an office's farm.
func (r *run) serve(o Office, req ServeRequest) error {
	s, ok := o.(Server)
	if !ok {
		panic("cli: the office cannot serve")
	}
	req.Stderr = r.env.Stderr
	return s.Serve(r.ctx, req)
}
