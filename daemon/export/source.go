package export

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
)

// Source is what is exported: a clinic, its journal and one instant.
type Source struct {
	Clinic *config.Clinic // in force
	// Folder is the clinic as its files stand now: a consent taken back there
	// counts before the service has read it. Only FHIR needs it.
	Folder *config.Clinic
	View   func(func(*journal.Tx) error) error // one reading transaction
	Now    time.Time
}

// Summary says whom an export holds and whom it leaves out.
type Summary struct {
	Patients int    `json:"patients"`
	Left     []Left `json:"left_out"`
}

// Left are patients that are left out, or of whom something is.
type Left struct {
	Why   string   `json:"why"`
	Count int      `json:"count"`
	IDs   []string `json:"ids"` // the first of them
}

// firstLeft is how many ids a [Left] names.
const firstLeft = 5

// Why patients are left out.
const (
	notCovered = "left out, whose consent does not cover export"
	goneFrom   = "left out, gone from the files: what they agreed to is not on file"
	noTexts    = "without the words of the messages: the consent does not cover texts"
)

// Summarize tells whom an export would hold.
func Summarize(s Source, o Options) (Summary, error) {
	_, sum, err := s.choose(o)
	return sum, err
}

// Write writes an export.
func Write(w io.Writer, s Source, o Options) error {
	ids, _, err := s.choose(o)
	if err != nil {
		return err
	}
	if o.Form == FHIR {
		return s.bundle(w, ids, o)
	}
	return s.table(w, ids, o)
}

// choose lists who is exported, by id. Whoever was erased is in no journal any
// more, so not here either. Those who opted out of messages are: they did not
// take back what was written down.
func (s Source) choose(o Options) ([]string, Summary, error) {
	var ids []string
	sum := Summary{Left: []Left{}}
	err := s.View(func(tx *journal.Tx) error {
		return tx.People(func(id string, p *journal.Person) error {
			if o.ID != "" && o.ID != id {
				return nil
			}
			why := ""
			if o.Form == FHIR {
				why = sum.mayLeave(id, s.consent(id, p), o)
			}
			if why == "" {
				ids = append(ids, id)
				return nil
			}
			sum.leave(why, id)
			return nil
		})
	})
	sum.Patients = len(ids)
	if err != nil {
		err = fmt.Errorf("export: %w", err)
	}
	return ids, sum, err
}

// consent is what a patient agreed to, by the files in force and by those in
// the folder; nil where one of them does not have the patient.
func (s Source) consent(id string, p *journal.Person) *config.Consent {
	in, now := s.Clinic.Enrollments.Get(id), s.Folder.Enrollments.Get(id)
	if in == nil || now == nil || p.Gone {
		return nil
	}
	return &config.Consent{Export: in.Consent.Export && now.Consent.Export, Texts: in.Consent.Texts && now.Consent.Texts}
}

// mayLeave says why a record may not leave the clinic; empty: it may.
func (sum *Summary) mayLeave(id string, c *config.Consent, o Options) string {
	switch {
	case c == nil:
		return goneFrom
	case !c.Export:
		return notCovered
	case o.Texts && !c.Texts:
		sum.leave(noTexts, id)
	}
	return ""
}

func (sum *Summary) leave(why, id string) {
	i := slices.IndexFunc(sum.Left, func(l Left) bool { return l.Why == why })
	if i < 0 {
		i = len(sum.Left)
		sum.Left = append(sum.Left, Left{Why: why})
	}
	l := &sum.Left[i]
	if l.Count++; l.Count <= firstLeft {
		l.IDs = append(l.IDs, id)
	}
}

// batch is how many bytes are gathered in one transaction. A single patient
// may make more.
const batch = 256 << 10

// stream has each patient written into a buffer inside a transaction, and
// hands the buffer on outside of it. A patient erased meanwhile is passed over.
func (s Source) stream(w io.Writer, ids []string, write func(*bytes.Buffer, *journal.Tx, string, *journal.Person) error) error {
	var buf bytes.Buffer
	for len(ids) > 0 {
		buf.Reset()
		err := s.View(func(tx *journal.Tx) error {
			for len(ids) > 0 && buf.Len() < batch {
				id := ids[0]
				ids = ids[1:]
				p, err := tx.Person(id)
				if err == nil && p != nil {
					err = write(&buf, tx, id, p)
				}
				if err != nil {
					return fmt.Errorf("export %s: %w", id, err)
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		if _, err := buf.WriteTo(w); err != nil {
			return fmt.Errorf("export: %w", err)
		}
	}
	return nil
}
