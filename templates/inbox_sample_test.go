package templates

import (
	"fmt"
	"testing"

	"stepgate/rules"
)

// linked is a day's links on a site that is reserved for examples, RFC 2606.
func linked(first bool) *DayLinks {
	const site = "https://plans.example.org/a/"
	d := &DayLinks{Done: site + "d?t=x&y=1", Some: site + "s", None: site + "n", Stop: site + "stop", First: first}
	for n := range d.Pain {
		d.Pain[n] = fmt.Sprintf("%sp%d", site, n)
	}
	return d
}

func withLinks(first bool) Patient {
	p := ana
	p.Links = linked(first)
	return p
}

// alertNamed is the alert sample of a name.
func alertNamed(t testing.TB, name, id, who string, commands ...string) AlertData {
	t.Helper()
	for _, a := range alertSamples() {
		if a.name == name {
			if a.data.ID != "" {
				a.data.ID, a.data.Name = id, who
			}
			a.data.Commands = commands
			return a.data
		}
	}
	t.Fatalf("no alert sample %q", name)
	return AlertData{}
}

// morning is a bad one: five alerts, two of them about one patient and one
// about nobody who is enrolled.
func morning(t testing.TB) []AlertData {
	return []AlertData{
		alertNamed(t, "red-flag", "p-014", "Ana", "seen", "release", "discharge"),
		alertNamed(t, "pause", "p-021", "Bo", "seen", "release", "discharge"),
		alertNamed(t, "skin-stopped", "p-007", "Cy", "seen", "release wear", "hold", "discharge"),
		alertNamed(t, "wrong-person", "p-014", "Ana", "seen", "confirm", "discharge"),
		alertNamed(t, "stranger", "", ""),
	}
}

const (
	mailToken = "k7Qd-2f9m"
	answerAt  = "https://plans.example.org/c/k7Qd-2f9m"
)

// inboxSamples are the mails that can be answered and what comes of it.
func inboxSamples(t testing.TB, s *Set) []sample {
	all := morning(t)
	alerts := func(name string, m AlertMail) sample {
		return sample{name: "alerts-" + name, msg: s.Alerts(harbor, m), team: true}
	}
	done := AnswerLine{ID: "p-014", Name: "Ana", Did: "release", File: "enrollments.yaml", Line: 12}
	until := AnswerLine{ID: "p-007", Name: "Cy", Did: "hold until", Until: monday + 30, File: "enrollments/cy.yaml", Line: 9}
	bad := AnswerLine{ID: "p-021", Name: "Bo", Did: "release", Problem: "enrollments.yaml has changed meanwhile; answer once more"}
	said := func(name string, a AlertAnswer) sample {
		return sample{name: "answered-" + name, msg: s.AlertAnswered(harbor, a), team: true}
	}
	var every []AnswerLine
	for _, did := range append([]string{"hold until"}, commands...) {
		every = append(every, AnswerLine{ID: "p-014", Name: "Ana", Did: did, Until: monday + 30})
	}
	out := []sample{
		alerts("one", AlertMail{Alerts: all[1:2], Token: mailToken, Link: answerAt}),
		alerts("one-seen", AlertMail{Alerts: all[4:], Token: mailToken}),
		alerts("one-unanswerable", AlertMail{Alerts: all[1:2]}),
		alerts("one-again", AlertMail{Alerts: all[1:2], Again: true, Token: mailToken, Link: answerAt}),
		alerts("two", AlertMail{Alerts: all[1:3], Token: mailToken, Link: answerAt}),
		alerts("two-link-only", AlertMail{Alerts: all[1:3], Link: answerAt}),
		alerts("morning", AlertMail{Alerts: all, Token: mailToken, Link: answerAt}),
		alerts("morning-again", AlertMail{Alerts: all, Again: true, Token: mailToken, Link: answerAt}),
		said("one", AlertAnswer{Lines: []AnswerLine{done}}),
		said("part", AlertAnswer{Lines: []AnswerLine{done, until, bad}}),
		said("refused", AlertAnswer{Lines: []AnswerLine{bad}}),
		said("every", AlertAnswer{Lines: every}),
		said("unread", AlertAnswer{Problem: `"relase" is none of seen, release, discharge`}),
		{name: "paused", msg: s.StillPaused(harbor, ana, monday), max: 2},
		{name: "paused-proxy", msg: s.StillPaused(harbor, byProxy, monday), max: 2},
	}
	for _, d := range []dailySample{
		{name: "two-wear", dec: dayOf(twoDue, 90*60*1e9)}, {name: "first-steps", dec: dayOf(oneDue, 0, firstSteps)},
		{name: "held-rest", dec: dayOf(nil, 0, rest(rules.PainHeld))}, {name: "closing", dec: dayOf(oneDue, 0, closing)},
		{name: "first", dec: dayOf(oneDue, 60*60*1e9, firstText)},
	} {
		who := withLinks(d.dec.Ask == rules.AskFirstStep)
		out = append(out, sample{name: "linked-" + d.name, msg: s.Daily(harbor, who, sampleProgram(), d.dec), max: 3})
	}
	return append(out, digestSamples(s)...)
}

