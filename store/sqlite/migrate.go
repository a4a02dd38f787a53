package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"budward/store"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var embedded embed.FS

func migrationFiles() fs.FS {
	files, err := fs.Sub(embedded, "migrations")
	if err != nil {
		panic("sqlite: " + err.Error())
	}
	return files
}

// writeEmpty makes a farm file with nothing in it but the schema.
func writeEmpty(ctx context.Context, path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return &store.DiskError{Path: path, Err: err}
	}
	if err := f.Close(); err != nil {
		return &store.DiskError{Path: path, Err: err}
	}
	db, err := connect(path, "mode=rw&_txlock=immediate&_pragma=synchronous(FULL)", 1)
	if err != nil {
		return wrap(path, err)
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d", applicationID)); err != nil {
		return wrap(path, err)
	}
	if err := migrate(ctx, db, migrationFiles()); err != nil {
		return wrap(path, err)
	}
	return wrap(path, db.Close())
}

// prepare makes sure that the file is a farm with the schema of this program. It
// changes nothing before it has seen that it may.
func prepare(ctx context.Context, path string, migrations fs.FS) error {
	db, err := connect(path, "mode=rw&_txlock=immediate&_pragma=synchronous(FULL)", 1)
	if err != nil {
		return err
	}
	defer db.Close()
	var id int64
	if err := db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return err
	}
	if id != applicationID {
		return &store.CorruptError{Path: path, Why: "it is a database of another program"}
	}
	have, err := schemaOf(ctx, db)
	if err != nil {
		return err
	}
	know, err := lastMigration(db, migrations)
	switch {
	case err != nil:
		return err
	case have > know:
		return &store.NewerError{Path: path, What: fmt.Sprintf("schema %d, this program knows %d", have, know)}
	case have < 1:
		return &store.CorruptError{Path: path, Why: "it has no schema"}
	case have == know:
		return nil
	}
	backup := fmt.Sprintf("%s.schema-%d", path, have)
	var taken *store.ConflictError
	if err := copyTo(ctx, db, backup); err != nil && !errors.As(err, &taken) {
		return err
	}
	return migrate(ctx, db, migrations)
}

// schemaOf reads the schema number without making the table that holds it.
func schemaOf(ctx context.Context, db *sql.DB) (int64, error) {
	var tables int
	err := db.QueryRowContext(ctx,
		"SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'goose_db_version'").Scan(&tables)
	if err != nil || tables == 0 {
		return 0, err
	}
	var version int64
	err = db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied").Scan(&version)
	return version, err
}

func lastMigration(db *sql.DB, migrations fs.FS) (int64, error) {
	p, err := goose.NewProvider(goose.DialectSQLite3, db, migrations)
	if err != nil {
		return 0, err
	}
	sources := p.ListSources()
	return sources[len(sources)-1].Version, nil
}

// migrate runs the migrations that are missing, each in a transaction of its own.
func migrate(ctx context.Context, db *sql.DB, migrations fs.FS) error {
	p, err := goose.NewProvider(goose.DialectSQLite3, db, migrations)
	if err != nil {
		return err
	}
	_, err = p.Up(ctx)
	return err
}
