package daemon

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// crowd is so many patients by text; the message of all is due at nine.
func crowd(n int) []*enrolled {
	all := make([]*enrolled, n)
	for i := range all {
		all[i] = onSMS(fmt.Sprintf("p-%02d", i), fmt.Sprintf("+121355501%02d", i))
	}
	return all
}

// stamps notes when each message came to the carrier.
type stamps struct {
	mu  sync.Mutex
	at  []time.Time
	who []notify.Message
}

func (s *stamps) note(_ context.Context, m notify.Message) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.at, s.who = append(s.at, time.Now()), append(s.who, m)
}

// A morning bigger than the rate goes out at the rate and no faster: never
// more than the bucket holds and the rate gives in any stretch of time. A first
// text and an answer pass the others, and the log says when the last goes out.
func TestAMorningGoesOutAtTheRate(t *testing.T) {
	patients := crowd(60)
	seen := &stamps{}
	prepare := func(c *clinic, _ *RunOptions) {
		c.numbers = []config.SMSNumber{{Number: ourNumber, Rate: 0.5}}
		patients[59].from = "2000-01-02" // begins a day later than the others
		c.sms.inside = seen.note
	}
	inBubble(t, patients, prepare, func(x *running) {
		time.Sleep(tillNine + 23*time.Hour)
		synctest.Wait()
		*seen = stamps{}
		time.Sleep(time.Hour + 30*time.Second) // half a minute into the second morning
		x.take("sms", notify.Incoming{ID: "IN1", From: patients[7].to, To: ourNumber, Text: "H"})
		time.Sleep(time.Hour)
		synctest.Wait()
		segments, firstAt, answerAt := 0.0, -1, -1
		for i, m := range seen.who {
			segments += float64(notify.Segments(m.Text).Segments)
			switch {
			case m.To == patients[59].to:
				firstAt = i
			case strings.HasPrefix(m.Key, "answer/"):
				answerAt = i
			}
		}
		if len(seen.who) != 61 || firstAt < 0 || firstAt > 20 || answerAt < 0 || answerAt > 40 {
			x.t.Fatalf("%d messages, the first text was number %d, the answer number %d", len(seen.who), firstAt, answerAt)
		}
		for from := range seen.at {
			sum := 0.0
			for to := from; to < len(seen.at); to++ {
				sum += float64(notify.Segments(seen.who[to].Text).Segments)
				if most := longestText + 0.5*seen.at[to].Sub(seen.at[from]).Seconds() + 0.01; sum > most {
					x.t.Fatalf("%.0f segments in %s", sum, seen.at[to].Sub(seen.at[from]))
				}
			}
		}
		took := seen.at[len(seen.at)-1].Sub(seen.at[0]).Seconds()
		if want := (segments - longestText) / 0.5; math.Abs(took-want) > 10 {
			x.t.Errorf("it took %.0f s, the rate gives %.0f", took, want)
		}
		if x.logged("out.queue") == 0 {
			x.t.Error("the log does not say when the last goes out")
		}
	})
}

// What a day's cap leaves goes to answers, and midnight at the clinic begins
// another day.
func TestADailyCapKeepsRoomForAnswers(t *testing.T) {
	patients := crowd(30)
	prepare := func(c *clinic, _ *RunOptions) {
		c.numbers = []config.SMSNumber{{Number: ourNumber, Rate: 100, DailyCap: 20}}
	}
	inBubble(t, patients, prepare, func(x *running) {
		time.Sleep(tillNine + time.Hour)
		synctest.Wait()
		spent := 0
		for _, m := range x.sms.all() {
			spent += notify.Segments(m.Text).Segments
		}
		if spent > 18 || spent < 16 { // nine tenths; a first text has two segments
			x.t.Fatalf("%d segments of doses went out under a cap of 20", spent)
		}
		x.take("sms", notify.Incoming{ID: "IN1", From: patients[3].to, To: ourNumber, Text: "P9"})
		time.Sleep(time.Minute)
		synctest.Wait()
		if all := x.sms.all(); !strings.HasPrefix(all[len(all)-1].Key, "answer/") {
			x.t.Fatalf("the answer waits: %s", all[len(all)-1].Key)
		}
		was := len(x.sms.all())
		time.Sleep(23 * time.Hour)
		synctest.Wait()
		if len(x.sms.all()) <= was {
			x.t.Fatal("the next day nothing went out")
		}
	})
}

