package config

import (
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// enrollingIn is a clinic ready for newcomers, on 2026-11-28 at noon UTC.
func enrollingIn(t *testing.T, files map[string]string) *Enrolling {
	t.Helper()
	x, problems := NewEnrolling(clinicFolder(t, files), time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC))
	if x == nil {
		t.Fatal(problems)
	}
	return x
}

// rosa is a newcomer with all that is needed.
func rosa() Newcomer {
	return Newcomer{"id": "rosa-1", "name": "Rosa", "program": "steady", "dispensed": "2026-11-28", "affected": "left",
		"consent on": "2026-11-28", "consent how": "signed the form, seen", "consent by": "J. Marlowe DPM", "spool": "rosa", "time": "09:00"}
}

const rosaLines = `id: rosa-1
name: Rosa
program: steady
dispensed: 2026-11-28
affected: left
consent: {on: 2026-11-28, how: "signed the form, seen", by: J. Marlowe DPM}
spool: rosa
time: "09:00"
`

// below is a newcomer's lines as an item of a list.
func below(indent, gap string) string {
	lines := strings.SplitAfter(strings.TrimSuffix(rosaLines, "\n"), "\n")
	return indent + "-" + gap + strings.Join(lines, indent+" "+strings.Repeat(" ", len(gap))) + "\n"
}

const inLine = `{id: rosa-1, name: Rosa, program: steady, dispensed: 2026-11-28, affected: left, consent: {on: 2026-11-28, how: "signed the form, seen", by: J. Marlowe DPM}, spool: rosa, time: "09:00"}`

// TestEnrollPlaces: where a newcomer goes, by how the file is written.
func TestEnrollPlaces(t *testing.T) {
	for name, c := range map[string]struct{ before, after string }{
		"below the others":        {"# ours\nenrollments:\n" + adaKeys, "# ours\nenrollments:\n" + adaKeys + below("  ", " ")},
		"not indented":            {"enrollments:\n" + dedent(adaKeys), "enrollments:\n" + dedent(adaKeys) + below("", " ")},
		"a wide gap":              {"enrollments:\n" + strings.ReplaceAll(strings.Replace(adaKeys, "  - ", "  -   ", 1), "    ", "      "), "enrollments:\n" + strings.ReplaceAll(strings.Replace(adaKeys, "  - ", "  -   ", 1), "    ", "      ") + below("  ", "   ")},
		"an empty line apart":     {"enrollments:\n" + adaKeys + "\n" + benKeys + "# the end\n", "enrollments:\n" + adaKeys + "\n" + benKeys + "\n" + below("  ", " ") + "# the end\n"},
		"after entries":           {"enrollments:\n" + adaKeys + "    entries:\n      - {hold: 2026-10-20, by: J}\n      # by phone\n", "enrollments:\n" + adaKeys + "    entries:\n      - {hold: 2026-10-20, by: J}\n      # by phone\n" + below("  ", " ")},
		"no line end":             {"enrollments:\n" + strings.TrimSuffix(adaKeys, "\n"), "enrollments:\n" + adaKeys + strings.TrimSuffix(below("  ", " "), "\n")},
		"none yet":                {"enrollments: []\n", "enrollments:\n" + below("  ", " ")},
		"none yet, and why":       {"enrollments: [ ] # none\n# yet\n", "enrollments: # none\n" + below("  ", " ") + "# yet\n"},
		"nothing after the colon": {"enrollments:\n  # yet\n", "enrollments:\n  # yet\n" + below("  ", " ")},
		"a comment in brackets":   {"enrollments: [ # nobody yet\n]\n", "enrollments: [" + inLine + " # nobody yet\n]\n"},
		"comments all around":     {"enrollments: # ours\n  [\n  # p-01 was Ana ]\n  ] # end\n", "enrollments: # ours\n  [" + inLine + "\n  # p-01 was Ana ]\n  ] # end\n"},
		"a comment before null":   {"enrollments: # ours\n  ~\n", "enrollments: # ours\n   [" + inLine + "]\n"},
		"null":                    {"enrollments: ~\n", "enrollments:\n" + below("  ", " ")},
		"in braces, none yet":     {"{enrollments: []}\n", "{enrollments: [" + inLine + "]}\n"},
		"in brackets":             {"enrollments: [{" + inBraces + "}]\n", "enrollments: [{" + inBraces + "}, " + inLine + "]\n"},
		"the document's end":      {"enrollments:\n" + adaKeys + "...\n", "enrollments:\n" + adaKeys + below("  ", " ") + "...\n"},
	} {
		for style, from := range map[string][2]string{
			"as it is": {c.before, c.after},
			"CRLF":     {strings.ReplaceAll(c.before, "\n", "\r\n"), strings.ReplaceAll(c.after, "\n", "\r\n")},
			"a mark":   {"\ufeff" + c.before, "\ufeff" + c.after},
		} {
			files := base()
			files[enrollmentsFile] = from[0]
			x := enrollingIn(t, files)
			if problems := x.Check([]Newcomer{rosa()}); len(problems) > 0 {
				t.Errorf("%s, %s: %+v", name, style, problems)
			}
			e, err := x.Edit([]Newcomer{rosa()}, enrollmentsFile)
			if err != nil {
				t.Errorf("%s, %s: %v", name, style, err)
				continue
			}
			if string(e.After) != from[1] {
				t.Errorf("%s, %s:\n%q\nwant\n%q", name, style, e.After, from[1])
			}
			if line := strings.Split(string(e.After), "\n")[e.Line-1]; !strings.Contains(line, "id: rosa-1") {
				t.Errorf("%s, %s: line %d is %q", name, style, e.Line, line)
			}
			must(t, e.Write())
			if c, problems := Load(x.Clinic.Dir, nil); c == nil || c.Enrollments.Get("rosa-1") == nil || c.Enrollments.Get("rosa-1").Name != "Rosa" {
				t.Errorf("%s, %s: %v", name, style, problems)
			}
		}
	}
}

