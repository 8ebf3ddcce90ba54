package config

import (
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestDemoClinic keeps the folder that people try the tool with good.
func TestDemoClinic(t *testing.T) {
	c, problems := Load("../testdata/clinic", func(string) string { return "" })
	if c == nil || len(problems) > 0 {
		t.Fatalf("testdata/clinic has problems:\n%v", problems)
	}
	p := c.Programs["settling-in"]
	if c.Enrollments.Len() != 2 || p == nil || p.Approved == nil || len(p.Blocks) != 3 || p.Wear == nil || c.SMS != nil || c.Email != nil {
		t.Errorf("the demo clinic is not what it should be: %d enrollments, program %+v", c.Enrollments.Len(), p)
	}
}

// TestBadFolders loads each folder under testdata/bad and holds its problems
// against the folder's want.txt.
func TestBadFolders(t *testing.T) {
	folders, err := filepath.Glob("../testdata/bad/*")
	if err != nil || len(folders) < 8 {
		t.Fatalf("testdata/bad holds %d folders, want 8 or more (%v)", len(folders), err)
	}
	for _, dir := range folders {
		t.Run(filepath.Base(dir), func(t *testing.T) {
			c, problems := Load(dir, env)
			got := problems.Error() + "\n"
			golden := filepath.Join(dir, "want.txt")
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("problems:\n%s\nwant:\n%s", got, want)
			}
			if c != nil {
				t.Error("a bad folder gave a clinic")
			}
		})
	}
}

// TestManyProblems finds mistakes in all three files in one run.
func TestManyProblems(t *testing.T) {
	files := base()
	files[settingsFile] = edit(t, files[settingsFile], "  emergency: 911\n", "")
	files[settingsFile] = edit(t, files[settingsFile], "grace: 10m", "grace: soon")
	files[steadyFile] = edit(t, files[steadyFile], "hold: 10s", "hold: 10 hours")
	files[steadyFile] = edit(t, files[steadyFile], "pause: 9", "pause: 3")
	files[enrollmentsFile] = edit(t, files[enrollmentsFile], "start: 2026-10-12", "start: 2026-13-12")
	files["enrollments/more.yaml"] = "enrollments: {\n"
	files["programs/other.yaml"] = "program: other\n"
	_, problems := LoadFiles("/clinic", filesOf(files), env)
	for _, want := range []string{
		"stepgate.yaml:1:1: emergency is missing", "stepgate.yaml:8:8: grace can't", "steady.yaml:18:33: hold is out",
		"steady.yaml:23:49: the pain lines", "enrollments.yaml:13:12: start is no date", "enrollments/more.yaml:",
		"other.yaml:1:1: title is missing", "other.yaml:1:1: the program asks for nothing",
	} {
		if !strings.Contains(problems.Error(), want) {
			t.Errorf("no problem says %q", want)
		}
	}
	if t.Failed() {
		t.Logf("problems:\n%v", problems)
	}
}

// TestRoundTrip: the files of a clinic make the same clinic again.
func TestRoundTrip(t *testing.T) {
	first, problems := Load("../testdata/clinic", env)
	if first == nil {
		t.Fatal(problems)
	}
	again, problems := LoadFiles("../testdata/clinic", first.Files, env)
	if len(problems) > 0 || !reflect.DeepEqual(first, again) {
		t.Errorf("the clinic read again differs (%v):\n%+v\n%+v", problems, first, again)
	}
}

