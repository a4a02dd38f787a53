package api

import (
	"encoding"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"
)

// encode writes v as JSON. It differs from encoding/json in what is not known: a
// number that is NaN and a moment that is the zero time are null, so that a reader
// never meets a made-up value; a list without items is [], never null; numbers have
// nine significant digits.
func encode(w io.Writer, v any) error {
	b, err := appendJSON(nil, reflect.ValueOf(v))
	if err != nil {
		return err
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

var (
	timeType    = reflect.TypeFor[time.Time]()
	marshalType = reflect.TypeFor[json.Marshaler]()
	textType    = reflect.TypeFor[encoding.TextMarshaler]()
)

func appendJSON(b []byte, v reflect.Value) ([]byte, error) {
	if !v.IsValid() {
		return append(b, "null"...), nil
	}
	t := v.Type()
	switch {
	case t == timeType:
		if v.IsZero() {
			return append(b, "null"...), nil
		}
		b = append(b, '"')
		b = v.Interface().(time.Time).AppendFormat(b, time.RFC3339Nano)
		return append(b, '"'), nil
	case t.Kind() == reflect.Interface, t.Kind() == reflect.Pointer:
		return appendJSON(b, v.Elem())
	case t.Implements(marshalType), t.Implements(textType):
		return appendStandard(b, v)
	}
	switch t.Kind() {
	case reflect.Float64, reflect.Float32:
		return appendFloat(b, v.Float()), nil
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return strconv.AppendInt(b, v.Int(), 10), nil
	case reflect.Bool:
		return strconv.AppendBool(b, v.Bool()), nil
	case reflect.Struct:
		return appendStruct(b, v)
	case reflect.Map:
		return appendMap(b, v)
	case reflect.Slice, reflect.Array:
		if t.Elem().Kind() == reflect.Uint8 {
			return appendStandard(b, v)
		}
		return appendList(b, v)
	}
	return appendStandard(b, v)
}

// appendStandard writes a value as encoding/json does.
func appendStandard(b []byte, v reflect.Value) ([]byte, error) {
	out := appender{b}
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(v.Interface()); err != nil {
		return b, fmt.Errorf("api: writing JSON: %w", err)
	}
	return out.b[:len(out.b)-1], nil // without its newline
}

type appender struct{ b []byte }

func (a *appender) Write(p []byte) (int, error) {
	a.b = append(a.b, p...)
	return len(p), nil
}

// digits is how many digits of a number are written: more than any is known to,
// and a third less to carry than all of them.
const digits = 9

// appendFloat writes a number to nine significant digits; unknown is null.
func appendFloat(b []byte, f float64) []byte {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return append(b, "null"...)
	}
	return strconv.AppendFloat(b, f, 'g', digits, 64)
}

func appendList(b []byte, v reflect.Value) ([]byte, error) {
	b = append(b, '[')
	var err error
	for i := range v.Len() {
		if i > 0 {
			b = append(b, ',')
		}
		if b, err = appendJSON(b, v.Index(i)); err != nil {
			return b, err
		}
	}
	return append(b, ']'), nil
}

// appendMap writes a map by rising key.
func appendMap(b []byte, v reflect.Value) ([]byte, error) {
	keys := v.MapKeys()
	sort.Slice(keys, func(i, j int) bool { return fmt.Sprint(keys[i]) < fmt.Sprint(keys[j]) })
	b = append(b, '{')
	var err error
	for i, k := range keys {
		if i > 0 {
			b = append(b, ',')
		}
		if b, err = appendStandard(b, reflect.ValueOf(fmt.Sprint(k))); err != nil {
			return b, err
		}
		if b, err = appendJSON(append(b, ':'), v.MapIndex(k)); err != nil {
			return b, err
		}
	}
	return append(b, '}'), nil
}

// member is one member of a struct's JSON.
type member struct {
	name      string
	index     []int
	omitEmpty bool
	omitZero  bool
	typ       reflect.Type
}

var membersOf sync.Map // reflect.Type to []member

// members lists what encoding/json would write of a struct, embedded structs laid
// open.
func members(t reflect.Type) []member {
	if m, ok := membersOf.Load(t); ok {
		return m.([]member)
	}
	var out []member
	for i := range t.NumField() {
		f := t.Field(i)
		name, opts, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case name == "-":
			continue
		case f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct:
			for _, m := range members(f.Type) {
				m.index = append([]int{i}, m.index...)
				out = append(out, m)
			}
			continue
		case !f.IsExported():
			continue
		}
		if name == "" {
			name = f.Name
		}
		out = append(out, member{name: name, index: []int{i}, typ: f.Type,
			omitEmpty: strings.Contains(opts, "omitempty"), omitZero: strings.Contains(opts, "omitzero")})
	}
	membersOf.Store(t, out)
	return out
}

func appendStruct(b []byte, v reflect.Value) ([]byte, error) {
	b = append(b, '{')
	first := true
	var err error
	for _, m := range members(v.Type()) {
		f := v.FieldByIndex(m.index)
		if m.omitZero && f.IsZero() || m.omitEmpty && empty(f) {
			continue
		}
		if !first {
			b = append(b, ',')
		}
		first = false
		b = append(b, '"')
		b = append(b, m.name...) // names in tags need no escape
		if b, err = appendJSON(append(b, '"', ':'), f); err != nil {
			return b, err
		}
	}
	return append(b, '}'), nil
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
