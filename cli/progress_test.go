package cli

import (
	"bytes"
	"testing"
	"testing/synctest"
	"time"
)

// Waits of more than a second are told on stderr, shorter ones are not, and
// nothing is told after the work is done.
func TestProgress(t *testing.T) {
	for _, c := range []struct {
		took time.Duration
		want string
	}{
		{900 * time.Millisecond, ""},
		{1500 * time.Millisecond, "budward: reading x (1 s)\n"},
		{7 * time.Second, "budward: reading x (1 s)\nbudward: reading x (6 s)\n"},
	} {
		synctest.Test(t, func(t *testing.T) {
			var errs bytes.Buffer
			r := &run{env: Env{Stderr: &errs, Progress: true}}
			done := r.progress("reading x")
			time.Sleep(c.took)
			done()
			time.Sleep(time.Minute)
			if errs.String() != c.want {
				t.Errorf("after %v: %q; want %q", c.took, errs.String(), c.want)
			}
		})
	}
	var errs bytes.Buffer
	(&run{env: Env{Stderr: &errs}}).progress("reading x")()
	if errs.Len() > 0 {
		t.Errorf("progress was told where it was not asked for: %s", errs.String())
	}
}
