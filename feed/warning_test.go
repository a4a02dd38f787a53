package feed

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// external returns the path of a program that a test needs: without it the test
// is left out with a clear message, and fails where CI=true promises it.
func external(t *testing.T, program, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not there: install %s", program, debianPackage)
		}
		t.Skipf("%s is not there (Debian package %s): left out", program, debianPackage)
	}
	return path
}

// The samples are CAP by the standard's own schema.
func TestCAPSamplesValidate(t *testing.T) {
	xmllint := external(t, "xmllint", "libxml2-utils")
	files, err := filepath.Glob("testdata/warnings/*.xml")
	if err != nil || len(files) < 4 {
		t.Fatalf("%d samples, %v", len(files), err)
	}
	for _, f := range files {
		if out, err := exec.Command(xmllint, "--noout", "--nonet", "--schema", "testdata/warnings/CAP-v1.2.xsd", f).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", f, err, out)
		}
	}
	// a check that cannot fail checks nothing
	bad := filepath.Join(t.TempDir(), "bad.xml")
	if err := os.WriteFile(bad, []byte(`<alert xmlns="urn:oasis:names:tc:emergency:cap:1.2"><identifier>x</identifier></alert>`), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := exec.Command(xmllint, "--noout", "--nonet", "--schema", "testdata/warnings/CAP-v1.2.xsd", bad).Run(); err == nil {
		t.Error("half an alert validates")
	}
}

func warnings(t *testing.T, name string) WarningList {
	t.Helper()
	f, err := os.Open("testdata/warnings/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	l, err := DecodeWarnings(name, f, WarningOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if l.RefusedTotal != 0 {
		t.Errorf("%s: refused %+v", name, l.Refused)
	}
	return l
}

func zulu(s string) time.Time {
	if s == "" {
		return time.Time{}
	}
	t, err := time.Parse("2006-01-02T15:04Z", s)
	if err != nil {
		panic(err)
	}
	return t
}

