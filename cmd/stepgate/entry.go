package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/control"
	"stepgate/rules"
)

// entering is what the commands that write a clinician's entry share: hold,
// release, discharge and note. Each is a careful edit of the enrollment's file,
// which the service takes up as it takes up any other.
type entering struct {
	by, why, on string
	asJSON      bool

	today rules.Date // where the patient's service is
	quick bool       // and that is of quick time: a made-up date
}

func (f *entering) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.by, "by", "", "who does it, for the record (needed)")
	cmd.Flags().StringVar(&f.on, "on", "", "the date, if not today by the patient's clock")
	cmd.Flags().BoolVar(&f.asJSON, "json", false, "print as JSON")
}

func (f *entering) whyFlag(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.why, "why", "", "why, for the record")
}

// entered is what an entry command prints with --json; a contract.
type entered struct {
	ID      string          `json:"id"`
	File    string          `json:"file"`
	Line    int             `json:"line"`
	Service string          `json:"service"`         // none, in force, counted, waiting or refused
	Quick   bool            `json:"quick,omitempty"` // its date is of quick time
	Taken   *daemon.TakenUp `json:"taken,omitempty"`
}

// patient finds an enrollment, and the date of the entry.
func (f *entering) patient(cmd *cobra.Command, dir, id string) (*config.Clinic, *config.Enrollment, rules.Date, error) {
	if err := folder(dir); err != nil {
		return nil, nil, 0, err
	}
	c, problems := config.Load(dir, nil)
	if c == nil {
		fmt.Fprintln(cmd.ErrOrStderr(), "stepgate: nothing was written. The clinic's files have errors, and with them no service takes up an entry; put these right, then say it again:")
		return nil, nil, 0, problems.Errors()
	}
	e, err := c.Patient(id)
	if err != nil {
		return nil, nil, 0, usage{err}
	}
	if strings.TrimSpace(f.by) == "" {
		return nil, nil, 0, usage{errors.New("say with --by who does it, such as --by 'J. Marlowe DPM'; it is kept with the record")}
	}
	now, quick := clockOf(cmd.Context(), dir)
	f.today, f.quick = rules.DateOf(now.In(e.Zone)), quick
	on := f.today
	if f.on != "" {
		if on, err = rules.ParseDate(f.on); err != nil {
			return nil, nil, 0, usage{fmt.Errorf("--on: %s is no date that exists; write it like 2026-10-05", f.on)}
		}
	}
	return c, e, on, nil
}

// clockOf is the time where the service is: that of quick time where one runs,
// for there it is another day.
func clockOf(ctx context.Context, dir string) (now time.Time, quick bool) {
	if h, err := daemon.NewLooker(dir, false, os.Getenv).Health(ctx); err == nil && h.Quick {
		return h.Now, true
	}
	return time.Now(), false
}

// write adds the entries and says where they stand and whether they count yet.
func (f *entering) write(cmd *cobra.Command, dir string, e *config.Enrollment, entries ...rules.Entry) error {
	for i := range entries {
		entries[i].By, entries[i].Why = strings.TrimSpace(f.by), strings.TrimSpace(f.why)
	}
	edit, err := written(dir, e.ID, entries)
	if errors.Is(err, config.ErrNothingToDo) {
		again := ""
		if entries[0].Kind == rules.EntryReport {
			again = "; a second call with the same words is told apart with --why, such as --why 'second call, 14:20'"
		}
		return usage{fmt.Errorf("%s has this very entry already; it counts once%s", e.ID, again)}
	}
	if err != nil {
		return err
	}
	at := shownPath(dir, edit.Path)
	done := entered{ID: e.ID, File: at, Line: edit.Line, Quick: f.quick}
	var words string
	done.Service, words, done.Taken, err = taken(cmd, dir, e, entries)
	if err != nil {
		return err
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), done)
	}
	line := strings.Split(string(edit.After), "\n")[edit.Line-1]
	fmt.Fprintf(cmd.OutOrStdout(), "%s:%d: %s\n%s\n", at, edit.Line, strings.TrimSpace(line), words)
	if f.quick {
		fmt.Fprintln(cmd.OutOrStdout(), "It stands in the real file, made in quick time, whose dates are made up; take it out before you serve for real.")
	}
	return nil
}

// written adds entries to a file. One that others write in too is read anew.
func written(dir, id string, entries []rules.Entry) (edit *config.Edit, err error) {
	for range 20 { // no program writes so often
		if edit, err = config.AddEntries(dir, id, entries); err != nil {
			return nil, err
		}
		if err = edit.Write(); !errors.Is(err, config.ErrChanged) {
			return edit, err
		}
	}
	return nil, err
}

// shownPath is a file of the clinic's folder as it is told.
func shownPath(dir, file string) string {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return file
	}
	rel, err := filepath.Rel(abs, file)
	if err != nil {
		return file
	}
	return filepath.ToSlash(rel)
}

// takeUp is how long a command waits for the service: it reads the files half a
// second after a change, later where many are saved, and a large clinic's are not
// read at once.
const takeUp = 20 * time.Second

// taken asks the running service how far it has taken up an edit, and says so
// in a word and in a sentence.
func taken(cmd *cobra.Command, dir string, e *config.Enrollment, entries []rules.Entry) (string, string, *daemon.TakenUp, error) {
	t, err := daemon.NewLooker(dir, false, os.Getenv).TakenUp(cmd.Context(), e.ID, entries, takeUp)
	var last rules.Date
	for _, n := range entries {
		last = max(last, n.On)
	}
	switch {
	case errors.Is(err, control.ErrNone):
		return "none", "No service runs here; it counts from the next start of stepgate serve.", nil, nil
	case err != nil:
		return "", "", nil, fmt.Errorf("it is written, but the service can't be asked: %w", err)
	case t.Refused:
		return "refused", "It is written, but the service does not take these files; stepgate check " + dir + " says why.", &t, nil
	case !t.InForce:
		return "waiting", "It is written; the running service has not read the files yet and will within a minute.", &t, nil
	case t.Counted:
		return "counted", "The running service has taken it up.", &t, nil
	case len(entries) > 0 && last > dateThere(cmd.Context(), dir, e):
		return "in force", "The running service knows it; what is dated ahead counts from " + last.String() + ".", &t, nil
	}
	return "in force", "The running service knows it.", &t, nil
}

// dateThere is the patient's date where the service is.
func dateThere(ctx context.Context, dir string, e *config.Enrollment) rules.Date {
	now, _ := clockOf(ctx, dir)
	return rules.DateOf(now.In(e.Zone))
}

// dischargedOn tells when somebody was, or is to be, discharged; 0: not.
func dischargedOn(e *config.Enrollment) rules.Date {
	for _, n := range e.Entries {
		if n.Kind == rules.EntryDischarge {
			return n.On
		}
	}
	return 0
}

// stillServed refuses what is for a patient who is discharged.
func (f *entering) stillServed(e *config.Enrollment, what string) error {
	on := dischargedOn(e)
	switch {
	case on == 0:
		return nil
	case on <= f.today:
		return usage{fmt.Errorf("%s was discharged on %s, so there is nothing to %s; to begin anew, enroll them under a new id", e.ID, on, what)}
	case what == "discharge":
		return usage{fmt.Errorf("%s is to be discharged on %s already; to change the date, edit that entry in %s", e.ID, on, e.At.File)}
	}
	return nil
}
