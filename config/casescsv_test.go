package config

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
)

// twoSteps is a program with two steps.
func twoSteps() *rules.Program { return &rules.Program{ID: "two", Blocks: make([]rules.Block, 2)} }

func replies(text string) ([]Reply, Problems) {
	return ReadReplies(NewFile("replies.csv", []byte(text)), twoSteps(), 28)
}

func TestReplies(t *testing.T) {
	got, problems := replies("\ufeffDay, time ,TEXT\r\n9,,P5\r\n1,7:05,\"done, \"\"ok\"\" 3/10\"\r\n\r\n 2 , ,  D1  \r\n9,23:59,!release\n10,,!CAP 2\n11,,!cap none\n12,,!hold\n13,,!discharge\n13,,!release as before\n13,,!Release  WEAR\n13,,!strike 9\n13,,!strike\n13,,!review\n14,,\"two\nlines 2\"\n")
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	var out []string
	for _, r := range got {
		at := "-"
		if r.Time != nil {
			at = r.Time.String()
		}
		s := fmt.Sprintf("%d %s %s %d", r.Day, at, r.Text, r.At.Line)
		if r.Entry != nil {
			s += fmt.Sprintf(" = %s %d", r.Entry.Kind, r.Entry.Step)
			if r.Entry.AsBefore {
				s += " as before"
			}
			if r.Report > 0 {
				s += fmt.Sprintf(" of %d", r.Report)
			}
		}
		out = append(out, s)
	}
	want := []string{`1 07:05 done, "ok" 3/10 3`, "2 - D1 5", "9 - P5 2", "9 23:59 !release 6 = release 0", "10 - !CAP 2 7 = cap 2",
		"11 - !cap none 8 = cap 0", "12 - !hold 9 = hold 0", "13 - !discharge 10 = discharge 0",
		"13 - !release as before 11 = release 0 as before", "13 - !Release  WEAR 12 = release wear 0", "13 - !strike 9 13 = strike 0 of 9", "13 - !strike 14 = strike 0",
		"13 - !review 15 = review done 0", "14 - two\nlines 2 16"}
	if !slices.Equal(out, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(out, "\n"), strings.Join(want, "\n"))
	}
	if got, problems := replies("day,time,text\n"); len(got)+len(problems) > 0 {
		t.Errorf("a file without replies: %v %v", got, problems)
	}
}

