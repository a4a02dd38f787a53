package sqlite

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"budward/store"

	"modernc.org/sqlite"
)

// Primary result codes of SQLite (sqlite.org/rescode.html); the extended code
// carries the primary one in its lowest byte.
const (
	codePerm     = 3
	codeBusy     = 5
	codeLocked   = 6
	codeReadOnly = 8
	codeIO       = 10
	codeCorrupt  = 11
	codeFull     = 13
	codeCantOpen = 14
	codeNotADB   = 26
)

// wrap turns an error of the driver into one of package store where it has one;
// other errors pass as they are.
func wrap(path string, err error) error {
	var e *sqlite.Error
	if err == nil || isStoreError(err) || !errors.As(err, &e) {
		return err
	}
	switch e.Code() & 0xff {
	case codeCorrupt:
		return &store.CorruptError{Path: path, Why: "its contents are damaged", Err: err}
	case codeNotADB:
		return &store.CorruptError{Path: path, Why: "it is not an SQLite database", Err: err}
	case codeBusy, codeLocked:
		return &store.BusyError{Path: path, Err: err}
	case codePerm, codeReadOnly, codeIO, codeFull, codeCantOpen:
		return &store.DiskError{Path: path, Err: err}
	}
	return err
}

func isStoreError(err error) bool {
	var c *store.CorruptError
	var b *store.BusyError
	var d *store.DiskError
	return errors.As(err, &c) || errors.As(err, &b) || errors.As(err, &d)
}

// decode reads a document strictly. A field this program does not know was
// written by a newer one; dropping it on the next save would lose it.
func (s *Store) decode(what, doc string, into any) error {
	d := json.NewDecoder(bytes.NewReader([]byte(doc)))
	d.DisallowUnknownFields()
	err := d.Decode(into)
	switch {
	case err == nil:
		return nil
	case strings.HasPrefix(err.Error(), "json: unknown field"):
		return &store.NewerError{Path: s.path, What: what + " has an " + strings.TrimPrefix(err.Error(), "json: ")}
	}
	return &store.CorruptError{Path: s.path, Why: "the record of a " + what + " cannot be read", Err: err}
}

// encode writes a document. CheckFarm has refused what JSON cannot hold, so a
// failure here is a mistake of the program.
func encode(v any) string {
	doc, err := json.Marshal(v)
	if err != nil {
		panic("sqlite: " + err.Error())
	}
	return string(doc)
}

// ms and fromMs carry a time in and out of the database; the zero time is NULL.
func ms(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixMilli()
}

// msUp is ms for the ends of a period: kept times are whole milliseconds, so a
// finer bound is the next whole one.
func msUp(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return ceilMs(t)
}

func ceilMs(t time.Time) int64 {
	v := t.UnixMilli()
	if time.UnixMilli(v).Before(t) {
		v++
	}
	return v
}

func fromMs(v *int64) time.Time {
	if v == nil {
		return time.Time{}
	}
	return time.UnixMilli(*v).UTC()
}
