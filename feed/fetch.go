package feed

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"mime"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// PollFailure names why a try failed; the words are stable.
type PollFailure string

// The ways in which a try fails.
const (
	FailUnreachable PollFailure = "unreachable"   // no connection, or it broke
	FailTimeout     PollFailure = "timeout"       // not whole within the time allowed
	FailTruncated   PollFailure = "truncated"     // shorter than announced, or cut off
	FailTooLarge    PollFailure = "too-large"     // beyond MaxPollBytes, packed or not
	FailType        PollFailure = "wrong-type"    // a page, a picture: not data
	FailEncoding    PollFailure = "encoding"      // packed in a way that was not asked for
	FailRedirect    PollFailure = "redirect"      // sent elsewhere: too often, or to another host
	FailStatus      PollFailure = "http-status"   // the server says no
	FailBusy        PollFailure = "asked-to-wait" // 429 or 503
	FailBadData     PollFailure = "bad-data"      // whole, and not what it should be
	FailOlder       PollFailure = "older"         // issued before what is there already
	FailNotKept     PollFailure = "not-kept"      // good, but could not be kept; offered again
	FailTooSoon     PollFailure = "too-soon"      // asked for within MinPollSpacing
)

// PollError is a try that failed.
type PollError struct {
	Kind   PollFailure
	URL    string // without what looks like a secret
	Status int    // HTTP status; 0 = no answer
	Why    string // one sentence
	Err    error
}

func (e *PollError) Error() string { return e.URL + ": " + e.Why }

// Unwrap returns the underlying error.
func (e *PollError) Unwrap() error { return e.Err }

func (p *Poller) fail(kind PollFailure, ans *answer, why string, err error) *PollError {
	e := &PollError{Kind: kind, URL: p.shown, Why: strings.TrimPrefix(short2(why, 500), p.shown+": "), Err: err}
	if ans != nil {
		e.Status = ans.status
	}
	return e
}

// PollTransport returns a transport with its own bounds, for use by any number of
// pollers.
func PollTransport() *http.Transport {
	return &http.Transport{
		Proxy:                  http.ProxyFromEnvironment,
		DialContext:            (&net.Dialer{Timeout: 10 * time.Second}).DialContext,
		TLSHandshakeTimeout:    10 * time.Second,
		ResponseHeaderTimeout:  MaxPollTimeout,
		MaxResponseHeaderBytes: 64 << 10,
		MaxIdleConns:           10,
		IdleConnTimeout:        30 * time.Second,
		DisableCompression:     true, // unpacked here, within MaxPollBytes
		ForceAttemptHTTP2:      true,
	}
}

// checkPollURL refuses addresses that are not to be fetched.
func checkPollURL(text string) (*url.URL, error) {
	const longest = 2000
	bad := func(value, want string, err error) (*url.URL, error) {
		return nil, &Error{Origin: "address", Value: short(value), Want: want, Err: err}
	}
	if len(text) > longest {
		return bad(text, fmt.Sprintf("at most %d bytes", longest), nil)
	}
	u, err := url.Parse(text)
	switch {
	case err != nil:
		return bad("cannot be read", "an address such as https://example.org/forecast.json", err)
	case u.User != nil:
		return bad("holds a user name", "an address without user name and password: addresses are shown and kept", nil)
	case u.Scheme != "http" && u.Scheme != "https" || u.Hostname() == "":
		return bad(text, "an address that begins with https:// or http://", nil)
	}
	u.Fragment = ""
	return u, nil
}

var secretKey = regexp.MustCompile(`(?i)key|token|secret|passw|pwd|auth|sig|appid|apikey`)

// shownURL is an address for people and for keeping: values of parameters that
// look like a secret are left out.
func shownURL(u *url.URL) string {
	v := *u
	q := v.Query()
	changed := false
	for k := range q {
		if secretKey.MatchString(k) {
			q.Set(k, "hidden")
			changed = true
		}
	}
	if changed {
		v.RawQuery = q.Encode()
	}
	return v.String()
}

// answer is what a server said, with a body that is whole, unpacked and bounded.
type answer struct {
	at           time.Time
	status       int
	unchanged    bool
	body         []byte
	etag         string
	lastModified string
	modified     time.Time // Last-Modified, parsed; zero if there was none
	retryAfter   time.Duration
	fresh        time.Duration // how long the server calls the answer fresh
}

