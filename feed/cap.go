package feed

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"budward/decide/weather"
)

const capSpace = "urn:oasis:names:tc:emergency:cap:1.2"

// capAlert mirrors the alert of CAP 1.2 (OASIS, 1 July 2010); only what is used.
type capAlert struct {
	Identifier string    `xml:"identifier"`
	Sender     string    `xml:"sender"`
	Sent       string    `xml:"sent"`
	Status     string    `xml:"status"`
	MsgType    string    `xml:"msgType"`
	Scope      string    `xml:"scope"`
	References string    `xml:"references"`
	Infos      []capInfo `xml:"info"`
}

type capInfo struct {
	Language    string     `xml:"language"`
	Event       string     `xml:"event"`
	Urgency     string     `xml:"urgency"`
	Severity    string     `xml:"severity"`
	Certainty   string     `xml:"certainty"`
	EventCodes  []capValue `xml:"eventCode"`
	Effective   string     `xml:"effective"`
	Onset       string     `xml:"onset"`
	Expires     string     `xml:"expires"`
	Headline    string     `xml:"headline"`
	Description string     `xml:"description"`
	Instruction string     `xml:"instruction"`
	Parameters  []capValue `xml:"parameter"`
	Areas       []capArea  `xml:"area"`
}

type capValue struct {
	Name  string `xml:"valueName"`
	Value string `xml:"value"`
}

type capArea struct {
	Desc     string     `xml:"areaDesc"`
	Polygons []string   `xml:"polygon"`
	Circles  []string   `xml:"circle"`
	Geocodes []capValue `xml:"geocode"`
}

// decodeCAP reads one alert, or several one after another or inside another
// element (as feeds wrap them). An alert with more than one language is taken once,
// in its first.
func decodeCAP(l *WarningList, text []byte) error {
	d := xml.NewDecoder(bytes.NewReader(text))
	found := 0
	for {
		tok, err := d.Token()
		line, _ := d.InputPos()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return capError(l.Origin, line, err)
		}
		start, ok := tok.(xml.StartElement)
		if !ok || start.Name.Local != "alert" {
			continue
		}
		if start.Name.Space != capSpace {
			return &Error{Origin: l.Origin, Line: line, Field: "alert", Value: "namespace " + strconv.Quote(short(start.Name.Space)), Want: capSpace}
		}
		if found++; found > MaxWarnings {
			return &Error{Origin: l.Origin, Line: line, Value: "too many alerts", Want: fmt.Sprintf("at most %d", MaxWarnings)}
		}
		var a capAlert
		if err := d.DecodeElement(&a, &start); err != nil {
			return capError(l.Origin, line, err)
		}
		if err := a.take(l, line); err != nil {
			return err
		}
	}
	if found == 0 {
		return &Error{Origin: l.Origin, Value: "no alert", Want: "an <alert> of " + capSpace}
	}
	return nil
}

func capError(origin string, line int, err error) error {
	e := &Error{Origin: origin, Line: line, Value: short(err.Error()), Want: "whole XML in UTF-8", Err: err}
	var syn *xml.SyntaxError
	if errors.As(err, &syn) && strings.Contains(syn.Msg, "unexpected EOF") {
		e.Value = "cut off before its end"
	}
	return e
}