func dedent(text string) string {
	return strings.ReplaceAll(strings.TrimPrefix(text, "  "), "\n  ", "\n")
}

// TestEnrollFiles: which file a newcomer goes into, and a new one.
func TestEnrollFiles(t *testing.T) {
	files := base()
	one := files[enrollmentsFile]
	x := enrollingIn(t, files)
	for name, want := range map[string]string{"": enrollmentsFile, "enrollments": enrollmentsFile, "enrollments.yaml": enrollmentsFile, "tue": "enrollments/tue.yaml"} {
		if got, err := x.File(name); got != want || err != nil {
			t.Errorf("%q: %s, %v; want %s", name, got, err, want)
		}
	}
	for _, name := range []string{"../x", "programs/x.yaml", "/etc/passwd", "enrollments/.x.yaml", "a/b/c"} {
		if got, err := x.File(name); err == nil {
			t.Errorf("%q is taken for %s", name, got)
		}
	}
	delete(files, enrollmentsFile)
	files["enrollments/mon.yaml"] = one
	files["enrollments/tue.yaml"] = "enrollments: []\n"
	files["schemas/enrollments.json"] = "{}"
	x = enrollingIn(t, files)
	if _, err := x.File(""); err == nil || !strings.Contains(err.Error(), "--file") || !strings.Contains(err.Error(), "enrollments/mon.yaml") {
		t.Errorf("with two files: %v", err)
	}
	e, err := x.Edit([]Newcomer{rosa()}, "enrollments/wed.yaml")
	must(t, err)
	want := "# yaml-language-server: $schema=../schemas/enrollments.json\n\nenrollments:\n" + below("  ", " ")
	if !e.New || string(e.After) != want || e.Line != 4 {
		t.Errorf("a new file, line %d:\n%s", e.Line, e.After)
	}
	must(t, e.Write())
	if got, err := os.ReadFile(filepath.Join(x.Clinic.Dir, "enrollments/wed.yaml")); err != nil || string(got) != want {
		t.Errorf("%v\n%s", err, got)
	}
	if err := e.Write(); !errors.Is(err, ErrChanged) {
		t.Errorf("written over another: %v", err)
	}
	only(t, filepath.Join(x.Clinic.Dir, "enrollments"), "mon.yaml", "tue.yaml", "wed.yaml")
}

