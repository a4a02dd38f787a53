// Package api is the program over HTTP: JSON in SI units with the unit in every
// name, described by one OpenAPI 3.1 document, with errors that name the field
// they are about (RFC 9457). It also hands out the pages. It reads requests and
// writes answers, asks the rest of the program through one interface, Service,
// and computes nothing.
//
// What comes from outside is bounded here: who may ask (this machine's own pages
// only), how large and how slow a body may be, how many ask at once.
package api

import (
	"context"
	"io"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/farm"
)

// Service is what the API asks of the rest of the program. Package app is the one
// that answers. Its methods are called from many goroutines at once.
type Service interface {
	// Health says whether the program has what it needs to answer.
	Health(ctx context.Context) (Health, error)
	// Farm is the farm as kept, and the present moment.
	Farm(ctx context.Context) (Kept, error)
	// Tonight works out the nights ahead for every block, or gives the answer at
	// hand where nothing has changed since.
	Tonight(ctx context.Context, q TonightQuery) (Answered, error)
	// Course is one night of one block hour by hour; nights count from 0.
	Course(ctx context.Context, blockID string, night int) (nights.Course, error)
	// Compare works out what choices are worth for one block and night.
	Compare(ctx context.Context, q Question) ([]nights.Compared, error)

	// Stages lists the looks at a block, the latest last.
	Stages(ctx context.Context, blockID string, withdrawn bool) ([]store.StageRecord, error)
	// RecordStage keeps a look at a block.
	RecordStage(ctx context.Context, r store.StageRecord) (store.StageRecord, error)
	// WithdrawStage makes a look at a block stop counting.
	WithdrawStage(ctx context.Context, blockID string, id int64, why string) error
	// ChangeFloor keeps a block's floor as it is now; the strips are all those the
	// block has.
	ChangeFloor(ctx context.Context, c FloorChange) (Kept, error)

	// Feeds lists what was fed, the latest first.
	Feeds(ctx context.Context, q FeedQuery) (FeedList, error)
	// WithdrawFeed makes a batch stop counting.
	WithdrawFeed(ctx context.Context, id int64, why string) (Feed, error)
	// Take takes in one file of weather.
	Take(ctx context.Context, u Upload) (Taken, error)
	// Push takes in readings as a logger sends them. from says who pushed.
	Push(ctx context.Context, from string, body io.Reader) (Pushed, error)
}

// Kept is the farm as it is kept.
type Kept struct {
	Farm     farm.Farm
	Revision store.Revision
	Zone     *time.Location
	Now      time.Time
	Problems []farm.Problem // what a check of the farm finds
}

// TonightQuery asks for the nights ahead.
type TonightQuery struct {
	Ahead int    // nights
	Units string // of the sentences: "us", "metric", or "" = as the farm's people read
	// Wait false asks for what is at hand, however old, if there is anything; the
	// answer then says whether it is current.
	Wait bool
}

// Answered is an answer with how well it still holds.
type Answered struct {
	Answer nights.Answer
	Age    time.Duration // since the moment it was worked out for
	// Current says that nothing has been fed, seen or changed since.
	Current bool
	Units   quantity.System // of the sentences
}

// Question asks what choices are worth for one block on one night.
type Question struct {
	BlockID string
	Night   int // from 0, the coming one
	Alts    []nights.Alternative
	Units   string // as in TonightQuery
}

// FloorChange is a block's floor as somebody found or made it.
type FloorChange struct {
	BlockID string
	Strips  []farm.Strip
	store.Change
	// BasedOn is the revision the change was made on; a farm changed since is not
	// changed, and that is a *store.ConflictError.
	BasedOn store.Revision
}

// FeedQuery picks batches; the zero value of a field picks all.
type FeedQuery struct {
	StationID string
	Kind      string
	Before    int64 // batches with a lower ID than this
	Limit     int   // at least 1
}

// Upload is one file of weather to take in. The texts are as a person wrote them.
type Upload struct {
	Kind      string // "forecast" or "reading"
	StationID string
	Name      string // of the file
	Body      io.Reader
	Format    string
	Issued    string
	Zone      string
	Map       string
	DateOrder string
	// DecimalComma says that numbers are written 3,5.
	DecimalComma bool
}
