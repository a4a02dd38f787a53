package storetest

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"budward/decide/weather"
	"budward/store"
)

func batchRoundTrip(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	for _, given := range []weather.Batch{
		Readings("gate", 0, 30), Forecast("gate", 2, 156),
		// A zero with a sign is a zero; Check must not take it for a changed value.
		{StationID: "gate", Kind: weather.Reading, Origin: "minus zero", FedAt: hour(4),
			Samples: []weather.Sample{{At: hour(3), Var: weather.AirTemp, Value: math.Copysign(0, -1)}}},
		// Nothing usable came: that is worth keeping too.
		{StationID: "gate", Kind: weather.Reading, Origin: "empty.csv", FedAt: hour(5), Gaps: 24, RefusedTotal: 2000},
	} {
		want := given
		want.Samples = slices.Clone(given.Samples)
		slices.Reverse(given.Samples)             // order in is free, order out is by time
		given.FedAt = given.FedAt.Add(1234 * 1e3) // 1.234 ms: kept to the millisecond
		want.FedAt = want.FedAt.Add(1e6)          // 1 ms
		given.FedAt = given.FedAt.In(time.FixedZone("UTC+5:30", 19800))

		info := must[store.BatchInfo](t)(s.AddBatch(ctx, given))
		store.SortSamples(want.Samples)
		q := store.BatchQuery{Kind: given.Kind}
		loaded := must[[]store.Batch](t)(s.LoadBatches(ctx, q))
		last := loaded[len(loaded)-1]
		want.RefusedTotal = max(want.RefusedTotal, len(want.Refused))
		same(t, "batch from "+given.Origin, last.Data, want)
		same(t, "its provenance", last.Info, info)

		wantInfo := store.BatchInfo{ID: info.ID, StationID: "gate", Kind: want.Kind, Origin: want.Origin, IssuedAt: want.IssuedAt,
			FedAt: want.FedAt, Samples: len(want.Samples), Gaps: want.Gaps, Refused: want.RefusedTotal, Notes: want.Notes,
			ElevationM: want.ElevationM, HasElevation: want.HasElevation}
		if n := len(want.Samples); n > 0 {
			wantInfo.FirstAt, wantInfo.LastAt = want.Samples[0].At, want.Samples[n-1].At
		}
		same(t, "provenance of "+given.Origin, info, wantInfo)
	}
}

func badBatches(t *testing.T, s store.Store) {
	withFarm(t, s)
	before := all(t, s)
	for name, spoil := range map[string]func(b *weather.Batch){
		"no station":          func(b *weather.Batch) { b.StationID = "" },
		"unknown kind":        func(b *weather.Batch) { b.Kind = "guess" },
		"not fed":             func(b *weather.Batch) { b.FedAt = time.Time{} },
		"reading issued":      func(b *weather.Batch) { b.IssuedAt = hour(0) },
		"forecast not issued": func(b *weather.Batch) { b.Kind = weather.Forecast },
		"NaN":                 func(b *weather.Batch) { b.Samples[3].Value = math.NaN() },
		"infinite":            func(b *weather.Batch) { b.Samples[3].Value = math.Inf(1) },
		"unknown variable":    func(b *weather.Batch) { b.Samples[3].Var = weather.NumVariables },
		"no time":             func(b *weather.Batch) { b.Samples[3].At = time.Time{} },
		"too fine a time":     func(b *weather.Batch) { b.Samples[3].At = b.Samples[3].At.Add(time.Microsecond) },
		"twice":               func(b *weather.Batch) { b.Samples = append(b.Samples, b.Samples[3]) },
		"gaps below zero":     func(b *weather.Batch) { b.Gaps = -1 },
		"NaN elevation":       func(b *weather.Batch) { b.ElevationM = math.NaN() },
	} {
		b := Readings("gate", 0, 4)
		spoil(&b)
		_, err := s.AddBatch(t.Context(), b)
		if e := wantError[*store.InvalidError](t, err); e == nil {
			t.Errorf("%s was not refused", name)
		}
	}
	b := Readings("hilltop", 0, 4)
	_, err := s.AddBatch(t.Context(), b)
	wantError[*store.NotFoundError](t, err)
	same(t, "everything after refused batches", all(t, s), before)
}

// ids of batches, for comparing.
func ids(list []store.BatchInfo) (out []int64) {
	for _, b := range list {
		out = append(out, b.ID)
	}
	return out
}

