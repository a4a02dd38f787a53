package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"budward/api"
	"budward/cli"
	"budward/cli/calc"
	"budward/decide/nights"
	"budward/decide/weather"
	"budward/feed"
	"budward/physics/quantity"
	"budward/physics/sky"
	"budward/sheet"
	"budward/store"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// kinds is the one table from kinds of error to kinds of problem, and so to HTTP
// statuses; the first that matches counts. Its sister for exit codes is codes; a
// test holds that no error is in one and not in the other.
var kinds = []struct {
	match func(error) bool
	kind  api.Kind
}{
	{is[*busyError], api.Busy},
	{is[*faultError], api.Fault},
	{is[*noFarmError], api.FarmFile},
	{is[*store.NotFoundError], api.NotFound},
	{is[*store.ConflictError], api.Conflict},
	{is[*store.AlreadyFedError], api.Conflict},
	{is[*store.InvalidError], api.Invalid},
	{is[*store.BusyError], api.Busy},
	{is[*store.CorruptError], api.FarmFile},
	{is[*store.NewerError], api.FarmFile},
	{is[*store.DiskError], api.FarmFile},
	{is[*fs.PathError], api.FarmFile},
	{is[*feed.Error], api.Invalid},
	{is[*cli.UsageError], api.Invalid},
	{is[*cli.MomentError], api.Invalid},
	{is[*cli.ProblemsError], api.Invalid},
	{is[*calc.InputError], api.Invalid},
	{is[*farm.FieldError], api.Invalid},
	{is[*vine.StageError], api.Invalid},
	{is[*vine.InputError], api.Invalid},
	{is[*quantity.UnitError], api.Invalid},
	{is[*quantity.RangeError], api.Invalid},
	{is[*cli.NoAnswerError], api.NoAnswer},
	{is[*nights.InputError], api.NoAnswer},
	{is[*sheet.InputError], api.NoAnswer},
	{is[*weather.NoNightError], api.NoAnswer},
	{is[*sky.NeverError], api.NoAnswer},
	{is[*vine.GapError], api.NoAnswer},
	{is[*vine.TableError], api.NoAnswer},
	{is[*weather.InputError], api.NoAnswer},
	// Who asked has gone, or the program is being stopped.
	{is[*stoppedError], api.Busy},
	{func(err error) bool { return errors.Is(err, context.Canceled) }, api.Busy},
	{func(err error) bool { return errors.Is(err, context.DeadlineExceeded) }, api.Busy},
}

// classify is Fault for an error of no known kind: it is the program's to know.
func classify(err error) api.Kind {
	for _, k := range kinds {
		if k.match(err) {
			return k.kind
		}
	}
	return api.Fault
}

// busyError says that too much is asked at once.
type busyError struct{ waiting int }

func (e *busyError) Error() string {
	return fmt.Sprintf("%d answers are being worked out already; try again", e.waiting)
}

// stoppedError says that the program is being stopped.
type stoppedError struct{}

func (*stoppedError) Error() string { return "the program is being stopped" }

// faultError is a panic in work that nobody waits for alone.
type faultError struct {
	what  any
	stack string
}

func (e *faultError) Error() string { return fmt.Sprintf("%v\n%s", e.what, e.stack) }
