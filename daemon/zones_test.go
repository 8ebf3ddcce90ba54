package daemon

import (
	"context"
	"strings"
	"testing"
	"time"

	"stepgate/notify"
	"stepgate/rules"
)

// The hours a clock skips or shows twice; the dates are those of the IANA time
// zone database.
var clockChanges = []struct {
	name, zone, time string
	from, to         string // dates to live through
}{
	{"02:30 is missing", "America/New_York", "02:30", "2026-03-07", "2026-03-09"},
	{"01:30 comes twice", "America/New_York", "01:30", "2026-10-31", "2026-11-02"},
	{"01:30 is missing", "Europe/London", "01:30", "2026-03-28", "2026-03-30"},
	{"01:30 comes twice", "Europe/London", "01:30", "2026-10-24", "2026-10-26"},
	{"midnight is missing", "Africa/Cairo", "00:30", "2026-04-23", "2026-04-25"},
	{"23:30 comes twice", "Africa/Cairo", "23:30", "2026-10-28", "2026-10-30"},
	{"half an hour is missing", "Australia/Lord_Howe", "02:15", "2026-10-03", "2026-10-05"},
	{"half an hour comes twice", "Australia/Lord_Howe", "01:45", "2026-04-04", "2026-04-06"},
}

func TestOneMessageADayAcrossClockChanges(t *testing.T) {
	for _, tt := range clockChanges {
		t.Run(tt.zone+" "+tt.name, func(t *testing.T) {
			p := onSpool("p-01")
			p.zone, p.time, p.from = tt.zone, tt.time, tt.from
			set := &SetClock{}
			c := bareClinic(t, set, p)
			c.set = set
			c.settings = strings.Replace(c.settings, `{from: "08:00", to: "21:00"}`, `{from: "00:00", to: "23:59"}`, 1)
			var err error
			if c.zone, err = time.LoadLocation(tt.zone); err != nil {
				t.Fatal(err)
			}
			c.at(tt.from + " 00:00")
			c.open()
			c.ticks(tt.to+" 23:50", 10*time.Minute)
			var want []string
			for d := c.date(tt.from); d <= c.date(tt.to); d++ {
				want = append(want, d.Time().Format("Mon Jan 2"))
			}
			c.wantDaily("p-01", want...)
			c.wantStands("p-01", tt.to, 3, 3, rules.Tick)
		})
	}
}

// A patient whose zone is moved in the files gets at most one daily message a
// local date, and it is that date's.
func TestOneMessageALocalDateWhenThePatientMoves(t *testing.T) {
	moves := map[string][]string{ // at each New York time, a zone
		"east at noon":       {"2026-10-06 12:00", "Asia/Tokyo"},
		"west at noon":       {"2026-10-06 12:00", "Pacific/Honolulu"},
		"far east, at night": {"2026-10-06 20:30", "Pacific/Kiritimati"},
		"before the message": {"2026-10-06 08:30", "Asia/Tokyo", "2026-10-07 03:30", "America/New_York"},
		"round the world": {"2026-10-06 09:30", "Pacific/Kiritimati", "2026-10-07 12:00", "Pacific/Pago_Pago",
			"2026-10-08 10:00", "Europe/London", "2026-10-08 18:00", "Asia/Tokyo", "2026-10-09 01:00", "Pacific/Honolulu"},
	}
	for name, steps := range moves {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t, onSMS("p-01", phone1))
			p := c.patient("p-01")
			p.zone = newYork
			seen := map[string]bool{}
			c.sms.inside = func(_ context.Context, m notify.Message) {
				zone, err := time.LoadLocation(p.zone)
				if err != nil {
					t.Error(err)
				}
				date := c.clock.Now().In(zone).Format("Mon Jan 2")
				if !strings.HasPrefix(m.Text, date+".") && !strings.HasPrefix(m.Text, date+"\n") {
					t.Errorf("on %s this goes out:\n%s", date, m.Text)
				}
				if seen[date] {
					t.Errorf("a second message on %s", date)
				}
				seen[date] = true
			}
			for len(steps) > 0 {
				c.ticks(steps[0], 30*time.Minute)
				p.zone = steps[1]
				c.mustReload()
				steps = steps[2:]
			}
			c.ticks("2026-10-12 00:00", 30*time.Minute)
			if len(seen) < 6 { // seven dates, at most one lost to the move
				t.Errorf("only %d messages: %v", len(seen), seen)
			}
		})
	}
}

// A message that waits while its patient is moved over midnight is
// yesterday's, and stays where it is.
func TestAMessageOfYesterdayIsNotHandedOver(t *testing.T) {
	p := onSpool("p-01")
	p.time = "20:00"
	c := newClinic(t, p)
	c.at("2026-10-05 20:00")
	c.decide()
	p.zone, p.time = "Asia/Tokyo", "08:30" // 09:00 on October 6 there
	c.mustReload()
	c.send()
	c.wantDaily("p-01")
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Tue Oct 6")
}

// Nor is one handed over in the night of the place its patient was moved to.
func TestAMessageOfTodayIsNotHandedOverAtNight(t *testing.T) {
	t.Run("too late there", func(t *testing.T) {
		c := newClinic(t, onSpool("p-01"))
		c.at("2026-10-05 09:00") // 22:00 in Tokyo
		c.decide()
		c.patient("p-01").zone = "Asia/Tokyo"
		c.mustReload()
		c.ticks("2026-10-05 19:59", 10*time.Minute)
		c.wantDaily("p-01")
		c.at("2026-10-05 20:00") // nine in the morning
		c.tick()
		c.wantDaily("p-01", "Tue Oct 6")
	})
	t.Run("too early there", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		c.sms.next(busy)
		c.morning("2026-10-05") // 03:00 in Honolulu
		c.patient("p-01").zone = "Pacific/Honolulu"
		c.mustReload()
		c.ticks("2026-10-06 14:59", 10*time.Minute)
		c.wantDaily("p-01")
		c.at("2026-10-06 15:00")
		c.tick()
		c.wantDaily("p-01", "Tue Oct 6")
		c.wantStands("p-01", "2026-10-06", 1, 1, rules.NotSent)
	})
}
