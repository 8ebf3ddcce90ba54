package rules_test

import (
	"slices"
	"testing"
	"time"

	"stepgate/rules"
)

// lasting is quick with a length in weeks.
func lasting(length int, weeks ...int) *rules.Program {
	return change(quick(weeks...), func(p *rules.Program) { p.Weeks = length })
}

// kept is lasting with maintenance of three messages a week for a month.
func kept(length int, weeks ...int) *rules.Program {
	return change(lasting(length, weeks...), func(p *rules.Program) {
		p.After = &rules.Maintenance{Doses: []rules.Dose{{Do: "raise", Sets: 1, Reps: 8, Sessions: 1}}, PerWeek: 3, Months: 1}
	})
}

func TestLength(t *testing.T) {
	ruled := change(lasting(2, 1), func(p *rules.Program) { p.Advance = rules.DefaultAdvance() })
	weekly := &rules.Wear{First: time.Hour, Add: time.Hour, Every: 7, Full: 4 * time.Hour} // full on day 22
	runRows(t, []row{
		{name: "ends by the advance rule, with one text more", program: ruled, days: "16xd0",
			p: "1-14 14 .", why: "first_day 13xtick finished .", state: "14xactive finished .", send: "15xy .",
			ask: "14xpain none ."},
		{name: "and not before it is met", program: ruled, days: "9xd0 5xn 5xd0 -",
			p: "1-14 14 14 14 14 14 14", why: "first_day 13xtick waiting waiting waiting waiting waiting finished"},
		{name: "without a length it goes on", program: quick(1), days: "30xd0", p: "1-30"},
		{name: "waits for the wear-in", program: change(ruled, func(p *rules.Program) { p.Wear = weekly }), days: "23xd0",
			p: "1-14 9x14", why: "first_day 13xtick 8xtable_end finished"},
		{name: "also while a skin report is open", program: change(ruled, func(p *rules.Program) {
			p.Wear = &rules.Wear{First: time.Hour, Full: time.Hour, Every: 1}
		}), days: "12xd0 d0/b d0 d0 d0 d0", why: "first_day 13xtick table_end table_end finished"},
		{name: "and while the devices are out", program: change(ruled, func(p *rules.Program) { p.Wear = hourly }),
			enroll: func(e *rules.Enrollment) {
				e.Devices = []rules.Device{{Kind: rules.DeviceOut, On: monday + 10}, {Kind: rules.DeviceBack, On: monday + 16}}
			}, days: "18xd0", why: "first_day 13xtick 3xtable_end finished"},
		{name: "wear alone ends with its length", program: change(plan(), func(p *rules.Program) { p.Weeks, p.Wear = 2, hourly }),
			days: "16xd0", why: "first_day 13xtick finished ."},
		{name: "pain comes first", program: ruled, days: "13xd0 d5 0 0 0", why: "first_day 13xtick pain_hold waiting waiting"},
	})
	at := change(ruled, func(p *rules.Program) { p.Where["length"] = rules.Pos{File: "programs/plan.yaml", Line: 5} })
	out := row{program: at, days: "15xd0"}.play(t)
	if dec := only(t, out, 14); !dec.Closing || len(dec.Doses) > 0 || dec.Why.Rule != "length" || dec.Why.At.Line != 5 || !slices.Equal(told(out, rules.NoticeFinished), []int{14}) {
		t.Errorf("the last text: %+v", dec)
	}
	e := enrolled()
	if rules.Decidable(&e, out[14].evening, monday+15) {
		t.Error("a finished patient is decided on")
	}
	if h := out[14].hearings[0]; !slices.Equal(h.Parts, []rules.Part{rules.SayEnded}) {
		t.Errorf("after the end a text is answered %v", h.Parts)
	}
}

func TestClosingTextIsSentAgain(t *testing.T) {
	p := change(lasting(2, 1), func(p *rules.Program) { p.Advance = rules.DefaultAdvance() })
	runRows(t, []row{
		{name: "the next day", program: p, days: "14xd0 untaken untaken - -", why: "first_day 13xtick 3xfinished .", send: "17xy ."},
		{name: "not after pain, which holds", program: p, days: "14xd0 untaken/5 0 0 0 6x0 d0", state: "14xactive finished held 9xwaiting"},
		{name: "not after STOP, and then the rule must be met again", program: p, days: "14xd0 untaken/stop - start -",
			state: "14xactive finished opted_out opted_out waiting", send: "15xy n n y"},
	})
	if got := told(row{program: p, days: "14xd0 untaken untaken -"}.play(t), rules.NoticeFinished); !slices.Equal(got, []int{14}) {
		t.Errorf("finished is told on %v, want once", got)
	}
}

