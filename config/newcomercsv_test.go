package config

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// readSheet reads a spreadsheet for the base clinic.
func readSheet(t *testing.T, text string, fill Newcomer) (*Enrolling, *Spreadsheet, []string) {
	t.Helper()
	x := enrollingIn(t, base())
	s, problems := x.ReadSpreadsheet(NewFile("new.csv", []byte(text)), fill)
	var list []string
	for _, p := range problems {
		list = append(list, p.String())
	}
	return x, s, list
}

const sheetHead = "Name,Program,Dispensed,Consent On,Consent How,Consent By,Mobile,Time\n"

// TestSpreadsheet: a good one, in every usual dress.
func TestSpreadsheet(t *testing.T) {
	plain := sheetHead + "Rosa,steady,2026-11-28,2026-11-28,\"signed, in \"\"blue\"\"\",J. Marlowe DPM,(212) 555-0130,9:00 AM\n" +
		",,,,,,,\n\nIván,steady,28 Nov 2026,11/27/2026,by phone,front desk,212-555-0131,18:30\n"
	for name, text := range map[string]string{
		"commas":          plain,
		"a mark, CRLF":    "\ufeff" + strings.ReplaceAll(plain, "\n", "\r\n"),
		"semicolons":      apart(plain, ";"),
		"tabs":            apart(plain, "\t"),
		"sep= first":      "sep=;\n" + apart(plain, ";"),
		"names otherwise": strings.Replace(plain, "Name,Program,Dispensed,Consent On,Consent How,Consent By,Mobile,Time", " FIRST name ,program,dispense_date,consent date,Consent  how,consent-by,Cell Phone,message time,", 1),
		"hard blanks":     strings.ReplaceAll(plain, "555-", "555\u00a0"),
	} {
		x, s, problems := readSheet(t, text, nil)
		if s == nil || len(problems) > 0 || len(s.List) != 2 {
			t.Errorf("%s: %q", name, problems)
			continue
		}
		want := Newcomer{"id": "p-01", "name": "Rosa", "program": "steady", "dispensed": "2026-11-28", "consent on": "2026-11-28",
			"consent how": `signed, in "blue"`, "consent by": "J. Marlowe DPM", "sms": "+1 212-555-0130", "time": "09:00"}
		for k, v := range want {
			if s.List[0][k] != v {
				t.Errorf("%s: %s is %q, want %q", name, k, s.List[0][k], v)
			}
		}
		if b := s.List[1]; b["name"] != "Iván" || b["id"] != "p-02" || b["consent on"] != "2026-11-27" || b["time"] != "18:30" {
			t.Errorf("%s: %v", name, b)
		}
		e, err := x.Edit(s.List, enrollmentsFile)
		must(t, err)
		must(t, e.Write())
		if c, problems := Load(x.Clinic.Dir, nil); c == nil || c.Enrollments.Len() != 4 {
			t.Errorf("%s: %v", name, problems)
		}
	}
}

// apart writes the commas between cells as something else.
func apart(text, by string) string {
	var out strings.Builder
	quoted := false
	for _, r := range text {
		switch {
		case r == '"':
			quoted = !quoted
			out.WriteRune(r)
		case r == ',' && !quoted:
			out.WriteString(by)
		default:
			out.WriteRune(r)
		}
	}
	return out.String()
}

