package api

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"budward/api/client"
)

// The document is OpenAPI 3.1 by the initiative's own schema, and each of its
// schemas is JSON Schema (2020-12).
func TestDocumentIsOpenAPI(t *testing.T) {
	c := jsonschema.NewCompiler()
	add := func(name string, data []byte) any {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if err := c.AddResource(name, v); err != nil {
			t.Fatal(err)
		}
		return v
	}
	published, err := os.ReadFile(filepath.Join("testdata", "openapi-3.1.json"))
	if err != nil {
		t.Fatal(err)
	}
	add("openapi.json", published)
	doc := add("ours.json", Document())
	s, err := c.Compile("openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(doc); err != nil {
		t.Errorf("%v", err)
	}
	broken := map[string]any{"openapi": "3.1.0", "info": map[string]any{"title": "x"}, "paths": map[string]any{}}
	if s.Validate(broken) == nil {
		t.Error("a document without a version passes: the check checks nothing")
	}
	schemas := doc.(map[string]any)["components"].(map[string]any)["schemas"].(map[string]any)
	if len(schemas) < 40 {
		t.Fatalf("%d schemas: the document is not read rightly", len(schemas))
	}
	for name := range schemas {
		if _, err := c.Compile("ours.json#/components/schemas/" + name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What is generated is as it would be generated now.
func TestGeneratedIsCurrent(t *testing.T) {
	doc := Document()
	text, err := client.Generate(doc)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][]byte{"openapi.json": doc, "../web/src/api/client.ts": text} {
		got, err := os.ReadFile(filepath.FromSlash(name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not what the program would write now: run go generate ./api", name)
		}
	}
	if again := Document(); !bytes.Equal(doc, again) {
		t.Error("the document differs from one time to the next")
	}
}

// What is called a moment is one.
func TestMomentsInDocument(t *testing.T) {
	var doc struct {
		Components struct {
			Schemas map[string]struct {
				Properties map[string]struct {
					Format string `json:"format"`
				} `json:"properties"`
			} `json:"schemas"`
		} `json:"components"`
	}
	if err := json.Unmarshal(Document(), &doc); err != nil {
		t.Fatal(err)
	}
	times := 0
	for name, s := range doc.Components.Schemas {
		for field, p := range s.Properties {
			if called := field == "at" || strings.HasSuffix(field, "_at"); called != (p.Format == "date-time") {
				t.Errorf("%s.%s has the format %q", name, field, p.Format)
			} else if called {
				times++
			}
		}
	}
	if times < 20 {
		t.Errorf("%d moments found: the search is wrong", times)
	}
}

// What is not known is null, and a list without items is a list.
func TestEncode(t *testing.T) {
	type inner struct {
		A float64 `json:"a_c"`
	}
	type sample struct {
		inner
		NaN     float64        `json:"nan_c"`
		Inf     float64        `json:"inf_c"`
		Never   time.Time      `json:"never_at"`
		At      time.Time      `json:"at"`
		List    []int          `json:"list"`
		Left    []int          `json:"left,omitempty"`
		Pointer *inner         `json:"pointer"`
		Map     map[string]int `json:"map"`
		Text    string         `json:"text"`
		Small   float64        `json:"small_m"`
		Whole   int            `json:"whole"`
		Yes     bool           `json:"yes"`
		Hidden  int            `json:"-"`
		Any     any            `json:"any"`
		Third   float64        `json:"third"`
		Large   float64        `json:"large"`
	}
	var b strings.Builder
	err := encode(&b, sample{inner: inner{-1.25}, NaN: math.NaN(), Inf: math.Inf(1), At: noon, Map: map[string]int{"b": 1, "a": 2},
		Text: "<\"é\u2028", Small: 1e-9, Whole: -3, Yes: true, Any: []any{1.5, "x", nil}, Third: 1.0 / 3, Large: 123456789.75})
	if err != nil {
		t.Fatal(err)
	}
	want := `{"a_c":-1.25,"nan_c":null,"inf_c":null,"never_at":null,"at":"2026-04-08T19:00:00Z","list":[],"pointer":null,` +
		`"map":{"a":2,"b":1},"text":"<\"é\u2028","small_m":1e-09,"whole":-3,"yes":true,"any":[1.5,"x",null],"third":0.333333333,"large":123456790}` + "\n"
	want = strings.Replace(want, "\u2028", `\u2028`, 1) // as encoding/json writes it
	if b.String() != want {
		t.Errorf("got  %s\nwant %s", b.String(), want)
	}
	if !json.Valid([]byte(b.String())) {
		t.Error("not JSON")
	}
}

// Of two decoders only ours minds names that stand twice, text that is not UTF-8,
// and nesting; all else is encoding/json's to judge.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{`{"a":1,"a":2}`, `{"a":{"b":1},"b":[{"a":1},{"a":2}]}`, "\xff", `[[[]]]`, `{"a":"\ud800"}`, `1 2`, ``, `{"a":[1,{"b":"a"}],"c":"b"}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var ours, theirs any
		got, want := decode(data, &ours), json.Unmarshal(data, &theirs)
		if got == nil && want != nil {
			t.Fatalf("%q is taken, which encoding/json refuses: %v", data, want)
		}
		if got == nil {
			a, errA := json.Marshal(ours)
			b, errB := json.Marshal(theirs)
			if errA != nil || errB != nil || !bytes.Equal(a, b) {
				t.Fatalf("%q reads as %s, not %s", data, a, b)
			}
		}
	})
}
