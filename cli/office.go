package cli

import (
	"context"
	"io"
	"time"

	"budward/decide/nights"
	"budward/decide/weather"
	"budward/physics/quantity"
	"budward/store"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// Office is what the commands ask of the rest of the program. Package app is the
// one that answers.
type Office interface {
	// Moment is the present one: the clock's, or the one asked for, read in the
	// farm's zone where it has none of its own.
	Moment(ctx context.Context) (time.Time, *time.Location, error)
	// Farm is the farm as kept.
	Farm(ctx context.Context) (farm.Farm, error)
	// ReadFarm reads a folder of CSV files without keeping anything.
	ReadFarm(ctx context.Context, dir string) (farm.Farm, []farm.Problem, error)
	// CheckFarm looks over the farm as kept.
	CheckFarm(ctx context.Context) (farm.Farm, []farm.Problem, error)
	// ImportFarm keeps the farm of a folder, unless it has errors.
	ImportFarm(ctx context.Context, dir string, c store.Change) (Imported, error)
	ExportFarm(ctx context.Context, dir string) (store.Manifest, error)
	// Template writes the CSV files of a small invented farm into a new folder.
	Template(ctx context.Context, dir string) ([]string, error)

	Feed(ctx context.Context, r FeedRequest) (Fed, error)
	Batches(ctx context.Context, q store.BatchQuery) ([]store.BatchInfo, error)
	WithdrawBatch(ctx context.Context, id int64, why string) error

	RecordStage(ctx context.Context, r store.StageRecord) (store.StageRecord, error)
	Stages(ctx context.Context, q store.StageQuery) ([]store.StageRecord, error)
	WithdrawStage(ctx context.Context, id int64, why string) error
	FitStage(ctx context.Context, blockID string, burst []time.Time) (Fitted, error)

	// Answer works out the nights ahead for every block; its sentences are in the
	// units given.
	Answer(ctx context.Context, ahead int, units quantity.System) (Answered, error)
	// Compare works out choices for one block and night, night counted from 0.
	Compare(ctx context.Context, q Question) (Comparison, error)

	// Hindcast replays a station's record as if it were live.
	Hindcast(ctx context.Context, q HindcastRequest) (Hindcasted, error)
	// Trial works out a trial of two thermometers. With a *trial.TooFewError the
	// result still lists every night.
	Trial(ctx context.Context, q TrialRequest) (Trialed, error)
	// WriteFiles writes texts by name into a folder that is made if it is not there;
	// files of these names are replaced. It returns the paths, in order.
	WriteFiles(ctx context.Context, dir string, texts map[string]string) ([]string, error)

	// Demo makes the demo farm in a folder ("" = one that is removed on closing) and
	// returns an office for it.
	Demo(ctx context.Context, dir string) (Demo, error)
	Close() error
}

// Settings are what an Office is opened with.
type Settings struct {
	FarmPath string
	Now      string // as written; "" = the clock
	Seed     uint64
	Members  int // scenarios; 0 = the usual number
	Progress func(doing string) (done func())
}

// Imported is what became of an import.
type Imported struct {
	Farm     farm.Farm
	Problems []farm.Problem // with an error among them nothing was kept
	Kept     bool
	New      bool // the farm file was made
	Path     string
}

// FeedRequest is a file of weather to take in.
type FeedRequest struct {
	Kind         weather.Kind
	Name         string
	Data         io.Reader
	StationID    string // "" = the only one there is
	Map          string // header map, as written
	Zone         string // of times without an offset; "farm" = the farm's
	Issued       string // CSV forecasts, as written
	Format       string
	DateOrder    string
	DecimalComma bool
}

// Fed is what became of a feed.
type Fed struct {
	Info      store.BatchInfo
	Station   farm.Station
	Assumed   []string // what was taken for granted, in sentences
	Refused   []weather.Refusal
	Screening weather.ScreenReport
	Zone      *time.Location
}

// Fitted is a bud-break model fitted to a block's own dates.
type Fitted struct {
	Fit     vine.BudbreakFit
	Station farm.Station
	Left    []string // seasons left out, and why
}

// Answered is an answer with the farm it is for.
type Answered struct {
	Answer nights.Answer
	Farm   farm.Farm
	Zone   *time.Location
}

// Question asks what choices are worth for one block on one night.
type Question struct {
	BlockID string
	Night   int // from 0, the coming one
	Alts    []nights.Alternative
	Units   quantity.System
}

// Comparison is what choices are worth on one night.
type Comparison struct {
	Farm     farm.Farm
	Zone     *time.Location
	Block    farm.Block
	Night    weather.Night
	Index    int
	Compared []nights.Compared
	Notes    []nights.Note
	At       time.Time
}

// Demo is a demo farm that has been made.
type Demo struct {
	Office Office
	Path   string
	Dir    string
	Now    string // the demo's present moment, as --now takes it
	Farm   farm.Farm
}
