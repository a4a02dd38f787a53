// Package client writes the typed TypeScript client of the API from its OpenAPI
// document. The pages use nothing else to ask the program, so a change of the API
// that they do not follow fails when they are checked.
package client

import (
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// document is what is read of an OpenAPI document.
type document struct {
	Paths      map[string]map[string]operation `json:"paths"`
	Components struct {
		Schemas map[string]schema `json:"schemas"`
	} `json:"components"`
}

type operation struct {
	ID         string              `json:"operationId"`
	Summary    string              `json:"summary"`
	Parameters []parameter         `json:"parameters"`
	Body       *content            `json:"requestBody"`
	Responses  map[string]*content `json:"responses"`
}

type parameter struct {
	Name        string `json:"name"`
	In          string `json:"in"`
	Description string `json:"description"`
	Required    bool   `json:"required"`
	Schema      schema `json:"schema"`
}

type content struct {
	Required bool             `json:"required"`
	Content  map[string]media `json:"content"`
}

type media struct {
	Schema schema `json:"schema"`
}

type schema struct {
	Ref         string            `json:"$ref"`
	Type        oneOrMore         `json:"type"`
	Description string            `json:"description"`
	Enum        []any             `json:"enum"`
	Items       *schema           `json:"items"`
	Properties  map[string]schema `json:"properties"`
	Required    []string          `json:"required"`
	AnyOf       []schema          `json:"anyOf"`
	// Values is false, or the schema of members that are not named.
	Values values `json:"additionalProperties"`
}

// values is additionalProperties: a schema, or a truth value, which says nothing
// that TypeScript could.
type values struct{ schema *schema }

func (v *values) UnmarshalJSON(b []byte) error {
	if string(b) == "false" || string(b) == "true" {
		return nil
	}
	return json.Unmarshal(b, &v.schema)
}

// oneOrMore is a type, or several of which each will do.
type oneOrMore []string

func (o *oneOrMore) UnmarshalJSON(b []byte) error {
	var one string
	if json.Unmarshal(b, &one) == nil {
		*o = oneOrMore{one}
		return nil
	}
	return json.Unmarshal(b, (*[]string)(o))
}

// Generate writes the client for a document. The same document gives the same
// bytes.
func Generate(doc []byte) ([]byte, error) {
	var d document
	if err := json.Unmarshal(doc, &d); err != nil {
		return nil, fmt.Errorf("client: the document cannot be read: %w", err)
	}
	var b strings.Builder
	b.WriteString(head)
	for _, name := range slices.Sorted(maps.Keys(d.Components.Schemas)) {
		if err := writeType(&b, name, d.Components.Schemas[name]); err != nil {
			return nil, err
		}
	}
	b.WriteString(runtime)
	if err := writeOperations(&b, d.Paths); err != nil {
		return nil, err
	}
	return []byte(b.String()), nil
}

var plainName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)

func writeType(b *strings.Builder, name string, s schema) error {
	if !plainName.MatchString(name) {
		return fmt.Errorf("client: schema %q has no name that TypeScript takes", name)
	}
	comment(b, "", s.Description)
	body, err := typeOf(s, "  ")
	if err != nil {
		return fmt.Errorf("client: schema %s: %w", name, err)
	}
	if s.Properties != nil {
		fmt.Fprintf(b, "export interface %s %s\n\n", name, body)
		return nil
	}
	fmt.Fprintf(b, "export type %s = %s;\n\n", name, body)
	return nil
}

// typeOf writes a schema as a type; indent is that of members.
func typeOf(s schema, indent string) (string, error) {
	switch {
	case s.Ref != "":
		return s.Ref[strings.LastIndexByte(s.Ref, '/')+1:], nil
	case s.AnyOf != nil:
		return union(s.AnyOf, indent)
	case len(s.Type) > 1:
		var each []schema
		for _, t := range s.Type {
			one := s
			one.Type = oneOrMore{t}
			if t == "null" {
				one.Enum = nil
			}
			each = append(each, one)
		}
		return union(each, indent)
	case len(s.Type) == 0:
		return "unknown", nil
	case s.Enum != nil:
		return literals(s.Enum)
	}
	switch s.Type[0] {
	case "null", "boolean", "string":
		return s.Type[0], nil
	case "integer", "number":
		return "number", nil
	case "array":
		if s.Items == nil {
			return "", fmt.Errorf("an array without items")
		}
		t, err := typeOf(*s.Items, indent)
		if strings.Contains(t, "|") {
			t = "(" + t + ")"
		}
		return t + "[]", err
	case "object":
		return object(s, indent)
	}
	return "", fmt.Errorf("type %q is not known", s.Type[0])
}

func union(each []schema, indent string) (string, error) {
	var out []string
	for _, s := range each {
		t, err := typeOf(s, indent)
		if err != nil {
			return "", err
		}
		if !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return strings.Join(out, " | "), nil
}

func literals(values []any) (string, error) {
	var out []string
	for _, v := range values {
		text, err := json.Marshal(v)
		if err != nil {
			return "", err
		}
		out = append(out, string(text))
	}
	return strings.Join(out, " | "), nil
}

func object(s schema, indent string) (string, error) {
	if s.Properties == nil {
		if s.Values.schema == nil {
			return "Record<string, unknown>", nil
		}
		t, err := typeOf(*s.Values.schema, indent)
		return "Record<string, " + t + ">", err
	}
	var b strings.Builder
	b.WriteString("{\n")
	for _, name := range slices.Sorted(maps.Keys(s.Properties)) {
		p := s.Properties[name]
		t, err := typeOf(p, indent+"  ")
		if err != nil {
			return "", fmt.Errorf("%s: %w", name, err)
		}
		comment(&b, indent, p.Description)
		mark := ""
		if !slices.Contains(s.Required, name) {
			mark = "?"
		}
		fmt.Fprintf(&b, "%s%s%s: %s;\n", indent, key(name), mark, t)
	}
	b.WriteString(indent[2:] + "}")
	return b.String(), nil
}

func key(name string) string {
	if plainName.MatchString(name) {
		return name
	}
	text, err := json.Marshal(name)
	if err != nil {
		panic("client: " + err.Error())
	}
	return string(text)
}

func comment(b *strings.Builder, indent, text string) {
	if text != "" {
		fmt.Fprintf(b, "%s/** %s */\n", indent, strings.ReplaceAll(text, "*/", "* /"))
	}
}
