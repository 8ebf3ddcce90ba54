package daemon

import (
	"strings"
	"testing"
)

// TestReviewVisit: the day before a review visit the patient gets a reminder
// and the clinician a line, once each; a paused patient's reminder stays away,
// the clinician's line does not.
func TestReviewVisit(t *testing.T) {
	p := onSpool("p-01")
	p.more = "    review visits: [2026-10-07, 2026-10-09]\n"
	c := newClinic(t, p)
	c.morning("2026-10-05")
	c.morning("2026-10-06")
	c.tick()
	c.send()
	reminders := func() int {
		n := 0
		for _, text := range c.texts("spool", "box-p-01") {
			if strings.Contains(text, "visit") {
				n++
			}
		}
		return n
	}
	if got := reminders(); got != 1 {
		t.Errorf("%d reminders on the eve, want 1:\n%q", got, c.texts("spool", "box-p-01"))
	}
	c.reply("p-01", "P9")
	c.send()
	c.morning("2026-10-07")
	c.morning("2026-10-08")
	if got := reminders(); got != 1 {
		t.Errorf("%d reminders, want none for a paused patient beside the first:\n%q", got, c.texts("spool", "box-p-01"))
	}
	lines := 0
	for _, text := range c.alerts() {
		if strings.Contains(text, "comes for a review visit tomorrow") {
			lines++
		}
	}
	if lines != 2 {
		t.Errorf("%d lines for the clinician, want one a visit", lines)
	}
}

// TestReviewVisitComesTooLate: what comes in before the reminder goes out
// keeps it back.
func TestReviewVisitComesTooLate(t *testing.T) {
	p := onSpool("p-01")
	p.more = "    review visits: [2026-10-07]\n"
	c := newClinic(t, p)
	c.morning("2026-10-05")
	c.at("2026-10-06 09:00")
	c.decide()
	c.reply("p-01", "chest pain")
	c.send()
	for _, text := range c.texts("spool", "box-p-01") {
		if strings.Contains(text, "visit") {
			t.Errorf("a paused patient is reminded:\n%s", text)
		}
	}
}
