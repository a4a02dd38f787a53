package app

import (
	"context"
	"errors"
	"fmt"
	"io"

	"budward/api"
	"budward/feed"
	"budward/store"
	"budward/vineyard/farm"
)

// Push takes in readings as a logger sends them. What was here already is no
// error: a logger that got no answer sends again.
func (s *service) Push(ctx context.Context, from string, body io.Reader) (api.Pushed, error) {
	k, err := s.Farm(ctx)
	if err != nil {
		return api.Pushed{}, err
	}
	limits := feed.PushLimits{FedAt: k.Now, Stations: []string{}}
	if from != "" {
		limits.Origin = "push from " + from
	}
	for _, st := range k.Farm.Stations {
		limits.Stations = append(limits.Stations, st.ID)
	}
	p, err := feed.DecodePush(body, limits)
	if err != nil {
		return api.Pushed{}, placeFed(err)
	}
	out := api.Pushed{Rows: p.Rows, Taken: p.Taken, Refused: p.RefusedTotal, Refusals: p.Refused}
	for _, b := range p.Batches {
		info, refused, err := s.keepBatch(ctx, b)
		out.Refused += len(refused)
		out.Refusals = append(out.Refusals, refused...)
		switch {
		case is[*store.AlreadyFedError](err):
			out.Repeated = append(out.Repeated, b.StationID)
			continue
		case err != nil:
			return out, err
		case info.ID == 0: // all of it was refused
			continue
		}
		f, err := s.feed(ctx, info, k.Now)
		if err != nil {
			return out, err
		}
		out.Feeds = append(out.Feeds, f)
	}
	if len(out.Feeds) == 0 && len(out.Repeated) == 0 {
		return out, nothingPushed(out)
	}
	if len(out.Feeds) > 0 {
		s.answers.renew()
	}
	return out, nil
}

// maxTold bounds the refusals told in one error.
const maxTold = 20

// nothingPushed says why a push gave no value at all, item by item.
func nothingPushed(p api.Pushed) error {
	var errs []error
	for i, r := range p.Refusals {
		if i == maxTold {
			break
		}
		at := "body"
		if r.Line > 0 {
			at = fmt.Sprintf("body[%d]", r.Line-1)
		}
		if r.Field != "" {
			at += "." + r.Field
		}
		errs = append(errs, api.At(at, r.Value, &farm.FieldError{Field: r.Field, Value: r.Value, Want: "a value that can be taken: " + r.Why}))
	}
	if errs == nil {
		errs = []error{api.At("body", nil, &farm.FieldError{Field: "readings", Want: "at least one value"})}
	}
	return errors.Join(errs...)
}
