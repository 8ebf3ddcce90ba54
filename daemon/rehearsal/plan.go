package rehearsal

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"stepgate/config"
	"stepgate/rules"
)

// Wanted says what is to be rehearsed. One of Program and Enrollment may be
// left empty.
type Wanted struct {
	Program    string
	Enrollment string
	Start      rules.Date // the first date, day 1
	Weeks      int        // 0: the program's length, or 12 where it has none
	Replies    []config.Reply
}

// DefaultWeeks is how long a program without a length is rehearsed.
const DefaultWeeks = 12

// MaxWeeks is the longest a rehearsal may be.
const MaxWeeks = config.MaxDays / 7

// Plan is a rehearsal about to be played.
type Plan struct {
	Clinic     *config.Clinic     // with the one patient, but for what was changed in Enrollment since
	Enrollment *config.Enrollment // as rehearsed: on the spool, from First on
	Program    *rules.Program
	First      rules.Date
	Days       int
	Replies    []config.Reply
	Left       []string // what of the enrollment was left out, in words
}

// UnknownError says that the clinic has no such program or enrollment.
type UnknownError struct {
	What, Name string
	Known      []string
}

func (e UnknownError) Error() string {
	if len(e.Known) == 0 {
		return fmt.Sprintf("there is no %s %q", e.What, e.Name)
	}
	return fmt.Sprintf("there is no %s %q; there are %s", e.What, e.Name, strings.Join(e.Known, ", "))
}

// date is the n-th date of the rehearsal, from 1.
func (p *Plan) date(n int) rules.Date { return p.First + rules.Date(n-1) }

// lines are the pain lines that count for the patient.
func (p *Plan) lines() rules.Lines { return p.Enrollment.Pain(p.Program) }

// most is how many names an error lists.
const most = 12

func unknown(what, name string, known []string) error {
	slices.Sort(known)
	if len(known) > most {
		known = append(known[:most:most], "and so on")
	}
	return UnknownError{what, name, known}
}

// NewPlan lays out a rehearsal. The files of the clinic stay as they are.
func NewPlan(c *config.Clinic, want Wanted) (*Plan, error) {
	plan := &Plan{First: want.Start, Days: want.Weeks * 7, Replies: want.Replies}
	var from *config.Enrollment
	if want.Enrollment != "" {
		if from = c.Enrollments.Get(want.Enrollment); from == nil {
			return nil, unknown("enrollment", want.Enrollment, slices.Collect(c.Enrollments.IDs()))
		}
	}
	id := want.Program
	if id == "" && from != nil {
		id = from.Program
	}
	if plan.Program = c.Programs[id]; plan.Program == nil {
		return nil, unknown("program", id, slices.Collect(maps.Keys(c.Programs)))
	}
	if from == nil {
		plan.Enrollment = madeUp(c)
	} else {
		plan.Enrollment, plan.Left = copied(from)
	}
	plan.Enrollment.Program = id
	plan.begin()
	if plan.Days == 0 {
		plan.Days = plan.Program.Weeks * 7
	}
	if plan.Days == 0 {
		plan.Days = DefaultWeeks * 7
	}
	plan.Clinic = alone(c, plan.Enrollment)
	return plan, nil
}

// The patient of a rehearsal without an enrollment.
const (
	madeUpID   = "rehearsal"
	madeUpName = "Sam"
)

// messageTime is when the made-up patient's message is due: 09:00, or when
// the clinic's texting hours begin, where those leave 09:00 out.
func messageTime(h config.Hours) config.Clock {
	const nine = config.Clock(9 * 60)
	if nine < h.From || nine >= h.To {
		return h.From
	}
	return nine
}

// madeUp is a patient without any tailoring.
func madeUp(c *config.Clinic) *config.Enrollment {
	return &config.Enrollment{
		Enrollment: rules.Enrollment{ID: madeUpID, Consent: true, Affected: "both"},
		Name:       madeUpName, Address: config.Address{Channel: channelName, To: "patient"},
		Language: c.Language, Zone: c.Zone, Time: messageTime(c.Texting),
	}
}

// copied is an enrollment's patient with everything that stands: consent,
// side, zone, time, language, caps. What a clinician did once on a date of the
// real calendar (a hold, a release, a discharge) belongs to that calendar and
// is left out.
func copied(from *config.Enrollment) (*config.Enrollment, []string) {
	e := *from
	e.Address = config.Address{Channel: channelName, To: "patient"}
	e.Fallback, e.Sender = config.Address{}, ""
	e.Entries = nil
	var left []string
	for _, n := range from.Entries {
		if n.Kind == rules.EntryCap {
			e.Entries = append(e.Entries, n)
			continue
		}
		left = append(left, fmt.Sprintf("%s of %s (%s)", n.Kind, n.On, n.At))
	}
	return &e, left
}

// begin moves the patient's dates so that the first of them is the plan's: the
// devices', the caps', the visits' and the day the exercises begin stay as far
// from each other as they are.
func (p *Plan) begin() {
	e := p.Enrollment
	if e.Dispensed == 0 && e.Start == 0 {
		e.Dispensed, e.Start = p.First, p.First
		return
	}
	by := p.First - e.First()
	e.Dispensed += by
	e.Start += by
	for i := range e.Entries {
		e.Entries[i].On += by
	}
	e.Devices, e.Visits = slices.Clone(e.Devices), slices.Clone(e.Visits)
	for i := range e.Devices {
		e.Devices[i].On += by
	}
	for i := range e.Visits {
		e.Visits[i] += by
	}
}

// alone is the clinic with this one patient and nothing but made-up channels.
func alone(c *config.Clinic, e *config.Enrollment) *config.Clinic {
	q := *c
	q.SMS, q.Email, q.Web, q.Digest = nil, nil, nil, ""
	q.Admin, q.Backup, q.Cover = config.Address{}, config.Address{}, nil
	q.Alerts = config.Address{Channel: channelName, To: "clinician"}
	q.Enrollments = config.NewRoll([]*config.Enrollment{e})
	q.Files = nil // the made-up journal need not keep them
	return &q
}
