package templates

import (
	"testing"
	"time"

	"stepgate/rules"
)

func TestDurations(t *testing.T) {
	w := newSet(t).in("en").words
	for d, want := range map[time.Duration]string{
		0:                                "0 seconds",
		time.Second:                      "1 second",
		20 * time.Second:                 "20 seconds",
		90 * time.Second:                 "1 minute 30 seconds",
		time.Minute:                      "1 minute",
		time.Hour:                        "1 hour",
		90 * time.Minute:                 "1 hour 30 minutes",
		8 * time.Hour:                    "8 hours",
		2*time.Second + time.Second*9/10: "2 seconds", // never more than written
	} {
		if got := w.duration(d); got != want {
			t.Errorf("duration(%s) = %q, want %q", d, got, want)
		}
	}
	for h, want := range map[float64]string{0: "0 hours", 4.5: "4 hours 30 minutes", 1: "1 hour", 0.25: "15 minutes"} {
		if got := w.hours(h); got != want {
			t.Errorf("hours(%v) = %q, want %q", h, got, want)
		}
	}
	for d, want := range map[time.Duration]string{8 * time.Hour: "8 h", 90 * time.Minute: "1 h 30 min", 30 * time.Minute: "30 min"} {
		if got := brief(d); got != want {
			t.Errorf("brief(%s) = %q, want %q", d, got, want)
		}
	}
}

func TestDates(t *testing.T) {
	w := newSet(t).in("en").words
	leap := rules.NewDate(2028, time.February, 29)
	if got := w.date(monday); got != "Mon Oct 5" {
		t.Error(got)
	}
	if got := w.date(leap) + ", " + w.shortDate(leap); got != "Tue Feb 29, Feb 29" {
		t.Error(got)
	}
}

func TestDosePhrases(t *testing.T) {
	l := newSet(t).in("en")
	sec := time.Second
	for _, c := range []struct {
		due      rules.Due
		affected string
		want     string
	}{
		{rules.Due{Sets: 1, Reps: 3, Hold: 20 * sec, Sessions: 2, Side: rules.SideEach}, "left", "2 times a day, 3 times each leg, hold 20 seconds"},
		{rules.Due{Sets: 2, Reps: 10, Sessions: 1, Side: rules.SideEach}, "left", "2 rounds of 10 each leg"},
		{rules.Due{Sets: 3, Reps: 1, Hold: 30 * sec, Sessions: 1, Side: rules.SideEach}, "left", "3 times each leg, hold 30 seconds"},
		{rules.Due{Sets: 1, Reps: 1, Hold: 45 * sec, Sessions: 1, Side: rules.SideEach}, "left", "once each leg, hold 45 seconds"},
		{rules.Due{Sets: 1, Reps: 10, Hold: 10 * sec, Sessions: 3, Side: rules.SideAffected}, "left", "3 times a day, 10 times, left leg, hold 10 seconds"},
		{rules.Due{Sets: 1, Reps: 10, Sessions: 1, Side: rules.SideAffected}, "right", "10 times, right leg"},
		{rules.Due{Sets: 1, Reps: 10, Sessions: 1, Side: rules.SideAffected}, "both", "10 times each leg"},
		{rules.Due{Sets: 1, Reps: 10, Sessions: 1, Side: rules.SideAffected}, "", "10 times, treated leg"},
		{rules.Due{Sets: 3, Reps: 10, Sessions: 1, Side: rules.SideAlternate}, "left", "3 rounds of 10 each leg, taking turns"},
		{rules.Due{Sets: 3, Reps: 15, Sessions: 2, Side: rules.SideTogether}, "left", "2 times a day, 3 rounds of 15, both legs at once"},
		{rules.Due{Sets: 1, Reps: 100, Sessions: 1}, "left", "100 times"},
	} {
		for _, key := range []string{"dose", "dose/full"} {
			if got := l.line(key, amountOf(c.due, c.due.Side, c.affected)); got != c.want {
				t.Errorf("%s of %+v, affected %q: %q, want %q", key, c.due, c.affected, got, c.want)
			}
		}
	}
}