func TestMaintenance(t *testing.T) {
	p := kept(2, 1, 2)
	runRows(t, []row{
		{name: "messages on some days of the week, by the calendar for a month", program: p, days: "47xd0",
			p: "1-45 45 .", step: "7x1 39x2 .", state: "14xactive 31xmaintenance finished .",
			send: "14xy y n y n y n n y n y n y n n y n y n y n n y n y n y n n y n y y ."},
		{name: "is entered by the advance rule", program: change(p, func(p *rules.Program) { p.Advance.Done = 70 }), days: "7xd0 7xn n d0 d0 d0",
			state: "14xactive 3xwaiting maintenance"},
		{name: "is not entered over a cap, and a cap at the last step is none", program: p, days: "cap1/d0 7xd0 cap2/d0 7xd0 -",
			p: "1-7 7 8-16", state: "15xactive maintenance maintenance"},
		{name: "a lower cap sends P there", program: p, days: "16xd0 cap1/d0 -", step: "7x1 9x2 1 1", state: "14xactive maintenance maintenance active active"},
		{name: "a hold sends daily", program: p, days: "16xd0 5 - - 0 - -", send: "15xy n y y y y n y",
			state: "14xactive 3xmaintenance 3xheld maintenance maintenance"},
		{name: "a step back returns to the last block of the table, which must be met again", program: p, days: "15xd0 6 0 7xd0",
			p: "1-16 8-14 15", state: "14xactive maintenance maintenance held 6xactive maintenance"},
		{name: "silence is counted by its messages", program: p, days: "15xd0 14x-", send: "15xy n y n y n n y n y n y n n y"},
		{name: "a break returns to the last block as well", program: p, days: "16xd0 14x- d0 d0 -", p: "1-23 7x23 8 8 9"},
		{name: "is left where the table gets longer, for the block that came before it", program: p,
			more: []*rules.Program{change(lasting(5, 1, 2, 3), func(p *rules.Program) { p.Hash, p.Advance.Last = "0e", 4 })},
			days: "16xd0 program0/d0 d0", step: "7x1 9x2 3 3", state: "14xactive maintenance maintenance active active"},
		{name: "is left where it is taken away: the program ends", program: p, more: []*rules.Program{lasting(2, 1, 2)},
			days: "16xd0 program0 -", state: "14xactive maintenance maintenance finished ."},
		{name: "ends by the calendar, done or not", program: change(p, func(p *rules.Program) { p.Advance.Done = 70 }), days: "14xd0 32xn",
			state: "14xactive 31xmaintenance finished"},
		{name: "begins at once for one who starts in it", program: p, enroll: func(e *rules.Enrollment) { e.FromDay = 20 }, days: "33xd0",
			state: "31xmaintenance finished .", step: "32x2 ."},
	})
	dec := only(t, row{program: p, days: "15xd0"}.play(t), 14)
	if len(dec.Doses) != 1 || dec.Doses[0].Sets != 1 || dec.Doses[0].Reps != 8 || dec.Steps != 2 {
		t.Errorf("maintenance has its own dose: %+v", dec)
	}
}

// TestMaintenanceOverAMonthsEnd: a month from January 31 ends on March 3, as
// February has no 31.
func TestMaintenanceOverAMonthsEnd(t *testing.T) {
	e := enrolled()
	e.Start = rules.NewDate(2027, time.January, 17)
	e.Dispensed = e.Start
	days := make([]day, 50)
	for i := range days {
		days[i].texts = []rules.Reading{{Done: rules.DoneAll, Pain: score(0)}}
	}
	for _, o := range play(kept(2, 1, 2), e, nil, days) {
		if o.dec != nil && o.dec.Closing {
			if o.date.String() != "2027-03-03" {
				t.Errorf("finished on %v", o.date)
			}
			return
		}
	}
	t.Error("never finished")
}

func TestReview(t *testing.T) {
	reviewed := func(weeks ...int) *rules.Program {
		return change(quick(1, 2, 3), func(p *rules.Program) {
			p.Reviews = weeks
			p.Where["review before week"] = rules.Pos{File: "programs/plan.yaml", Line: 7}
		})
	}
	middle := change(reviewed(2), func(p *rules.Program) { p.Blocks = p.Blocks[:1] })
	runRows(t, []row{
		{name: "P waits before its week at the border of a block", program: reviewed(2), days: "9xd0 review/d0 d0",
			p: "1-7 7 7 8 9", why: "first_day 6xtick review review tick tick", step: "9x1 2 2"},
		{name: "and in the middle of one", program: middle, days: "9xd0 review/d0 d0", p: "1-7 7 7 8 9"},
		{name: "recorded before its time it counts", program: reviewed(2), days: "3xd0 review/d0 5xd0", p: "1-9"},
		{name: "one review is one", program: reviewed(2, 3), days: "9xd0 review/d0 7xd0 review/d0 -", p: "1-7 7 7 8-14 14 15 16"},
		{name: "then the advance rule", program: change(reviewed(2), func(p *rules.Program) { p.Advance = rules.Advance{Done: 70, Last: 3, Scores: 1} }),
			days: "7xn n review/n d0 d0 d0", why: "first_day 6xtick review waiting waiting waiting tick"},
		{name: "review and cap: both must go", program: reviewed(2), days: "cap1/d0 7xd0 review/d0 cap0/d0", p: "1-7 7 7 8",
			why: "first_day 6xtick review cap tick"},
		{name: "the cap goes first: the review still waits", program: reviewed(2), days: "cap1/d0 7xd0 cap0/d0 review/d0", p: "1-7 7 7 8",
			why: "first_day 6xtick review review tick"},
		{name: "a step back needs no second one", program: reviewed(2), days: "7xd0 review/d0 d0 d6 0 7xd0", step: "7x1 3x2 7x1 2"},
		{name: "pain comes first", program: reviewed(2), days: "6xd0 d5 - -", why: "first_day 6xtick pain_hold pain_hold"},
		{name: "another program has its own", program: reviewed(2), more: []*rules.Program{change(reviewed(2), func(p *rules.Program) { p.ID = "other" })},
			days: "review/d0 8xd0 program0/d0 8xd0", p: "1-9 1-7 7 7"},
		{name: "the end of the table", program: change(lasting(2, 1, 2), func(p *rules.Program) { p.Reviews = []int{3} }),
			days: "15xd0 review/d0", why: "first_day 13xtick review finished"},
	})
	out := row{program: reviewed(2), days: "10xd0"}.play(t)
	if got := told(out, rules.NoticeReview); !slices.Equal(got, []int{7}) {
		t.Errorf("a review due is told on %v, want once", got)
	}
	if why := only(t, out, 8).Why; why.Need != 2 || why.At.Line != 7 {
		t.Errorf("why: %+v", why)
	}
}
