package templates

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// The reminder of a pause begins with its date, asks for nothing and tells no
// reason, whoever gets it, and takes two segments at most.
func TestStillPaused(t *testing.T) {
	s := newSet(t)
	words := s.in("en").words
	long := harbor
	long.Name, long.Hours = "Harbor Foot and Ankle Clinic", "Mon-Thu 8-6, Fri 8-1"
	for _, c := range []Clinic{harbor, long} {
		for _, p := range people {
			for _, date := range []rules.Date{monday, monday + 79} {
				m, sms := s.StillPaused(c, p, date), p
				sms.TextOnly = true
				text := s.StillPaused(c, sms, date).Text
				n, bad := smsSize(text)
				if !strings.HasPrefix(text, words.date(date)) || n > 2*153 || bad != "" {
					t.Errorf("%d septets (%s):\n%s", n, bad, text)
				}
				for _, shown := range []string{text, m.Text, visible(m.HTML)} {
					for _, want := range []string{"No exercises for now.", "Your clinic has not yet said that you can go on.", c.Phone, c.Hours, c.AfterHours, c.Emergency} {
						if !strings.Contains(shown, want) {
							t.Errorf("lacks %q:\n%s", want, shown)
						}
					}
					if w := diagnosis.FindString(shown); w != "" || strings.ContainsAny(shown, "?") || strings.Contains(shown, "pain") {
						t.Errorf("asks or tells too much (%s):\n%s", w, shown)
					}
				}
			}
		}
	}
	p := ana
	p.TextOnly = true
	if m := s.StillPaused(harbor, p, monday); m.HTML != "" || m.Subject != "" {
		t.Errorf("%+v", m)
	}
}

// crowd is a digest of n people, all in one section, each with the most that
// can be said.
func crowd(n int, rest bool) Digest {
	d := Digest{From: monday - 7, To: monday - 1}
	for i := range n {
		row := caseload().Held[0]
		row.ID, row.Name = fmt.Sprintf("patient-%03d", i), "Maximiliana"
		row.Days = week("s8", "s9", "s8", "s9", "s8", "s9", "s8")
		if rest {
			d.Rest = append(d.Rest, row)
		} else {
			d.Look = append(d.Look, row)
		}
	}
	return d
}

// A digest of 60 people stays under 100 KB, where mail readers begin to cut
// mails off, and names everybody.
func TestDigestSize(t *testing.T) {
	s := newSet(t)
	for _, n := range []int{0, 1, 60, 90} {
		for _, rest := range []bool{false, true} {
			m := s.Digest(harbor, crowd(n, rest))
			if got := strings.Count(m.HTML, "(patient-"); got != n {
				t.Errorf("%d people: the HTML names %d", n, got)
			}
			if got := strings.Count(m.Text, "(patient-"); got != n {
				t.Errorf("%d people: the text names %d", n, got)
			}
			if size := len(m.HTML) + len(m.Text); n <= 60 && size >= 100_000 {
				t.Errorf("%d people take %d bytes", n, size)
			}
			if got, want := strings.Count(m.HTML, "<table"), min(n, charts); !rest && got != want || rest && got != 0 {
				t.Errorf("%d people have %d charts", n, got)
			}
			if n == 60 {
				t.Logf("60 people, rest %v: HTML %d bytes, text %d", rest, len(m.HTML), len(m.Text))
			}
		}
	}
}

// Whoever needs a look comes first, and nobody is in a section they do not
// belong to.
func TestDigestOrder(t *testing.T) {
	m := newSet(t).Digest(harbor, caseload())
	order := []string{"Look at these first", "Bo (p-021)", "Held", "Ana (p-014)", "since Sep 30", "No answer", "Dee (p-030)", "no answer since Sep 29",
		"Review due", "Eli (p-002)", "review due since Oct 4", "Everyone else", "Flo (p-001)", "Gus (p-003)"}
	_, page, _ := strings.Cut(visible(m.HTML), "Harbor Foot Clinic")
	_, text, _ := strings.Cut(m.Text, "\n") // below the title
	for name, shown := range map[string]string{"text": text, "HTML": page} {
		at := 0
		for _, want := range order {
			next := strings.Index(shown[at:], want)
			if next < 0 {
				t.Fatalf("the %s lacks %q after %q", name, want, shown[:at])
			}
			at += next
		}
	}
	if !strings.Contains(m.Text, "Pain, Mon to Sun: 2 3 4 5 4 8 -\n") {
		t.Error(m.Text)
	}
}