// Want: read off the texts by eye. Local times in them: 237 PM CST is 2037Z, 255 AM
// CST 0855Z, 457 AM CST 1057Z, 429 PM CDT 2129Z.
func TestTextProducts(t *testing.T) {
	type wanted struct {
		event, event_id string
		sig             Significance
		action          WarningAction
		sent, from, to  string
		until           string
		zones           int
		first           string
		headline        string
	}
	for name, list := range map[string][]wanted{
		"NPWLCH_00.txt": {
			{"Freeze Watch", "2022.KLCH.FZ.A.0001", IsWatch, ActionNew, "2021-12-31T20:37Z", "2022-01-02T06:00Z", "2022-01-02T15:00Z", "2022-01-01T14:00Z", 1, "TXZ180",
				"FREEZE WATCH IN EFFECT FROM LATE SATURDAY NIGHT THROUGH SUNDAY MORNING"}},
		"NPWLCH_01.txt": {
			{"Freeze Watch", "2022.KLCH.FZ.A.0001", IsWatch, ActionNew, "2022-01-01T08:55Z", "2022-01-03T06:00Z", "2022-01-03T16:00Z", "2022-01-01T23:00Z", 1, "TXZ180",
				"FREEZE WATCH IN EFFECT FROM LATE SUNDAY NIGHT THROUGH MONDAY MORNING"},
			{"Freeze Watch", "2022.KLCH.FZ.A.0001", IsWatch, ActionContinued, "2022-01-01T08:55Z", "2022-01-02T06:00Z", "2022-01-02T15:00Z", "2022-01-01T23:00Z", 1, "TXZ180",
				"FREEZE WATCH REMAINS IN EFFECT FROM LATE TONIGHT THROUGH SUNDAY MORNING"}},
		"NPWLCH_02.txt": {
			{"Freeze Watch", "2022.KLCH.FZ.A.0001", IsWatch, ActionUpgraded, "2022-01-01T10:57Z", "2022-01-02T06:00Z", "2022-01-02T15:00Z", "2022-01-01T19:00Z", 1, "TXZ180",
				"FREEZE WATCH REMAINS IN EFFECT FROM LATE SUNDAY NIGHT THROUGH MONDAY MORNING"},
			{"Freeze Warning", "2022.KLCH.FZ.W.0001", IsWarning, ActionNew, "2022-01-01T10:57Z", "2022-01-02T10:00Z", "2022-01-02T15:00Z", "2022-01-01T19:00Z", 1, "TXZ180",
				"FREEZE WARNING IN EFFECT FROM 4 AM TO 9 AM CST SUNDAY"},
			{"Freeze Watch", "2022.KLCH.FZ.A.0001", IsWatch, ActionContinued, "2022-01-01T10:57Z", "2022-01-03T06:00Z", "2022-01-03T16:00Z", "2022-01-01T19:00Z", 1, "TXZ180",
				"FREEZE WATCH REMAINS IN EFFECT FROM LATE SUNDAY NIGHT THROUGH MONDAY MORNING"}},
		"NPWBIS_frost_advisory_CCA.txt": {
			{"Frost Advisory", "2014.KBIS.FR.Y.0003", IsAdvisory, ActionNew, "2014-06-06T21:29Z", "2014-06-07T08:00Z", "2014-06-07T14:00Z", "2014-06-07T05:45Z", 12, "NDZ018",
				"FROST ADVISORY IN EFFECT FROM 3 AM CDT /2 AM MDT/ TO 9 AM CDT /8 AM MDT/ SATURDAY"}},
	} {
		l := warnings(t, name)
		if len(l.Warnings) != len(list) {
			t.Errorf("%s: %d warnings, want %d", name, len(l.Warnings), len(list))
			continue
		}
		for i, x := range list {
			w := l.Warnings[i]
			got := wanted{w.Event, w.EventID, w.Significance, w.Action, "", "", "", "", len(w.Areas[0].Codes), w.Areas[0].Codes[0], w.Headline}
			x2 := x
			x2.sent, x2.from, x2.to, x2.until = "", "", "", ""
			if got != x2 {
				t.Errorf("%s %d:\n got %+v\nwant %+v", name, i, got, x2)
			}
			for what, pair := range map[string][2]time.Time{"sent": {w.SentAt, zulu(x.sent)}, "onset": {w.OnsetAt, zulu(x.from)}, "expires": {w.ExpiresAt, zulu(x.to)}, "until": {w.MessageUntil, zulu(x.until)}} {
				if !pair[0].Equal(pair[1]) {
					t.Errorf("%s %d %s: %v, want %v", name, i, what, pair[0], pair[1])
				}
			}
			if !w.Actual || !w.Frost || w.Text == "" || w.Areas[0].Name == "" || w.Corrected != strings.Contains(name, "CCA") {
				t.Errorf("%s %d: %+v", name, i, w)
			}
		}
	}
	l := warnings(t, "NPWBIS_frost_advisory_CCA.txt")
	want := "NDZ018 NDZ019 NDZ020 NDZ032 NDZ033 NDZ034 NDZ040 NDZ041 NDZ042 NDZ043 NDZ044 NDZ045"
	if got := strings.Join(l.Warnings[0].Areas[0].Codes, " "); got != want {
		t.Errorf("zones %s", got)
	}
	if got := l.Warnings[0].Areas[0].Name; !strings.HasPrefix(got, "DUNN, MERCER, OLIVER") || !strings.HasSuffix(got, "SIOUX") {
		t.Errorf("names %q", got)
	}
}

// The CAP samples say the same as the texts they were made from.
func TestCAPAgreesWithText(t *testing.T) {
	for capFile, c := range map[string]struct {
		text  string
		index int
	}{
		"cap_freeze_watch.xml": {"NPWLCH_00.txt", 0}, "cap_freeze_warning_update.xml": {"NPWLCH_02.txt", 1}, "cap_frost_advisory.xml": {"NPWBIS_frost_advisory_CCA.txt", 0},
	} {
		a, b := warnings(t, capFile).Warnings[0], warnings(t, c.text).Warnings[c.index]
		if a.Event != b.Event || a.EventID != b.EventID || a.Phenomenon != b.Phenomenon || a.Significance != b.Significance || a.Headline != b.Headline ||
			a.Frost != b.Frost || a.Actual != b.Actual || !a.SentAt.Equal(b.SentAt) || !a.OnsetAt.Equal(b.OnsetAt) || !a.ExpiresAt.Equal(b.ExpiresAt) ||
			a.Areas[0].Codes[0] != b.Areas[0].Codes[0] {
			t.Errorf("%s:\n%+v\n%s:\n%+v", capFile, a, c.text, b)
		}
	}
}

