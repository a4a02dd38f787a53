package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/store"
	"budward/vineyard/farm"
)

// FarmState is the farm as it is kept.
type FarmState struct {
	farm.Farm
	Revision int64          `json:"revision" doc:"number of the save; give it back with a change to have it refused if somebody was faster"`
	At       time.Time      `json:"at" doc:"the present moment"`
	Problems []farm.Problem `json:"problems" doc:"what a check of the farm finds"`
}

// FloorState is a block's floor as it is kept.
type FloorState struct {
	BlockID  string       `json:"block_id"`
	Revision int64        `json:"revision"`
	At       time.Time    `json:"at"`
	Strips   []farm.Strip `json:"strips"`
	Assumed  []string     `json:"assumed" doc:"what was taken for granted, in sentences"`
}

type courseInput struct {
	ID    string `path:"id" doc:"block"`
	Night int    `query:"night" minimum:"0" maximum:"13" default:"0" doc:"0 = the coming night"`
}

type whatIfInput struct {
	ID    string `path:"id" doc:"block"`
	Units string `query:"units" enum:"us,metric" doc:"of the sentences; otherwise as the farm's people read"`
	Body  WhatIf
}

// WhatIf asks what choices are worth on one night.
type WhatIf struct {
	Night        int           `json:"night,omitempty" minimum:"0" maximum:"13" doc:"0 = the coming night"`
	Alternatives []Alternative `json:"alternatives" minItems:"1" maxItems:"24"`
}

// Alternative is one choice; what is left out stays as it is.
type Alternative struct {
	Label         string            `json:"label" minLength:"1" maxLength:"120"`
	Floor         map[string]string `json:"floor,omitempty" maxProperties:"12" doc:"surface by strip, such as {\"middle\": \"cover 12in\"}; after a comma its moisture: \"bare firm, moist\"; the name \"\" = every strip"`
	RefillStartAt *time.Time        `json:"refill_start_at,omitempty" nullable:"true" doc:"the block's own system runs from here"`
	RefillStopAt  *time.Time        `json:"refill_stop_at,omitempty" nullable:"true" doc:"to here; otherwise until the floor is refilled or the evening comes"`
	RefillMM      *float64          `json:"refill_mm,omitempty" nullable:"true" exclusiveMinimum:"0" maximum:"500" doc:"this much as if at once at refill_start_at instead"`
	Run           string            `json:"run,omitempty" enum:"nothing,run water tonight,over-vine sprinklers,fan,heaters" doc:"what runs in the night"`
	RunMmH        *float64          `json:"run_mm_h,omitempty" nullable:"true" exclusiveMinimum:"0" maximum:"100" doc:"application rate instead of the block's"`
}

type floorInput struct {
	ID   string `path:"id" doc:"block"`
	Body FloorBody
}

// FloorBody says how a block's floor is now.
type FloorBody struct {
	At       *time.Time    `json:"at,omitempty" nullable:"true" doc:"since when; otherwise now"`
	By       string        `json:"by,omitempty" maxLength:"120"`
	Why      string        `json:"why,omitempty" maxLength:"500"`
	Revision int64         `json:"revision,omitempty" minimum:"0" doc:"of the farm the change is made on; refused if it has changed since"`
	Strips   []StripChange `json:"strips" minItems:"1" maxItems:"12"`
}

// StripChange is one strip's state; what is null or left out stays as it is.
type StripChange struct {
	Name     string  `json:"name" maxLength:"120" doc:"strip; \"\" = every strip"`
	Surface  *string `json:"surface,omitempty" nullable:"true" maxLength:"60" doc:"\"bare firm\", \"disked 4in\", \"mown\", \"cover 12in\", \"shredded 1in\""`
	Moisture *string `json:"moisture,omitempty" nullable:"true" maxLength:"60" doc:"\"dry\", \"slightly moist\", \"moist\", \"wet\", \"field capacity\", or with its unit: \"18%\""`
}

