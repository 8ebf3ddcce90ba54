package daemon

import (
	"context"
	"errors"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

func TestABadEditKeepsTheLastGoodFiles(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	good := c.settings
	c.settings = strings.Replace(good, "hours:", "houres:", 1)
	for range 3 { // SIGHUP, again and again
		if err := c.reload(); err == nil {
			t.Fatal("bad files were accepted")
		}
		c.send()
	}
	c.wantAlerts("the clinic's files have errors")
	if !strings.Contains(c.alerts()[0], "houres") || !strings.Contains(c.alerts()[0], "stepgate.yaml:4") {
		t.Fatalf("the alert does not say what is wrong:\n%s", c.alerts()[0])
	}
	if c.logged("files.refused") != 3 || c.logged("files.problem") == 0 {
		t.Fatalf("the log does not say so:\n%s", c.logs)
	}
	h := c.s.Health()
	if h.OK || !strings.Contains(strings.Join(h.Problems, "\n"), "houres") {
		t.Fatalf("health: %+v", h)
	}
	c.morning("2026-10-06") // served from the last good files
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")

	c.patients = append(c.patients, onSpool("p-01")) // another mistake besides
	if err := c.reload(); err == nil {
		t.Fatal("bad files were accepted")
	}
	c.send()
	c.wantAlerts("files have errors", "files have errors")

	c.settings, c.patients = good, c.patients[:1]
	c.mustReload()
	if h := c.s.Health(); !h.OK || len(h.Problems) != 0 {
		t.Fatalf("health once they are right again: %+v", h)
	}
	c.send()
	c.wantAlerts("files have errors", "files have errors")
}

func TestARestartWithBadFilesServesTheLastGoodOnes(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.settings = strings.Replace(c.settings, "emergency: 911", "", 1)
	c.write()
	for range 2 {
		c.restart()
	}
	c.tick()
	if c.logged("files.last_good") != 2 || c.s.Health().OK {
		t.Fatal("nobody is told")
	}
	c.wantAlerts("the clinic's files have errors")
	c.morning("2026-10-06")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
}

func TestALostFileIsNotTakenForADecision(t *testing.T) {
	for _, tt := range []struct {
		known, gone int
		refused     bool
	}{
		{known: 20, gone: 2},
		{known: 20, gone: 3, refused: true},
		{known: 29, gone: 3, refused: true},
		{known: 30, gone: 3}, // a tenth, not more
		{known: 3, gone: 2},
		{known: 3, gone: 3, refused: true},
	} {
		t.Run(fmt.Sprintf("%d of %d", tt.gone, tt.known), func(t *testing.T) {
			var all []*enrolled
			for i := range tt.known {
				all = append(all, onSpool(fmt.Sprintf("p-%02d", i)))
			}
			c := newClinic(t, all...)
			c.patients = all[tt.gone:]
			err := c.reload()
			c.send()
			var refused RefusedError
			if errors.As(err, &refused) != tt.refused || tt.refused == (err == nil) {
				t.Fatalf("reload: %v", err)
			}
			gone := 0
			for _, p := range all {
				if c.person(p.id).Gone {
					gone++
				}
			}
			want, told := tt.gone, tt.gone
			if tt.refused {
				want, told = 0, 1 // of the files
			}
			if gone != want || len(c.alerts()) != told {
				t.Fatalf("%d gone, %d alerts", gone, len(c.alerts()))
			}
			if tt.refused && (c.s.Health().OK || c.s.Clinic().Enrollments.Len() != tt.known) {
				t.Fatal("the refused files are in force")
			}
		})
	}
}

func TestOnePatientGoneAndBackAgain(t *testing.T) {
	gone := onSpool("p-01")
	c := newClinic(t, gone, onSpool("p-02"))
	c.mornings("p-01", "2026-10-05", "2026-10-07", "D P1")
	c.at("2026-10-07 20:00")
	c.reply("p-01", "P5")
	c.reply("p-02", "D")
	texts := len(c.sent("p-01"))

	c.patients = c.patients[1:]
	c.mustReload()
	c.mustReload()
	c.send()
	c.wantAlerts("is gone from the files")
	c.morning("2026-10-08")
	c.morning("2026-10-09")
	if got := c.texts("spool", gone.to); len(got) != texts {
		t.Fatalf("a patient gone from the files got %q", got[texts:])
	}
	if p := c.person("p-01"); !p.Gone || !p.Due.IsZero() {
		t.Fatalf("still due: %+v", p)
	}
	c.replyFrom("spool", gone.to, "P3 and where are you?") // kept, and told
	if kept := c.events("", journal.Heard); len(kept) != 1 || kept[0].In.Text != "P3 and where are you?" {
		t.Fatalf("kept: %+v", kept)
	}
	c.wantAlerts("is gone from the files", "message from an unknown contact")

	c.patients = append(c.patients, gone)
	c.mustReload()
	c.morning("2026-10-10")
	c.wantStands("p-01", "2026-10-10", 3, 3, rules.PainHeld) // the hold it left with
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Wed Oct 7", "Sat Oct 10")
}

func TestAProgramChangedSinceItsApproval(t *testing.T) {
	edit := strings.Replace(programYAML, "reps: 3", "reps: 5", 1)
	t.Run("by text", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		c.morning("2026-10-05")
		c.programs["steady"] = edit
		c.patients = append(c.patients, onSpool("p-02"))
		var refused RefusedError
		if err := c.reload(); !errors.As(err, &refused) || !strings.Contains(refused.What, "2026-10-01") {
			t.Fatalf("reload: %v", err)
		}
		c.send()
		c.wantAlerts("the clinic's files have errors")
		c.morning("2026-10-06") // the approved dose; and nothing of that edit counts
		if got := c.sent("p-01")[1]; !strings.Contains(got, "3 times each leg") {
			t.Fatalf("sent:\n%s", got)
		}
		if len(c.texts("spool", "box-p-02")) != 0 {
			t.Fatal("a patient of refused files was served")
		}
		c.restart() // neither does a restart let it through
		c.morning("2026-10-07")
		if got := c.sent("p-01")[2]; !strings.Contains(got, "3 times each leg") {
			t.Fatalf("sent:\n%s", got)
		}
		c.programs["steady"] = strings.Replace(edit, "on: 2026-10-01", "on: 2026-10-07", 1)
		c.mustReload()
		c.morning("2026-10-08")
		if got := c.sent("p-01")[3]; !strings.Contains(got, "5 times each leg") {
			t.Fatalf("sent:\n%s", got)
		}
	})
	t.Run("on the spool", func(t *testing.T) {
		c := newClinic(t, onSpool("p-01"))
		c.morning("2026-10-05")
		c.programs["steady"] = edit
		c.mustReload()
		c.morning("2026-10-06")
		if got := c.sent("p-01")[1]; !strings.Contains(got, "5 times each leg") {
			t.Fatalf("sent:\n%s", got)
		}
		// What was changed on the spool reaches nobody by text unapproved.
		c.patients = append(c.patients, onSMS("p-02", phone1))
		var refused RefusedError
		if err := c.reload(); !errors.As(err, &refused) {
			t.Fatalf("reload: %v", err)
		}
	})
}

