package sqlite

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"budward/store"
)

// A newer program's file: by its schema, by a field, by a variable.
func TestNewer(t *testing.T) {
	for name, statement := range map[string]string{
		"schema":   "INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)",
		"field":    `UPDATE block SET doc = json_set(doc, '$.drone_id', 'D1') WHERE id = 'B1'`,
		"variable": "INSERT INTO variable (name) VALUES ('leaf_wetness_frac')",
	} {
		t.Run(name, func(t *testing.T) {
			path := filled(t, 1)
			db, err := sql.Open("sqlite", path)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := db.Exec(statement); err != nil {
				t.Fatal(err)
			}
			db.Close()
			before := read(t, path)
			s, err := Open(t.Context(), path)
			if err == nil {
				_, _, err = s.Farm(t.Context())
				s.Close()
			}
			var newer *store.NewerError
			if !errors.As(err, &newer) || !strings.Contains(err.Error(), "newer budward") {
				t.Errorf("error %v, want a *NewerError", err)
			}
			if name != "field" && !bytes.Equal(read(t, path), before) {
				t.Error("the file was changed")
			}
		})
	}
}

// A file with an older schema is brought up to date, with a copy left beside it;
// a migration that fails leaves the file as it was.
func TestMigration(t *testing.T) {
	path := filled(t, 2)
	first, err := embedded.ReadFile("migrations/00001_first.sql")
	if err != nil {
		t.Fatal(err)
	}
	with := func(second string) fstest.MapFS {
		return fstest.MapFS{"00001_first.sql": {Data: first}, "00002_second.sql": {Data: []byte("-- +goose Up\n" + second)}}
	}
	if s, err := open(t.Context(), path, with("CREATE TABLE added (x INTEGER) STRICT; INSERT INTO nowhere VALUES (1);")); err == nil {
		s.Close()
		t.Fatal("a migration that fails was passed over")
	}
	if n := batchCount(t, path); n != 2 {
		t.Errorf("%d batches after a failed migration, want 2", n)
	}
	s, err := open(t.Context(), path, with("CREATE TABLE added (x INTEGER) STRICT;"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("INSERT INTO added VALUES (1)"); err != nil {
		t.Error(err)
	}
	s.Close()
	if _, err := Open(t.Context(), path); !errors.As(err, new(*store.NewerError)) {
		t.Errorf("the old program opens the new file: %v, want a *NewerError", err)
	}
	if n := batchCount(t, path+".schema-1"); n != 2 {
		t.Errorf("%d batches in the copy from before the migration, want 2", n)
	}
}

// The dump of a released schema, with data in it, opens for ever, and the schema
// it holds is the one its migration makes: a released migration never changes.
func TestReleasedSchema(t *testing.T) {
	dump := read(t, filepath.Join("testdata", "schema_v1.sql"))
	path := filepath.Join(t.TempDir(), "farm.db")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(string(dump)); err != nil {
		t.Fatal(err)
	}
	released := schemaText(t, db)
	db.Close()
	if n := batchCount(t, path); n != 2 { // as the dump's INSERT statements say
		t.Errorf("%d batches, want 2", n)
	}
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	f, rev, err := s.Farm(t.Context())
	if err != nil || f.Name != "Dump farm" || rev != 3 || len(f.Blocks) != 1 || len(f.Blocks[0].Strips) != 2 {
		t.Errorf("farm %q, revision %d, %d blocks, %v; want the dump's: Dump farm, 3, 1", f.Name, rev, len(f.Blocks), err)
	}

	v1 := fstest.MapFS{}
	for _, name := range []string{"00001_first.sql"} {
		b, err := embedded.ReadFile("migrations/" + name)
		if err != nil {
			t.Fatal(err)
		}
		v1[name] = &fstest.MapFile{Data: b}
	}
	made, err := sql.Open("sqlite", filepath.Join(t.TempDir(), "made.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer made.Close()
	if err := migrate(t.Context(), made, v1); err != nil {
		t.Fatal(err)
	}
	if now := schemaText(t, made); now != released {
		t.Errorf("migration 1 makes another schema than the one released:\n%s\nreleased:\n%s", now, released)
	}
}

// schemaText is the text of all tables and indexes, without line breaks.
func schemaText(t *testing.T, db *sql.DB) string {
	t.Helper()
	rows, err := db.Query("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' AND name <> 'goose_db_version' ORDER BY name")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var b strings.Builder
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(&b, strings.Join(strings.Fields(text), " "))
	}
	if err := rows.Err(); err != nil || b.Len() == 0 {
		t.Fatalf("no schema: %v", err)
	}
	return b.String()
}
