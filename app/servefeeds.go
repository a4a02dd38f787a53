package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"budward/api"
	"budward/cli"
	"budward/cli/calc"
	"budward/decide/nights"
	"budward/decide/weather"
	"budward/feed"
	"budward/store"
	"budward/vineyard/farm"
)

type refusal = weather.Refusal

// Feeds lists what was fed, the latest first.
func (s *service) Feeds(ctx context.Context, q api.FeedQuery) (api.FeedList, error) {
	k, err := s.Farm(ctx)
	if err != nil {
		return api.FeedList{}, err
	}
	out := api.FeedList{At: k.Now, Pollers: s.polled()}
	list, err := s.o.Batches(ctx, store.BatchQuery{StationID: q.StationID, Kind: weather.Kind(q.Kind), Withdrawn: true})
	if err != nil {
		return out, err
	}
	for i := len(list) - 1; i >= 0; i-- {
		if q.Before > 0 && list[i].ID >= q.Before {
			continue
		}
		if len(out.Feeds) == q.Limit {
			out.More = true
			break
		}
		f, err := s.feed(ctx, list[i], k.Now)
		if err != nil {
			return out, err
		}
		out.Feeds = append(out.Feeds, f)
	}
	if out.Stations, err = s.freshness(ctx, k); err != nil {
		return out, err
	}
	out.Skill, err = s.skill(ctx)
	return out, err
}

// feed tells of a batch.
func (s *service) feed(ctx context.Context, b store.BatchInfo, now time.Time) (api.Feed, error) {
	f := api.Feed{ID: b.ID, StationID: b.StationID, Kind: string(b.Kind), Origin: b.Origin, IssuedAt: b.IssuedAt, FedAt: b.FedAt,
		FirstAt: b.FirstAt, LastAt: b.LastAt, Samples: b.Samples, Gaps: b.Gaps, Refused: b.Refused, Notes: b.Notes,
		WithdrawnAt: b.Withdrawn.At, WithdrawnWhy: b.Withdrawn.Why}
	since := b.IssuedAt
	if b.Kind == weather.Reading {
		since = b.LastAt
	}
	f.AgeH = hundredths(now.Sub(since))
	var err error
	if b.Refused > 0 {
		f.Refusals, err = s.refusalsOf(ctx, b)
	}
	return f, err
}

// hundredths of an hour are half a minute: finer than anybody reads, and an
// answer asked for again soon is the same.
func hundredths(d time.Duration) float64 { return math.Round(d.Hours()*100) / 100 }

// maxRefusals bounds the batches whose refusals are held in memory.
const maxRefusals = 2000

// refusalsOf are the refusals of a batch. They are kept with its samples; those of
// one moment are loaded along.
func (s *service) refusalsOf(ctx context.Context, b store.BatchInfo) ([]refusal, error) {
	s.mu.Lock()
	known, ok := s.refusals[b.ID]
	s.mu.Unlock()
	if ok {
		return known, nil
	}
	st, err := s.o.open(ctx)
	if err != nil {
		return nil, err
	}
	list, err := st.LoadBatches(ctx, store.BatchQuery{StationID: b.StationID, Kind: b.Kind, Withdrawn: true,
		SamplesFrom: b.FirstAt, SamplesTo: b.FirstAt.Add(time.Millisecond)})
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.refusals) >= maxRefusals {
		clear(s.refusals)
	}
	for _, x := range list {
		s.refusals[x.Info.ID] = x.Data.Refused
	}
	return s.refusals[b.ID], nil
}

