package main

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	pace "golang.org/x/time/rate"
)

// sender is a kind of sender with the segments a second that its carrier lets
// it send. By what the carriers publish; where it is known only at second hand
// the source says so.
type sender struct {
	name   string
	rate   float64
	source string
}

var senders = []sender{
	{"long code, United States", 1, "the carrier's page on rates"},
	{"toll-free number", 3, "the carrier's page on rates; by default"},
	{"long codes of a low-volume brand", 3.75, "at second hand; all networks together"},
	{"of a brand with a trust score under 50", 12, "at second hand"},
	{"of one from 50 to 74", 120, "at second hand"},
	{"of one from 75", 225, "at second hand"},
	{"short code", 100, "the carrier's page on rates; over 100"},
}

// A morning as it is played: everybody is due at a quarter of an hour from
// opens to spread after it, and nothing goes out closes after midnight.
const (
	opens   = 8 * time.Hour
	spread  = 2 * time.Hour
	closes  = 21 * time.Hour
	longest = 12 // segments that a bucket holds at least, as in the service
)

// drain is how long n texts take that are all due at once: what the bucket holds
// goes at once, and the rest at the rate.
func drain(rate float64, n, segments int) time.Duration {
	left := float64(n*segments) - bucket(rate)
	return time.Duration(max(left, 0) / rate * float64(time.Second))
}

func bucket(rate float64) float64 { return max(math.Ceil(rate), longest) }

// morning plays a day of n patients' texts through one sender, and returns when
// the last goes out and how many had to stay behind at its end. It paces them by
// the same bucket as the service, on a calendar of its own.
func morning(perSecond float64, n, segments int, seed uint64) (last time.Duration, behind int) {
	due := make([]time.Duration, n)
	lots := rand.New(rand.NewPCG(seed, 8))
	for i := range due {
		due[i] = opens + time.Duration(lots.IntN(int(spread/(15*time.Minute))))*15*time.Minute
	}
	slices.Sort(due)
	midnight := time.Unix(0, 0)
	limit := pace.NewLimiter(pace.Limit(perSecond), int(bucket(perSecond)))
	goes := time.Duration(0)
	for i, at := range due {
		goes = max(goes, at)
		goes += limit.ReserveN(midnight.Add(goes), segments).DelayFrom(midnight.Add(goes))
		if goes >= closes {
			return last, n - i
		}
		last = goes
	}
	return last, 0
}

var planSizes = []int{1_000, 10_000, 100_000, 1_000_000}

// plan is the table of what each sender can do.
func plan() string {
	var b strings.Builder
	b.WriteString("| sender | segments/s | source | a million texts of 1 segment | of 2 |")
	for _, n := range planSizes {
		fmt.Fprintf(&b, " %s patients |", count(float64(n)))
	}
	b.WriteString("\n|" + strings.Repeat(" --- |", 5+len(planSizes)) + "\n")
	for _, s := range senders {
		fmt.Fprintf(&b, "| %s | %g | %s | %s | %s |", s.name, s.rate, s.source, long(drain(s.rate, 1e6, 1)), long(drain(s.rate, 1e6, 2)))
		for _, n := range planSizes {
			if last, behind := morning(s.rate, n, 2, 1); behind > 0 {
				fmt.Fprintf(&b, " %s stay behind |", count(float64(behind)))
			} else {
				fmt.Fprintf(&b, " by %s |", ofDay(last))
			}
		}
		b.WriteString("\n")
	}
	return b.String()
}

// ofDay is a time of day, the minute begun counted.
func ofDay(d time.Duration) string {
	m := int(math.Ceil(d.Minutes()))
	return fmt.Sprintf("%d:%02d", m/60, m%60)
}

func long(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.1f hours", d.Hours())
	}
	return fmt.Sprintf("%.1f days", d.Hours()/24)
}

var planPlace = place{"<!-- plan:begin -->", "<!-- plan:end -->"}

func planCommand(o *options) *cobra.Command {
	return &cobra.Command{
		Use:   "plan",
		Short: "Play mornings through each kind of sender",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			fmt.Fprint(cmd.OutOrStdout(), plan())
			if !o.write {
				return nil
			}
			return planPlace.put(o.readme, func(string) string { return plan() })
		},
	}
}

// place is where in a file a table stands: between two lines.
type place struct{ begin, end string }

// put puts what is made of the table in a file into its place.
func (p place) put(file string, made func(old string) string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	head, old, tail, err := p.parts(string(text))
	if err != nil {
		return err
	}
	text = []byte(head + p.begin + "\n" + made(strings.TrimPrefix(old, "\n")) + p.end + tail)
	return os.WriteFile(file, text, 0o644)
}

func (p place) parts(text string) (head, table, tail string, err error) {
	head, rest, ok := strings.Cut(text, p.begin)
	table, tail, ok2 := strings.Cut(rest, p.end)
	if !ok || !ok2 {
		return "", "", "", errors.New("no place for the table: it wants the lines " + p.begin + " and " + p.end)
	}
	return head, table, tail, nil
}
