package store

import (
	"fmt"
	"time"
)

// NotFoundError says that a thing asked for is not kept.
type NotFoundError struct {
	What string // "farm", "station", "batch", ...
	ID   string // "" where there can only be one
}

func (e *NotFoundError) Error() string {
	if e.ID == "" {
		return "no " + e.What + " is recorded"
	}
	return fmt.Sprintf("no %s %q is recorded", e.What, e.ID)
}

// ConflictError says that a change does not fit what is kept by now.
type ConflictError struct {
	What, ID, Why string
}

func (e *ConflictError) Error() string {
	return fmt.Sprintf("%s %q: %s", e.What, e.ID, e.Why)
}

// AlreadyFedError names the batch that holds the same samples.
type AlreadyFedError struct {
	ID     int64
	Origin string
	FedAt  time.Time
}

func (e *AlreadyFedError) Error() string {
	return fmt.Sprintf("the same values were already fed as batch %d (%s, fed %s)",
		e.ID, e.Origin, e.FedAt.UTC().Format(time.RFC3339))
}

// InvalidError says which value of a thing to be kept was refused.
type InvalidError struct {
	Where string // "block B3", "batch from forecast.csv"
	Field string
	Value string
	Want  string
}

func (e *InvalidError) Error() string {
	return fmt.Sprintf("%s: %s is %s; want %s", e.Where, e.Field, e.Value, e.Want)
}

// CorruptError says that a file is not what the store wrote. The file is left
// as it is.
type CorruptError struct {
	Path string
	Why  string
	Err  error // may be nil
}

func (e *CorruptError) Error() string {
	s := fmt.Sprintf("%s is not a readable farm file: %s", e.Path, e.Why)
	if e.Err != nil {
		s += " (" + e.Err.Error() + ")"
	}
	return s + "; the file was left as it is"
}

func (e *CorruptError) Unwrap() error { return e.Err }

// NewerError says that a file was written by a newer program.
type NewerError struct {
	Path string
	What string // what this program does not know
}

func (e *NewerError) Error() string {
	return fmt.Sprintf("%s was written by a newer budward (%s); update the program, the file was left as it is", e.Path, e.What)
}

// BusyError says that another program kept the file locked for too long.
type BusyError struct {
	Path string
	Err  error
}

func (e *BusyError) Error() string {
	return e.Path + " is in use by another program; try again"
}

func (e *BusyError) Unwrap() error { return e.Err }

// DiskError says that reading or writing a file failed: full, not permitted,
// broken. What was being changed is as it was before.
type DiskError struct {
	Path string
	Err  error
}

func (e *DiskError) Error() string {
	return fmt.Sprintf("cannot read or write %s: %v", e.Path, e.Err)
}

func (e *DiskError) Unwrap() error { return e.Err }
