// Package sqlite keeps a farm in one SQLite file, so that copying the file is a
// backup. While a program has the file open, what was written last may still be
// in the file of the same name with -wal behind it: close the program first, copy
// both, or use Backup, which makes a whole copy of a farm in use.
//
// One connection writes, a few read. Every write reaches the disk before its call
// returns (journal WAL, synchronous FULL). Several programs may use one file at a
// time on one machine; not across a network drive.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"

	"budward/decide/weather"
	"budward/store"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

const (
	// applicationID marks a file as a farm of budward ("budw" in ASCII), so that
	// another program's database is never taken for one.
	applicationID = 0x62756477
	// readers is the number of connections that read: more than one, so that a
	// long export does not hold up a page.
	readers = 4
	// busyMs is how long a call waits for another program to finish writing. The
	// longest write, a year of hourly readings, takes well under a second.
	busyMs = 10_000
)

// Store is a farm file in use. It implements store.Store.
type Store struct {
	path    string
	write   *sql.DB
	read    *sql.DB
	varNo   map[weather.Variable]int64 // fixed once open
	varFrom map[int64]weather.Variable
	closing sync.Once
	closed  error // what closing came to
}

var _ store.Store = (*Store)(nil)

// Open opens an existing farm file. A missing file is a *store.NotFoundError, a
// file that is empty, truncated, or no farm at all a *store.CorruptError, one
// with a newer schema than this program knows a *store.NewerError; none of them
// is changed. A file with an older schema is brought up to date after a copy of
// it was put beside it, named PATH.schema-N.
func Open(ctx context.Context, path string) (*Store, error) {
	return open(ctx, path, migrationFiles())
}

// Create makes a new farm file and opens it. It never replaces a file: where
// there is one already it returns a *store.ConflictError.
func Create(ctx context.Context, path string) (*Store, error) {
	if _, err := os.Lstat(path); err == nil {
		return nil, &store.ConflictError{What: "file", ID: path, Why: "it exists already"}
	}
	tmp, err := os.MkdirTemp(filepath.Dir(path), ".budward-new-*")
	if err != nil {
		return nil, &store.DiskError{Path: path, Err: err}
	}
	defer os.RemoveAll(tmp)
	fresh := filepath.Join(tmp, "farm.db")
	if err := writeEmpty(ctx, fresh); err != nil {
		return nil, err
	}
	if err := publish(fresh, path); err != nil {
		return nil, err
	}
	return Open(ctx, path)
}

// OpenOrCreate opens the farm file, or makes a new one where there is none.
func OpenOrCreate(ctx context.Context, path string) (*Store, error) {
	s, err := Open(ctx, path)
	var none *store.NotFoundError
	if errors.As(err, &none) {
		return Create(ctx, path)
	}
	return s, err
}

func open(ctx context.Context, path string, migrations fs.FS) (*Store, error) {
	if err := looksLikeFarm(path); err != nil {
		return nil, err
	}
	if err := prepare(ctx, path, migrations); err != nil {
		return nil, wrap(path, err)
	}
	s := &Store{path: path}
	var err error
	if s.write, err = connect(path, "mode=rw&_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)", 1); err != nil {
		return nil, wrap(path, err)
	}
	if s.read, err = connect(path, "mode=rw&_pragma=query_only(1)", readers); err != nil {
		s.write.Close()
		return nil, wrap(path, err)
	}
	if err := s.loadVariables(ctx); err != nil {
		s.write.Close()
		s.read.Close()
		return nil, wrap(path, err)
	}
	return s, nil
}

// looksLikeFarm reads the first bytes of the file, so that SQLite, which takes an
// empty file for a new database, never gets a file it could write over.
func looksLikeFarm(path string) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return &store.NotFoundError{What: "farm file", ID: path}
	}
	if err != nil {
		return &store.DiskError{Path: path, Err: err}
	}
	defer f.Close()
	head := make([]byte, 100) // the size of SQLite's file header
	n, err := io.ReadFull(f, head)
	switch {
	case n == 0 && errors.Is(err, io.EOF):
		return &store.CorruptError{Path: path, Why: "it is empty"}
	case err != nil && !errors.Is(err, io.ErrUnexpectedEOF):
		return &store.DiskError{Path: path, Err: err}
	case !strings.HasPrefix(string(head[:n]), "SQLite format 3\x00"):
		return &store.CorruptError{Path: path, Why: "it does not begin as an SQLite database does"}
	case n < len(head):
		return &store.CorruptError{Path: path, Why: "it is cut off"}
	}
	return nil
}

// connect opens a pool of at most n connections to an existing file.
func connect(path, query string, n int) (*sql.DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	abs = filepath.ToSlash(abs)
	if !strings.HasPrefix(abs, "/") { // a drive letter
		abs = "/" + abs
	}
	dsn := "file:" + (&url.URL{Path: abs}).EscapedPath() + "?" + query +
		"&_pragma=busy_timeout(" + strconv.Itoa(busyMs) + ")&_pragma=foreign_keys(1)&_dqs=0&_defensive=1"
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	return db, nil
}

// Path returns the path the store was opened with.
func (s *Store) Path() string { return s.path }

// Close writes everything into the one file and closes it. Closing again does
// nothing.
func (s *Store) Close() error {
	s.closing.Do(func() { s.closed = s.shut() })
	return s.closed
}

