package templates

import (
	"time"

	"stepgate/rules"
)

// evil is what a hostile hand would write into a name or a text.
const evilText = `"'></style></svg><script>alert(1)</script><img src=x onerror=y>{{.}}&`

func some(n int) *int { return &n }

// emptyReport is a patient nothing is decided for yet.
func emptyReport() PatientReport {
	return PatientReport{Language: "en", Made: time.Date(2026, 10, 5, 8, 0, 0, 0, time.UTC), ID: "p-01", Name: "Rosa",
		Program: "Settling into your inserts", Clinic: ReportClinic{"Harbor Foot Clinic", "212-555-0142", "212-555-0199", "911"},
		Dispensed: monday, Start: monday, Steps: 4, Wears: true, State: rules.InActive,
		Lines: ReportLines{Steady: 3, Hold: 4, StepBack: 6, Pause: 8, Clear: 2}}
}

// longReport is a patient with so many days behind them, of whom every kind of
// thing has happened.
func longReport(days int) PatientReport {
	p := emptyReport()
	p.AsOf, p.Day, p.Step = monday+rules.Date(days)-1, days, min(4, (days-1)/14+1)
	p.Made = p.AsOf.Time().Add(15 * time.Hour)
	p.WearMin, p.Cautions, p.Visits = 480, []string{"sensation", "balance"}, []rules.Date{p.AsOf + 2}
	p.Why = rules.Reason{Code: rules.PainHeld, Score: some(5), Line: 4, Need: 2, At: rules.Pos{File: "programs/x.yaml", Line: 9}}
	p.State = rules.InHeld
	for i := range days {
		d := ReportDay{Date: monday + rules.Date(i), Day: i + 1, Step: min(4, i/14+1), Allowed: min(4, i/12+1), State: rules.InActive, Asked: true, Answered: i%9 != 5}
		if d.Answered && i%7 != 0 {
			d.Score = some([]int{2, 1, 3, 2, 5, 0, 1, 2, 7}[i%9])
		}
		p.Days = append(p.Days, d)
		p.Messages++
		if d.Answered {
			p.Answered++
		}
		if i%7 != 0 {
			continue
		}
		week := i/7 + 1
		p.Weeks = append(p.Weeks, ReportWeek{Week: week, From: d.Date, Due: 7, Halves: 14 - week%6, Low: some(0), High: some(5), First: some(max(0, 7-week)),
			Step: d.Step, Allowed: d.Allowed, Held: week % 3})
		p.Wear = append(p.Wear, ReportWearWeek{Week: week, From: d.Date, Asked: 7, Reported: 6, Kept: 6 - week%4, AskedMin: 2880, WornMin: 2500})
		p.First.Answers = append(p.First.Answers, ReportFirstAnswer{Date: d.Date, Day: i + 1, Score: max(0, 7-week)})
	}
	p.First.Base, p.First.Usual, p.First.Goal = some(7), true, some(5)
	p.First.By = []ReportImproved{{Week: 6, Is: "yes", Score: some(1), Date: monday + 42}, {Week: 12, Is: "not there yet"}}
	p.Spans = sampleSpans(p.AsOf)
	p.Alerts = []ReportAlert{
		{At: monday.Time().Add(220 * time.Hour), Notice: rules.Notice{Kind: rules.NoticePause, Score: some(8)}, Needs: true, Acked: monday.Time().Add(230 * time.Hour), How: "release", By: "J. Marlowe DPM"},
		{At: monday.Time().Add(300 * time.Hour), Notice: rules.Notice{Kind: rules.NoticeHeldLong}, Needs: true},
		{At: monday.Time().Add(320 * time.Hour), Notice: rules.Notice{Kind: rules.NoticeOptIn}},
		{At: monday.Time().Add(330 * time.Hour), Notice: rules.Notice{Kind: rules.NoticeCall}, Needs: true, Acked: monday.Time().Add(331 * time.Hour), How: "seen"},
	}
	p.Talk = []ReportSaying{{At: monday.Time().Add(9 * time.Hour), Kind: "out", Text: "Mon Oct 5. Hi Rosa.\n1) Towel curl"}, {At: monday.Time().Add(10 * time.Hour), Kind: "in", Text: "D 2"},
		{At: monday.Time().Add(11 * time.Hour), Kind: "answer", Text: "2 noted.", Fate: "undelivered"}}
	return p
}

