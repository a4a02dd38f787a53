package app

import (
	"compress/gzip"
	"io"
	"net/url"
	"strings"
	"testing"
	"time"

	"budward/api"
)

// list reads a list inside an object.
func list(t *testing.T, o map[string]any, name string) []any {
	t.Helper()
	l, ok := o[name].([]any)
	if !ok {
		t.Fatalf("%s is no list but %v", name, o[name])
	}
	return l
}

// named finds the object of a list that has a value.
func named(t *testing.T, l []any, name string, value any) map[string]any {
	t.Helper()
	for _, x := range l {
		if o, ok := x.(map[string]any); ok && o[name] == value {
			return o
		}
	}
	t.Fatalf("nothing has the %s %v", name, value)
	return nil
}

// As a page does on a new farm: nothing is known, then a forecast comes, stages
// are seen, the floor is changed, and each changes the answer.
func TestServeFromNothingToTonight(t *testing.T) {
	p := templateFarm(t, badNow)
	s := p.serve(nil)
	h := s.get("/api/v1/health")
	if h["status"] != "attention" || !strings.Contains(list(t, h, "notes")[0].(string), "gate") {
		t.Errorf("without a forecast health is %v: %v", h["status"], h["notes"])
	}
	empty := s.get("/api/v1/tonight?units=metric")
	for _, b := range list(t, empty, "blocks") {
		if u := b.(map[string]any)["urgency"]; u != "unknown" {
			t.Errorf("without a forecast a block is %v", u)
		}
	}
	s.refused(api.NoAnswer, "query.night", "GET", "/api/v1/blocks/B1/course", "")
	s.refused(api.NoAnswer, "body.night", "POST", "/api/v1/blocks/B1/whatif", `{"alternatives":[{"label":"as it is"}]}`)

	csv := forecastCSV(60)
	s.refused(api.Invalid, "query.issued", "POST", "/api/v1/forecasts?name=f.csv", csv)
	taken := s.want(200, "POST", "/api/v1/forecasts?station=GATE&name=f.csv&issued="+url.QueryEscape("2026-04-08 14:00"), csv)
	feed := taken["feed"].(map[string]any)
	if feed["station_id"] != "gate" || feed["age_h"] != 1.0 || feed["issued_at"] != "2026-04-08T21:00:00Z" {
		t.Errorf("taken: %v", feed)
	}
	s.refused(api.Conflict, "body", "POST", "/api/v1/forecasts?name=again.csv&issued=2026-04-08T21:00Z", csv)

	before := s.get("/api/v1/tonight?units=metric")
	b1 := named(t, list(t, before, "blocks"), "block_id", "B1")
	if night := list(t, b1, "nights")[0].(map[string]any); night["covered"] != true || night["critical_t10_c"] != nil {
		t.Errorf("with a forecast and no stage the night is %v", night)
	}
	for _, block := range []string{"B1", "b2"} {
		s.want(201, "POST", "/api/v1/blocks/"+block+"/stages", `{"by":"Ines","shares":[{"stage":"EL 7","share":0.6},{"stage":"BBCH 09","share":0.4}]}`)
	}
	after := named(t, list(t, s.get("/api/v1/tonight?units=metric"), "blocks"), "block_id", "B1")
	night := list(t, after, "nights")[0].(map[string]any)
	if night["critical_t10_c"] == nil || night["risk"] == nil || len(list(t, after, "choices")) < 2 {
		t.Errorf("with a stage the night is %v", night)
	}
	floor := s.want(200, "PUT", "/api/v1/blocks/B1/floor", `{"by":"Ines","why":"mown","strips":[{"name":"middle","surface":"cover 18in","moisture":"18%"}]}`)
	if floor["revision"] != 2.0 {
		t.Errorf("the floor is kept as revision %v", floor["revision"])
	}
	changed := named(t, list(t, s.get("/api/v1/tonight?units=metric"), "blocks"), "block_id", "B1")
	gain := func(b map[string]any) float64 {
		return list(t, b, "nights")[0].(map[string]any)["floor_gain"].(map[string]any)["central_k"].(float64)
	}
	if gain(changed) >= gain(after) { // tall cover is colder than mown: science.md E1
		t.Errorf("floor gain %.2f K with mown grass, %.2f K with tall cover", gain(after), gain(changed))
	}
	course := s.get("/api/v1/blocks/B1/course?night=0")
	if hours := list(t, course, "hours"); len(hours) < 10 || course["critical_t10_c"] == nil {
		t.Errorf("the course has %d hours", len(hours))
	}
	a := s.ask("POST", "/api/v1/blocks/B1/whatif?units=us", `{"night":0,"alternatives":[{"label":"as it is"},{"label":"bare","floor":{"middle":"bare firm, moist"}},
		{"label":"water","run":"run water tonight","run_mm_h":3},{"label":"now","refill_start_at":"2026-04-08T22:00:00Z"}]}`)
	if a.status != 200 || strings.Count(string(a.body), `"choice":`) != 4 {
		t.Errorf("what if: status %d: %.300s", a.status, a.body)
	}
	if h := s.get("/api/v1/health"); h["status"] != "ok" || h["revision"] != 2.0 {
		t.Errorf("health is %v: %v", h["status"], h["notes"])
	}
}

