package config

import (
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// opening is a new clinic with every answer given, in a folder that is not
// there yet.
func opening(t *testing.T, program string) *Opening {
	t.Helper()
	o := &Opening{Dir: filepath.Join(t.TempDir(), "clinic"), Today: day(11, 28), Pages: os.DirFS("../templates/starterclinic"), Programs: os.DirFS("../templates/starters")}
	for name, text := range map[string]string{"name": "O'Hara & Sons: Feet #1", "phone": "+1 503 555 0110", "hours": "Mon-Fri 8:30-17:00, Sat by call", "after-hours": "+1 503 555 0111",
		"emergency": "911", "zone": "America/Los_Angeles", "language": "en", "program": program} {
		if err := o.Answer(name, text); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	return o
}

// starterPrograms are the programs that can be started from.
func starterPrograms(t *testing.T) []string {
	t.Helper()
	names := (&Opening{Programs: os.DirFS("../templates/starters")}).Starters()
	if len(names) < 3 {
		t.Fatalf("programs to start from: %v", names)
	}
	return names
}

// TestNewFolder: with each program to start from the folder loads at once,
// with a sample that reaches nobody and no secret.
func TestNewFolder(t *testing.T) {
	for _, program := range starterPrograms(t) {
		o := opening(t, program)
		made, err := o.Make()
		if err != nil || len(made) != 4+len(SchemaKinds()) {
			t.Fatalf("%s: %v, %v", program, made, err)
		}
		c, problems := Load(o.Dir, nil)
		if c == nil {
			t.Errorf("%s: %v", program, problems)
			continue
		}
		if c.Name != "O'Hara & Sons: Feet #1" || c.Emergency != "911" || c.Phone != "+1 503 555 0110" || c.SMS != nil || c.Email != nil {
			t.Errorf("%s: the clinic is %+v", program, c)
		}
		if c.Enrollments.Len() != 1 || c.Enrollments.At(0).Address.Channel != onSpool || !strings.Contains(strings.ToLower(c.Enrollments.At(0).Name), "sample") {
			t.Errorf("%s: %d enrolled, and not the sample on the spool alone", program, c.Enrollments.Len())
		}
		if p := c.Programs[program]; p == nil || p.Approved != nil {
			t.Errorf("%s: the program is %+v", program, p)
		}
		ignored, err := os.ReadFile(filepath.Join(o.Dir, ".gitignore"))
		if err != nil || !strings.Contains(string(ignored), "/data/\n") {
			t.Errorf("%s: .gitignore: %v\n%s", program, err, ignored)
		}
	}
}

var modelineForm = regexp.MustCompile(`^# yaml-language-server: \$schema=(\S+)\n`)

// TestNewFolderForEditors: the first line of each file leads to a schema that
// is one by draft 2020-12 (https://json-schema.org/draft/2020-12/schema, which
// the library holds), accepts the file, and refuses a slip in it.
func TestNewFolderForEditors(t *testing.T) {
	for _, program := range starterPrograms(t) {
		o := opening(t, program)
		made, err := o.Make()
		must(t, err)
		lines := 0
		for _, m := range made {
			text, err := os.ReadFile(filepath.Join(o.Dir, m.Path))
			must(t, err)
			if !strings.HasSuffix(m.Path, ".yaml") {
				continue
			}
			line := modelineForm.FindStringSubmatch(string(text))
			if line == nil {
				t.Errorf("%s begins %.60q", m.Path, text)
				continue
			}
			lines++
			s := compiledFile(t, filepath.Join(o.Dir, path.Dir(m.Path), line[1]))
			if err := s.Validate(asJSON(t, text)); err != nil {
				t.Errorf("%s: %v", m.Path, err)
			}
			if err := s.Validate(asJSON(t, append(text, "\nnmae: x\n"...))); err == nil {
				t.Errorf("%s: a key that does not exist is not flagged", m.Path)
			}
		}
		if lines != 3 {
			t.Errorf("%d files lead to a schema, want 3", lines)
		}
	}
}

// compiledFile compiles a schema, which first is held against its meta-schema.
func compiledFile(t *testing.T, file string) *jsonschema.Schema {
	t.Helper()
	f, err := os.Open(file)
	must(t, err)
	defer f.Close()
	doc, err := jsonschema.UnmarshalJSON(f)
	must(t, err)
	c := jsonschema.NewCompiler()
	meta, err := c.Compile("https://json-schema.org/draft/2020-12/schema")
	must(t, err)
	must(t, meta.Validate(doc))
	must(t, c.AddResource("file:///schema.json", doc))
	s, err := c.Compile("file:///schema.json")
	must(t, err)
	return s
}

// asJSON is a YAML file as a schema sees it.
func asJSON(t *testing.T, text []byte) any {
	t.Helper()
	root, err := document(text)
	must(t, err)
	v, ok := plain(root)
	if !ok {
		t.Fatalf("no JSON says this:\n%s", text)
	}
	return v
}

// TestNewFolderTwice: what is there stays as it is, whatever it is.
func TestNewFolderTwice(t *testing.T) {
	o := opening(t, "heel-pain")
	_, err := o.Make()
	must(t, err)
	mine := map[string]string{"stepgate.yaml": "mine", "enrollments.yaml": "too", "schemas/program.json": "{}"}
	for name, text := range mine {
		must(t, os.WriteFile(filepath.Join(o.Dir, name), []byte(text), 0o600))
	}
	must(t, os.Remove(filepath.Join(o.Dir, ".gitignore")))
	made, err := o.Make()
	must(t, err)
	for _, m := range made {
		if m.Path == "programs/heel-pain.yaml" {
			continue
		}
		text, err := os.ReadFile(filepath.Join(o.Dir, m.Path))
		must(t, err)
		want, touched := mine[m.Path]
		if touched && string(text) != want || m.Kept != (m.Path != ".gitignore") || m.Other != touched {
			t.Errorf("%+v holds %.40q", m, text)
		}
	}
}

// TestNewFolderAround: a folder with a program and enrollments of its own gets
// only what it lacks.
func TestNewFolderAround(t *testing.T) {
	files := base()
	files["enrollments/all.yaml"] = files[enrollmentsFile]
	delete(files, enrollmentsFile)
	o := &Opening{Dir: clinicFolder(t, files), Pages: os.DirFS("../templates/starterclinic"), Programs: os.DirFS("../templates/starters"), Today: day(11, 28)}
	settings, program, enrollments := o.Has()
	if !settings || program != "steady" || !enrollments {
		t.Errorf("has %v, %q, %v", settings, program, enrollments)
	}
	_, err := o.Make()
	must(t, err)
	only(t, o.Dir, ".gitignore", "enrollments", "programs", "schemas", "stepgate.yaml")
	only(t, filepath.Join(o.Dir, "programs"), "steady.yaml")
	if c, problems := Load(o.Dir, nil); c == nil || c.Enrollments.Len() != 2 {
		t.Error(problems)
	}
}

// TestOpeningAnswers: each answer is judged at once.
func TestOpeningAnswers(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"name", "", "an answer is needed"},
		{"name", strings.Repeat("x", 61), "too long"},
		{"phone", "none", "no phone number in it"},
		{"after-hours", "ask", "no phone number in it"},
		{"emergency", "help", "no phone number in it"},
		{"emergency", "call 911 now", "no number that can be dialed as it stands"},
		{"emergency", "9:00-17:00", "no number that can be dialed as it stands"},
		{"hours", "+1 503 555 0110", "is a phone number, or names no day; write the opening hours"},
		{"zone", "Portland", "unknown time zone"},
		{"zone", "Local", "unknown time zone"},
		{"language", "xx", "language can't be"},
		{"program", "heel pian", `did you mean "heel-pain"?`},
		{"program", "../heel-pain", "there is no program"},
		{"shoe", "x", "there is no question"},
	} {
		o := &Opening{Dir: t.TempDir(), Pages: os.DirFS("../templates/starterclinic"), Programs: os.DirFS("../templates/starters"), Today: day(11, 28)}
		if err := o.Answer(c.name, c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %q: %v, want %s", c.name, c.text, err, c.want)
		}
	}
}
