package api

import (
	"bytes"
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"budward/decide/weather"
)

// Feed is one batch of weather that was fed.
type Feed struct {
	ID           int64             `json:"id"`
	StationID    string            `json:"station_id"`
	Kind         string            `json:"kind" enum:"forecast,reading"`
	Origin       string            `json:"origin" doc:"file or address"`
	IssuedAt     time.Time         `json:"issued_at" doc:"null for readings"`
	FedAt        time.Time         `json:"fed_at"`
	FirstAt      time.Time         `json:"first_at" doc:"of the values"`
	LastAt       time.Time         `json:"last_at"`
	AgeH         float64           `json:"age_h" doc:"forecasts: since they were issued; readings: since the last one"`
	Samples      int               `json:"samples"`
	Gaps         int               `json:"gaps" doc:"values the source marks as missing"`
	Refused      int               `json:"refused" doc:"items that were not taken, all of them"`
	Refusals     []weather.Refusal `json:"refusals" doc:"the first of them, with reasons"`
	Notes        []string          `json:"notes" doc:"what was taken for granted"`
	WithdrawnAt  time.Time         `json:"withdrawn_at" doc:"null while it counts"`
	WithdrawnWhy string            `json:"withdrawn_why"`
}

// FeedList is what was fed, how fresh and how good it is, and what fetches it.
type FeedList struct {
	At       time.Time   `json:"at"`
	Feeds    []Feed      `json:"feeds" doc:"the latest first"`
	More     bool        `json:"more" doc:"there are older ones: ask for those before the last id"`
	Stations []Freshness `json:"stations"`
	Skill    []Skill     `json:"skill" doc:"past forecasts against what was measured"`
	Pollers  []Poller    `json:"pollers"`
}

// State says how a feed of a station stands.
type State string

// The states of a feed.
const (
	Fresh State = "fresh"
	Stale State = "stale" // too old to rely on
	None  State = "none"  // never fed
)

// Freshness says how fresh the weather of one station is.
type Freshness struct {
	StationID    string    `json:"station_id"`
	Name         string    `json:"name"`
	Used         bool      `json:"used" doc:"a block takes its weather from here"`
	Forecast     State     `json:"forecast" enum:"fresh,stale,none"`
	IssuedAt     time.Time `json:"issued_at" doc:"of the latest forecast; null without one"`
	ForecastAgeH *float64  `json:"forecast_age_h"`
	ForecastTo   time.Time `json:"forecast_to_at" doc:"last hour forecast"`
	Readings     State     `json:"readings" enum:"fresh,stale,none"`
	ReadingsTo   time.Time `json:"readings_to_at" doc:"last reading; null without one"`
	ReadingsAgeH *float64  `json:"readings_age_h"`
}

// Skill says how past forecasts for one station did, one lead.
type Skill struct {
	StationID string  `json:"station_id"`
	LeadDays  int     `json:"lead_days" doc:"whole days from issue to the minimum"`
	Nights    int     `json:"nights"`
	BiasK     float64 `json:"bias_k" doc:"forecast less measured night minimum; above zero = forecast too warm"`
	MAEK      float64 `json:"mae_k"`
	RMSEK     float64 `json:"rmse_k"`
}

// Poller is one source that is fetched by itself.
type Poller struct {
	StationID string    `json:"station_id"`
	Kind      string    `json:"kind" enum:"forecast,reading,warning"`
	URL       string    `json:"url"`
	State     string    `json:"state" enum:"waiting,fetching,failing,stopped"`
	TriedAt   time.Time `json:"tried_at" doc:"last try; null before the first"`
	TakenAt   time.Time `json:"taken_at" doc:"last time something new was taken; null before the first"`
	NextAt    time.Time `json:"next_at" doc:"null when none is planned"`
	Failures  int       `json:"failures" doc:"tries in a row that failed"`
	Problem   string    `json:"problem" doc:"why the last try failed; empty otherwise"`
}

// Taken is what became of a file or a push of weather.
type Taken struct {
	Feed     Feed     `json:"feed"`
	Assumed  []string `json:"assumed" doc:"what was taken for granted, in sentences"`
	Screened []string `json:"screened" doc:"values that cannot be true and were not taken, and why, in sentences"`
}

// Pushed is what became of readings that were pushed.
type Pushed struct {
	Rows     int               `json:"rows" doc:"rows in the body"`
	Taken    int               `json:"taken" doc:"rows of which at least one value was read"`
	Refused  int               `json:"refused" doc:"items that were not taken, all of them"`
	Refusals []weather.Refusal `json:"refusals" doc:"the first of them, with reasons; line is the place of the row, from 1"`
	Feeds    []Feed            `json:"feeds" doc:"what was kept, one for each station"`
	Repeated []string          `json:"repeated" doc:"stations whose values were here already: nothing was added, so a push may be sent again"`
}

// Health says whether the program has what it needs to answer.
type Health struct {
	Status    string      `json:"status" enum:"ok,attention" doc:"attention: a feed that blocks rely on is stale or failing"`
	At        time.Time   `json:"at"`
	StartedAt time.Time   `json:"started_at"`
	Version   string      `json:"version"`
	FarmID    string      `json:"farm_id"`
	FarmName  string      `json:"farm_name"`
	Revision  int64       `json:"revision"`
	Blocks    int         `json:"blocks"`
	Notes     []string    `json:"notes" doc:"what needs attention, in sentences"`
	Stations  []Freshness `json:"stations"`
	Pollers   []Poller    `json:"pollers"`
}

