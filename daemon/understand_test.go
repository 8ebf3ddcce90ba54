package daemon

import (
	"testing"

	"stepgate/notify"
)

// What is understood of a text ahead of its commit is void where something
// comes between: it is understood again, as if it had come only then.
func TestWhatWasUnderstoodTooEarlyIsUnderstoodAgain(t *testing.T) {
	in := notify.Incoming{ID: "IN9", From: phone1, Text: "P1"}
	for name, test := range map[string]struct {
		text    string // of it; empty: P1
		between func(c *clinic)
		stale   bool // what was understood
		answers []string
		want    func(c *clinic) bool
	}{
		"nothing": {answers: []string{"1 noted"}, want: func(c *clinic) bool { return *c.state("p-01").Heard.Score == 1 }},
		"a text that pauses": {
			between: func(c *clinic) { c.reply("p-01", "P9") }, stale: true,
			answers: []string{"9 noted", "1 noted. Your plan is still stopped"},
			want:    func(c *clinic) bool { return c.state("p-01").Pause != nil && *c.state("p-01").Heard.Score == 9 },
		},
		"a stop by another way": {
			between: func(c *clinic) { c.commit(func(w *work) error { return w.optOut(phone1, true, "") }) }, stale: true,
			want: func(c *clinic) bool { return *c.state("p-01").Heard.Score == 1 },
		},
		"the files, read again": {
			between: func(c *clinic) { c.mustReload() }, stale: true,
			answers: []string{"1 noted"}, want: func(c *clinic) bool { return *c.state("p-01").Heard.Score == 1 },
		},
		"midnight": {
			text: "A3", between: func(c *clinic) { c.at("2026-10-06 00:01") }, stale: true,
			answers: []string{"away through Thu Oct 8"}, // from the day after the last decided date
			want:    func(c *clinic) bool { return c.state("p-01").Away.To == c.date("2026-10-08") },
		},
		"two midnights": {
			text: "A3", between: func(c *clinic) { c.at("2026-10-07 00:01") }, stale: true,
			answers: []string{"away through Fri Oct 9"},
			want:    func(c *clinic) bool { return c.state("p-01").Away.To == c.date("2026-10-09") },
		},
	} {
		t.Run(name, func(t *testing.T) {
			c, in := loneClinic(t, onSMS("p-01", phone1)), in
			c.morning("2026-10-05")
			c.at("2026-10-05 23:59")
			if test.text != "" {
				in.Text = test.text
			}
			r := c.s.roster.Load()
			ahead := c.s.understandAhead(r, "sms", in)
			if test.between != nil {
				test.between(c)
			}
			c.commit(func(w *work) error {
				if w.holds(ahead, r.enrolled("p-01"), in.Text) == test.stale {
					t.Errorf("it is stale: want %v", test.stale)
				}
				return w.take("sms", in, ahead)
			})
			c.send()
			c.wantAnswers("p-01", test.answers...)
			if !test.want(c) {
				t.Errorf("the state is %+v", c.state("p-01"))
			}
		})
	}
}

func (c *clinic) commit(fn func(*work) error) {
	c.t.Helper()
	if err := c.s.commit(c.t.Context(), c.s.roster.Load(), fn); err != nil {
		c.t.Fatal(err)
	}
}
