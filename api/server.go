package api

import (
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"
)

// prefix is where the API stands.
const prefix = "/api/v1"

// Limits bound what may be asked; the zero value of a field is its usual bound.
type Limits struct {
	BodyTime   time.Duration // within which the body of a question must come
	UploadTime time.Duration // within which a file must come
	Requests   int           // answered at once
	Uploads    int           // files taken in at once
}

// The usual bounds.
const (
	maxBody    = 64 << 10
	maxUpload  = 32 << 20 // packed or not; what it unpacks to is bounded where it is read
	bodyTime   = 10 * time.Second
	uploadTime = 2 * time.Minute // 32 MB over 2 Mbit/s
	atOnce     = 64
	uploads    = 2
)

func (l Limits) filled() Limits {
	if l.BodyTime == 0 {
		l.BodyTime = bodyTime
	}
	if l.UploadTime == 0 {
		l.UploadTime = uploadTime
	}
	if l.Requests == 0 {
		l.Requests = atOnce
	}
	if l.Uploads == 0 {
		l.Uploads = uploads
	}
	return l
}

// Options are what surrounds the API.
type Options struct {
	Version string
	// Classify tells the kind of an error of the Service.
	Classify func(error) Kind
	// Pages are the files of the pages, index.html among them; nil = none.
	Pages fs.FS
	// Sheet makes a file from the answer: night sheet, table, calendar, map. nil =
	// there are none.
	Sheet func(context.Context, SheetQuery) ([]byte, error)
	// Hosts are names under which the program is reached beside this machine's own.
	Hosts  []string
	Limits Limits
	Log    *slog.Logger
}

// server answers requests.
type server struct {
	svc     Service
	opts    Options
	mux     *http.ServeMux
	api     huma.API
	doc     []byte // the OpenAPI document
	uploads chan struct{}
}

// New makes the handler of everything: API, sheets and pages. It fails where the
// files of the pages cannot be read.
func New(svc Service, o Options) (http.Handler, error) {
	if svc == nil || o.Classify == nil || o.Log == nil {
		panic("api: New wants a service, a classifier and a log")
	}
	o.Limits = o.Limits.filled()
	s := build(svc, o)
	pages, err := loadPages(o.Pages)
	if err != nil {
		return nil, fmt.Errorf("the files of the pages: %w", err)
	}
	s.mux.Handle("/", pages)
	return s.guarded(), nil
}

// Document is the OpenAPI 3.1 document of the API.
func Document() []byte {
	return build(nil, Options{Limits: Limits{}.filled()}).doc
}

// build registers every operation.
func build(svc Service, o Options) *server {
	s := &server{svc: svc, opts: o, mux: http.NewServeMux(), uploads: make(chan struct{}, o.Limits.Uploads)}
	s.api = humago.New(s.mux, config())
	s.health()
	s.tonight()
	s.blocks()
	s.feeds()
	s.sheets()
	list(s)
	tidySchemas(s.api.OpenAPI())
	doc, err := json.MarshalIndent(s.api.OpenAPI(), "", "  ")
	if err != nil {
		panic("api: the document cannot be written: " + err.Error())
	}
	s.doc = append(doc, '\n')
	s.mux.HandleFunc("GET "+prefix+"/openapi.json", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/openapi+json")
		_, _ = w.Write(s.doc) // into a buffer
	})
	s.mux.HandleFunc("/api/", s.nowhere)
	return s
}

// config is huma's, without its pages (they load from elsewhere) and its schema
// links.
func config() huma.Config {
	c := huma.DefaultConfig("budward", "1")
	c.Info.Description = "Carries a vineyard through spring frost. JSON in SI units, the unit last in each name; moments in RFC 3339; " +
		"what is not known is null. Sentences follow the parameter units. Errors are problem documents (RFC 9457) that name the field."
	c.DocsPath, c.OpenAPIPath, c.SchemasPath = "", "", ""
	c.CreateHooks = nil
	c.Formats = map[string]huma.Format{"application/json": {Marshal: encode, Unmarshal: decode}, "json": {Marshal: encode, Unmarshal: decode}}
	c.RejectUnknownQueryParameters = true
	c.Transformers = []huma.Transformer{tidyProblem}
	return c
}

// nowhere answers for addresses of the API that are none.
func (s *server) nowhere(w http.ResponseWriter, r *http.Request) {
	var allowed []string
	for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodDelete} {
		probe := r.Clone(r.Context())
		probe.Method = m
		if _, pattern := s.mux.Handler(probe); pattern != "" && pattern != "/api/" {
			allowed = append(allowed, m)
		}
	}
	if len(allowed) == 0 {
		writeProblem(w, NotFound, "path", "There is no "+cut(r.URL.Path)+".")
		return
	}
	for _, m := range allowed {
		w.Header().Add("Allow", m)
	}
	writeProblem(w, WrongMethod, "method", r.Method+" is not for "+cut(r.URL.Path)+".")
}
