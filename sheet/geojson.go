package sheet

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

type geoCollection struct {
	Type     string       `json:"type"`
	Budward  geoAbout     `json:"budward"` // a foreign member, as RFC 7946 allows
	Features []geoFeature `json:"features"`
}

type geoAbout struct {
	Schema   string   `json:"schema"`
	FarmID   string   `json:"farm_id"`
	FarmName string   `json:"farm_name"`
	At       string   `json:"at"`
	Night    string   `json:"night_label"`
	Currency string   `json:"currency"`
	Sources  []string `json:"sources"`
}

type geoFeature struct {
	Type       string        `json:"type"`
	ID         string        `json:"id"`
	Geometry   *geoGeometry  `json:"geometry"`
	Properties geoProperties `json:"properties"`
}

type geoGeometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

type geoProperties struct {
	ID          string   `json:"id"`
	Name        string   `json:"name"`
	AreaHa      float64  `json:"area_ha"`
	Cultivar    string   `json:"cultivar"`
	StationID   string   `json:"station_id"`
	Urgency     string   `json:"urgency"`
	MinP10C     *float64 `json:"min_p10_c"`
	MinP50C     *float64 `json:"min_p50_c"`
	MinP90C     *float64 `json:"min_p90_c"`
	ColdSpotC   *float64 `json:"cold_spot_p50_c"`
	MinAt       *string  `json:"min_at"`
	CriticalC   *float64 `json:"critical_t10_c"`
	Critical50C *float64 `json:"critical_t50_c"`
	MarginK     *float64 `json:"margin_k"`
	Probability *float64 `json:"damage_share"` // chance that the coldest tenth is damaged, 0..1
	LossShare   *float64 `json:"loss_share"`
	LossT       *float64 `json:"loss_t"`
	LossMoney   *float64 `json:"loss_money"`
	Advice      string   `json:"advice"`
	Reason      string   `json:"reason"`
	Unknown     string   `json:"unknown,omitempty"`
}

// GeoSchema names the form of the map's properties.
const GeoSchema = "budward.map/1"

// GeoJSON writes the blocks as a map (RFC 7946) with tonight's numbers, always in
// SI units with the unit in the name; what is not known is null. A block is its
// outline, anticlockwise; without one, the point its owner gave; without either,
// its geometry is null.
func GeoJSON(w io.Writer, a *nights.Answer, f *farm.Farm, o Options) error {
	o.Units = quantity.Metric
	v, err := newView(a, f, o)
	if err != nil {
		return err
	}
	c := geoCollection{Type: "FeatureCollection", Features: []geoFeature{}, Budward: geoAbout{Schema: GeoSchema, FarmID: a.FarmID, FarmName: a.FarmName,
		At: a.At.UTC().Format(time.RFC3339), Night: a.Nights[0].Label, Currency: a.Currency, Sources: []string{}}}
	for _, st := range a.Stations {
		if st.ForecastFrom != "" {
			c.Budward.Sources = append(c.Budward.Sources, fmt.Sprintf("station %s: forecast from %s, issued %s", st.StationID, st.ForecastFrom, st.IssuedAt.UTC().Format(time.RFC3339)))
		}
	}
	for i := range a.Blocks {
		b := &a.Blocks[i]
		c.Features = append(c.Features, geoFeature{"Feature", b.BlockID, v.geometry(b.BlockID), v.properties(b)})
	}
	out := json.NewEncoder(w)
	out.SetEscapeHTML(false)
	if err := out.Encode(c); err != nil {
		return fmt.Errorf("sheet: writing GeoJSON: %w", err)
	}
	return nil
}

// geometry is where a block lies, as far as that was given.
func (v *view) geometry(id string) *geoGeometry {
	i := slices.IndexFunc(v.f.Blocks, func(b farm.Block) bool { return b.ID == id })
	if i < 0 {
		return nil
	}
	b := &v.f.Blocks[i]
	if len(b.Polygon) >= 4 {
		return &geoGeometry{"Polygon", [][][2]float64{anticlockwise(b.Polygon)}}
	}
	assumed := slices.ContainsFunc(v.f.Defaults, func(d farm.Default) bool {
		return strings.EqualFold(d.Where, "block "+id) && strings.HasPrefix(d.Field, "lat")
	})
	if assumed || b.LatDeg == 0 && b.LonDeg == 0 {
		return nil
	}
	return &geoGeometry{"Point", [2]float64{b.LonDeg, b.LatDeg}}
}

// anticlockwise returns a closed ring with its points in the order RFC 7946 wants
// of outer rings.
func anticlockwise(ring [][2]float64) [][2]float64 {
	out := slices.Clone(ring)
	if out[0] != out[len(out)-1] {
		out = append(out, out[0])
	}
	twice := 0.0
	for i := 1; i < len(out); i++ {
		twice += out[i-1][0]*out[i][1] - out[i][0]*out[i-1][1]
	}
	if twice < 0 {
		slices.Reverse(out)
	}
	return out
}

func (v *view) properties(b *nights.BlockAnswer) geoProperties {
	p := geoProperties{ID: b.BlockID, Name: b.Name, AreaHa: b.AreaHa, Cultivar: b.Cultivar, StationID: b.StationID, Urgency: string(b.Urgency),
		Advice: v.doing(b), Reason: b.Reason, Unknown: b.Unknown}
	n := tonight(b)
	if n == nil {
		return p
	}
	if n.Min != nil {
		p.MinP10C, p.MinP50C, p.MinP90C = known(float64(n.Min.P10C), 2), known(float64(n.Min.P50C), 2), known(float64(n.Min.P90C), 2)
	}
	for _, x := range []struct {
		from *quantity.Celsius
		to   **float64
	}{{n.ColdSpotC, &p.ColdSpotC}, {n.CriticalC, &p.CriticalC}, {n.Critical50C, &p.Critical50C}} {
		if x.from != nil {
			*x.to = known(float64(*x.from), 2)
		}
	}
	if n.MarginK != nil {
		p.MarginK = known(float64(*n.MarginK), 2)
	}
	if !n.MinAt.IsZero() {
		at := n.MinAt.UTC().Truncate(time.Second).Format(time.RFC3339)
		p.MinAt = &at
	}
	if r := n.Risk; r != nil {
		p.Probability, p.LossShare, p.LossT, p.LossMoney = known(r.Probability, 3), known(r.LossShare, 4), known(r.LossT, 3), known(r.LossMoney, 0)
	}
	return p
}

// known rounds a number; one that is none is nil.
func known(x float64, digits int) *float64 {
	n, ok := number(x, digits).(float64)
	if !ok {
		return nil
	}
	return &n
}
