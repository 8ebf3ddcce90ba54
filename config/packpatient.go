package config

import (
	"slices"
	"time"

	"stepgate/rules"
)

// packVersion is that of what packpatient.go writes: one more with every change
// to it. A test holds it against every field there is.
const packVersion = 2

// pack writes the patients of a file and what was noted about them. It is nil
// where something does not fit the form: such a file is read every time.
func (r *reading) pack(file string) []byte {
	f := &packing{writing: true, file: file, known: map[string]int{}}
	f.reading(r)
	if f.bad {
		return nil
	}
	return f.lead()
}

// unpack reads what pack wrote. With an error nothing in r is of use.
func (r *reading) unpack(file string, packed []byte) error {
	f := &packing{file: file, zones: r.zones, buf: packed}
	f.follow()
	f.reading(r)
	if f.bad || len(f.buf) > 0 {
		return errForm
	}
	return nil
}

func (f *packing) reading(r *reading) {
	many(f, (*[]Problem)(&r.list), func(p *Problem) {
		f.place(&p.At)
		f.text(&p.What)
		f.text(&p.Do)
		f.flag(&p.Warning)
	})
	var in []Enrollment // side by side: one piece of memory for a file
	if !f.writing {
		in = make([]Enrollment, f.count(0))
		r.patients = make([]patient, len(in))
	} else {
		f.count(len(r.patients))
	}
	for i := range r.patients {
		p := &r.patients[i]
		if !f.writing {
			*p = patient{Enrollment: &in[i], open: true}
		}
		if f.patient(p); f.bad {
			return
		}
	}
}

// parts are what an enrollment may have; most have few of them.
type parts uint64

const (
	partConsent parts = 1 << iota
	partSensation
	partSkin
	partBalance
	partGrowing
	partExport
	partTexts
	partPerson // what the clinician knows of them, see [packing.person]
	partRoad   // another way to reach them, or another person
	partCourse // what happened on the way
	partWaits
	partLines
)

// partsOf are those that an enrollment has.
func partsOf(e *Enrollment) (out parts) {
	set := func(part parts, has bool) {
		if has {
			out |= part
		}
	}
	set(partConsent, e.Enrollment.Consent)
	set(partSensation, e.Cautions.ReducedSensation)
	set(partSkin, e.Cautions.FragileSkin)
	set(partBalance, e.Cautions.Balance)
	set(partGrowing, e.Cautions.Growing)
	set(partExport, e.Consent.Export)
	set(partTexts, e.Consent.Texts)
	set(partPerson, e.FromDay != 0 || e.Usual != nil || e.UsualStep != nil || e.UsualWords != nil || e.LinesBy != "" || e.LinesOn != 0)
	set(partRoad, e.Proxy != nil || e.Fallback != Address{} || e.Sender != "")
	set(partCourse, e.Tailoring != nil || e.Devices != nil || e.Entries != nil || e.Visits != nil)
	set(partLines, e.Lines != nil || e.LinesAt != rules.Pos{})
	return out
}

// patient is an enrollment with what is checked later.
func (f *packing) patient(p *patient) {
	f.text(&p.ID)
	has := partsOf(p.Enrollment)
	if p.waits != nil {
		has |= partWaits
	}
	f.enrollment(p.Enrollment, &has)
	for _, s := range []*spot{&p.at.contact, &p.at.program, &p.at.day, &p.at.fallback, &p.at.sender, &p.at.dispensed, &p.at.time} {
		f.spot(s)
	}
	if has&partWaits != 0 {
		if !f.writing {
			p.waits = &waiting{}
		}
		f.waits(p.waits)
	}
}