// week is seven dates of a digest: a letter for how much was done, and a
// score or a dash.
func week(days ...string) []DigestDay {
	var out []DigestDay
	for i, x := range days {
		d := DigestDay{Date: monday - 7 + rules.Date(i)}
		d.Done = map[byte]string{'a': "all", 's': "some", 'n': "none"}[x[0]]
		if x[1] != '-' {
			d.Score = score(int(x[1] - '0'))
		}
		out = append(out, d)
	}
	return out
}

// caseload is a digest with somebody in each section.
func caseload() Digest {
	at := rules.Pos{File: "programs/steady-arches.yaml", Line: 31}
	return Digest{From: monday - 7, To: monday - 1,
		Look: []DigestRow{{ID: "p-021", Name: "Bo", Step: "step 2 of 5", State: rules.InPaused, Since: monday - 2,
			Why:  rules.Reason{Code: rules.Paused, Score: score(8), Line: 8, At: at, Since: monday - 2},
			Days: week("a2", "a3", "s4", "-5", "a4", "n8", "--"), Done: 3, Due: 5, Wear: "4 h"}},
		Held: []DigestRow{{ID: "p-014", Name: "Ana", Step: "step 3 of 5", State: rules.InHeld, Since: monday - 5,
			Why:  rules.Reason{Code: rules.PainHeld, Score: score(5), Line: 4, At: at, Need: 2, Have: 1},
			Days: week("a2", "a5", "a4", "-3", "a2", "-0", "a2"), Done: 5, Due: 5, Wear: "8 h"}},
		Silent: []DigestRow{{ID: "p-030", Name: "Dee", Step: "step 1 of 5", State: rules.InActive, Since: monday - 6,
			Why: rules.Reason{Code: rules.Tick}, Days: week("a1", "--", "--", "--", "--", "--", "--"), Done: 1, Due: 7}},
		Review: []DigestRow{{ID: "p-002", Name: "Eli", Step: "step 4 of 5", State: rules.InWaiting, Since: monday - 1,
			Why: rules.Reason{Code: rules.Review, At: at, Need: 7}, Days: week("a1", "a1", "a0", "a1", "a1", "a2", "a1"), Done: 7, Due: 7, Wear: "8 h"}},
		Rest: []DigestRow{
			{ID: "p-001", Name: "Flo", Step: "step 2 of 5", State: rules.InActive, Days: week("a1", "a2", "a0", "a1", "a1", "a2", "a1"), Done: 7, Due: 7, Wear: "6 h"},
			{ID: "p-003", Name: "Gus", State: rules.InMaintenance},
		},
	}
}

func digestSamples(s *Set) []sample {
	quiet, empty, one := caseload(), Digest{From: monday - 7, To: monday - 1}, Digest{From: monday - 7, To: monday - 1}
	quiet.Look, quiet.Held, quiet.Silent, quiet.Review = nil, nil, nil, nil
	one.Held = caseload().Held
	var out []sample
	for name, d := range map[string]Digest{"digest": caseload(), "digest-quiet": quiet, "digest-nobody": empty, "digest-one": one} {
		out = append(out, sample{name: name, msg: s.Digest(harbor, d), team: true})
	}
	return out
}

// pageSamples renders every page behind a link.
func pageSamples(t testing.TB) map[string]string {
	s := newSet(t)
	out := map[string]string{}
	base := LinkPage{Language: "en", Clinic: harbor.Name, Action: "/a/d?t=x", Phone: harbor.Phone, Emergency: harbor.Emergency, State: "ask"}
	for _, what := range asked {
		p := base
		p.What, p.Score = what, score(0)
		out["link-"+dashed(what)] = string(s.LinkPage(p))
	}
	for name, answer := range map[string][]string{
		"link-thanks": {"Done for today, thank you."}, "link-thanks-bare": nil,
		"link-thanks-pause": {"8 noted. Please call your clinic.", "No more exercises and no more plan texts until your clinic says so.",
			"Nobody reads your replies at once. Call 202-555-0134 (Mon-Fri 9-5). After hours: 202-555-0135. Emergency: 911."},
	} {
		p := base
		p.What, p.State, p.Answer = "done", "thanks", answer
		out[name] = string(s.LinkPage(p))
	}
	for _, state := range []string{"expired", "used", "bad"} {
		p := base
		p.What, p.State = "done", state
		out["link-"+state] = string(s.LinkPage(p))
	}
	var items []AlertPageItem
	for i, a := range morning(t) {
		items = append(items, AlertPageItem{Number: i + 1, AlertData: a, Done: i == 3})
	}
	did := map[string][]AnswerLine{"done": {{ID: "p-014", Name: "Ana", Did: "release", File: "enrollments.yaml", Line: 12}}}
	for _, state := range []string{"ask", "done", "expired", "bad"} {
		out["alerts-"+state] = string(s.AlertPage(AlertPage{Clinic: harbor, Items: items, Action: "/c/k7Qd-2f9m", State: state, Lines: did[state]}))
	}
	return out
}