// TestAnswers: each answer is judged at once, in a sentence.
func TestAnswers(t *testing.T) {
	files := base()
	files["programs/bare.yaml"] = "program: bare\ntitle: Wear\nwear: {first: 1h, add: 1h, every: 1 day, full: 8h}\n"
	x := enrollingIn(t, files)
	taken := x.Clinic.Enrollments.At(0)
	x.Taken = func(id string) bool { return id == "gone-1" }
	x.region = "ZZ"
	for _, c := range []struct{ column, text, want, problem string }{
		{"program", "stedy", "", `nobody wrote a program "stedy"; did you mean "steady"?`},
		{"program", "steady", "steady", ""},
		{"id", strings.ToUpper(taken.ID), "", "differs only in capitals"},
		{"id", taken.ID, "", "is taken by the enrollment at " + taken.At.String()},
		{"id", "a b", "", "letters in it that can't be used"},
		{"id", "gone-1", "", "the record knows somebody"},
		{"sms", "212 555 0123", "", "begin it with +"},
		{"sms", taken.Address.To, "", "is already that of the open enrollment " + `"ada-1" at ` + taken.At.String()},
		{"sms", "+1 212 555 0100", "", "this is a number that the clinic's texts come from"},
		{"spool", "ben", "", "is already that of the open enrollment"},
		{"email", "clinician@example.com", "", "this is the contact that alerts go to"},
		{"email", "Rosa <rosa@example.com>", "", "no plain mail address"},
		{"time", "6 am", "", "outside the texting hours"},
		{"time", "9 am", "09:00", ""},
		{"zone", "Chicago", "", "unknown time zone"},
		{"zone", "America/Denver", "America/Denver", ""},
		{"sms", "+1 (503) 555.0120", "+1 503-555-0120", ""},
		{"affected", "L", "left", ""},
		{"affected", "upper", "", "left, right or both"},
		{"cautions", "Diabetes and balance", "diabetes, balance", ""},
		{"cautions", "diabetis", "", `did you mean "diabetes"?`},
		{"cautions", "none", "", ""},
		{"usual pain", "11", "", "out of range"},
		{"dispensed", "2026-13-01", "", "there is no such date"},
		{"language", "English", "en", ""},
		{"consent how", "no", "", "does not say that the patient agreed; ask the patient"},
		{"consent how", "No paper, said yes", "", "does not say that the patient agreed"},
		{"consent how", "Todavía no", "", "does not say that the patient agreed"},
		{"consent how", "nobody else there, by word", "nobody else there, by word", ""},
		{"consent covers", "no", "", ""},
		{"consent covers", "Export", "export", ""},
		{"nothing", "x", "", "there is no column"},
	} {
		n := Newcomer{}
		err := x.Answer(n, c.column, c.text)
		switch {
		case c.problem == "" && (err != nil || n[c.column] != c.want):
			t.Errorf("%s %q: %q, %v; want %q", c.column, c.text, n[c.column], err, c.want)
		case c.problem != "" && (err == nil || !strings.Contains(err.Error(), c.problem)):
			t.Errorf("%s %q: %v; want %s", c.column, c.text, err, c.problem)
		case err != nil && (strings.Contains(err.Error(), newFile) || n[c.column] != ""):
			t.Errorf("%s %q: %v, and %v is kept", c.column, c.text, err, n)
		}
	}
	n := rosa()
	n["program"], n["sms"], n["spool"] = "bare", "+15035550120", ""
	if ps := x.Check([]Newcomer{n}); !slices.ContainsFunc(ps, func(p RowProblem) bool { return p.Column == "program" && strings.Contains(p.What, "is not approved") }) {
		t.Errorf("not approved, by text: %+v", ps)
	}
	delete(n, "name")
	delete(n, "sms")
	var missing []string
	for _, p := range x.Check([]Newcomer{n}) {
		missing = append(missing, p.What)
	}
	if want := []string{"name is missing", "one of spool, sms or email is missing"}; !slices.Equal(missing, want) {
		t.Errorf("missing: %q", missing)
	}
}

