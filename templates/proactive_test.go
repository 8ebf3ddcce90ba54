package templates

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
)

// people are the ways a text can be addressed.
var people = []Patient{
	ana, byProxy, {Language: "en"}, {Name: "\u041e\u043b\u044f", Language: "en"},
	{Name: "Maximiliana", Proxy: "\u041e\u043b\u044f", Language: "en", Affected: "both"},
}

// forms are all kinds of days a text can go out on, each with every number it
// may ask for, a score behind it, and everything else that could be said.
func forms(pain int) []rules.Decision {
	var days []rules.Decision
	for _, d := range dailySamples() {
		days = append(days, d.dec)
	}
	usual := dayOf(twoDue, 90*60*1e9, skinCheck, support)
	for _, code := range codes {
		for _, change := range []func(*rules.Decision){
			func(*rules.Decision) {}, weekly, closing, firstText, out(code), rest(code),
			func(d *rules.Decision) { d.Eased = true }, in(rules.InMaintenance, code), func(d *rules.Decision) { d.Doses = nil },
		} {
			d := usual
			d.Why.Code, d.WearWhy.Code = code, code
			change(&d)
			days = append(days, d)
		}
	}
	for i := range days {
		d := &days[i]
		d.Why.Score, d.Why.Line, d.Why.By = score(pain), pain-1, "Marlowe"
		d.WearWhy.Score = score(pain)
		d.Notices = []rules.Notice{{Kind: rules.NoticeFirstRise, Score: score(pain), Flags: []rules.RedFlag{{Name: "numbness"}}}}
	}
	return days
}

// Every text the daemon starts begins with its local date, whatever the day
// is like and whoever gets it, so that no two days look alike in the carrier's
// list.
func TestEveryTextShowsItsDate(t *testing.T) {
	s, prog := newSet(t), sampleProgram()
	words := s.in("en").words
	for _, d := range forms(6) {
		for _, p := range people {
			p.TextOnly = true
			for _, d.Date = range []rules.Date{monday, monday + 1, monday + 27, monday + 88} {
				if text := s.Daily(harbor, p, prog, d).Text; !strings.HasPrefix(text, words.date(d.Date)) {
					t.Fatalf("%+v does not begin with %s:\n%s", d, words.date(d.Date), text)
				}
				if text := s.Visit(harbor, p, d.Date).Text; !strings.HasPrefix(text, words.date(d.Date-1)) {
					t.Fatalf("the reminder of %s: %s", words.date(d.Date), text)
				}
			}
		}
	}
}

// A score behind a day ("pain 6", "6/10", "6 of 10"), once "0-10" is gone.
var scored = regexp.MustCompile(`(?i)\bpain[ :,]+(\w+ ){0,2}\d+\b|\b\d+ ?(/|of|out of) ?10\b|\bscore|\bF\d|\blike \d`)

// What a text may show of the numbers: how to answer.
var example = regexp.MustCompile(`0-10(\? Send it like F2)?(, like (D )?2)?`)

// Diagnoses and what hints at one; not a full list. That a text holds none is
// the contract's; the words are common in the trade.
var diagnosis = regexp.MustCompile(`(?i)fasci|tendin|tendon|bunion|hallux|flat ?f[eo]+t|neuroma|neuropath|diabet|arthrit|spur\b|sprain|fracture|stress injur|` +
	`apophys|sever'?s|achill|sensation|diagnos|patient|numbness|danger|disorder|disease`)

// No text the daemon starts shows a score, a diagnosis, a danger word, the
// clinician's name or a device's name, and a score behind the decision changes
// nothing in it.
func TestTextsAreDiscreet(t *testing.T) {
	for _, bad := range []string{"pain 6", "Pain was 6", "6/10", "6 of 10", "your score"} {
		if !scored.MatchString(bad) {
			t.Errorf("the check itself misses %q", bad)
		}
	}
	s, prog := newSet(t), sampleProgram()
	prog.ID = "tendon-loading"
	prog.Title = text("Loading for tendons")
	six, nine := forms(6), forms(9)
	for i, d := range six {
		for _, p := range people {
			m, other := s.Daily(harbor, p, prog, d), s.Daily(harbor, p, prog, nine[i])
			if m != other {
				t.Errorf("the score shows:\n%s\n%s", m.Text, other.Text)
			}
			for _, shown := range []string{m.Text, m.Subject, visible(m.HTML)} {
				rest := example.ReplaceAllString(shown, "")
				if w := scored.FindString(rest); w != "" {
					t.Errorf("%q looks like a score:\n%s", w, shown)
				}
				if w := diagnosis.FindString(rest); w != "" || strings.Contains(shown, "Marlowe") {
					t.Errorf("%q in:\n%s", w, shown)
				}
			}
		}
	}
	for _, p := range people {
		m := s.Visit(harbor, p, monday)
		if w := diagnosis.FindString(m.Text + m.Subject + visible(m.HTML)); w != "" {
			t.Errorf("%q in the reminder of a visit", w)
		}
	}
}

// An answer may echo the number it answers, the hours worn and the last date
// away, and nothing else that was reported: each other number is the clinic's,
// a line of the plan, or part of how to answer.
func TestAnswersEchoNothingElse(t *testing.T) {
	s, prog := newSet(t), sampleProgram()
	hours := 13.5
	data := AnswerData{Score: score(77), FirstStep: score(88), Wear: &hours, Away: monday + 17, Left: 19,
		Lines: rules.Lines{Steady: 51, Hold: 52, StepBack: 53, Pause: 54, ClearDays: 18}, Ask: rules.AskPain}
	own := map[rules.Part][]string{
		rules.SayFirstStep: {"88"}, rules.SayWear: {"13", "30"}, rules.SayAway: {"22"}, // Thu Oct 22
		rules.SayHold: {"77", "18", "51"}, rules.SayClearing: {"77", "19", "51"}, rules.SayAwayLong: {"1", "28"},
		rules.SayPause: {"77"}, rules.SayStepBack: {"77"}, rules.SayStillPaused: {"77"}, rules.SayScore: {"77"},
	}
	clinic := strings.NewReplacer(harbor.Phone, "", harbor.AfterHours, "", harbor.Hours, "", harbor.Emergency, "", "0-10", "", "No pain: send 0", "")
	number := regexp.MustCompile(`\d+`)
	for _, part := range parts {
		data.Parts = []rules.Part{part}
		m := s.Answer(harbor, ana, prog, data)
		for _, n := range number.FindAllString(clinic.Replace(m.Text), -1) {
			if !slices.Contains(own[part], n) {
				t.Errorf("the answer %q says %s:\n%s", part, n, m.Text)
			}
		}
		for _, bad := range []string{ana.Name, prog.ID} {
			if strings.Contains(m.Text+m.Subject+m.HTML, bad) {
				t.Errorf("the answer %q says %q", part, bad)
			}
		}
		if w := diagnosis.FindString(m.Text + m.Subject); w != "" {
			t.Errorf("the answer %q says %q", part, w)
		}
	}
}
