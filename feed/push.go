package feed

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"budward/decide/weather"
)

// Bounds of readings pushed over HTTP.
const (
	DefaultPushBytes = 1 << 20
	DefaultPushRows  = 5000
	maxPushStations  = 100
	maxPushMembers   = 64 // of one row
)

// PushLimits bound and explain a push. Zero values take the defaults.
type PushLimits struct {
	MaxBytes int64
	MaxRows  int
	Origin   string    // who pushed, for provenance: "push from shed logger"
	FedAt    time.Time // stamped on the batches
	// Stations are those that may be pushed for, by ID; nil: any. Capitals do not
	// count, the ID written here is the one kept.
	Stations []string
}

// Pushed is what a push delivered.
type Pushed struct {
	Batches      []weather.Batch // one for each station that has a value, in order of their IDs; each with its own refusals
	Rows         int             // rows in the body
	Taken        int             // rows of which at least one value was taken
	Refused      []weather.Refusal
	RefusedTotal int // every refusal, those of the batches among them
}

func (p *Pushed) refuse(b *weather.Batch, r weather.Refusal) {
	p.RefusedTotal++
	if len(p.Refused) < weather.MaxRefused {
		p.Refused = append(p.Refused, r)
	}
	if b != nil {
		b.Refuse(r)
	}
}

// DecodePush reads readings pushed as JSON, an array of rows with the unit in
// every name:
//
//	[{"station": "flat", "at": "2026-04-09T05:10:00-07:00", "air_temp_c": -0.4, "rh_pct": 93},
//	 {"station": "flat", "at": "2026-04-09T12:20:00Z", "air_temp_f": 31.1}]
//
// Names are those of weather.VariableNames, with any unit that CSV columns may
// carry. `at` has its offset and is the time of the observation, or the end of
// the interval averaged over. A null is a gap. A row that cannot be read is
// refused whole, a value that cannot be read alone, each with its place in the
// array (from 1) as Line. Rates of rain are refused: over what time they held is
// not said. Values are not yet screened.
//
// An error is an *Error and means that nothing was taken: the body is too large,
// not whole, or not such an array. A push from which no value could be taken is no
// error: its refusals say why.
func DecodePush(r io.Reader, limits PushLimits) (Pushed, error) {
	if limits.MaxBytes <= 0 {
		limits.MaxBytes = DefaultPushBytes
	}
	if limits.MaxRows <= 0 {
		limits.MaxRows = DefaultPushRows
	}
	if limits.Origin == "" {
		limits.Origin = "push"
	}
	text, err := readAll(limits.Origin, r, limits.MaxBytes)
	if err != nil {
		return Pushed{}, err
	}
	d := pusher{limits: limits, d: json.NewDecoder(strings.NewReader(string(text))), batches: map[string]*weather.Batch{}, seen: map[pushKey]int{}}
	d.d.UseNumber()
	if err := d.body(); err != nil {
		var e *Error
		if errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		if !errors.As(err, &e) {
			err = jsonError(limits.Origin, text, err)
		}
		return Pushed{}, err
	}
	return d.result(), nil
}

type pushKey struct {
	station string
	v       weather.Variable
	at      int64
}

type pusher struct {
	limits  PushLimits
	d       *json.Decoder
	out     Pushed
	batches map[string]*weather.Batch
	seen    map[pushKey]int // row of the first value
}

func (p *pusher) result() Pushed {
	for _, b := range p.batches {
		if len(b.Samples) == 0 {
			continue
		}
		slices.SortStableFunc(b.Samples, func(x, y weather.Sample) int { return x.At.Compare(y.At) })
		p.out.Batches = append(p.out.Batches, *b)
	}
	slices.SortFunc(p.out.Batches, func(a, b weather.Batch) int { return strings.Compare(a.StationID, b.StationID) })
	return p.out
}

func (p *pusher) bad(value, want string) error {
	return &Error{Origin: p.limits.Origin, Value: short(value), Want: want}
}

// body reads the array and nothing after it.
func (p *pusher) body() error {
	tok, err := p.d.Token()
	if err != nil {
		return err
	}
	if tok != json.Delim('[') {
		return p.bad(fmt.Sprintf("begins with %v", tok), "an array of rows: [{\"station\": ..., \"at\": ..., \"air_temp_c\": ...}]")
	}
	for p.d.More() {
		if p.out.Rows++; p.out.Rows > p.limits.MaxRows {
			return p.bad(fmt.Sprintf("more than %d rows", p.limits.MaxRows), "at most so many at once; push the rest next")
		}
		if err := p.row(p.out.Rows); err != nil {
			return err
		}
	}
	if _, err := p.d.Token(); err != nil {
		return err
	}
	if _, err := p.d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("more text after the end of the array")
	}
	return nil
}

// pushRow is one row as read.
type pushRow struct {
	n      int
	fields map[string]any // string, json.Number, bool, nil, or the mark nested
	names  []string       // in the order written
	twice  string
}

type nestedValue struct{}

// row reads one row and takes it. An error is one of the whole body.
func (p *pusher) row(n int) error {
	tok, err := p.d.Token()
	if err != nil {
		return err
	}
	if tok != json.Delim('{') {
		if err := p.skip(tok); err != nil {
			return err
		}
		p.out.refuse(nil, weather.Refusal{Origin: p.limits.Origin, Line: n, Why: "not an object"})
		return nil
	}
	r := pushRow{n: n, fields: map[string]any{}}
	for p.d.More() {
		key, err := p.d.Token()
		if err != nil {
			return err
		}
		name, ok := key.(string)
		if !ok {
			return p.bad(fmt.Sprint(key), "a name")
		}
		v, err := p.d.Token()
		if err != nil {
			return err
		}
		if _, nested := v.(json.Delim); nested {
			if err := p.skip(v); err != nil {
				return err
			}
			v = nestedValue{}
		}
		if _, again := r.fields[name]; again && r.twice == "" {
			r.twice = name
		}
		if len(r.names) <= maxPushMembers {
			r.fields[name] = v
			r.names = append(r.names, name)
		}
	}
	if _, err := p.d.Token(); err != nil {
		return err
	}
	p.take(&r)
	return nil
}

