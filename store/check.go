package store

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"time"

	"budward/decide/weather"
	"budward/vineyard/farm"
	"budward/vineyard/vine"
)

// CheckFarm reports everything that would make a farm unreadable or ambiguous
// once kept, joined into one error of *InvalidError: missing or double IDs,
// references to things that are not there, numbers that are not finite. Whether
// the values make sense in a vineyard is for package farm to say.
func CheckFarm(f farm.Farm) error {
	c := checker{}
	c.notEmpty("farm", "id", f.ID)
	c.notEmpty("farm", "zone", f.Zone)
	stations := ids(&c, "station", f.Stations, func(s farm.Station) string { return s.ID })
	sources := ids(&c, "source", f.Sources, func(s farm.Source) string { return s.ID })
	equipment := ids(&c, "equipment", f.Equipment, func(e farm.Equipment) string { return e.ID })
	ids(&c, "person", f.People, func(p farm.Person) string { return p.ID })
	ids(&c, "block", f.Blocks, func(b farm.Block) string { return b.ID })
	for _, b := range f.Blocks {
		where := "block " + b.ID
		c.known(where, "station_id", b.StationID, stations, "a station")
		c.known(where, "system.source_id", b.System.SourceID, sources, "a source")
		for _, id := range b.Protection {
			c.known(where, "protection", id, equipment, "a piece of equipment")
		}
		names := ids(&c, where+" strip", b.Strips, func(s farm.Strip) string { return s.Name })
		c.known(where, "system.wets_strip", b.System.WetsStrip, names, "a strip of the block")
	}
	c.finite("farm", "", reflect.ValueOf(f))
	return errors.Join(c.errs...)
}

type checker struct{ errs []error }

func (c *checker) add(where, field, value, want string) {
	c.errs = append(c.errs, &InvalidError{where, field, value, want})
}

func (c *checker) notEmpty(where, field, value string) {
	if value == "" {
		c.add(where, field, "empty", "a name")
	}
}

func (c *checker) known(where, field, id string, set map[string]bool, what string) {
	if id != "" && !set[id] {
		c.add(where, field, strconv.Quote(id), what+" of this farm")
	}
}

func ids[T any](c *checker, what string, list []T, id func(T) string) map[string]bool {
	seen := make(map[string]bool, len(list))
	for i, x := range list {
		switch v := id(x); {
		case v == "":
			c.add(fmt.Sprintf("%s %d", what, i+1), "id", "empty", "an ID")
		case seen[v]:
			c.add(what+" "+v, "id", "there twice", "an ID of its own")
		default:
			seen[v] = true
		}
	}
	return seen
}

// finite walks v and reports numbers that are NaN or infinite; they have no
// place in a JSON document.
func (c *checker) finite(where, path string, v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			c.add(where, path, strconv.FormatFloat(x, 'g', -1, 64), "a number")
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			c.finite(where, join(path, v.Type().Field(i).Name), v.Field(i))
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			c.finite(where, fmt.Sprintf("%s[%d]", path, i+1), v.Index(i))
		}
	case reflect.Pointer:
		if !v.IsNil() {
			c.finite(where, path, v.Elem())
		}
	}
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

