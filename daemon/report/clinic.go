package report

import (
	"errors"
	"fmt"
	"time"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/daemon/outcomes"
	"stepgate/rules"
	"stepgate/templates"
)

// Clinic is what the clinic's page shows. Its JSON is what `report --json`
// prints: keys are added, never renamed.
type Clinic struct {
	Clinic   string          `json:"clinic"`
	Made     time.Time       `json:"made"`  // in the clinic's zone
	Board    *caseload.Board `json:"board"` // who needs a look, and some of the rest
	Outcomes outcomes.Clinic `json:"outcomes"`
	Titles   []ProgramTitle  `json:"programs"`
}

// ProgramTitle names a program and its exercises as the clinic does.
type ProgramTitle struct {
	ID        string            `json:"id"`
	Title     string            `json:"title"`
	Exercises map[string]string `json:"exercises"`
}

// What a page lists: enough for a day's work, and no more than a browser shows
// at ease.
const (
	mostLook = 2000 // who need a look
	mostRest = 500  // of the others
)

// OfClinic gathers the board and the outcomes of all who are in the files, from
// one transaction.
func OfClinic(tx *journal.Tx, v caseload.View) (*Clinic, error) {
	board, err := board(tx, v)
	if err != nil {
		return nil, err
	}
	counted, err := tally(tx, v)
	if err != nil {
		return nil, err
	}
	return together(v, board, counted), nil
}

// AtOnce is the same from two transactions side by side: each reads everybody,
// which takes a while where there are many.
func AtOnce(view func(func(*journal.Tx) error) error, v caseload.View) (*Clinic, error) {
	var b *caseload.Board
	shown := make(chan error, 1)
	go func() {
		shown <- view(func(tx *journal.Tx) (err error) { b, err = board(tx, v); return err })
	}()
	var counted outcomes.Clinic
	err := view(func(tx *journal.Tx) (err error) { counted, err = tally(tx, v); return err })
	if err = errors.Join(err, <-shown); err != nil {
		return nil, err
	}
	return together(v, b, counted), nil
}

// board has who needs a look, and some of the rest.
func board(tx *journal.Tx, v caseload.View) (*caseload.Board, error) {
	b, err := v.Board(tx, caseload.Query{Sort: "need", Limit: mostLook + mostRest})
	if err != nil {
		return nil, err
	}
	rest := 0
	for i := range b.Rows {
		if b.Rows[i].Group.NeedsLook() {
			continue
		}
		if rest++; rest > mostRest {
			b.Rows = b.Rows[:i]
			break
		}
	}
	return b, nil
}

func together(v caseload.View, b *caseload.Board, counted outcomes.Clinic) *Clinic {
	out := &Clinic{Clinic: v.Clinic.Name, Made: v.Now.In(v.Clinic.Zone), Board: b, Outcomes: counted, Titles: []ProgramTitle{}}
	for _, id := range b.Programs {
		p := v.Clinic.Programs[id]
		t := ProgramTitle{ID: id, Title: p.Title.In("en"), Exercises: map[string]string{}}
		for id, e := range p.Exercises {
			t.Exercises[id] = e.Name.In("en")
		}
		out.Titles = append(out.Titles, t)
	}
	return out
}

// tally adds up the patients in the files. It reads their days and nothing
// else: who is discharged stands in the files, and who has finished in the days.
func tally(tx *journal.Tx, v caseload.View) (outcomes.Clinic, error) {
	all := v.Clinic.Enrollments
	counted := make([]bool, all.Len())
	var t outcomes.Tally
	err := tx.AllDays(func(id string, days []journal.Day) error {
		i, in := all.Find(id)
		if !in {
			return nil
		}
		e := all.At(i)
		t.Add(read(v, e, closed(v, e, days), days))
		counted[i] = true
		return nil
	})
	if err != nil {
		return outcomes.Clinic{}, fmt.Errorf("outcomes: %w", err)
	}
	for i := range counted {
		if !counted[i] {
			e := all.At(i)
			t.Add(read(v, e, closed(v, e, nil), nil))
		}
	}
	return t.Clinic(), nil
}

// closed is the state of a patient of whom nothing more is to come, or none.
func closed(v caseload.View, e *config.Enrollment, days []journal.Day) rules.InState {
	today := rules.DateOf(v.Now.In(e.Zone))
	for _, n := range e.Entries {
		if n.Kind == rules.EntryDischarge && n.On <= today {
			return rules.InDischarged
		}
	}
	if n := len(days); n > 0 && days[n-1].State == rules.InFinished {
		return rules.InFinished
	}
	return ""
}

// Page is the clinic's page. With links a patient's name leads to /patients/ID,
// as it can only where the pages are served.
func (c *Clinic) Page(words *templates.Set, links bool) []byte {
	return words.ClinicReport(c.view(links))
}
