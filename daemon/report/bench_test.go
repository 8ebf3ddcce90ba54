package report

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// BenchmarkClinic makes the clinic's page of 5,000 patients with six weeks
// behind them, or of as many as STEPGATE_PATIENTS says; a tenth is held.
func BenchmarkClinic(b *testing.B) {
	n := 5_000
	if s := os.Getenv("STEPGATE_PATIENTS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			b.Fatal(err)
		}
	}
	j, v := crowd(b, n)
	look := func(c *Clinic, err error) error {
		if err != nil {
			return err
		}
		page := c.Page(v.Words, false)
		if rest := len(c.Board.Rows) - min(c.Board.Look, mostLook); c.Outcomes.Begun != n || rest > mostRest || len(page) < 1000 {
			return fmt.Errorf("%d begun, %d of the rest listed", c.Outcomes.Begun, rest)
		}
		return nil
	}
	for name, made := range map[string]func() (*Clinic, error){
		"one after the other": func() (c *Clinic, err error) {
			err = j.View(func(tx *journal.Tx) error { c, err = OfClinic(tx, v); return err })
			return c, err
		},
		"at once": func() (*Clinic, error) { return AtOnce(j.View, v) },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := look(made()); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/float64(n), "µs/patient")
		})
	}
}

const benchDays = 42

func crowd(b *testing.B, n int) (*journal.Journal, caseload.View) {
	b.Helper()
	c, problems := config.Load("../../testdata/clinic", func(string) string { return "" })
	if c == nil {
		b.Fatal(problems)
	}
	words, err := templates.New()
	if err != nil {
		b.Fatal(err)
	}
	j, err := journal.Open(filepath.Join(b.TempDir(), "journal.db"), journal.Options{NoSync: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := j.Close(); err != nil {
			b.Error(err)
		}
	})
	like := c.Enrollments.At(1)
	all := make([]*config.Enrollment, n)
	for i := range all {
		e := *like
		e.ID, e.Address.To = fmt.Sprintf("p-%06d", i), fmt.Sprintf("box-%06d", i)
		all[i] = &e
	}
	c.Enrollments = config.NewRoll(all)
	const batch = 500
	for from := 0; from < n; from += batch {
		err := j.Update(context.Background(), func(tx *journal.Tx) error {
			for _, e := range all[from:min(from+batch, n)] {
				if err := course(tx, e, like.Dispensed); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	return j, caseload.View{Clinic: c, Words: words, Now: (like.Dispensed + benchDays).Time().Add(20 * time.Hour)}
}

// course is decided dates with a reply to each.
func course(tx *journal.Tx, e *config.Enrollment, first rules.Date) error {
	at := first.Time().Add(14 * time.Hour)
	if _, err := tx.Append(journal.Event{Kind: journal.Enrolled, ID: e.ID, At: at, State: &rules.State{}}); err != nil {
		return err
	}
	held := e.ID[len(e.ID)-1] == '0'
	for i := range benchDays {
		d, at := first+rules.Date(i), at.Add(time.Duration(i)*24*time.Hour)
		score := i % 3
		dec := rules.Decision{Date: d, Day: i + 1, P: i + 1, W: i + 1, Step: 1, Steps: 3, State: rules.InActive, Send: true,
			Why: rules.Reason{Code: rules.Tick}, WearWhy: rules.Reason{Code: rules.Tick}, Doses: []rules.Due{{Exercise: "towel-curl", Sets: 1, Reps: 10, Sessions: 1}}}
		st := rules.State{Rev: i + 1, Decided: d, P: i + 1, W: i + 1, WearMin: 60, Due: true, Last: rules.Tick, Program: e.Program}
		if held && i == benchDays-1 {
			score = 5
			dec.State, dec.Why = rules.InHeld, rules.Reason{Code: rules.PainHeld, Score: &score, Line: 4, Need: 2}
			st.Hold = &rules.PainHold{Since: d}
		}
		if _, err := tx.Append(journal.Event{Kind: journal.Decided, ID: e.ID, At: at, Decision: &dec, State: &st}); err != nil {
			return err
		}
		st.Rev++
		st.Heard = rules.Heard{Any: true, Score: &score, Halves: 2}
		in := journal.In{Channel: "spool", ID: e.ID + d.String(), Text: "D2", Day: d, Reading: rules.Reading{Done: rules.DoneAll, Pain: &score}}
		if _, err := tx.Append(journal.Event{Kind: journal.Heard, ID: e.ID, At: at.Add(8 * time.Hour), In: &in, State: &st}); err != nil {
			return err
		}
	}
	return nil
}
