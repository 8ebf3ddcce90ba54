package rehearsal

import (
	"slices"
	"sync"

	"stepgate/daemon"
	"stepgate/rules"
	"stepgate/templates"
)

// answers renders the answers to what a patient may send, and the how-to of
// every list.
func (m *measuring) answers(steps []dueList) {
	m.take(AnswerText, m.said())
	for i := range steps {
		l := &steps[i]
		p := m.side(l)
		for n := range len(l.dues) + 1 {
			about := l.dues
			if n > 0 {
				about = l.dues[n-1 : n]
			}
			t := render(m.words.Answer(m.clinic, p, m.program, templates.AnswerData{
				Parts: []rules.Part{rules.SayHow}, Due: l.dues, How: n, Support: m.cautions.Balance}))
			t.dues, t.how = about, true
			m.take(AnswerText, t)
			if len(about) == 1 && t.over(m.how[about[0].Exercise]) {
				m.how[about[0].Exercise] = t
			}
		}
	}
}

// said is the longest answer that is no how-to, as the rules give them. It is
// the same for all programs with the same lines and cautions.
func (m *measuring) said() *rendered {
	key := string(contents([]byte(m.language+"\n"), &struct {
		lines    rules.Lines
		cautions rules.Cautions
	}{m.program.Pain, m.cautions}))
	once, _ := m.same.LoadOrStore(key, sync.OnceValue(m.longestSaid))
	return once.(func() *rendered)()
}

func (m *measuring) longestSaid() *rendered {
	var longest *rendered
	seen := map[string]bool{}
	plain, more := m.texts()
	for i, s := range m.standings() {
		texts := plain
		if i < usual {
			texts = slices.Concat(plain, more)
		}
		for _, r := range texts {
			st, h := rules.Hear(m.program, &m.e.Enrollment, s, r, m.date, false)
			if len(h.Parts) == 0 {
				continue
			}
			data := daemon.AnswerData(m.program, &m.e.Enrollment, st, h, r)
			data.Due = nil // only a how-to speaks of them
			if key := string(contents(nil, &data)); !seen[key] {
				seen[key] = true
				if t := render(m.words.Answer(m.clinic, m.patient, m.program, data)); t.over(longest) {
					longest = t
				}
			}
		}
	}
	return longest
}

// usual is how many of the standings a patient is in for long, and has more
// than one thing to say.
const usual = 3

// standings are the states in which a patient may write, the usual ones first.
func (m *measuring) standings() []rules.State {
	// The date away begins after the last decided one and ends on the longest.
	on := rules.State{Rev: 1, Program: m.program.ID, P: 1, W: 1, Decided: m.date - rules.MaxAway, Greeted: true, Sent: true, Due: true}
	held, paused, lost, doubt, ended, early := on, on, on, on, on, on
	held.Hold = &rules.PainHold{Since: on.Decided}
	paused.Pause = &rules.Pause{Since: on.Decided, Cause: "pain"}
	lost.Lost, doubt.Suspended, ended.Finished = true, true, true
	early.Decided, early.P, early.W = 0, 0, 0
	return []rules.State{on, held, paused, lost, doubt, ended, early}
}

// texts are what a patient may send: a report, done and with the day's pain at
// each of the lines, with a sore skin or without, and one thing more beside it;
// or, plainly, no more than one of them.
func (m *measuring) texts() (plain, more []rules.Reading) {
	number := func(n int) *int { return &n }
	hours, lines := 23.5, m.program.Pain
	plain = []rules.Reading{{FirstStep: number(10)}, {Wear: &hours}, {SkinOK: true}, {Done: rules.DoneAll}, {Done: rules.DoneSome},
		{Done: rules.DoneNone}, {Away: number(rules.MaxAway + 1)}, {Help: true}, {Stop: true}, {Start: true}, {Wrong: true}}
	besides := []rules.Reading{{Away: number(rules.MaxAway)}, {Call: true}, {AskStop: true}, {Unread: true},
		{Flags: danger(rules.UrgentEmergency)}, {Flags: danger(rules.UrgentToday)}, {Flags: danger(rules.UrgentClinic)}}
	plain = append(plain, besides...)
	reports := []rules.Reading{{Skin: true}}
	for _, score := range []int{10, lines.Pause, lines.StepBack, lines.Hold, lines.Steady} {
		r := rules.Reading{Done: rules.DoneAll, Pain: number(score)}
		sore := r
		sore.Skin = true
		reports = append(reports, r, sore)
	}
	plain = append(plain, reports...)
	for _, r := range reports {
		for _, b := range besides {
			r.Away, r.Call, r.AskStop, r.Unread, r.Flags = b.Away, b.Call, b.AskStop, b.Unread, b.Flags
			more = append(more, r)
		}
	}
	return plain, more
}

func danger(tier rules.Urgency) []rules.RedFlag { return []rules.RedFlag{{Name: "danger", Tier: tier}} }
