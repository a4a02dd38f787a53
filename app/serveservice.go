package app

import (
	"context"
	"fmt"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"budward/api"
	"budward/decide/nights"
	"budward/store"
	"budward/vineyard/farm"
)

// service answers the API from one farm file.
type service struct {
	o       *office
	answers *answers
	started time.Time
	pollers []*poller
	asked   atomic.Uint64 // questions that are never the same

	mu       sync.Mutex
	refusals map[int64][]refusal // of batches, which do not change
}

var _ api.Service = (*service)(nil)

func newService(life context.Context, o *office) *service {
	return &service{o: o, answers: newAnswers(life, o), started: o.clock(), refusals: map[int64][]refusal{}}
}

// Farm is the farm as kept.
func (s *service) Farm(ctx context.Context) (api.Kept, error) {
	st, err := s.o.open(ctx)
	if err != nil {
		return api.Kept{}, err
	}
	f, rev, err := st.Farm(ctx)
	if err != nil {
		return api.Kept{}, err
	}
	zone, err := zoneOf(f)
	if err != nil {
		return api.Kept{}, err
	}
	return api.Kept{Farm: f, Revision: rev, Zone: zone, Now: s.o.clock().In(zone), Problems: farm.Check(f, known())}, nil
}

// Tonight works out the nights ahead.
func (s *service) Tonight(ctx context.Context, q api.TonightQuery) (api.Answered, error) {
	return s.answers.tonight(ctx, q)
}

// Course is one night of one block hour by hour.
func (s *service) Course(ctx context.Context, blockID string, night int) (nights.Course, error) {
	got, err := s.answers.block(ctx, fmt.Sprintf("course %q %d", blockID, night), "", func(in nights.Input) (any, error) {
		in.Ahead = max(7, night+1)
		return nights.OneCourse(in, blockID, night)
	})
	if err != nil {
		return nights.Course{}, err
	}
	return got.(nights.Course), nil
}

// Compare works out what choices are worth.
func (s *service) Compare(ctx context.Context, q api.Question) ([]nights.Compared, error) {
	got, err := s.answers.block(ctx, fmt.Sprintf("compare %d", s.asked.Add(1)), q.Units, func(in nights.Input) (any, error) {
		in.Ahead = max(7, q.Night+1)
		return nights.WhatIf(in, q.BlockID, q.Night, q.Alts)
	})
	if err != nil {
		return nil, placeCompared(err, q)
	}
	return got.([]nights.Compared), nil
}

// placeCompared says which part of a question an error is about.
func placeCompared(err error, q api.Question) error {
	for i, a := range q.Alts {
		if strings.HasPrefix(err.Error(), fmt.Sprintf("alternative %q: ", a.Label)) {
			return api.At(fmt.Sprintf("body.alternatives[%d]", i), a.Label, err)
		}
	}
	return api.At("body.night", q.Night, err)
}

// Stages lists the looks at a block.
func (s *service) Stages(ctx context.Context, blockID string, withdrawn bool) ([]store.StageRecord, error) {
	return s.o.Stages(ctx, store.StageQuery{BlockID: blockID, Withdrawn: withdrawn})
}

// RecordStage keeps a look at a block.
func (s *service) RecordStage(ctx context.Context, r store.StageRecord) (store.StageRecord, error) {
	st, err := s.o.open(ctx)
	if err != nil {
		return r, err
	}
	defer s.answers.renew()
	return st.AddStage(ctx, r)
}

// WithdrawStage makes a look at a block stop counting.
func (s *service) WithdrawStage(ctx context.Context, blockID string, id int64, why string) error {
	list, err := s.Stages(ctx, blockID, true)
	if err != nil {
		return err
	}
	for _, r := range list {
		if r.ID == id {
			defer s.answers.renew()
			return s.o.WithdrawStage(ctx, id, why)
		}
	}
	return &store.NotFoundError{What: "look at block " + blockID, ID: fmt.Sprint(id)}
}

// ChangeFloor keeps a block's floor as it is now.
func (s *service) ChangeFloor(ctx context.Context, c api.FloorChange) (api.Kept, error) {
	k, err := s.Farm(ctx)
	if err != nil {
		return k, err
	}
	found := false
	for i := range k.Farm.Blocks {
		if b := &k.Farm.Blocks[i]; b.ID == c.BlockID {
			b.Strips, found = c.Strips, true
		}
	}
	if !found {
		return k, &store.NotFoundError{What: "block", ID: c.BlockID}
	}
	k.Problems = farm.Check(k.Farm, known())
	for _, p := range k.Problems {
		if p.Severity == farm.SeverityError {
			return k, &store.InvalidError{Where: p.Where, Field: p.Field, Value: fmt.Sprintf("%q", p.Value), Want: p.Want}
		}
	}
	st, err := s.o.open(ctx)
	if err != nil {
		return k, err
	}
	defer s.answers.renew()
	k.Revision, err = st.SaveFarm(ctx, k.Farm, c.BasedOn, c.Change)
	return k, err
}

// version is the program's, as far as it was told when it was built.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := strings.Trim(info.Main.Version, "()") // "(devel)"
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 && (v == "" || v == "devel") {
			v = s.Value[:12]
		}
	}
	if v == "" {
		return "unknown"
	}
	return v
}