func TestCAPOutline(t *testing.T) {
	l := warnings(t, "cap_outline_two_languages.xml")
	if len(l.Warnings) != 1 || len(l.Notes) != 1 || !strings.Contains(l.Notes[0], "language fr") {
		t.Fatalf("%d warnings, notes %q", len(l.Warnings), l.Notes)
	}
	w := l.Warnings[0]
	if w.Significance != IsWarning || !w.Frost || w.Phenomenon != "" || !w.OnsetAt.Equal(zulu("2026-04-09T00:00Z")) || !w.ExpiresAt.Equal(zulu("2026-04-09T07:00Z")) {
		t.Errorf("%+v", w)
	}
	for _, c := range []struct {
		lat, lon float64
		want     bool
	}{
		{46.2, 6.2, true}, {46.2, 6.6, false}, {6.2, 46.2, false}, // latitude comes first in CAP
		{47.05, 7, true}, {47.2, 7, false}, // 0.05 degrees of latitude are 5.6 km, 0.2 are 22
	} {
		if covered, known := w.Covers(c.lat, c.lon, nil); covered != c.want || !known {
			t.Errorf("%g %g: %v %v, want %v", c.lat, c.lon, covered, known, c.want)
		}
	}
	z := warnings(t, "NPWLCH_00.txt").Warnings[0]
	if _, known := z.Covers(30.8, -94.4, nil); known {
		t.Error("zones alone say nothing of a place")
	}
	if covered, known := z.Covers(30.8, -94.4, []string{"txz180"}); !covered || !known {
		t.Error("the zone itself is not covered")
	}
	if covered, _ := z.Covers(30.8, -94.4, []string{"TXZ181"}); covered {
		t.Error("another zone is covered")
	}
}

// A watch, its continuation and its upgrade, as the office sent them.
func TestInForce(t *testing.T) {
	var all []Warning
	for _, f := range []string{"NPWLCH_02.txt", "NPWLCH_00.txt", "NPWLCH_01.txt", "NPWBIS_frost_advisory_CCA.txt"} { // any order
		all = append(all, warnings(t, f).Warnings...)
	}
	list := func(at string) (out []string) {
		for _, w := range InForce(all, zulu(at)) {
			out = append(out, fmt.Sprintf("%s to %s", w.Event, w.ExpiresAt.Format("02 15Z")))
		}
		slices.Sort(out)
		return out
	}
	for _, c := range []struct {
		at   string
		want string
	}{
		{"2021-12-31T20:00Z", ""},
		{"2021-12-31T21:00Z", "Freeze Watch to 02 15Z"},
		{"2022-01-01T12:00Z", "Freeze Warning to 02 15Z, Freeze Watch to 03 16Z"},
		{"2022-01-02T15:00Z", "Freeze Watch to 03 16Z"},
		{"2022-01-04T00:00Z", ""},
		{"2014-06-07T00:00Z", "Frost Advisory to 07 14Z"},
	} {
		if got := strings.Join(list(c.at), ", "); got != c.want {
			t.Errorf("%s: %q, want %q", c.at, got, c.want)
		}
	}
}

