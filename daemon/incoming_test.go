package daemon

import (
	"fmt"
	"strings"
	"testing"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

func TestTheSameIncomingTextTwiceCountsOnce(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	in := notify.Incoming{ID: "IN1", From: phone1, Text: "P5"}
	c.take("sms", in)
	c.take("sms", in)
	c.send()
	c.restart()
	c.take("sms", in)
	c.send()
	if n := len(c.events("p-01", journal.Heard)); n != 1 {
		t.Fatalf("heard %d times", n)
	}
	c.wantAnswers("p-01", "5 noted")
	if n := c.logged("in.duplicate"); n != 2 {
		t.Fatalf("in.duplicate was logged %d times", n)
	}
	// Days later, after the hold is over, it still changes nothing.
	c.mornings("p-01", "2026-10-06", "2026-10-08", "P1")
	c.take("sms", in)
	c.morning("2026-10-09")
	if d := c.last("p-01"); d.Why.Code != rules.Tick {
		t.Fatalf("an old text held the plan again: %q", d.Why.Code)
	}
}

// Ids are the channel's own: the same id on another channel is another text.
func TestTheSameIDOnAnotherChannelIsAnotherText(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	p := onSpool("p-02")
	p.channel, p.to = "email", "pat@example.net"
	c.patients = append(c.patients, p)
	c.mustReload()
	c.morning("2026-10-05")
	c.take("sms", notify.Incoming{ID: "IN1", From: phone1, Text: "P1"})
	c.take("email", notify.Incoming{ID: "IN1", From: "pat@example.net", Text: "P2"})
	if a, b := len(c.events("p-01", journal.Heard)), len(c.events("p-02", journal.Heard)); a != 1 || b != 1 {
		t.Fatalf("heard %d and %d", a, b)
	}
}

func TestTwoTextsTheSameMinuteBothCount(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.drop("box-p-01", "", "P2\n")
	c.drop("box-p-01", "", "P6\n")
	c.drop("box-p-01", "", "P1\n")
	c.tick()
	if n := len(c.answers("p-01")); n != 3 {
		t.Fatalf("%d answers", n)
	}
	c.morning("2026-10-06")
	if d := c.last("p-01"); d.Why.Score == nil || *d.Why.Score != 6 || d.Why.Code != rules.BlockAgain {
		t.Fatalf("not the worst of the day: %+v", d.Why)
	}
}

func TestATextBeforeTheFirstMessage(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.reply("p-01", "D")
	c.wantAnswers("p-01", "has not started yet")
	c.reply("p-01", "P8") // pain counts at once
	c.wantAlerts("paused, pain 8")
	c.morning("2026-10-05")
	c.wantStands("p-01", "2026-10-05", 1, 1, rules.Paused)
	c.wantDaily("p-01")
}

func TestATextOfNothingButEmoji(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	before := c.state("p-01")
	c.reply("p-01", "\U0001F996\U0001F38F")
	c.wantAnswers("p-01", "We could not read that")
	c.wantAlerts("sent words that could not be read")
	if after := c.state("p-01"); after.Heard.Any || after.Rev != before.Rev {
		t.Fatalf("it counted as a report: %+v", after.Heard)
	}
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
}

// Unread words never end a hold.
func TestUnreadWordsEndNoHold(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "P5")
	c.mornings("p-01", "2026-10-06", "2026-10-08", "xyzzy plugh")
	c.morning("2026-10-09")
	c.wantStands("p-01", "2026-10-09", 1, 1, rules.PainHeld)
}

const stranger = "+12125550177"

func TestAnUnknownNumber(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.at("2026-10-05 10:00")
	c.replyFrom("sms", stranger, "hello, is this the clinic?")
	c.replyFrom("sms", stranger, "anybody there?")
	c.wantAlerts("message from an unknown contact")
	got := c.texts("sms", stranger)
	wantEach(c, "answers to a stranger", got, []string{"we do not know this number"})
	for _, word := range []string{"Quillon", "foot", "Foot", "insert", "exercise", "plan", "pain", "patient", "step"} {
		if strings.Contains(got[0], word) {
			t.Errorf("a stranger reads %q:\n%s", word, got[0])
		}
	}
	// Both texts are kept, in their own words.
	kept := c.events("", journal.Heard)
	if len(kept) != 2 || kept[1].In.Text != "anybody there?" || kept[1].In.From != stranger {
		t.Fatalf("kept: %+v", kept)
	}
	c.at("2026-10-06 10:00")
	c.replyFrom("sms", stranger, "hello again")
	c.wantAlerts("message from an unknown contact", "message from an unknown contact")
	if n := len(c.texts("sms", stranger)); n != 2 {
		t.Fatalf("%d answers in two days", n)
	}
}

