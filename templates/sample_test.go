package templates

import (
	"testing"
	"time"

	"stepgate/rules"
)

// The clinic, the people and the program are invented. The numbers are from
// the ranges reserved for fiction.
var (
	harbor = Clinic{Name: "Harbor Foot Clinic", Phone: "202-555-0134", Hours: "Mon-Fri 9-5",
		AfterHours: "202-555-0135", Emergency: "911"}
	ana    = Patient{Name: "Ana", Language: "en", Affected: "left"}
	monday = rules.NewDate(2026, time.October, 5)
)

func text(s string) rules.Text { return rules.Text{"en": s} }

func sampleProgram() *rules.Program {
	ex := func(id, name, how, easier, care string, side rules.Side, needs ...string) *rules.Exercise {
		return &rules.Exercise{ID: id, Name: text(name), How: text(how), Easier: text(easier), Care: text(care), Side: side, Needs: needs}
	}
	list := []*rules.Exercise{
		ex("calf-straight", "Wall calf stretch, back knee straight",
			"Face a wall and put both hands on it. Step one foot back and keep that knee straight. Lean in until you feel a pull in the calf.",
			"Stand a bit closer to the wall.", "Keep the heel down.", rules.SideEach, "wall"),
		ex("calf-bent", "Wall calf stretch, back knee bent",
			"Stand as for the first stretch. Now bend the back knee a little and keep the heel on the floor.",
			"Bend less.", "", rules.SideEach, "wall"),
		ex("toe-pull", "Seated toe pull",
			"Sit down and cross one foot over the other knee. Pull the toes back toward the shin until you feel a stretch in the arch.",
			"", "Pull slowly.", rules.SideAffected),
		ex("heel-raise", "Heel raise on a step",
			"Stand on a step with the front of your feet. Rise up slowly, then lower your heels slowly.",
			"Use both legs.", "Hold on to a rail.", rules.SideEach, "step", "rail"),
		ex("band-out", "Band turn-out", "Loop a band round both feet. Turn one foot out against the band.", "", "", rules.SideAlternate, "band"),
		ex("towel", "Towel curl", "Put a towel on the floor. Pull it in with your toes.", "", "", rules.SideTogether, "towel"),
	}
	p := &rules.Program{ID: "steady-arches", Exercises: map[string]*rules.Exercise{}, Pain: rules.DefaultLines(),
		Blocks: []rules.Block{{Week: 1}, {Week: 3}, {Week: 5}},
		Wear:   &rules.Wear{First: time.Hour, Add: time.Hour, Every: 1, Full: 8 * time.Hour}}
	for _, x := range list {
		p.Exercises[x.ID] = x
	}
	p.Exercises["calf-bent"].Forms = map[string]rules.Text{"toes-in": text("toes turned in")}
	p.Exercises["heel-raise"].Why = text("Makes the calf and the arch strong")
	return p
}

// due gives one exercise of the sample program.
func due(id string, sets, reps int, hold time.Duration, sessions int) rules.Due {
	return rules.Due{Exercise: id, Side: sampleProgram().Exercises[id].Side, Sets: sets, Reps: reps, Hold: hold, Sessions: sessions}
}

var (
	oneDue = []rules.Due{due("calf-straight", 1, 3, 10*time.Second, 2)}
	twoDue = []rules.Due{due("toe-pull", 1, 10, 10*time.Second, 3), due("heel-raise", 2, 10, 0, 1)}
	// Three with long names and different doses: the most a day should ask.
	threeDue = []rules.Due{
		due("calf-straight", 1, 3, 20*time.Second, 2),
		due("calf-bent", 1, 3, 20*time.Second, 2),
		due("heel-raise", 2, 10, 0, 1),
	}
	// Three that share nothing, with names of a common length.
	mixedDue = []rules.Due{
		due("toe-pull", 1, 10, 10*time.Second, 3),
		due("heel-raise", 3, 10, 2*time.Second, 1),
		due("band-out", 2, 10, 0, 2),
	}
	// Loading as it is written for tendons: see the high-load row of the
	// published protocols for the figures.
	heavyDue = []rules.Due{heavy(due("heel-raise", 3, 12, 0, 1))}
	formDue  = []rules.Due{inForm(due("calf-bent", 1, 3, 20*time.Second, 2), "")}
	leftDue  = []rules.Due{inForm(due("calf-bent", 1, 3, 20*time.Second, 2), "left")}
	alikeDue = []rules.Due{
		due("calf-straight", 1, 3, 20*time.Second, 2),
		due("calf-bent", 1, 3, 20*time.Second, 2),
	}
)

func heavy(d rules.Due) rules.Due {
	d.RM, d.Load, d.Rest = 12, text("a backpack with books"), 2*time.Minute
	d.Tempo = rules.Tempo{Up: 3, Hold: 2, Down: 3}
	return d
}

func inForm(d rules.Due, only string) rules.Due {
	d.Form, d.Only = "toes-in", only
	return d
}

// sample is one rendered message.
type sample struct {
	name string
	msg  Message
	max  int  // segments
	team bool // for the clinician: no reading level, no alphabet
}

