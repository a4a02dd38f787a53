package api

import (
	"reflect"
	"slices"

	"github.com/danielgtaylor/huma/v2"

	"budward/decide/nights"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// unknown lists the moments and numbers that may be unknown, and so null, by the
// name of their schema. All others are always there.
var unknown = map[string][]string{
	"StationState": {"issued_at", "readings_to_at", "low_so_far_at"},
	"BlockNight":   {"min_at"},
	"Choice":       {"start_at", "stop_at"},
	"Verdict":      {"until_at"},
	"Mixture":      {"at", "seen_at"},
	"Moisture":     {"at"},
	"Feed":         {"issued_at", "first_at", "last_at", "withdrawn_at"},
	"Freshness":    {"issued_at", "forecast_to_at", "readings_to_at"},
	"Poller":       {"tried_at", "taken_at", "next_at"},
	"StageLook":    {"withdrawn_at"},
}

// words are the values of the types that are one of a few words.
var words = map[reflect.Type][]any{
	reflect.TypeFor[nights.Urgency](): texts(nights.Act, nights.Watch, nights.Prepare, nights.Quiet, nights.Unknown),
	reflect.TypeFor[nights.ChoiceKind](): texts(nights.Nothing, nights.RunWater, nights.WetFloor, nights.MowFloor,
		nights.OverVine, nights.RunFan, nights.RunHeater),
	reflect.TypeFor[farm.Species]():        texts(farm.Vinifera, farm.Labrusca, farm.Hybrid),
	reflect.TypeFor[farm.Use]():            texts(farm.Wine, farm.Table, farm.Raisin, farm.Juice),
	reflect.TypeFor[farm.Pruning]():        texts(farm.Spur, farm.Cane, farm.Minimal),
	reflect.TypeFor[farm.Surface]():        texts(farm.BareFirm, farm.Disked, farm.Cover, farm.Residue),
	reflect.TypeFor[farm.MoistureSource](): texts(farm.MoistureReading, farm.MoistureHandFeel, farm.MoistureAssumed),
	reflect.TypeFor[farm.SystemKind]():     texts(farm.NoSystem, farm.Drip, farm.MicroSprinkler, farm.Furrow, farm.Flood, farm.OverVine),
	reflect.TypeFor[farm.Shelter]():        texts(farm.Aspirated, farm.Screen, farm.Open),
	reflect.TypeFor[farm.EquipmentKind]():  texts(farm.Fan, farm.Heaters),
	reflect.TypeFor[farm.Severity]():       texts(farm.SeverityError, farm.SeverityWarning),
	reflect.TypeFor[vine.Scale]():          texts(vine.ModifiedEL, vine.OriginalEL, vine.BBCH),
	reflect.TypeFor[vine.MixtureSource]():  texts(vine.Counted, vine.Judged, vine.Advanced, ""), /* "" = nothing seen */
}

func texts[T ~string](list ...T) []any {
	var out []any
	for _, x := range list {
		out = append(out, string(x))
	}
	return out
}

// tidySchemas makes the schemas say what encode writes: lists are never null;
// pointers, and the moments that may be unknown, may be; a type that is one of a
// few words lists them.
func tidySchemas(doc *huma.OpenAPI) {
	const to = "#/components/schemas/"
	r := doc.Components.Schemas
	for _, p := range doc.Paths {
		for _, o := range []*huma.Operation{p.Get, p.Put, p.Post, p.Delete} {
			if o == nil {
				continue
			}
			for _, answer := range o.Responses {
				for _, c := range answer.Content {
					noNullLists(c.Schema)
				}
			}
		}
	}
	for name, s := range r.Map() {
		noNullLists(s)
		t := r.TypeFromRef(to + name)
		if t == nil || t.Kind() != reflect.Struct {
			continue
		}
		for _, m := range members(t) {
			p := s.Properties[m.name]
			if p == nil {
				continue
			}
			if enum := words[m.typ]; enum != nil {
				p.Enum = enum
			}
			if slices.Contains(unknown[name], m.name) {
				p.Nullable = true
			}
			if p.Ref != "" && m.typ.Kind() == reflect.Pointer && !m.omitEmpty {
				s.Properties[m.name] = &huma.Schema{AnyOf: []*huma.Schema{{Ref: p.Ref}, {Type: "null"}}, Description: p.Description}
			}
		}
		if t == reflect.TypeFor[huma.ErrorModel]() {
			s.Properties["type"].Format = "uri-reference" // RFC 9457, 3.1.1
			s.Properties["instance"].Format = "uri-reference"
		}
		s.PrecomputeMessages()
	}
}

func noNullLists(s *huma.Schema) {
	if s == nil {
		return
	}
	if s.Type == huma.TypeArray {
		s.Nullable = false
		noNullLists(s.Items)
	}
	for _, p := range s.Properties {
		noNullLists(p)
	}
	if a, ok := s.AdditionalProperties.(*huma.Schema); ok {
		noNullLists(a)
	}
}
