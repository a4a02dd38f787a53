package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"budward/store"
	"budward/store/storetest"
)

// filled is a farm file with a farm and n batches of readings, closed.
func filled(t *testing.T, n int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "farm.db")
	s := create(t, path)
	fill(t, s, 0, n)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func fill(t *testing.T, s *Store, from, n int) {
	t.Helper()
	ctx := t.Context()
	_, rev, err := s.Farm(ctx)
	var none *store.NotFoundError
	if errors.As(err, &none) {
		c := store.Change{At: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), Who: "Ana"}
		rev, err = s.SaveFarm(ctx, storetest.Farm(), 0, c)
	}
	if err != nil || rev != 1 {
		t.Fatalf("revision %d, %v", rev, err)
	}
	for i := range n {
		if _, err := s.AddBatch(ctx, storetest.Readings("gate", float64(1000*(from+i)), 200)); err != nil {
			t.Fatal(err)
		}
	}
}

// batchCount opens a file, checks it whole, and counts its batches.
func batchCount(t *testing.T, path string) int {
	t.Helper()
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Check(t.Context()); err != nil {
		t.Fatal(err)
	}
	list, err := s.Batches(t.Context(), store.BatchQuery{})
	if err != nil {
		t.Fatal(err)
	}
	return len(list)
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func writeFile(t *testing.T, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// What is no farm is refused by name of the trouble, and stays byte for byte.
func TestOpenRefuses(t *testing.T) {
	good := read(t, filled(t, 3))
	foreign := filepath.Join(t.TempDir(), "other.db")
	db, err := sql.Open("sqlite", foreign)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE farm (x INTEGER)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	spoilt := func(from, to int) []byte {
		b := bytes.Clone(good)
		for i := from; i < to; i++ {
			b[i] = 0xA5
		}
		return b
	}
	for _, c := range []struct {
		name string
		file []byte
		says string
	}{
		{"empty", nil, "it is empty"},
		{"text", []byte("block,area_ha\nB1,2.4\n"), "does not begin as an SQLite database"},
		{"header only", good[:60], "it is cut off"},
		{"half", good[:len(good)/2], "damaged"},
		{"first page spoilt", spoilt(100, 4096), "damaged"},
		{"page size spoilt", spoilt(16, 18), "not an SQLite database"},
		{"another program's", read(t, foreign), "another program"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "farm.db")
			writeFile(t, path, c.file)
			s, err := Open(t.Context(), path)
			if err == nil {
				s.Close()
			}
			var corrupt *store.CorruptError
			if !errors.As(err, &corrupt) || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), path) {
				t.Errorf("error %v, want a *CorruptError that names the file and says %q", err, c.says)
			}
			if !bytes.Equal(read(t, path), c.file) {
				t.Error("the file was changed")
			}
			var conflict *store.ConflictError
			if _, err := Create(t.Context(), path); !errors.As(err, &conflict) {
				t.Errorf("Create over it: %v, want a *ConflictError", err)
			}
			if _, err := OpenOrCreate(t.Context(), path); !errors.As(err, &corrupt) {
				t.Errorf("OpenOrCreate over it: %v, want a *CorruptError", err)
			}
			if !bytes.Equal(read(t, path), c.file) {
				t.Error("the file was changed by Create or OpenOrCreate")
			}
		})
	}
}

func TestOpenMissing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "farm.db")
	var none *store.NotFoundError
	if _, err := Open(t.Context(), path); !errors.As(err, &none) {
		t.Errorf("error %v, want a *NotFoundError", err)
	}
	if _, err := os.Lstat(path); err == nil {
		t.Error("Open made the file that was missing")
	}
	if _, err := Create(t.Context(), filepath.Join(path, "no", "such", "folder.db")); !errors.As(err, new(*store.DiskError)) {
		t.Errorf("Create in a folder that is not there: %v, want a *DiskError", err)
	}
	if _, err := Open(t.Context(), t.TempDir()); !errors.As(err, new(*store.DiskError)) {
		t.Errorf("Open of a folder: %v, want a *DiskError", err)
	}
}

