package daemon

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"slices"
	"time"

	"stepgate/config"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// Change is a patient whose next message would be another under edited files.
type Change struct {
	ID     string     `json:"id"`
	Name   string     `json:"name"`
	Date   rules.Date `json:"date"`   // of the next message
	Before string     `json:"before"` // its text under the files in force; "" where none is due
	After  string     `json:"after"`
}

// impact plays the next date of every patient under the files in force and
// under edited ones, from the state they are in now, and lists those whose
// message differs. What may still come in before that date is not known to it.
func impact(tx *journal.Tx, was, edited *config.Clinic, set *templates.Set, now time.Time) ([]Change, error) {
	before, after := newRoster(was, now), newRoster(edited, now)
	changes := []Change{}
	for _, id := range allIDs(before, after) {
		p, err := tx.Person(id)
		if err != nil {
			return nil, err
		}
		var st rules.State
		if p != nil {
			st = p.State
		}
		c := Change{ID: id}
		for _, side := range []struct {
			r    *roster
			text *string
		}{{before, &c.Before}, {after, &c.After}} {
			e := side.r.enrolled(id)
			if e == nil {
				continue
			}
			c.Name = e.Name
			optedOut := tx.AnyOptedOut(e.Contacts())
			date, text := nextText(side.r, e, st, optedOut, set, now)
			if *side.text = text; c.Date == 0 || date != 0 && date < c.Date {
				c.Date = date
			}
		}
		if c.Before != c.After {
			changes = append(changes, c)
		}
	}
	return changes, nil
}

// allIDs are the ids of both rosters, in the order of the edited files, then
// those gone from them.
func allIDs(before, after *roster) []string {
	ids := slices.Collect(after.clinic.Enrollments.IDs())
	for id := range before.clinic.Enrollments.IDs() {
		if _, in := after.clinic.Enrollments.Find(id); !in {
			ids = append(ids, id)
		}
	}
	return ids
}

// nextText is the text of a patient's next date, if nothing comes in before.
func nextText(r *roster, e *config.Enrollment, st rules.State, optedOut bool, set *templates.Set, now time.Time) (rules.Date, string) {
	d := max(today(now, e), st.Decided+1, e.First())
	for _, n := range rules.Pending(&e.Enrollment, st, d) {
		if n.Kind == rules.EntryReport {
			st, _ = rules.EnterReport(r.program(e), &e.Enrollment, st, n, readPhoned(e.Language, n.Said), d, optedOut)
			continue
		}
		st = rules.Enter(st, n, d)
	}
	if !rules.Decidable(&e.Enrollment, st, d) {
		return 0, ""
	}
	_, dec := rules.Decide(r.program(e), &e.Enrollment, st, d, rules.Facts{OptedOut: optedOut})
	if !dec.Send {
		return d, ""
	}
	return d, set.Daily(words(r.clinic), patient(e, e.Address), r.program(e), dec).Text
}

// Impact compares edited files with those a journal has in force: that of a
// data file, or of the service that holds it, which then reads the edited files
// itself: a running service takes an edit of its own folder up at once, so it is
// a copy of the folder that is edited first.
func Impact(ctx context.Context, dataFile string, edited *config.Clinic, getenv func(string) string) ([]Change, error) {
	j, err := journal.Open(dataFile, journal.Options{})
	if errors.Is(err, journal.ErrLocked) {
		var changes []Change
		if err := control.Get(ctx, filepath.Dir(dataFile), "/v1/impact?dir="+url.QueryEscape(edited.Dir), &changes); err != nil {
			return nil, fmt.Errorf("ask the service that holds %s: %w", dataFile, err)
		}
		return changes, nil
	}
	if err != nil {
		return nil, err
	}
	defer func() { _ = j.Close() }()
	was, err := lastAccepted(j, edited.Dir, getenv)
	if err != nil {
		return nil, fmt.Errorf("read the files in force: %w", err)
	}
	if was == nil {
		return nil, ErrNoJournal
	}
	set, err := templates.New()
	if err != nil {
		return nil, err
	}
	var changes []Change
	err = j.View(func(tx *journal.Tx) (err error) {
		changes, err = impact(tx, was, edited, set, latest(time.Now(), tx.LastAt()))
		return err
	})
	return changes, err
}
