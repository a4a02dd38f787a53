package farm

import (
	"fmt"
	"strings"

	"budward/physics/ground"
)

// FieldError reports one value of a farm that cannot be used, and what was
// expected.
type FieldError struct {
	Field string
	Value string
	Want  string
}

func (e *FieldError) Error() string {
	return fmt.Sprintf("%s %q: expected %s", e.Field, e.Value, e.Want)
}

// Resolve returns the numbers of a soil: the user's own where given (above
// zero), the class values of its USDA texture elsewhere. The user's numbers
// must keep wilting point < field capacity < porosity after the merge. What was
// taken from the class is returned in words, with its source. A soil without a
// texture needs all five numbers; how fast it drains and how wide water spreads
// in it are then those of a loam, and said to be.
//
// Class values: field capacity, wilting point and saturated conductivity of
// Saxton & Rawls (2006), porosity of Carsel & Parrish (1988), quartz of
// Peters-Lidard et al. (1998); see ground.ByTexture for what was read where.
func (s Soil) Resolve() (ground.Soil, []Default, error) {
	own := []struct {
		name  string
		v     float64
		lo    float64
		hi    float64
		field func(*ground.Soil) *float64
	}{
		{"field_capacity", s.FieldCapacity, 0.02, 0.8, func(g *ground.Soil) *float64 { return &g.FieldCapacity }},
		{"wilting_point", s.WiltingPoint, 0.005, 0.7, func(g *ground.Soil) *float64 { return &g.WiltingPoint }},
		{"porosity", s.Porosity, 0.25, 0.85, func(g *ground.Soil) *float64 { return &g.Porosity }},
		{"quartz", s.Quartz, 0, 1, func(g *ground.Soil) *float64 { return &g.Quartz }},
		{"ks", s.KsMmH, 0.01, 5000, func(g *ground.Soil) *float64 { return &g.KsMmH }},
	}
	texture := FoldTexture(s.Texture)
	base, known := ground.ByTexture(texture)
	if texture != "" && !known {
		return ground.Soil{}, nil, &FieldError{"soil", s.Texture, "a USDA texture: " + strings.Join(ground.Textures(), ", ")}
	}
	if texture == "" {
		base, _ = ground.ByTexture("loam")
	}
	var taken []string
	for _, o := range own {
		if o.v == 0 {
			if texture == "" {
				return ground.Soil{}, nil, &FieldError{"soil", "", "a USDA texture, or all of field capacity, wilting point, porosity, quartz and conductivity"}
			}
			taken = append(taken, fmt.Sprintf("%s %g", o.name, *o.field(&base)))
			continue
		}
		if !(o.v >= o.lo && o.v <= o.hi) {
			return ground.Soil{}, nil, &FieldError{o.name, fmt.Sprintf("%g", o.v), fmt.Sprintf("%g to %g", o.lo, o.hi)}
		}
		*o.field(&base) = o.v
	}
	if !(base.WiltingPoint < base.FieldCapacity && base.FieldCapacity < base.Porosity) {
		return ground.Soil{}, nil, &FieldError{"soil", fmt.Sprintf("wilting point %g, field capacity %g, porosity %g",
			base.WiltingPoint, base.FieldCapacity, base.Porosity), "wilting point < field capacity < porosity (class values stand where none is given)"}
	}
	if err := base.Validate(); err != nil {
		return ground.Soil{}, nil, &FieldError{"soil", s.Texture, err.Error()}
	}
	var notes []Default
	if len(taken) > 0 {
		notes = append(notes, Default{Field: "soil", Value: texture + ": " + strings.Join(taken, ", "),
			Why: "class values: Saxton & Rawls (2006), Carsel & Parrish (1988), Peters-Lidard et al. (1998)"})
	}
	if texture == "" {
		notes = append(notes, Default{Field: "soil", Value: "drainage and spread of a loam", Why: "no texture given"})
	}
	return base, notes, nil
}

// FoldTexture writes a texture name as ground.ByTexture knows it.
func FoldTexture(name string) string {
	return strings.Join(strings.Fields(strings.ToLower(strings.NewReplacer("-", " ", "_", " ").Replace(name))), " ")
}