// freshness says how fresh the weather of each station is.
func (s *service) freshness(ctx context.Context, k api.Kept) ([]api.Freshness, error) {
	list, err := s.o.Batches(ctx, store.BatchQuery{})
	if err != nil {
		return nil, err
	}
	var out []api.Freshness
	for _, st := range k.Farm.Stations {
		x := api.Freshness{StationID: st.ID, Name: st.Name, Forecast: api.None, Readings: api.None}
		for _, b := range k.Farm.Blocks {
			x.Used = x.Used || b.StationID == st.ID
		}
		for _, b := range list {
			switch {
			case b.StationID != st.ID:
			case b.Kind == weather.Reading:
				if b.LastAt.After(x.ReadingsTo) {
					x.ReadingsTo = b.LastAt
				}
			case b.IssuedAt.After(x.IssuedAt):
				x.IssuedAt, x.ForecastTo = b.IssuedAt, b.LastAt
			}
		}
		x.Forecast, x.ForecastAgeH = age(x.IssuedAt, k.Now, staleHours)
		x.Readings, x.ReadingsAgeH = age(x.ReadingsTo, k.Now, silentHours)
		out = append(out, x)
	}
	return out, nil
}

// age judges a moment that may never have been; it stays fresh for some hours.
func age(at, now time.Time, fresh_h float64) (api.State, *float64) {
	if at.IsZero() {
		return api.None, nil
	}
	h := hundredths(now.Sub(at))
	if h > fresh_h {
		return api.Stale, &h
	}
	return api.Fresh, &h
}

// skill holds past forecasts against what was measured.
func (s *service) skill(ctx context.Context) ([]api.Skill, error) {
	got, err := s.answers.block(ctx, "skill", "", func(in nights.Input) (any, error) { return skillOf(in), nil })
	if err != nil {
		return nil, err
	}
	return got.([]api.Skill), nil
}

func skillOf(in nights.Input) (out []api.Skill) {
	for _, st := range in.Farm.Stations {
		var forecast, measured [weather.NumLeads][]float64
		var seen [weather.NumLeads]map[int64]bool
		for _, p := range in.Stations[st.ID].Pairs {
			i, ok := weather.Bucket(p.LeadH)
			if !ok {
				continue
			}
			forecast[i], measured[i] = append(forecast[i], p.ForecastMinC), append(measured[i], p.MeasuredMinC)
			if seen[i] == nil {
				seen[i] = map[int64]bool{}
			}
			seen[i][p.Night.Unix()] = true
		}
		for i := range forecast {
			if len(forecast[i]) == 0 {
				continue
			}
			x := weather.ScorePairs(forecast[i], measured[i])
			out = append(out, api.Skill{StationID: st.ID, LeadDays: i, Nights: len(seen[i]), BiasK: x.BiasK, MAEK: x.MAEK, RMSEK: x.RMSEK})
		}
	}
	return out
}

// WithdrawFeed makes a batch stop counting.
func (s *service) WithdrawFeed(ctx context.Context, id int64, why string) (api.Feed, error) {
	if err := s.o.WithdrawBatch(ctx, id, why); err != nil {
		return api.Feed{}, err
	}
	s.answers.renew()
	list, err := s.o.Batches(ctx, store.BatchQuery{Withdrawn: true})
	if err != nil {
		return api.Feed{}, err
	}
	for _, b := range list {
		if b.ID == id {
			return s.feed(ctx, b, s.o.clock())
		}
	}
	return api.Feed{}, &store.NotFoundError{What: "batch", ID: fmt.Sprint(id)}
}

// Take takes in one file of weather, as the command line does.
func (s *service) Take(ctx context.Context, u api.Upload) (api.Taken, error) {
	k, err := s.Farm(ctx)
	if err != nil {
		return api.Taken{}, err
	}
	if err := checkUpload(&u, k); err != nil {
		return api.Taken{}, err
	}
	fed, err := s.o.Feed(ctx, cli.FeedRequest{Kind: weather.Kind(u.Kind), Name: u.Name, Data: u.Body, StationID: u.StationID, Map: u.Map,
		Zone: u.Zone, Issued: u.Issued, Format: u.Format, DateOrder: u.DateOrder, DecimalComma: u.DecimalComma})
	if err != nil {
		return api.Taken{}, placeFed(err)
	}
	s.answers.renew()
	return s.taken(ctx, fed)
}