// TestBadReplies: every mistake at once, each in its place, and nothing half
// loaded.
func TestBadReplies(t *testing.T) {
	const head = "day,time,text\n"
	for _, x := range []struct {
		name, text string
		want       []string
	}{
		{"several at once", head + "0,,D1\n1,,D1\n29,,D1\nx,25:00,D1\n3,noon,\n4,,!strike 0\n", []string{
			`replies.csv:2:1: day is out of range: "0"; write a day from 1 to 28; day 1 is the start date`,
			`replies.csv:4:1: day 29 is after the 28 days that are played; play more with --weeks, or take the line away`,
			`replies.csv:5:1: day can't be read: "x"; write a day from 1 to 28; day 1 is the start date`,
			`replies.csv:5:3: time can't be read: "25:00"; write a time of day on the 24-hour clock, like 08:30 or 17:00`,
			`replies.csv:6:3: time can't be read: "noon"; write a time of day on the 24-hour clock, like 08:30 or 17:00`,
			`replies.csv:6:8: the text is missing; write what the patient sends, or take the line away`,
			`replies.csv:7:4: the clinician's entry can't be read: "!strike 0"; write !strike or !strike N`}},
		{"days that are none", head + ",,D1\n-1,,D1\n1.5,,D1\n99999999999,,D1\n", []string{
			`replies.csv:2:1: day can't be read: ""; write a day from 1 to 28; day 1 is the start date`,
			`replies.csv:3:1: day can't be read: "-1"; write a day from 1 to 28; day 1 is the start date`,
			`replies.csv:4:1: day can't be read: "1.5"; write a day from 1 to 28; day 1 is the start date`,
			`replies.csv:5:1: day can't be read: "99999999999"; write a day from 1 to 28; day 1 is the start date`}},
		{"entries", head + "1,,!relese\n2,,!cap 3\n3,,!cap\n4,,!hold now\n", []string{
			`replies.csv:2:4: no clinician's entry is called "!relese"; did you mean "!release"?`,
			`replies.csv:3:4: the clinician's entry can't be read: "!cap 3"; write !cap N or !cap none; N is the highest step, from 1 to 2`,
			`replies.csv:4:4: the clinician's entry can't be read: "!cap"; write !cap N or !cap none; N is the highest step, from 1 to 2`,
			`replies.csv:5:4: the clinician's entry can't be read: "!hold now"; write !hold`}},
		{"too few and too many columns", head + "9,P5\n9,,done, 3/10\n", []string{
			`replies.csv:2:1: the line has 2 columns, not 3; write day,time,text; the time may be empty, as in 9,,P5`,
			`replies.csv:3:10: a comma ended the text before this; put quotes around the whole text: "done, 3/10"`}},
		{"columns are counted in letters", head + "9,,\"caña\",D1\n", []string{
			`replies.csv:2:11: a comma ended the text before this; put quotes around the whole text: "done, 3/10"`}},
		{"no header", "9,,P5\n1,,D1\n", []string{
			`replies.csv:1:1: the first line does not name the columns; begin the file with the line day,time,text`}},
		{"another delimiter", "day;time;text\n9;;P5\n", []string{
			`replies.csv:1:1: the first line does not name the columns; begin the file with the line day,time,text, and part the columns with commas`}},
		{"an empty file", "", []string{`replies.csv:1:1: the file is empty; begin it with the line day,time,text`}},
		{"quotes that don't fit", head + "9,,he said \"ok\"\n1,,D1\n0,,D1\n", []string{
			`replies.csv:2:12: the quotes on this line don't fit; put quotes around the whole text, and write a quote inside it twice: "he said ""ok"""`,
			`replies.csv:4:1: day is out of range: "0"; write a day from 1 to 28; day 1 is the start date`}},
		{"quotes that don't end", head + "9,,\"D1\n1,,D1\n", []string{
			`replies.csv:2:1: the quotes opened on this line don't end as they should; put quotes around the whole text, and write a quote inside it twice: "he said ""ok"""`}},
		{"no text at all", head + "9,,\xff\n", []string{`replies.csv:2:4: the file is not UTF-8 text here; save it again with the encoding UTF-8`}},
		{"a text too long", head + "9,," + strings.Repeat("a", 1601) + "\n", []string{
			`replies.csv:2:4: text is longer than a phone can send; write at most 1600 letters`}},
	} {
		t.Run(x.name, func(t *testing.T) {
			got, problems := replies(x.text)
			var lines []string
			for _, p := range problems {
				lines = append(lines, p.String())
			}
			if !slices.Equal(lines, x.want) || len(got) > 0 {
				t.Errorf("%d replies, problems:\n%s\nwant:\n%s", len(got), list(lines), list(x.want))
			}
		})
	}
}

// FuzzReplies gives any bytes as a file of replies: either every problem in its
// place, or replies that can be sent; never both, and nothing panics.
func FuzzReplies(f *testing.F) {
	for _, s := range []string{"", "day,time,text\n1,,D1\n", "day,time,text\n9,\"7:00\",\"a\"\"b\"\n", "\ufeffday,time,text\n1,,!cap 2", "day,time,text\n\"\n", "day,time,text\r1,,x", "a\n\"b"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		got, problems := replies(string(data))
		if len(got) > 0 && len(problems) > 0 {
			t.Fatalf("%d replies beside %d problems", len(got), len(problems))
		}
		for _, p := range problems {
			if p.What == "" || p.Do == "" || p.At.File == "" || p.Warning || p.At.Line < 0 || p.At.Line > 0 && p.At.Column < 1 {
				t.Fatalf("a problem without place, cause or remedy: %+v", p)
			}
		}
		for i, r := range got {
			if r.Day < 1 || r.Day > 28 || strings.TrimSpace(r.Text) == "" || r.Time != nil && (*r.Time < 0 || *r.Time >= 24*60) || i > 0 && r.Day < got[i-1].Day {
				t.Fatalf("a reply that can't be sent: %+v", r)
			}
			if (r.Entry != nil) != strings.HasPrefix(r.Text, "!") {
				t.Fatalf("an entry for a text, or the other way round: %+v", r)
			}
		}
	})
}
