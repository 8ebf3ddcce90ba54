package daemon

import (
	"testing"

	"stepgate/notify"
	"stepgate/rules"
)

// A mail in which nothing is left but our own subject says nothing: its date
// is no pain of 5. It is kept, told, and answered with what can be understood.
func TestAMailWithNothingOfItsOwn(t *testing.T) {
	p := onSpool("p-01")
	p.channel, p.to = "email", "rosa@example.net"
	c := staffed(t, "", p)
	c.morning("2026-10-05")
	first := c.row(dailyKey("p-01", c.date("2026-10-05")))
	subject := c.email.subjects("rosa@example.net")[0]
	c.take("email", notify.Incoming{ID: "IN1", From: "rosa@example.net", Subject: "Re: " + subject, Text: subject, Answers: []string{first.CarrierID}})
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.wantAlerts("could not be read")
	// Somebody who answers in the subject is heard.
	c.take("email", notify.Incoming{ID: "IN2", From: "rosa@example.net", Subject: "P6", Text: "P6", Answers: []string{first.CarrierID}})
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 1, 2, rules.BlockAgain)
}

// A hard bounce is a dead contact; a soft one is not.
func TestABounceSuspendsTheContact(t *testing.T) {
	p := onSpool("p-01")
	p.channel, p.to = "email", "rosa@example.net"
	c := staffed(t, "", p)
	c.morning("2026-10-05")
	id := c.row(dailyKey("p-01", c.date("2026-10-05"))).CarrierID
	tell := c.s.Tell("email")
	if err := tell(t.Context(), notify.News{ID: "guessed@example.com", BadContact: true}); err != nil {
		t.Fatal(err)
	}
	if c.state("p-01").Suspended {
		t.Fatal("a guessed Message-ID suspends")
	}
	if err := tell(t.Context(), notify.News{ID: id, Code: "5.1.1", BadContact: true}); err != nil {
		t.Fatal(err)
	}
	if !c.state("p-01").Suspended {
		t.Fatal("the contact is not suspended")
	}
	c.wantAlerts("cannot be reached")
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.Suspended)
}