func batchQueries(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	for _, b := range []weather.Batch{ // IDs 1..5
		Readings("gate", 0, 10),    // samples at 0..9, fed at 10
		Readings("gate", 8, 10),    // 8..17, fed at 18
		Forecast("gate", 6, 24),    // 7..30, fed at 6.5
		Forecast("pond", 12, 24),   // 13..36, fed at 12.5
		Readings("pond", 100, 2.0), // 100..101, fed at 102
	} {
		must[store.BatchInfo](t)(s.AddBatch(ctx, b))
	}
	hole := Readings("gate", 200, 10) // ID 6; nothing from 203 until 207
	hole.Samples = slices.DeleteFunc(hole.Samples, func(x weather.Sample) bool {
		return x.At.After(hour(202)) && x.At.Before(hour(207))
	})
	must[store.BatchInfo](t)(s.AddBatch(ctx, hole))

	for _, c := range []struct {
		name string
		q    store.BatchQuery
		want []int64
	}{
		{"all", store.BatchQuery{}, []int64{1, 2, 3, 4, 5, 6}},
		{"a station", store.BatchQuery{StationID: "pond"}, []int64{4, 5}},
		{"a kind", store.BatchQuery{Kind: weather.Forecast}, []int64{3, 4}},
		{"both", store.BatchQuery{StationID: "gate", Kind: weather.Reading}, []int64{1, 2, 6}},
		{"nobody's", store.BatchQuery{StationID: "hilltop"}, nil},
		{"issued from", store.BatchQuery{IssuedFrom: hour(6)}, []int64{3, 4}},
		{"issued after", store.BatchQuery{IssuedFrom: hour(6.1)}, []int64{4}},
		{"issued before", store.BatchQuery{IssuedTo: hour(12)}, []int64{3}},
		{"known by", store.BatchQuery{KnownBy: hour(12.5)}, []int64{1, 3, 4}},
		{"samples from", store.BatchQuery{Kind: weather.Reading, SamplesFrom: hour(9)}, []int64{1, 2, 5, 6}},
		{"samples from, later", store.BatchQuery{Kind: weather.Reading, SamplesFrom: hour(9.1)}, []int64{2, 5, 6}},
		{"samples before", store.BatchQuery{SamplesTo: hour(7)}, []int64{1}},
		{"samples before, later", store.BatchQuery{SamplesTo: hour(7.1)}, []int64{1, 3}},
		{"samples within", store.BatchQuery{SamplesFrom: hour(31), SamplesTo: hour(101)}, []int64{4, 5}},
		{"in the hole", store.BatchQuery{SamplesFrom: hour(203), SamplesTo: hour(207)}, nil},
		{"at the edge of the hole", store.BatchQuery{SamplesFrom: hour(203), SamplesTo: hour(207.1)}, []int64{6}},
	} {
		infos := must[[]store.BatchInfo](t)(s.Batches(ctx, c.q))
		same(t, c.name, ids(infos), c.want)
		loaded := must[[]store.Batch](t)(s.LoadBatches(ctx, c.q))
		var loadedIDs []int64
		for _, b := range loaded {
			loadedIDs = append(loadedIDs, b.Info.ID)
			for _, x := range b.Data.Samples {
				if x.At.Before(c.q.SamplesFrom) || !c.q.SamplesTo.IsZero() && !x.At.Before(c.q.SamplesTo) {
					t.Errorf("%s: batch %d has a sample at %v", c.name, b.Info.ID, x.At)
				}
			}
		}
		same(t, c.name+", loaded", loadedIDs, c.want)
	}
	within := must[[]store.Batch](t)(s.LoadBatches(ctx, store.BatchQuery{StationID: "gate", Kind: weather.Reading, SamplesFrom: hour(9), SamplesTo: hour(11)}))
	counts := []int{len(within[0].Data.Samples), len(within[1].Data.Samples)}
	// Hour 9 of batch 1 (three variables); hours 9 and 10 of batch 2, whose second
	// hour, 9, has no soil moisture.
	same(t, "samples within", counts, []int{3, 5})
}

