package config

import (
	"fmt"
	"runtime"
	"time"

	"stepgate/rules"
)

// reading reads the enrollments of one file. It sees the bytes, the clinic's
// language and the zones, nothing else: no date of today, no program, no other
// file. What it gives may therefore be kept for as long as the bytes are the same
// (see kept.go); all other checks come after it, in asof.go and across.go.
type reading struct {
	notes
	language string         // of the clinic
	zone     *time.Location // of the clinic
	zones    *zones
	patients []patient
	broken   string // the file, if it could not be read
}

// enrollments reads the files of enrollments on every processor, and takes them
// in their order. Not many of them are held at a time: a clinic may have very
// many.
func (l *loader) enrollments(files []*File) {
	if l.kept != nil {
		l.kept.open(l)
	}
	var ahead []chan *reading
	for _, f := range files {
		done := make(chan *reading, 1)
		ahead = append(ahead, done)
		go func() {
			r := &reading{language: l.language, zone: l.zone, zones: l.zones}
			if l.kept != nil {
				l.kept.read(r, f)
			} else {
				r.file(*f)
			}
			done <- r
		}()
		if len(ahead) > runtime.GOMAXPROCS(0) {
			l.take(<-ahead[0])
			ahead = ahead[1:]
		}
	}
	for _, done := range ahead {
		l.take(<-done)
	}
}

// file reads a file of enrollments.
func (r *reading) file(f File) {
	s := read[enrollmentsShape](&r.notes, f, "")
	if s == nil || s.At.Bad {
		return
	}
	r.need(s.At, "enrollments", "write enrollments: and the patients as a list below it")
	r.patients = make([]patient, 0, len(s.Enrollments))
	for i := range s.Enrollments {
		if x := &s.Enrollments[i]; !x.At.Bad {
			r.enrollment(x)
		}
	}
}

// patient is an enrollment with the places of what is checked across files.
type patient struct {
	*Enrollment
	open  bool // not discharged as of today
	at    places
	waits *waiting // nil: nothing
}

// places are where in the file of the enrollment stands what is checked later.
type places struct{ contact, program, day, fallback, sender, dispensed, time spot }

// spot is a place in a file that is known; zero: there is none.
type spot struct{ line, column int32 }

func spotOf(at rules.Pos) spot { return spot{int32(at.Line), int32(at.Column)} }

// place is a spot in the file of the enrollment.
func (p *patient) place(s spot) rules.Pos {
	if s.line == 0 {
		return rules.Pos{}
	}
	return rules.Pos{File: p.At.File, Line: int(s.line), Column: int(s.column)}
}

// waiting is what waits for the program. The shapes of whole enrollments are
// not kept: a clinic may have very many.
type waiting struct {
	usual     spot       // of the usual pain
	pain      *painShape // the patient's own lines; nil: none
	tailoring []tailored
}

// wait is where to put what waits for the program.
func (p *patient) wait() *waiting {
	if p.waits == nil {
		p.waits = &waiting{}
	}
	return p.waits
}

// affectedWords are the sides that can be affected.
var affectedWords = []string{"left", "right", "both"}

// enrollment turns one entry of the list into an enrollment.
func (r *reading) enrollment(s *enrollmentShape) {
	e := &Enrollment{Language: r.language, Zone: r.zone}
	e.At = s.At.Pos
	p := patient{Enrollment: e, open: true, at: places{program: spotOf(s.Program.At), day: spotOf(s.StartingDay.At)}}
	if r.need(s.At, "id", "write an id for the records, like initials and a number") {
		e.ID, _ = r.id(s.ID)
	}
	if r.need(s.At, "name", "write the first name to greet the patient by") {
		e.Name, _ = r.line(s.Name, 40)
	}
	r.proxy(e, s.Proxy)
	if r.need(s.At, "program", "write the name of a program under "+programFolder+"/") && s.Program.given() {
		e.Program = s.Program.Text
	}
	r.dates(&p, s)
	e.Affected = "both"
	if side, ok := r.choice(s.Affected, affectedWords...); ok {
		e.Affected = side
	}
	r.condition(&p, s)
	r.tailor(&p, s.Tailor)
	r.devices(e, s.Devices)
	r.visits(e, s.Visits)
	r.consent(e, s)
	r.contacts(&p, s)
	if lang, ok := r.choice(s.Language, languages()...); ok {
		e.Language = lang
	}
	if z, ok := r.zones.read(&r.notes, s.Zone); ok {
		e.Zone = z
	}
	r.entries(&p, s)
	r.time(&p, s)
	r.patients = append(r.patients, p)
}

// dates reads when the devices were dispensed and the exercises begin.
func (r *reading) dates(p *patient, s *enrollmentShape) {
	e := p.Enrollment
	var okDispensed bool
	if r.need(s.At, "dispensed", "write the date the devices were handed over, like 2026-10-05") {
		if e.Dispensed, okDispensed = r.date(s.Dispensed); okDispensed {
			p.at.dispensed = spotOf(s.Dispensed.At)
		}
	}
	e.FromDay, _ = r.whole(s.StartingDay, 1, MaxDays)
	e.Start = e.Dispensed
	start, ok := r.date(s.Start)
	if !ok {
		return
	}
	e.Start = start
	const most = 60 // days
	if apart := int(start - e.Dispensed); okDispensed && (apart > most || apart < -most) {
		r.warn(s.Start.At, fmt.Sprintf("the exercises start %s from the dispense date", plural(max(apart, -apart), "day")),
			"look whether both dates are right")
	}
}

// consent reads who took the patient's consent; without it nothing is sent.
func (r *reading) consent(e *Enrollment, s *enrollmentShape) {
	if !r.need(s.At, "consent", "ask the patient, then write consent: {on: DATE, how: in writing, by: NAME}") || s.Consent == nil || s.Consent.At.Bad {
		return
	}
	c := s.Consent
	if r.need(c.At, "on", "write the date of the consent, like 2026-10-05") {
		e.Consent.On, _ = r.date(c.On)
	}
	if r.need(c.At, "how", "write how consent was given, like in writing") {
		e.Consent.How = r.agreed(c.How)
	}
	if r.need(c.At, "by", "write who took the consent") {
		e.Consent.By, _ = r.line(c.By, 80)
	}
	e.Enrollment.Consent = e.Consent.On != 0 && e.Consent.How != "" && e.Consent.By != ""
	r.consented(e, c.Covers)
}

// time reads when the daily message is due.
func (r *reading) time(p *patient, s *enrollmentShape) {
	if !r.need(s.At, "time", "write when the daily message is due, like \"09:00\"") {
		return
	}
	if t, ok := r.clock(s.Time); ok {
		p.Time, p.at.time = t, spotOf(s.Time.At)
	}
}