func TestADangerWordFromAnUnknownNumber(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.at("2026-10-05 10:00")
	c.replyFrom("sms", stranger, "hello?")
	c.replyFrom("sms", stranger, "I have chest pain") // not kept back by the day's first answer
	c.replyFrom("sms", stranger, "the chest pain is bad")
	c.wantAlerts("message from an unknown contact", "message from an unknown contact")
	if !strings.Contains(c.alerts()[1], "I have chest pain") && !strings.Contains(c.alerts()[0], "I have chest pain") {
		t.Fatalf("no alert has the words:\n%s", c.alerts())
	}
	wantEach(c, "answers to a stranger", c.texts("sms", stranger), []string{"we do not know this number", "Call 911 now"})
}

func TestStopFromAnUnknownNumber(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.at("2026-10-05 08:00")
	c.replyFrom("sms", stranger, "STOP")
	c.replyFrom("sms", stranger, "hello")
	if got := c.texts("sms", stranger); len(got) != 0 {
		t.Fatalf("after STOP: %q", got)
	}
	// The opt-out stands when the number is enrolled later.
	c.patients = append(c.patients, onSMS("p-02", stranger))
	c.mustReload()
	c.morning("2026-10-05")
	c.wantDaily("p-01", "Mon Oct 5")
	c.wantDaily("p-02")
	c.wantStands("p-02", "2026-10-05", 1, 1, rules.OptedOut)
	c.replyFrom("sms", stranger, "START")
	c.morning("2026-10-06")
	c.wantDaily("p-02", "Tue Oct 6")
}

// A danger word beside a stop word reaches the clinic, whoever wrote it.
func TestStopWithADangerWordFromAnUnknownNumber(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.at("2026-10-05 10:00")
	c.replyFrom("sms", stranger, "STOP. I have chest pain")
	c.wantAlerts("message from an unknown contact")
	if !strings.Contains(c.alerts()[0], "I have chest pain") {
		t.Fatalf("the alert:\n%s", c.alerts()[0])
	}
}

// A phone's echo of our own text is no reply.
func TestAnEchoIsNoReply(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.reply("p-01", "Liked \"Mon Oct 5. Wall calf stretch\"")
	c.replyFrom("sms", stranger, "Liked \"Mon Oct 5. Wall calf stretch\"")
	c.wantAnswers("p-01")
	c.wantAlerts()
	if c.state("p-01").Heard.Any {
		t.Fatal("it counted")
	}
}

func TestWrongNumberStopsAtOnce(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.reply("p-01", "sorry, wrong number")
	c.wantAlerts("may be the wrong person")
	answer := c.answers("p-01")[0]
	for _, word := range []string{"Quillon", "calf", "insert", "exercise", "foot", "Foot", "times"} {
		if strings.Contains(answer, word) {
			t.Errorf("the wrong person reads %q:\n%s", word, answer)
		}
	}
	c.mornings("p-01", "2026-10-06", "2026-10-08", "")
	c.wantDaily("p-01", "Mon Oct 5")
	c.wantStands("p-01", "2026-10-08", 1, 1, rules.Suspended)
	c.enter("p-01", "confirm contact: 2026-10-08")
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Mon Oct 5", "Fri Oct 9")
}

func TestAnswersToOneContactAreLimited(t *testing.T) {
	for _, text := range []string{"H", "STOP", "START", "what?"} {
		t.Run(text, func(t *testing.T) {
			c := newClinic(t, onSpool("p-01"), onSpool("p-02"))
			c.at("2026-10-05 07:30")
			for i := range maxAnswers + 5 {
				c.drop("box-p-01", fmt.Sprintf("%03d.txt", i), text+"\n")
			}
			c.s.Collect(t.Context())
			c.send()
			if n := len(c.answers("p-01")); n != maxAnswers {
				t.Fatalf("%d answers, want %d", n, maxAnswers)
			}
			if n := len(c.events("p-01", journal.Heard)); n != maxAnswers+5 {
				t.Fatalf("%d were kept", n)
			}
			if n := c.logged("answer.limited"); n != 5 {
				t.Fatalf("answer.limited was logged %d times", n)
			}
			c.reply("p-02", "H") // somebody else is not kept waiting
			if n := len(c.answers("p-02")); n != 1 {
				t.Fatalf("%d answers to another", n)
			}
			c.at("2026-10-06 07:30")
			c.reply("p-01", "H")
			if text != "STOP" && len(c.answers("p-01")) != maxAnswers+1 {
				t.Fatal("no answer the next day")
			}
		})
	}
}

// Past the limit pain still counts, and the clinic is told that no answer went
// out.
func TestPainPastTheLimitIsTold(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	for i := range maxAnswers {
		c.drop("box-p-01", fmt.Sprintf("%03d.txt", i), "H\n")
	}
	c.s.Collect(t.Context())
	c.send()
	c.reply("p-01", "P9")
	c.wantAlerts("paused, pain 9")
	if !strings.Contains(c.alerts()[0], "No answer could go out") {
		t.Fatalf("the alert:\n%s", c.alerts()[0])
	}
	c.morning("2026-10-06")
	c.wantDaily("p-01", "Mon Oct 5")
}
