package rehearsal

import (
	"stepgate/daemon"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/rules/reply"
	"stepgate/templates"
)

// texts counts the segments of what is rendered and keeps what patients'
// texts were read as, each of them once: a crowd says and is told the same few
// things. It belongs to one goroutine.
type texts struct {
	words   *templates.Set
	clinic  templates.Clinic
	patient templates.Patient
	program *rules.Program
	reader  *reply.Reader

	key      []byte
	counted  map[string]counted
	last     string // the text counted last
	readings map[asked]rules.Reading
}

// counted is a text that was rendered.
type counted struct {
	text     string
	segments int
}

// asked is a patient's text and the number that was asked for.
type asked struct {
	text     string
	question rules.Question
}

func newTexts(words *templates.Set, plan *Plan, reader *reply.Reader) *texts {
	return &texts{
		words: words, program: plan.Program, reader: reader,
		clinic: daemon.ClinicWords(plan.Clinic), patient: daemon.PatientWords(plan.Enrollment),
		counted: map[string]counted{}, readings: map[asked]rules.Reading{},
	}
}

func (t *texts) read(text string, question rules.Question) rules.Reading {
	k := asked{text, question}
	r, ok := t.readings[k]
	if !ok {
		r = t.reader.Read(text, question)
		t.readings[k] = r
	}
	return r
}

// daily counts the segments of the message of a decided date. What differs
// from patient to patient and is in no text is left out of what tells
// messages apart.
func (t *texts) daily(dec rules.Decision) int {
	told := dec
	told.Day, told.P, told.W, told.Step, told.State = 0, 0, 0, 0, ""
	told.Why, told.WearWhy, told.Notices = rules.Reason{Code: dec.Why.Code}, rules.Reason{}, nil
	return t.count('d', &told, func() templates.Message {
		return t.words.Daily(t.clinic, t.patient, t.program, dec)
	})
}

// stillPaused counts the segments of the reminder of a pause.
func (t *texts) stillPaused(d rules.Date) int {
	return t.count('p', &d, func() templates.Message { return t.words.StillPaused(t.clinic, t.patient, d) })
}

// answer counts the segments of the answer to a text.
func (t *texts) answer(e *rules.Enrollment, st rules.State, h rules.Hearing, r rules.Reading) int {
	data := daemon.AnswerData(t.program, e, st, h, r)
	told := data
	if r.How == nil {
		told.Due = nil
	}
	return t.count('a', &told, func() templates.Message {
		return t.words.Answer(t.clinic, t.patient, t.program, data)
	})
}

// count renders what was not rendered before. told points to everything that
// tells one text of a kind from another.
func (t *texts) count(kind byte, told any, render func() templates.Message) int {
	t.key = contents(append(t.key[:0], kind), told)
	c, ok := t.counted[string(t.key)]
	if !ok {
		c.text = notify.Plain(render().Text)
		c.segments = notify.Segments(c.text).Segments
		t.counted[string(t.key)] = c
	}
	t.last = c.text
	return c.segments
}
