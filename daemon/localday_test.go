package daemon

import (
	"bufio"
	"os"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/rules"
)

// TestLocalInstant holds the local-day rule against another implementation's
// results; testdata/localday/zones.csv names it.
func TestLocalInstant(t *testing.T) {
	f, err := os.Open("../testdata/localday/zones.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	kinds, zones := map[string]int{}, map[string]bool{}
	sc := bufio.NewScanner(f)
	for sc.Scan() {
		if strings.HasPrefix(sc.Text(), "#") {
			continue
		}
		col := strings.Split(sc.Text(), ",")
		d, c, loc := civil(t, col[1], col[2], col[0])
		want, err := time.Parse(time.RFC3339, col[3])
		if err != nil {
			t.Fatal(err)
		}
		got := localInstant(d, c, loc)
		// Where the gap carries a time over midnight the date wins.
		if rules.DateOf(want.In(loc)) != d {
			if rules.DateOf(got) != d || got.Add(time.Minute).In(loc).Day() == got.Day() {
				t.Errorf("%s: got %s, want the last minute of the date", sc.Text(), got)
			}
		} else if !got.Equal(want) {
			t.Errorf("%s: got %s", sc.Text(), got.UTC().Format(time.RFC3339))
		}
		kinds[col[4]]++
		zones[col[0]] = true
	}
	if kinds["gap"] < 30 || kinds["twice"] < 30 || len(zones) < 12 {
		t.Fatalf("too little was compared: %v in %d zones", kinds, len(zones))
	}
}

// TestEveryDateOnce: at any message time, successive dates give successive
// instants, one on each date, in every zone of the table.
func TestEveryDateOnce(t *testing.T) {
	for _, name := range []string{"America/New_York", "Europe/London", "Africa/Cairo", "Australia/Lord_Howe", "America/Nuuk", "Pacific/Chatham"} {
		loc, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []config.Clock{0, 30, 90, 120, 150, 8 * 60, 23*60 + 30} {
			last := time.Time{}
			for d := rules.NewDate(2026, 1, 1); d < rules.NewDate(2027, 1, 1); d++ {
				at := localInstant(d, c, loc)
				if rules.DateOf(at) != d {
					t.Fatalf("%s %s %s: falls on %s", name, d, c, rules.DateOf(at))
				}
				if !at.After(last) {
					t.Fatalf("%s %s %s: not after the day before", name, d, c)
				}
				last = at
			}
		}
	}
}

// TestDateThatNeverWas: Samoa went from Dec 29 to Dec 31, 2011, so Dec 30
// has no instant of its own (IANA time zone database).
func TestDateThatNeverWas(t *testing.T) {
	d, c, loc := civil(t, "2011-12-30", "09:00", "Pacific/Apia")
	if got := rules.DateOf(localInstant(d, c, loc)); got == d {
		t.Errorf("2011-12-30 in Apia is said to be %s", got)
	}
}

func civil(t *testing.T, date, clock, zone string) (rules.Date, config.Clock, *time.Location) {
	t.Helper()
	d, err := rules.ParseDate(date)
	if err != nil {
		t.Fatal(err)
	}
	at, err := time.Parse("15:04", clock)
	if err != nil {
		t.Fatal(err)
	}
	loc, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	return d, config.Clock(at.Hour()*60 + at.Minute()), loc
}