// take turns an alert into warnings, or refuses it.
func (a *capAlert) take(l *WarningList, line int) error {
	refuse := func(field, value, why string) error {
		l.Refuse(weather.Refusal{Origin: l.Origin, Line: line, Field: field, Value: short(value), Why: why})
		return nil
	}
	a.trim()
	base := Warning{Source: l.Origin, Format: CAP, ID: a.Identifier, Sender: a.Sender, Actual: a.Status == "Actual"}
	var err error
	if base.SentAt, err = capTime(a.Sent); err != nil {
		return refuse("sent", a.Sent, err.Error())
	}
	switch {
	case a.Identifier == "" || a.Sender == "":
		return refuse("identifier, sender", a.Identifier+", "+a.Sender, "an alert has both")
	case a.MsgType == "Ack" || a.MsgType == "Error":
		return refuse("msgType", a.MsgType, "a reply between systems, not a warning")
	case capActions[a.MsgType] == "":
		return refuse("msgType", a.MsgType, "want Alert, Update or Cancel")
	case a.Status == "":
		return refuse("status", "", "want Actual, Exercise, System, Test or Draft")
	case len(a.Infos) == 0 && a.MsgType != "Cancel":
		return refuse("info", "", "an alert without info says nothing")
	}
	base.Action = capActions[a.MsgType]
	for _, triple := range strings.Fields(a.References) { // sender,identifier,sent
		if f := strings.Split(triple, ","); len(f) == 3 {
			base.References = append(base.References, f[1])
		} else {
			l.Refuse(weather.Refusal{Origin: l.Origin, Line: line, Field: "references", Value: short(triple), Why: "want sender,identifier,sent"})
		}
	}
	if len(a.Infos) == 0 { // a Cancel that only names what it cancels
		if len(base.References) == 0 {
			return refuse("references", "", "a Cancel names what it cancels")
		}
		l.Warnings = append(l.Warnings, base)
		return nil
	}
	for i := range a.Infos {
		in := &a.Infos[i]
		if in.Language != a.Infos[0].Language {
			l.Notes = append(l.Notes, fmt.Sprintf("alert %s: the text in language %s was not used", short(a.Identifier), short(in.Language)))
			continue
		}
		w := base
		if i > 0 {
			w.ID = fmt.Sprintf("%s/%d", base.ID, i+1)
		}
		if why := in.fill(&w, l, line); why != "" {
			refuse("info", in.Event, why)
			continue
		}
		l.Warnings = append(l.Warnings, w)
	}
	return nil
}

func (a *capAlert) trim() {
	for _, s := range []*string{&a.Identifier, &a.Sender, &a.Sent, &a.Status, &a.MsgType, &a.References} {
		*s = strings.TrimSpace(*s)
	}
	for i := range a.Infos {
		in := &a.Infos[i]
		in.Language, in.Event, in.Headline = strings.ToLower(strings.TrimSpace(in.Language)), strings.TrimSpace(in.Event), strings.TrimSpace(in.Headline)
		if in.Language == "" {
			in.Language = "en-us" // the standard's default
		}
	}
}

var capActions = map[string]WarningAction{"Alert": ActionNew, "Update": ActionContinued, "Cancel": ActionCancelled}

// capTime reads a dateTime with its offset; CAP writes UTC as -00:00.
func capTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, strings.TrimSpace(s))
	if err != nil {
		return time.Time{}, errors.New("not a time with its offset, such as 2022-01-02T04:00:00-06:00")
	}
	return t.UTC(), yearCheck(t)
}

// fill writes one info into w; why is empty when it can be used.
func (in *capInfo) fill(w *Warning, l *WarningList, line int) (why string) {
	w.Event, w.Headline = in.Event, in.Headline
	w.Urgency, w.Severity, w.Certainty = strings.TrimSpace(in.Urgency), strings.TrimSpace(in.Severity), strings.TrimSpace(in.Certainty)
	w.Text = strings.TrimSpace(strings.TrimSpace(in.Description) + "\n\n" + strings.TrimSpace(in.Instruction))
	if in.Event == "" {
		return "an info names its event"
	}
	if len(w.Text) > maxWarningText {
		return fmt.Sprintf("text of more than %d bytes", maxWarningText)
	}
	for _, v := range []struct {
		name, text string
		to         *time.Time
	}{{"onset", in.Onset, &w.OnsetAt}, {"expires", in.Expires, &w.MessageUntil}} {
		if strings.TrimSpace(v.text) == "" {
			continue
		}
		t, err := capTime(v.text)
		if err != nil {
			return v.name + ": " + err.Error()
		}
		*v.to = t
	}
	w.ExpiresAt = w.MessageUntil
	in.codes(w)
	if w.Significance == "" {
		words := strings.Fields(strings.ToLower(in.Event))
		switch s := Significance(words[len(words)-1]); s {
		case IsWarning, IsWatch, IsAdvisory, IsStatement:
			w.Significance = s
		}
	}
	w.Frost = aboutFrost(w.Phenomenon, w.Event)
	if !w.ExpiresAt.IsZero() && w.ExpiresAt.Before(w.OnsetAt) {
		return "it ends before it begins"
	}
	return in.areas(w, l, line)
}

