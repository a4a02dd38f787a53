// Package calc answers single formulas by name, for desk checks and teaching:
// quantities with their units go in as text, and the value comes out with its
// range of validity and its source. Nothing here computes physics of its own.
package calc

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"budward/physics/quantity"
)

// Schema names the layout of an Answer written as JSON.
const Schema = "budward.calc/1"

// Formula is one entry of the list.
type Formula struct {
	Name   string
	Title  string // in plain words
	Range  string // within which it is valid
	Source string
	Keys   []Key
	// Sets are the combinations of keys that give an answer, for the help text.
	Sets string
	run  func(in *inputs, a *Answer)
}

// Key is one input of a formula.
type Key struct {
	Name    string
	Means   string
	Example string
}

// Answer is what a formula gives.
type Answer struct {
	Name     string
	Title    string
	Inputs   []Item
	Result   []Item
	Range    string
	Source   string
	Defaults []string // values taken because none was given, and why
	Notes    []string
}

// Item is one named value: for JSON under Key in SI units, for people as Text.
type Item struct {
	Key   string
	Label string
	Value any // float64, int, bool, string, time.Time, map[string]float64, or nil = not known
	Text  func(quantity.System) string
}

// InputError says which input of a formula cannot be used.
type InputError struct {
	Formula, Key, Value, Want string
	Err                       error // the parser's own words; may be nil
}

func (e *InputError) Error() string {
	s := "calc " + e.Formula + ": "
	if e.Key != "" {
		s += e.Key
		if e.Value != "" {
			s += " = " + e.Value
		}
		s += ": "
	}
	return s + e.Want
}

// Unwrap returns the parser's error.
func (e *InputError) Unwrap() error { return e.Err }

// Formulas lists all formulas by name.
func Formulas() []Formula {
	out := append([]Formula(nil), register()...)
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// Run works out the formula called name from texts such as "t=2C". Text that
// cannot be used is an *InputError; a value outside the range of a formula is
// the formula's own error, a *quantity.RangeError as a rule.
func Run(name string, args []string) (Answer, error) {
	var f *Formula
	var names []string
	for _, x := range Formulas() {
		if names = append(names, x.Name); x.Name == strings.ToLower(name) {
			f = &x
			break
		}
	}
	if f == nil {
		return Answer{}, &InputError{Formula: name, Want: "there is no such formula; one of " + strings.Join(names, ", ")}
	}
	in, err := read(f, args)
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Name: f.Name, Title: f.Title, Range: f.Range, Source: f.Source}
	f.run(in, &a)
	if in.err == nil {
		in.unused()
	}
	if in.err != nil {
		return Answer{}, in.err
	}
	a.Inputs, a.Defaults = in.echo, in.defaults
	return a, nil
}

// read cuts arguments into keys and texts.
func read(f *Formula, args []string) (*inputs, error) {
	in := &inputs{f: f, text: map[string]string{}, used: map[string]bool{}}
	for _, arg := range args {
		k, v, ok := strings.Cut(arg, "=")
		k, v = strings.ToLower(strings.TrimSpace(k)), strings.TrimSpace(v)
		switch _, twice := in.text[k]; {
		case !ok || k == "":
			return nil, &InputError{Formula: f.Name, Key: arg, Want: "an input is written key=value, such as " + f.example()}
		case v == "":
			return nil, &InputError{Formula: f.Name, Key: k, Want: "no value after the equals sign"}
		case !f.has(k):
			return nil, &InputError{Formula: f.Name, Key: k, Value: v, Want: "no such input; " + f.Sets}
		case twice:
			return nil, &InputError{Formula: f.Name, Key: k, Value: v, Want: "given twice"}
		}
		in.text[k] = v
	}
	return in, nil
}

func (f *Formula) has(key string) bool {
	for _, k := range f.Keys {
		if k.Name == key {
			return true
		}
	}
	return false
}

// example is the first key with its example.
func (f *Formula) example() string { return f.Keys[0].Name + "=" + f.Keys[0].Example }

// Usage is the call of a formula with an example for every input.
func (f Formula) Usage() string {
	var b strings.Builder
	fmt.Fprintf(&b, "budward calc %s", f.Name)
	for _, k := range f.Keys {
		v := k.Example
		if strings.ContainsAny(v, " ") {
			v = "'" + v + "'"
		}
		fmt.Fprintf(&b, " %s=%s", k.Name, v)
	}
	return b.String()
}

// plain wraps a text that is the same in both systems.
func plain(s string) func(quantity.System) string {
	return func(quantity.System) string { return s }
}

// number is an item in SI units printed as it is.
func number(key, label string, v float64, unit string) Item {
	return Item{key, label, v, plain(strings.TrimSpace(significant(v) + " " + unit))}
}

func temperature(key, label string, v quantity.Celsius) Item {
	return Item{key, label, float64(v), func(s quantity.System) string { return s.Temperature(v) }}
}

func share(key, label string, v float64) Item {
	return Item{key, label, v, plain(significant(v) + "  (" + percent(v) + ")")}
}

func moment(key, label string, v time.Time) Item {
	return Item{key, label, v, plain(v.Format("Mon 2 Jan 2006 15:04:05 MST"))}
}

func unknown(key, label, why string) Item { return Item{key, label, nil, plain("none: " + why)} }