// TestClinicValues: what a file says, and what the defaults say, comes out.
func TestClinicValues(t *testing.T) {
	c := mustLoad(t, base())
	if c.Name != "Harbor Foot Clinic" || c.Phone != "212-555-0142" || c.Hours != "Mon-Fri 8:30-17:00" ||
		c.AfterHours != "212-555-0199" || c.Emergency != "911" || c.Zone.String() != "America/New_York" || c.Language != "en" {
		t.Errorf("clinic: %+v", *c)
	}
	if c.Texting != (Hours{8 * 60, 20 * 60}) || c.Grace != 10*time.Minute || c.Dir != "/clinic" ||
		c.Data != "/clinic/data" || c.Spool.Dir != "/clinic/data/spool" || c.Alerts != (Address{"email", "clinician@example.com"}) {
		t.Errorf("settings: %+v", *c)
	}
	s := c.SMS
	if s.Account != "ACdemo0001" || s.Token.Reveal() != smsCanary || len(s.Numbers) != 1 || s.Numbers[0].Number != "+12125550100" || s.API != "" ||
		s.Listen != "127.0.0.1:8090" || s.Public != "https://clinic.example.com/sms" || s.At.Line != 13 {
		t.Errorf("sms: %+v", *s)
	}
	m := c.Email
	if m.Host != "mail.example.com" || m.Port != 465 || m.From != "clinic@example.com" || m.User != "clinic" ||
		m.Password.Reveal() != mailCanary || m.TLS != "tls" || m.At.Line != 19 {
		t.Errorf("email: %+v", *m)
	}

	files := base()
	files[settingsFile] = baseSettings[:strings.Index(baseSettings, "texting")] + "alerts: {spool: clinician}\ndata: /srv/steps\n"
	files[enrollmentsFile] = "enrollments: []\n"
	c = mustLoad(t, files)
	if c.Texting != (Hours{8 * 60, 21 * 60}) || c.Grace != 10*time.Minute || c.Data != "/srv/steps" || c.Spool.Dir != "/srv/steps/spool" {
		t.Errorf("defaults: %+v", *c)
	}
}

// TestEnrollmentValues: contacts are normalized, and what is left out comes
// from the clinic.
func TestEnrollmentValues(t *testing.T) {
	files := base()
	files[enrollmentsFile] = edit(t, baseEnrollments, `"+12125550123"`, "+44 7700 900123") // Ofcom's range for drama
	c := mustLoad(t, files)
	ada, ben := c.Enrollments.At(0), c.Enrollments.At(1)
	if ada.Address != (Address{"sms", "+447700900123"}) || ada.Affected != "both" || ada.Start != ada.Dispensed ||
		ada.Zone != c.Zone || ada.Language != "en" || ada.Time != 9*60 || !ada.Enrollment.Consent {
		t.Errorf("ada: %+v", *ada)
	}
	d := func(day int) rules.Date { return rules.NewDate(2026, 10, day) }
	if ben.Address != (Address{"spool", "ben"}) || ben.Affected != "left" || ben.Start != d(12) || ben.Dispensed != d(5) ||
		ben.Zone.String() != "America/Chicago" || ben.Time.String() != "18:30" || ben.At.Line != 9 ||
		ben.Consent != (Consent{On: d(5), How: "in writing", By: "J. Marlowe DPM"}) {
		t.Errorf("ben: %+v", *ben)
	}
	const by = "J. Marlowe DPM"
	at := func(line int) rules.Pos { return rules.Pos{File: enrollmentsFile, Line: line, Column: 9} }
	want := []rules.Entry{
		{Kind: rules.EntryHold, On: d(20), By: by, Why: "swollen", At: at(21)},
		{Kind: rules.EntryRelease, On: d(22), By: by, At: at(22)},
		{Kind: rules.EntryCap, On: d(22), By: by, Step: 2, At: at(23)},
		{Kind: rules.EntryCap, On: d(30), By: by, At: at(24)},
		{Kind: rules.EntryConfirm, On: rules.NewDate(2026, 11, 1), By: by, At: at(25)},
	}
	if !reflect.DeepEqual(ben.Entries, want) {
		t.Errorf("entries:\n%+v\nwant\n%+v", ben.Entries, want)
	}
}