// TestSpreadsheetProblems: every bad cell is told at its place, and nothing is
// taken.
func TestSpreadsheetProblems(t *testing.T) {
	_, s, problems := readSheet(t, sheetHead+
		"Rosa,stedy,10/5/2026,2026-11-28,in writing,J,212-555-0130,9:00\n"+
		"Ana,steady,2026-11-28,2026-11-28,,J,212-555-0123,6:00\n"+
		"Éva,steady,2026-11-28,2026-11-28,in writing,J,212-555-0130,9:00\n"+
		"Bo,steady,2026-11-28,2026-11-28,in writing,J,,9:00,extra\n"+
		"Cy,steady,2026-11-28,2026-11-28,in writing,J,1234,\n", nil)
	want := []string{
		`new.csv:2:6: nobody wrote a program "stedy"; did you mean "steady"?`,
		`new.csv:2:12: dispensed: it can be 2026-10-05 or 2026-05-10; write the one that is meant`,
		`new.csv:3:34: consent how is missing; write: how consent was given, such as in writing`,
		`new.csv:3:37: this sms contact is already that of the open enrollment "ada-1" at enrollments.yaml:2:5; `,
		`new.csv:3:50: the message time 06:00 is outside the texting hours; choose a time from 08:00 on and before 20:00`,
		`new.csv:4:47: this sms contact is already that of the open enrollment "p-01" at new.csv:2; `,
		`new.csv:5:1: one of spool, sms or email is missing; write where the messages go`,
		`new.csv:5:52: there are more cells on this line than columns; put quotes around a cell with a comma in it`,
		`new.csv:6:46: sms: it has too few or too many digits for a phone number; write it whole, with the area code`,
		`new.csv:6:51: time is missing; write: when the daily message is due (proposed: 09:00)`,
	}
	if s != nil || len(problems) != len(want) {
		t.Fatalf("%d problems, want %d:\n%s", len(problems), len(want), strings.Join(problems, "\n"))
	}
	for i, p := range problems {
		if !strings.HasPrefix(p, want[i]) {
			t.Errorf("%s\nwant %s", p, want[i])
		}
	}
	for name, c := range map[string]struct{ text, want string }{
		"empty":              {"", "new.csv:1:1: the file is empty"},
		"no header":          {"Rosa,steady\n", `new.csv:1:1: there is no column "Rosa"`},
		"a column twice":     {"name,first name\n", `new.csv:1:6: the column "name" is there twice`},
		"a slip":             {"nmae\n", `new.csv:1:1: there is no column "nmae"; did you mean "name"?`},
		"an open quote":      {"name\n\"Rosa\nAna\n", "new.csv:2:1: the quotes on this line don't fit"},
		"a quote inside":     {"name\nRo\"sa\n", "new.csv:2:3: the quotes on this line don't fit"},
		"another code":       {"name\nIv\xe1n\n", "new.csv: the file is not UTF-8; save it as CSV UTF-8"},
		"two bytes a letter": {"n\x00a\x00", "new.csv: the file is not UTF-8; save it as CSV UTF-8"},
	} {
		if _, s, problems := readSheet(t, c.text, nil); s != nil || !slices.ContainsFunc(problems, func(p string) bool { return strings.HasPrefix(p, c.want) }) {
			t.Errorf("%s: %q, want %s", name, problems, c.want)
		}
	}
}

// TestSpreadsheetFill: flags fill what a cell does not say.
func TestSpreadsheetFill(t *testing.T) {
	_, s, problems := readSheet(t, "name,spool,time,zone\nRosa,rosa,,America/New_York\nAna,,10:00,America/Denver\n",
		Newcomer{"program": "steady", "dispensed": "2026-11-28", "consent on": "2026-11-28", "consent how": "form", "consent by": "J", "time": "09:00", "sms": "+12125550130"})
	if s == nil {
		t.Fatal(problems)
	}
	a, b := s.List[0], s.List[1]
	if a["time"] != "09:00" || b["time"] != "10:00" || a["sms"] != "" || b["sms"] == "" || a["zone"] != "" || b["zone"] != "America/Denver" {
		t.Errorf("%v\n%v", a, b)
	}
}

// TestThousandRows: a spreadsheet of 1,000 takes well under the few seconds
// somebody would wait.
func TestThousandRows(t *testing.T) {
	var text strings.Builder
	text.WriteString("name,program,dispensed,consent on,consent how,consent by,spool,time\n")
	for i := range 1000 {
		fmt.Fprintf(&text, "P,steady,2026-11-28,2026-11-28,in writing,J,box-%d,09:00\n", i)
	}
	began := time.Now()
	x, s, problems := readSheet(t, text.String(), nil)
	if s == nil {
		t.Fatal(problems)
	}
	e, err := x.Edit(s.List, enrollmentsFile)
	must(t, err)
	must(t, e.Write())
	took := time.Since(began)
	t.Logf("1,000 rows in %v", took)
	if took > 20*time.Second {
		t.Errorf("1,000 rows took %v", took)
	}
}
