package caseload

import (
	"fmt"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/rules"
)

// doseText is what a day's message asks for, in a clinician's words.
func (v View) doseText(e *config.Enrollment, d rules.Decision) string {
	var parts []string
	switch {
	case d.Closing:
		return "the closing text"
	case d.Weekly:
		return "after a long silence one question, no exercises"
	case d.Rest:
		parts = append(parts, "rest day, no exercises")
	case len(d.Doses) == 0:
		parts = append(parts, "no exercises due")
	}
	prog := v.Clinic.Programs[e.Program]
	if !d.Rest {
		for _, due := range d.Doses {
			name := due.Exercise
			if prog != nil && prog.Exercises[due.Exercise] != nil {
				name = prog.Exercises[due.Exercise].Name.In("en")
			}
			parts = append(parts, name+" "+amount(due))
		}
	}
	if d.Eased {
		parts = append(parts, "eased")
	}
	switch {
	case d.WearOut:
		parts = append(parts, "devices out")
	case d.Wear > 0:
		parts = append(parts, "wear "+Hours(int(d.Wear.Minutes())))
	}
	switch d.Ask {
	case rules.AskPain, rules.AskPainNow:
		parts = append(parts, "asked for pain")
	case rules.AskFirstStep:
		parts = append(parts, "asked for first-step pain")
	}
	return strings.Join(parts, "; ")
}

// amount is a dose in the short form clinicians write: sets, repetitions, hold
// and sessions.
func amount(d rules.Due) string {
	text := fmt.Sprintf("%d reps", d.Reps)
	if d.Sets > 1 {
		text = fmt.Sprintf("%d sets of %d", d.Sets, d.Reps)
	}
	if d.Hold > 0 {
		text += fmt.Sprintf(", hold %d s", int(d.Hold/time.Second))
	}
	if d.Sessions > 1 {
		text += fmt.Sprintf(", %d times a day", d.Sessions)
	}
	if d.Form != "" {
		text += ", " + strings.ReplaceAll(d.Form, "-", " ")
		if d.Only != "" {
			text += " on the " + d.Only
		}
	}
	if d.RM > 0 {
		text += fmt.Sprintf(", %d RM", d.RM)
	}
	return text
}

// Hours writes minutes like 3 h 30 min.
func Hours(min int) string {
	switch h, m := min/60, min%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}