// fetch asks once.
func (p *Poller) fetch(ctx context.Context) (*answer, error) {
	ctx, cancel := context.WithTimeout(ctx, p.cfg.Timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, p.target.String(), nil)
	if err != nil {
		return nil, p.fail(FailUnreachable, nil, err.Error(), err)
	}
	req.Header.Set("User-Agent", userAgent(p.cfg.Version, p.cfg.Contact))
	req.Header.Set("Accept", accepted[p.cfg.Kind])
	req.Header.Set("Accept-Encoding", "gzip")
	if p.etag != "" {
		req.Header.Set("If-None-Match", p.etag)
	}
	if p.last != "" {
		req.Header.Set("If-Modified-Since", p.last)
	}
	client := http.Client{Transport: p.env.Transport, CheckRedirect: p.redirect}
	resp, err := client.Do(req)
	if err != nil {
		return nil, p.fetchError(nil, err)
	}
	defer resp.Body.Close()
	ans := p.answer(resp)
	switch {
	case resp.StatusCode == http.StatusNotModified && (p.etag != "" || p.last != ""):
		ans.unchanged = true
		return ans, nil
	case resp.StatusCode == http.StatusTooManyRequests, resp.StatusCode == http.StatusServiceUnavailable:
		return ans, p.fail(FailBusy, ans, fmt.Sprintf("the server asks to wait (%s)", statusText(resp)), nil)
	case resp.StatusCode != http.StatusOK:
		return ans, p.fail(FailStatus, ans, "the server answers "+statusText(resp), nil)
	}
	if err := p.checkHead(ans, resp); err != nil {
		return ans, err
	}
	return ans, p.readBody(ans, resp)
}

func userAgent(version, contact string) string {
	s := "budward"
	if version != "" {
		s += "/" + strings.ReplaceAll(version, " ", "-")
	}
	s += " (spring frost forecasts for one farm"
	if contact != "" {
		s += "; contact " + contact
	}
	return s + ")"
}

var accepted = map[PollKind]string{
	PollForecast: "application/geo+json, application/json, text/csv;q=0.9, text/plain;q=0.8, */*;q=0.1",
	PollReading:  "text/csv, text/plain;q=0.9, */*;q=0.1",
	PollWarning:  "application/cap+xml, application/xml, text/xml, text/plain;q=0.8, */*;q=0.1",
}

func statusText(r *http.Response) string {
	return strings.TrimSpace(fmt.Sprintf("%d %s", r.StatusCode, http.StatusText(r.StatusCode)))
}

// redirect follows to the same host only, and from http to https but not back.
func (p *Poller) redirect(req *http.Request, via []*http.Request) error {
	from, to := via[len(via)-1].URL, req.URL
	refuse := func(why string) error {
		return &PollError{Kind: FailRedirect, URL: p.shown, Why: why}
	}
	switch {
	case len(via) > MaxRedirects:
		return refuse(fmt.Sprintf("sent on more than %d times", MaxRedirects))
	case to.Scheme != "http" && to.Scheme != "https" || to.User != nil:
		return refuse("sent on to " + short(shownURL(to)) + ", which is not fetched")
	case !strings.EqualFold(to.Hostname(), from.Hostname()):
		return refuse("sent on to another host, " + short(to.Hostname()) + "; if that is right, give its address")
	case from.Scheme == "https" && to.Scheme == "http":
		return refuse("sent on from https to http")
	case from.Scheme == to.Scheme && port(from) != port(to), from.Scheme != to.Scheme && (port(from) != "80" || port(to) != "443"):
		return refuse("sent on to another port, " + short(to.Host) + "; if that is right, give its address")
	}
	return nil
}

func port(u *url.URL) string {
	if p := u.Port(); p != "" {
		return p
	}
	return map[string]string{"http": "80", "https": "443"}[u.Scheme]
}

// fetchError words what the transport or the reading of a body met.
func (p *Poller) fetchError(ans *answer, err error) error {
	var pe *PollError
	var timeout net.Error
	switch {
	case errors.As(err, &pe):
		return pe
	case errors.Is(err, context.DeadlineExceeded), errors.As(err, &timeout) && timeout.Timeout():
		return p.fail(FailTimeout, ans, fmt.Sprintf("no whole answer within %v", p.cfg.Timeout), err)
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, gzip.ErrChecksum):
		return p.fail(FailTruncated, ans, "the answer broke off before its end", err)
	}
	var ue *url.Error
	if errors.As(err, &ue) {
		err = ue.Err // without the address, which may hold a secret
	}
	return p.fail(FailUnreachable, ans, "cannot be reached: "+err.Error(), err)
}

// answer reads the head of a response.
func (p *Poller) answer(resp *http.Response) *answer {
	now := p.env.Clock.Now()
	h := resp.Header
	a := &answer{at: now, status: resp.StatusCode}
	if v := h.Get("ETag"); len(v) <= maxValidator {
		a.etag = v
	}
	if t, err := http.ParseTime(h.Get("Last-Modified")); err == nil {
		a.lastModified, a.modified = h.Get("Last-Modified"), t.UTC()
	}
	a.retryAfter = retryAfter(h.Get("Retry-After"), now)
	a.fresh = maxAge(h.Get("Cache-Control"))
	return a
}