// Load, tempo and rest, briefly for the text and in full for the how-to.
func TestLoadTempoAndRest(t *testing.T) {
	l := newSet(t).in("en")
	base := rules.Due{Sets: 3, Reps: 8, Sessions: 1, Side: rules.SideEach}
	for _, c := range []struct {
		change      func(*rules.Due)
		brief, full string
	}{
		{func(d *rules.Due) { d.RM = 8 }, ", a weight you can lift 8 times", ". Use a weight you can lift 8 times, not more"},
		{func(d *rules.Due) { d.RM = 1 }, ", a weight you can lift 1 time", ". Use a weight you can lift 1 time, not more"},
		{func(d *rules.Due) { d.Load = text("a red band") }, ", a red band", ". Use: a red band"},
		{func(d *rules.Due) { d.RM, d.Load = 8, text("a full bag") }, ", a weight you can lift 8 times (a full bag)", ". Use a weight you can lift 8 times, not more: a full bag"},
		{func(d *rules.Due) { d.Rest = 90 * time.Second }, ", rest 1 minute 30 seconds between", ". Rest 1 minute 30 seconds between rounds"},
		{func(d *rules.Due) { d.Tempo = rules.Tempo{Up: 3, Hold: 2, Down: 3} }, ", 3 seconds up, hold 2, 3 down", ". Each time: 3 seconds up, hold 2, 3 down"},
		{func(d *rules.Due) { d.Tempo = rules.Tempo{Up: 1, Down: 4} }, ", 1 second up, 4 down", ". Each time: 1 second up, 4 down"},
		{func(d *rules.Due) { d.Tempo = rules.Tempo{Down: 3} }, ", 3 seconds down", ". Each time: 3 seconds down"},
		{func(d *rules.Due) { d.Tempo = rules.Tempo{Hold: 2, Down: 3} }, ", hold 2 seconds, 3 down", ". Each time: hold 2 seconds, 3 down"},
		// One hold is said, the shorter.
		{func(d *rules.Due) { d.Hold, d.Tempo = 5*time.Second, rules.Tempo{Up: 3, Hold: 2, Down: 3} }, ", 3 seconds up, hold 2, 3 down", ". Each time: 3 seconds up, hold 2, 3 down"},
		{func(d *rules.Due) { d.Hold, d.Tempo = time.Second, rules.Tempo{Up: 3, Hold: 2, Down: 3} }, ", 3 seconds up, hold 1, 3 down", ". Each time: 3 seconds up, hold 1, 3 down"},
	} {
		d := base
		c.change(&d)
		list, _ := l.items(ana, sampleProgram(), []rules.Due{d}, true)
		if want := "3 rounds of 8 each leg" + c.brief; list[0].Dose != want {
			t.Errorf("%+v: %q, want %q", d, list[0].Dose, want)
		}
		if want := "3 rounds of 8 each leg" + c.full; list[0].Full != want {
			t.Errorf("%+v: %q, want %q", d, list[0].Full, want)
		}
	}
	// With one round there is nothing to rest between, so an eased dose says none.
	if a := amountOf(rules.Due{Sets: 1, Reps: 8, Rest: time.Minute}, rules.SideEach, ""); a.Rest != 0 {
		t.Errorf("a rest of %s between one round", a.Rest)
	}
}

func TestForms(t *testing.T) {
	l := newSet(t).in("en")
	for _, c := range []struct {
		form, only     string
		side           rules.Side
		affected, want string
	}{
		{"", "", rules.SideEach, "left", ""},
		{"toes-in", "", rules.SideEach, "left", "toes turned in"},
		{"toes-in", "left", rules.SideEach, "right", "left leg: toes turned in"},
		{"toes-in", "right", rules.SideAlternate, "left", "right leg: toes turned in"},
		{"toes-in", "left", rules.SideAffected, "left", "toes turned in"},
		{"toes-in", "left", rules.SideAffected, "right", ""},   // the left is not asked
		{"heel-high", "", rules.SideEach, "left", "heel high"}, // nobody wrote words for it
	} {
		d := due("calf-bent", 1, 3, 0, 1)
		d.Form, d.Only, d.Side = c.form, c.only, c.side
		list, _ := l.items(Patient{Affected: c.affected}, sampleProgram(), []rules.Due{d}, true)
		if list[0].Form != c.want {
			t.Errorf("%+v: %q, want %q", c, list[0].Form, c.want)
		}
	}
}

func TestSentence(t *testing.T) {
	for in, want := range map[string]string{"": "", "Bend less": "Bend less.", "Bend less. ": "Bend less.", "Ready?": "Ready?"} {
		if got := sentence(in); got != want {
			t.Errorf("sentence(%q) = %q, want %q", in, got, want)
		}
	}
}

// A dose without a side of its own takes the exercise's.
func TestExerciseSideStandsIn(t *testing.T) {
	l, d := newSet(t).in("en"), twoDue[0]
	d.Side = ""
	list, _ := l.items(Patient{Affected: "right"}, sampleProgram(), []rules.Due{d}, true)
	if want := "3 times a day, 10 times, right leg, hold 10 seconds"; list[0].Dose != want {
		t.Errorf("%q, want %q", list[0].Dose, want)
	}
}

func TestFold(t *testing.T) {
	for in, want := range map[string]string{
		"plain":               "plain",
		"it\u2019s \u2013 ok": "it's - ok",
		"caf\u00e9":           "caf\u00e9", // in the alphabet
		"\u00e1\u00ea":        "ae",
		"e\u0301":             "\u00e9", // composed first
		"a\u00a0b\tc":         "a b c",
		"3 \u00d7 10":         "3 x 10",
		"\u200bzero":          "zero",
	} {
		if got, lost := fold(in); got != want || lost {
			t.Errorf("fold(%q) = %q, lost %v; want %q", in, got, lost, want)
		}
	}
	if got, lost := fold("\u4f60 ok"); got != "? ok" || !lost {
		t.Errorf("fold of a sign without counterpart: %q, lost %v", got, lost)
	}
}

// The text that goes out is never longer, in segments, than the best of the
// wordings there are: the short cuts that spare a rendering lose nothing.
func TestShortestWordingIsFound(t *testing.T) {
	l := newSet(t).in("en")
	prog := sampleProgram()
	for _, d := range dailySamples() {
		for _, name := range []string{"", "Ana", "Maximiliana Evangelina"} {
			who := d.who()
			who.Name = name
			v := l.day(harbor, who, prog, d.dec)
			got := segments(size(l.dailyText(v)))
			key, most := "daily", 1
			if v.First {
				key, most = "first", firstMax
			}
			best := got
			long, short, whom := l.greetings(v.dayFacts)
			v.For = whom
			for _, v.Short = range []bool{false, true} {
				for _, v.Greet = range []string{short, long} {
					_, n := l.sms(key, v)
					best = min(best, n)
				}
			}
			if got > max(best, most) {
				t.Errorf("%s for %q takes %d segments, %d would do", d.name, name, got, best)
			}
		}
	}
}