// codes takes what the US service adds: the event code (FZW), the VTEC string and
// the end of the event.
func (in *capInfo) codes(w *Warning) {
	for _, c := range in.EventCodes {
		v := strings.TrimSpace(c.Value)
		if c.Name == "NationalWeatherService" && len(v) == 3 && significances[v[2:]] != "" {
			w.Phenomenon, w.Significance = v[:2], significances[v[2:]]
		}
	}
	for _, p := range in.Parameters {
		switch v := strings.TrimSpace(p.Value); strings.TrimSpace(p.Name) {
		case "eventEndingTime":
			if t, err := capTime(v); err == nil {
				w.ExpiresAt = t
			}
		case "VTEC":
			if c, err := parseVTEC(v); err == nil {
				c.fill(w)
			}
		}
	}
}

// areas takes the places; one that cannot be read is refused alone, but a warning
// that had places and keeps none is refused with them.
func (in *capInfo) areas(w *Warning, l *WarningList, line int) (why string) {
	refuse := func(field, value, why string) {
		l.Refuse(weather.Refusal{Origin: l.Origin, Line: line, Field: field, Value: short(value), Why: why})
	}
	for _, a := range in.Areas {
		name := strings.TrimSpace(a.Desc)
		area := WarningArea{Name: name}
		for _, g := range a.Geocodes {
			code := strings.TrimSpace(g.Value)
			if n := strings.TrimSpace(g.Name); n != "UGC" {
				code = n + "=" + code
			}
			area.Codes = append(area.Codes, code)
		}
		places := []WarningArea{}
		for _, s := range a.Polygons {
			ring, err := capPolygon(s)
			if err != nil {
				refuse("polygon", s, err.Error())
				continue
			}
			places = append(places, WarningArea{Name: name, Polygon: ring})
		}
		for _, s := range a.Circles {
			c, err := capCircle(s)
			if err != nil {
				refuse("circle", s, err.Error())
				continue
			}
			places = append(places, WarningArea{Name: name, Circle: c})
		}
		if len(area.Codes) > 0 || len(places) == 0 && len(a.Polygons)+len(a.Circles) == 0 {
			places = append([]WarningArea{area}, places...)
		}
		w.Areas = append(w.Areas, places...)
		if len(w.Areas)+len(area.Codes) > MaxWarningAreas {
			return fmt.Sprintf("more than %d areas", MaxWarningAreas)
		}
	}
	if len(in.Areas) > 0 && len(w.Areas) == 0 {
		return "none of its areas can be read"
	}
	return ""
}

// capPolygon reads "lat,lon lat,lon ...", closed, of at least four points.
func capPolygon(s string) ([][2]float64, error) {
	f := strings.Fields(s)
	if len(f) < 4 || len(f) > MaxPolygonPoints {
		return nil, fmt.Errorf("%d points; want 4 to %d, the last the same as the first", len(f), MaxPolygonPoints)
	}
	ring := make([][2]float64, len(f))
	for i, p := range f {
		lat, lon, err := capPoint(p)
		if err != nil {
			return nil, err
		}
		ring[i] = [2]float64{lon, lat}
	}
	if ring[0] != ring[len(ring)-1] {
		return nil, errors.New("not closed: the last point is not the first")
	}
	return ring, nil
}

func capPoint(s string) (lat, lon float64, err error) {
	a, b, ok := strings.Cut(s, ",")
	lat, why1 := parseNumber(a, false)
	lon, why2 := parseNumber(b, false)
	if !ok || why1 != "" || why2 != "" || lat < -90 || lat > 90 || lon < -180 || lon > 180 {
		return 0, 0, fmt.Errorf("%q is not latitude,longitude in degrees", short(s))
	}
	return lat, lon, nil
}

// capCircle reads "lat,lon radius" with the radius in km.
func capCircle(s string) (*Circle, error) {
	at, radius, ok := strings.Cut(strings.TrimSpace(s), " ")
	lat, lon, err := capPoint(at)
	if err != nil {
		return nil, err
	}
	km, why := parseNumber(strings.TrimSpace(radius), false)
	if !ok || why != "" || km < 0 || km > 20040 { // half around the earth
		return nil, errors.New("want latitude,longitude and a radius in km")
	}
	return &Circle{LonDeg: lon, LatDeg: lat, RadiusM: km * 1000}, nil
}