// TestAsWritten: dates, times and numbers as people write them.
func TestAsWritten(t *testing.T) {
	files := base()
	x := enrollingIn(t, files)
	if x.region != "US" { // by the number its texts come from; its own phone has no country code
		t.Errorf("the clinic's country is %s", x.region)
	}
	for _, c := range []struct{ column, text, want string }{
		{"dispensed", "2026-10-05", "2026-10-05"},
		{"dispensed", "2026-1-5", "2026-01-05"},
		{"dispensed", "2026/10/05", "2026-10-05"},
		{"dispensed", "10/25/2026", "2026-10-25"},
		{"dispensed", "25.10.2026", "2026-10-25"},
		{"dispensed", "5/5/2026", "2026-05-05"},
		{"dispensed", "5 Oct 2026", "2026-10-05"},
		{"dispensed", "October 5, 2026", "2026-10-05"},
		{"dispensed", "5-Oct-2026", "2026-10-05"},
		{"dispensed", "2026-10-05 00:00:00", "2026-10-05"},
		{"dispensed", "today", "2026-11-28"},
		{"dispensed", "10/5/2026", "!it can be 2026-10-05 or 2026-05-10"},
		{"dispensed", "10/25/26", "!no four digits"},
		{"dispensed", "2/30/2026", "!no such date"},
		{"dispensed", "31/31/2026", "!no such date"},
		{"dispensed", "46000", "!spreadsheet's number"},
		{"dispensed", "soon", "!no date that can be read"},
		{"time", "9:00", "09:00"}, {"time", "9am", "09:00"}, {"time", "6:30 PM", "18:30"}, {"time", "12:15 a.m.", "00:15"},
		{"time", "12 pm", "12:00"}, {"time", "18.30", "18:30"}, {"time", "9:00:00", "09:00"}, {"time", "9:00:00 AM", "09:00"},
		{"time", "9", "!no time of day"}, {"time", "25:00", "!no time of day"}, {"time", "13 pm", "!no time of day"}, {"time", "morning", "!no time of day"},
		{"sms", "503 555 0120", "+1 503-555-0120"}, {"sms", "(503) 555-0120", "+1 503-555-0120"}, {"sms", "1-503-555-0120", "+1 503-555-0120"},
		{"sms", "+1.503.555.0120", "+1 503-555-0120"}, {"sms", "+44 7700 900123", "+44 7700 900123"}, {"sms", "011 44 7700 900123", "+44 7700 900123"},
		{"sms", "555-0120", "!too few or too many digits"}, {"sms", "503 555 01200", "!too few or too many digits"},
		{"sms", "503 555 0120 x12", "!without letters or an extension"}, {"sms", "1-800-FLOWERS", "!without letters"}, {"sms", "5.03556E+09", "!shortened"},
		{"review visits", "5 Oct 2026; 2026-11-01", "2026-10-05, 2026-11-01"},
	} {
		got, err := x.Read(c.column, c.text)
		if problem, bad := strings.CutPrefix(c.want, "!"); bad != (err != nil) || bad && !strings.Contains(err.Error(), problem) || !bad && got != c.want {
			t.Errorf("%s %q: %q, %v; want %s", c.column, c.text, got, err, c.want)
		}
	}
	x.region = "ZZ"
	if _, err := x.Read("sms", "503 555 0120"); err == nil || !strings.Contains(err.Error(), "begin it with +") {
		t.Errorf("without a country to go by: %v", err)
	}
	if _, err := x.Read("sms", "+1 503 555 0120"); err != nil {
		t.Error(err)
	}
}

// TestNextID: the number after the highest, past what the record knows.
func TestNextID(t *testing.T) {
	x := enrollingIn(t, base())
	x.Clinic.Enrollments = NewRoll([]*Enrollment{{Enrollment: rules.Enrollment{ID: "p-07"}}, {Enrollment: rules.Enrollment{ID: "p-3"}}, {Enrollment: rules.Enrollment{ID: "rosa-99"}}})
	x.Taken = func(id string) bool { return id == "p-08" }
	if a, b := x.NextID(), x.NextID(); a != "p-09" || b != "p-10" {
		t.Errorf("%s, then %s", a, b)
	}
}

// TestEveryColumn: a newcomer with every column loads as it says.
func TestEveryColumn(t *testing.T) {
	x := enrollingIn(t, base())
	n := rosa()
	maps.Copy(n, Newcomer{"proxy name": "Ines", "proxy relation": "daughter: elder", "start": "2026-12-01", "starting day": "3", "cautions": "diabetes, balance",
		"usual pain": "2", "usual first step": "3", "zone": "America/Denver", "language": "en", "consent covers": "export", "review visits": "2026-12-10, 2027-01-10"})
	if ps := x.Check([]Newcomer{n}); len(ps) > 0 {
		t.Fatalf("%+v", ps)
	}
	e, err := x.Edit([]Newcomer{n}, enrollmentsFile)
	must(t, err)
	must(t, e.Write())
	c, problems := Load(x.Clinic.Dir, nil)
	if c == nil {
		t.Fatal(problems)
	}
	got, err := c.Patient("rosa-1")
	must(t, err)
	if got.Proxy == nil || got.Proxy.Relation != "daughter: elder" || got.Start != day(12, 1) || got.FromDay != 3 || !got.Cautions.Balance || !got.Cautions.FragileSkin ||
		*got.Usual != 2 || *got.UsualStep != 3 || got.Zone.String() != "America/Denver" || len(got.Visits) != 2 || got.Consent.How != n["consent how"] || !got.Consent.Export || got.Consent.Texts {
		t.Errorf("%+v\n%s", got, e.After)
	}
}
