package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"budward/decide/nights"
	"budward/physics/quantity"
	"budward/vineyard/farm"
)

func night(t *testing.T, a *nights.Answer, f *farm.Farm, o Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := Night(&b, a, f, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestNightSheet(t *testing.T) {
	a, f := demo(t)
	html := night(t, a, f, Options{Units: quantity.US, Person: "mara", Paper: Letter})
	for _, want := range []string{
		"Wednesday 8 to Thursday 9 April 2026", "Night sheet, Larkmoor, for Mara", "ACT ON 3 OF 14 BLOCKS", "watch 9, quiet 1, unknown 1",
		// the lowest likely minimum is B3's: -1.0 degC in the answer, 30.1 degF
		"30.1 °F", "lowest likely: B3 Swale, about Thu 07:00", "Out tonight: Mara 555-0140, Tomas 555-0141, Edie 555-0142.",
		"size: Letter portrait", "at the latest when the air upwind falls to 36.3 °F", "Do not start the sprinklers", "No stage on record",
		"Not enough: Hill tank", "forecast issued Wed 12:00 (3 h before this sheet)", "Never run a fan on wetted vines.", "▲ ACT", "? UNKNOWN", "○ quiet",
	} {
		if !strings.Contains(html, want) {
			t.Errorf("the sheet does not say %q", want)
		}
	}
	for i := range a.Blocks {
		if !strings.Contains(html, a.Blocks[i].BlockID+" "+a.Blocks[i].Name) {
			t.Errorf("block %s is not on it", a.Blocks[i].BlockID)
		}
	}
	for _, never := range []string{"http://", "https://", "<script", "<img", "url(", "@import", "{{", "NaN", "%!"} {
		if strings.Contains(html, never) {
			t.Errorf("the sheet holds %q", never)
		}
	}
}

// Black and white: no colour but black, white and greys.
func TestNightHasNoColour(t *testing.T) {
	a, f := demo(t)
	for _, c := range regexp.MustCompile(`#[0-9a-fA-F]{3,6}\b`).FindAllString(night(t, a, f, us), -1) {
		if c != "#fff" && c != "#000" && c != "#888" && c != "#555" {
			t.Errorf("colour %s", c)
		}
	}
}

// What stands by the clock is in order of time, and is what the answer advises.
func TestNightClock(t *testing.T) {
	a, f := demo(t)
	v, err := newView(a, f, us)
	if err != nil {
		t.Fatal(err)
	}
	g := v.clockGrid(squeeze{points: 9})
	var before time.Time
	var got []string
	for _, r := range g.Rows {
		at, err := time.ParseInLocation("Mon 15:04 2006-01-02", r.Cells[0]+map[bool]string{true: " 2026-04-08", false: " 2026-04-09"}[strings.HasPrefix(r.Cells[0], "Wed")], v.zone)
		if err != nil || at.Before(before) {
			t.Errorf("%q after %v: %v", r.Cells[0], before, err)
		}
		before = at
		got = append(got, r.Cells[0]+" "+r.Cells[1]+" "+r.Cells[2])
	}
	// worked out by eye from the answer: local times rounded to five minutes
	want := []string{
		"Wed 15:00 Mow the cover short (for Fri 10 - Sat 11 Apr). A1 Creek Flat, B1 Far Meadow",
		"Wed 15:00 Start wetting the floor, until Fri 17:50 (for Fri 10 - Sat 11 Apr). B2 South Forty",
		"Wed 15:00 Start wetting the floor, until Fri 07:00 (for Fri 10 - Sat 11 Apr). C3 Arbor",
		"Wed 19:37 Sunset ",
		"Wed 20:40 Start the sprinklers, at the latest when the air upwind falls to 36.3 °F. A1 Creek Flat",
		"Wed 22:20 Run the micro-sprinkler through the night. B3 Swale",
		"Wed 22:55 Run the fan, at the latest when the air upwind falls to 33.3 °F. A3 Long Lane",
		"Thu 06:39 Sunrise ",
		"Thu 07:00 Coldest about now B3 Swale",
		"Thu 07:40 Fan: stop when the air at cordon height has risen above the critical temperature after sunrise. A3 Long Lane",
		"Thu 08:40 Sprinklers: stop only when the wet bulb upwind is above 32.0 °F and the ice is loose and melting. A1 Creek Flat",
		"Thu 08:40 Water: stop when the air at cordon height has risen above the critical temperature after sunrise. B3 Swale",
	}
	if !slices.Equal(got, want) {
		t.Errorf("by the clock:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// However many blocks: by its own estimate the page fits, blocks stand in the
// answer's order, and each is either on the page or named as left out.
func TestNightFits(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		width, height := paper.printableMM()
		for _, n := range []int{1, 2, 5, 9, 14, 20, 28, 35, 40, 60, 100} {
			a, f := many(t, n)
			v, err := newView(a, f, Options{Units: quantity.US, Paper: paper})
			if err != nil {
				t.Fatal(err)
			}
			p := v.fitNight()
			name := fmt.Sprintf("%d blocks on %s", n, paper)
			if h := p.heightMM(width); h > height {
				t.Errorf("%s: %.0f mm of %.0f", name, h, height)
			}
			if n <= 40 && p.Points < 7 || n <= 5 && len(p.Left) > 0 {
				t.Errorf("%s: %g points, left %q", name, p.Points, p.Left)
			}
			on := func(g grid, col int) (out []string) {
				for _, r := range g.Rows {
					out = append(out, strings.Trim(strings.Fields(r.Cells[col] + " ?")[0], ":"))
				}
				return out
			}
			listed := slices.Concat(on(p.Blocks, 1), on(p.Pairs, 1), on(p.Pairs, 7))
			missing := 0
			for i := range a.Blocks {
				b := &a.Blocks[i]
				if !slices.Contains(listed, b.BlockID) {
					if missing++; b.Urgency == nights.Act && n <= 40 {
						t.Errorf("%s: %s is to be acted on and not listed", name, b.BlockID)
					}
				}
			}
			said := 0
			for _, s := range p.Left {
				var k int
				if _, err := fmt.Sscanf(strings.TrimLeft(s, "○NOTHISPAGE: "), "%d", &k); err != nil {
					t.Errorf("%s: %q does not say how many", name, s)
				}
				said += k
			}
			if said != missing {
				t.Errorf("%s: %d blocks missing, %d said to be: %q", name, missing, said, p.Left)
			}
			if full := on(p.Blocks, 1); !inOrder(a, full) {
				t.Errorf("%s: not in the answer's order: %v", name, full)
			}
		}
	}
}

func inOrder(a *nights.Answer, ids []string) bool {
	last := -1
	for _, id := range ids {
		i := slices.IndexFunc(a.Blocks, func(b nights.BlockAnswer) bool { return b.BlockID == id })
		if i < last {
			return false
		}
		last = i
	}
	return true
}

func TestNightMetric(t *testing.T) {
	a, f := demo(t)
	html := night(t, a, f, Options{Units: quantity.Metric})
	// -1.1 degC is 30.1 degF
	if !strings.Contains(html, "\u22121.1 °C") || !strings.Contains(html, "size: A4 portrait") || strings.Contains(html, "Likely °F") {
		t.Error("not metric")
	}
	u, err := UnitsOf(f, "MARA")
	if err != nil || u != quantity.US {
		t.Errorf("%v %v", u, err)
	}
}

func TestNightRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		change func(a *nights.Answer, o *Options)
		field  string
	}{
		"no zone":   {func(a *nights.Answer, _ *Options) { a.Zone = "" }, "zone"},
		"bad zone":  {func(a *nights.Answer, _ *Options) { a.Zone = "Mars/Olympus" }, "zone"},
		"no nights": {func(a *nights.Answer, _ *Options) { a.Nights = nil }, "nights"},
		"nobody":    {func(_ *nights.Answer, o *Options) { o.Person = "nobody" }, "person"},
		"paper":     {func(_ *nights.Answer, o *Options) { o.Paper = "A5" }, "paper"},
	} {
		a, f := demo(t)
		o := us
		c.change(a, &o)
		var b bytes.Buffer
		err := Night(&b, a, f, o)
		var e *InputError
		if !errors.As(err, &e) || e.Field != c.field || b.Len() != 0 {
			t.Errorf("%s: %v, %d bytes", name, err, b.Len())
		}
	}
}

// Nothing known, nothing advised, nothing begun: the sheet says so, and a hostile
// name stays a name.
func TestNightOddAnswers(t *testing.T) {
	a, f := demo(t)
	f.People = nil
	a.Stations, a.Shared = nil, nil
	for i := range a.Blocks {
		b := &a.Blocks[i]
		b.Choices, b.Urgency, b.Unknown = nil, nights.Unknown, "no forecast covers the night"
		b.Nights[0] = nights.BlockNight{Label: b.Nights[0].Label, Why: "the forecast ends before it"}
		b.Name = `<script>alert(1)</script>` + strings.Repeat("x", 200)
	}
	html := night(t, a, f, us)
	for _, want := range []string{"NO ANSWER FOR ANY BLOCK", "Nothing is advised for tonight.", "Nobody is listed for the night.", "All blocks: No forecast covers the night.", "see below"} {
		if !strings.Contains(html, want) {
			t.Errorf("not said: %q", want)
		}
	}
	if strings.Contains(html, "<script>alert") {
		t.Error("a name became a script")
	}
	a.Blocks = nil
	if html := night(t, a, f, us); !strings.Contains(html, "NO ANSWER") && !strings.Contains(html, "NOTHING TO DO") {
		t.Error("no blocks: nothing said")
	}
}

func TestLines(t *testing.T) {
	// Helvetica at 10 points: a digit is 5.56 points, so 20 digits are 39.2 mm, and
	// wideFont times that here
	if got, want := textMM(strings.Repeat("0", 20), 10, false), 20*5.56*25.4/72*wideFont; got < want*0.999 || got > want*1.001 {
		t.Errorf("%g mm, want %g", got, want)
	}
	for _, c := range []struct {
		text string
		mm   float64
		want int
	}{{"", 50, 1}, {"one", 50, 1}, {"one two", 8, 2}, {strings.Repeat("word ", 40), 100, 4}, {strings.Repeat("0", 60), 46, 3}} {
		if got := lines(c.text, c.mm, 10, false); got != c.want {
			t.Errorf("%q in %g mm: %d lines, want %d", cut(c.text, 20), c.mm, got, c.want)
		}
	}
}
