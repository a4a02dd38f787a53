package cli

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"sort"
	"strings"
	"time"
)

// object is a JSON object with its members in order.
type object []member

type member struct {
	name  string
	value any
}

// writeJSON writes v, a struct or an object, with the schema as its first
// member. Numbers that are not known (NaN) and moments that are not known (the
// zero time) are null: unknown is shown as unknown, and a reader of the JSON never
// meets a made-up number.
func writeJSON(w io.Writer, schema string, v any) error {
	var b bytes.Buffer
	body, ok := v.(object)
	if !ok {
		body = members(reflect.ValueOf(v))
	}
	if err := encode(&b, reflect.ValueOf(append(object{{"schema", schema}}, body...))); err != nil {
		return err
	}
	var out bytes.Buffer
	if err := json.Indent(&out, b.Bytes(), "", "  "); err != nil {
		return err
	}
	out.WriteByte('\n')
	_, err := w.Write(out.Bytes())
	return err
}

var (
	timeType   = reflect.TypeFor[time.Time]()
	objectType = reflect.TypeFor[object]()
	textType   = reflect.TypeFor[encoding.TextMarshaler]()
	jsonType   = reflect.TypeFor[json.Marshaler]()
)

func encode(b *bytes.Buffer, v reflect.Value) error {
	if !v.IsValid() {
		b.WriteString("null")
		return nil
	}
	t := v.Type()
	switch {
	case t == timeType:
		if at := v.Interface().(time.Time); at.IsZero() {
			b.WriteString("null")
			return nil
		}
		return plainJSON(b, v)
	case t == objectType:
		return encodeObject(b, v.Interface().(object))
	case t.Kind() != reflect.Interface && t.Kind() != reflect.Pointer && (t.Implements(jsonType) || t.Implements(textType)):
		return plainJSON(b, v)
	}
	switch t.Kind() {
	case reflect.Float64, reflect.Float32:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			b.WriteString("null")
			return nil
		}
		return plainJSON(b, v)
	case reflect.Interface, reflect.Pointer:
		return encode(b, v.Elem())
	case reflect.Struct:
		return encodeObject(b, members(v))
	case reflect.Map:
		return encodeMap(b, v)
	case reflect.Slice, reflect.Array:
		b.WriteByte('[')
		for i := range v.Len() {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := encode(b, v.Index(i)); err != nil {
				return err
			}
		}
		b.WriteByte(']')
		return nil
	}
	return plainJSON(b, v)
}

func plainJSON(b *bytes.Buffer, v reflect.Value) error {
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(v.Interface()); err != nil {
		return fmt.Errorf("cli: writing JSON: %w", err)
	}
	b.Write(bytes.TrimRight(out.Bytes(), "\n"))
	return nil
}

func encodeObject(b *bytes.Buffer, o object) error {
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		if err := plainJSON(b, reflect.ValueOf(m.name)); err != nil {
			return err
		}
		b.WriteByte(':')
		v, ok := m.value.(reflect.Value)
		if !ok {
			v = reflect.ValueOf(m.value)
		}
		if err := encode(b, v); err != nil {
			return err
		}
	}
	b.WriteByte('}')
	return nil
}

// encodeMap writes a map by rising key.
func encodeMap(b *bytes.Buffer, v reflect.Value) error {
	var o object
	for _, k := range v.MapKeys() {
		o = append(o, member{fmt.Sprint(k.Interface()), v.MapIndex(k)})
	}
	sort.Slice(o, func(i, j int) bool { return o[i].name < o[j].name })
	return encodeObject(b, o)
}

// members lists the fields of a struct as encoding/json would name them.
func members(v reflect.Value) object {
	for v.Kind() == reflect.Pointer || v.Kind() == reflect.Interface {
		v = v.Elem()
	}
	if v.Kind() != reflect.Struct {
		panic("cli: JSON answers are structs or objects, not " + v.Kind().String())
	}
	var o object
	for i := range v.NumField() {
		f := v.Type().Field(i)
		name, opts, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case !f.IsExported() && !f.Anonymous, name == "-":
			continue
		case f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct:
			o = append(o, members(v.Field(i))...)
			continue
		case strings.Contains(opts, "omitempty") && empty(v.Field(i)), strings.Contains(opts, "omitzero") && v.Field(i).IsZero():
			continue
		}
		if name == "" {
			name = f.Name
		}
		o = append(o, member{name, v.Field(i)})
	}
	return o
}

// empty is encoding/json's idea of an empty value.
func empty(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Slice, reflect.Map, reflect.String, reflect.Array:
		return v.Len() == 0
	case reflect.Struct:
		return false
	}
	return v.IsZero()
}
