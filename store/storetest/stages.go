package storetest

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"
	"time"

	"budward/store"
	"budward/vineyard/vine"
)

func stages(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	judged := store.StageRecord{BlockID: "B2", At: hour(30), Unit: store.Shares, Counts: []store.StageCount{
		{Stage: vine.Stage{Scale: vine.OriginalEL, Code: 5}, Amount: 1.0 / 3},
		{Stage: vine.Stage{Scale: vine.OriginalEL, Code: 3}, Amount: 2.0 / 3},
	}}
	var want []store.StageRecord
	for _, r := range []store.StageRecord{Stage("B1", 20), judged, Stage("B1", 10), Stage("B2", 10)} {
		kept := must[store.StageRecord](t)(s.AddStage(ctx, r))
		r.ID = int64(len(want) + 1)
		same(t, "record as kept", kept, r)
		want = append(want, r)
	}
	list := func(q store.StageQuery) []store.StageRecord { return must[[]store.StageRecord](t)(s.Stages(ctx, q)) }
	same(t, "all by time", list(store.StageQuery{}), []store.StageRecord{want[2], want[3], want[0], want[1]})
	same(t, "one block", list(store.StageQuery{BlockID: "B1"}), []store.StageRecord{want[2], want[0]})
	same(t, "a period", list(store.StageQuery{From: hour(10.1), To: hour(30)}), []store.StageRecord{want[0]})
	same(t, "its start", list(store.StageQuery{From: hour(30)}), []store.StageRecord{want[1]})

	wantError[*store.InvalidError](t, s.WithdrawStage(ctx, 1, store.Withdrawal{At: hour(40)}))
	w := store.Withdrawal{At: hour(40), Why: "wrong block"}
	ok(t, s.WithdrawStage(ctx, 1, w))
	wantError[*store.ConflictError](t, s.WithdrawStage(ctx, 1, w))
	wantError[*store.NotFoundError](t, s.WithdrawStage(ctx, 99, w))
	same(t, "without the withdrawn", list(store.StageQuery{BlockID: "B1"}), []store.StageRecord{want[2]})
	want[0].Withdrawn = w
	same(t, "with the withdrawn", list(store.StageQuery{BlockID: "B1", Withdrawn: true}), []store.StageRecord{want[2], want[0]})
}

func badStages(t *testing.T, s store.Store) {
	withFarm(t, s)
	before := all(t, s)
	for name, spoil := range map[string]func(r *store.StageRecord){
		"no block":        func(r *store.StageRecord) { r.BlockID = "" },
		"no time":         func(r *store.StageRecord) { r.At = time.Time{} },
		"unknown unit":    func(r *store.StageRecord) { r.Unit = "percent" },
		"unknown scale":   func(r *store.StageRecord) { r.Counts[0].Stage.Scale = "" },
		"code off scale":  func(r *store.StageRecord) { r.Counts[0].Stage.Code = 99 },
		"nothing counted": func(r *store.StageRecord) { r.Counts = nil },
		"no shoots":       func(r *store.StageRecord) { r.Counts = r.Counts[:1]; r.Counts[0].Amount = 0 },
		"below zero":      func(r *store.StageRecord) { r.Counts[0].Amount = -1 },
		"half a shoot":    func(r *store.StageRecord) { r.Counts[0].Amount = 0.5 },
		"NaN":             func(r *store.StageRecord) { r.Counts[0].Amount = math.NaN() },
		"infinite":        func(r *store.StageRecord) { r.Counts[0].Amount = math.Inf(1) },
		"stage twice":     func(r *store.StageRecord) { r.Counts[1].Stage = r.Counts[0].Stage },
		"shares above 1":  func(r *store.StageRecord) { r.Unit = store.Shares },
	} {
		r := Stage("B1", 0)
		spoil(&r)
		_, err := s.AddStage(t.Context(), r)
		var notFound *store.NotFoundError
		if err == nil || errors.As(err, &notFound) {
			t.Errorf("%s: error %v, want one that refuses the record", name, err)
		}
	}
	_, err := s.AddStage(t.Context(), Stage("B9", 0))
	wantError[*store.NotFoundError](t, err)
	same(t, "everything after refused stages", all(t, s), before)
}

// manyAtOnce has writers and readers use one store together. Every read sees
// whole transactions, every save counts once.
func manyAtOnce(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	const writers, readers, rounds = 4, 4, 8
	const hours = 25 // of Readings: 3 values each but one gap
	var wg sync.WaitGroup
	errs := make(chan error, 4*(writers+readers)*rounds)
	for w := range writers {
		wg.Go(func() {
			for i := range rounds {
				_, err := s.AddBatch(ctx, Readings("gate", float64(1000*w+100*i), hours))
				errs <- err
				_, err = s.AddStage(ctx, Stage("B1", float64(w*rounds+i)))
				errs <- err
				errs <- saveAgain(ctx, s, fmt.Sprintf("save %d of writer %d", i, w))
			}
		})
	}
	for range readers {
		wg.Go(func() {
			for range rounds {
				list, err := s.LoadBatches(ctx, store.BatchQuery{})
				errs <- err
				for _, b := range list {
					if len(b.Data.Samples) != 3*hours-1 || len(b.Data.Refused) != 1 {
						errs <- fmt.Errorf("batch %d seen with %d samples, %d refusals", b.Info.ID, len(b.Data.Samples), len(b.Data.Refused))
					}
				}
				f, _, err := s.Farm(ctx)
				errs <- err
				if len(f.Blocks) != 3 || len(f.Blocks[0].Strips) != 2 {
					errs <- fmt.Errorf("half a farm seen: %d blocks", len(f.Blocks))
				}
			}
		})
	}
	go func() { wg.Wait(); close(errs) }()
	for err := range errs {
		if err != nil {
			t.Error(err)
		}
	}
	e := all(t, s)
	same(t, "counts at the end", []int{len(e.Batches), len(e.Stages), int(e.Rev)},
		[]int{writers * rounds, writers * rounds, 1 + writers*rounds})
}
