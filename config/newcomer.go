package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Newcomer is a patient to be enrolled: values as an enrollment's file has
// them, by the name of their column. What is left out is not said.
type Newcomer map[string]string

// Column is one thing that can be said of a newcomer: the column of a
// spreadsheet, or the answer to a question.
type Column struct {
	Name string // also of the flag, with - for a blank
	Help string

	keys []string // where it stands in an enrollment
	also []string // other names that a spreadsheet may give it
	read reader   // from as people write it; nil: as it is
	form form     // in the file
	need bool     // asked for in every row of a spreadsheet
}

// form is how a value is written in the file.
type form int

const (
	plainText form = iota // in quotes only where YAML needs them
	inQuotes              // always: +1 and 09:00 are something else to some readers
	unquoted              // never: dates and numbers
	listed                // a list
)

// columns are in the order of the keys of an enrollment.
var columns = []Column{
	{Name: "id", Help: "id for the records (proposed: the next p-NN)", keys: []string{"id"}},
	{Name: "name", Help: "first name to greet by", keys: []string{"name"}, also: []string{"first name"}, need: true},
	{Name: "proxy name", Help: "first name of a parent or carer who gets the texts", keys: []string{"proxy", "name"}},
	{Name: "proxy relation", Help: "what they are to the patient, such as mother", keys: []string{"proxy", "relation"}},
	{Name: "program", Help: "name of a program", keys: []string{"program"}, need: true},
	{Name: "dispensed", Help: "date the devices were handed over", keys: []string{"dispensed"}, also: []string{"dispense date", "dispensed on"},
		read: (*Enrolling).date, form: unquoted, need: true},
	{Name: "start", Help: "date the exercises begin, if another", keys: []string{"start"}, read: (*Enrolling).date, form: unquoted},
	{Name: "starting day", Help: "program day to begin on, if not 1", keys: []string{"starting day"}, form: unquoted},
	{Name: "affected", Help: "affected side: left, right or both", keys: []string{"affected"}, also: []string{"side", "affected side"}, read: (*Enrolling).side},
	{Name: "cautions", Help: "what asks for care: " + strings.Join(cautionWords, ", "), keys: []string{"cautions"}, also: []string{"caution"},
		read: (*Enrolling).several, form: listed},
	{Name: "usual pain", Help: "usual daily pain, 0 to 10", keys: []string{"usual", "pain"}, form: unquoted},
	{Name: "usual first step", Help: "usual pain at the first steps, 0 to 10", keys: []string{"usual", "first step"}, form: unquoted},
	{Name: "consent on", Help: "date the patient agreed to get messages", keys: []string{"consent", "on"}, also: []string{"consent date", "consent"},
		read: (*Enrolling).date, form: unquoted, need: true},
	{Name: "consent how", Help: "how consent was given, such as in writing", keys: []string{"consent", "how"}, need: true},
	{Name: "consent by", Help: "who took the consent", keys: []string{"consent", "by"}, also: []string{"consent taken by"}, need: true},
	{Name: "consent covers", Help: "what the consent covers beside the messages: " + strings.Join(consentWords, ", "), keys: []string{"consent", "covers"}, also: []string{"covers"},
		read: (*Enrolling).several, form: listed},
	{Name: "spool", Help: "a name on the spool, for trying things out", keys: []string{"spool"}},
	{Name: "sms", Help: "mobile number, in any usual writing", keys: []string{"sms"}, also: []string{"mobile", "mobile number", "cell", "cell phone", "phone"},
		read: (*Enrolling).number, form: inQuotes},
	{Name: "email", Help: "mail address; beside sms: where messages go once texts do not arrive", keys: []string{"email"}, also: []string{"e-mail", "mail"}},
	{Name: "sender", Help: "number of the clinic's that the texts come from", keys: []string{"sender"}, read: (*Enrolling).number, form: inQuotes},
	{Name: "language", Help: "language, if not the clinic's", keys: []string{"language"}, read: (*Enrolling).tongue},
	{Name: "zone", Help: "time zone, if not the clinic's, such as America/Denver", keys: []string{"zone"}, also: []string{"time zone", "timezone"}},
	{Name: "time", Help: "when the daily message is due (proposed: 09:00)", keys: []string{"time"}, also: []string{"message time"},
		read: (*Enrolling).clockTime, form: inQuotes, need: true},
	{Name: "review visits", Help: "dates of review visits", keys: []string{"review visits"}, also: []string{"review visit", "visits"},
		read: (*Enrolling).dates, form: listed},
}

