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
		if got := l.line("dose", amountOf(c.due, c.due.Side, c.affected)); got != c.want {
			t.Errorf("%+v, affected %q: %q, want %q", c.due, c.affected, got, c.want)
		}
	}
}

// A dose without a side of its own takes the exercise's.
func TestExerciseSideStandsIn(t *testing.T) {
	l, d := newSet(t).in("en"), twoDue[0]
	d.Side = ""
	list, _ := l.items(Patient{Affected: "right"}, sampleProgram(), []rules.Due{d})
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
			v := l.day(harbor, Patient{Name: name, Affected: "left"}, prog, d.dec)
			got := segments(size(l.dailyText(v)))
			key, most := "daily", 1
			if v.First {
				key, most = "first", firstMax
			}
			best := got
			for _, v.Short = range []bool{false, true} {
				for _, v.Greet = range []string{"", l.greeting(name)} {
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
