package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/daemon/report"
	"stepgate/rules"
	"stepgate/templates"
)

const viewDays = 28

// views measures the caseload and the clinic's report.
func (b *bench) views(ctx context.Context) ([]row, error) {
	people := b.sized(100_000, 2_000)
	c, err := clinic(filepath.Join(b.dir, "clinic"), people, "sms")
	if err != nil {
		return nil, err
	}
	words, err := templates.New()
	if err != nil {
		return nil, err
	}
	j, err := journal.Open(filepath.Join(b.dir, "journal.db"), journal.Options{NoSync: true})
	if err != nil {
		return nil, err
	}
	for from := 0; from < people; from += 1000 {
		err := j.Update(ctx, func(tx *journal.Tx) error {
			for i := from; i < min(from+1000, people); i++ {
				e := c.Enrollments.At(i)
				if err := course(tx, e.ID, e.Program); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	b.logf("views: %d patients set up", people)
	view := caseload.View{Clinic: c, Words: words, Now: (begins + viewDays).Time().Add(20 * time.Hour)}
	began := time.Now()
	err = j.View(func(tx *journal.Tx) error {
		board, err := view.Board(tx, caseload.Query{Limit: 40})
		if err == nil && len(board.Rows) != 40 {
			err = fmt.Errorf("%d rows", len(board.Rows))
		}
		return err
	})
	board := time.Since(began)
	if err != nil {
		return nil, err
	}
	began = time.Now()
	made, err := report.AtOnce(j.View, view)
	if err == nil && len(made.Page(words, false)) < 1000 {
		err = errors.New("the report is empty")
	}
	page := time.Since(began)
	read, readErr := everybody(j)
	if err := errors.Join(err, readErr, j.Close()); err != nil {
		return nil, err
	}
	n, beside := count(float64(people)), "reading everybody: "+seconds(read)
	return []row{{
		Name: "caseload", What: n + " patients, " + fmt.Sprint(viewDays) + " days each: the first 40", Figure: seconds(board), Yardstick: beside,
		Ratio: board.Seconds() / read.Seconds(), Target: "under 2 s for 100,000", Met: board < 2*time.Second,
	}, {
		Name: "report", What: "the clinic's report of the same", Figure: seconds(page), Yardstick: beside,
		Ratio: page.Seconds() / read.Seconds(), Target: "under 2 s for 100,000", Met: page < 2*time.Second,
	}}, nil
}

// everybody is how long it takes to read every person.
func everybody(j *journal.Journal) (time.Duration, error) {
	began := time.Now()
	err := j.View(func(tx *journal.Tx) error {
		return tx.People(func(string, *journal.Person) error { return nil })
	})
	return time.Since(began), err
}

// course is decided dates with a reply to each; a tenth of the patients is held.
func course(tx *journal.Tx, id, program string) error {
	at := begins.Time().Add(14 * time.Hour)
	if _, err := tx.Append(journal.Event{Kind: journal.Enrolled, ID: id, At: at, State: &rules.State{}}); err != nil {
		return err
	}
	for i := range viewDays {
		d, at := begins+rules.Date(i), at.Add(time.Duration(i)*24*time.Hour)
		score := i % 3
		dec := rules.Decision{Date: d, Day: i + 1, P: i + 1, W: i + 1, Step: 1, Steps: 3, State: rules.InActive, Send: true,
			Why: rules.Reason{Code: rules.Tick}, WearWhy: rules.Reason{Code: rules.Tick}, Doses: []rules.Due{{Exercise: "toe-pull", Sets: 1, Reps: 10, Sessions: 3}}}
		st := rules.State{Rev: i + 1, Decided: d, P: i + 1, W: i + 1, WearMin: 60, Due: true, Last: rules.Tick, Program: program}
		if id[len(id)-1] == '0' && i == viewDays-1 {
			score = 5
			dec.State, dec.Why = rules.InHeld, rules.Reason{Code: rules.PainHeld, Score: &score, Line: 4, Need: 2}
			st.Hold = &rules.PainHold{Since: d}
		}
		if _, err := tx.Append(journal.Event{Kind: journal.Decided, ID: id, At: at, Decision: &dec, State: &st}); err != nil {
			return err
		}
		st.Rev++
		st.Heard = rules.Heard{Any: true, Score: &score, Halves: 2}
		in := journal.In{Channel: "sms", ID: id + d.String(), Text: "D2", Day: d, Reading: rules.Reading{Done: rules.DoneAll, Pain: &score}}
		if _, err := tx.Append(journal.Event{Kind: journal.Heard, ID: id, At: at.Add(8 * time.Hour), In: &in, State: &st}); err != nil {
			return err
		}
	}
	return nil
}
