package api

import (
	"context"
	"net/http"
	"strconv"

	"github.com/danielgtaylor/huma/v2"

	"budward/decide/nights"
)

// body is an answer that is nothing but its body.
type body[T any] struct {
	Body T
}

// op describes one operation.
type op struct {
	id, method, path, summary, description string
	// statuses are those an error may have, beside 500.
	statuses []int
	// file says that a file is taken in: the body may be large and slow.
	file bool
}

// operation makes huma's description.
func (s *server) operation(o op) huma.Operation {
	h := huma.Operation{OperationID: o.id, Method: o.method, Path: prefix + o.path, Summary: o.summary, Description: o.description,
		MaxBodyBytes: maxBody, BodyReadTimeout: s.opts.Limits.BodyTime}
	if o.method == http.MethodPost || o.method == http.MethodPut {
		o.statuses = append(o.statuses, http.StatusBadRequest, http.StatusRequestTimeout, http.StatusRequestEntityTooLarge)
	}
	// Foreign, WrongHost and Busy may come from anywhere.
	h.Errors = append(o.statuses, http.StatusForbidden, http.StatusMisdirectedRequest, http.StatusServiceUnavailable)
	if o.file {
		h.MaxBodyBytes, h.BodyReadTimeout = maxUpload, s.opts.Limits.UploadTime
		h.Middlewares = huma.Middlewares{s.takeTurn}
	}
	return h
}

// takeTurn bounds how many files are taken in at once.
func (s *server) takeTurn(ctx huma.Context, next func(huma.Context)) {
	select {
	case s.uploads <- struct{}{}:
		defer func() { <-s.uploads }()
		next(ctx)
	default:
		ctx.SetHeader("Retry-After", retryAfter)
		_ = huma.WriteErr(s.api, ctx, Busy.Status, "other files are being taken in") // it tells its own failures
	}
}

// answer registers an operation that answers with a body.
func answer[I, O any](s *server, o op, f func(context.Context, *I) (O, error)) {
	register(s, o, func(ctx context.Context, in *I) (*body[O], error) {
		out, err := f(ctx, in)
		return &body[O]{out}, err
	})
}

// register registers an operation, with its errors made problems.
func register[I, O any](s *server, o op, f func(context.Context, *I) (*O, error)) {
	registerAs(s, s.operation(o), f)
}

// registerAs registers an operation described by hand.
func registerAs[I, O any](s *server, h huma.Operation, f func(context.Context, *I) (*O, error)) {
	huma.Register(s.api, h, func(ctx context.Context, in *I) (*O, error) {
		out, err := f(ctx, in)
		if err != nil {
			return nil, s.problem(err)
		}
		return out, nil
	})
}

type nothing struct{}

func (s *server) health() {
	answer(s, op{id: "health", method: http.MethodGet, path: "/health", summary: "Whether the program has what it needs to answer"},
		func(ctx context.Context, _ *nothing) (Health, error) { return s.svc.Health(ctx) })
}

// list registers the list of problems.
func list(s *server) {
	answer(s, op{id: "problems", method: http.MethodGet, path: "/problems", summary: "The kinds of problems that errors are of"},
		func(context.Context, *nothing) ([]Kind, error) { return Kinds(), nil })
}

// Tonight is the answer for every block, with how well it still holds.
type Tonight struct {
	nights.Answer
	AgeH    float64 `json:"age_h" doc:"since the moment it was worked out for"`
	Current bool    `json:"current" doc:"false: something was fed, seen or changed since, or the moment is long past; a new answer is being worked out"`
	Units   string  `json:"units" enum:"us,metric" doc:"of the sentences"`
}

type tonightInput struct {
	Ahead int    `query:"ahead" minimum:"1" maximum:"14" default:"7" doc:"nights"`
	Units string `query:"units" enum:"us,metric" doc:"of the sentences; otherwise as the farm's people read"`
	Wait  bool   `query:"wait" default:"true" doc:"false: answer at once with what is at hand, however old; current says how it is"`
}

type tonightOutput struct {
	Age  string `header:"Age" doc:"seconds since the moment the answer was worked out for"`
	Body Tonight
}

func (s *server) tonight() {
	register(s, op{id: "tonight", method: http.MethodGet, path: "/tonight", summary: "The nights ahead for every block, most worrying first",
		description: "Worked out anew when something was fed, seen or changed, and at least every hour; age_h and the header Age say how old it is.",
		statuses:    []int{http.StatusNotFound, http.StatusUnprocessableEntity}},
		func(ctx context.Context, in *tonightInput) (*tonightOutput, error) {
			a, err := s.svc.Tonight(ctx, TonightQuery{Ahead: in.Ahead, Units: in.Units, Wait: in.Wait})
			if err != nil {
				return nil, err
			}
			// A tenth of an hour is fine enough for a reader, and lets a page that asks
			// again be told that nothing is new.
			return &tonightOutput{Age: strconv.Itoa(int(a.Age.Seconds())),
				Body: Tonight{Answer: a.Answer, AgeH: tenths(a.Age.Hours()), Current: a.Current, Units: a.Units.String()}}, nil
		})
}

func tenths(x float64) float64 { return float64(int(x*10+0.5)) / 10 }
