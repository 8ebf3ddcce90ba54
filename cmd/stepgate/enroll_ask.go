package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"stepgate/config"
)

// usualTime is when the daily message is due where nobody says otherwise.
const usualTime = "09:00"

// newcomerQuestions asks about one newcomer. What the flags said is not asked again.
type newcomerQuestions struct {
	x   *config.Enrolling
	n   config.Newcomer
	set map[string]bool // what the flags said
	a   *asker
	out io.Writer
}

// proposals takes what an empty answer would stand for, where that is harmless:
// the id, today, both sides, the only program, nine in the morning. The zone and the language that
// nobody names are the clinic's.
func (q *newcomerQuestions) proposals() {
	propose := func(column, text string) {
		if q.n[column] == "" && text != "" {
			q.n[column] = text
		}
	}
	if q.n["id"] == "" {
		q.n["id"] = q.x.NextID()
	}
	propose("program", q.onlyProgram())
	propose("dispensed", q.x.Today().String())
	propose("consent on", q.x.Today().String())
	propose("affected", "both")
	propose("time", usualTime)
}

func (q *newcomerQuestions) onlyProgram() string {
	if list := q.x.Programs(); len(list) == 1 {
		return list[0]
	}
	return ""
}

// all asks everything a newcomer needs.
func (q *newcomerQuestions) all() error {
	fmt.Fprintln(q.out, "An empty answer takes what stands in [brackets]. End with Ctrl-C; nothing is written before you say so.")
	today := q.x.Today().String()
	steps := []func() error{
		func() error { return q.ask("name", "First name, to greet by", "") },
		func() error {
			return q.ask("program", "Program: "+strings.Join(q.x.Programs(), ", "), q.onlyProgram())
		},
		func() error { return q.ask("dispensed", "Date the devices were handed over", today) },
		func() error { return q.ask("affected", "Affected side: left, right or both", "both") },
		q.contact,
		func() error { return q.ask("time", "Time of the daily message, by the patient's clock", usualTime) },
		q.zone,
		q.language,
		func() error {
			return q.ask("cautions", "What asks for care, or none: reduced sensation, diabetes, fragile skin, balance, growing", "none")
		},
		q.agreed,
		func() error { return q.ask("consent by", "Who asked them", "") },
		func() error { return q.ask("consent on", "On which date", today) },
		q.covers,
		func() error { return q.ask("id", "Id for the records; no name", q.x.NextID()) },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// agreed asks whether the patient agreed, and how. Who did not is not enrolled.
func (q *newcomerQuestions) agreed() error {
	if !q.set["consent how"] {
		yes, err := q.a.yesOrNo("Did the patient agree to get these messages?")
		if err != nil {
			return err
		}
		if !yes {
			return errors.New("only who agreed is enrolled; nothing was written")
		}
	}
	return q.ask("consent how", "How, such as signed the form, or said yes at the visit", "")
}

// covers asks whether the record may leave the clinic. Only a yes is one.
func (q *newcomerQuestions) covers() error {
	if q.set["consent covers"] {
		return q.ask("consent covers", "", "")
	}
	if q.set["consent how"] {
		return nil // the flags tell the consent
	}
	return q.a.ask("Did they agree too that the record is handed on to other record systems: y or n", "n", func(s string) error {
		switch strings.ToLower(s) {
		case "y", "yes":
			return q.x.Answer(q.n, "consent covers", "export")
		case "n", "no":
			return nil
		}
		return errors.New("write y for yes or n for no")
	})
}

// ask asks for one column, unless a flag said it.
func (q *newcomerQuestions) ask(column, question, proposal string) error {
	take := func(s string) error {
		if s == "" {
			return fmt.Errorf("an answer is needed")
		}
		return q.x.Answer(q.n, column, s)
	}
	if q.set[column] {
		if err := q.x.Answer(q.n, column, q.n[column]); err != nil {
			return usage{fmt.Errorf("--%s: %w", strings.ReplaceAll(column, " ", "-"), err)}
		}
		return nil
	}
	return q.a.ask(question, proposal, take)
}

// contact asks where the messages go: what is written tells the channel.
func (q *newcomerQuestions) contact() error {
	for _, column := range []string{"sms", "email", "spool"} {
		if q.set[column] {
			return q.ask(column, "", "")
		}
	}
	return q.a.ask("Where do the messages go: a mobile number, a mail address, or spool to try it out without either", "", func(s string) error {
		column := "sms"
		switch {
		case s == "":
			return fmt.Errorf("an answer is needed")
		case strings.Contains(s, "@"):
			column = "email"
		case strings.EqualFold(s, "spool"):
			column, s = "spool", q.spoolName()
		case !strings.ContainsAny(s, "0123456789"):
			return fmt.Errorf("that is neither a number nor a mail address; write one of them, or spool")
		}
		if err := q.x.Answer(q.n, column, s); err != nil {
			return err
		}
		for _, p := range q.x.Check([]config.Newcomer{q.n}) {
			if p.Column == "program" && !p.Warning { // one that is not approved
				delete(q.n, column)
				return fmt.Errorf("%s; %s", p.What, p.Do)
			}
		}
		return nil
	})
}

// spoolName is a name on the spool that nobody has.
func (q *newcomerQuestions) spoolName() string {
	base := cmp.Or(config.SpoolName(q.n["name"]), "patient")
	name := base
	had := map[string]bool{}
	for e := range q.x.Clinic.Enrollments.All() {
		if e.Address.Channel == "spool" {
			had[strings.ToLower(e.Address.To)] = true
		}
	}
	for i := 2; had[strings.ToLower(name)]; i++ {
		name = fmt.Sprintf("%s-%d", base, i)
	}
	return name
}

// zone proposes the clinic's, and says so where the number is of another.
func (q *newcomerQuestions) zone() error {
	ours := q.x.Clinic.Zone.String()
	if zones := config.ZonesOf(q.n["sms"]); len(zones) > 0 && !slices.Contains(zones, ours) {
		if len(zones) > 3 {
			zones = append(zones[:3:3], "others")
		}
		fmt.Fprintf(q.out, "  Numbers like this one are of %s; the clinic's zone is %s.\n", strings.Join(zones, ", "), ours)
	}
	return q.ask("zone", "Time zone the patient lives in", ours)
}

// language is asked where there is a choice.
func (q *newcomerQuestions) language() error {
	list := config.Languages()
	if len(list) < 2 && !q.set["language"] {
		return nil
	}
	return q.ask("language", "Language: "+strings.Join(list, " or "), q.x.Clinic.Language)
}
