package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"stepgate/config"
	"stepgate/templates"
)

// Handout says whose handout is wanted.
type Handout struct {
	Program  string
	Patient  string // id of an enrollment, whose side, tailoring and pain lines it then has; empty: nobody's own
	Language string // empty: the patient's, or the clinic's
}

// HandoutError says that what was asked for is not in the clinic's files.
type HandoutError struct{ What string }

func (e HandoutError) Error() string { return e.What }

// HandoutPage is a program as one page of HTML for a patient to take home.
func HandoutPage(c *config.Clinic, words *templates.Set, o Handout) (string, error) {
	p := c.Programs[o.Program]
	if p == nil {
		known := slices.Sorted(maps.Keys(c.Programs))
		return "", HandoutError{fmt.Sprintf("there is no program %q; there are: %s", o.Program, strings.Join(known, ", "))}
	}
	h := templates.Handout{Program: p, Language: c.Language,
		Clinic: templates.Clinic{Name: c.Name, Phone: c.Phone, Hours: c.Hours, AfterHours: c.AfterHours, Emergency: c.Emergency}}
	if o.Patient != "" {
		e, err := handoutPatient(c, o)
		if err != nil {
			return "", err
		}
		h.Enrollment, h.Name, h.Language = &e.Enrollment, e.Name, e.Language
	}
	if o.Language != "" {
		h.Language = o.Language
	}
	if langs := words.Languages(); !slices.Contains(langs, h.Language) {
		return "", HandoutError{fmt.Sprintf("there are no words in %q; there are: %s", h.Language, strings.Join(langs, ", "))}
	}
	var err error
	if h.Vocabulary, err = templates.Vocabulary(h.Language); err != nil {
		return "", err
	}
	return words.Handout(h)
}

// handoutPatient finds the enrollment, which has to be on the program.
func handoutPatient(c *config.Clinic, o Handout) (*config.Enrollment, error) {
	e := c.Enrollments.Get(o.Patient)
	if e == nil {
		return nil, HandoutError{fmt.Sprintf("nobody is enrolled as %q", o.Patient)}
	}
	if e.Program != o.Program {
		return nil, HandoutError{fmt.Sprintf("%s is on the program %s, not on %s", e.ID, e.Program, o.Program)}
	}
	return e, nil
}
