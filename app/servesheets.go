package app

import (
	"bytes"
	"context"
	"io"

	"budward/api"
	"budward/decide/nights"
	"budward/sheet"
	"budward/store"
	"budward/vineyard/farm"
)

// sheetNights is how many nights ahead sheets are made from: as many as the page
// shows, so that both rest on one answer.
const sheetNights = 7

// sheets are the files made from the answer, by name.
var sheets = map[string]func(io.Writer, *nights.Answer, *farm.Farm, sheet.Options) error{
	"night.html":     sheet.Night,
	"night.ics":      sheet.Calendar,
	"tonight.xlsx":   sheet.XLSX,
	"blocks.geojson": sheet.GeoJSON,
	"tonight.csv": func(w io.Writer, a *nights.Answer, f *farm.Farm, o sheet.Options) error {
		return sheet.CSV(w, sheet.Tonight, a, f, o)
	},
}

// sheet makes a file from the answer at hand.
func (s *service) sheet(ctx context.Context, q api.SheetQuery) ([]byte, error) {
	write, ok := sheets[q.Name]
	if !ok {
		return nil, &store.NotFoundError{What: "sheet", ID: q.Name}
	}
	k, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	a, err := s.answers.tonight(ctx, api.TonightQuery{Ahead: sheetNights, Units: q.Units, Wait: true})
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := write(&b, &a.Answer, &k.Farm, sheet.Options{Units: a.Units}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