func (s *server) blocks() {
	about := []int{http.StatusNotFound, http.StatusUnprocessableEntity}
	answer(s, op{id: "farm", method: http.MethodGet, path: "/farm", summary: "The farm as it is kept, with every value that was filled in", statuses: about[:1]},
		func(ctx context.Context, _ *nothing) (FarmState, error) {
			k, err := s.svc.Farm(ctx)
			return FarmState{Farm: k.Farm, Revision: int64(k.Revision), At: k.Now, Problems: k.Problems}, err
		})
	answer(s, op{id: "course", method: http.MethodGet, path: "/blocks/{id}/course", summary: "One night of one block hour by hour", statuses: about},
		func(ctx context.Context, in *courseInput) (nights.Course, error) {
			_, b, err := s.block(ctx, in.ID)
			if err != nil {
				return nights.Course{}, err
			}
			c, err := s.svc.Course(ctx, b.ID, in.Night)
			return c, At("query.night", in.Night, err)
		})
	answer(s, op{id: "what-if", method: http.MethodPost, path: "/blocks/{id}/whatif", summary: "What choices are worth for one block on one night", statuses: about}, s.whatIf)
	answer(s, op{id: "set-floor", method: http.MethodPut, path: "/blocks/{id}/floor", summary: "Keep a block's floor as it is now",
		statuses: append(about, http.StatusConflict)}, s.setFloor)
	s.stages()
}

// block finds a block by its ID, in any capitals.
func (s *server) block(ctx context.Context, id string) (Kept, farm.Block, error) {
	k, err := s.svc.Farm(ctx)
	if err != nil {
		return k, farm.Block{}, err
	}
	for _, b := range k.Farm.Blocks {
		if strings.EqualFold(b.ID, id) {
			return k, b, nil
		}
	}
	return k, farm.Block{}, At("path.id", cut(id), &store.NotFoundError{What: "block", ID: cut(id)})
}

