package app

import (
	"context"
	"fmt"
	"hash/fnv"
	"runtime/debug"
	"sync"
	"time"

	"budward/api"
	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/farm"
)

// How long an answer is used. An answer also ends when something it rests on
// changes.
const (
	// freshFor: within this an answer is given as it is; after, a new one is begun
	// and the old given meanwhile. The moment is rounded to the hour in it anyway.
	freshFor = 15 * time.Minute
	// usableFor: older than this an answer is waited for.
	usableFor = time.Hour
	// patience: where working an answer out takes longer than this, and all that is
	// new are readings, the old one is given, marked as not current, for a while.
	patience      = 2 * time.Second
	readingsSlack = 5 * time.Minute
)

// Bounds of the heavy work.
const (
	heavyAtOnce  = 2 // answers worked out at once; each uses all processors
	heavyWaiting = 24
	maxReady     = 6 // answers kept: nights ahead x units
)

// marks say what an answer rests on. Two answers with the same marks at the same
// moment are the same.
type marks struct {
	revision store.Revision
	seen     uint64 // stages
	issued   uint64 // forecasts
	read     uint64 // readings
}

// basis is what answers are worked out from.
type basis struct {
	marks marks
	in    nights.Input
}

type answerKey struct {
	ahead int
	units quantity.System
}

type ready struct {
	marks  marks
	answer nights.Answer
	took   time.Duration
	used   uint64 // order of use
}

// answers works out answers for many askers at once: each question once, a few at
// a time, and again only when something it rests on has changed.
type answers struct {
	o        *office
	life     context.Context // ends when the program is stopped
	patience time.Duration
	turns    chan struct{}
	warm     chan struct{}
	tasks    sync.WaitGroup

	mu      sync.Mutex
	flights map[string]*flight
	basis   *basis
	ready   map[answerKey]*ready
	uses    uint64
}

// flight is work under way that several may wait for.
type flight struct {
	done  chan struct{}
	value any
	err   error
}

func newAnswers(life context.Context, o *office) *answers {
	return &answers{o: o, life: life, patience: patience, turns: make(chan struct{}, heavyAtOnce), warm: make(chan struct{}, 1),
		flights: map[string]*flight{}, ready: map[answerKey]*ready{}}
}