// Every way of asking for what is not there or cannot be names the place.
func TestServeRefusals(t *testing.T) {
	p := templateFarm(t, badNow)
	p.ok("feed forecast --issued 2026-04-08T20:00Z", p.write("f.csv", forecastCSV(34)))
	s := p.serve(nil)
	csv := forecastCSV(20)
	s.refused(api.NotFound, "query.station", "POST", "/api/v1/forecasts?station=roof&issued=2026-04-08T21:00Z", csv)
	s.refused(api.Invalid, "query.issued", "POST", "/api/v1/forecasts?issued=lately", csv)
	s.refused(api.Invalid, "query.zone", "POST", "/api/v1/forecasts?zone=Mars&issued=2026-04-08T21:00Z", csv)
	s.refused(api.Invalid, "query.map", "POST", "/api/v1/forecasts?map=temp&issued=2026-04-08T21:00Z", csv)
	s.refused(api.Invalid, "query.format", "POST", "/api/v1/forecasts?format=punched", csv)
	s.refused(api.Invalid, "body.lines[1].encoding", "POST", "/api/v1/forecasts", "\x00\x01\x02")
	s.refused(api.Malformed, "body", "POST", "/api/v1/forecasts", "")
	s.refused(api.Invalid, "body.encoding", "POST", "/api/v1/forecasts", "\xff\xfet\x00i\x00")
	s.refused(api.Invalid, "body", "POST", "/api/v1/forecasts", "a line of no format")
	s.refused(api.Invalid, "body.lines[1].header", "POST", "/api/v1/forecasts?issued=2026-04-08T21:00Z", "time,rain\n2026-04-08T21:00Z,8\n")
	s.refused(api.Invalid, "body", "POST", "/api/v1/forecasts", packed(t, 70<<20))
	s.refused(api.NoAnswer, "query.night", "GET", "/api/v1/blocks/B1/course?night=5", "")
	s.refused(api.NoAnswer, "body.alternatives[0]", "POST", "/api/v1/blocks/B2/whatif", `{"alternatives":[{"label":"blow","run":"fan"}]}`)
	s.refused(api.NotFound, "path.id", "POST", "/api/v1/feeds/99/withdraw", `{"why":"wrong"}`)
	s.refused(api.NotFound, "path.sid", "DELETE", "/api/v1/blocks/B1/stages/99?why=x", "")
	s.refused(api.NotFound, "path.id", "GET", "/api/v1/blocks/B7/stages", "")
	s.refused(api.Conflict, "body.revision", "PUT", "/api/v1/blocks/B1/floor", `{"revision":9,"strips":[{"name":"middle","surface":"mown"}]}`)
	s.refused(api.Invalid, "body.strips[0].moisture", "PUT", "/api/v1/blocks/B1/floor", `{"strips":[{"name":"middle","moisture":"95%"}]}`)
}