func (s *service) taken(ctx context.Context, fed cli.Fed) (api.Taken, error) {
	out := api.Taken{Assumed: fed.Assumed}
	for _, x := range fed.Screening.Runs {
		out.Screened = append(out.Screened, x.Text)
	}
	var err error
	out.Feed, err = s.feed(ctx, fed.Info, s.o.clock())
	return out, err
}

// checkUpload reads what a person wrote beside a file, so that each can be told
// apart from the file; what is not named is named.
func checkUpload(u *api.Upload, k api.Kept) error {
	var err error
	if u.StationID, err = stationID(k.Farm, u.StationID); err != nil {
		return err
	}
	if u.Name == "" {
		u.Name = "upload"
	}
	if u.Zone != "" && u.Zone != "farm" {
		if _, err := calc.Zone(u.Zone); err != nil {
			return api.At("query.zone", u.Zone, &farm.FieldError{Field: "zone", Value: u.Zone, Want: err.Error()})
		}
	}
	if u.Issued != "" {
		if _, err := cli.ParseMoment(u.Issued, k.Zone); err != nil {
			return api.At("query.issued", u.Issued, err)
		}
	}
	if u.Map != "" {
		if _, err := feed.ParseHeaderMap(u.Map); err != nil {
			return api.At("query.map", u.Map, &farm.FieldError{Field: "map", Value: u.Map, Want: err.Error()})
		}
	}
	return nil
}

// stationID finds a station in any capitals; "" is the only one there is.
func stationID(f farm.Farm, id string) (string, error) {
	var ids []string
	for _, s := range f.Stations {
		if strings.EqualFold(s.ID, id) || id == "" && len(f.Stations) == 1 {
			return s.ID, nil
		}
		ids = append(ids, s.ID)
	}
	if id != "" {
		return "", api.At("query.station", id, &store.NotFoundError{What: "station", ID: id})
	}
	return "", api.At("query.station", nil, &farm.FieldError{Field: "station", Want: "one of " + strings.Join(ids, ", ")})
}

// placeFed says which part of an upload a file's error is about.
func placeFed(err error) error {
	var e *feed.Error
	if !errors.As(err, &e) {
		return err
	}
	at := "body"
	if e.Line > 0 {
		at = fmt.Sprintf("body.lines[%d]", e.Line)
	}
	switch e.Field {
	case "":
	case "issue time":
		at = "query.issued"
	case "date order":
		at = "query.date_order"
	default:
		at += "." + strings.ReplaceAll(e.Field, " ", "_")
	}
	return api.At(at, e.Value, err)
}

// Health says whether the program has what it needs to answer.
func (s *service) Health(ctx context.Context) (api.Health, error) {
	k, err := s.Farm(ctx)
	if err != nil {
		return api.Health{}, err
	}
	h := api.Health{Status: "ok", At: k.Now, StartedAt: s.started.In(k.Zone), Version: version(), FarmID: k.Farm.ID, FarmName: k.Farm.Name,
		Revision: int64(k.Revision), Blocks: len(k.Farm.Blocks), Pollers: s.polled()}
	if h.Stations, err = s.freshness(ctx, k); err != nil {
		return h, err
	}
	for _, x := range h.Stations {
		switch {
		case !x.Used:
		case x.Forecast == api.None:
			h.Notes = append(h.Notes, fmt.Sprintf("Station %s has no forecast.", x.StationID))
		case x.Forecast == api.Stale:
			h.Notes = append(h.Notes, fmt.Sprintf("The forecast for station %s is %.0f hours old.", x.StationID, *x.ForecastAgeH))
		}
		if x.Readings == api.Stale {
			h.Notes = append(h.Notes, fmt.Sprintf("The last reading of station %s is %.0f hours old.", x.StationID, *x.ReadingsAgeH))
		}
	}
	for _, p := range h.Pollers {
		if p.Problem != "" {
			h.Notes = append(h.Notes, fmt.Sprintf("Fetching the %s of station %s fails: %s", p.Kind, p.StationID, p.Problem))
		}
	}
	if len(h.Notes) > 0 {
		h.Status = "attention"
	}
	return h, nil
}