// Zones leave an event one by one; what is a test, or CAP that was replaced, does
// not count.
func TestInForceAreasAndReferences(t *testing.T) {
	product := func(action, zones string, minute int) string {
		return fmt.Sprintf("WWUS74 KLCH 0110%02d\nNPWLCH\n\n4%02d AM CST Sat Jan 1 2022\n\n%s-011900-\n/O.%s.KLCH.FZ.W.0007.220101T1000Z-220101T1500Z/\nA-B-\n4%02d AM CST Sat Jan 1 2022\n\ntext\n\n$$\n",
			minute, minute, zones, action, minute)
	}
	l, err := DecodeWarnings("f", strings.NewReader(product("NEW", "TXZ001>003", 1)+product("CAN", "TXZ002", 9)+product("EXT", "TXZ003", 20)), WarningOptions{})
	if err != nil || l.RefusedTotal != 0 || len(l.Warnings) != 3 {
		t.Fatalf("%v %+v", err, l)
	}
	got := InForce(l.Warnings, zulu("2022-01-01T11:00Z"))
	if len(got) != 2 || got[0].Action != ActionExtended || strings.Join(got[0].Areas[0].Codes, " ") != "TXZ003" || strings.Join(got[1].Areas[0].Codes, " ") != "TXZ001" {
		t.Errorf("%+v", got)
	}
	watch, update := warnings(t, "cap_outline_two_languages.xml").Warnings[0], warnings(t, "cap_outline_two_languages.xml").Warnings[0]
	update.ID, update.References, update.SentAt = "invented-0043", []string{"invented-0042"}, watch.SentAt.Add(time.Hour)
	if got := InForce([]Warning{update, watch}, watch.SentAt.Add(2*time.Hour)); len(got) != 1 || got[0].ID != "invented-0043" {
		t.Errorf("%+v", got)
	}
	update.Action = ActionCancelled
	if got := InForce([]Warning{update, watch}, watch.SentAt.Add(2*time.Hour)); len(got) != 0 {
		t.Errorf("after a cancel: %+v", got)
	}
	watch.Actual = false
	if got := InForce([]Warning{watch}, watch.SentAt.Add(time.Hour)); len(got) != 0 {
		t.Error("a test is in force")
	}
}

func TestWarningsRefused(t *testing.T) {
	good := "WWUS74 KLCH 312037\nNPWLCH\n\n237 PM CST Fri Dec 31 2021\n\nTXZ180-011400-\n/O.NEW.KLCH.FZ.A.0001.220102T0600Z-220102T1500Z/\nTyler-\n237 PM CST Fri Dec 31 2021\n\ntext\n\n$$\n"
	alert := func(sent, inside string) string {
		return `<alert xmlns="urn:oasis:names:tc:emergency:cap:1.2"><identifier>i</identifier><sender>s</sender><sent>` + sent + `</sent><status>Actual</status><msgType>Alert</msgType><scope>Public</scope>` + inside + `</alert>`
	}
	info := func(more string) string {
		return "<info><category>Met</category><event>Frost</event>" + more + "</info>"
	}
	const sent = "2026-04-08T15:00:00-07:00"
	if _, err := DecodeWarnings("f", strings.NewReader(good), WarningOptions{}); err != nil {
		t.Fatal(err)
	}
	if _, err := DecodeWarnings("f", strings.NewReader(alert(sent, info(""))), WarningOptions{}); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ text, want string }{
		"empty":                 {"", "empty"},
		"prose":                 {"it will freeze", "event codes"},
		"no zones":              {strings.Replace(good, "TXZ180-011400-", "TXZ180-", 1), "zones"},
		"zones backwards":       {strings.Replace(good, "TXZ180-", "TXZ180>170-", 1), "backwards"},
		"no such code":          {strings.Replace(good, ".NEW.", ".NOW.", 1), "not an event code"},
		"ends first":            {strings.Replace(good, "220102T1500Z", "220101T1500Z", 1), "before it begins"},
		"no such day":           {strings.Replace(good, "220102T0600Z", "221302T0600Z", 1), "not a time"},
		"no date":               {strings.ReplaceAll(good, "237 PM CST Fri Dec 31 2021", ""), "do not say the month"},
		"other CAP":             {strings.Replace(alert(sent, info("")), "cap:1.2", "cap:1.1", 1), "namespace"},
		"cut off":               {alert(sent, info(""))[:250], "cut off"},
		"no alert":              {"<feed></feed>", "no alert"},
		"not XML":               {"<alert <", "whole XML"},
		"no offset":             {alert("2026-04-08T15:00:00", info("")), "offset"},
		"no info":               {alert(sent, ""), "says nothing"},
		"no event":              {alert(sent, "<info></info>"), "names its event"},
		"reply":                 {strings.Replace(alert(sent, info("")), "<msgType>Alert", "<msgType>Ack", 1), "reply"},
		"ends before":           {alert(sent, info("<onset>2026-04-09T02:00:00-07:00</onset><expires>2026-04-09T01:00:00-07:00</expires>")), "before it begins"},
		"open outline":          {alert(sent, info("<area><areaDesc>a</areaDesc><polygon>1,1 1,2 2,2 2,1</polygon></area>")), "not closed"},
		"place in metres":       {alert(sent, info("<area><areaDesc>a</areaDesc><circle>500000,4000000 2</circle></area>")), "latitude,longitude"},
		"entity not known":      {alert(sent, info("<headline>&frost;</headline>")), "entity"},
		"doctype with entities": {`<!DOCTYPE a [<!ENTITY x "xxxxxxxxxx">]>` + alert(sent, info("<headline>&x;</headline>")), "entity"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := DecodeWarnings("f", strings.NewReader(c.text), WarningOptions{})
			var e *Error
			if !errors.As(err, &e) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want %q", err, c.want)
			}
		})
	}
}

