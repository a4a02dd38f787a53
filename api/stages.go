package api

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"budward/store"
	"budward/vineyard/vine"
)

// StageLook is one look at a block: how far its buds were.
type StageLook struct {
	ID           int64        `json:"id"`
	BlockID      string       `json:"block_id"`
	At           time.Time    `json:"at"`
	By           string       `json:"by"`
	Unit         string       `json:"unit" enum:"shoots,shares" doc:"counted in a walk, or judged by eye"`
	Mixture      vine.Mixture `json:"mixture"`
	Text         string       `json:"text"`
	Note         string       `json:"note"`
	WithdrawnAt  time.Time    `json:"withdrawn_at" doc:"null while it counts"`
	WithdrawnWhy string       `json:"withdrawn_why"`
}

type stagesInput struct {
	ID        string `path:"id" doc:"block"`
	Withdrawn bool   `query:"withdrawn" doc:"also those that were withdrawn"`
}

type stageInput struct {
	ID   string `path:"id" doc:"block"`
	Body StageBody
}

// StageBody is what somebody saw in a block: shares or counts, not both.
type StageBody struct {
	At     *time.Time   `json:"at,omitempty" nullable:"true" doc:"when it was seen; otherwise now"`
	By     string       `json:"by,omitempty" maxLength:"120"`
	Shares []StageShare `json:"shares,omitempty" maxItems:"40" doc:"judged by eye; they add up to 1"`
	Counts []StageCount `json:"counts,omitempty" maxItems:"40" doc:"shoots counted in a walk"`
	Note   string       `json:"note,omitempty" maxLength:"500"`
}

// StageShare is the share of a block's shoots at one stage.
type StageShare struct {
	Stage string  `json:"stage" maxLength:"60" doc:"with its scale, \"EL 4\" or \"BBCH 09\", or in words: \"woolly\", \"bud burst\", \"first leaf\""`
	Share float64 `json:"share" minimum:"0" maximum:"1"`
}

// StageCount is the number of shoots seen at one stage.
type StageCount struct {
	Stage  string `json:"stage" maxLength:"60" doc:"as in shares"`
	Shoots int    `json:"shoots" minimum:"0" maximum:"1000000"`
}

type unstageInput struct {
	ID  string `path:"id" doc:"block"`
	SID int64  `path:"sid" minimum:"1" doc:"the look's id"`
	Why string `query:"why" required:"true" minLength:"1" maxLength:"500"`
}

type createdStage struct {
	Location string `header:"Location"`
	Body     StageLook
}

func (s *server) stages() {
	about := []int{http.StatusNotFound, http.StatusUnprocessableEntity}
	answer(s, op{id: "stages", method: http.MethodGet, path: "/blocks/{id}/stages", summary: "The looks at a block, the latest last", statuses: about},
		func(ctx context.Context, in *stagesInput) ([]StageLook, error) {
			_, b, err := s.block(ctx, in.ID)
			if err != nil {
				return nil, err
			}
			list, err := s.svc.Stages(ctx, b.ID, in.Withdrawn)
			if err != nil {
				return nil, err
			}
			var out []StageLook
			for _, r := range list {
				l, err := look(r)
				if err != nil {
					return nil, err
				}
				out = append(out, l)
			}
			return out, nil
		})
	o := op{id: "record-stage", method: http.MethodPost, path: "/blocks/{id}/stages", summary: "Keep a look at a block", statuses: about}
	h := s.operation(o)
	h.DefaultStatus = http.StatusCreated
	registerAs(s, h, s.recordStage)
	o = op{id: "withdraw-stage", method: http.MethodDelete, path: "/blocks/{id}/stages/{sid}",
		summary: "Make a look at a block stop counting; it is kept", statuses: append(about, http.StatusConflict)}
	h = s.operation(o)
	h.DefaultStatus = http.StatusNoContent
	registerAs(s, h, func(ctx context.Context, in *unstageInput) (*struct{}, error) {
		_, b, err := s.block(ctx, in.ID)
		if err != nil {
			return nil, err
		}
		return nil, At("path.sid", in.SID, s.svc.WithdrawStage(ctx, b.ID, in.SID, in.Why))
	})
}

func look(r store.StageRecord) (StageLook, error) {
	m, err := r.Mixture()
	if err != nil {
		return StageLook{}, fmt.Errorf("stage record %d of block %s: %w", r.ID, r.BlockID, err)
	}
	return StageLook{ID: r.ID, BlockID: r.BlockID, At: r.At, By: r.Who, Unit: string(r.Unit), Mixture: m, Text: m.String(), Note: r.Note,
		WithdrawnAt: r.Withdrawn.At, WithdrawnWhy: r.Withdrawn.Why}, nil
}

func (s *server) recordStage(ctx context.Context, in *stageInput) (*createdStage, error) {
	k, b, err := s.block(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	r := store.StageRecord{BlockID: b.ID, At: k.Now.Truncate(time.Millisecond), Who: in.Body.By, Note: in.Body.Note}
	if in.Body.At != nil {
		r.At = in.Body.At.Truncate(time.Millisecond)
	}
	if r.At.After(k.Now) {
		return nil, refuse("body.at", r.At, "a moment that is not to come")
	}
	if err := seen(&r, in.Body); err != nil {
		return nil, err
	}
	if r, err = s.svc.RecordStage(ctx, r); err != nil {
		return nil, At("body", nil, err)
	}
	l, err := look(r)
	return &createdStage{Location: fmt.Sprintf("%s/blocks/%s/stages/%d", prefix, b.ID, r.ID), Body: l}, err
}

// seen reads what was seen into a record and checks that it is a mixture.
func seen(r *store.StageRecord, x StageBody) error {
	what, unit := "body.shares", store.Shares
	add := func(i int, stage string, amount float64) error {
		st, err := vine.ParseStage(stage)
		if err != nil {
			return At(fmt.Sprintf("%s[%d].stage", what, i), cut(stage), err)
		}
		r.Counts = append(r.Counts, store.StageCount{Stage: st, Amount: amount})
		return nil
	}
	switch {
	case len(x.Shares) > 0 && len(x.Counts) > 0:
		return refuse("body.counts", nil, "shares or counts, not both")
	case len(x.Counts) > 0:
		what, unit = "body.counts", store.Shoots
		for i, c := range x.Counts {
			if err := add(i, c.Stage, float64(c.Shoots)); err != nil {
				return err
			}
		}
	case len(x.Shares) > 0:
		for i, c := range x.Shares {
			if err := add(i, c.Stage, c.Share); err != nil {
				return err
			}
		}
	default:
		return refuse("body.shares", nil, "at least one share or count")
	}
	r.Unit = unit
	return At(what, nil, store.CheckStage(*r))
}
