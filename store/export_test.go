package store_test

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"budward/decide/weather"
	"budward/store"
	"budward/store/sqlite"
	"budward/store/storetest"
	"budward/vineyard/farm"

	"github.com/google/go-cmp/cmp"
)

var now = time.Date(2026, 4, 1, 6, 0, 0, 0, time.FixedZone("UTC+2", 7200))

func filled(t *testing.T) store.Store {
	t.Helper()
	s, err := sqlite.Create(t.Context(), filepath.Join(t.TempDir(), "farm.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	f := storetest.Farm()
	f.Stations = append(f.Stations, farm.Station{ID: "../gate"}, farm.Station{ID: "GATE"})
	if _, err := s.SaveFarm(t.Context(), f, 0, store.Change{At: now, Who: "Ana", Why: "start"}); err != nil {
		t.Fatal(err)
	}
	for _, b := range []weather.Batch{
		storetest.Readings("gate", 0, 3), storetest.Readings("../gate", 0, 1), storetest.Readings("GATE", 0, 2),
		storetest.Forecast("gate", 6, 2), storetest.Forecast("gate", 0, 2),
	} {
		if _, err := s.AddBatch(t.Context(), b); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.WithdrawBatch(t.Context(), 5, store.Withdrawal{At: now, Why: `wrong, "so"`}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.AddStage(t.Context(), storetest.Stage("B1", 2)); err != nil {
		t.Fatal(err)
	}
	return s
}

// broken is a store whose stages cannot be read.
type broken struct{ store.Store }

var errNoRoom = errors.New("no room")

func (broken) Stages(context.Context, store.StageQuery) ([]store.StageRecord, error) {
	return nil, errNoRoom
}

func rows(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestExport(t *testing.T) {
	s := filled(t)
	dir := filepath.Join(t.TempDir(), "new", "folder")
	m, err := store.Export(t.Context(), s, dir, now)
	if err != nil {
		t.Fatal(err)
	}
	kept, _, err := s.Farm(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"batches.csv", "farm.json", "floors.csv", "forecasts-gate.csv",
		"readings-%2e%2e%2fgate.csv", "readings-GATE.csv", "readings-gate-2.csv", "refused.csv", "stages.csv"}
	for name, text := range farm.ExportCSV(kept) {
		want = append(want, "farm/"+name)
		if b, err := os.ReadFile(filepath.Join(dir, "farm", name)); err != nil || string(b) != text {
			t.Errorf("farm/%s: %v, or not what package farm writes", name, err)
		}
	}
	slices.Sort(want)
	got := slices.Sorted(slices.Values(m.Files))
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("files (-want +got):\n%s", d)
	}
	var onDisk store.Manifest
	var onDiskFarm farm.Farm
	for name, into := range map[string]any{"manifest.json": &onDisk, "farm.json": &onDiskFarm} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, into); err != nil {
			t.Fatal(err)
		}
	}
	if d := cmp.Diff(m, onDisk); d != "" || m.Revision != 1 || m.FarmID != "lowfield" || m.Schema != "budward.export/1" {
		t.Errorf("manifest (-returned +written):\n%s", d)
	}
	if d := cmp.Diff(kept, onDiskFarm); d != "" {
		t.Errorf("farm.json (-kept +written):\n%s", d)
	}

	// Hours 0..2 from 14:00, see storetest.Readings: hour 1 has no soil moisture.
	air := func(hour float64) string { return fmt.Sprint(4 - 5*math.Sin(hour/4)) }
	if d := cmp.Diff([][]string{
		{"batch_id", "issued_at", "at", "air_temp_c", "wind_m_s", "soil_moist_10cm_m3_m3"},
		{"1", "", "2026-03-20T14:00:00Z", air(0), "0", "0.43333333333333335"},
		{"1", "", "2026-03-20T15:00:00Z", air(1), "5e-324", ""},
		{"1", "", "2026-03-20T16:00:00Z", air(2), "1e-323", "0.43333333333333335"},
	}, rows(t, filepath.Join(dir, "readings-gate-2.csv"))); d != "" {
		t.Errorf("readings (-want +got):\n%s", d)
	}
	if d := cmp.Diff([][]string{
		{"batch_id", "issued_at", "at", "air_temp_c", "dew_point_c"},
		{"4", "2026-03-20T20:00:00Z", "2026-03-20T21:00:00Z", "6", "-1"},
		{"4", "2026-03-20T20:00:00Z", "2026-03-20T22:00:00Z", "6.125", "-1"},
		{"5", "2026-03-20T14:00:00Z", "2026-03-20T15:00:00Z", "0", "-1"},
		{"5", "2026-03-20T14:00:00Z", "2026-03-20T16:00:00Z", "0.125", "-1"},
	}, rows(t, filepath.Join(dir, "forecasts-gate.csv"))); d != "" {
		t.Errorf("forecasts (-want +got):\n%s", d)
	}
	batches := rows(t, filepath.Join(dir, "batches.csv"))
	if len(batches) != 6 || batches[5][13] != "2026-04-01T04:00:00Z" || batches[5][14] != `wrong, "so"` {
		t.Errorf("batches: %q", batches)
	}
	if r := rows(t, filepath.Join(dir, "refused.csv")); len(r) != 4 || strings.Join(r[1], "|") != "2|logger.csv|7|air_temp_c|99,9|decimal comma" {
		t.Errorf("refused: %q", r)
	}
	if r := rows(t, filepath.Join(dir, "stages.csv")); len(r) != 4 ||
		strings.Join(r[1], "|") != "1|B1|2026-03-20T16:00:00Z|Ana|el|4|22|shoots|north rows only||" {
		t.Errorf("stages: %q", r)
	}
	if r := rows(t, filepath.Join(dir, "floors.csv")); len(r) != 5 || strings.Join(r[2], "|") !=
		"1|B1|2026-04-01T04:00:00Z|Ana|start|middle|0.6666666666666666|cover|0.12|0|0.18|0.05|assumed|2026-03-19T08:00:00Z" {
		t.Errorf("floors: %q", r)
	}
}

// Nothing is written over, and nothing half written stays.
func TestExportLeavesNothingHalf(t *testing.T) {
	s := filled(t)
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	if _, err := store.Export(t.Context(), broken{s}, dir, now); !errors.Is(err, errNoRoom) {
		t.Errorf("error %v, want the store's own", err)
	}
	if left, err := os.ReadDir(parent); err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Export(t.Context(), s, dir, now); err != nil {
		t.Errorf("into an empty folder: %v", err)
	}
	before, err := os.ReadDir(dir)
	if err != nil || len(before) == 0 {
		t.Fatal(err)
	}
	if _, err := store.Export(t.Context(), s, dir, now); !errors.As(err, new(*store.ConflictError)) {
		t.Errorf("into a full folder: %v, want a *ConflictError", err)
	}
}