// TestProgramValues: doses, schedules, lines and their places.
func TestProgramValues(t *testing.T) {
	p := mustLoad(t, base()).Programs["steady"]
	at := func(line, column int) rules.Pos { return rules.Pos{File: steadyFile, Line: line, Column: column} }
	want := []rules.Block{
		{Week: 1, At: at(17, 3), Doses: []rules.Dose{
			{Do: "calf", Sets: 1, Reps: 3, Hold: 10 * time.Second, Sessions: 2, At: at(18, 7)},
		}},
		{Week: 3, At: at(19, 3), Doses: []rules.Dose{
			{Do: "calf", Sets: 2, Reps: 3, Hold: 20 * time.Second, Sessions: 1, At: at(20, 7)},
			{Do: "band", Sets: 1, Reps: 10, Sessions: 1, On: rules.Schedule{Kind: rules.EveryOtherDay}, Side: rules.SideAffected, At: at(21, 7)},
		}},
	}
	if !reflect.DeepEqual(p.Blocks, want) {
		t.Errorf("blocks:\n%+v\nwant\n%+v", p.Blocks, want)
	}
	if p.Weeks != 6 || p.Title.In("en") != "Settling into your inserts" || *p.Approved != (rules.Approval{By: "J. Marlowe DPM", On: rules.NewDate(2026, 10, 1)}) {
		t.Errorf("program: %+v", *p)
	}
	if p.Pain != (rules.Lines{Steady: 2, Hold: 5, StepBack: 6, Pause: 9, ClearDays: 3}) || p.Advance != (rules.Advance{Done: 80, Last: 7, Scores: 3}) {
		t.Errorf("lines %+v, advance %+v", p.Pain, p.Advance)
	}
	if *p.Wear != (rules.Wear{First: time.Hour, Add: 30 * time.Minute, Every: 2, Full: 8 * time.Hour, At: at(22, 1)}) {
		t.Errorf("wear: %+v", *p.Wear)
	}
	calf := rules.Exercise{ID: "calf", Kind: "stretch", Name: rules.Text{"en": "Wall calf stretch"}, How: rules.Text{"en": "Lean in."},
		Side: rules.SideEach, Needs: []string{"wall"}, At: at(6, 3)}
	if !reflect.DeepEqual(*p.Exercises["calf"], calf) || p.Exercises["band"].Side != rules.SideTogether {
		t.Errorf("exercises: %+v, %+v", *p.Exercises["calf"], *p.Exercises["band"])
	}
	for key, pos := range map[string]rules.Pos{
		"program": at(1, 1), "length": at(4, 9), "wear": at(22, 1), "pain": at(23, 1), "pain.hold": at(23, 25),
		"pain.step back": at(23, 39), "advance": at(24, 1), "advance.of last": at(24, 31),
	} {
		if p.Where[key] != pos {
			t.Errorf("%s stands at %v, want %v", key, p.Where[key], pos)
		}
	}
}

// TestProgramDefaults: a program that sets no lines gets the usual ones, and
// says they stand nowhere in its file.
func TestProgramDefaults(t *testing.T) {
	files := base()
	files[steadyFile] = baseProgram[:strings.Index(baseProgram, "wear:")] + "pain: {hold: 5}\n"
	p := mustLoad(t, files).Programs["steady"]
	want := rules.DefaultLines()
	want.Hold = 5
	if p.Pain != want || p.Advance != rules.DefaultAdvance() || p.Wear != nil {
		t.Errorf("pain %+v, advance %+v, wear %v", p.Pain, p.Advance, p.Wear)
	}
	for _, key := range []string{"pain.steady", "pain.clear days", "advance", "advance.done", "wear"} {
		if pos, ok := p.Where[key]; ok {
			t.Errorf("%s is left to its default but stands at %v", key, pos)
		}
	}
	if p.Where["pain.hold"].Line != 22 || p.Where["pain"].Line != 22 {
		t.Errorf("places: %v", p.Where)
	}
}