// A product without a line of local time is dated by its heading and the day it
// was fed; one of an unknown zone by its heading.
func TestProductDate(t *testing.T) {
	text := "WWUS74 KLCH 312037\nNPWLCH\n\n%s\n\nTXZ180-011400-\n/O.NEW.KLCH.FZ.A.0001.220102T0600Z-000000T0000Z/\nTyler-\n\ntext\n\n$$\n"
	for line, fed := range map[string]time.Time{"": zulu("2022-01-01T01:00Z"), "237 PM XST Fri Dec 31 2021": {}} {
		l, err := DecodeWarnings("f", strings.NewReader(fmt.Sprintf(text, line)), WarningOptions{FedAt: fed})
		if err != nil {
			t.Fatal(line, err)
		}
		w := l.Warnings[0]
		if !w.SentAt.Equal(zulu("2021-12-31T20:37Z")) || !w.ExpiresAt.IsZero() || !w.MessageUntil.Equal(zulu("2022-01-01T14:00Z")) {
			t.Errorf("%q: %+v", line, w)
		}
	}
}

func FuzzWarnings(f *testing.F) {
	for _, name := range []string{"NPWLCH_01.txt", "cap_freeze_watch.xml", "cap_outline_two_languages.xml"} {
		b, err := os.ReadFile("testdata/warnings/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		fed := zulu("2024-04-10T00:00Z")
		l, err := DecodeWarnings("f", strings.NewReader(string(text)), WarningOptions{FedAt: fed, MaxBytes: 1 << 20})
		if err != nil {
			if _, ok := err.(*Error); !ok || err.Error() == "" || len(l.Warnings) != 0 {
				t.Fatalf("error %T %v", err, err)
			}
			return
		}
		for i := range l.Warnings {
			w := &l.Warnings[i]
			if w.ID == "" || w.Action == "" || w.SentAt.IsZero() || !w.ExpiresAt.IsZero() && w.ExpiresAt.Before(w.OnsetAt) {
				t.Fatalf("%+v", w)
			}
			w.Covers(38, -121, []string{"CAZ017"})
			for _, a := range w.Areas {
				if len(a.Codes) > MaxWarningAreas || len(a.Polygon) > MaxPolygonPoints {
					t.Fatalf("%d codes, %d points", len(a.Codes), len(a.Polygon))
				}
			}
		}
		if got := InForce(l.Warnings, fed); len(got) > len(l.Warnings) {
			t.Fatalf("%d in force of %d", len(got), len(l.Warnings))
		}
		for _, r := range l.Refused {
			if r.Why == "" {
				t.Fatalf("a refusal without a reason: %+v", r)
			}
		}
	})
}
