package config

import (
	"errors"
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/nyaruka/phonenumbers"

	"stepgate/rules"
)

// Enrolling adds newcomers to a clinic's files.
type Enrolling struct {
	Clinic *Clinic
	// Taken tells an id that no newcomer may get though the files do not have
	// it: the record knows somebody under it. Nil: there is none.
	Taken func(id string) bool

	region string // country of a number without a country code; ZZ: none
	now    time.Time
	given  map[string]bool // ids proposed so far
}

// NewEnrolling reads a clinic's folder, which must be free of errors.
func NewEnrolling(dir string, now time.Time) (*Enrolling, Problems) {
	c, problems := Load(dir, nil)
	if c == nil {
		return nil, problems.Errors()
	}
	return &Enrolling{Clinic: c, region: regionOf(c), now: now, given: map[string]bool{}}, nil
}

// regionOf is the clinic's country, by its own phone or by a number that its
// texts come from; ZZ if neither has a country code.
func regionOf(c *Clinic) string {
	phones := []string{c.Phone, c.AfterHours}
	if c.SMS != nil {
		for _, n := range c.SMS.Numbers {
			phones = append(phones, n.Number)
		}
	}
	for _, p := range phones {
		if n, err := phonenumbers.Parse(p, "ZZ"); err == nil {
			return phonenumbers.GetRegionCodeForCountryCode(int(n.GetCountryCode()))
		}
	}
	return "ZZ"
}

// Today is the date at the clinic.
func (x *Enrolling) Today() rules.Date { return rules.DateOf(x.now.In(x.Clinic.Zone)) }

// Languages are the codes of the languages that messages ship in.
func Languages() []string { return languages() }

// Programs are the names of the clinic's programs.
func (x *Enrolling) Programs() []string { return slices.Sorted(maps.Keys(x.Clinic.Programs)) }

var proposedID = regexp.MustCompile(`^p-(\d{1,6})$`)

// NextID proposes an id: the number after the highest of the p-NN there are.
func (x *Enrolling) NextID() string {
	highest := 0
	note := func(id string) {
		if m := proposedID.FindStringSubmatch(strings.ToLower(id)); m != nil {
			n, _ := strconv.Atoi(m[1])
			highest = max(highest, n)
		}
	}
	for id := range x.Clinic.Enrollments.IDs() {
		note(id)
	}
	for id := range x.given {
		note(id)
	}
	for n := highest + 1; ; n++ {
		if id := fmt.Sprintf("p-%02d", n); !x.taken(id) {
			x.given[id] = true
			return id
		}
	}
}

func (x *Enrolling) taken(id string) bool { return x.Taken != nil && x.Taken(id) }

// ZonesOf are the time zones a phone number is usually of; none for one that
// says nothing, such as a toll-free or made-up number.
func ZonesOf(number string) []string {
	n, err := phonenumbers.Parse(number, "ZZ")
	if err != nil {
		return nil
	}
	zones, err := phonenumbers.GetTimezonesForNumber(n)
	if err != nil || len(zones) == 1 && zones[0] == phonenumbers.UNKNOWN_TIMEZONE {
		return nil
	}
	return zones
}

// Read turns what people write under a column into what the file has.
func (x *Enrolling) Read(column, text string) (string, error) {
	c := columnOf(column)
	if c == nil {
		return "", fmt.Errorf("there is no column %s; %s", quoted(column), suggest(column, columnNames()))
	}
	text = strings.TrimSpace(text)
	if c.read == nil || text == "" {
		return text, nil
	}
	return c.read(x, text)
}

func columnNames() []string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return names
}

// Answer reads one answer of a newcomer into n and says in a sentence what is
// wrong with it, as far as it can be told from what n holds already.
func (x *Enrolling) Answer(n Newcomer, column, text string) error {
	value, err := x.Read(column, text)
	if err != nil {
		return err
	}
	try := maps.Clone(n)
	try[column] = value
	for _, p := range x.check([]Newcomer{try}, !slices.Contains([]string{"id", "sender", onSpool, onSMS, onEmail}, column)) {
		if p.Column == column && !p.Warning {
			return errors.New(p.What + "; " + p.Do)
		}
	}
	n[column] = value
	return nil
}

// Drop takes out what the clinic's own settings say already.
func (x *Enrolling) Drop(n Newcomer) {
	if n["zone"] == x.Clinic.Zone.String() {
		delete(n, "zone")
	}
	if n["language"] == x.Clinic.Language {
		delete(n, "language")
	}
	if n["start"] == n["dispensed"] {
		delete(n, "start")
	}
}

// File picks the file that newcomers go into: the only one there is, or the
// one that is named. A name that is not there is one of a new file in the folder
// of enrollments.
func (x *Enrolling) File(name string) (string, error) {
	var there []string
	for _, f := range x.Clinic.Files {
		if f.Path == enrollmentsFile || strings.HasPrefix(f.Path, enrollmentFolder+"/") {
			there = append(there, f.Path)
		}
	}
	if name == "" {
		if len(there) == 1 {
			return there[0], nil
		}
		return "", fmt.Errorf("there are %d files of enrollments; say with --file which one: %s, or a new one like %s/NAME.yaml", len(there), oneOf(first(there, 5)), enrollmentFolder)
	}
	if !strings.HasSuffix(name, ".yaml") {
		name += ".yaml"
	}
	name = path.Clean(name)
	for _, p := range []string{name, path.Join(enrollmentFolder, name)} {
		if slices.Contains(there, p) {
			return p, nil
		}
	}
	if path.Dir(name) == "." {
		name = path.Join(enrollmentFolder, name)
	}
	if path.Dir(name) != enrollmentFolder || !wanted(name) {
		return "", fmt.Errorf("%s can't be a file of enrollments; name one like %s/NAME.yaml", quoted(name), enrollmentFolder)
	}
	return name, nil
}

func first(list []string, n int) []string { return list[:min(n, len(list))] }

// Patient finds an enrollment by its id. The error proposes the id that was
// likely meant.
func (c *Clinic) Patient(id string) (*Enrollment, error) {
	if e := c.Enrollments.Get(id); e != nil {
		return e, nil
	}
	return nil, fmt.Errorf("%w: %s; %s", ErrNoEnrollment, quoted(id), suggest(id, slices.Collect(c.Enrollments.IDs())))
}
