package feed

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"
)

func TestPollAsksPolitely(t *testing.T) {
	notModified := func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("If-None-Match") != `"a1"` || r.Header.Get("If-Modified-Since") != "Tue, 09 Apr 2024 12:00:00 GMT" {
			t.Errorf("conditions %v", r.Header)
		}
		w.WriteHeader(http.StatusNotModified)
	}
	inBench(t, nil, func(b *bench) {
		t := b.t
		for i, want := range []Outcome{GotNew, Unchanged, GotNew, Unchanged} {
			if got, err := b.poll(); err != nil || got != want {
				t.Fatalf("try %d: %v, %v; want %v", i+1, got, err, want)
			}
		}
		if len(b.kept) != 2 || !b.kept[0].Batch.IssuedAt.Equal(utc("2024-04-09T12:00Z")) || b.kept[0].Batch.StationID != "flat" {
			t.Errorf("kept %+v", b.kept)
		}
		if o := b.kept[0].Batch.Origin; o != "http://weather.example/grid?token=hidden" {
			t.Errorf("origin %q", o)
		}
		h := b.head[0]
		if h.Get("User-Agent") != "budward/1.0 (spring frost forecasts for one farm; contact grower@farm.example)" || h.Get("Accept-Encoding") != "gzip" || h.Get("If-None-Match") != "" {
			t.Errorf("head %v", h)
		}
		s := b.p.Status()
		if s.State != PollWaiting || s.Failures != 0 || s.Problem != "" || !s.IssuedAt.Equal(utc("2024-04-09T13:00Z")) || s.LastSuccessAt.Before(s.LastNewAt) ||
			s.NextTryAt.Sub(s.LastSuccessAt) < DefaultPollEvery || s.NextTryAt.Sub(s.LastSuccessAt) > DefaultPollEvery*11/10 {
			t.Errorf("status %+v", s)
		}
	}, good(issuedNoon, "ETag", `"a1"`, "Last-Modified", "Tue, 09 Apr 2024 12:00:00 GMT"), notModified, good(issuedOne), good(issuedOne))
}

