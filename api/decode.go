package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"
)

// maxDepth bounds how deep a body may nest; none of ours needs six.
const maxDepth = 32

// decode reads one JSON value. Unlike encoding/json it refuses what that would
// pass over: text that is not UTF-8, and a name that stands twice in an object,
// of which only the last would count.
func decode(data []byte, v any) error {
	if _, first := v.(*any); first { // huma reads each body twice: this is the first time
		if err := strict(data); err != nil {
			return err
		}
	}
	return placed(data, json.Unmarshal(data, v))
}

// placed adds where in the body a fault is.
func placed(data []byte, err error) error {
	var syntax *json.SyntaxError
	if !errors.As(err, &syntax) {
		return err
	}
	before := data[:min(int(syntax.Offset), len(data))]
	line := 1 + bytes.Count(before, []byte("\n"))
	column := len(before) - (bytes.LastIndexByte(before, '\n') + 1)
	return fmt.Errorf("line %d, character %d: %w", line, column, err)
}

func strict(data []byte) error {
	if !utf8.Valid(data) {
		return errors.New("not UTF-8")
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var open []map[string]bool // names seen in each open object; nil for a list
	key := false               // the next string is a name
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return placed(data, err)
		}
		switch x := t.(type) {
		case json.Delim:
			switch x {
			case '{':
				open, key = append(open, map[string]bool{}), true
			case '[':
				open, key = append(open, nil), false
			default:
				open = open[:len(open)-1]
				key = len(open) > 0 && open[len(open)-1] != nil
			}
			if len(open) > maxDepth {
				return fmt.Errorf("nested deeper than %d", maxDepth)
			}
			continue
		case string:
			if key {
				names := open[len(open)-1]
				if names[x] {
					return fmt.Errorf("the name %q stands twice in one object", cut(x))
				}
				names[x] = true
				key = false
				continue
			}
		}
		key = len(open) > 0 && open[len(open)-1] != nil
	}
}
