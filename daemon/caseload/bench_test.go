package caseload

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// BenchmarkBoard looks at 10,000 patients with two weeks behind them, or as many
// as STEPGATE_PATIENTS says: the first screen of those who need a look, and
// everybody.
func BenchmarkBoard(b *testing.B) {
	n := 10_000
	if s := os.Getenv("STEPGATE_PATIENTS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			b.Fatal(err)
		}
	}
	j, view := crowd(b, n)
	for _, c := range []struct {
		name string
		q    Query
		rows int
	}{{"first 40", Query{Limit: 40}, 40}, {"held", Query{Only: []string{"held"}}, n / 10}, {"all by pain", Query{Sort: "pain"}, n}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				err := j.View(func(tx *journal.Tx) error {
					board, err := view.Board(tx, c.q)
					if err == nil && (len(board.Rows) != c.rows || board.Look != n/10) {
						err = fmt.Errorf("%d rows, %d need a look", len(board.Rows), board.Look)
					}
					return err
				})
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/float64(n), "µs/patient")
		})
	}
}

// crowd is a journal of n patients, each tenth of them held.
func crowd(b *testing.B, n int) (*journal.Journal, View) {
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
	first := c.Enrollments.At(1).Dispensed
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
				if err := course(tx, e, first); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	return j, View{Clinic: c, Words: words, Now: (first + 13).Time().Add(20 * time.Hour)}
}

// course is two weeks of decided dates, with a reply to each.
func course(tx *journal.Tx, e *config.Enrollment, first rules.Date) error {
	at := first.Time().Add(14 * time.Hour)
	if _, err := tx.Append(journal.Event{Kind: journal.Enrolled, ID: e.ID, At: at, State: &rules.State{}}); err != nil {
		return err
	}
	held := e.ID[len(e.ID)-1] == '0'
	for i := range 14 {
		d, at := first+rules.Date(i), at.Add(time.Duration(i)*24*time.Hour)
		two := 2
		dec := rules.Decision{Date: d, Day: i + 1, P: i + 1, W: i + 1, Step: 1, Steps: 3, State: rules.InActive,
			Why: rules.Reason{Code: rules.Tick}, WearWhy: rules.Reason{Code: rules.Tick}, Doses: []rules.Due{{Exercise: "towel-curl", Sets: 1, Reps: 10, Sessions: 1}}}
		st := rules.State{Rev: i + 1, Decided: d, P: i + 1, W: i + 1, WearMin: 60, Due: true, Last: rules.Tick, Program: e.Program}
		if held && i == 13 {
			five := 5
			dec.State, dec.Why = rules.InHeld, rules.Reason{Code: rules.PainHeld, Score: &five, Line: 4, Need: 2}
			st.Hold = &rules.PainHold{Since: d}
		}
		if _, err := tx.Append(journal.Event{Kind: journal.Decided, ID: e.ID, At: at, Decision: &dec, State: &st}); err != nil {
			return err
		}
		st.Rev++
		st.Heard = rules.Heard{Any: true, Score: &two, Halves: 2}
		in := journal.In{Channel: "spool", ID: e.ID + d.String(), Text: "D2", Day: d, Reading: rules.Reading{Done: rules.DoneAll, Pain: &two}}
		if _, err := tx.Append(journal.Event{Kind: journal.Heard, ID: e.ID, At: at.Add(8 * time.Hour), In: &in, State: &st}); err != nil {
			return err
		}
	}
	return nil
}