// Nobody to mention takes one line.
func TestDigestOfNobody(t *testing.T) {
	s := newSet(t)
	m := s.Digest(harbor, Digest{From: monday - 7, To: monday - 1})
	if m.Text != "The caseload, Sep 28 to Oct 4: nobody to mention." || m.Subject != "Stepgate: Sep 28 to Oct 4, nobody to mention" {
		t.Errorf("%q, %q", m.Subject, m.Text)
	}
	quiet := caseload()
	quiet.Look, quiet.Held, quiet.Silent, quiet.Review = nil, nil, nil, nil
	m = s.Digest(harbor, quiet)
	if !strings.Contains(m.Text, "nobody to mention") || !strings.Contains(m.Text, "Flo") || !strings.Contains(m.HTML, "Nobody to mention.") {
		t.Error(m.Text)
	}
	if m = s.Digest(harbor, caseload()); strings.Contains(strings.ToLower(m.Text+m.HTML), "nobody to mention") {
		t.Error(m.Text)
	}
}

// Every number of a chart stands in its cell, so that nobody has to tell
// colors apart, and the color is that of its band.
func TestChart(t *testing.T) {
	cell := regexp.MustCompile(`<td width="14%"(?: class="(s\d)" bgcolor="#\w{6}"(?: style="[^"]*")?)?>(\w+)<br><b>(\d+|-)</b><br>(\w*|&nbsp;)</td>`)
	classes := []string{"s0", "s0", "s0", "s0", "s1", "s1", "s2", "s2", "s2", "s2", "s2"} // 0-3, 4-5, 6-10: the published bands
	s := newSet(t)
	words := s.in("en").words
	for n := -1; n <= 10; n++ {
		day := DigestDay{Date: monday + rules.Date(n), Done: []string{"", "all", "some", "none"}[(n+4)%4]}
		class, number := "", "-"
		if n >= 0 {
			day.Score = score(n)
			class, number = classes[n], fmt.Sprint(n)
		}
		m := s.Digest(harbor, Digest{Look: []DigestRow{{ID: "p-1", Days: []DigestDay{day}}}})
		got := cell.FindStringSubmatch(m.HTML)
		done := day.Done
		if done == "" {
			done = "&nbsp;"
		}
		if got == nil || got[1] != class || got[2] != words.Weekdays[day.Date.Weekday()] || got[3] != number || got[4] != done {
			t.Errorf("%d: the cell is %q", n, got)
		}
		if want := ": " + number; !strings.Contains(m.Text, want) {
			t.Errorf("%d: the text lacks %q:\n%s", n, want, m.Text)
		}
	}
}

// Where a row stands comes from its section and its state.
func TestDigestStanding(t *testing.T) {
	s := newSet(t)
	for want, d := range map[string]Digest{
		"p-1: held by J. Marlowe since Oct 5.":   {Held: []DigestRow{{ID: "p-1", State: rules.InHeld, Since: monday, Why: rules.Reason{Code: rules.ClinicHeld, By: "J. Marlowe"}}}},
		"p-1: paused since Oct 5.":               {Look: []DigestRow{{ID: "p-1", State: rules.InPaused, Since: monday}}},
		"p-1: held since Oct 5, no answer since": {Silent: []DigestRow{{ID: "p-1", State: rules.InHeld, Since: monday + 3, Why: rules.Reason{Code: rules.PainHeld, Since: monday}}}},
		"p-1: step 1 of 2, active. 2 of 3 exercise days done, no pain number, wear 3 h.": {Rest: []DigestRow{{ID: "p-1", Step: "step 1 of 2", State: rules.InActive,
			Done: 2, Due: 3, Wear: brief(3 * time.Hour)}}},
	} {
		if m := s.Digest(harbor, d); !strings.Contains(strings.Join(strings.Fields(m.Text), " "), want) {
			t.Errorf("lacks %q:\n%s", want, m.Text)
		}
	}
}
