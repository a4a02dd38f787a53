package storetest

import (
	"math"
	"testing"
	"time"

	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/farm"
)

func farmRoundTrip(t *testing.T, s store.Store) {
	ctx := t.Context()
	given := Farm()
	// A time in another zone is the same moment, and comes back in UTC.
	given.Blocks[0].Strips[0].Moisture.At = given.Blocks[0].Strips[0].Moisture.At.In(time.FixedZone("UTC-7", -7*3600))
	if rev := must[store.Revision](t)(s.SaveFarm(ctx, given, 0, change(0))); rev != 1 {
		t.Errorf("first revision %d, want 1", rev)
	}
	got, rev, err := s.Farm(ctx)
	ok(t, err)
	same(t, "farm", got, Farm())
	if rev != 1 {
		t.Errorf("revision %d, want 1", rev)
	}
	if got.Blocks[0].Strips[0].Moisture.At.Location() != time.UTC {
		t.Error("a moisture's time came back in a zone other than UTC")
	}

	// Saved again, in another order: lists keep the order given.
	next := Farm()
	next.Blocks[0], next.Blocks[2] = next.Blocks[2], next.Blocks[0]
	next.Stations[0], next.Stations[1] = next.Stations[1], next.Stations[0]
	next.People, next.Defaults = nil, nil
	if rev := must[store.Revision](t)(s.SaveFarm(ctx, next, 1, change(1))); rev != 2 {
		t.Errorf("second revision %d, want 2", rev)
	}
	got, _, err = s.Farm(ctx)
	ok(t, err)
	same(t, "farm saved again", got, next)
}

func farmConflicts(t *testing.T, s store.Store) {
	ctx := t.Context()
	_, err := s.SaveFarm(ctx, Farm(), 1, change(0))
	wantError[*store.ConflictError](t, err)
	withFarm(t, s)
	for _, stale := range []store.Revision{0, 2} {
		f := Farm()
		f.Name = "lost update"
		_, err := s.SaveFarm(ctx, f, stale, change(0))
		wantError[*store.ConflictError](t, err)
	}
	got, rev, err := s.Farm(ctx)
	ok(t, err)
	same(t, "farm after refused saves", got, Farm())
	if rev != 1 {
		t.Errorf("revision %d, want 1", rev)
	}
}

func badFarms(t *testing.T, s store.Store) {
	withFarm(t, s)
	before := all(t, s)
	for name, spoil := range map[string]func(f *farm.Farm){
		"no ID":             func(f *farm.Farm) { f.ID = "" },
		"no zone":           func(f *farm.Farm) { f.Zone = "" },
		"block twice":       func(f *farm.Farm) { f.Blocks[1].ID = "B1" },
		"block without ID":  func(f *farm.Farm) { f.Blocks[1].ID = "" },
		"station twice":     func(f *farm.Farm) { f.Stations[1].ID = "gate" },
		"source without ID": func(f *farm.Farm) { f.Sources[0].ID = "" },
		"unknown station":   func(f *farm.Farm) { f.Blocks[1].StationID = "hilltop" },
		"unknown source":    func(f *farm.Farm) { f.Blocks[1].System.SourceID = "river" },
		"unknown fan":       func(f *farm.Farm) { f.Blocks[0].Protection = []string{"fan1", "fan2"} },
		"strip twice":       func(f *farm.Farm) { f.Blocks[0].Strips[1].Name = "under-vine" },
		"unknown strip":     func(f *farm.Farm) { f.Blocks[0].System.WetsStrip = "alley" },
		"NaN":               func(f *farm.Farm) { f.Blocks[2].AreaHa = math.NaN() },
		"infinite moisture": func(f *farm.Farm) { f.Blocks[1].Strips[0].Moisture.Value = math.Inf(-1) },
		"NaN in a polygon":  func(f *farm.Farm) { f.Blocks[0].Polygon[2][1] = math.NaN() },
		"NaN temperature":   func(f *farm.Farm) { f.Sources[0].WaterTempC = quantity.Celsius(math.NaN()) },
	} {
		f := Farm()
		spoil(&f)
		_, err := s.SaveFarm(t.Context(), f, 1, change(1))
		if e := wantError[*store.InvalidError](t, err); e == nil || e.Field == "" || e.Want == "" {
			t.Errorf("%s: error %+v names no field or no wish", name, e)
		}
	}
	_, err := s.SaveFarm(t.Context(), Farm(), 1, store.Change{})
	wantError[*store.InvalidError](t, err)
	same(t, "everything after refused farms", all(t, s), before)
}

