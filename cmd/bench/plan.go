package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

var planSizes = []int{1_000, 10_000, 100_000, 1_000_000}

// plan is the table of what each sender can do, and that of clinics side by side.
func plan() string {
	var b strings.Builder
	b.WriteString("| sender | segments/s | a day on one network | source | a million texts of 1 segment | of 2 |")
	for _, n := range planSizes {
		fmt.Fprintf(&b, " %s patients |", count(float64(n)))
	}
	b.WriteString("\n|" + strings.Repeat(" --- |", 6+len(planSizes)) + "\n")
	lists := make([][]text, len(planSizes))
	for i, n := range planSizes {
		lists[i] = dueTexts(n, 1)
	}
	for _, s := range senders {
		daily := "none"
		if s.daily > 0 {
			daily = count(float64(s.daily))
		}
		fmt.Fprintf(&b, "| %s | %g | %s | %s | %s | %s |", s.name, s.rate, daily, s.source, long(drain(s.rate, 1e6, 1)), long(drain(s.rate, 1e6, 2)))
		for _, list := range lists {
			b.WriteString(" " + s.tells(list) + " |")
		}
		b.WriteString("\n")
	}
	b.WriteString("\n| clinics of 1,000 patients, a sender each | texts a second in the busiest minute | commits a second | the last by |\n| --- | --- | --- | --- |\n")
	for _, s := range senders[:2] {
		for _, clinics := range []int{100, 1000} {
			texts, end := s.busiest(clinics, 1000, 2)
			fmt.Fprintf(&b, "| %s with a %s | %.0f | %.0f | %s |\n", count(float64(clinics)), s.name, texts, texts*commits, ofDay(end))
		}
	}
	return b.String()
}

// commits are how many of the journal a text costs where texts go out one by
// one: the mark before it and the outcome after it.
const commits = 2

// tells is how a morning of two segments a text goes by a sender.
func (s sender) tells(list []text) string {
	last, late, over := s.morning(list, 2, nil)
	switch {
	case late+over == 0:
		return "by " + ofDay(last)
	case over == 0:
		return fmt.Sprintf("%s late: %d needed", count(float64(late)), s.needed(list, 2))
	case late == 0:
		return fmt.Sprintf("%s over: %d needed", count(float64(over)), s.needed(list, 2))
	}
	return fmt.Sprintf("%s late, %s over: %d needed", count(float64(late)), count(float64(over)), s.needed(list, 2))
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
			made := plan()
			fmt.Fprint(cmd.OutOrStdout(), made)
			if !o.write {
				return nil
			}
			return planPlace.put(o.readme, func(string) string { return made })
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