func (s *Store) shut() error {
	errs := []error{s.read.Close()}
	// Where another program still reads the file this moves less than everything;
	// the last one to close moves the rest.
	_, err := s.write.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	errs = append(errs, err, s.write.Close())
	return wrap(s.path, errors.Join(errs...))
}

// Backup writes a whole copy of the farm, as of now, to a new file. The farm may
// be in use. An existing file is never replaced.
func (s *Store) Backup(ctx context.Context, path string) error {
	if _, err := os.Lstat(path); err == nil {
		return &store.ConflictError{What: "file", ID: path, Why: "it exists already"}
	}
	return wrap(s.path, copyTo(ctx, s.write, path))
}

func copyTo(ctx context.Context, db *sql.DB, path string) error {
	tmp, err := os.MkdirTemp(filepath.Dir(path), ".budward-copy-*")
	if err != nil {
		return &store.DiskError{Path: path, Err: err}
	}
	defer os.RemoveAll(tmp)
	fresh := filepath.Join(tmp, "farm.db")
	if _, err := db.ExecContext(ctx, "VACUUM INTO $1", fresh); err != nil {
		return err
	}
	return publish(fresh, path)
}

// publish gives a finished file its name, and fails where the name is taken.
func publish(fresh, path string) error {
	f, err := os.OpenFile(fresh, os.O_RDWR, 0)
	if err == nil {
		// The farm holds people's names and telephone numbers.
		err = errors.Join(f.Chmod(0o600), f.Sync(), f.Close())
	}
	if err == nil {
		err = os.Link(fresh, path)
	}
	if errors.Is(err, fs.ErrExist) {
		return &store.ConflictError{What: "file", ID: path, Why: "it exists already"}
	}
	if err != nil { // a file system without hard links, such as a memory stick's
		if _, statErr := os.Lstat(path); statErr == nil {
			return &store.ConflictError{What: "file", ID: path, Why: "it exists already"}
		}
		err = os.Rename(fresh, path)
	}
	if err != nil {
		return &store.DiskError{Path: path, Err: err}
	}
	// The name reaches the disk with its folder. Some systems cannot sync a folder;
	// there the file may need a second look after a power cut in this very moment.
	if folder, err := os.Open(filepath.Dir(path)); err == nil {
		_ = folder.Sync()
		_ = folder.Close()
	}
	return nil
}

// Check reads the whole file and everything in it.
func (s *Store) Check(ctx context.Context) error {
	var verdict string
	if err := s.read.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&verdict); err != nil {
		return wrap(s.path, err)
	}
	if verdict != "ok" {
		return &store.CorruptError{Path: s.path, Why: verdict}
	}
	rows, err := s.read.QueryContext(ctx, "PRAGMA foreign_key_check")
	if err != nil {
		return wrap(s.path, err)
	}
	defer rows.Close()
	if rows.Next() {
		return &store.CorruptError{Path: s.path, Why: "a record refers to one that is not there"}
	}
	if err := rows.Err(); err != nil {
		return wrap(s.path, err)
	}
	f, _, err := s.Farm(ctx)
	var none *store.NotFoundError
	switch {
	case errors.As(err, &none):
	case err != nil:
		return err
	default:
		if err := store.CheckFarm(f); err != nil {
			return &store.CorruptError{Path: s.path, Why: "its farm does not hold together", Err: err}
		}
	}
	if _, err := s.Stages(ctx, store.StageQuery{Withdrawn: true}); err != nil {
		return err
	}
	if _, err := s.Floors(ctx, ""); err != nil {
		return err
	}
	return s.checkBatches(ctx)
}

// checkBatches compares the batches' counts and fingerprints with their samples.
func (s *Store) checkBatches(ctx context.Context) error {
	infos, err := s.Batches(ctx, store.BatchQuery{Withdrawn: true})
	if err != nil {
		return err
	}
	for _, info := range infos {
		var b store.Batch
		var digest string
		err := s.view(ctx, func(tx *sql.Tx) (err error) {
			if b, err = s.loadBatch(ctx, tx, info); err != nil {
				return err
			}
			return tx.QueryRowContext(ctx, "SELECT digest FROM batch WHERE id = $1", info.ID).Scan(&digest)
		})
		if err != nil {
			return err
		}
		if len(b.Data.Samples) != info.Samples || store.Digest(b.Data) != digest {
			return &store.CorruptError{Path: s.path, Why: fmt.Sprintf("the samples of batch %d are not those that were fed", info.ID)}
		}
	}
	return nil
}

// view runs f on one unchanging state of the farm.
func (s *Store) view(ctx context.Context, f func(tx *sql.Tx) error) error {
	return s.inTx(ctx, s.read, &sql.TxOptions{ReadOnly: true}, f)
}

// update runs f in the one write transaction; an error undoes everything.
func (s *Store) update(ctx context.Context, f func(tx *sql.Tx) error) error {
	return s.inTx(ctx, s.write, nil, f)
}

func (s *Store) inTx(ctx context.Context, db *sql.DB, o *sql.TxOptions, f func(tx *sql.Tx) error) error {
	tx, err := db.BeginTx(ctx, o)
	if err != nil {
		return wrap(s.path, err)
	}
	if err := f(tx); err != nil {
		// A rollback that fails as well adds nothing: the connection is dropped.
		_ = tx.Rollback()
		return wrap(s.path, err)
	}
	return wrap(s.path, tx.Commit())
}