// enrollment is all of one but its id.
func (f *packing) enrollment(e *Enrollment, has *parts) {
	f.number((*uint64)(has))
	is := func(part parts) bool { return *has&part != 0 }
	if !f.writing {
		e.Enrollment.Consent = is(partConsent)
		e.Cautions = rules.Cautions{ReducedSensation: is(partSensation), FragileSkin: is(partSkin), Balance: is(partBalance), Growing: is(partGrowing)}
		e.Consent.Export, e.Consent.Texts = is(partExport), is(partTexts)
	}
	f.place(&e.At)
	f.text(&e.Name)
	f.text(&e.Program)
	whole(f, &e.Dispensed)
	whole(f, &e.Start)
	f.text(&e.Affected)
	f.text(&e.Address.Channel)
	f.text(&e.Address.To)
	f.text(&e.Language)
	f.zone(&e.Zone)
	whole(f, &e.Time)
	whole(f, &e.Consent.On)
	f.text(&e.Consent.How)
	f.text(&e.Consent.By)
	if is(partPerson) {
		f.person(e)
	}
	if is(partRoad) {
		maybe(f, &e.Proxy, func(x *Proxy) { f.text(&x.Name); f.text(&x.Relation) })
		f.text(&e.Fallback.Channel)
		f.text(&e.Fallback.To)
		f.text(&e.Sender)
	}
	if is(partCourse) {
		f.course(e)
	}
	if is(partLines) {
		f.lines(e)
	}
}

// zone writes or reads a zone: by its name, or by its place in near.
func (f *packing) zone(z **time.Location) {
	if f.near != nil {
		i := 0
		if f.writing {
			if i = slices.Index(*f.near, *z); i < 0 {
				i, *f.near = len(*f.near), append(*f.near, *z)
			}
		}
		if whole(f, &i); !f.writing {
			*z = (*f.near)[i]
		}
		return
	}
	name := (*z).String()
	if f.text(&name); !f.writing {
		var ok bool
		*z, ok = f.zones.named(name)
		f.bad = f.bad || !ok
	}
}

// person is what the clinician knows of a patient.
func (f *packing) person(e *Enrollment) {
	whole(f, &e.FromDay)
	maybe(f, &e.Usual, func(n *int) { whole(f, n) })
	maybe(f, &e.UsualStep, func(n *int) { whole(f, n) })
	many(f, &e.UsualWords, f.text)
	f.text(&e.LinesBy)
	whole(f, &e.LinesOn)
}

// lines are the patient's own pain lines. In a file of their own program they are
// not there yet: they wait for the program.
func (f *packing) lines(e *Enrollment) {
	maybe(f, &e.Lines, func(l *rules.Lines) {
		for _, n := range []*int{&l.Steady, &l.Hold, &l.StepBack, &l.Pause, &l.ClearDays} {
			whole(f, n)
		}
	})
	f.place(&e.LinesAt)
}

// course is what happened on the way.
func (f *packing) course(e *Enrollment) {
	many(f, &e.Tailoring, f.tailor)
	many(f, &e.Devices, func(d *rules.Device) {
		f.text((*string)(&d.Kind))
		whole(f, &d.On)
		f.place(&d.At)
	})
	many(f, &e.Entries, func(n *rules.Entry) {
		f.text((*string)(&n.Kind))
		whole(f, &n.On)
		f.text(&n.By)
		f.text(&n.Why)
		whole(f, &n.Step)
		f.flag(&n.AsBefore)
		whole(f, &n.OfHold)
		whole(f, &n.Report)
		maybe(f, &n.Score, func(s *int) { whole(f, s) })
		f.text(&n.Said)
		f.place(&n.At)
	})
	many(f, &e.Visits, func(d *rules.Date) { whole(f, d) })
}

func (f *packing) tailor(t *rules.Tailor) {
	f.text(&t.Exercise)
	f.flag(&t.LeaveOut)
	f.text(&t.Form)
	f.text(&t.Side)
	whole(f, &t.Sets)
	f.text(&t.By)
	whole(f, &t.On)
	f.place(&t.At)
}

// waits is what waits for the program.
func (f *packing) waits(w *waiting) {
	f.spot(&w.usual)
	maybe(f, &w.pain, func(s *painShape) {
		f.place(&s.At.Pos)
		many(f, &s.At.Keys, f.text)
		for _, v := range []*Value{&s.Steady, &s.Hold, &s.StepBack, &s.Pause, &s.ClearDays} {
			f.text(&v.Text)
			f.text(&v.Key)
			f.place(&v.At)
			f.bad = f.bad || v.Bad || v.Hide
		}
		f.bad = f.bad || s.At.Bad
	})
	many(f, &w.tailoring, func(t *tailored) {
		f.tailor(&t.Tailor)
		for _, at := range []*rules.Pos{&t.exerciseAt, &t.formAt, &t.sideAt, &t.setsAt} {
			f.place(at)
		}
	})
}
