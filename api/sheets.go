package api

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
)

// SheetQuery asks for one file made from tonight's answer.
type SheetQuery struct {
	Name  string // "night.html", ...
	Units string // as in TonightQuery
}

// sheetFiles are the files that are made from the answer.
var sheetFiles = []struct{ name, contentType, id, summary string }{
	{"night.html", "text/html; charset=utf-8", "sheet-night", "The coming night on one printed page"},
	{"night.ics", "text/calendar; charset=utf-8", "sheet-calendar", "What to do when, for a calendar"},
	{"tonight.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "sheet-workbook", "The answer as a workbook"},
	{"tonight.csv", "text/csv; charset=utf-8", "sheet-table", "The answer as a table"},
	{"blocks.geojson", "application/geo+json", "sheet-map", "The blocks with their answer, for a map"},
}

// sheetPolicy is for the printed page, which brings its styles with it and no
// scripts.
const sheetPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

type sheetInput struct {
	Units string `query:"units" enum:"us,metric" doc:"of the sentences and numbers for people; otherwise as the farm's people read"`
}

type sheetOutput struct {
	ContentType string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Policy      string `header:"Content-Security-Policy"`
	Body        []byte
}

func (s *server) sheets() {
	if s.opts.Sheet == nil && s.svc != nil {
		return
	}
	for _, f := range sheetFiles {
		h := s.operation(op{id: f.id, method: http.MethodGet, path: "/sheet/" + f.name, summary: f.summary,
			statuses: []int{http.StatusNotFound, http.StatusUnprocessableEntity}})
		h.Responses = map[string]*huma.Response{"200": {Description: "The file",
			Content: map[string]*huma.MediaType{f.contentType: {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}}}
		registerAs(s, h, func(ctx context.Context, in *sheetInput) (*sheetOutput, error) {
			b, err := s.opts.Sheet(ctx, SheetQuery{Name: f.name, Units: in.Units})
			return &sheetOutput{ContentType: f.contentType, Disposition: `inline; filename="` + f.name + `"`, Policy: sheetPolicy, Body: b}, err
		})
	}
}