// sampleSpans are one of each kind, line and ending; the last is open.
func sampleSpans(last rules.Date) []ReportSpan {
	said := func(n int, on rules.Date) []ReportSaid { return []ReportSaid{{n, on}} }
	spans := []ReportSpan{
		{Kind: "pain", From: 1, To: 3, Scores: said(5, 0), Quote: "P5 after the stairs", Line: "hold", LineAt: 4, Ended: "clear"},
		{Kind: "pause", From: 8, To: 11, Scores: said(8, 7), Line: "pause", LineAt: 8, Ended: "release", EndBy: "J. Marlowe DPM", EndOn: monday + 11},
		{Kind: "pain", From: 12, To: 12, Line: "after", Ended: "paused"},
		{Kind: "pause", From: 13, To: 14, Word: "sudden pop", Quote: "felt a pop", Line: "word", Ended: "release"},
		{Kind: "back", From: 15, To: 16, Scores: []ReportSaid{{6, 14}, {4, 15}}, Line: "back", LineAt: 6, Ended: "other", Next: rules.Reason{Code: rules.AwayCode}},
		{Kind: "away", From: 17, To: 18, Line: "away", Ended: "back"},
		{Kind: "clinic", From: 19, To: 20, By: "J. Marlowe DPM", Line: "entry", Ended: "release"},
		{Kind: "waiting", From: 21, To: 22, Line: "advance", Ended: "met", Why: rules.Reason{Code: rules.Waiting, Short: "done", Have: 4, Need: 5}},
		{Kind: "cap", From: 23, To: 24, Line: "entry", Ended: "discharged", Why: rules.Reason{Code: rules.Capped, Need: 2}},
		{Kind: "review", From: 25, To: 26, Line: "review", LineAt: 6, Ended: "review", EndBy: "J. Marlowe DPM", EndOn: monday + 27, Why: rules.Reason{Code: rules.Review, Need: 6}},
		{Kind: "review", From: 28, To: 28, Line: "review", LineAt: 6, Ended: "review", Why: rules.Reason{Code: rules.Review, Need: 6}},
		{Kind: "off", From: 30, To: 31, Line: "off", Ended: "again", Why: rules.Reason{Code: rules.OptedOut}},
		{Kind: "silent", From: 31, To: 31, Line: "silent", Ended: "heard", Why: rules.Reason{Code: rules.WearQuiet, Have: 7}},
		{Kind: "pain", From: 33, To: 34, Scores: said(6, 32), Line: "first", Ended: "finished"},
	}
	for i := range spans {
		s := &spans[i]
		s.From, s.To, s.Days = monday+s.From, monday+s.To, int(s.To-s.From)+1
		for k := range s.Scores {
			if s.Scores[k].On != 0 {
				s.Scores[k].On += monday
			}
		}
	}
	return append(spans, ReportSpan{Kind: "pain", From: last, To: last, Open: true, Days: 1, Scores: said(5, last), Line: "hold", LineAt: 4})
}