// packed is a small file that unpacks to n zeros.
func packed(t *testing.T, n int) string {
	t.Helper()
	var b strings.Builder
	z := gzip.NewWriter(&b)
	if _, err := io.CopyN(z, zeros{}, int64(n)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// Stages and feeds can be withdrawn: they are kept, and count no longer.
func TestServeWithdraw(t *testing.T) {
	p := templateFarm(t, badNow)
	p.ok("feed forecast --issued 2026-04-08T20:00Z", p.write("f.csv", forecastCSV(34)))
	p.ok("feed readings", p.write("r.csv", "time,air_temp_c\n2026-04-08T18:00Z,8.0\n2026-04-08T19:00Z,46F\n2026-04-08T20:00Z,-9999\n2026-04-08T21:00Z,8.4\n"))
	s := p.serve(nil)
	feeds := s.get("/api/v1/feeds")
	all := list(t, feeds, "feeds")
	if len(all) != 2 || all[0].(map[string]any)["kind"] != "reading" || feeds["more"] != false {
		t.Fatalf("fed: %v", feeds)
	}
	r := all[0].(map[string]any)
	if r["refused"] != 1.0 || r["gaps"] != 1.0 || r["samples"] != 2.0 || r["age_h"] != 1.0 || r["issued_at"] != nil {
		t.Errorf("readings: %v", r)
	}
	if why := named(t, list(t, r, "refusals"), "line", 3.0); why["value"] != "46F" || why["why"] == "" {
		t.Errorf("refused: %v", why)
	}
	one := s.get("/api/v1/feeds?limit=1")
	if one["more"] != true || len(list(t, s.get("/api/v1/feeds?before=2"), "feeds")) != 1 || len(list(t, s.get("/api/v1/feeds?kind=forecast&station=gate"), "feeds")) != 1 {
		t.Errorf("a part: %v", one)
	}
	st := list(t, feeds, "stations")[0].(map[string]any)
	if st["forecast"] != "fresh" || st["forecast_age_h"] != 2.0 || st["readings"] != "fresh" || st["readings_to_at"] != "2026-04-08T21:00:00Z" {
		t.Errorf("fresh: %v", st)
	}
	gone := s.want(200, "POST", "/api/v1/feeds/1/withdraw", `{"why":"another place"}`)
	if gone["withdrawn_at"] == nil || gone["withdrawn_why"] != "another place" {
		t.Errorf("withdrawn: %v", gone)
	}
	s.refused(api.Conflict, "path.id", "POST", "/api/v1/feeds/1/withdraw", `{"why":"again"}`)
	if b := named(t, list(t, s.get("/api/v1/tonight"), "blocks"), "block_id", "B1"); b["urgency"] != "unknown" {
		t.Errorf("without the forecast the block is %v", b["urgency"])
	}
	look := s.want(201, "POST", "/api/v1/blocks/B1/stages", `{"at":"2026-04-07T19:00:00Z","counts":[{"stage":"woolly","shoots":40}],"note":"east rows"}`)
	s.refused(api.NotFound, "path.sid", "DELETE", "/api/v1/blocks/B2/stages/1?why=x", "")
	s.want(201, "POST", "/api/v1/blocks/B2/stages", `{"shares":[{"stage":"woolly","share":1}]}`)
	s.refused(api.NotFound, "path.sid", "DELETE", "/api/v1/blocks/B1/stages/2?why=x", "")
	s.want(204, "DELETE", "/api/v1/blocks/B1/stages/1?why=wrong+block", "")
	s.refused(api.Conflict, "path.sid", "DELETE", "/api/v1/blocks/B1/stages/1?why=x", "")
	if a := s.ask("GET", "/api/v1/blocks/B1/stages", ""); strings.TrimSpace(string(a.body)) != "[]" {
		t.Errorf("looks that count: %s", a.body)
	}
	if a := s.ask("GET", "/api/v1/blocks/B1/stages?withdrawn=true", ""); !strings.Contains(string(a.body), `"withdrawn_why":"wrong block"`) || look["note"] != "east rows" {
		t.Errorf("all looks: %s", a.body)
	}
}

// The answer for the demo's farm, which has everything, and for a far north
// without nights, which has nothing, are as the document says.
func TestServeContract(t *testing.T) {
	p := newProgram(t, "2026-06-20T12:00:00Z")
	p.ok("farm export --template", p.path("mine"))
	p.write("mine/farm.csv", "id,name,zone,lat,lon,elevation,currency,worst_loss,labour,hands_tonight\nnorth,North,Europe/Oslo,69.6N,19.0E,20m,EUR,,,\n")
	p.ok("farm import", p.path("mine"))
	s := p.serve(nil)
	if a := s.ask("GET", "/api/v1/tonight", ""); a.status != api.NoAnswer.Status || !strings.Contains(string(a.body), "sun") {
		t.Errorf("status %d: %s", a.status, a.body)
	}
	s.get("/api/v1/farm")
	s.get("/api/v1/feeds")

	if testing.Short() {
		return // two minutes under the race detector, and no more goroutines than the rest
	}
	d := newProgram(t, "2026-04-08T22:00:00Z")
	dir := d.path("demo")
	d.ok("demo --print --dir", dir)
	s = d.serve(func(o *ServeOptions) { o.FarmPath = dir + "/farm.db" })
	blocks := list(t, s.get("/api/v1/tonight?ahead=14&units=us"), "blocks")
	if len(blocks) < 12 {
		t.Fatalf("the demo has %d blocks", len(blocks))
	}
	for _, b := range blocks {
		id := b.(map[string]any)["block_id"].(string)
		if a := s.ask("GET", "/api/v1/blocks/"+id+"/course", ""); a.status != 200 && a.status != api.NoAnswer.Status {
			t.Errorf("course of %s: status %d", id, a.status)
		}
		s.ask("GET", "/api/v1/blocks/"+id+"/stages", "")
	}
	if len(list(t, s.get("/api/v1/feeds"), "skill")) == 0 {
		t.Error("two weeks of forecasts and readings show no skill")
	}
	s.get("/api/v1/farm")
	for _, want := range []string{"GET /api/v1/tonight 200", "GET /api/v1/blocks/{id}/course 200", "GET /api/v1/farm 200", "GET /api/v1/feeds 200"} {
		if !s.spec.checked[want] {
			t.Errorf("%s was not held against the document", want)
		}
	}
}

// An answer is used again while nothing changes, and never beyond an hour; its age
// is told.
func TestServeAge(t *testing.T) {
	p := templateFarm(t, badNow)
	p.ok("feed forecast --issued 2026-04-08T20:00Z", p.write("f.csv", forecastCSV(60)))
	s := p.serve(nil)
	first := s.get("/api/v1/tonight")
	s.pass(10 * time.Minute)
	again := s.get("/api/v1/tonight")
	if again["at"] != first["at"] || again["age_h"] != 0.2 || again["current"] != true {
		t.Errorf("ten minutes on: at %v, age %v, current %v", again["at"], again["age_h"], again["current"])
	}
	s.pass(51 * time.Minute)
	old := s.get("/api/v1/tonight?wait=false")
	if old["at"] != first["at"] || old["current"] != false {
		t.Errorf("an hour on, without waiting: at %v, current %v", old["at"], old["current"])
	}
	if a := s.ask("GET", "/api/v1/tonight", ""); strings.Contains(string(a.body), first["at"].(string)) || a.head.Get("Age") != "0" {
		t.Errorf("an hour on: Age %q", a.head.Get("Age"))
	}
	s.pass(-3 * time.Hour)
	if back := s.get("/api/v1/tonight"); back["age_h"] != 0.0 || back["at"] != "2026-04-08T13:01:00-07:00" {
		t.Errorf("with the clock put back to 13:01 the answer is of %v, age %v", back["at"], back["age_h"])
	}
}

// A logger pushes, pushes again because it heard nothing, and pushes nonsense.
func TestServePush(t *testing.T) {
	p := templateFarm(t, badNow)
	s := p.serve(nil)
	rows := `[{"station":"GATE","at":"2026-04-08T21:00:00Z","air_temp_c":8.1,"rh_pct":50},{"station":"gate","at":"2026-04-08T14:10:00-07:00","air_temp_f":46.4},
		{"station":"roof","at":"2026-04-08T21:00:00Z","air_temp_c":1},{"station":"gate","at":"2026-04-09T21:00:00Z","air_temp_c":1}]`
	got := s.want(200, "POST", "/api/v1/readings?from=shed", rows)
	fed := list(t, got, "feeds")
	if got["rows"] != 4.0 || got["refused"] != 2.0 || len(fed) != 1 {
		t.Fatalf("pushed: %v", got)
	}
	if f := fed[0].(map[string]any); f["origin"] != "push from shed" || f["samples"] != 3.0 || f["last_at"] != "2026-04-08T21:10:00Z" {
		t.Errorf("kept: %v", f)
	}
	again := s.want(200, "POST", "/api/v1/readings?from=shed", rows)
	if r := list(t, again, "repeated"); len(r) != 1 || r[0] != "gate" || len(list(t, again, "feeds")) != 0 {
		t.Errorf("pushed again: %v", again)
	}
	if n := len(list(t, s.get("/api/v1/feeds"), "feeds")); n != 1 {
		t.Errorf("%d batches are kept", n)
	}
	s.refused(api.Invalid, "body[0].station", "POST", "/api/v1/readings", `[{"station":"roof","at":"2026-04-08T21:00:00Z","air_temp_c":1}]`)
	s.refused(api.Invalid, "body[1].at", "POST", "/api/v1/readings", `[{"station":"roof","at":"2026-04-08T21:00:00Z","air_temp_c":1},{"station":"gate","at":"2026-04-08","air_temp_c":1}]`)
	s.refused(api.Invalid, "body", "POST", "/api/v1/readings", `[]`)
	s.refused(api.Invalid, "body", "POST", "/api/v1/readings", `{"station":"gate"}`)
	s.refused(api.TooLarge, "body", "POST", "/api/v1/readings", "["+strings.Repeat(" ", 1<<20)+"]")
	taken := s.want(200, "POST", "/api/v1/readings/file?name=r.csv&zone=farm", "time,air_temp_c\n2026-04-08 12:00,8.0\n2026-04-08 13:00,8.4\n")
	if f := taken["feed"].(map[string]any); f["kind"] != "reading" || f["samples"] != 2.0 {
		t.Errorf("taken: %v", taken)
	}
}

// Every file that the document names is made from the answer the page shows.
func TestServeSheets(t *testing.T) {
	p := templateFarm(t, badNow)
	s := p.serve(nil)
	p.ok("feed forecast --issued 2026-04-08T20:00Z", p.write("f.csv", forecastCSV(60)))
	for _, block := range []string{"B1", "B2"} {
		p.ok("stage record --block "+block, "EL 7")
	}
	named := 0
	for path := range s.spec.paths {
		if !strings.HasPrefix(path, "/api/v1/sheet/") {
			continue
		}
		named++
		a := s.ask("GET", path+"?units=metric", "")
		name := strings.TrimPrefix(path, "/api/v1/sheet/")
		if a.status != 200 || len(a.body) < 100 || !strings.Contains(a.head.Get("Content-Disposition"), name) {
			t.Errorf("%s: status %d, %d bytes, %q: %.200s", path, a.status, len(a.body), a.head.Get("Content-Disposition"), a.body)
		}
		if policy := a.head.Get("Content-Security-Policy"); strings.Contains(policy, "script") || !strings.Contains(policy, "default-src 'none'") {
			t.Errorf("%s: policy %q", path, policy)
		}
	}
	if named != len(sheets) {
		t.Errorf("%d files are named, %d are made", named, len(sheets))
	}
	s.refused(api.Invalid, "query.units", "GET", "/api/v1/sheet/night.html?units=imperial", "")
	s.refused(api.NotFound, "path", "GET", "/api/v1/sheet/night.pdf", "")
}
