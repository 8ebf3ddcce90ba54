package daemon

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// A start with nothing changed looks at nobody but those with entries: a date
// that came while nobody ran counts.
func TestAStartWithNothingChanged(t *testing.T) {
	held := onSpool("p-02")
	held.entries = []string{"hold: 2026-10-07"}
	c := newClinic(t, onSpool("p-01"), held)
	c.morning("2026-10-05")
	last := func() (seq uint64) {
		c.view(func(tx *journal.Tx) error { seq = tx.LastSeq(); return nil })
		return seq
	}
	before := last()
	c.restart()
	if after := last(); after != before {
		t.Errorf("a start with nothing changed wrote %d events", after-before)
	}
	due := c.person("p-01").Due
	c.die()
	c.at("2026-10-08 23:00") // past the texting hours
	c.start()
	if !c.person("p-01").Due.Equal(due) {
		t.Error("a start with nothing changed looked at somebody without entries")
	}
	if c.state("p-02").Held == nil {
		t.Error("a hold whose date came meanwhile was not read")
	}
	c.tick()
	if got := c.person("p-01").Due.In(c.zone).Format("2006-01-02 15:04"); got != "2026-10-09 09:00" || c.logged("day.slept") == 0 {
		t.Errorf("due %s after the tick", got)
	}
	c.morning("2026-10-09")
	c.wantStands("p-01", "2026-10-09", 2, 2, rules.Tick)
}

// stopsAt is a clock that ends a context after it was looked at so often.
type stopsAt struct {
	Clock
	left int
	stop context.CancelFunc
}

func (c *stopsAt) Now() time.Time {
	if c.left--; c.left == 0 {
		c.stop()
	}
	return c.Clock.Now()
}

