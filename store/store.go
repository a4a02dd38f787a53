// Package store is the contract of what budward keeps between runs: the farm as
// its owner described it, the weather fed to it with where it came from, the
// stages people counted, and what the floors looked like when. The engines that
// keep it live in folders below this one and pass one conformance suite,
// package storetest. The package also writes everything out as open files.
//
// Every call is one transaction: it happens whole or not at all. Times are kept
// to the millisecond and come back in UTC; a sample's time with a finer part is
// refused, times of record keeping (fed, saved) lose it. Lists come back in the
// order documented at each call, empty lists as nil.
package store

import (
	"context"
	"time"

	"budward/decide/weather"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// Revision counts the saves of a farm; 0 means that none has been saved.
type Revision int64

// Change says when a change of the farm happened in the field, who made it and
// why. At may lie in the past: mowing done yesterday is recorded as yesterday.
type Change struct {
	At  time.Time
	Who string
	Why string
}

// FloorRecord is a block's floor as it was from At until the next record. No
// strips means that from then on the farm had no such block, or none described.
type FloorRecord struct {
	ID      int64
	BlockID string
	Change
	Strips []farm.Strip
}

// BatchInfo is the provenance of one fed batch of weather.
type BatchInfo struct {
	ID           int64
	StationID    string
	Kind         weather.Kind
	Origin       string
	IssuedAt     time.Time // zero for readings
	FedAt        time.Time
	Samples      int
	Gaps         int
	Refused      int       // all refusals; the first weather.MaxRefused are kept one by one
	FirstAt      time.Time // of the samples; zero without samples
	LastAt       time.Time
	Notes        []string
	ElevationM   float64
	HasElevation bool
	Withdrawn    Withdrawal // zero while the batch counts
}

// Batch is a fed batch with its samples, in order of time and then variable.
type Batch struct {
	Info BatchInfo
	Data weather.Batch
}

// BatchQuery picks batches; the zero value of a field picks all. A period
// includes its start and excludes its end.
type BatchQuery struct {
	StationID string
	Kind      weather.Kind
	// IssuedFrom, IssuedTo bound when a forecast was issued.
	IssuedFrom, IssuedTo time.Time
	// SamplesFrom, SamplesTo bound the times of samples: a batch without a sample
	// inside is left out, and LoadBatches gives the samples inside only.
	SamplesFrom, SamplesTo time.Time
	// KnownBy leaves out what was fed after this moment.
	KnownBy time.Time
	// Withdrawn includes the withdrawn ones.
	Withdrawn bool
}

// Withdrawal says when and why a batch or a stage record stopped counting. It
// is kept, not deleted: the record stays whole.
type Withdrawal struct {
	At  time.Time
	Why string
}

// StageRecord is one look at a block: how many shoots (or which share of them)
// stood at which stage.
type StageRecord struct {
	ID      int64
	BlockID string
	At      time.Time
	Who     string
	Unit    StageUnit
	Counts  []StageCount // at least one, in the order given
	Note    string
	// Withdrawn is zero while the record counts.
	Withdrawn Withdrawal
}

// StageUnit says what the amounts of a stage record are.
type StageUnit string

const (
	Shoots StageUnit = "shoots" // counted in a walk, whole numbers
	Shares StageUnit = "shares" // of all shoots, judged by eye, 0..1
)

// StageCount is the number or share of shoots at one stage. The stage keeps the
// scale its code was given in.
type StageCount struct {
	Stage  vine.Stage
	Amount float64
}

// Mixture gives the record as the mixture of stages it says the block was.
func (r StageRecord) Mixture() (vine.Mixture, error) {
	if r.Unit == Shoots {
		w := vine.Walk{At: r.At, By: r.Who}
		for _, c := range r.Counts {
			w.Counts = append(w.Counts, vine.Count{Stage: c.Stage, Shoots: int(c.Amount)})
		}
		return w.Mixture()
	}
	var shares []vine.Share
	for _, c := range r.Counts {
		shares = append(shares, vine.Share{Stage: c.Stage, Share: c.Amount})
	}
	return vine.NewMixture(shares, r.At, r.Who)
}

// StageQuery picks stage records; the zero value of a field picks all.
type StageQuery struct {
	BlockID   string
	From, To  time.Time // From <= At < To
	Withdrawn bool      // include the withdrawn ones
}

// Farms keeps the one farm of a store and the history of its floors.
type Farms interface {
	// Farm returns the farm and its revision, or a *NotFoundError when none has
	// been saved yet.
	Farm(ctx context.Context) (farm.Farm, Revision, error)
	// SaveFarm replaces the farm, if basedOn is still its revision; otherwise a
	// *ConflictError. A farm that CheckFarm faults is refused with its error.
	// Blocks whose strips differ from the last save get a FloorRecord. Weather
	// and stages of stations and blocks that are gone are kept under their IDs.
	SaveFarm(ctx context.Context, f farm.Farm, basedOn Revision, c Change) (Revision, error)
	// Floors lists the floor records of a block ("" = all blocks) by time, then
	// by order of recording.
	Floors(ctx context.Context, blockID string) ([]FloorRecord, error)
	// FloorAt returns the floor a block had at a moment: the last record not
	// after it, or a *NotFoundError when the record starts later.
	FloorAt(ctx context.Context, blockID string, at time.Time) (FloorRecord, error)
}

// Weathers keeps fed weather.
type Weathers interface {
	// AddBatch keeps a batch. The station must be the farm's (*NotFoundError
	// otherwise), the batch must pass CheckBatch, and one with the same station,
	// kind, issue time and samples must not be there already: an
	// *AlreadyFedError then names it and nothing changes. RefusedTotal below the
	// length of Refused counts as that length.
	AddBatch(ctx context.Context, b weather.Batch) (BatchInfo, error)
	// Batches lists batches without samples, by ID.
	Batches(ctx context.Context, q BatchQuery) ([]BatchInfo, error)
	// LoadBatches gives batches with their samples, by ID. It does not merge:
	// where two cover the same hour, both are there.
	LoadBatches(ctx context.Context, q BatchQuery) ([]Batch, error)
	// LatestForecast gives the station's forecast issued last among those issued
	// and fed by the given moment, or a *NotFoundError.
	LatestForecast(ctx context.Context, stationID string, knownBy time.Time) (Batch, error)
	// WithdrawBatch makes a batch stop counting. A *ConflictError if it already has.
	WithdrawBatch(ctx context.Context, id int64, w Withdrawal) error
}

// Stages keeps stage records.
type Stages interface {
	// AddStage keeps a record (its ID is ignored) and returns it with its ID. The
	// block must be the farm's.
	AddStage(ctx context.Context, r StageRecord) (StageRecord, error)
	// Stages lists records by time, then ID.
	Stages(ctx context.Context, q StageQuery) ([]StageRecord, error)
	// WithdrawStage makes a record stop counting. A *ConflictError if it already has.
	WithdrawStage(ctx context.Context, id int64, w Withdrawal) error
}

// Store is everything an engine keeps. Its methods may be called from several
// goroutines.
type Store interface {
	Farms
	Weathers
	Stages
	// Check reads everything and reports the first thing that is broken.
	Check(ctx context.Context) error
	// Close ends the use of the store. After it nothing else may be called.
	Close() error
}
