package rehearsal

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"stepgate/config"
	"stepgate/daemon/page"
	"stepgate/rules"
	"stepgate/templates"
)

// Verdict is what came of a rule case.
type Verdict struct {
	Case *config.Case
	Diff []Difference // of the first day that differs; none: the case holds
	plan *Plan
	days []Day // up to the day that differs
}

// Difference is one thing that came otherwise than expected.
type Difference struct {
	Day  int        `json:"day"`
	Date rules.Date `json:"date"`
	Key  string     `json:"key"` // as the case writes it
	Want string     `json:"expected"`
	Got  string     `json:"got"`
	Why  string     `json:"why"` // the reason of the day, in words
	At   rules.Pos  `json:"-"`   // the line of the case that expected it
}

// RunCases runs rule cases on the programs of a clinic, several at a time, and
// gives a verdict on each in their order.
func RunCases(ctx context.Context, words *templates.Set, c *config.Clinic, cases []*config.Case) ([]Verdict, error) {
	verdicts := make([]Verdict, len(cases))
	errs := make([]error, len(cases))
	var next atomic.Int64
	var working sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(cases)) {
		working.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(cases); i = int(next.Add(1)) - 1 {
				verdicts[i], errs[i] = runCase(ctx, words, c, cases[i])
			}
		})
	}
	working.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("case %q at %s: %w", cases[i].Name, cases[i].At, err)
		}
	}
	return verdicts, nil
}

func runCase(ctx context.Context, words *templates.Set, c *config.Clinic, x *config.Case) (Verdict, error) {
	plan, err := NewPlan(c, Wanted{Program: x.Program, Start: x.Start, Replies: x.Replies})
	if err != nil {
		return Verdict{}, err
	}
	plan.Days = x.Days()
	days, err := Run(ctx, words, plan)
	if err != nil {
		return Verdict{}, err
	}
	v := Verdict{Case: x, plan: plan, days: days}
	for _, want := range x.Expect {
		if len(v.Diff) > 0 && v.Diff[0].Day != want.Day {
			break // the first day that differs tells enough
		}
		v.Diff = append(v.Diff, differences(want, &days[want.Day-1])...)
	}
	if len(v.Diff) > 0 {
		v.days = days[:v.Diff[0].Day]
	}
	return v, nil
}

// differences holds what came of a day against what was expected of it.
func differences(want config.Expected, d *Day) []Difference {
	var out []Difference
	differ := func(key, want, got string, at rules.Pos) {
		out = append(out, Difference{d.n, d.Date, key, want, got, d.Why.Text, at})
	}
	number := func(key string, n *int, got int) {
		if n != nil && *n != got {
			differ(key, strconv.Itoa(*n), strconv.Itoa(got), want.At)
		}
	}
	number("step", want.Step, d.Step)
	number("program day", want.ProgramDay, d.ProgramDay)
	number("wear day", want.WearDay, d.WearDay)
	if want.Wear != nil && *want.Wear != time.Duration(d.WearMin)*time.Minute {
		differ("wear", outOr(int(*want.Wear/time.Minute)), outOr(d.WearMin), want.At)
	}
	if want.State != "" && want.State != d.State {
		differ("state", string(want.State), string(d.State), want.At)
	}
	code, wearCode := "", ""
	if d.decision != nil {
		code, wearCode = string(d.decision.Why.Code), string(d.decision.WearWhy.Code)
	}
	if want.Why != "" && want.Why != code && !strings.Contains(d.Why.Text, want.Why) {
		differ("why", want.Why, named(code, d.Why.Text), want.At)
	}
	if want.WearWhy != "" && want.WearWhy != wearCode && !strings.Contains(d.wearWhy, want.WearWhy) {
		differ("wear why", want.WearWhy, named(wearCode, d.wearWhy), want.At)
	}
	if want.Due != nil {
		if due := exercises(d); !slices.Equal(due, *want.Due) {
			differ("due", listed(*want.Due), listed(due), want.At)
		}
	}
	said(want, d, differ)
	return out
}

// said holds the day's texts against the words expected in them.
func said(want config.Expected, d *Day, differ func(key, want, got string, at rules.Pos)) {
	var texts, alerts []string
	for _, m := range d.Messages {
		if m.To == toClinician {
			alerts = append(alerts, m.Text)
			continue
		}
		texts = append(texts, m.Text)
	}
	for _, x := range []struct {
		key       string
		want, got []string
	}{{"message", want.Message, texts}, {"alert", want.Alert, alerts}} {
		for _, words := range x.want {
			if !slices.ContainsFunc(x.got, func(text string) bool { return holds(text, words) }) {
				differ(x.key, words, listed(x.got), want.At)
			}
		}
	}
	if want.Silent && len(texts) > 0 {
		differ("message", "none", listed(texts), want.At)
	}
}

// holds tells whether words stand in a text, wherever its lines break.
func holds(text, words string) bool {
	return strings.Contains(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(words), " "))
}

func exercises(d *Day) []string {
	due := []string{}
	for _, dose := range d.Doses {
		if !slices.Contains(due, dose.Exercise) {
			due = append(due, dose.Exercise)
		}
	}
	slices.Sort(due)
	return due
}

func named(code, text string) string {
	if code == "" || code == text {
		return text
	}
	return code + " (" + text + ")"
}

func listed(list []string) string {
	if len(list) == 0 {
		return "none"
	}
	lines := make([]string, len(list))
	for i, s := range list {
		lines[i] = strings.Join(strings.Fields(s), " ")
	}
	return strings.Join(lines, " | ")
}

func outOr(minutes int) string {
	if minutes == 0 {
		return "out"
	}
	return brief(minutes)
}

// Print prints a case that does not hold: where it stands, what was expected
// and what came, and the days that led there.
func (v Verdict) Print(p *page.Page) {
	first := v.Diff[0]
	p.Wrap("", "  ", fmt.Sprintf("%s: a rule case does not hold: %s", v.Case.At, v.Case.Name))
	p.Printf("  The first difference is on day %d, %s.\n", first.Day, first.Date.Time().Format("Mon Jan 2 2006"))
	for _, d := range v.Diff {
		p.Wrap("  ", "      ", fmt.Sprintf("%s: expected %s (%s)", d.Key, d.Want, d.At))
		p.Wrap("      ", "      ", "got "+d.Got)
	}
	p.Wrap("  ", "      ", "why the day is as it is: "+first.Why)
	p.Line("  how it came there:")
	chartRows(p, "  ", v.plan, v.days[max(0, len(v.days)-leading):])
}

// leading is how many days are shown of a case that does not hold.
const leading = 8