// skip reads to the end of a value that was begun.
func (p *pusher) skip(begun json.Token) error {
	depth := 0
	for tok := begun; ; {
		switch tok {
		case json.Delim('['), json.Delim('{'):
			depth++
		case json.Delim(']'), json.Delim('}'):
			depth--
		}
		if depth == 0 {
			return nil
		}
		var err error
		if tok, err = p.d.Token(); err != nil {
			return err
		}
	}
}

// take turns a row into samples.
func (p *pusher) take(r *pushRow) {
	refuse := func(field, value, why string) {
		p.out.refuse(nil, weather.Refusal{Origin: p.limits.Origin, Line: r.n, Field: short(field), Value: short(value), Why: why})
	}
	switch {
	case r.twice != "":
		refuse(r.twice, "", "the name is there twice")
		return
	case len(r.names) > maxPushMembers:
		refuse("", fmt.Sprintf("%d names", len(r.names)), fmt.Sprintf("at most %d", maxPushMembers))
		return
	}
	station, why := p.station(r.fields["station"])
	if why != "" {
		refuse("station", fmt.Sprint(r.fields["station"]), why)
		return
	}
	text, _ := r.fields["at"].(string)
	at, err := time.Parse(time.RFC3339, text)
	if err == nil {
		err = yearCheck(at)
	}
	if err != nil {
		refuse("at", fmt.Sprint(r.fields["at"]), "not a time with its offset, such as 2026-04-09T05:10:00-07:00")
		return
	}
	b := p.batches[station]
	if b == nil {
		if len(p.batches) >= maxPushStations {
			refuse("station", station, fmt.Sprintf("more than %d stations in one push", maxPushStations))
			return
		}
		b = &weather.Batch{StationID: station, Kind: weather.Reading, Origin: p.limits.Origin, FedAt: p.limits.FedAt}
		p.batches[station] = b
	}
	before := len(b.Samples)
	for _, name := range r.names {
		if name != "station" && name != "at" {
			p.value(b, r, name, at.UTC())
		}
	}
	if len(b.Samples) > before {
		p.out.Taken++
	}
}

// station finds the station a row is for.
func (p *pusher) station(v any) (id, why string) {
	id, ok := v.(string)
	id = strings.TrimSpace(id)
	if !ok || id == "" || len(id) > 100 {
		return "", "want the ID of a station"
	}
	if p.limits.Stations == nil {
		return id, ""
	}
	for _, s := range p.limits.Stations {
		if strings.EqualFold(s, id) {
			return s, ""
		}
	}
	return "", "there is no such station, or it may not be pushed for; want one of " + short2(strings.Join(p.limits.Stations, ", "), 200)
}

// value takes one value of a row.
func (p *pusher) value(b *weather.Batch, r *pushRow, name string, at time.Time) {
	refuse := func(value any, why string) {
		p.out.refuse(b, weather.Refusal{Origin: b.Origin, Line: r.n, Field: short(name), Value: short(fmt.Sprint(value)), Why: why})
	}
	v, unit, ok := variableKey(name)
	conv, fits := conversion{}, false
	if ok {
		conv, fits = unitFor(v, suffixUnit(v, unit))
	}
	switch {
	case ok && unit == "" && name != v.String():
		refuse(r.fields[name], "the name has no unit; want one of "+strings.Join(pushNames(v), ", "))
		return
	case !ok || !fits:
		refuse(r.fields[name], "not a name that is known; want station, at, or a variable with its unit such as "+strings.Join(weather.VariableNames()[:5], ", "))
		return
	case conv.dim == waterRate:
		refuse(r.fields[name], "a rate of rain does not say over what time it held; want rain_mm")
		return
	}
	if r.fields[name] == nil {
		b.Gaps++
		return
	}
	num, isNumber := r.fields[name].(json.Number)
	x, err := num.Float64()
	switch {
	case !isNumber || err != nil:
		refuse(r.fields[name], "not a number")
		return
	case slices.Contains(missingNumbers, x) && !v.Plausible(conv.apply(x)):
		b.Gaps++ // a mark for a missing value that the logger sent on
		return
	}
	x = conv.apply(x)
	k := pushKey{b.StationID, v, at.UnixNano()}
	first, again := p.seen[k]
	switch {
	case math.IsInf(x, 0):
		refuse(num, "too large a number")
	case again:
		refuse(num, fmt.Sprintf("%s at this time is in row %d already; the first counts", v.Label(), first))
	default:
		p.seen[k] = r.n
		b.Samples = append(b.Samples, weather.Sample{At: at, Var: v, Value: x})
	}
}

// suffixUnit is the plain unit of a name's ending.
func suffixUnit(v weather.Variable, suffix string) string {
	for _, d := range dimensions(v) {
		for _, u := range unitNames[d] {
			if u.suffix == suffix && unitFits(v, u.unit) {
				return u.unit
			}
		}
	}
	return ""
}

func pushNames(v weather.Variable) (out []string) {
	for _, s := range suffixes(v) {
		out = append(out, baseName(v)+"_"+s)
	}
	return out
}
