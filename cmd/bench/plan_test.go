package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A morning that is too big for its sender goes out at the rate from the first
// quarter of an hour on, and then ends when the closed form says.
func TestAMorningEndsWhenTheRateSays(t *testing.T) {
	for _, tt := range []struct {
		rate        float64
		n, segments int
	}{{1, 20_000, 1}, {3, 30_000, 2}, {12, 150_000, 1}, {225, 3_000_000, 2}} {
		last, behind := morning(tt.rate, tt.n, tt.segments, 1)
		want := opens + drain(tt.rate, tt.n, tt.segments)
		if behind > 0 || (last-want).Abs() > time.Second {
			t.Errorf("%+v: the last at %s, want %s; %d stay behind", tt, last, want, behind)
		}
	}
}

// What stays behind is what the rate could not carry from the first text to the
// end of the hours.
func TestWhatStaysBehind(t *testing.T) {
	const rate, n = 1.0, 100_000
	_, behind := morning(rate, n, 1, 1)
	if carried, want := n-behind, bucket(rate)+rate*(closes-opens).Seconds(); float64(carried) > want || float64(carried) < want-2 {
		t.Errorf("%d were carried, the rate gives %.0f", carried, want)
	}
	if last, behind := morning(1, 0, 1, 1); last != 0 || behind != 0 {
		t.Error("nobody's morning has texts")
	}
	if last, _ := morning(100, 10, 1, 1); last < opens || last > opens+spread {
		t.Errorf("a small morning ends at %s", last)
	}
}

func TestThePlanIsKept(t *testing.T) {
	readme := filepath.Join(t.TempDir(), "README.md")
	if err := os.WriteFile(readme, []byte("above\n"+planPlace.begin+"\n"+planPlace.end+"\nbelow\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := command()
	cmd.SetArgs([]string{"plan", "--write", "--readme", readme})
	cmd.SetOut(new(bytes.Buffer))
	if err := cmd.Execute(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(readme)
	if err != nil || !strings.HasPrefix(string(text), "above\n"+planPlace.begin+"\n| sender") || !strings.HasSuffix(string(text), "|\n"+planPlace.end+"\nbelow\n") {
		t.Errorf("%v:\n%s", err, text)
	}
	if n := strings.Count(string(text), "\n| "); n != len(senders)+2 {
		t.Errorf("%d lines of %d senders", n, len(senders))
	}
}
