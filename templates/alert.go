package templates

import (
	"fmt"
	"strings"

	"stepgate/rules"
)

// AlertData is what an alert tells the clinician. Everything but Notice.Kind
// may be empty; what is not known is left out.
type AlertData struct {
	Language string // of the clinician; empty: English
	ID       string // enrollment; empty: not about a patient
	Name     string // to greet by
	Notice   rules.Notice
	On       rules.Date   // the local date it happened
	Quote    string       // the patient's own words
	Why      rules.Reason // the decision behind it; no code: left out
	State    string       // as [Set.State] says it
	Detail   string       // what else is known: problems of files, a carrier's code, a stranger's contact
	Paused   bool         // exercise messages are stopped now
	// WearStopped: reduced sensation, so that after a skin complaint the devices
	// stay out until the clinician releases wear.
	WearStopped bool
	NoAnswer    bool       // no answer can go out to the patient, who has opted out or can't be reached
	File        string     // where the enrollment's entries are written
	Today       rules.Date // for the entry to add
	// Commands are the words an answer to the mail may hold: "seen", "release",
	// "release wear", "hold", "discharge", "confirm"; none: "seen" only. Only
	// [Set.Alerts] and [Set.AlertPage] say them.
	Commands []string
	// Brief leaves out name, words, scores and reasons: for a text message, which
	// anybody may see on a phone.
	Brief bool
}

// alert is what the alert templates see.
type alert struct {
	ID, Name, Who, File  string
	Short, What, Did, Do string
	Words                string // the danger words
	Quote, Clinic        string
	Detail               []string // line by line
	Why, State           string
	Score                *int
	On, Since            rules.Date
	Paused, NoAnswer     bool
	WearStopped          bool
	Held                 bool // a pain hold stands behind it
	Entries              []entry
	Title, Lang          string
}

// entry is a line the clinician can add to an enrollment's file.
type entry struct{ Lead, Line string }

// entriesFor are the entries that may answer a notice.
var entriesFor = map[rules.NoticeKind][]rules.EntryKind{
	rules.NoticeRedFlag:    {rules.EntryRelease},
	rules.NoticePause:      {rules.EntryRelease},
	rules.NoticeWrong:      {rules.EntryConfirm},
	rules.NoticeContact:    {rules.EntryConfirm},
	rules.NoticeByMail:     {rules.EntryConfirm},
	rules.NoticeSkin:       {rules.EntryWear},
	rules.NoticeLost:       {rules.EntryConfirm},
	rules.NoticeBack:       {rules.EntryConfirm},
	rules.NoticeFirstRise:  {rules.EntryHold},
	rules.NoticeReview:     {rules.EntryReview},
	rules.NoticeHeldLong:   {rules.EntryHold},
	rules.NoticeSecondBack: {rules.EntryHold},
}

// quoteMax is how much of a patient's words an alert carries, in characters.
const quoteMax = 1000

// Alert renders a message to the clinician: what was reported, what Stepgate
// did, why, and what the clinician can do, with the entry to add where one
// helps. The patient's words stay as they came, whatever their alphabet.
func (s *Set) Alert(c Clinic, a AlertData) Message {
	l, v := s.in(a.Language), s.alertOf(c, a)
	if a.Brief {
		v.Short = string(a.Notice.Kind)
		text, _ := fold(l.lines("alert/brief", v))
		return Message{Text: text}
	}
	v.Title = l.line("subject/alert", v)
	return Message{Subject: v.Title, Text: l.lines("alert", v), HTML: l.html("mail/alert", v)}
}

// alertOf is an alert in words.
func (s *Set) alertOf(c Clinic, a AlertData) alert {
	l := s.in(a.Language)
	v := alert{
		ID: a.ID, Name: a.Name, Who: who(a.ID, a.Name), File: a.File, Words: l.dangers(a.Notice.Flags),
		Quote: cut(a.Quote, quoteMax), Clinic: c.Name, State: a.State, Score: a.Notice.Score,
		On: a.On, Since: a.Notice.Since, Paused: a.Paused, NoAnswer: a.NoAnswer, Lang: l.code,
		WearStopped: a.WearStopped || a.Why.Code == rules.SkinStop, Held: a.Why.Code == rules.FirstRise || a.Why.Code == rules.PainHeld,
	}
	if v.Name == "" {
		v.Name = v.ID
	}
	if v.File == "" {
		v.File = "enrollments.yaml"
	}
	if a.Why.Code != "" {
		v.Why = s.Why(a.Language, a.Why)
	}
	for line := range strings.Lines(a.Detail) {
		v.Detail = append(v.Detail, strings.TrimSpace(line))
	}
	if kind := string(a.Notice.Kind); l.text.Lookup("short/"+kind) != nil {
		v.Short, v.What = l.line("short/"+kind, v), l.line("what/"+kind, v)
		v.Did, v.Do = l.line("did/"+kind, v), l.line("do/"+kind, v)
	} else { // a kind this version does not know still reaches the clinician
		v.Short, v.What = kind, kind
	}
	v.Entries = l.entries(a, v)
	return v
}

// who names a patient for the clinician: "Ana (p-014)".
func who(id, name string) string {
	switch {
	case name == "":
		return id
	case id == "":
		return name
	}
	return fmt.Sprintf("%s (%s)", name, id)
}

func (l *language) entries(a AlertData, v alert) []entry {
	var out []entry
	if a.ID == "" || a.Today == 0 {
		return nil
	}
	for _, kind := range entriesFor[a.Notice.Kind] {
		if kind == rules.EntryRelease && !a.Paused || kind == rules.EntryWear && !v.WearStopped {
			continue // nothing to release
		}
		out = append(out, entry{
			Lead: l.line("entry/"+string(kind), v),
			Line: fmt.Sprintf("- {%s: %s, by: %s}", kind, a.Today, l.line("entry by", nil)),
		})
	}
	return out
}

// dangers names danger signs in the words of the language, each in quotation
// marks.
func (l *language) dangers(flags []rules.RedFlag) string {
	var names []string
	for _, f := range flags {
		names = append(names, fmt.Sprintf("%q", l.words.danger(f.Name)))
	}
	return strings.Join(names, ", ")
}

// cut is a patient's text on one line, cut where it has more than most
// characters.
func cut(s string, most int) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + " ..."
	}
	return s
}