// Trouble with the account stops sending for everybody: one message at a time
// finds out whether it is over. The admin is told once.
func TestSenderTroubleStopsTheLane(t *testing.T) {
	patients := crowd(40)
	broken := says{res: notify.Result{Status: notify.Retry, Code: "20003", Trouble: true}}
	prepare := func(c *clinic, _ *RunOptions) {
		c.settings = strings.Replace(c.settings, "alerts:", "admin: {spool: admin-box}\nalerts:", 1)
		for range 40 {
			c.sms.next(broken)
		}
		c.numbers = []config.SMSNumber{{Number: ourNumber, Rate: 10}}
	}
	inBubble(t, patients, prepare, func(x *running) {
		time.Sleep(tillNine + 3*time.Hour)
		synctest.Wait()
		// The few that the bucket let go, two or three segments each, then one after a
		// minute, doubled up to thirty: ten in three hours.
		if n := x.sms.tries; n < longestText/3+5 || n > longestText/2+12 {
			x.t.Fatalf("tried %d times in three hours", n)
		}
		told := x.texts("spool", "admin-box")
		if len(told) != 1 || !strings.Contains(told[0], "20003") {
			x.t.Fatalf("the admin has %q", told)
		}
		if n := len(x.inbox()); n != 0 {
			x.t.Fatalf("the clinician has %d mails about the account", n)
		}
		if h := x.s.Health(); h.OK || !strings.Contains(strings.Join(h.Problems, " "), "20003") {
			x.t.Fatalf("health %+v", h)
		}
		x.sms.forget()
		time.Sleep(31 * time.Minute)
		synctest.Wait()
		for _, p := range patients {
			x.wantDaily(p.id, "Sat Jan 1")
		}
		if h := x.s.Health(); !h.OK || x.logged("sender.resumed") != 1 {
			x.t.Errorf("health %+v, resumed %d times", h, x.logged("sender.resumed"))
		}
		if n := len(x.texts("spool", "admin-box")); n != 1 {
			x.t.Errorf("the admin was told %d times", n)
		}
	})
}

// A carrier that asks for patience gets it, from everybody.
func TestTooManyRequestsSlowTheLane(t *testing.T) {
	wait := says{res: notify.Result{Status: notify.Retry, Code: "20429", Busy: true, After: 5 * time.Minute}}
	seen := &stamps{}
	prepare := func(c *clinic, _ *RunOptions) {
		c.sms.next(wait)
		c.workers = 1
		c.sms.inside = seen.note
	}
	inBubble(t, crowd(5), prepare, func(x *running) {
		time.Sleep(tillNine + time.Hour)
		synctest.Wait()
		if len(seen.at) != 6 || seen.at[1].Sub(seen.at[0]) < 5*time.Minute {
			x.t.Fatalf("%d tries, at %v", len(seen.at), seen.at)
		}
	})
}

// A carrier that can't be reached for ten minutes is trouble too.
func TestACarrierOutOfReach(t *testing.T) {
	gone := says{res: notify.Result{Status: notify.Retry, Code: "refused", Unreachable: true}}
	prepare := func(c *clinic, _ *RunOptions) {
		for range 200 {
			c.sms.next(gone)
		}
	}
	inBubble(t, crowd(3), prepare, func(x *running) {
		time.Sleep(tillNine + 5*time.Minute)
		synctest.Wait()
		x.wantAlerts()
		time.Sleep(2 * time.Hour)
		synctest.Wait()
		x.wantAlerts("cannot be reached: no connection")
		x.sms.forget()
		time.Sleep(31 * time.Minute)
		synctest.Wait()
		x.wantDaily("p-00", "Sat Jan 1")
	})
}

// A patient stays with the number their texts came from, also when numbers are
// added, and answers come from the number they wrote to. New patients are
// spread by rate.
func TestPatientsKeepTheirNumber(t *testing.T) {
	const second = "+12125550101"
	c := newClinic(t, crowd(30)...)
	c.morning("2026-10-05")
	c.numbers = append(c.numbers, config.SMSNumber{Number: second, Rate: 1000})
	ch := c.channels["sms"]
	ch.Numbers = c.numbers
	c.channels["sms"] = ch
	c.restart()
	late := onSMS("late", "+12135550177")
	late.more = "    sender: \"" + second + "\"\n"
	c.settings = strings.Replace(c.settings, `from: "+12125550100"`, `numbers: [{from: "+12125550100"}, {from: "`+second+`"}]`, 1)
	c.patients = append(c.patients, late)
	for i := range 30 {
		c.patients = append(c.patients, onSMS(fmt.Sprintf("new-%02d", i), fmt.Sprintf("+130355501%02d", i)))
	}
	c.mustReload()
	c.morning("2026-10-06")
	c.take("sms", notify.Incoming{ID: "IN1", From: "+12135550105", To: second, Text: "H"})
	c.tick()
	from := map[string]int{}
	for _, m := range c.sms.all() {
		from[m.From]++
		old := strings.HasPrefix(m.To, "+121355501")
		switch {
		case strings.HasPrefix(m.Key, "answer/") && m.From != second:
			t.Errorf("the answer came from %s", m.From)
		case strings.HasPrefix(m.Key, "day/") && old && m.To != late.to && m.From != ourNumber:
			t.Errorf("%s moved to another number", m.To)
		case m.To == late.to && m.From != second:
			t.Errorf("sender: is not kept, %s", m.From)
		}
	}
	if from[second] < 10 || from[ourNumber] < 70 {
		t.Errorf("texts by number: %v", from)
	}
}

// Of numbers drawn by lot each wins as often as its share of the rates.
func TestLotFollowsTheRates(t *testing.T) {
	c := newClinic(t)
	ch := c.channels["sms"]
	ch.Numbers = []config.SMSNumber{{Number: "+12125550101", Rate: 1}, {Number: "+12125550102", Rate: 3}}
	c.channels["sms"] = ch
	const n = 4000
	fast := 0
	w := &work{s: c.s}
	for i := range n {
		if w.number(&config.Enrollment{Enrollment: rules.Enrollment{ID: fmt.Sprint("p-", i)}}, &journal.Person{}) == "+12125550102" {
			fast++
		}
	}
	// Of 4,000 draws at 3 in 4, five standard deviations are 137.
	if fast < 3000-137 || fast > 3000+137 {
		t.Errorf("the number three times as fast got %d of %d", fast, n)
	}
}