// retryAfter reads seconds or a date; 0 = nothing that can be read.
func retryAfter(s string, now time.Time) time.Duration {
	s = strings.TrimSpace(s)
	if isDigits(s, len(s)) && s != "" {
		n, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return MaxRetryAfter // more digits than a number holds
		}
		return time.Duration(math.Min(n*float64(time.Second), float64(MaxRetryAfter)))
	}
	if t, err := http.ParseTime(s); err == nil {
		return min(max(t.Sub(now), 0), MaxRetryAfter)
	}
	return 0
}

var maxAgePattern = regexp.MustCompile(`(?i)(?:^|[\s,])max-age=(\d{1,9})(?:$|[\s,])`)

func maxAge(cacheControl string) time.Duration {
	m := maxAgePattern.FindStringSubmatch(cacheControl)
	if m == nil {
		return 0
	}
	n, err := strconv.Atoi(m[1])
	if err != nil {
		return 0
	}
	return min(time.Duration(n)*time.Second, MaxPollEvery)
}

// checkHead refuses what is not data before a byte of it is read.
func (p *Poller) checkHead(ans *answer, resp *http.Response) error {
	if n := resp.ContentLength; n > MaxPollBytes {
		return p.fail(FailTooLarge, ans, fmt.Sprintf("it has %d bytes; at most %d are taken", n, int64(MaxPollBytes)), nil)
	}
	switch enc := strings.ToLower(resp.Header.Get("Content-Encoding")); enc {
	case "", "identity", "gzip", "x-gzip":
	default:
		return p.fail(FailEncoding, ans, "it is packed as "+strconv.Quote(short(enc))+"; gzip or nothing was asked for", nil)
	}
	ct := resp.Header.Get("Content-Type")
	if ct == "" {
		return nil
	}
	media, _, err := mime.ParseMediaType(ct)
	switch {
	case err != nil:
		return p.fail(FailType, ans, "its type "+strconv.Quote(short(ct))+" cannot be read", err)
	case media == "text/html", media == "application/xhtml+xml":
		return p.fail(FailType, ans, "a web page came, not data (a login or an error page?)", nil)
	case strings.HasPrefix(media, "text/"), strings.HasSuffix(media, "json"), strings.HasSuffix(media, "xml"), strings.HasSuffix(media, "csv"),
		media == "application/octet-stream", media == "binary/octet-stream", media == "application/gzip", media == "application/x-gzip":
		return nil
	}
	return p.fail(FailType, ans, "its type is "+strconv.Quote(short(media))+"; want JSON, XML, CSV or text", nil)
}

// readBody reads a body whole and unpacks it, both within MaxPollBytes.
func (p *Poller) readBody(ans *answer, resp *http.Response) error {
	raw, err := io.ReadAll(io.LimitReader(resp.Body, MaxPollBytes+1))
	tooLarge := func() error {
		return p.fail(FailTooLarge, ans, fmt.Sprintf("it is larger than %d bytes", int64(MaxPollBytes)), nil)
	}
	switch {
	case err != nil:
		return p.fetchError(ans, err)
	case len(raw) > MaxPollBytes:
		return tooLarge()
	}
	enc := strings.ToLower(resp.Header.Get("Content-Encoding"))
	if enc == "gzip" || enc == "x-gzip" {
		zr, err := gzip.NewReader(bytes.NewReader(raw))
		if err == nil {
			raw, err = io.ReadAll(io.LimitReader(zr, MaxPollBytes+1))
		}
		switch {
		case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, gzip.ErrChecksum):
			return p.fetchError(ans, err)
		case err != nil:
			return p.fail(FailEncoding, ans, "it says it is packed with gzip and is not", err)
		case len(raw) > MaxPollBytes:
			return tooLarge()
		}
	}
	if len(bytes.TrimSpace(raw)) == 0 {
		return p.fail(FailBadData, ans, "the answer is empty", nil)
	}
	ans.body = raw
	return nil
}

// delay is how long to wait before the next try. After a good answer: the
// interval, or as long as the server calls it fresh if that is longer, and up to a
// tenth more, so that many farms do not ask at the same second. After the n-th
// failure in a row: between half and all of MinPollSpacing * 2^n, at most the
// interval; never less than the server asked for (Retry-After), nor than
// MinPollSpacing.
func (p *Poller) delay(failures int, ans *answer) time.Duration {
	if failures == 0 {
		d := p.cfg.Every
		if ans != nil {
			d = max(d, ans.fresh)
		}
		return d + time.Duration(p.env.Rand.Int64N(int64(d)/10+1))
	}
	most := p.cfg.Every
	d := most
	if failures < 20 {
		d = min(most, MinPollSpacing<<failures)
	}
	d = d/2 + time.Duration(p.env.Rand.Int64N(int64(d)/2+1))
	if ans != nil && ans.retryAfter > 0 {
		asked := ans.retryAfter
		d = max(d, asked+time.Duration(p.env.Rand.Int64N(int64(asked)/10+1)))
	}
	return max(d, MinPollSpacing)
}
