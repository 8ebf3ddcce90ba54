package config

import (
	"fmt"
	"runtime"
	"strings"
	"time"

	"stepgate/rules"
)

// enrollments reads one file of enrollments.
func (l *loader) enrollments(r *readPatients) {
	l.list = append(l.list, r.list...)
	s := r.shape
	if s == nil || s.At.Bad {
		return
	}
	l.need(s.At, "enrollments", "write enrollments: and the patients as a list below it")
	for i := range s.Enrollments {
		if x := &s.Enrollments[i]; !x.At.Bad {
			l.enrollment(x)
		}
	}
}

// readPatients is a file of patients as it was read, not yet checked.
type readPatients struct {
	notes
	shape *enrollmentsShape
}

// readAhead reads files of patients on every processor, and hands them on in
// their order. Not many of them are held at a time: a clinic may have very many.
func readAhead(files []File, next func(*readPatients)) {
	var ahead []chan *readPatients
	for _, f := range files {
		done := make(chan *readPatients, 1)
		ahead = append(ahead, done)
		go func() {
			r := &readPatients{}
			r.shape = read[enrollmentsShape](&r.notes, f, "")
			done <- r
		}()
		if len(ahead) > runtime.GOMAXPROCS(0) {
			next(<-ahead[0])
			ahead = ahead[1:]
		}
	}
	for _, done := range ahead {
		next(<-done)
	}
}

// patient is an enrollment with the places of what is checked across files.
type patient struct {
	*Enrollment
	open                        bool // not discharged
	contactAt, programAt, dayAt rules.Pos
	fallbackAt, senderAt        rules.Pos
	// What waits for the program. The shapes of whole enrollments are not
	// kept: a clinic may have very many.
	usual     *usualShape
	pain      *ownPainShape
	tailoring []tailored
}

// affectedWords are the sides that can be affected.
var affectedWords = []string{"left", "right", "both"}

// enrollment turns one entry of the list into an enrollment.
func (l *loader) enrollment(s *enrollmentShape) {
	e := &Enrollment{Language: l.language, Zone: l.zone}
	e.At = s.At.Pos
	p := patient{Enrollment: e, open: true, programAt: s.Program.At, dayAt: s.StartingDay.At}
	if l.need(s.At, "id", "write an id for the records, like initials and a number") {
		e.ID, _ = l.id(s.ID)
	}
	if l.need(s.At, "name", "write the first name to greet the patient by") {
		e.Name, _ = l.line(s.Name, 40)
	}
	l.proxy(e, s.Proxy)
	if l.need(s.At, "program", "write the name of a program under "+programFolder+"/") && s.Program.given() {
		e.Program = s.Program.Text
	}
	l.dates(e, s)
	e.Affected = "both"
	if side, ok := l.choice(s.Affected, affectedWords...); ok {
		e.Affected = side
	}
	l.condition(&p, s)
	l.tailor(&p, s.Tailor)
	l.devices(e, s.Devices)
	l.visits(e, s.Visits)
	l.consent(e, s)
	l.contacts(&p, s)
	if lang, ok := l.choice(s.Language, languages()...); ok {
		e.Language = lang
	}
	if z, ok := l.zoneOf(s.Zone); ok {
		e.Zone = z
	}
	l.entries(&p, s)
	l.time(&p, s)
	l.patients = append(l.patients, p)
}

// dates reads when the devices were dispensed and the exercises begin.
func (l *loader) dates(e *Enrollment, s *enrollmentShape) {
	var okDispensed bool
	if l.need(s.At, "dispensed", "write the date the devices were handed over, like 2026-10-05") {
		if e.Dispensed, okDispensed = l.date(s.Dispensed); okDispensed {
			l.farOff(s.Dispensed)
		}
	}
	e.FromDay, _ = l.whole(s.StartingDay, 1, MaxDays)
	e.Start = e.Dispensed
	start, ok := l.date(s.Start)
	if !ok {
		return
	}
	e.Start = start
	const most = 60 // days
	if apart := int(start - e.Dispensed); okDispensed && (apart > most || apart < -most) {
		l.warn(s.Start.At, fmt.Sprintf("the exercises start %s from the dispense date", plural(max(apart, -apart), "day")),
			"look whether both dates are right")
	}
}

// consent reads who took the patient's consent; without it nothing is sent.
func (l *loader) consent(e *Enrollment, s *enrollmentShape) {
	if !l.need(s.At, "consent", "ask the patient, then write consent: {on: DATE, how: in writing, by: NAME}") || s.Consent == nil || s.Consent.At.Bad {
		return
	}
	c := s.Consent
	if l.need(c.At, "on", "write the date of the consent, like 2026-10-05") {
		e.Consent.On, _ = l.date(c.On)
	}
	if l.need(c.At, "how", "write how consent was given, like in writing") {
		e.Consent.How = l.agreed(c.How)
	}
	if l.need(c.At, "by", "write who took the consent") {
		e.Consent.By, _ = l.line(c.By, 80)
	}
	e.Enrollment.Consent = e.Consent.On != 0 && e.Consent.How != "" && e.Consent.By != ""
	l.consented(e, c.Covers)
}

// time reads when the daily message is due.
func (l *loader) time(p *patient, s *enrollmentShape) {
	if !l.need(s.At, "time", "write when the daily message is due, like \"09:00\"") {
		return
	}
	t, ok := l.clock(s.Time)
	if !ok {
		return
	}
	p.Time = t
	hours := l.clinic.Texting
	if p.open && l.textingKnown && (t < hours.From || t >= hours.To) {
		l.wrong(s.Time.At, "the message time "+t.String()+" is outside the texting hours",
			"choose a time from "+hours.From.String()+" on and before "+hours.To.String())
	}
}

// sameID notes an id that stands twice; ids that differ in capitals only are
// the same to many file systems and to the eye.
func (l *loader) sameID(p patient) {
	if p.ID == "" {
		return
	}
	key := strings.ToLower(p.ID)
	first, twice := l.ids[key]
	switch {
	case !twice:
		l.ids[key] = p
	case first.ID == p.ID:
		l.wrong(p.At, "the id "+quoted(p.ID)+" is taken by the enrollment at "+first.At.String(), "give every enrollment an id of its own")
	default:
		l.wrong(p.At, "the id "+quoted(p.ID)+" differs only in capitals from "+quoted(first.ID)+" at "+first.At.String(), "give every enrollment an id of its own")
	}
}

// farOff warns of a dispense date so far from today that a digit may be wrong:
// the patient would hear nothing for months, or be over with the program. The
// spans are ours.
func (l *loader) farOff(v Value) {
	d, err := rules.ParseDate(v.Text)
	if err != nil {
		return
	}
	today := rules.DateOf(time.Now())
	switch {
	case d > today+60:
		l.warn(v.At, "dispensed is more than 60 days ahead, so nothing goes out until then", "look whether the date is right")
	case d < today-3*365:
		l.warn(v.At, "dispensed is more than three years ago", "look whether the date is right")
	}
}