// Whatever the server does, the last good forecast stays, the failure has a name
// and a sentence, and the next good answer is taken.
func TestPollMisbehaviour(t *testing.T) {
	hang := func(w http.ResponseWriter, r *http.Request) { <-r.Context().Done() }
	drip := func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		for r.Context().Err() == nil {
			io.WriteString(w, " ")
			w.(http.Flusher).Flush()
			if (WallClock{}).Wait(r.Context(), time.Second) != nil {
				return
			}
		}
	}
	flood := func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		chunk := strings.Repeat(" ", 1<<20)
		for range 64 {
			if _, err := io.WriteString(w, chunk); err != nil {
				return
			}
		}
	}
	away := func(to string) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, to, http.StatusFound) }
	}
	text := forecastAt(issuedOne)
	bomb := zipped(strings.Repeat(" ", 3*MaxPollBytes))
	for name, c := range map[string]struct {
		serve http.HandlerFunc
		kind  PollFailure
		says  string
	}{
		"hangs":                   {hang, FailTimeout, "within 30s"},
		"drips":                   {drip, FailTimeout, "within 30s"},
		"hangs up":                {raw(""), FailUnreachable, "cannot be reached"},
		"speaks another language": {raw("220 smtp ready\r\n"), FailUnreachable, "malformed"},
		"huge, announced":         {raw("HTTP/1.1 200 OK\r\nContent-Length: 99999999999\r\n\r\nx"), FailTooLarge, "99999999999 bytes"},
		"huge, in chunks":         {flood, FailTooLarge, "larger than"},
		"endless head":            {raw("HTTP/1.1 200 OK\r\nX: " + strings.Repeat("x", 100<<10) + "\r\n\r\n"), FailUnreachable, "cannot be reached"},
		"shorter than announced":  {raw(fmt.Sprintf("HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s", len(text), text[:100])), FailTruncated, "broke off"},
		"chunks broken off":       {raw("HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n5\r\n{\"pro\r\n"), FailTruncated, "broke off"},
		"half a file":             {body("application/json", text[:100]), FailTruncated, "cut off"},
		"a web page":              {body("text/html; charset=utf-8", "<html>log in</html>"), FailType, "web page"},
		"a picture":               {body("image/png", "\x89PNG"), FailType, "image/png"},
		"a type that is none":     {body("//", text), FailType, "cannot be read"},
		"404":                     {status(404), FailStatus, "404 Not Found"},
		"500":                     {status(500), FailStatus, "500 Internal"},
		"429":                     {status(429), FailBusy, "asks to wait"},
		"206":                     {status(206), FailStatus, "206"},
		"204":                     {status(204), FailStatus, "204"},
		"garbage":                 {body("application/json", "{]}"), FailBadData, "invalid character"},
		"binary garbage":          {body("application/octet-stream", "\x00\x01\x02\xff"), FailBadData, "zero byte"},
		"nothing":                 {body("application/json", ""), FailBadData, "empty"},
		"readings":                {body("text/plain", goodLine), FailBadData, "holds a reading"},
		"bomb by encoding":        {body("application/json", bomb, "Content-Encoding", "gzip"), FailTooLarge, "larger than"},
		"bomb as a file":          {body("application/gzip", bomb), FailBadData, "larger than"},
		"torn packing":            {body("application/json", zipped(text)[:50], "Content-Encoding", "gzip"), FailTruncated, "broke off"},
		"not packed":              {body("application/json", text, "Content-Encoding", "gzip"), FailEncoding, "is not"},
		"packed otherwise":        {body("application/json", text, "Content-Encoding", "br"), FailEncoding, `"br"`},
		"sent on for ever":        {away("/again"), FailRedirect, "more than 5"},
		"sent to another host":    {away("http://elsewhere.example/grid"), FailRedirect, "another host"},
		"sent to another port":    {away("http://weather.example:8080/"), FailRedirect, "another port"},
		"sent to a file":          {away("file:///etc/hostname"), FailRedirect, "not fetched"},
		"sent on with a password": {away("http://a:b@weather.example/"), FailRedirect, "not fetched"},
		"issued before":           {good("2024-04-09T11:00:00+00:00"), FailOlder, "before the one there already"},
		"issued tomorrow":         {good("2024-04-11T11:00:00+00:00"), FailBadData, "yet to come"},
	} {
		t.Run(name, func(t *testing.T) {
			inBench(t, nil, func(b *bench) {
				t := b.t
				if _, err := b.poll(); err != nil {
					t.Fatal(err)
				}
				success := b.p.Status().LastSuccessAt
				_, err := b.poll()
				var pe *PollError
				if !errors.As(err, &pe) || pe.Kind != c.kind || !strings.Contains(pe.Why, c.says) || strings.Contains(err.Error(), "s3cret") {
					t.Fatalf("error %v (%+v), want %s with %q", err, pe, c.kind, c.says)
				}
				s := b.p.Status()
				if s.State != PollFailing || s.Failures != 1 || s.Failure != c.kind || s.Problem != pe.Why || !s.LastSuccessAt.Equal(success) || !s.NextTryAt.After(s.LastTryAt) {
					t.Errorf("status %+v", s)
				}
				if d, ok := b.p.Good(); !ok || !d.Batch.IssuedAt.Equal(utc("2024-04-09T12:00Z")) || len(b.kept) != 1 {
					t.Errorf("the last good forecast is lost: %v, %d kept", d.Batch.IssuedAt, len(b.kept))
				}
				b.mu.Lock()
				b.serve = []http.HandlerFunc{good(issuedOne)}
				b.mu.Unlock()
				if got, err := b.poll(); err != nil || got != GotNew || b.p.Status().Failures != 0 {
					t.Errorf("after it: %v, %v", got, err)
				}
			}, good(issuedNoon), c.serve)
		})
	}
}

func TestPollFollowsAtHome(t *testing.T) {
	inBench(t, nil, func(b *bench) {
		t := b.t
		if got, err := b.poll(); err != nil || got != GotNew {
			t.Errorf("%v, %v", got, err)
		}
	}, func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "/moved", http.StatusMovedPermanently)
	}, good(issuedNoon))
}