func fedTwice(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	first := must[store.BatchInfo](t)(s.AddBatch(ctx, Forecast("gate", 0, 12)))
	before := all(t, s)
	again := Forecast("gate", 0, 12)
	again.Origin, again.FedAt = "the same by another name", hour(3)
	slices.Reverse(again.Samples)
	_, err := s.AddBatch(ctx, again)
	if e := wantError[*store.AlreadyFedError](t, err); e != nil && (e.ID != first.ID || !e.FedAt.Equal(first.FedAt)) {
		t.Errorf("already fed as %+v, want batch %d", e, first.ID)
	}
	same(t, "everything after feeding twice", all(t, s), before)

	for name, differ := range map[string]func(b *weather.Batch){
		"other station": func(b *weather.Batch) { b.StationID = "pond" },
		"other issue":   func(b *weather.Batch) { b.IssuedAt = hour(-1) },
		"other value":   func(b *weather.Batch) { b.Samples[2].Value = math.Nextafter(b.Samples[2].Value, 9) },
		"other time":    func(b *weather.Batch) { b.Samples[2].At = b.Samples[2].At.Add(time.Millisecond) },
		"one less":      func(b *weather.Batch) { b.Samples = b.Samples[1:] },
	} {
		b := Forecast("gate", 0, 12)
		differ(&b)
		if _, err := s.AddBatch(ctx, b); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	// A withdrawn batch does not stand in the way of feeding it rightly.
	ok(t, s.WithdrawBatch(ctx, first.ID, store.Withdrawal{At: hour(4), Why: "fed too early"}))
	must[store.BatchInfo](t)(s.AddBatch(ctx, again))
}

func latestForecast(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	late := Forecast("gate", 12, 5) // ID 2, issued at 12 but fed at 40
	late.FedAt = hour(40)
	for _, b := range []weather.Batch{Forecast("gate", 6, 5), late, Forecast("gate", 0, 5), Forecast("pond", 13, 5), Readings("gate", 14, 5)} {
		must[store.BatchInfo](t)(s.AddBatch(ctx, b))
	}
	for _, c := range []struct {
		at float64
		id int64 // 0 = none
	}{{0.4, 0}, {0.5, 3}, {6, 3}, {6.5, 1}, {39, 1}, {40, 2}, {1000, 2}} {
		b, err := s.LatestForecast(ctx, "gate", hour(c.at))
		if c.id == 0 {
			wantError[*store.NotFoundError](t, err)
			continue
		}
		ok(t, err)
		if b.Info.ID != c.id || len(b.Data.Samples) != 10 {
			t.Errorf("latest forecast at hour %g: batch %d with %d samples, want %d with 10", c.at, b.Info.ID, len(b.Data.Samples), c.id)
		}
	}
	ok(t, s.WithdrawBatch(ctx, 2, store.Withdrawal{At: hour(41), Why: "wrong point"}))
	b, err := s.LatestForecast(ctx, "gate", hour(41))
	ok(t, err)
	if b.Info.ID != 1 {
		t.Errorf("latest forecast after withdrawal: batch %d, want 1", b.Info.ID)
	}
	_, err = s.LatestForecast(ctx, "hilltop", hour(41))
	wantError[*store.NotFoundError](t, err)
}

func withdrawnBatches(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	b := must[store.BatchInfo](t)(s.AddBatch(ctx, Readings("gate", 0, 4)))
	wantError[*store.InvalidError](t, s.WithdrawBatch(ctx, b.ID, store.Withdrawal{Why: "no time"}))
	wantError[*store.InvalidError](t, s.WithdrawBatch(ctx, b.ID, store.Withdrawal{At: hour(1)}))
	wantError[*store.NotFoundError](t, s.WithdrawBatch(ctx, b.ID+1, store.Withdrawal{At: hour(1), Why: "x"}))
	w := store.Withdrawal{At: hour(9), Why: "sensor in the sun"}
	ok(t, s.WithdrawBatch(ctx, b.ID, w))
	wantError[*store.ConflictError](t, s.WithdrawBatch(ctx, b.ID, store.Withdrawal{At: hour(10), Why: "again"}))
	same(t, "batches that count", must[[]store.BatchInfo](t)(s.Batches(ctx, store.BatchQuery{})), []store.BatchInfo(nil))
	kept := must[[]store.Batch](t)(s.LoadBatches(ctx, store.BatchQuery{Withdrawn: true}))
	b.Withdrawn = w
	same(t, "the withdrawn batch", kept[0].Info, b)
	want := Readings("gate", 0, 4)
	store.SortSamples(want.Samples)
	same(t, "its samples", kept[0].Data.Samples, want.Samples)
	var conflict *store.ConflictError
	if errors.As(s.WithdrawBatch(ctx, b.ID, w), &conflict); conflict == nil || conflict.ID == "" {
		t.Errorf("a second withdrawal is refused with %+v, want a *ConflictError that names the batch", conflict)
	}
}
