package feed

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"budward/decide/weather"
)

// PollKind says what an address delivers.
type PollKind string

// The kinds of address that can be fetched.
const (
	PollForecast PollKind = "forecast"
	PollReading  PollKind = "reading"
	PollWarning  PollKind = "warning"
)

// Limits of polling. They are ours, on the polite side of common practice.
const (
	MinPollEvery     = 5 * time.Minute // nobody issues more often
	DefaultPollEvery = time.Hour
	MaxPollEvery     = 24 * time.Hour
	MinPollSpacing   = time.Minute    // between two tries, whoever asks
	MaxRetryAfter    = 24 * time.Hour // a server that asks for more is asked again after this
	MaxRedirects     = 5

	DefaultPollTimeout = 30 * time.Second // of one try, from dialling to the last byte
	MaxPollTimeout     = 5 * time.Minute
	MaxPollBytes       = 16 << 20 // of a body, as sent and after unpacking
	maxValidator       = 1000     // bytes of an ETag or Last-Modified that is kept
	waitStep           = time.Minute
)

// PollConfig says what is fetched, for whom and how often.
type PollConfig struct {
	URL       string
	Kind      PollKind
	StationID string // forecasts and readings
	// Options decode forecasts and readings; StationID, Kind and FedAt are set by
	// the poller, and the IssuedAt of a CSV is the Last-Modified of the answer.
	Options Options
	Every   time.Duration // 0: DefaultPollEvery
	Timeout time.Duration // 0: DefaultPollTimeout
	// Version and Contact (a mail address or page) go into the user agent, so that
	// who runs the server can reach who runs this.
	Version, Contact string
}

// Clock tells the time and waits. WallClock is the real one.
type Clock interface {
	Now() time.Time
	// Wait returns nil after d, or the context's error before.
	Wait(ctx context.Context, d time.Duration) error
}

// WallClock is the machine's clock.
type WallClock struct{}

// Now returns the present moment.
func (WallClock) Now() time.Time { return time.Now() }