// once does work that several may ask for at the same time, once. The work goes
// on when an asker leaves; it is not begun when too much waits already.
func (a *answers) once(ctx context.Context, key string, work func() (any, error)) (any, error) {
	a.mu.Lock()
	f := a.flights[key]
	if f == nil {
		if n := len(a.flights); n >= heavyWaiting {
			a.mu.Unlock()
			return nil, &busyError{n}
		}
		f = &flight{done: make(chan struct{})}
		a.flights[key] = f
		a.tasks.Go(func() { a.fly(key, f, work) })
	}
	a.mu.Unlock()
	select {
	case <-f.done:
		return f.value, f.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// fly does the work of a flight when its turn comes.
func (a *answers) fly(key string, f *flight, work func() (any, error)) {
	defer func() {
		if x := recover(); x != nil {
			f.err = &faultError{x, string(debug.Stack())}
		}
		a.mu.Lock()
		delete(a.flights, key)
		a.mu.Unlock()
		close(f.done)
	}()
	select {
	case a.turns <- struct{}{}:
		defer func() { <-a.turns }()
	case <-a.life.Done():
	}
	if a.life.Err() != nil {
		f.err = &stoppedError{}
		return
	}
	f.value, f.err = work()
}

// wait waits until nothing is being worked out any more, or ctx ends.
func (a *answers) wait(ctx context.Context) {
	done := make(chan struct{})
	go func() { a.tasks.Wait(); close(done) }()
	select {
	case <-done:
	case <-ctx.Done():
	}
}

// look finds out what answers rest on now.
func (a *answers) look(ctx context.Context) (farm.Farm, marks, error) {
	var m marks
	st, err := a.o.open(ctx)
	if err != nil {
		return farm.Farm{}, m, err
	}
	f, rev, err := st.Farm(ctx)
	if err != nil {
		return f, m, err
	}
	m.revision = rev
	stages, err := st.Stages(ctx, store.StageQuery{})
	if err != nil {
		return f, m, err
	}
	h := fnv.New64a()
	for _, s := range stages {
		fmt.Fprintf(h, "%d ", s.ID)
	}
	m.seen = h.Sum64()
	batches, err := st.Batches(ctx, store.BatchQuery{})
	if err != nil {
		return f, m, err
	}
	forecasts, readings := fnv.New64a(), fnv.New64a()
	for _, b := range batches {
		if b.IssuedAt.IsZero() {
			fmt.Fprintf(readings, "%d ", b.ID)
			continue
		}
		fmt.Fprintf(forecasts, "%d ", b.ID)
	}
	m.issued, m.read = forecasts.Sum64(), readings.Sum64()
	return f, m, nil
}

func (a *answers) now() time.Time { return a.o.clock() }

// within says whether a moment is at most d ago. A clock that was put back makes
// every answer old.
func within(at, now time.Time, d time.Duration) bool {
	age := now.Sub(at)
	return age >= 0 && age <= d
}

// held is the basis at hand, if it is fresh.
func (a *answers) held(m marks) *basis {
	a.mu.Lock()
	defer a.mu.Unlock()
	if b := a.basis; b != nil && b.marks == m && within(b.in.Now, a.now(), freshFor) {
		return b
	}
	return nil
}

// load gathers the basis for answers, unless it is at hand.
func (a *answers) load(ctx context.Context, m marks) (*basis, error) {
	if b := a.held(m); b != nil {
		return b, nil
	}
	in, err := a.o.input(ctx)
	if err != nil {
		return nil, err
	}
	b := &basis{marks: m, in: in} // what came in meanwhile makes the next look differ
	a.mu.Lock()
	defer a.mu.Unlock()
	a.basis = b
	return b, nil
}

// tonight gives the answer for every block.
func (a *answers) tonight(ctx context.Context, q api.TonightQuery) (api.Answered, error) {
	f, m, err := a.look(ctx)
	if err != nil {
		return api.Answered{}, err
	}
	units, err := unitsFor(f, q.Units)
	if err != nil {
		return api.Answered{}, err
	}
	key := answerKey{q.Ahead, units}
	if r := a.at(key); r != nil {
		same := r.marks == m
		early := m
		early.read = r.marks.read
		slack := r.marks == early && r.took > a.patience && within(r.answer.At, a.now(), readingsSlack)
		switch {
		case same && within(r.answer.At, a.now(), freshFor):
			return a.answered(r, key, true), nil
		case same && within(r.answer.At, a.now(), usableFor):
			a.renew()
			return a.answered(r, key, true), nil
		case !q.Wait, slack:
			a.renew()
			return a.answered(r, key, false), nil
		}
	}
	r, err := a.work(ctx, m, key)
	if err != nil {
		return api.Answered{}, err
	}
	return a.answered(r, key, true), nil
}

// at is the answer at hand for a question.
func (a *answers) at(key answerKey) *ready {
	a.mu.Lock()
	defer a.mu.Unlock()
	r := a.ready[key]
	if r != nil {
		a.uses++
		r.used = a.uses
	}
	return r
}

func (a *answers) answered(r *ready, key answerKey, current bool) api.Answered {
	return api.Answered{Answer: r.answer, Age: max(0, a.now().Sub(r.answer.At)), Current: current, Units: key.units}
}

// work works an answer out and keeps it.
func (a *answers) work(ctx context.Context, m marks, key answerKey) (*ready, error) {
	got, err := a.once(ctx, fmt.Sprintf("tonight %v %v", m, key), func() (any, error) {
		b, err := a.load(a.life, m)
		if err != nil {
			return nil, err
		}
		in := b.in
		in.Ahead, in.Units = key.ahead, key.units
		began := time.Now() // how long the machine takes, whatever the farm's clock says
		answer, err := nights.Tonight(in)
		if err != nil {
			return nil, err
		}
		r := &ready{marks: b.marks, answer: answer, took: time.Since(began)}
		a.keep(key, r)
		return r, nil
	})
	if err != nil {
		return nil, err
	}
	return got.(*ready), nil
}

// keep keeps an answer in place of the one used longest ago.
func (a *answers) keep(key answerKey, r *ready) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.uses++
	r.used = a.uses
	a.ready[key] = r
	for len(a.ready) > maxReady {
		var last answerKey
		for k, x := range a.ready {
			if y := a.ready[last]; y == nil || x.used < y.used {
				last = k
			}
		}
		delete(a.ready, last)
	}
}

// renew asks for the answer used last to be worked out again, by and by.
func (a *answers) renew() {
	select {
	case a.warm <- struct{}{}:
	default: // asked for already
	}
}

// keepWarm works answers out before they are asked for, until life ends. report is
// told of failures.
func (a *answers) keepWarm(report func(error)) {
	for {
		select {
		case <-a.life.Done():
			return
		case <-a.warm:
		}
		f, m, err := a.look(a.life)
		if err == nil {
			_, err = a.work(a.life, m, a.last(f))
		}
		if err != nil && a.life.Err() == nil {
			report(err)
		}
	}
}

// last is the question asked last, or the usual one.
func (a *answers) last(f farm.Farm) answerKey {
	a.mu.Lock()
	defer a.mu.Unlock()
	units, _ := unitsFor(f, "") // without a wish there is nothing to refuse
	key, used := answerKey{7, units}, uint64(0)
	for k, r := range a.ready {
		if r.used > used {
			key, used = k, r.used
		}
	}
	return key
}

// block works something out for one block from the basis at hand. Two with the
// same name are the same question.
func (a *answers) block(ctx context.Context, name, units string, f func(in nights.Input) (any, error)) (any, error) {
	kept, m, err := a.look(ctx)
	if err != nil {
		return nil, err
	}
	system, err := unitsFor(kept, units)
	if err != nil {
		return nil, err
	}
	return a.once(ctx, fmt.Sprintf("%s %v %v", name, system, m), func() (any, error) {
		b, err := a.load(a.life, m)
		if err != nil {
			return nil, err
		}
		in := b.in
		in.Units = system
		return f(in)
	})
}

// unitsFor reads the units wished for; without a wish they are those that all of
// the farm's people who say so read in, else US.
func unitsFor(f farm.Farm, wish string) (quantity.System, error) {
	if wish != "" {
		return quantity.ParseSystem(wish)
	}
	found := ""
	for _, p := range f.People {
		switch {
		case p.Units == "" || p.Units == found:
		case found == "":
			found = p.Units
		default:
			return quantity.US, nil
		}
	}
	if s, err := quantity.ParseSystem(found); err == nil {
		return s, nil
	}
	return quantity.US, nil
}
