// Package app joins the parts into the program: it opens the farm file, hands
// weather, stages and the farm to the pure layers, and turns errors into exit
// codes. It is the program as a library, so that tests run the real thing with
// a fixed clock and a folder of their own.
package app

import (
	"context"
	"fmt"
	"io"
	"runtime/debug"
	"time"
	_ "time/tzdata" // field machines often have no zones of their own

	"budward/cli"
)

// Options are what surrounds a run of the program.
type Options struct {
	Args     []string // without the program's name
	Stdin    io.Reader
	Stdout   io.Writer
	Stderr   io.Writer
	Getenv   func(string) string
	Now      func() time.Time // the clock
	Color    bool             // Stdout is a terminal that shows colours
	Progress bool             // tell on Stderr what takes more than a second
	Members  int              // scenarios; 0 = the usual number
}

// Run runs one command and returns its exit code. Errors are written to Stderr
// in one line each.
func Run(ctx context.Context, o Options) (code int) {
	defer func() {
		if x := recover(); x != nil {
			fmt.Fprintf(o.Stderr, "budward: a fault in the program itself; please report it: %v\n%s", x, debug.Stack())
			code = ExitFault
		}
	}()
	env := cli.Env{
		Args: o.Args, Stdin: o.Stdin, Stdout: o.Stdout, Stderr: o.Stderr, Getenv: o.Getenv, Color: o.Color, Progress: o.Progress,
		ExitCodes: exitHelp(),
		Open: func(ctx context.Context, s cli.Settings) (cli.Office, error) {
			s.Members = o.Members
			return newOffice(s, o.Now), nil
		},
	}
	err := cli.Run(ctx, env)
	if err == nil {
		return ExitOK
	}
	for _, line := range errorLines(err) {
		fmt.Fprintln(o.Stderr, "budward: "+line)
	}
	return exitCode(err)
}