// A value changed in the middle of a file that still opens is found by Check: the
// fingerprint of its batch no longer fits.
func TestCheckFindsChangedValues(t *testing.T) {
	for name, statement := range map[string]string{
		"a value":      "UPDATE reading SET value = value + 0.001 WHERE rowid_of = 1",
		"a row gone":   "DELETE FROM reading WHERE at = (SELECT min(at) FROM reading)",
		"batch gone":   "DELETE FROM batch",
		"unread farm":  `UPDATE farm SET doc = json_set(doc, '$.lat_deg', 'north')`,
		"block's ID":   "UPDATE strip SET block_id = 'B9' WHERE block_id = 'B1'",
		"farm's zone":  `UPDATE farm SET doc = json_set(doc, '$.zone', '')`,
		"strip's name": `UPDATE strip SET doc = json_set(doc, '$.name', 'weeds') WHERE block_id = 'B1' AND pos = 0`,
	} {
		t.Run(name, func(t *testing.T) {
			path := filled(t, 2)
			db, err := sql.Open("sqlite", path) // foreign keys are off by default
			if err != nil {
				t.Fatal(err)
			}
			statement = strings.Replace(statement, "rowid_of = 1", "at = (SELECT max(at) FROM reading)", 1)
			if _, err := db.Exec(statement); err != nil {
				t.Fatal(err)
			}
			db.Close()
			s, err := Open(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if err := s.Check(t.Context()); !errors.As(err, new(*store.CorruptError)) {
				t.Errorf("Check: %v, want a *CorruptError", err)
			}
		})
	}
}

// After closing, the one file is the farm; a copy of it is a backup.
func TestCopyIsBackup(t *testing.T) {
	path := filled(t, 3)
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 1 {
		t.Errorf("after closing the folder holds %v, want the one file", entries)
	}
	to := filepath.Join(t.TempDir(), "copy.db")
	writeFile(t, to, read(t, path))
	if n := batchCount(t, to); n != 3 {
		t.Errorf("%d batches in the copy, want 3", n)
	}
}

func TestBackupOfAFarmInUse(t *testing.T) {
	s := fresh(t)
	fill(t, s, 0, 3)
	to := filepath.Join(t.TempDir(), "copy's.db")
	if err := s.Backup(t.Context(), to); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{s.Path(), to} {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s may be read by others: %v", path, info.Mode())
		}
	}
	fill(t, s, 3, 1)
	if n := batchCount(t, to); n != 3 {
		t.Errorf("%d batches in the copy, want the 3 from before it", n)
	}
	if err := s.Backup(t.Context(), to); !errors.As(err, new(*store.ConflictError)) {
		t.Errorf("a backup over a file: %v, want a *ConflictError", err)
	}
	if err := s.Backup(t.Context(), s.Path()); !errors.As(err, new(*store.ConflictError)) {
		t.Errorf("a backup over the farm itself: %v, want a *ConflictError", err)
	}
}

// What a power cut leaves is the file and its -wal as of some moment. Copies made
// while the farm is in use stand for it: each opens and holds at least every batch
// whose AddBatch had returned. The end of the -wal may be torn: then the last
// batches may be missing, never half of one (Check compares fingerprints).
func TestCrash(t *testing.T) {
	s := fresh(t)
	fill(t, s, 0, 1)
	for kept := 1; kept <= 5; kept++ {
		for _, torn := range []int{0, 1, 5000} {
			to := filepath.Join(t.TempDir(), "farm.db")
			writeFile(t, to, read(t, s.Path()))
			wal := read(t, s.Path()+"-wal")
			writeFile(t, to+"-wal", wal[:max(0, len(wal)-torn)])
			n := batchCount(t, to)
			if n > kept || torn == 0 && n != kept {
				t.Errorf("%d batches after a crash with %d bytes torn off, want %d", n, torn, kept)
			}
		}
		fill(t, s, kept, 1)
	}
}

// A write that fails halfway leaves nothing behind. The trigger stands for a disk
// that fails at the hundredth sample.
func TestFailureHalfway(t *testing.T) {
	s := fresh(t)
	fill(t, s, 0, 1)
	ctx := t.Context()
	before, err := s.LoadBatches(ctx, store.BatchQuery{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec(`CREATE TEMP TRIGGER broken BEFORE INSERT ON main.reading
		WHEN (SELECT count(*) FROM main.reading WHERE batch_id = NEW.batch_id) = 100
		BEGIN SELECT RAISE(ABORT, 'broken disk'); END`); err != nil {
		t.Fatal(err)
	}
	if _, err := s.AddBatch(ctx, storetest.Readings("gate", 5000, 200)); err == nil || !strings.Contains(err.Error(), "broken disk") {
		t.Fatalf("error %v, want the broken disk", err)
	}
	after, err := s.LoadBatches(ctx, store.BatchQuery{Withdrawn: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(after) != 1 || len(after[0].Data.Samples) != len(before[0].Data.Samples) {
		t.Errorf("%d batches after a failed one, want 1 as before", len(after))
	}
	if _, err := s.write.Exec("DROP TRIGGER temp.broken"); err != nil {
		t.Fatal(err)
	}
	if err := s.Check(ctx); err != nil {
		t.Error(err)
	}
	if _, err := s.AddBatch(ctx, storetest.Readings("gate", 5000, 200)); err != nil {
		t.Errorf("the same batch once the disk is whole: %v", err)
	}
}

// Two programs on one file: both write, neither loses.
func TestTwoPrograms(t *testing.T) {
	a := fresh(t)
	fill(t, a, 0, 1)
	b, err := Open(t.Context(), a.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	errs := make(chan error, 2)
	for i, s := range []*Store{a, b} {
		go func() {
			var err error
			for k := 0; k < 20 && err == nil; k++ {
				_, err = s.AddBatch(context.Background(), storetest.Readings("gate", float64(1e6*(i+1)+1000*k), 10))
			}
			errs <- err
		}()
	}
	for range 2 {
		if err := <-errs; err != nil {
			t.Error(err)
		}
	}
	if err := a.Close(); err != nil {
		t.Errorf("closing beside another program: %v", err)
	}
	list, err := b.Batches(t.Context(), store.BatchQuery{})
	if err != nil || len(list) != 41 {
		t.Errorf("%d batches, %v; want 41", len(list), err)
	}
}
