// Package cli is the command line: it reads commands, asks the rest of the
// program through one interface, and prints answers for tired people or, with
// --json, for machines. It computes nothing.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"budward/physics/quantity"
)

// Env is what surrounds a run of the command line.
type Env struct {
	Args   []string
	Stdin  io.Reader
	Stdout io.Writer
	Stderr io.Writer
	Getenv func(string) string
	// Color says that Stdout is a terminal that shows colours. NO_COLOR in the
	// environment is respected whatever it says.
	Color bool
	// Progress says that waits of more than a second are told on Stderr.
	Progress bool
	// Open makes the office the commands ask.
	Open func(ctx context.Context, s Settings) (Office, error)
	// ExitCodes is the table of exit codes, for the help text.
	ExitCodes string
}

// UsageError says that the command line itself is wrong.
type UsageError struct{ Text string }

func (e *UsageError) Error() string { return e.Text }

func usage(format string, a ...any) error { return &UsageError{fmt.Sprintf(format, a...)} }

// NoAnswerError says that a question was understood and has no answer: what was
// printed says why.
type NoAnswerError struct{ Text string }

func (e *NoAnswerError) Error() string { return e.Text }

// ProblemsError says that a farm's files have errors, which were printed.
type ProblemsError struct{ Errors int }

func (e *ProblemsError) Error() string {
	return fmt.Sprintf("the farm has %s; nothing was kept", plural(e.Errors, "error", "errors"))
}

type globals struct {
	Farm  string `help:"Farm file (environment BUDWARD_FARM)." placeholder:"FILE" default:""`
	JSON  bool   `name:"json" help:"Answer as JSON in SI units, with a schema version."`
	Units string `help:"us or metric (environment BUDWARD_UNITS; else as the farm's people read, else us)." placeholder:"SYSTEM" default:""`
	Now   string `help:"Answer as of this moment: 2026-04-08T15:00-07:00, or '2026-04-08 15:00' in the farm's zone." placeholder:"TIME" default:""`
	Seed  uint64 `help:"Seed of the scenarios; the same seed gives the same answer." default:"1"`
}

type grammar struct {
	globals `embed:""`

	Demo     demoCmd     `cmd:"" help:"An invented farm on a frosty week: prints tonight and leaves a farm to try things on."`
	Serve    serveCmd    `cmd:"" help:"Answer on this machine: the page, the API, and feeds that fetch by themselves."`
	OfFarm   farmCmd     `cmd:"" name:"farm" help:"Describe the farm: import, show, check, export."`
	Feed     feedCmd     `cmd:"" help:"Take in weather: forecast, readings; list and withdraw what was fed."`
	Stage    stageCmd    `cmd:"" help:"How far the buds are: record, show, fit, withdraw."`
	Nights   nightsCmd   `cmd:"" help:"Every block, every night ahead."`
	Tonight  tonightCmd  `cmd:"" help:"The one-page answer for the coming night."`
	Whatif   whatifCmd   `cmd:"" help:"Compare choices for one block and one night."`
	Hindcast hindcastCmd `cmd:"" help:"Predictions against what was measured: a record replayed as if live."`
	Trial    trialCmd    `cmd:"" help:"Measure with two thermometers what a floor or wetting is worth: plan, estimate."`
	Calc     calcCmd     `cmd:"" help:"Single formulas with their source. Without a name: the list."`
}

// run is one command under way.
type run struct {
	ctx    context.Context
	env    Env
	g      *globals
	office Office
	system quantity.System
	// stated says that the units were asked for, not taken.
	stated bool
}

// exited is thrown by kong's own exits (help), which must not end the process.
type exited struct{ code int }

// Run parses the arguments and runs one command. The error it returns has not
// been printed.
func Run(ctx context.Context, env Env) (err error) {
	defer func() {
		if x := recover(); x != nil {
			if _, ok := x.(exited); ok {
				err = nil
				return
			}
			panic(x)
		}
	}()
	var g grammar
	k, err := kong.New(&g, kong.Name("budward"), kong.Description(about(env.ExitCodes)),
		kong.Writers(env.Stdout, env.Stderr), kong.Exit(func(code int) { panic(exited{code}) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: Width, NoExpandSubcommands: true}))
	if err != nil {
		panic("cli: the grammar is wrong: " + err.Error())
	}
	args := joined(env.Args)
	if len(args) == 0 {
		args = []string{"--help"}
	}
	kctx, err := k.Parse(args)
	if err != nil {
		return &UsageError{tidy(err)}
	}
	r := &run{ctx: ctx, env: env, g: &g.globals}
	if err := r.prepare(); err != nil {
		return err
	}
	err = kctx.Run(r)
	if r.office != nil {
		err = errors.Join(err, r.office.Close())
	}
	return err
}

func about(codes string) string {
	return "Carries a vineyard through spring frost: how cold each block gets, what it can stand, and what to do about it.\n\n" +
		"Start with `budward demo`, or with `budward farm export --template my-farm` and `budward farm import my-farm`.\n\n" + codes
}

// tidy makes kong's messages say what was expected in one line.
func tidy(err error) string {
	s := strings.ReplaceAll(err.Error(), "\n", " ")
	return s + "; see budward --help"
}

// prepare reads the global flags and the environment.
func (r *run) prepare() error {
	if r.env.Getenv == nil {
		r.env.Getenv = func(string) string { return "" }
	}
	first := func(texts ...string) string {
		for _, t := range texts {
			if t != "" {
				return t
			}
		}
		return ""
	}
	r.g.Farm = first(r.g.Farm, r.env.Getenv("BUDWARD_FARM"), "farm.db")
	if u := first(r.g.Units, r.env.Getenv("BUDWARD_UNITS")); u != "" {
		s, err := quantity.ParseSystem(u)
		if err != nil {
			return usage("--units %s: want us or metric", u)
		}
		r.system, r.stated = s, true
	}
	if r.env.Getenv("NO_COLOR") != "" {
		r.env.Color = false
	}
	return nil
}

// open makes the office on first use.
func (r *run) open() (Office, error) {
	if r.office != nil {
		return r.office, nil
	}
	o, err := r.env.Open(r.ctx, Settings{FarmPath: r.g.Farm, Now: r.g.Now, Seed: r.g.Seed, Progress: r.progress})
	if err != nil {
		return nil, err
	}
	r.office = o
	return o, nil
}

// progress tells on Stderr what takes more than a second.
func (r *run) progress(doing string) func() { return r.telling(func() string { return doing }) }

// telling is progress with words that change as the work goes on.
func (r *run) telling(doing func() string) func() {
	if !r.env.Progress {
		return func() {}
	}
	stop := make(chan struct{})
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		wait := time.NewTimer(time.Second)
		defer wait.Stop()
		started := time.Now()
		for {
			select {
			case <-stop:
				return
			case <-wait.C:
				fmt.Fprintf(r.env.Stderr, "budward: %s (%d s)\n", doing(), int(time.Since(started).Seconds()))
				wait.Reset(5 * time.Second)
			}
		}
	}()
	return func() { close(stop); <-ended }
}

// page starts a page of text.
func (r *run) page() *page { return &page{color: r.env.Color} }

// json writes an answer for machines.
func (r *run) json(schema string, v any) error { return writeJSON(r.env.Stdout, schema, v) }

// print writes a page.
func (r *run) print(p *page) error { return p.writeTo(r.env.Stdout) }
