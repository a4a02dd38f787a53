package sqlite

import (
	"path/filepath"
	"testing"
	"time"

	"budward/store"
	"budward/store/storetest"
)

func BenchmarkAddBatch(b *testing.B) {
	s, err := Create(b.Context(), filepath.Join(b.TempDir(), "farm.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	if _, err := s.SaveFarm(b.Context(), storetest.Farm(), 0, store.Change{At: time.Unix(1, 0)}); err != nil {
		b.Fatal(err)
	}
	const hours = 2000 // about three months
	samples := 0
	for i := 0; b.Loop(); i++ {
		info, err := s.AddBatch(b.Context(), storetest.Readings("gate", float64(i*hours), hours))
		if err != nil {
			b.Fatal(err)
		}
		samples += info.Samples
	}
	b.ReportMetric(float64(samples)/b.Elapsed().Seconds(), "samples/s")
}

func BenchmarkLoadBatches(b *testing.B) {
	s, err := Create(b.Context(), filepath.Join(b.TempDir(), "farm.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	if _, err := s.SaveFarm(b.Context(), storetest.Farm(), 0, store.Change{At: time.Unix(1, 0)}); err != nil {
		b.Fatal(err)
	}
	if _, err := s.AddBatch(b.Context(), storetest.Readings("gate", 0, 8760)); err != nil {
		b.Fatal(err)
	}
	samples := 0
	for b.Loop() {
		list, err := s.LoadBatches(b.Context(), store.BatchQuery{StationID: "gate"})
		if err != nil {
			b.Fatal(err)
		}
		samples += len(list[0].Data.Samples)
	}
	b.ReportMetric(float64(samples)/b.Elapsed().Seconds(), "samples/s")
}