type feedsInput struct {
	Station string `query:"station" maxLength:"40"`
	Kind    string `query:"kind" enum:"forecast,reading"`
	Before  int64  `query:"before" minimum:"1" doc:"only those fed before this id"`
	Limit   int    `query:"limit" minimum:"1" maximum:"500" default:"100"`
}

type withdrawInput struct {
	ID   int64 `path:"id" minimum:"1"`
	Body Withdraw
}

// Withdraw says why something is to count no longer.
type Withdraw struct {
	Why string `json:"why" minLength:"1" maxLength:"500"`
}

// fileInput is a file of weather with what it cannot say of itself.
type fileInput struct {
	Station      string `query:"station" maxLength:"40" doc:"may be left out where the farm has one only"`
	Name         string `query:"name" maxLength:"200" doc:"of the file"`
	Format       string `query:"format" enum:"gridpoint,csv,hourly02" doc:"otherwise found out"`
	Issued       string `query:"issued" maxLength:"60" doc:"when a CSV forecast was issued: a moment, or date and time by the farm's clock"`
	Zone         string `query:"zone" maxLength:"60" doc:"of times in a CSV without an offset; farm = the farm's"`
	Map          string `query:"map" maxLength:"4000" doc:"which column of a CSV is what"`
	DateOrder    string `query:"date_order" enum:"mdy,dmy" doc:"in dates with strokes"`
	DecimalComma bool   `query:"decimal_comma" doc:"numbers in a CSV are written 3,5"`
	RawBody      []byte `contentType:"application/octet-stream"`
}

// maxPush is a day of readings every minute from ten stations.
const maxPush = 1 << 20

type pushInput struct {
	From    string `query:"from" maxLength:"100" doc:"who pushes, kept as the origin"`
	RawBody []byte `contentType:"application/json"`
}

func (in *fileInput) upload(kind string) Upload {
	return Upload{Kind: kind, StationID: in.Station, Name: in.Name, Body: bytes.NewReader(in.RawBody), Format: in.Format, Issued: in.Issued,
		Zone: in.Zone, Map: in.Map, DateOrder: in.DateOrder, DecimalComma: in.DecimalComma}
}

func (s *server) feeds() {
	about := []int{http.StatusNotFound, http.StatusConflict, http.StatusUnprocessableEntity}
	answer(s, op{id: "feeds", method: http.MethodGet, path: "/feeds", summary: "What was fed, how fresh and how good it is, and what fetches it",
		statuses: []int{http.StatusUnprocessableEntity}},
		func(ctx context.Context, in *feedsInput) (FeedList, error) {
			return s.svc.Feeds(ctx, FeedQuery{StationID: in.Station, Kind: in.Kind, Before: in.Before, Limit: in.Limit})
		})
	answer(s, op{id: "withdraw-feed", method: http.MethodPost, path: "/feeds/{id}/withdraw", summary: "Make what was fed stop counting; it is kept", statuses: about},
		func(ctx context.Context, in *withdrawInput) (Feed, error) {
			f, err := s.svc.WithdrawFeed(ctx, in.ID, in.Body.Why)
			return f, At("path.id", in.ID, err)
		})
	answer(s, op{id: "take-forecast", method: http.MethodPost, path: "/forecasts", summary: "Take in a forecast file", file: true, statuses: about},
		func(ctx context.Context, in *fileInput) (Taken, error) {
			t, err := s.svc.Take(ctx, in.upload("forecast"))
			return t, At("body", nil, err)
		})
	answer(s, op{id: "take-readings", method: http.MethodPost, path: "/readings/file", summary: "Take in a file of readings", file: true, statuses: about},
		func(ctx context.Context, in *fileInput) (Taken, error) {
			t, err := s.svc.Take(ctx, in.upload("reading"))
			return t, At("body", nil, err)
		})
	h := s.operation(op{id: "push-readings", method: http.MethodPost, path: "/readings", summary: "Take in readings as a logger sends them",
		description: "An array of rows, each with station, at (with its offset from UTC) and values with the unit in every name: " +
			`[{"station": "flat", "at": "2026-04-09T05:10:00-07:00", "air_temp_c": -0.4, "rh_pct": 93}]. A null is a gap. ` +
			"A row or value that cannot be read is refused alone, with its reason.",
		statuses: []int{http.StatusUnprocessableEntity}})
	h.MaxBodyBytes, h.SkipValidateBody = maxPush, true
	registerAs(s, h, func(ctx context.Context, in *pushInput) (*body[Pushed], error) {
		got, err := s.svc.Push(ctx, in.From, bytes.NewReader(in.RawBody))
		return &body[Pushed]{got}, At("body", nil, err)
	})
	// The rows are read where their names and units are known; here they are any.
	s.api.OpenAPI().Paths[h.Path].Post.RequestBody.Content["application/json"].Schema = &huma.Schema{
		Type: huma.TypeArray, Items: &huma.Schema{Type: huma.TypeObject, AdditionalProperties: &huma.Schema{}}}
}