// reportSamples are the patients whose pages are looked at.
func reportSamples() map[string]PatientReport {
	empty, one, silent, noWear, wearOnly := emptyReport(), longReport(1), longReport(20), longReport(84), longReport(30)
	for i := range silent.Days {
		silent.Days[i].Score, silent.Days[i].Answered = nil, false
	}
	silent.Answered, silent.First = 0, ReportFirst{By: []ReportImproved{{Week: 6, Is: "no base"}}}
	silent.State, silent.Why = rules.InSuspended, rules.Reason{Code: rules.Lost}
	noWear.Wears, noWear.Wear, noWear.WearMin = false, nil, 0
	noWear.State, noWear.Why = rules.InDischarged, rules.Reason{Code: rules.Discharged}
	wearOnly.Steps, wearOnly.Step, wearOnly.Weeks = 0, 0, nil
	for i := range wearOnly.Days {
		wearOnly.Days[i].Step, wearOnly.Days[i].Allowed = 0, 0
	}
	finished := longReport(100)
	finished.State, finished.Why, finished.LinesBy, finished.LinesOn = rules.InFinished, rules.Reason{Code: rules.Finished}, "J. Marlowe DPM", monday
	finished.First.By = []ReportImproved{{Week: 6, Is: "no", Score: some(7), Date: monday + 42}, {Week: 12, Is: "no answer"}}
	finished.First.Goal = some(-1)
	return map[string]PatientReport{"empty": empty, "one-day": one, "silent": silent, "no-wear": noWear, "wear-only": wearOnly,
		"finished": finished, "full": longReport(56), "year": longReport(364)}
}

// clinicSample is a clinic's page with everything on it.
func clinicSample() ClinicReport {
	c := ClinicReport{Clinic: "Harbor Foot Clinic", Made: monday.Time().Add(9 * time.Hour), Enrolled: 3000, Decided: 2990, Look: 40, Gone: 1, LookOff: 38, RestOff: 2000,
		Begun: 2990, Dates: 100000, Open: 2800, Dropped: 12, Never: 1, FewWho: 5, FewDays: 30, Notes: []string{"Open alert about no patient: bad files"}}
	row := BoardRow{ID: "p-01", Name: "Rosa", Program: "easy-start", Cause: "pain 8, Oct 4; waits for your release", Alerts: []string{"paused, pain 8"}, Day: 12, Step: 1, Steps: 3,
		Halves: 9, Due: 7, Scores: []int{2, -1, 3, 8}, WearMin: 90, WearFull: 480}
	out := BoardRow{ID: "p-02", Name: "Emil", WearFull: 480}
	c.Groups = []BoardGroup{{"Paused", true, 40, []BoardRow{row, out}}, {"On course", false, 2950, []BoardRow{out}}}
	c.Improved = []ClinicImproved{
		{Week: 6, Patients: 3000, NotYet: 1000, There: 2000, NoAnswer: 400, NoBase: 10, NoPain: 90, Compared: 1500, Improved: 900, ByUsual: 1000, ByFirst: 500, Rate: &ClinicRate{60, 57.5, 62.5}},
		{Week: 12, Patients: 3000, NotYet: 2996, There: 4, Compared: 4, Improved: 1, ByFirst: 4, TooFew: true},
	}
	for week := 1; week <= 14; week++ {
		c.Exercise = append(c.Exercise, ClinicWeek{week, 100 - 5*week, 60, 80, 95})
		c.Answers = append(c.Answers, ClinicAnswers{week, 100, 100 - week})
		c.Wear = append(c.Wear, ClinicWeek{week, week % 2, 50, 70, 90})
	}
	c.Whole = []ClinicSpread{{"Exercise done, of days due", 2990, 71, 88, 96}}
	c.Holds = []ClinicHold{{"Pain hold", 4000, 300, 4}}
	c.Steps = []ClinicHurt{{"Easy start", "Step 1", 50, 700, 600, 14, 9, &ClinicRate{2, 0.9, 3.8}, false}, {"Other", "Step 2", 3, 40, 30, 1, 1, &ClinicRate{2.5, 0, 90}, true}}
	c.Moves = []ClinicHurt{{"Easy start", "Towel curl", 50, 700, 600, 14, 9, &ClinicRate{2, 0.9, 33}, false}}
	return c
}
