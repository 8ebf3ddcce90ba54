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
		last, late, over := sender{rate: tt.rate}.morning(dueTexts(tt.n, 1), tt.segments, nil)
		want := opens + drain(tt.rate, tt.n, tt.segments)
		if late+over > 0 || (last-want).Abs() > time.Second {
			t.Errorf("%+v: the last at %s, want %s; %d late, %d over", tt, last, want, late, over)
		}
	}
}

// What is late is what the rate could not carry from the first text to the end
// of the hours, and as many senders are needed as carry all of it.
func TestWhatIsLate(t *testing.T) {
	const n = 100_000
	s := sender{rate: 1}
	list := dueTexts(n, 1)
	_, late, _ := s.morning(list, 1, nil)
	if carried, want := n-late, bucket(1)+(closes-opens).Seconds(); float64(carried) > want || float64(carried) < want-2 {
		t.Errorf("%d were carried, the rate gives %.0f", carried, want)
	}
	if got, want := s.needed(list, 1), 3; got != want { // 3 * 46,800 a day
		t.Errorf("%d are needed, want %d", got, want)
	}
	if last, late, _ := s.morning(nil, 1, nil); last != 0 || late != 0 {
		t.Error("nobody's morning has texts")
	}
	if last, _, _ := (sender{rate: 100}).morning(dueTexts(10, 1), 1, nil); last < opens || last > opens+spread {
		t.Errorf("a small morning ends at %s", last)
	}
}

// A network that counts takes what it says and no more, whatever the rate.
func TestWhatIsOver(t *testing.T) {
	const n, daily = 60_000, 10_001
	s := sender{rate: 1000, daily: daily}
	list := dueTexts(n, 1)
	there := 0
	for _, one := range list {
		if one.capped {
			there++
		}
	}
	if share := float64(there) / n; share < 0.32 || share > 0.35 {
		t.Fatalf("the network has %.2f of all", share)
	}
	sent := 0
	last, late, over := s.morning(list, 2, func(time.Duration) { sent++ })
	if late > 0 || over != there-daily/2 || sent != n-over || last > opens+spread {
		t.Errorf("%d late, %d over of %d, %d sent, the last at %s", late, over, there, sent, last)
	}
	if got, want := s.needed(list, 2), (2*there+daily-1)/daily; got != want {
		t.Errorf("%d are needed, want %d", got, want)
	}
}

// Where every quarter's queue lasts longer than a minute, the busiest minute of
// all clinics is what all buckets hold and a minute of all rates.
func TestClinicsAddUp(t *testing.T) {
	got, end := sender{rate: 1}.busiest(20, 1000, 2)
	if want := 20 * (bucket(1) + 60) / 2 / 60; got < want-0.35 || got > want {
		t.Errorf("%.2f texts a second, want %.2f", got, want)
	}
	if end < opens+spread-slot || end > opens+spread {
		t.Errorf("the last at %s", end)
	}
	if one, _ := (sender{rate: 1}).busiest(1, 1000, 2); one*20 < got-0.1 {
		t.Errorf("one clinic has %.2f, twenty %.2f", one, got)
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
	if n := strings.Count(string(text), "\n| "); n != len(senders)+2+6 {
		t.Errorf("%d lines of %d senders, and of clinics", n, len(senders))
	}
}