// contactColumns are the columns of which a newcomer needs one.
var contactColumns = []string{onSpool, onSMS, onEmail}

// Columns are all that can be said of a newcomer, in the order of the file.
func Columns() []Column { return slices.Clone(columns) }

// columnOf finds a column by its name, or by one that a spreadsheet may give.
func columnOf(name string) *Column {
	name = strings.Join(strings.Fields(strings.ToLower(strings.NewReplacer("_", " ").Replace(name))), " ")
	for i, c := range columns {
		if c.Name == name || strings.ReplaceAll(c.Name, " ", "-") == name || slices.Contains(c.also, name) {
			return &columns[i]
		}
	}
	return nil
}

// value is a column's value as YAML, fit to stand inside {...} too.
func (c *Column) value(text string) string {
	switch c.form {
	case inQuotes:
		return doubleQuoted(text)
	case unquoted:
		if scalar, err := document([]byte(text)); err == nil && scalar.Kind == yaml.ScalarNode && !strings.ContainsAny(text, ",#[]{}:\"'") {
			return text
		}
	case listed:
		items := splitList(text)
		for i := range items {
			if items[i] = flowScalar(items[i]); c.Name == "review visits" {
				items[i] = strings.Trim(items[i], `"`)
			}
		}
		return "[" + strings.Join(items, ", ") + "]"
	}
	return lineScalar(text)
}

// lineScalar writes a text so that it reads the same inside {...} and as the
// rest of a line.
func lineScalar(text string) string {
	out := flowScalar(text)
	root, err := document([]byte("a: " + out + "\nb: c\n"))
	if err != nil || root.Kind != yaml.MappingNode || len(root.Content) != 4 || root.Content[1].Value != text || root.Content[3].Value != "c" {
		return doubleQuoted(text)
	}
	return out
}

// splitList is a text of several things with commas, semicolons or "and".
func splitList(text string) []string {
	parts := strings.FieldsFunc(strings.ReplaceAll(text, " and ", ","), func(r rune) bool { return r == ',' || r == ';' })
	var out []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

// pairOf is a key with its value; nested ones stand in braces.
type pairOf struct {
	column *Column // the first of the nested ones
	key    string
	text   string
	inner  []pairOf
}

// pairs are the keys of a newcomer in the order of the file.
func (n Newcomer) pairs() []pairOf {
	var out []pairOf
	for i := range columns {
		c := &columns[i]
		if n[c.Name] == "" {
			continue
		}
		p := pairOf{c, c.keys[0], c.value(n[c.Name]), nil}
		if len(c.keys) == 1 {
			out = append(out, p)
			continue
		}
		if len(out) == 0 || out[len(out)-1].key != c.keys[0] {
			out = append(out, p)
		}
		last := &out[len(out)-1]
		last.inner = append(last.inner, pairOf{c, c.keys[1], p.text, nil})
	}
	return out
}

// braces writes pairs as {key: value, ...}.
func braces(list []pairOf) string {
	parts := make([]string, len(list))
	for i, p := range list {
		parts[i] = p.key + ": " + cmp.Or(bracesOf(p), p.text)
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

func bracesOf(p pairOf) string {
	if len(p.inner) == 0 {
		return ""
	}
	return braces(p.inner)
}

// Lines writes a newcomer as the lines of an enrollment, without the dash and
// the indentation that a list needs.
func (n Newcomer) Lines() []string {
	var lines []string
	for _, p := range n.pairs() {
		lines = append(lines, p.key+": "+cmp.Or(bracesOf(p), p.text))
	}
	return lines
}

// missing are the columns that a newcomer lacks.
func (n Newcomer) missing() []string {
	var out []string
	for _, c := range columns {
		if c.need && n[c.Name] == "" {
			out = append(out, c.Name)
		}
	}
	if !slices.ContainsFunc(contactColumns, func(name string) bool { return n[name] != "" }) {
		out = append(out, fmt.Sprintf("one of %s", oneOf(contactColumns)))
	}
	return out
}