func (s *server) whatIf(ctx context.Context, in *whatIfInput) ([]nights.Compared, error) {
	k, b, err := s.block(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	q := Question{BlockID: b.ID, Night: in.Body.Night, Units: in.Units}
	for i, x := range in.Body.Alternatives {
		a, err := alternative(fmt.Sprintf("body.alternatives[%d]", i), x, b, k.Now)
		if err != nil {
			return nil, err
		}
		q.Alts = append(q.Alts, a)
	}
	out, err := s.svc.Compare(ctx, q)
	return out, At("body", nil, err)
}

// slack is how far in the past water may begin: answers are up to an hour old, and
// their "now" is asked about.
const slack = time.Hour

// alternative reads one choice; at is where it stands in the body.
func alternative(at string, x Alternative, b farm.Block, now time.Time) (nights.Alternative, error) {
	a := nights.Alternative{Label: x.Label, Run: nights.ChoiceKind(x.Run)}
	if x.Run == "" {
		a.Run = nights.Nothing
	}
	if len(x.Floor) > 0 {
		a.Floor = map[string]farm.Strip{}
	}
	for name, text := range x.Floor {
		strip, err := alternativeStrip(at+".floor", name, text, b)
		if err != nil {
			return a, err
		}
		a.Floor[name] = strip
	}
	if x.RunMmH != nil {
		if a.Run != nights.RunWater && a.Run != nights.OverVine {
			return a, refuse(at+".run_mm_h", *x.RunMmH, "a rate only with water or sprinklers in run")
		}
		a.RunMmH = *x.RunMmH
	}
	return a, refill(&a, at, x, b, now)
}

func refill(a *nights.Alternative, at string, x Alternative, b farm.Block, now time.Time) error {
	switch {
	case x.RefillStartAt == nil && x.RefillStopAt != nil:
		return refuse(at+".refill_start_at", nil, "when the water begins, as refill_stop_at says when it ends")
	case x.RefillStartAt == nil && x.RefillMM != nil:
		return refuse(at+".refill_start_at", nil, "when refill_mm is given")
	case x.RefillStartAt == nil:
		return nil
	case x.RefillStartAt.Before(now.Add(-slack)):
		return refuse(at+".refill_start_at", *x.RefillStartAt, "a moment to come")
	case x.RefillMM != nil && x.RefillStopAt != nil:
		return refuse(at+".refill_stop_at", *x.RefillStopAt, "either an end or an amount that is given at once, not both")
	case x.RefillStopAt != nil && !x.RefillStopAt.After(*x.RefillStartAt):
		return refuse(at+".refill_stop_at", *x.RefillStopAt, "a moment after refill_start_at")
	case x.RefillMM == nil && b.System.Kind == farm.NoSystem:
		return refuse(at+".refill_start_at", *x.RefillStartAt, "an amount in refill_mm: block %s has no water system", b.ID)
	}
	a.RefillStart = *x.RefillStartAt
	if x.RefillStopAt != nil {
		a.RefillStop = *x.RefillStopAt
	}
	if x.RefillMM != nil {
		a.RefillMM = *x.RefillMM
	}
	return nil
}

// alternativeStrip reads "SURFACE[, MOISTURE]".
func alternativeStrip(at, name, text string, b farm.Block) (farm.Strip, error) {
	at = fmt.Sprintf("%s[%q]", at, cut(name))
	if err := hasStrip(at, name, b); err != nil {
		return farm.Strip{}, err
	}
	surface, moist, wet := strings.Cut(text, ",")
	st, err := farm.ParseSurface(strings.TrimSpace(surface))
	if err != nil {
		return farm.Strip{}, At(at, cut(text), err)
	}
	out := farm.Strip{Name: name}.WithState(st)
	if wet {
		out.Moisture, err = farm.ParseMoisture(strings.TrimSpace(moist), b.Soil)
	}
	return out, At(at, cut(text), err)
}

func hasStrip(at, name string, b farm.Block) error {
	var names []string
	for _, s := range b.Strips {
		if s.Name == name || name == "" {
			return nil
		}
		names = append(names, s.Name)
	}
	return refuse(at, cut(name), "a strip of block %s: %s", b.ID, strings.Join(names, ", "))
}

// maxRaces bounds how often a change is made again because somebody else was
// faster.
const maxRaces = 3

// setFloor keeps a floor. A change made on no particular revision is made on the
// latest, again where another came between.
func (s *server) setFloor(ctx context.Context, in *floorInput) (FloorState, error) {
	for try := 1; ; try++ {
		out, err := s.trySetFloor(ctx, in)
		var conflict *store.ConflictError
		if in.Body.Revision == 0 && errors.As(err, &conflict) && try < maxRaces {
			continue
		}
		if errors.As(err, &conflict) {
			err = At("body.revision", in.Body.Revision, err)
		}
		return out, At("body.strips", nil, err)
	}
}

func (s *server) trySetFloor(ctx context.Context, in *floorInput) (FloorState, error) {
	k, b, err := s.block(ctx, in.ID)
	if err != nil {
		return FloorState{}, err
	}
	at := k.Now
	if in.Body.At != nil {
		at = *in.Body.At
	}
	at = at.Truncate(time.Millisecond)
	if at.After(k.Now) {
		return FloorState{}, refuse("body.at", at, "a moment that is not to come: the floor as it is")
	}
	c := FloorChange{BlockID: b.ID, Strips: append([]farm.Strip(nil), b.Strips...), BasedOn: k.Revision,
		Change: store.Change{At: at, Who: in.Body.By, Why: in.Body.Why}}
	if in.Body.Revision != 0 {
		c.BasedOn = store.Revision(in.Body.Revision)
	}
	var assumed []string
	seen := map[string]bool{}
	for i, x := range in.Body.Strips {
		place := fmt.Sprintf("body.strips[%d]", i)
		if seen[x.Name] || seen[""] || x.Name == "" && i > 0 {
			return FloorState{}, refuse(place+".name", cut(x.Name), "each strip once")
		}
		seen[x.Name] = true
		more, err := changeStrips(c.Strips, place, x, b, at)
		if err != nil {
			return FloorState{}, err
		}
		assumed = append(assumed, more...)
	}
	if k, err = s.svc.ChangeFloor(ctx, c); err != nil {
		return FloorState{}, err
	}
	return FloorState{BlockID: b.ID, Revision: int64(k.Revision), At: at, Strips: c.Strips, Assumed: assumed}, nil
}

// changeStrips puts a change into the strips it names and says what it took for
// granted.
func changeStrips(strips []farm.Strip, place string, x StripChange, b farm.Block, at time.Time) (assumed []string, err error) {
	if err := hasStrip(place+".name", x.Name, b); err != nil {
		return nil, err
	}
	if x.Surface == nil && x.Moisture == nil {
		return nil, refuse(place, nil, "a surface, a moisture or both")
	}
	var state farm.SurfaceState
	var moist farm.Moisture
	if x.Surface != nil {
		if state, err = farm.ParseSurface(*x.Surface); err != nil {
			return nil, At(place+".surface", cut(*x.Surface), err)
		}
		if state.Assumed != "" {
			assumed = append(assumed, fmt.Sprintf("%q is taken as %s.", *x.Surface, state))
		}
	}
	if x.Moisture != nil {
		if moist, err = farm.ParseMoisture(*x.Moisture, b.Soil); err != nil {
			return nil, At(place+".moisture", cut(*x.Moisture), err)
		}
		moist.At = at
	}
	for i := range strips {
		if x.Name != "" && strips[i].Name != x.Name {
			continue
		}
		if x.Surface != nil {
			strips[i] = strips[i].WithState(state)
		}
		if x.Moisture != nil {
			strips[i].Moisture = moist
		}
	}
	return assumed, nil
}
