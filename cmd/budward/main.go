// Command budward carries a vineyard through spring frost, on one machine and
// from one file: see budward --help.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"budward/app"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	os.Exit(app.Run(ctx, app.Options{
		Args:     os.Args[1:],
		Stdin:    os.Stdin,
		Stdout:   os.Stdout,
		Stderr:   os.Stderr,
		Getenv:   os.Getenv,
		Now:      time.Now,
		Color:    terminal(os.Stdout) && os.Getenv("TERM") != "dumb",
		Progress: true,
	}))
}

// terminal says whether a file is a terminal.
func terminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
