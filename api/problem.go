package api

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"unicode/utf8"

	"github.com/danielgtaylor/huma/v2"
)

// Kind is one kind of problem. Its name is stable: programs may rely on it.
type Kind struct {
	Name   string `json:"name"`
	Status int    `json:"status"`
	Title  string `json:"title"`
	Means  string `json:"means" doc:"what to do about it"`
}

// The kinds of problems.
var (
	Malformed   = Kind{"malformed", http.StatusBadRequest, "Cannot be read", "The body is not the JSON it should be; the place is named."}
	Invalid     = Kind{"invalid", http.StatusUnprocessableEntity, "Not accepted", "A value is wrong; each is named with what was expected."}
	NoAnswer    = Kind{"no-answer", http.StatusUnprocessableEntity, "No answer", "The question is understood, but what is known does not answer it; the detail says what would."}
	NotFound    = Kind{"not-found", http.StatusNotFound, "Not there", "What was asked for is not kept, or the address is none of the program's."}
	Conflict    = Kind{"conflict", http.StatusConflict, "Does not fit what is kept", "It has changed meanwhile, or is there already; look again and repeat if still wanted."}
	WrongMethod = Kind{"method", http.StatusMethodNotAllowed, "Not with this method", "The header Allow lists the methods of this address."}
	Unreadable  = Kind{"media-type", http.StatusUnsupportedMediaType, "Not in this format", "Send JSON, or a file where a file is asked for."}
	TooLarge    = Kind{"too-large", http.StatusRequestEntityTooLarge, "Too large", "Send less at a time; the limit is named."}
	TooSlow     = Kind{"too-slow", http.StatusRequestTimeout, "Too slow", "The body did not come within the time allowed; nothing was taken."}
	Foreign     = Kind{"foreign", http.StatusForbidden, "From another site", "Pages of other sites may not change anything here."}
	WrongHost   = Kind{"host", http.StatusMisdirectedRequest, "Not by this name", "The program is reached by this machine's own name only, or by one it was told of when started."}
	Busy        = Kind{"busy", http.StatusServiceUnavailable, "Busy", "Too much is asked at once; try again after the time in the header Retry-After."}
	FarmFile    = Kind{"farm-file", http.StatusInternalServerError, "Trouble with the farm file", "The farm file or the disk is in trouble: the detail says which. Nothing was changed."}
	Fault       = Kind{"fault", http.StatusInternalServerError, "A fault in the program", "Please report it; what the program wrote when it happened helps."}
)

// Kinds lists every kind of problem.
func Kinds() []Kind {
	return []Kind{Malformed, Invalid, NoAnswer, NotFound, Conflict, WrongMethod, Unreadable, TooLarge, TooSlow, Foreign, WrongHost, Busy, FarmFile, Fault}
}

// URI names the kind in problem documents; what it means is listed there.
func (k Kind) URI() string { return prefix + "/problems#" + k.Name }

// kindOf is the kind of the problems that are found before a request is
// understood, by their status.
func kindOf(status int) Kind {
	for _, k := range Kinds() {
		if k.Status == status && k != NoAnswer && k != FarmFile {
			return k
		}
	}
	if status >= http.StatusInternalServerError {
		return Fault
	}
	return Invalid
}

// FieldError says which part of a request an error is about.
type FieldError struct {
	Location string // "body.strips[0].surface", "query.night", "path.id"
	Value    any    // as it was given; nil = not told
	Err      error
}

func (e *FieldError) Error() string { return e.Err.Error() }

// Unwrap returns the underlying error.
func (e *FieldError) Unwrap() error { return e.Err }

// At says which part of a request an error is about; a nil error stays nil, one
// that already names a part is left as it is.
func At(location string, value any, err error) error {
	var known *FieldError
	if err == nil || errors.As(err, &known) {
		return err
	}
	return &FieldError{location, value, err}
}

// refused is a value that the API itself does not accept.
type refused struct{ want string }

func (e *refused) Error() string { return "expected " + e.want }

func refuse(location string, value any, format string, a ...any) error {
	return &FieldError{location, value, &refused{fmt.Sprintf(format, a...)}}
}

// maxShown bounds what of a value is shown again in an error.
const maxShown = 120

func cut(s string) string {
	if len(s) <= maxShown {
		return s
	}
	end := maxShown
	for end > 0 && !utf8.RuneStart(s[end]) {
		end--
	}
	return s[:end] + "..."
}

// problem turns an error into the answer about it. Errors of the program itself
// are told to the log, not to the asker.
func (s *server) problem(err error) error {
	var own *refused
	kind := Invalid
	if !errors.As(err, &own) {
		kind = s.opts.Classify(err)
	}
	m := &huma.ErrorModel{Type: kind.URI(), Title: kind.Title, Status: kind.Status, Detail: oneLine(err)}
	if kind == Fault {
		s.opts.Log.Error("fault", "error", err)
		m.Detail = "The program failed at this; its log says more."
		return m
	}
	for _, e := range split(err) {
		var f *FieldError
		if errors.As(e, &f) {
			m.Errors = append(m.Errors, &huma.ErrorDetail{Message: oneLine(f), Location: f.Location, Value: f.Value})
		}
	}
	if kind == Busy {
		return huma.ErrorWithHeaders(m, http.Header{"Retry-After": {retryAfter}})
	}
	return m
}

// retryAfter is in seconds: a farm of twenty blocks is worked out in two.
const retryAfter = "5"

// split takes errors that were joined apart.
func split(err error) []error {
	many, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []error{err}
	}
	var out []error
	for _, e := range many.Unwrap() {
		out = append(out, split(e)...)
	}
	return out
}

func oneLine(err error) string { return strings.Join(strings.Fields(err.Error()), " ") }

// tidyProblem completes the problem documents that huma writes by itself: the
// kind, the place where only the body can be meant, and no more of a wrong value
// than helps.
func tidyProblem(_ huma.Context, _ string, v any) (any, error) {
	m, ok := v.(*huma.ErrorModel)
	if !ok {
		return v, nil
	}
	if m.Type == "" {
		k := kindOf(m.Status)
		m.Type, m.Title = k.URI(), k.Title
	}
	aboutBody := m.Status == http.StatusBadRequest || m.Status == http.StatusRequestEntityTooLarge || m.Status == http.StatusRequestTimeout
	if len(m.Errors) == 0 && aboutBody {
		m.Errors = []*huma.ErrorDetail{{Message: m.Detail, Location: "body"}}
	}
	for _, d := range m.Errors {
		switch x := d.Value.(type) {
		case string:
			d.Value = cut(x)
		case []any, map[string]any:
			d.Value = nil // large as the body may be; the place says enough
		}
	}
	return m, nil
}

// writeProblem answers outside huma.
func writeProblem(w http.ResponseWriter, k Kind, location, detail string) {
	m := &huma.ErrorModel{Type: k.URI(), Title: k.Title, Status: k.Status, Detail: detail}
	if location != "" {
		m.Errors = []*huma.ErrorDetail{{Message: detail, Location: location}}
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(k.Status)
	_ = encode(w, m) // the reader has gone if this fails
}