// Wait waits for d.
func (WallClock) Wait(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// PollEnv is the world a poller works in; all of it is handed in.
type PollEnv struct {
	Clock     Clock
	Transport http.RoundTripper // nil: PollTransport()
	Rand      *rand.Rand        // jitter; used by this poller alone
}

// PollState says what a poller is doing.
type PollState string

// The states of a poller.
const (
	PollWaiting  PollState = "waiting"
	PollFetching PollState = "fetching"
	PollFailing  PollState = "failing" // waiting, and the last try failed
	PollStopped  PollState = "stopped"
)

// PollStatus is what can be shown of a poller. A zero time is one that has not
// come.
type PollStatus struct {
	URL           string // without what looks like a secret
	Kind          PollKind
	StationID     string
	State         PollState
	LastTryAt     time.Time
	LastSuccessAt time.Time // last answer that was good, new or not
	LastNewAt     time.Time // last time something new was kept
	IssuedAt      time.Time // of the last good forecast
	NextTryAt     time.Time // zero before the first try and when stopped
	Failures      int       // tries in a row that failed
	Failure       PollFailure
	Problem       string // why the last try failed, one sentence; empty otherwise
	HTTPStatus    int    // of the last answer; 0 = there was none
	Notes         []string
}

// Delivery is what one fetch brought: a batch, or warnings.
type Delivery struct {
	Batch    weather.Batch
	Warnings WarningList
}

// Outcome says what one try came to.
type Outcome string

// The outcomes of a try that did not fail.
const (
	GotNew    Outcome = "new"
	Unchanged Outcome = "unchanged" // the server says so, or sent the same bytes again
)

// Poller fetches one address again and again. What was good stays: a failing,
// lying or silent server never takes away the last good delivery. Its methods may
// be called from several goroutines.
type Poller struct {
	cfg    PollConfig
	env    PollEnv
	target *url.URL
	shown  string

	turn sync.Mutex // held while fetching; guards the fields below
	etag string
	last string // Last-Modified
	hash [sha256.Size]byte
	held *Delivery // good, and not yet kept

	mu     sync.Mutex // guards status and good
	status PollStatus
	good   *Delivery
}

// NewPoller checks a configuration and makes its poller. Only http and https are
// fetched; a user name or password in the address is refused, since addresses are
// shown and kept.
func NewPoller(cfg PollConfig, env PollEnv) (*Poller, error) {
	if env.Clock == nil || env.Rand == nil {
		panic("feed: a poller needs a clock and a random source")
	}
	if cfg.Every == 0 {
		cfg.Every = DefaultPollEvery
	}
	if cfg.Timeout == 0 {
		cfg.Timeout = DefaultPollTimeout
	}
	if env.Transport == nil {
		env.Transport = PollTransport()
	}
	u, err := checkPollURL(cfg.URL)
	if err != nil {
		return nil, err
	}
	bad := func(field, value, want string) (*Poller, error) {
		return nil, &Error{Origin: shownURL(u), Field: field, Value: short(value), Want: want}
	}
	switch {
	case cfg.Kind != PollForecast && cfg.Kind != PollReading && cfg.Kind != PollWarning:
		return bad("kind", string(cfg.Kind), "forecast, reading or warning")
	case cfg.Every < MinPollEvery || cfg.Every > MaxPollEvery:
		return bad("interval", cfg.Every.String(), fmt.Sprintf("%v to %v", MinPollEvery, MaxPollEvery))
	case cfg.Timeout < 0 || cfg.Timeout > MaxPollTimeout:
		return bad("timeout", cfg.Timeout.String(), fmt.Sprintf("up to %v", MaxPollTimeout))
	case strings.ContainsFunc(cfg.Version+cfg.Contact, func(r rune) bool { return r < ' ' || r > '~' || r == '(' || r == ')' }):
		return bad("contact", cfg.Version+" "+cfg.Contact, "plain ASCII on one line, without brackets")
	}
	p := &Poller{cfg: cfg, env: env, target: u, shown: shownURL(u)}
	p.status = PollStatus{URL: p.shown, Kind: cfg.Kind, StationID: cfg.StationID, State: PollWaiting}
	return p, nil
}

// Status returns what can be shown now.
func (p *Poller) Status() PollStatus {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.status
}

// Good returns the last good delivery.
func (p *Poller) Good() (Delivery, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.good == nil {
		return Delivery{}, false
	}
	return *p.good, true
}

// Poll tries once. keep is called with what is new, at most once, and says whether
// it could be kept; what could not is offered again at the next try, even if the
// server is down by then. An error is a *PollError, or the context's when ctx has
// ended. A try within MinPollSpacing of the last one is refused and changes
// nothing.
func (p *Poller) Poll(ctx context.Context, keep func(context.Context, Delivery) error) (Outcome, error) {
	p.turn.Lock()
	defer p.turn.Unlock()
	now := p.env.Clock.Now()
	if since := now.Sub(p.Status().LastTryAt); since >= 0 && since < MinPollSpacing {
		return "", &PollError{Kind: FailTooSoon, URL: p.shown, Why: fmt.Sprintf("the last try was %v ago; at least %v lie between two", since.Round(time.Second), MinPollSpacing)}
	}
	p.set(func(s *PollStatus) { s.State, s.LastTryAt = PollFetching, now })
	outcome, ans, err := p.try(ctx, keep)
	if ctx.Err() != nil {
		p.set(func(s *PollStatus) { s.State = PollWaiting })
		return "", ctx.Err()
	}
	p.finish(outcome, ans, err)
	if err != nil {
		return "", err
	}
	return outcome, nil
}

// try fetches, decodes and hands over.
func (p *Poller) try(ctx context.Context, keep func(context.Context, Delivery) error) (Outcome, *answer, error) {
	if p.held != nil {
		if err := keep(ctx, *p.held); err != nil {
			return "", nil, p.fail(FailNotKept, nil, err.Error(), err)
		}
		p.held = nil
		p.set(func(s *PollStatus) { s.LastNewAt = p.env.Clock.Now() })
	}
	ans, err := p.fetch(ctx)
	if err != nil {
		return "", ans, err
	}
	hash := sha256.Sum256(ans.body)
	if ans.unchanged || hash == p.hash {
		return Unchanged, ans, nil
	}
	d, err := p.decode(ans)
	if err != nil {
		return "", ans, err
	}
	p.etag, p.last, p.hash = ans.etag, ans.lastModified, hash
	p.mu.Lock()
	p.good = &d
	p.status.IssuedAt = d.Batch.IssuedAt
	p.mu.Unlock()
	if err := keep(ctx, d); err != nil {
		p.held = &d
		return "", ans, p.fail(FailNotKept, ans, err.Error(), err)
	}
	p.set(func(s *PollStatus) { s.LastNewAt = p.env.Clock.Now(); s.Notes = d.notes() })
	return GotNew, ans, nil
}

func (d *Delivery) notes() []string {
	if d.Batch.Kind != "" {
		return d.Batch.Notes
	}
	return d.Warnings.Notes
}

// decode reads a body and holds it against the last good one.
func (p *Poller) decode(ans *answer) (Delivery, error) {
	var d Delivery
	var err error
	if p.cfg.Kind == PollWarning {
		d.Warnings, err = DecodeWarnings(p.shown, bytes.NewReader(ans.body), WarningOptions{FedAt: ans.at, MaxBytes: MaxPollBytes})
	} else {
		opts := p.cfg.Options
		opts.StationID, opts.Kind, opts.FedAt, opts.MaxBytes = p.cfg.StationID, weather.Kind(p.cfg.Kind), ans.at, MaxPollBytes
		if opts.Kind == weather.Forecast && opts.IssuedAt.IsZero() {
			opts.IssuedAt = ans.modified // of a CSV only: others say when they were issued
		}
		d.Batch, err = Decode(p.shown, bytes.NewReader(ans.body), opts)
	}
	if err != nil {
		kind := FailBadData
		if strings.Contains(err.Error(), "cut off") || errors.Is(err, io.ErrUnexpectedEOF) {
			kind = FailTruncated
		}
		return d, p.fail(kind, ans, err.Error(), err)
	}
	b := &d.Batch
	switch {
	case p.cfg.Kind == PollWarning:
		return d, nil
	case b.Kind != weather.Kind(p.cfg.Kind):
		return d, p.fail(FailBadData, ans, fmt.Sprintf("it holds a %s, not a %s", b.Kind, p.cfg.Kind), nil)
	case b.Kind == weather.Forecast && b.IssuedAt.After(ans.at.Add(10*time.Minute)): // as weather.Screen allows clocks to wander
		return d, p.fail(FailBadData, ans, "it says it was issued at "+b.IssuedAt.Format(time.RFC3339)+", which is yet to come", nil)
	}
	if good, ok := p.Good(); ok && b.Kind == weather.Forecast && b.IssuedAt.Before(good.Batch.IssuedAt) {
		return d, p.fail(FailOlder, ans, fmt.Sprintf("it was issued at %s, before the one there already (%s)",
			b.IssuedAt.Format(time.RFC3339), good.Batch.IssuedAt.Format(time.RFC3339)), nil)
	}
	return d, nil
}

func (p *Poller) set(change func(*PollStatus)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	change(&p.status)
}

// finish writes what a try came to and when the next one is.
func (p *Poller) finish(outcome Outcome, ans *answer, err error) {
	now := p.env.Clock.Now()
	failures := 0
	if err != nil {
		failures = p.Status().Failures + 1
	}
	delay := p.delay(failures, ans)
	p.set(func(s *PollStatus) {
		s.Failures, s.NextTryAt = failures, now.Add(delay)
		s.HTTPStatus = 0
		if ans != nil {
			s.HTTPStatus = ans.status
		}
		s.State, s.Failure, s.Problem = PollWaiting, "", ""
		if err == nil {
			s.LastSuccessAt = now
			return
		}
		s.State = PollFailing
		var pe *PollError
		if errors.As(err, &pe) {
			s.Failure, s.Problem = pe.Kind, pe.Why
		}
	})
}

// Run polls until ctx ends, and then returns its error. The first try is made at
// once. A clock that jumps forward brings the next try forward; one that jumps
// back does not put it off.
func (p *Poller) Run(ctx context.Context, keep func(context.Context, Delivery) error) error {
	defer p.set(func(s *PollStatus) { s.State, s.NextTryAt = PollStopped, time.Time{} })
	for {
		if _, err := p.Poll(ctx, keep); err != nil && ctx.Err() != nil {
			return ctx.Err()
		}
		next := p.Status().NextTryAt
		left := next.Sub(p.env.Clock.Now())
		for left > 0 && p.env.Clock.Now().Before(next) {
			step := min(left, waitStep)
			if err := p.env.Clock.Wait(ctx, step); err != nil {
				return err
			}
			left -= step
		}
	}
}