// Very many new patients are enrolled in several commits. One that is cut off
// between them puts nothing in force, and the next goes on from there.
func TestManyNewPatientsAreEnrolledInLots(t *testing.T) {
	patients := make([]*enrolled, 2*acceptBatch+500)
	for i := range patients {
		patients[i] = onSpool(fmt.Sprintf("p-%04d", i))
	}
	c := newClinic(t, patients[0])
	c.patients = patients
	c.write()
	many, problems := c.load()
	if many == nil {
		t.Fatal(problems)
	}
	known := func() (n int) {
		c.view(func(tx *journal.Tx) error {
			n = 0
			return tx.People(func(string, *journal.Person) error { n++; return nil })
		})
		return n
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	usual := c.s.o.Clock
	c.s.o.Clock = &stopsAt{Clock: usual, left: 4, stop: stop} // the roster, the look, a lot and the next
	err := c.s.Accept(ctx, many)
	c.s.o.Clock = usual
	if n := known(); !errors.Is(err, context.Canceled) || n != acceptBatch || c.s.Clinic().Enrollments.Len() != 1 {
		t.Fatalf("%d known, %d in force: %v", n, c.s.Clinic().Enrollments.Len(), err)
	}
	c.restart()
	if n := known(); n != len(patients) || c.s.Clinic().Enrollments.Len() != len(patients) {
		t.Fatalf("%d known, %d in force after the next start", n, c.s.Clinic().Enrollments.Len())
	}
	c.view(func(tx *journal.Tx) error {
		for _, p := range []*enrolled{patients[0], patients[1], patients[len(patients)-1]} {
			n := 0
			if err := tx.Events(p.id, func(e journal.Event) error { n++; return nil }); err != nil || n != 1 {
				t.Errorf("%s has %d events, want its enrolling alone; %v", p.id, n, err)
			}
		}
		return nil
	})
}

// Files that would be refused enroll nobody ahead of that.
func TestRefusedFilesEnrollNobody(t *testing.T) {
	old := []*enrolled{onSpool("a-01"), onSpool("a-02"), onSpool("a-03")}
	c := newClinic(t, old...)
	c.patients = nil
	for i := range acceptBatch + 1 {
		c.patients = append(c.patients, onSpool(fmt.Sprintf("p-%04d", i)))
	}
	var refused RefusedError
	if err := c.reload(); !errors.As(err, &refused) {
		t.Fatalf("reload: %v", err)
	}
	c.view(func(tx *journal.Tx) error {
		p, err := tx.Person("p-0000")
		if p != nil || err != nil {
			t.Errorf("enrolled all the same: %v", err)
		}
		return nil
	})
}

// Patients enrolled ahead of files that never came into force stand in nobody's
// way, once those files are taken back: the next edit is no mass loss, and it
// ends them without an alert each.
func TestStraysOfACutOffAcceptance(t *testing.T) {
	known := []*enrolled{onSpool("a-01")}
	c := newClinic(t, known...)
	c.patients = []*enrolled{known[0]}
	for i := range acceptBatch + 500 {
		c.patients = append(c.patients, onSpool(fmt.Sprintf("p-%04d", i)))
	}
	c.write()
	c.at("2026-10-05 07:30") // later than the files in force were accepted
	many, problems := c.load()
	if many == nil {
		t.Fatal(problems)
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	usual := c.s.o.Clock
	c.s.o.Clock = &stopsAt{Clock: usual, left: 4, stop: stop} // the roster, the look, a lot and the next
	err := c.s.Accept(ctx, many)
	c.s.o.Clock = usual
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("accept: %v", err)
	}
	c.patients = known
	c.write()
	c.restart()
	c.patients = append(known, onSpool("a-02"))
	c.mustReload()
	c.view(func(tx *journal.Tx) error {
		p, err := tx.Person("p-0000")
		if err != nil || p == nil || !p.Gone {
			t.Errorf("a stray stays known: %+v, %v", p, err)
		}
		n := 0
		err = tx.Events("p-0000", func(journal.Event) error { n++; return nil })
		if err != nil || n != 2 {
			t.Errorf("a stray has %d events, want enrolled and removed alone; %v", n, err)
		}
		return nil
	})
}

// With one file changed only its patients are looked at, and those with entries;
// with other settings everybody is.
func TestOnlyWhoIsInAChangedFileIsLookedAt(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	other, held := onSpool("q-01"), onSpool("q-02")
	held.entries = []string{"hold: 2026-10-07"}
	c.writeFile("enrollments/others.yaml", "enrollments:\n"+other.yaml()+held.yaml())
	c.mustReload()
	c.morning("2026-10-05")
	due := func(id string) string { return c.person(id).Due.In(c.zone).Format("2006-01-02") }
	was := due("q-01")
	c.die()
	c.at("2026-10-08 23:00") // past the texting hours
	c.patients[0].name = "Quillona"
	c.write()
	c.start()
	if due("p-01") != "2026-10-09" || due("q-01") != was || c.state("q-02").Held == nil {
		t.Errorf("p-01 is due %s, q-01 %s (before: %s), q-02 held: %+v", due("p-01"), due("q-01"), was, c.state("q-02").Held)
	}
	c.settings = strings.Replace(c.settings, "grace: 10m", "grace: 20m", 1)
	c.mustReload()
	if due("q-01") != "2026-10-09" {
		t.Errorf("with other settings q-01 is due %s", due("q-01"))
	}
}

// Somebody who was erased from a journal, but whose file is in force all the same,
// as after a restore of both, is taken in anew.
func TestAStartMissesNobody(t *testing.T) {
	c := newClinic(t, onSpool("p-01"), onSpool("p-02"))
	c.morning("2026-10-05")
	err := c.j.Update(t.Context(), func(tx *journal.Tx) error { return tx.Erase("p-02", c.s.o.Clock.Now(), "admin", "asked for") })
	if err != nil {
		t.Fatal(err)
	}
	c.restart()
	if p := c.person("p-02"); p == nil || p.Due.IsZero() {
		t.Errorf("p-02 is in the files and not due: %+v", p)
	}
}
