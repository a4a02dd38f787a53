package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"budward/cli"
	"budward/cli/calc"
	"budward/decide/hindcast"
	"budward/decide/nights"
	"budward/decide/trial"
	"budward/decide/weather"
	"budward/feed"
	"budward/physics/quantity"
	"budward/physics/sky"
	"budward/store"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// The exit codes.
const (
	ExitOK       = 0
	ExitNoAnswer = 1
	ExitUsage    = 2
	ExitData     = 3
	ExitFile     = 4
	ExitFault    = 5
	ExitStopped  = 130
)

// exits says what each code means, in order.
var exits = []struct {
	code  int
	means string
}{
	{ExitOK, "answered"},
	{ExitNoAnswer, "no answer could be worked out from what is known"},
	{ExitUsage, "the command line is wrong"},
	{ExitData, "bad data in a file that was given"},
	{ExitFile, "trouble with the farm file or the disk"},
	{ExitFault, "a fault in the program itself"},
	{ExitStopped, "interrupted"},
}

func exitHelp() string {
	var b strings.Builder
	b.WriteString("Exit codes:")
	for i, x := range exits {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, " %d %s", x.code, x.means)
	}
	return b.String() + "."
}

// is matches errors of one type anywhere in the chain.
func is[E error](err error) bool {
	var e E
	return errors.As(err, &e)
}

// codes is the one table from kinds of error to exit codes; the first that
// matches counts.
var codes = []struct {
	match func(error) bool
	code  int
}{
	{func(err error) bool { return errors.Is(err, context.Canceled) }, ExitStopped},
	{is[*cli.UsageError], ExitUsage},
	{is[*cli.MomentError], ExitUsage},
	{is[*calc.InputError], ExitUsage},
	{is[*hindcast.InputError], ExitUsage}, // what is wrong with a record itself is told apart in hindcastError
	{is[*trial.InputError], ExitUsage},
	{is[*trial.TooFewError], ExitNoAnswer},
	{is[*cli.NoAnswerError], ExitNoAnswer},
	{is[*cli.ProblemsError], ExitData},
	{is[*feed.Error], ExitData},
	{is[*store.AlreadyFedError], ExitData},
	{is[*store.InvalidError], ExitData},
	{is[*farm.FieldError], ExitData},
	{is[*vine.StageError], ExitData},
	{is[*store.NotFoundError], ExitFile},
	{is[*store.ConflictError], ExitFile},
	{is[*store.BusyError], ExitFile},
	{is[*store.CorruptError], ExitFile},
	{is[*store.NewerError], ExitFile},
	{is[*store.DiskError], ExitFile},
	{is[*fs.PathError], ExitFile},
	{is[*weather.NoNightError], ExitNoAnswer},
	{is[*sky.NeverError], ExitNoAnswer},
	{is[*quantity.RangeError], ExitNoAnswer},
	{is[*quantity.UnitError], ExitUsage},
	{is[*vine.InputError], ExitNoAnswer},
	{is[*vine.GapError], ExitNoAnswer},
	{is[*vine.TableError], ExitNoAnswer},
	{is[*weather.InputError], ExitNoAnswer},
	{is[*nights.InputError], ExitNoAnswer},
}

// exitCode is ExitNoAnswer for an error of no known kind.
func exitCode(err error) int {
	for _, c := range codes {
		if c.match(err) {
			return c.code
		}
	}
	return ExitNoAnswer
}

// errorLines writes an error, one line for each of those joined in it.
func errorLines(err error) []string {
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var out []string
		for _, e := range many.Unwrap() {
			out = append(out, errorLines(e)...)
		}
		return out
	}
	return []string{strings.Join(strings.Fields(err.Error()), " ")}
}
