package daemon

import (
	"strings"
	"testing"

	"stepgate/rules"
)

func TestPainFiveHoldsThePlanUntilTwoEasyDays(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-06", "D P1")
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 3, 3, rules.Tick)
	c.reply("p-01", "P5")

	c.morning("2026-10-08")
	c.wantStands("p-01", "2026-10-08", 3, 3, rules.PainHeld)
	why := c.last("p-01").Why
	if why.Score == nil || *why.Score != 5 || why.Line != 4 || why.At.File != "programs/steady.yaml" {
		t.Fatalf("the reason names neither score, line nor rule: %+v", why)
	}
	c.reply("p-01", "P2")
	c.morning("2026-10-09") // one easy answer
	c.wantStands("p-01", "2026-10-09", 3, 3, rules.PainHeld)
	c.reply("p-01", "P1")
	c.morning("2026-10-10") // two
	c.wantStands("p-01", "2026-10-10", 4, 4, rules.Tick)

	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Wed Oct 7", "Thu Oct 8", "Fri Oct 9", "Sat Oct 10")
	c.wantAnswers("p-01", "1 noted", "1 noted", "5 noted. No more exercises today.", "2 noted", "1 noted")
	c.wantAlerts()
}

func TestASilentDayDoesNotEndAHold(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "P4")
	c.morning("2026-10-06")
	c.reply("p-01", "P1")
	c.morning("2026-10-07") // no answer this day
	c.morning("2026-10-08")
	c.reply("p-01", "D") // a bare "done" is no easy answer either
	c.morning("2026-10-09")
	c.wantStands("p-01", "2026-10-09", 1, 1, rules.PainHeld)
	c.wantAnswers("p-01", "4 noted", "1 noted", "0-10?")
}

func TestPainSevenStepsBackWithARestDay(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-12", "D P1")
	c.wantStands("p-01", "2026-10-12", 8, 8, rules.Tick)
	c.morning("2026-10-13")
	c.reply("p-01", "P7")

	c.morning("2026-10-14")
	c.wantStands("p-01", "2026-10-14", 1, 9, rules.StepBack)
	d := c.last("p-01")
	if !d.Rest || len(d.Doses) != 0 || d.Step != 1 {
		t.Fatalf("no rest day in step 1: %+v", d)
	}
	today := c.sent("p-01")[len(c.sent("p-01"))-1]
	if !strings.Contains(today, "Rest day") || strings.Contains(today, "calf") || !strings.Contains(today, "0-10") {
		t.Fatalf("the text of the rest day:\n%s", today)
	}
	c.morning("2026-10-15") // exercises again, held in the earlier step
	c.wantStands("p-01", "2026-10-15", 1, 9, rules.PainHeld)
	if d := c.last("p-01"); len(d.Doses) != 1 || d.Doses[0].Reps != 3 {
		t.Fatalf("not the dose of step 1: %+v", d.Doses)
	}
}

func TestPainEightPausesUntilARelease(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "P8")
	c.wantAnswers("p-01", "8 noted")
	c.wantAlerts("paused, pain 8")
	for _, d := range []string{"2026-10-06", "2026-10-07", "2026-10-08"} {
		c.morning(d)
		c.wantStands("p-01", d, 1, 1, rules.Paused)
	}
	c.at("2026-10-08 12:00")
	c.reply("p-01", "P1") // heard, but ends nothing
	p := c.patient("p-01")
	p.entries = append(p.entries, "release: 2026-10-09")
	c.write() // written, not read yet
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Mon Oct 5")
	c.mustReload()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5")

	c.morning("2026-10-10")
	c.wantDaily("p-01", "Mon Oct 5", "Sat Oct 10")
	if d := c.last("p-01"); d.P != 1 || !d.Eased {
		t.Fatalf("back at P %d, eased %t; want day 1, eased", d.P, d.Eased)
	}
	c.wantAlerts("paused, pain 8")
}

func TestADangerWordPausesAndTellsTheClinician(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "I have chest pain since this morning")
	c.wantAnswers("p-01", "Call 911 now")
	c.wantAlerts("danger word")
	for _, want := range []string{"p-01", "since this morning", "release: 2026-10-05", "enrollments.yaml"} {
		if !strings.Contains(c.alerts()[0], want) {
			t.Errorf("the alert lacks %q:\n%s", want, c.alerts()[0])
		}
	}
	c.mornings("p-01", "2026-10-06", "2026-10-08", "")
	c.wantDaily("p-01", "Mon Oct 5")
	c.enter("p-01", "release: 2026-10-08")
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Mon Oct 5", "Fri Oct 9")
	c.wantAlerts("danger word")
}

// A release written before the pause began was for something else.
func TestAnOldReleaseDoesNotEndANewPause(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.enter("p-01", "release: 2026-10-05")
	c.at("2026-10-05 18:00")
	c.reply("p-01", "P9")
	c.mustReload()
	c.restart()
	c.mornings("p-01", "2026-10-06", "2026-10-07", "")
	c.wantDaily("p-01", "Mon Oct 5")
}

func TestABlisterTakesTheDevicesOut(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-07", "D P1")
	c.at("2026-10-07 19:00")
	c.reply("p-01", "B")
	c.wantAlerts("blister or skin mark")
	c.morning("2026-10-08")
	d := c.last("p-01")
	if !d.WearOut || d.WearWhy.Code != rules.SkinOut || d.P != 4 {
		t.Fatalf("P %d, wear %q, out %t", d.P, d.WearWhy.Code, d.WearOut)
	}
	if all := c.sent("p-01"); !strings.Contains(all[len(all)-1], "Keep your inserts out") {
		t.Fatalf("the text says:\n%s", all[len(all)-1])
	}
}