// CheckBatch reports the first thing that keeps a batch from being kept: no
// station, an unknown kind, a forecast without and a reading with an issue time,
// a value that is not finite (gaps are counted, never kept as values), a time
// finer than a millisecond, two values for one variable and moment.
func CheckBatch(b weather.Batch) error {
	where := "batch from " + b.Origin
	bad := func(field, value, want string) error { return &InvalidError{where, field, value, want} }
	switch {
	case b.StationID == "":
		return bad("station", "empty", "a station's ID")
	case b.Kind != weather.Reading && b.Kind != weather.Forecast:
		return bad("kind", strconv.Quote(string(b.Kind)), "reading or forecast")
	case b.FedAt.IsZero():
		return bad("fed_at", "empty", "a time")
	case (b.Kind == weather.Forecast) == b.IssuedAt.IsZero():
		return bad("issued_at", b.IssuedAt.UTC().Format(time.RFC3339), "a time for a forecast, none for readings")
	case b.Gaps < 0:
		return bad("gaps", strconv.Itoa(b.Gaps), "a count")
	case b.HasElevation && (math.IsNaN(b.ElevationM) || math.IsInf(b.ElevationM, 0)):
		return bad("elevation_m", fmt.Sprint(b.ElevationM), "a number")
	}
	type key struct {
		at int64
		v  weather.Variable
	}
	seen := make(map[key]bool, len(b.Samples))
	for _, s := range b.Samples {
		at := s.At.UTC().Format(time.RFC3339Nano)
		if s.Var >= weather.NumVariables {
			return bad("variable", strconv.Itoa(int(s.Var)), "a known variable")
		}
		k := key{s.At.UnixMilli(), s.Var}
		switch {
		case math.IsNaN(s.Value) || math.IsInf(s.Value, 0):
			return bad(s.Var.String()+" at "+at, fmt.Sprint(s.Value), "a number; a missing value is counted as a gap")
		case s.At.IsZero():
			return bad("time of "+s.Var.String(), "empty", "a time")
		case !time.UnixMilli(k.at).Equal(s.At):
			return bad("time of "+s.Var.String(), at, "whole milliseconds")
		case seen[k]:
			return bad(s.Var.String()+" at "+at, "there twice", "one value for one moment")
		}
		seen[k] = true
	}
	return nil
}

// CheckStage reports the first thing that keeps a stage record from being kept:
// no block or time, an unknown unit, a stage there twice, a count that is not a
// whole number, or what package vine says against the mixture.
func CheckStage(r StageRecord) error {
	where := "stage of block " + r.BlockID
	bad := func(field, value, want string) error { return &InvalidError{where, field, value, want} }
	switch {
	case r.BlockID == "":
		return bad("block", "empty", "a block's ID")
	case r.At.IsZero():
		return bad("at", "empty", "a time")
	case r.Unit != Shoots && r.Unit != Shares:
		return bad("unit", strconv.Quote(string(r.Unit)), "shoots or shares")
	}
	seen := map[vine.Stage]bool{}
	for _, n := range r.Counts {
		if seen[n.Stage] {
			return bad("stage", n.Stage.String()+" there twice", "each stage once")
		}
		// NaN fails the first; 1e9 fits an int on every machine, and vine's own limit is lower.
		if r.Unit == Shoots && (n.Amount != math.Trunc(n.Amount) || math.Abs(n.Amount) > 1e9) {
			return bad("amount at stage "+n.Stage.String(), strconv.FormatFloat(n.Amount, 'g', -1, 64), "a whole number of shoots")
		}
		seen[n.Stage] = true
	}
	if _, err := r.Mixture(); err != nil {
		return fmt.Errorf("%s: %w", where, err)
	}
	return nil
}

// Digest is a fingerprint of what a batch says: station, kind, issue time and
// samples in order of time and variable, whatever order they came in. The same
// file fed twice has one digest; origin and time of feeding do not enter.
func Digest(b weather.Batch) string {
	samples := slices.Clone(b.Samples)
	slices.SortFunc(samples, func(a, b weather.Sample) int { // by name: numbers may change
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Var.String(), b.Var.String()))
	})
	h := sha256.New()
	issued := int64(0)
	if !b.IssuedAt.IsZero() {
		issued = b.IssuedAt.UnixMilli()
	}
	fmt.Fprintf(h, "%q %q %d %d\n", b.StationID, b.Kind, issued, len(b.Samples))
	var buf [16]byte
	for _, s := range samples {
		fmt.Fprintf(h, "%s ", s.Var)
		binary.BigEndian.PutUint64(buf[:8], uint64(s.At.UnixMilli()))
		binary.BigEndian.PutUint64(buf[8:], math.Float64bits(s.Value))
		if s.Value == 0 { // engines may drop the sign of a zero
			binary.BigEndian.PutUint64(buf[8:], 0)
		}
		h.Write(buf[:])
	}
	return hex.EncodeToString(h.Sum(nil))
}

// SortSamples puts samples in order of time, then variable.
func SortSamples(list []weather.Sample) {
	slices.SortFunc(list, func(a, b weather.Sample) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Var, b.Var))
	})
}