func floors(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s) // at hour 0

	f := Farm()
	f.Blocks[0].Strips[1].HeightM = 0.05 // mown
	f.Blocks[1].Name = "renamed, floor as it was"
	must[store.Revision](t)(s.SaveFarm(ctx, f, 1, store.Change{At: hour(10), Who: "Bo", Why: "mown"}))
	f.Blocks[0].Strips[0].Moisture.Value = 0.2
	// Recorded late: watered at hour 5, before the mowing.
	must[store.Revision](t)(s.SaveFarm(ctx, f, 2, store.Change{At: hour(5), Who: "Bo", Why: "watered"}))
	f.Blocks = f.Blocks[:1]
	must[store.Revision](t)(s.SaveFarm(ctx, f, 3, store.Change{At: hour(20), Who: "Ana", Why: "grubbed up"}))

	type row struct {
		Block, Why string
		At         time.Time
		Strips     int
	}
	var got []row
	for _, r := range must[[]store.FloorRecord](t)(s.Floors(ctx, "")) {
		got = append(got, row{r.BlockID, r.Why, r.At, len(r.Strips)})
	}
	same(t, "floor records", got, []row{
		{"B1", "import", hour(0), 2}, {"B2", "import", hour(0), 2},
		{"B1", "watered", hour(5), 2}, {"B1", "mown", hour(10), 2},
		{"B2", "grubbed up", hour(20), 0},
	})
	if n := len(must[[]store.FloorRecord](t)(s.Floors(ctx, "B1"))); n != 3 {
		t.Errorf("%d floor records of B1, want 3", n)
	}
	for _, c := range []struct {
		at  float64
		why string
	}{{0, "import"}, {4.9, "import"}, {5, "watered"}, {9, "watered"}, {10, "mown"}, {1000, "mown"}} {
		r, err := s.FloorAt(ctx, "B1", hour(c.at))
		ok(t, err)
		if r.Why != c.why {
			t.Errorf("floor of B1 at hour %g is from %q, want %q", c.at, r.Why, c.why)
		}
	}
	mown, err := s.FloorAt(ctx, "B1", hour(11))
	ok(t, err)
	want := Farm().Blocks[0].Strips
	want[1].HeightM = 0.05
	same(t, "floor after mowing", mown.Strips, want)
	_, err = s.FloorAt(ctx, "B1", hour(-0.1))
	wantError[*store.NotFoundError](t, err)
}

func historyStays(t *testing.T, s store.Store) {
	ctx := t.Context()
	withFarm(t, s)
	must[store.BatchInfo](t)(s.AddBatch(ctx, Readings("pond", 0, 4)))
	must[store.StageRecord](t)(s.AddStage(ctx, Stage("B2", 1)))
	f := Farm()
	f.Stations = f.Stations[:1]
	f.Blocks = f.Blocks[:1]
	must[store.Revision](t)(s.SaveFarm(ctx, f, 1, change(2)))

	if n := len(must[[]store.Batch](t)(s.LoadBatches(ctx, store.BatchQuery{StationID: "pond"}))); n != 1 {
		t.Errorf("%d batches of the station that left, want 1", n)
	}
	if n := len(must[[]store.StageRecord](t)(s.Stages(ctx, store.StageQuery{BlockID: "B2"}))); n != 1 {
		t.Errorf("%d stages of the block that left, want 1", n)
	}
	_, err := s.AddBatch(ctx, Readings("pond", 9, 4))
	wantError[*store.NotFoundError](t, err)
	_, err = s.AddStage(ctx, Stage("B2", 9))
	wantError[*store.NotFoundError](t, err)
}
