package daemon

import (
	"reflect"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/rules"
)

func TestReadCommands(t *testing.T) {
	today := mustDate("2026-11-27")
	for _, c := range []struct {
		text string
		n    int
		want []command // nil: refused
	}{
		{"seen", 1, []command{{1, "seen", 0}}},
		{"Seen.", 3, []command{{0, "seen", 0}}},
		{"ok", 1, []command{{1, "seen", 0}}},
		{"Release\n\nJ. Marlowe DPM", 1, []command{{1, "release", 0}}},
		{"2 release", 3, []command{{2, "release", 0}}},
		{"1. seen\n2: hold until 2026-12-10\n3) discharge\n", 3, []command{{1, "seen", 0}, {2, "hold", mustDate("2026-12-10")}, {3, "discharge", 0}}},
		{"hold until Dec 10", 1, []command{{1, "hold", mustDate("2026-12-10")}}},
		{"hold until Jan 5", 1, []command{{1, "hold", mustDate("2027-01-05")}}},
		{"hold", 1, []command{{1, "hold", 0}}},
		{"all seen", 2, []command{{0, "seen", 0}}},
		{"release wear", 1, []command{{1, "release wear", 0}}},
		{"confirm contact", 1, []command{{1, "confirm", 0}}},
		{"> release", 1, []command{{1, "release", 0}}},
		{"release", 2, nil},               // of whom?
		{"4 seen", 3, nil},                // there is none
		{"hold until yesterday", 1, nil},  // no date
		{"hold until 2026-11-27", 1, nil}, // not ahead
		{"hold until 2030-01-01", 1, nil}, // too far
		{"release 2026-12-10", 1, nil},    // a release has no end
		{"please do not release", 1, nil}, // words around it
		{"I will call her, release later", 1, nil},
		{"", 1, nil},
		{"thanks!", 1, nil},
	} {
		got, err := readCommands(c.text, c.n, today)
		if (err == nil) != (c.want != nil) || err == nil && !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q of %d: %v, %v, want %v", c.text, c.n, got, err, c.want)
		}
	}
}

// weekdays are the usual clinic hours.
func weekdays(t *testing.T) *config.Clinic {
	t.Helper()
	zone, err := time.LoadLocation(newYork)
	if err != nil {
		t.Fatal(err)
	}
	return &config.Clinic{Zone: zone, AlertWeek: config.Week{
		Days:  [7]bool{time.Monday: true, time.Tuesday: true, time.Wednesday: true, time.Thursday: true, time.Friday: true},
		Hours: config.Hours{From: 9 * 60, To: 17 * 60}}, Digest: "0 7 * * mon"}
}

func local(t *testing.T, c *config.Clinic, s string) time.Time {
	t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", s, c.Zone)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// 2026-11-27 is a Friday.
func TestClinicHours(t *testing.T) {
	c := weekdays(t)
	for _, x := range []struct{ now, next, day string }{
		{"2026-11-27 08:59", "2026-11-27 09:00", "2026-11-30 09:00"},
		{"2026-11-27 09:00", "2026-11-27 10:00", "2026-11-30 09:00"},
		{"2026-11-27 09:01", "2026-11-27 10:00", "2026-11-30 09:01"},
		{"2026-11-27 15:59", "2026-11-27 16:00", "2026-11-30 15:59"},
		{"2026-11-27 16:00", "2026-11-30 09:00", "2026-11-30 16:00"},
		{"2026-11-27 17:00", "2026-11-30 09:00", "2026-12-01 09:00"},
		{"2026-11-28 12:00", "2026-11-30 09:00", "2026-12-01 09:00"},
		{"2026-11-24 23:30", "2026-11-25 09:00", "2026-11-26 09:00"},
	} {
		now := local(t, c, x.now)
		if got := nextClinicHour(c, now); !got.Equal(local(t, c, x.next)) {
			t.Errorf("%s: next clinic hour %s, want %s", x.now, got.In(c.Zone), x.next)
		}
		if got := clinicDayOn(c, now); !got.Equal(local(t, c, x.day)) {
			t.Errorf("%s: a clinic day on %s, want %s", x.now, got.In(c.Zone), x.day)
		}
	}
	if n := clinicDays(c.AlertWeek, mustDate("2026-11-27"), mustDate("2026-12-01")); n != 2 {
		t.Errorf("%d clinic days from Friday to Tuesday", n)
	}
	c.AlertWeek.Days = [7]bool{}
	if now := local(t, c, "2026-11-27 08:59"); !nextClinicHour(c, now).Equal(now) {
		t.Error("a clinic without days waits")
	}
}

// The digest has its time on the clinic's wall clock, once a date, also in the
// nights in which an hour is missing or comes twice.
func TestDigestDue(t *testing.T) {
	c := weekdays(t)
	for _, x := range []struct{ spec, now, want string }{
		{"0 7 * * mon", "2026-11-30 06:59", ""},
		{"0 7 * * mon", "2026-11-30 07:00", "2026-11-30 07:00"},
		{"0 7 * * mon", "2026-11-30 23:00", "2026-11-30 07:00"},
		{"0 7 * * mon", "2026-12-01 06:59", "2026-11-30 07:00"},
		{"0 7 * * mon", "2026-12-01 07:01", ""},
		{"30 2 * * *", "2026-03-08 12:00", "2026-03-08 03:30"}, // no 02:30 that night
		{"30 1 * * *", "2026-11-01 12:00", "2026-11-01 01:30"}, // twice 01:30
		{"0 7,16 * * *", "2026-11-30 17:00", "2026-11-30 16:00"},
		{"", "2026-11-30 17:00", ""},
	} {
		c.Digest = x.spec
		at, due := lastFired(c.Digest, c.Zone, local(t, c, x.now))
		if due != (x.want != "") || due && at.In(c.Zone).Format("2006-01-02 15:04") != x.want {
			t.Errorf("%s at %s: %s, %v, want %q", x.spec, x.now, at.In(c.Zone), due, x.want)
		}
	}
}

func TestSkinThatIsNotFeltDoesNotWait(t *testing.T) {
	w := &work{r: &roster{clinic: &config.Clinic{Enrollments: config.NewRoll([]*config.Enrollment{
		{Enrollment: rules.Enrollment{ID: "numb", Cautions: rules.Cautions{ReducedSensation: true}}},
		{Enrollment: rules.Enrollment{ID: "sound"}},
		{Enrollment: rules.Enrollment{ID: "frail", Cautions: rules.Cautions{FragileSkin: true}}},
	})}}}
	skin := rules.Notice{Kind: rules.NoticeSkin}
	for id, want := range map[string]int{"numb": atOnce, "frail": atOnce, "sound": canWait, "nobody": atOnce} {
		if got := w.urgency(alert{id: id, notice: skin}); got != want {
			t.Errorf("%s: %d, want %d", id, got, want)
		}
	}
}

func mustDate(s string) rules.Date {
	d, err := rules.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}
