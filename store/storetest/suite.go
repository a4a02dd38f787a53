// Package storetest holds what every engine of package store must do: one suite
// that each engine's tests run. What is expected comes from the contract and from
// the data put in, never from what the engine gave back.
package storetest

import (
	"context"
	"errors"
	"testing"

	"budward/decide/weather"
	"budward/store"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// Run runs the suite. fresh gives a new, empty store and sees to its closing;
// reopen closes a store, however the engine keeps it, and opens it again.
func Run(t *testing.T, fresh func(t *testing.T) store.Store, reopen func(t *testing.T, s store.Store) store.Store) {
	tests := []struct {
		name string
		run  func(t *testing.T, s store.Store)
	}{
		{"empty", empty},
		{"farm round trip", farmRoundTrip},
		{"farm conflicts", farmConflicts},
		{"bad farms", badFarms},
		{"floors", floors},
		{"nouns leave, history stays", historyStays},
		{"batch round trip", batchRoundTrip},
		{"bad batches", badBatches},
		{"batch queries", batchQueries},
		{"fed twice", fedTwice},
		{"latest forecast", latestForecast},
		{"withdrawn batches", withdrawnBatches},
		{"stages", stages},
		{"bad stages", badStages},
		{"canceled", canceled},
		{"many at once", manyAtOnce},
		{"any order of calls", model},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s := fresh(t)
			test.run(t, s)
			ok(t, s.Check(t.Context()))
		})
	}
	t.Run("reopened", func(t *testing.T) { reopened(t, fresh(t), reopen) })
}

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// must returns v, or ends the test.
func must[T any](t *testing.T) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		ok(t, err)
		return v
	}
}

// wantError reports an error that is not of type E.
func wantError[E error](t *testing.T, err error) (as E) {
	t.Helper()
	if !errors.As(err, &as) {
		t.Errorf("error %v (%T), want a %T", err, err, as)
	}
	return as
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	// Empty and nil lists are one; times are one when they are the same moment.
	if d := cmp.Diff(want, got, cmpopts.EquateEmpty()); d != "" {
		t.Errorf("%s (-want +got):\n%s", what, d)
	}
}

// withFarm saves the test farm.
func withFarm(t *testing.T, s store.Store) {
	t.Helper()
	must[store.Revision](t)(s.SaveFarm(t.Context(), Farm(), 0, change(0)))
}

func empty(t *testing.T, s store.Store) {
	ctx := t.Context()
	_, rev, err := s.Farm(ctx)
	wantError[*store.NotFoundError](t, err)
	if rev != 0 {
		t.Errorf("revision %d of no farm, want 0", rev)
	}
	_, err = s.FloorAt(ctx, "B1", hour(0))
	wantError[*store.NotFoundError](t, err)
	_, err = s.LatestForecast(ctx, "gate", hour(0))
	wantError[*store.NotFoundError](t, err)
	_, err = s.AddBatch(ctx, Readings("gate", 0, 2))
	wantError[*store.NotFoundError](t, err)
	_, err = s.AddStage(ctx, Stage("B1", 0))
	wantError[*store.NotFoundError](t, err)
	wantError[*store.NotFoundError](t, s.WithdrawBatch(ctx, 1, store.Withdrawal{At: hour(0), Why: "x"}))
	wantError[*store.NotFoundError](t, s.WithdrawStage(ctx, 1, store.Withdrawal{At: hour(0), Why: "x"}))
	same(t, "batches", must[[]store.BatchInfo](t)(s.Batches(ctx, store.BatchQuery{})), []store.BatchInfo(nil))
	same(t, "loaded batches", must[[]store.Batch](t)(s.LoadBatches(ctx, store.BatchQuery{})), []store.Batch(nil))
	same(t, "stages", must[[]store.StageRecord](t)(s.Stages(ctx, store.StageQuery{})), []store.StageRecord(nil))
	same(t, "floors", must[[]store.FloorRecord](t)(s.Floors(ctx, "")), []store.FloorRecord(nil))
}

// everything is all that a store gives back, for comparing before and after.
type everything struct {
	Farm    any
	Rev     store.Revision
	Batches []store.Batch
	Stages  []store.StageRecord
	Floors  []store.FloorRecord
}

func all(t *testing.T, s store.Store) (e everything) {
	t.Helper()
	ctx := t.Context()
	f, rev, err := s.Farm(ctx)
	var none *store.NotFoundError
	if err != nil && !errors.As(err, &none) {
		t.Fatal(err)
	}
	e.Farm, e.Rev = f, rev
	e.Batches = must[[]store.Batch](t)(s.LoadBatches(ctx, store.BatchQuery{Withdrawn: true}))
	e.Stages = must[[]store.StageRecord](t)(s.Stages(ctx, store.StageQuery{Withdrawn: true}))
	e.Floors = must[[]store.FloorRecord](t)(s.Floors(ctx, ""))
	return e
}

func reopened(t *testing.T, s store.Store, reopen func(t *testing.T, s store.Store) store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	for _, b := range []weather.Batch{Readings("gate", 0, 30), Forecast("pond", 3, 40), Forecast("pond", 9, 40)} {
		must[store.BatchInfo](t)(s.AddBatch(ctx, b))
	}
	must[store.StageRecord](t)(s.AddStage(ctx, Stage("B1", 4)))
	ok(t, s.WithdrawBatch(ctx, 2, store.Withdrawal{At: hour(8), Why: "wrong station"}))
	before := all(t, s)
	if len(before.Batches) != 3 || len(before.Stages) != 1 || before.Rev != 1 {
		t.Fatalf("not all is there before: %d batches, %d stages, revision %d", len(before.Batches), len(before.Stages), before.Rev)
	}
	s = reopen(t, s)
	same(t, "everything after reopening", all(t, s), before)
	ok(t, s.Check(ctx))
	again := must[store.BatchInfo](t)(s.AddBatch(ctx, Readings("pond", 0, 3)))
	if again.ID != 4 {
		t.Errorf("the batch after reopening has ID %d, want 4: IDs go on", again.ID)
	}
}

func canceled(t *testing.T, s store.Store) {
	withFarm(t, s)
	before := all(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	f := Farm()
	f.Name = "renamed"
	_, err := s.SaveFarm(ctx, f, 1, change(1))
	if !errors.Is(err, context.Canceled) {
		t.Errorf("SaveFarm after cancel: error %v, want context.Canceled", err)
	}
	if _, err := s.AddBatch(ctx, Readings("gate", 0, 5)); !errors.Is(err, context.Canceled) {
		t.Errorf("AddBatch after cancel: error %v, want context.Canceled", err)
	}
	if _, err := s.Batches(ctx, store.BatchQuery{}); !errors.Is(err, context.Canceled) {
		t.Errorf("Batches after cancel: error %v, want context.Canceled", err)
	}
	same(t, "everything after cancel", all(t, s), before)
}
