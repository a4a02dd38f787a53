package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"budward/decide/weather"
	"budward/store"
	"budward/vineyard/farm"

	"pgregory.net/rapid"
)

// saveAgain renames the farm, trying anew while others save in between.
func saveAgain(ctx context.Context, s store.Store, name string) error {
	for range 1000 { // far more than the saves of all writers together
		f, rev, err := s.Farm(ctx)
		if err != nil {
			return err
		}
		f.Name = name
		_, err = s.SaveFarm(ctx, f, rev, change(float64(rev)))
		var meanwhile *store.ConflictError
		if !errors.As(err, &meanwhile) {
			return err
		}
	}
	return fmt.Errorf("%s: still in conflict after 1000 tries", name)
}

// model makes random calls on the store and on a deliberately simple twin, a
// list in memory, and compares what the two answer. Each run has two stations of
// its own, so that one store serves all runs.
func model(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	runs := 0
	rapid.Check(t, func(r *rapid.T) {
		runs++
		f, rev, err := s.Farm(ctx)
		if err != nil {
			r.Fatal(err)
		}
		stations := []string{fmt.Sprint("a", runs), fmt.Sprint("b", runs)}
		f.Stations = append(Farm().Stations, farm.Station{ID: stations[0]}, farm.Station{ID: stations[1]})
		if _, err := s.SaveFarm(ctx, f, rev, change(0)); err != nil {
			r.Fatal(err)
		}
		var twin []store.Batch
		r.Repeat(map[string]func(*rapid.T){
			"add": func(r *rapid.T) {
				b := drawBatch(r, stations)
				info, err := s.AddBatch(ctx, b)
				i := slices.IndexFunc(twin, func(x store.Batch) bool {
					return x.Info.Withdrawn.At.IsZero() && sameBatch(x.Data, b)
				})
				var fed *store.AlreadyFedError
				switch {
				case i >= 0 && (!errors.As(err, &fed) || fed.ID != twin[i].Info.ID):
					r.Fatalf("AddBatch: %v, want already fed as %d", err, twin[i].Info.ID)
				case i < 0 && err != nil:
					r.Fatalf("AddBatch: %v", err)
				case i < 0:
					store.SortSamples(b.Samples)
					twin = append(twin, store.Batch{Info: info, Data: b})
				}
			},
			"withdraw": func(r *rapid.T) {
				if len(twin) == 0 {
					r.Skip("nothing to withdraw")
				}
				x := &twin[rapid.IntRange(0, len(twin)-1).Draw(r, "which")]
				w := store.Withdrawal{At: hour(1), Why: "drawn"}
				err := s.WithdrawBatch(ctx, x.Info.ID, w)
				var gone *store.ConflictError
				if errors.As(err, &gone) != !x.Info.Withdrawn.At.IsZero() || gone == nil && err != nil {
					r.Fatalf("WithdrawBatch(%d): %v; withdrawn before: %v", x.Info.ID, err, x.Info.Withdrawn)
				}
				x.Info.Withdrawn = w
			},
			"": func(r *rapid.T) { compare(ctx, r, s, stations, twin) },
		})
	})
}

// drawBatch draws a small batch from so few possibilities that repeats and
// overlaps are common.
func drawBatch(r *rapid.T, stations []string) weather.Batch {
	b := Readings(rapid.SampledFrom(stations).Draw(r, "station"),
		float64(rapid.IntRange(0, 6).Draw(r, "from")), rapid.IntRange(1, 4).Draw(r, "hours"))
	if rapid.Bool().Draw(r, "forecast") {
		b = Forecast(b.StationID, float64(rapid.IntRange(0, 6).Draw(r, "issued")), len(b.Samples))
	}
	return b
}

func sameBatch(a, b weather.Batch) bool {
	x, y := slices.Clone(a.Samples), slices.Clone(b.Samples)
	store.SortSamples(x)
	store.SortSamples(y)
	return a.StationID == b.StationID && a.Kind == b.Kind && a.IssuedAt.Equal(b.IssuedAt) && slices.Equal(x, y)
}

func compare(ctx context.Context, r *rapid.T, s store.Store, stations []string, twin []store.Batch) {
	q := store.BatchQuery{
		StationID: rapid.SampledFrom(stations).Draw(r, "of station"),
		Kind:      rapid.SampledFrom([]weather.Kind{"", weather.Reading, weather.Forecast}).Draw(r, "of kind"),
		Withdrawn: rapid.Bool().Draw(r, "withdrawn too"),
	}
	if rapid.Bool().Draw(r, "from a time") {
		q.SamplesFrom = hour(rapid.Float64Range(-1, 20).Draw(r, "from"))
	}
	if rapid.Bool().Draw(r, "to a time") {
		q.SamplesTo = hour(rapid.Float64Range(-1, 20).Draw(r, "to"))
	}
	got, err := s.LoadBatches(ctx, q)
	if err != nil {
		r.Fatal(err)
	}
	for _, want := range twin {
		if want.Info.StationID != q.StationID || q.Kind != "" && want.Info.Kind != q.Kind ||
			!q.Withdrawn && !want.Info.Withdrawn.At.IsZero() {
			continue
		}
		inside := slices.DeleteFunc(slices.Clone(want.Data.Samples), func(x weather.Sample) bool {
			return x.At.Before(q.SamplesFrom) || !q.SamplesTo.IsZero() && !x.At.Before(q.SamplesTo)
		})
		if len(inside) == 0 {
			continue
		}
		if len(got) == 0 || got[0].Info.ID != want.Info.ID {
			r.Fatalf("%+v: batch %d is missing or out of order", q, want.Info.ID)
		}
		if !slices.Equal(got[0].Data.Samples, inside) || got[0].Info.Withdrawn != want.Info.Withdrawn {
			r.Fatalf("%+v: batch %d differs: %v, want %v", q, want.Info.ID, got[0].Data.Samples, inside)
		}
		got = got[1:]
	}
	if len(got) != 0 {
		r.Fatalf("%+v: batch %d was not asked for", q, got[0].Info.ID)
	}
}