func TestAProgramEditLeavesThePastAlone(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-13", "D P1")
	past := c.decisions("p-01")
	// The second week's row goes, and with it the block the patient is in.
	c.programs["steady"] = strings.Replace(programYAML, "  2:\n    - {do: calf, reps: 6, hold: 10s, sessions: 2}\n", "", 1)
	c.mustReload()
	c.restart()
	c.morning("2026-10-14")
	now := c.decisions("p-01")
	if !reflect.DeepEqual(now[:len(past)], past) {
		t.Fatal("a past decision reads otherwise now")
	}
	if d := now[len(past)]; d.Step != 1 || d.P != 10 || d.Doses[0].Reps != 3 {
		t.Fatalf("step %d, P %d, %+v", d.Step, d.P, d.Doses)
	}
}

func TestANewPatientGetsTheFirstTextAtOnce(t *testing.T) {
	c := newClinic(t)
	c.at("2026-10-06 14:10")
	p := onSpool("p-01")
	p.from = "2026-10-06" // enrolled after nine, still in the room
	c.patients = append(c.patients, p)
	c.mustReload()
	c.tick()
	c.wantDaily("p-01", "Tue Oct 6")
	if got := c.sent("p-01")[0]; !strings.Contains(got, "This is Harbor Foot Clinic") {
		t.Fatalf("the first text:\n%s", got)
	}
}

func TestTheMessageTimeIsChanged(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.at("2026-10-05 08:30")
	c.patient("p-01").time = "10:00"
	c.mustReload()
	c.ticks("2026-10-05 09:59", time.Minute)
	c.wantDaily("p-01")
	c.at("2026-10-05 10:00")
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5")
	c.patient("p-01").time = "15:00" // the day has had its message
	c.mustReload()
	c.ticks("2026-10-06 14:59", 11*time.Minute)
	c.wantDaily("p-01", "Mon Oct 5")
	c.at("2026-10-06 15:00")
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
}

func TestCarrierSettingsCountFromTheNextStart(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mustReload()
	if c.logged("files.restart_needed") != 0 {
		t.Fatal("nothing was changed")
	}
	c.settings = "# a comment moves everything down\n" + c.settings
	c.mustReload()
	if c.logged("files.restart_needed") != 0 {
		t.Fatal("only a comment was changed")
	}
	c.settings = strings.Replace(c.settings, `from: "+12125550100"`, `from: "+12125550101"`, 1)
	c.mustReload()
	if c.logged("files.restart_needed") != 1 {
		t.Fatal("nobody is told to restart")
	}
}

// TestCheckSeesARefusal: from another process, with no service running, the
// same files are found to be refused before anybody tries.
func TestCheckSeesARefusal(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	look := func() *config.Problem {
		t.Helper()
		c.write()
		read, problems := c.load()
		if read == nil {
			t.Fatal(problems)
		}
		c.die()
		defer c.start()
		p, err := NewLooker(c.dir, false, os.Getenv).Refusal(context.Background(), read)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	if p := look(); p != nil {
		t.Errorf("files in force are refused: %v", p)
	}
	good := c.programs["steady"]
	c.programs["steady"] = strings.Replace(good, "reps: 3", "reps: 5", 1)
	if p := look(); p == nil || p.At.File != "programs/steady.yaml" || !strings.Contains(p.What, "2026-10-01") {
		t.Errorf("a program changed since its approval: %v", p)
	}
	c.programs["steady"] = good
}
