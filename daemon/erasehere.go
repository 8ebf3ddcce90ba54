package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"slices"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/templates"
)

// exists tells whether there is something of that name.
func exists(path string) bool { _, err := os.Stat(path); return err == nil }

// eraseHere erases in a journal that no service has open. The files in the
// folder are put in force first, as a service would do: those in force until
// then may name the patient, and would be kept.
func eraseHere(ctx context.Context, j *journal.Journal, c *config.Clinic, dir, id, by string, getenv func(string) string) (*Erased, []string, error) {
	was, err := lastAccepted(j, dir, getenv)
	if err != nil {
		return nil, nil, fmt.Errorf("erase: %w", err)
	}
	words, err := templates.New()
	if err != nil {
		return nil, nil, err
	}
	s, err := NewService(Options{Journal: j, Words: words, Log: slog.New(slog.DiscardHandler), Clock: RealClock{}})
	if err != nil {
		return nil, nil, err
	}
	if err := s.Accept(ctx, c); err != nil {
		return nil, nil, fmt.Errorf("erase: %w", err)
	}
	out, theirs, err := eraseIn(ctx, j, c, id, by, time.Now())
	return out, append(theirs, ownWords(was, c, id)...), err
}

// ownWords are the name and the contacts of a patient as the files last had
// them, but for what others who are enrolled have too.
func ownWords(was, now *config.Clinic, id string) (words []string) {
	of := func(e *config.Enrollment) []string {
		list := e.Contacts()
		if e.Name != "" {
			list = append(list, "name: "+e.Name, `name: "`+e.Name+`"`, "name: '"+e.Name+"'")
		}
		return list
	}
	if was == nil {
		return nil
	}
	if e := was.Enrollments.Get(id); e != nil {
		words = of(e)
	}
	for e := range now.Enrollments.All() {
		others := of(e)
		words = slices.DeleteFunc(words, func(w string) bool { return slices.Contains(others, w) })
	}
	return words
}
