package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"budward/store"
	"budward/store/storetest"
)

// fresh makes a new farm file in a folder whose name holds characters that mean
// something in a URI.
func fresh(t *testing.T) *Store {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "a b?c#d%20&_pragma=x")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return create(t, filepath.Join(dir, "farm.db"))
}

func create(t *testing.T, path string) *Store {
	t.Helper()
	s, err := Create(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	closeAtEnd(t, s)
	return s
}

func closeAtEnd(t *testing.T, s *Store) {
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
}

func TestContract(t *testing.T) {
	storetest.Run(t,
		func(t *testing.T) store.Store { return fresh(t) },
		func(t *testing.T, s store.Store) store.Store {
			old := s.(*Store)
			if err := old.Close(); err != nil {
				t.Fatal(err)
			}
			again, err := Open(t.Context(), old.Path())
			if err != nil {
				t.Fatal(err)
			}
			closeAtEnd(t, again)
			return again
		})
}
