package rules_test

import (
	"fmt"
	"time"

	"stepgate/rules"
)

// randomProgram draws a program; an easy one is short and quickly climbed, so
// that its end is reached.
func randomProgram(r dice, id string, easy bool) *rules.Program {
	p := &rules.Program{ID: id, Hash: fmt.Sprintf("%016x", r.Uint64()),
		Exercises: map[string]*rules.Exercise{"a": {ID: "a", Side: rules.SideEach}, "b": {ID: "b", Side: rules.SideAffected}},
		Where:     map[string]rules.Pos{"program": {File: "programs/" + id + ".yaml", Line: 1, Column: 1}},
	}
	p.Pain = randomLines(r)
	p.Advance = rules.Advance{Done: 10 * r.in(0, 10), Last: r.in(2, 10), Scores: r.in(0, 3)}
	if r.chance(30) {
		p.Pain, p.Advance = rules.DefaultLines(), rules.DefaultAdvance()
	}
	blocks, most := r.in(0, 5), 3
	if easy {
		p.Advance = rules.Advance{Done: 10 * r.in(0, 5), Last: r.in(2, 5), Scores: r.in(0, 1)}
		blocks, most = r.in(1, 3), 1
	}
	week := 1
	for i := range blocks {
		if i > 0 {
			week += r.in(1, most)
		}
		b := rules.Block{Week: week}
		for range r.in(1, 2) {
			b.Doses = append(b.Doses, randomDose(r))
		}
		p.Blocks = append(p.Blocks, b)
	}
	if len(p.Blocks) == 0 || r.chance(60) {
		every := r.in(1, 3)
		p.Wear = &rules.Wear{First: 30 * time.Minute * time.Duration(r.in(1, 4)),
			Add: 30 * time.Minute * time.Duration(r.in(0, 4)), Every: every,
			GoesOn: r.chance(20)}
		p.Wear.Full = p.Wear.First + 30*time.Minute*time.Duration(r.in(0, 16))
	}
	if easy || r.chance(50) {
		p.Weeks = week + r.in(0, most)
	}
	if p.Weeks > 0 && len(p.Blocks) > 0 && r.chance(50) {
		p.After = &rules.Maintenance{Doses: []rules.Dose{randomDose(r)}, PerWeek: r.in(1, 7), Months: r.in(1, 2)}
	}
	for w := 2; w <= week+1; w++ {
		if r.chance(10) {
			p.Reviews = append(p.Reviews, w)
		}
	}
	switch r.IntN(3) {
	case 0:
		p.FirstStep = rules.DefaultFirstStep()
	case 1:
		p.FirstStep = rules.FirstStep{Every: r.in(1, 10), Rise: r.in(1, 3)}
	}
	return p
}

func randomLines(r dice) rules.Lines {
	var l rules.Lines
	l.Steady = r.in(0, 4)
	l.Hold = r.in(l.Steady+1, 8)
	l.StepBack = r.in(l.Hold, 9)
	l.Pause = r.in(l.StepBack, 10)
	l.ClearDays = r.in(1, 3)
	return l
}

func randomDose(r dice) rules.Dose {
	d := rules.Dose{Do: []string{"a", "b"}[r.IntN(2)], Sets: r.in(1, 4), Reps: r.in(1, 12), Sessions: r.in(1, 3)}
	if r.chance(50) {
		d.Do, d.Hold = "b", time.Duration(r.in(0, 45))*time.Second
	}
	switch r.IntN(5) {
	case 0:
		d.On = rules.Schedule{Kind: rules.EveryOtherDay}
	case 1:
		d.On = rules.Schedule{Kind: rules.DaysAWeek, PerWeek: r.in(1, 7)}
	case 2:
		d.On = rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Weekday(r.IntN(7)), time.Weekday(r.IntN(7))}}
	}
	return d
}

func randomEnrollment(r dice) rules.Enrollment {
	start := monday + rules.Date(r.IntN(7))
	e := rules.Enrollment{ID: "e1", Program: "plan", Dispensed: start, Start: start, Consent: !r.chance(3),
		Affected: "both", At: rules.Pos{File: "enrollments.yaml", Line: 3, Column: 3}}
	switch r.IntN(6) {
	case 0:
		e.Start += rules.Date(r.in(1, 10))
	case 1:
		e.Dispensed += rules.Date(r.in(1, 10))
	}
	if r.chance(15) {
		e.FromDay = r.in(1, 30)
	}
	if r.chance(20) {
		lines := randomLines(r)
		e.Lines, e.LinesAt = &lines, rules.Pos{File: "enrollments.yaml", Line: 8, Column: 5}
	}
	if r.chance(20) {
		step := r.in(0, 6)
		e.UsualStep = &step
	}
	e.Cautions = rules.Cautions{ReducedSensation: r.chance(15), FragileSkin: r.chance(15), Balance: r.chance(15)}
	if r.chance(20) {
		e.UsualWords = []string{"numb"}
	}
	for _, exercise := range []string{"a", "b"} {
		if r.chance(15) {
			e.Tailoring = append(e.Tailoring, rules.Tailor{Exercise: exercise, LeaveOut: r.chance(50), Sets: r.in(0, 2),
				Form: "plain", Side: "left", By: "Dr. Example", On: start})
		}
	}
	on := e.Dispensed
	for r.chance(30) {
		on += rules.Date(r.in(0, 30))
		kinds := []rules.DeviceKind{rules.DeviceAdjusted, rules.DeviceOut, rules.DeviceBack, rules.DeviceRemade, rules.DeviceSecond}
		e.Devices = append(e.Devices, rules.Device{Kind: kinds[r.IntN(len(kinds))], On: on, At: rules.Pos{File: "enrollments.yaml", Line: 12, Column: 5}})
	}
	return e
}