func newSet(t testing.TB) *Set {
	t.Helper()
	s, err := New()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func score(n int) *int { return &n }

// samples renders every message there is.
func samples(t testing.TB) []sample {
	s := newSet(t)
	var out []sample
	for _, d := range dailySamples() {
		out = append(out, sample{name: "daily-" + d.name, msg: s.Daily(harbor, d.who(), sampleProgram(), d.dec), max: d.max})
	}
	for name, p := range map[string]Patient{"visit": ana, "visit-proxy": byProxy} {
		out = append(out, sample{name: name, msg: s.Visit(harbor, p, monday+1), max: 1})
	}
	for _, a := range answerSamples() {
		out = append(out, sample{name: "answer-" + a.name, msg: s.Answer(harbor, ana, sampleProgram(), a.data), max: a.max})
	}
	for _, a := range alertSamples() {
		out = append(out, sample{name: "alert-" + a.name, msg: s.Alert(harbor, a.data), team: true})
	}
	return append(out, inboxSamples(t, s)...)
}

type answerSample struct {
	name string
	max  int
	data AnswerData
}

func answerSamples() []answerSample {
	hours := 4.5
	of := func(parts ...rules.Part) AnswerData { return AnswerData{Parts: parts, Score: score(2)} }
	scored := func(n int, parts ...rules.Part) AnswerData { return AnswerData{Parts: parts, Score: score(n)} }
	return []answerSample{
		{"emergency", 2, of(rules.SayEmergency)},
		{"urgent", 2, of(rules.SayUrgent)},
		{"clinic", 2, of(rules.SayClinic)},
		{"emergency-pause", 2, scored(9, rules.SayEmergency, rules.SayPause)},
		{"urgent-scored", 2, scored(3, rules.SayUrgent, rules.SayStillPaused)},
		{"urgent-ended", 2, of(rules.SayUrgent, rules.SayEnded)},
		{"emergency-wrong", 2, of(rules.SayWrong, rules.SayEmergency)},
		{"pause", 2, scored(8, rules.SayPause)},
		{"step-back", 1, scored(7, rules.SayStepBack)},
		{"hold", 1, scored(5, rules.SayHold)},
		{"skin", 2, of(rules.SaySkin)},
		{"score-skin", 2, of(rules.SayScore, rules.SaySkin)},
		{"hold-skin-passed-on", 3, scored(5, rules.SayHold, rules.SaySkin, rules.SayPassedOn)},
		{"still-paused", 2, of(rules.SayStillPaused)},
		{"clearing", 1, AnswerData{Parts: []rules.Part{rules.SayClearing}, Score: score(2), Left: 2}},
		{"clearing-one-more", 1, AnswerData{Parts: []rules.Part{rules.SayClearing}, Score: score(2), Left: 1}},
		{"cleared", 1, of(rules.SayClearing)},
		{"score", 1, of(rules.SayScore)},
		{"score-zero", 1, scored(0, rules.SayScore)},
		{"first-step", 1, AnswerData{Parts: []rules.Part{rules.SayFirstStep}, FirstStep: score(6)}},
		{"done", 1, of(rules.SayDone)},
		{"done-ask", 1, AnswerData{Parts: []rules.Part{rules.SayDone}, Ask: rules.AskPain}},
		{"some", 1, of(rules.SaySome)},
		{"wear", 1, AnswerData{Parts: []rules.Part{rules.SayWear}, Wear: &hours}},
		{"ask-number", 1, AnswerData{Parts: []rules.Part{rules.SayAskNumber}, Ask: rules.AskPain}},
		{"why-not", 1, AnswerData{Parts: []rules.Part{rules.SayWhyNot}, Ask: rules.AskPain}},
		{"away", 1, AnswerData{Parts: []rules.Part{rules.SayAway}, Away: monday + 6}},
		{"away-long", 1, of(rules.SayAwayLong)},
		{"how-one", 4, AnswerData{Parts: []rules.Part{rules.SayHow}, Due: oneDue}},
		{"how-second", 4, AnswerData{Parts: []rules.Part{rules.SayHow}, Due: twoDue, How: 2}},
		{"how-all", 4, AnswerData{Parts: []rules.Part{rules.SayHow}, Due: threeDue}},
		{"how-fifth", 2, AnswerData{Parts: []rules.Part{rules.SayHow}, Due: threeDue, How: 5}},
		{"how-heavy", 4, AnswerData{Parts: []rules.Part{rules.SayHow}, Due: heavyDue, Support: true}},
		{"how-form", 4, AnswerData{Parts: []rules.Part{rules.SayHow}, Due: leftDue}},
		{"skin-ok", 1, of(rules.SaySkinOK)},
		{"skin-stop", 2, AnswerData{Parts: []rules.Part{rules.SaySkin}, WearStopped: true}},
		{"texts-stopped", 1, of(rules.SayLost)},
		{"score-texts-stopped", 1, of(rules.SayScore, rules.SayLost)},
		{"no-how", 1, of(rules.SayNoHow)},
		{"call", 1, of(rules.SayCall)},
		{"ask-stop", 1, of(rules.SayAskStop)},
		{"score-ask-stop", 1, of(rules.SayScore, rules.SayAskStop)},
		{"passed-on", 1, of(rules.SayPassedOn)},
		{"unread", 1, of(rules.SayUnread)},
		{"not-yet", 1, of(rules.SayNotYet)},
		{"ended", 1, of(rules.SayEnded)},
		{"wrong-person", 1, of(rules.SayWrong)},
		{"stranger", 1, of(rules.SayStranger)},
		{"stranger-urgent", 2, of(rules.SayUrgent, rules.SayStranger)},
		{"stopped", 1, of(rules.SayStopped)},
		{"started", 1, of(rules.SayStarted)},
		{"help", 2, of(rules.SayHelp)},
	}
}

type alertSample struct {
	name string
	data AlertData
}

func alertSamples() []alertSample {
	var out []alertSample
	for _, kind := range notices {
		a := AlertData{ID: "p-014", Name: "Ana", On: monday, Today: monday,
			Notice: rules.Notice{Kind: kind}, State: "step 2 of 3, day 15, wear 8 h: held since Oct 5, pain 5"}
		switch kind {
		case rules.NoticePause:
			a.Quote, a.Paused, a.Notice.Score = "P8 really bad", true, score(8)
			a.State = ""
			a.Why = rules.Reason{Code: rules.Paused, At: rules.Pos{File: "programs/steady-arches.yaml", Line: 31}, Score: score(8), Line: 8}
		case rules.NoticeRedFlag:
			a.Quote, a.Paused, a.NoAnswer = "my calf is hot and swollen \U0001f622", true, true
			a.Notice.Flags = []rules.RedFlag{{Name: "hot calf", Tier: rules.UrgentToday}, {Name: "swollen calf", Tier: rules.UrgentToday}}
			a.State = ""
		case rules.NoticeDenied:
			a.Quote, a.Notice.Flags = "not numb any more", []rules.RedFlag{{Name: "numb", Tier: rules.UrgentClinic}}
		case rules.NoticeSkin, rules.NoticeCall, rules.NoticeWrong, rules.NoticeOptOut, rules.NoticeOptIn, rules.NoticeUnread, rules.NoticeAskStop:
			a.Quote = "what they wrote"
		case rules.NoticeUsual:
			a.Quote, a.Notice.Flags = "toes numb as ever", []rules.RedFlag{{Name: "numbness", Tier: rules.UrgentClinic}}
		case rules.NoticeFirstRise:
			a.Notice.Score, a.Notice.Since = score(6), monday
		case rules.NoticeLost:
			a.Notice.Since, a.State = monday-21, "step 2 of 3, day 8, wear 1 h: silent, contact not confirmed"
		case rules.NoticeBack:
			a.Quote, a.State = "2", "step 2 of 3, day 8, wear 1 h: silent, contact not confirmed"
		case rules.NoticeFinished:
			a.State = "step 3 of 3, day 84, wear 8 h: finished"
		case rules.NoticeByMail:
			a.Detail = "30005"
		case rules.NoticeUndelivered:
			a.Notice.Since, a.Detail = monday-2, "30003"
		case rules.NoticeSilent, rules.NoticeHeldLong, rules.NoticeSecondBack:
			a.Notice.Since = monday - 7
		case rules.NoticeStranger:
			a = AlertData{Notice: a.Notice, On: monday, Quote: "Is this the foot clinic?", Detail: "From +1 202 555 0177."}
		case rules.NoticeBadFiles:
			a = AlertData{Notice: a.Notice, Detail: "programs/x.yaml:12:3: unknown key \"rep\"; write \"reps\"\nenrollments.yaml:4:9: no such date; write an existing one"}
		case rules.NoticeSender:
			a = AlertData{Notice: a.Notice, On: monday, Detail: "sms 1: 20003"}
		}
		out = append(out, alertSample{name: dashed(string(kind)), data: a})
	}
	a := AlertData{ID: "p-014", Name: "Ana", On: monday, Today: monday, Detail: "30007", Notice: rules.Notice{Kind: rules.NoticeUndelivered}}
	out = append(out, alertSample{name: "undelivered-one", data: a})
	a = AlertData{ID: "p-014", Name: "Ana", On: monday, Today: monday, Quote: "B", WearStopped: true,
		Notice: rules.Notice{Kind: rules.NoticeSkin}}
	out = append(out, alertSample{name: "skin-stopped", data: a})
	a = AlertData{ID: "p-014", Name: "Ana", On: monday, Today: monday, Quote: "F6",
		Notice: rules.Notice{Kind: rules.NoticeFirstRise, Score: score(6)},
		Why:    rules.Reason{Code: rules.FirstRise, At: rules.Pos{File: "programs/steady-arches.yaml", Line: 40}, Score: score(6), Line: 3, Need: 2}}
	return append(out, alertSample{name: "first-step-rise-twice", data: a})
}
