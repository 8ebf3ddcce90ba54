package rules

// Reading is what a patient's text was taken for. Several facts may stand in
// one text. Nil pointers mean "not said".
type Reading struct {
	Done      Done      `json:"done,omitempty"`
	Pain      *int      `json:"pain,omitempty"`       // daily score, 0-10
	FirstStep *int      `json:"first_step,omitempty"` // first-step score, 0-10
	Side      string    `json:"side,omitempty"`       // "left" or "right", where one was named
	Skin      bool      `json:"skin,omitempty"`       // blister, broken skin, lasting mark
	SkinOK    bool      `json:"skin_ok,omitempty"`    // looked at the skin, nothing found
	Wear      *float64  `json:"wear_hours,omitempty"` // hours worn
	How       *int      `json:"how,omitempty"`        // how-to asked: 0 all, n the nth exercise
	Away      *int      `json:"away,omitempty"`       // days away, as written
	Call      bool      `json:"call,omitempty"`       // please call me
	Stop      bool      `json:"stop,omitempty"`       // opt-out
	Start     bool      `json:"start,omitempty"`      // opt back in
	Help      bool      `json:"help,omitempty"`
	Wrong     bool      `json:"wrong_person,omitempty"` // wrong number, who is this, died
	Flags     []RedFlag `json:"red_flags,omitempty"`    // danger words, plainly said
	Denied    []RedFlag `json:"denied,omitempty"`       // danger words plainly negated: passed on, no pause
	Echo      bool      `json:"echo,omitempty"`         // a phone's "Liked ..." of our own text
	Unread    bool      `json:"unread,omitempty"`       // something in it could not be understood
	// AskStop says that a stop word stood inside a report ("had to stop, it
	// hurt"): the report counts, and the patient is asked whether to stop.
	AskStop bool `json:"ask_stop,omitempty"`
}

// Done says how much of the day's exercises were done.
type Done string

// What can be said of the day's exercises.
const (
	DoneAll  Done = "all"
	DoneSome Done = "some"
	DoneNone Done = "none"
)

// RedFlag is a danger word found in a text.
type RedFlag struct {
	Name string  `json:"name"`
	Tier Urgency `json:"tier"`
}

// Urgency says which safety text a danger word is answered with.
type Urgency string

// The three safety texts, most urgent first.
const (
	UrgentEmergency Urgency = "emergency" // the emergency number, now
	UrgentToday     Urgency = "urgent"    // urgent care today
	UrgentClinic    Urgency = "clinic"    // call the clinic today
)

// Worse tells whether u is more urgent than v.
func (u Urgency) Worse(v Urgency) bool { return u.rank() > v.rank() }

// Part is the safety text a danger word of this urgency is answered with.
func (u Urgency) Part() Part {
	switch u {
	case UrgentEmergency:
		return SayEmergency
	case UrgentToday:
		return SayUrgent
	}
	return SayClinic
}

func (u Urgency) rank() int {
	switch u {
	case UrgentEmergency:
		return 3
	case UrgentToday:
		return 2
	case UrgentClinic:
		return 1
	}
	return 0
}

// Report tells whether the text says anything about the patient's day, as
// opposed to a question or a keyword.
func (r Reading) Report() bool {
	return r.Done != "" || r.Pain != nil || r.FirstStep != nil || r.Skin || r.SkinOK || r.Wear != nil || len(r.Flags) > 0
}

// Worst is the most urgent tier among the danger words, or "".
func (r Reading) Worst() Urgency {
	var worst Urgency
	for _, f := range r.Flags {
		if f.Tier.Worse(worst) {
			worst = f.Tier
		}
	}
	return worst
}
