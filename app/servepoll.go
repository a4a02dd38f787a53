package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"strings"

	"budward/api"
	"budward/cli"
	"budward/decide/weather"
	"budward/feed"
	"budward/store"
	"budward/vineyard/farm"
)

// poller fetches one address for as long as the program runs.
type poller struct{ *feed.Poller }

// maxPollers bounds the addresses of one program.
const maxPollers = 100

// newPollers reads what is to be fetched: "STATION=URL" for a forecast,
// "reading:STATION=URL" for readings.
func newPollers(texts []string, f farm.Farm, clock feed.Clock, transport http.RoundTripper) ([]*poller, error) {
	if len(texts) > maxPollers {
		return nil, &cli.UsageError{Text: fmt.Sprintf("--poll is given %d times; want at most %d", len(texts), maxPollers)}
	}
	var out []*poller
	for i, text := range texts {
		name, url, found := strings.Cut(text, "=")
		kind := feed.PollForecast
		if k, rest, ok := strings.Cut(name, ":"); ok {
			kind, name = feed.PollKind(k), rest
		}
		if !found || kind != feed.PollForecast && kind != feed.PollReading {
			return nil, &cli.UsageError{Text: fmt.Sprintf("--poll %q: want STATION=URL for a forecast, or reading:STATION=URL", text)}
		}
		s, err := station(f, name)
		if err != nil || name == "" {
			return nil, &cli.UsageError{Text: fmt.Sprintf("--poll %q: want a station of the farm before =", text)}
		}
		zone, err := zoneOf(f)
		if err != nil {
			return nil, err
		}
		p, err := feed.NewPoller(feed.PollConfig{URL: url, Kind: kind, StationID: s.ID, Version: version(), Options: feed.Options{Zone: zone}},
			feed.PollEnv{Clock: clock, Transport: transport, Rand: rand.New(rand.NewPCG(rand.Uint64(), uint64(i)))})
		if err != nil {
			return nil, err
		}
		out = append(out, &poller{p})
	}
	return out, nil
}

// run polls until ctx ends.
func (s *service) run(ctx context.Context, p *poller, log *slog.Logger) {
	keep := func(ctx context.Context, d feed.Delivery) error {
		info, _, err := s.keepBatch(ctx, d.Batch)
		var already *store.AlreadyFedError
		if errors.As(err, &already) {
			return nil
		}
		if err == nil && info.ID == 0 {
			err = &feed.Error{Origin: d.Batch.Origin, Field: "values", Value: "none that can be used", Want: "at least one"}
		}
		if err == nil {
			log.Info("fetched", "station", info.StationID, "kind", string(info.Kind), "samples", info.Samples, "refused", info.Refused)
			s.answers.renew()
		}
		return err
	}
	if err := p.Run(ctx, keep); err != nil && ctx.Err() == nil {
		log.Error("a poller stopped", "url", p.Status().URL, "error", err)
	}
}

// keepBatch screens what came as a file is screened, and keeps it. Where nothing is
// left it keeps nothing, and the ID is 0. It lists what screening refused.
func (s *service) keepBatch(ctx context.Context, b weather.Batch) (info store.BatchInfo, refused []refusal, err error) {
	st, err := s.o.open(ctx)
	if err != nil {
		return info, nil, err
	}
	before, err := s.o.before(ctx, st, b)
	if err != nil {
		return info, nil, err
	}
	b, screened := weather.Screen(b, s.o.clock(), before)
	for _, x := range screened.Runs {
		if !x.Kept {
			r := refusal{Origin: b.Origin, Field: x.Name, Value: fmt.Sprint(x.Value), Why: x.Text}
			b.Refuse(r)
			refused = append(refused, r)
		}
	}
	if len(b.Samples) > 0 {
		info, err = st.AddBatch(ctx, b)
	}
	return info, refused, err
}

// polled tells of the pollers.
func (s *service) polled() []api.Poller {
	var out []api.Poller
	for _, p := range s.pollers {
		x := p.Status()
		out = append(out, api.Poller{StationID: x.StationID, Kind: string(x.Kind), URL: x.URL, State: string(x.State), TriedAt: x.LastTryAt,
			TakenAt: x.LastNewAt, NextAt: x.NextTryAt, Failures: x.Failures, Problem: x.Problem})
	}
	return out
}
