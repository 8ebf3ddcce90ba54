package config

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepgate/rules"
)

// heldEntry is the entry most of these tests add.
var heldEntry = rules.Entry{Kind: rules.EntryHold, On: day(12, 1), By: "J. Marlowe DPM", Why: "seen, swelling"}

const heldText = `{hold: 2026-12-01, by: J. Marlowe DPM, why: "seen, swelling"}`

// editedText adds entries to ada-1 in a file of enrollments.
func editedText(t *testing.T, text string, entries ...rules.Entry) (*Edit, error) {
	t.Helper()
	files := base()
	files[enrollmentsFile] = text
	c, problems := LoadFiles("/clinic", filesOf(files), nil)
	if c == nil {
		t.Fatalf("the file does not load: %v\n%s", problems, text)
	}
	return c.addEntries("ada-1", entries)
}

// adaKeys is an enrollment without entries.
const adaKeys = `  - id: ada-1
    name: Ada
    program: steady
    dispensed: 2026-10-05
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}
    spool: ada
    time: 09:00
`

const benKeys = `  - id: ben-2
    name: Ben
    program: steady
    dispensed: 2026-10-05
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}
    spool: ben
    time: 18:30
`

const inBraces = `id: ada-1, name: Ada, program: steady, dispensed: 2026-10-05, consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}, spool: ada, time: 09:00`

// addCases are files before and after an entry is added, without their head.
var addCases = []struct{ name, before, after string }{
	{"no entries", adaKeys, adaKeys + "    entries:\n      - HELD\n"},
	{"no entries, a patient after", adaKeys + "\n# next\n" + benKeys, adaKeys + "    entries:\n      - HELD\n\n# next\n" + benKeys},
	{"as other lists are laid out", adaKeys + benKeys + "    entries:\n      -  {hold: 2026-10-20, by: J}\n",
		adaKeys + "    entries:\n      -  HELD\n" + benKeys + "    entries:\n      -  {hold: 2026-10-20, by: J}\n"},
	{"no line end", strings.TrimSuffix(adaKeys, "\n"), adaKeys + "    entries:\n      - HELD"},
	{"a block", adaKeys + "    entries:\n      - {hold: 2026-10-20, by: J} # once\n", adaKeys + "    entries:\n      - {hold: 2026-10-20, by: J} # once\n      - HELD\n"},
	{"a block not indented, its key not last", strings.Replace(adaKeys, "    time", "    entries:\n    - {hold: 2026-10-20, by: J}\n    # when\n    time", 1),
		strings.Replace(adaKeys, "    time", "    entries:\n    - {hold: 2026-10-20, by: J}\n    - HELD\n    # when\n    time", 1)},
	{"items of several lines", adaKeys + "    entries:\n      -\n        hold: 2026-10-20\n        by: J\n        why: >-\n          it hurt\n          # a lot\n\n      # so far\n" + benKeys,
		adaKeys + "    entries:\n      -\n        hold: 2026-10-20\n        by: J\n        why: >-\n          it hurt\n          # a lot\n      - HELD\n\n      # so far\n" + benKeys},
	{"a comment after", adaKeys + "    entries:\n      - {hold: 2026-10-20, by: J}\n      # by phone\n  # next\n" + benKeys,
		adaKeys + "    entries:\n      - {hold: 2026-10-20, by: J}\n      # by phone\n      - HELD\n  # next\n" + benKeys},
	{"nothing after the colon", adaKeys + "    entries: # none\n      # yet\n" + benKeys, adaKeys + "    entries: # none\n      # yet\n      - HELD\n" + benKeys},
	{"null", adaKeys + "    entries: ~ # none\n", adaKeys + "    entries: [HELD] # none\n"},
	{"an empty list", adaKeys + "    entries: [ ]\n", adaKeys + "    entries: [HELD ]\n"},
	{"a list in brackets", adaKeys + "    entries: [{hold: 2026-10-20, by: J, why: \"a } b\"}]\n", adaKeys + "    entries: [{hold: 2026-10-20, by: J, why: \"a } b\"}, HELD]\n"},
	{"brackets of several lines", adaKeys + "    entries: [\n      {hold: 2026-10-20, by: J} # c }\n    ]\n",
		adaKeys + "    entries: [\n      {hold: 2026-10-20, by: J}, # c }\n      HELD\n    ]\n"},
	{"and a comma at the end", adaKeys + "    entries: [\n      {hold: 2026-10-20, by: J}, # c\n    ]\n",
		adaKeys + "    entries: [\n      {hold: 2026-10-20, by: J}, # c\n      HELD,\n    ]\n"},
	{"in braces", "  - {" + inBraces + "}\n", "  - {" + inBraces + ", entries: [HELD]}\n"},
	{"in braces of several lines", "  - {" + inBraces + ",\n    }\n", "  - {" + inBraces + ", entries: [HELD]\n    }\n"},
	{"in braces with a comment", "  - {" + inBraces + " # c\n    }\n", "  - {" + inBraces + " # c\n    , entries: [HELD]}\n"},
	{"in braces with nothing there", "  - {\"entries\": , " + inBraces + "}\n", "  - {\"entries\": [HELD] , " + inBraces + "}\n"},
	{"in braces with a key alone", "  - {entries, " + inBraces + "}\n", "  - {entries: [HELD], " + inBraces + "}\n"},
	{"behind a question mark", "  - ? entries\n    : - {hold: 2026-10-20, by: J}\n" + strings.Replace(adaKeys, "  - ", "    ", 1),
		"  - ? entries\n    : - {hold: 2026-10-20, by: J}\n      - HELD\n" + strings.Replace(adaKeys, "  - ", "    ", 1)},
	{"in braces with a list", "  - {" + inBraces + ", entries: [{hold: 2026-10-20, by: J}]}\n", "  - {" + inBraces + ", entries: [{hold: 2026-10-20, by: J}, HELD]}\n"},
	{"an id in quotes, tabs", strings.Replace(strings.Replace(adaKeys, "id: ada-1", "\"id\": 'ada-1'\t# x", 1), "09:00", "09:00\t", 1),
		strings.Replace(strings.Replace(adaKeys, "id: ada-1", "\"id\": 'ada-1'\t# x", 1), "09:00", "09:00\t", 1) + "    entries:\n      - HELD\n"},
	{"an anchor that nobody uses", adaKeys + "    entries: &e\n      - &f {hold: 2026-10-20, by: J}\n", adaKeys + "    entries: &e\n      - &f {hold: 2026-10-20, by: J}\n      - HELD\n"},
	{"the document's end", adaKeys + "...\n", adaKeys + "    entries:\n      - HELD\n...\n"},
	{"a word twice", strings.Replace(adaKeys, "Ada", "entries", 1), strings.Replace(adaKeys, "Ada", "entries", 1) + "    entries:\n      - HELD\n"},
}

// TestAddEntries: where one entry goes, by how the file is written.
func TestAddEntries(t *testing.T) {
	const head = "# the clinic's patients\nenrollments:\n"
	for _, c := range addCases {
		for style, from := range map[string][2]string{
			"as it is": {c.before, c.after},
			"CRLF":     {strings.ReplaceAll(c.before, "\n", "\r\n"), strings.ReplaceAll(c.after, "\n", "\r\n")},
			"a mark":   {"\ufeff" + c.before, "\ufeff" + c.after},
		} {
			before, want := from[0], from[1]
			mark := strings.HasPrefix(before, "\ufeff")
			h := head
			if style == "CRLF" {
				h = strings.ReplaceAll(h, "\n", "\r\n")
			}
			if mark {
				before, want, h = strings.TrimPrefix(before, "\ufeff"), strings.TrimPrefix(want, "\ufeff"), "\ufeff"+h
			}
			e, err := editedText(t, h+before, heldEntry)
			if err != nil {
				t.Errorf("%s, %s: %v", c.name, style, err)
				continue
			}
			want = h + strings.Replace(want, "HELD", heldText, 1)
			if got := string(e.After); got != want {
				t.Errorf("%s, %s:\n%s\nwant\n%s", c.name, style, got, want)
			}
			if line := strings.Split(string(e.After), "\n")[e.Line-1]; !strings.Contains(line, heldText) {
				t.Errorf("%s, %s: line %d is %q", c.name, style, e.Line, line)
			}
			if string(e.Before) != h+before || e.Path != filepath.Join("/clinic", enrollmentsFile) {
				t.Errorf("%s, %s: the edit is of %s", c.name, style, e.Path)
			}
		}
	}
}

// TestEntryTexts: how each kind is written.
func TestEntryTexts(t *testing.T) {
	score := 0
	by := "J. Marlowe DPM"
	for want, n := range map[string]rules.Entry{
		heldText: heldEntry,
		"{release: 2026-12-01, as before: true, by: J. Marlowe DPM}":                        {Kind: rules.EntryRelease, On: day(12, 1), AsBefore: true, By: by},
		"{cap: 2, on: 2026-12-01, by: J. Marlowe DPM}":                                      {Kind: rules.EntryCap, Step: 2, On: day(12, 1), By: by},
		"{cap: none, on: 2026-12-01, by: J. Marlowe DPM}":                                   {Kind: rules.EntryCap, On: day(12, 1), By: by},
		`{review done: 2026-12-01, by: J. Marlowe DPM, why: "\ufeffa\u2028b"}`:              {Kind: rules.EntryReview, On: day(12, 1), By: by, Why: "\ufeffa\u2028b"},
		"{discharge: 2026-12-01, by: J. Marlowe DPM, why: moved away}":                      {Kind: rules.EntryDischarge, On: day(12, 1), By: by, Why: "moved away"},
		`{confirm contact: 2026-12-01, by: "null", why: "a: b"}`:                            {Kind: rules.EntryConfirm, On: day(12, 1), By: "null", Why: "a: b"},
		`{release wear: 2026-12-01, by: Zoë O'Hara, why: he said "no"#1}`:                   {Kind: rules.EntryWear, On: day(12, 1), By: "Zoë O'Hara", Why: `he said "no"#1`},
		`{report: 2026-12-01, said: "done, 2", by: Zoë}`:                                    {Kind: rules.EntryReport, On: day(12, 1), Said: "done, 2", By: "Zoë"},
		`{review done: 2026-12-01, by: "3", why: "\"no\", he said #1 \\ #2"}`:               {Kind: rules.EntryReview, On: day(12, 1), By: "3", Why: `"no", he said #1 \ #2`},
		"{strike: 2026-11-30, on: 2026-12-01, by: J. Marlowe DPM, why: \"# x\"}":            {Kind: rules.EntryStrike, Report: day(11, 30), On: day(12, 1), By: by, Why: "# x"},
		"{replace: 2026-11-30, score: 0, on: 2026-12-01, by: J. Marlowe DPM, why: \"- a\"}": {Kind: rules.EntryReplace, Report: day(11, 30), Score: &score, On: day(12, 1), By: by, Why: "- a"},
	} {
		e, err := editedText(t, "enrollments:\n"+adaKeys, n)
		if err != nil {
			t.Errorf("%s: %v", want, err)
		} else if got := strings.Split(string(e.After), "\n")[e.Line-1]; strings.TrimLeft(got, " -") != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// TestEntriesAlreadyThere: the same words are not written twice.
func TestEntriesAlreadyThere(t *testing.T) {
	text := "enrollments:\n" + adaKeys + "    entries:\n      - " + heldText + "\n"
	if e, err := editedText(t, text, heldEntry, heldEntry); !errors.Is(err, ErrNothingToDo) || e != nil {
		t.Errorf("got %v, %v", e, err)
	}
	if e, err := editedText(t, text); !errors.Is(err, ErrNothingToDo) || e != nil {
		t.Errorf("without entries: %v, %v", e, err)
	}
	later := heldEntry
	later.On++
	e, err := editedText(t, text, later, heldEntry, later)
	if err != nil || string(e.After) != text+"      - "+strings.Replace(heldText, "12-01", "12-02", 1)+"\n" {
		t.Errorf("got %v, %v", e, err)
	}
}

// TestEntriesRefused: what can't be added is an error that says why.
func TestEntriesRefused(t *testing.T) {
	for _, c := range []struct {
		name, want string
		n          rules.Entry
	}{
		{"no kind", `there is no kind of entry "held"`, rules.Entry{Kind: "held", On: day(12, 1), By: "J"}},
		{"nobody", "by is empty", rules.Entry{Kind: rules.EntryHold, On: day(12, 1)}},
		{"no reason", "why is missing", rules.Entry{Kind: rules.EntryStrike, On: day(12, 1), Report: day(11, 30), By: "J"}},
		{"lines", "why runs over several lines", rules.Entry{Kind: rules.EntryHold, On: day(12, 1), By: "J", Why: "a\nb"}},
		{"a bell", "why has a control character", rules.Entry{Kind: rules.EntryHold, On: day(12, 1), By: "J", Why: "a\ab"}},
		{"blanks around", "so that it reads the same", rules.Entry{Kind: rules.EntryHold, On: day(12, 1), By: " J "}},
		{"broken letters", "so that it reads the same", rules.Entry{Kind: rules.EntryHold, On: day(12, 1), By: "J\xff"}},
		{"a step that is none", "the cap is at step 9", rules.Entry{Kind: rules.EntryCap, Step: 9, On: day(12, 1), By: "J"}},
		{"what its kind has not", "only a release can be as before", rules.Entry{Kind: rules.EntryHold, AsBefore: true, On: day(12, 1), By: "J"}},
		{"a step of no cap", "so that it reads the same", rules.Entry{Kind: rules.EntryHold, Step: 1, On: day(12, 1), By: "J"}},
		{"before the beginning", "before the enrollment begins", rules.Entry{Kind: rules.EntryDischarge, On: day(1, 1), By: "J"}},
	} {
		if e, err := editedText(t, "enrollments:\n"+adaKeys, c.n); err == nil || !strings.Contains(err.Error(), c.want) || e != nil {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
}

// clinicFolder writes a folder of files and gives its path.
func clinicFolder(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, name)
		must(t, os.MkdirAll(filepath.Dir(path), 0o755))
		must(t, os.WriteFile(path, []byte(text), 0o640))
	}
	return dir
}

// TestAddEntriesInFolder: the enrollment is found in whichever file it is, no
// secret is asked for, and errors name what is wrong.
func TestAddEntriesInFolder(t *testing.T) {
	files := base()
	files["enrollments/more.yaml"] = "enrollments:\n" + strings.ReplaceAll(benKeys, "ben", "cy")
	dir := clinicFolder(t, files)
	e, err := AddEntries(dir, "cy-2", []rules.Entry{heldEntry})
	if err != nil || e.Path != filepath.Join(dir, "enrollments", "more.yaml") || e.Line != 10 {
		t.Fatalf("got %+v, %v", e, err)
	}
	must(t, e.Write())
	c, problems := Load(dir, env)
	if c == nil || c.Enrollments.Len() != 3 || len(c.Enrollments.At(2).Entries) != 1 {
		t.Errorf("after the edit: %v", problems)
	}
	if _, err := AddEntries(dir, "CY-2", []rules.Entry{heldEntry}); !errors.Is(err, ErrNoEnrollment) {
		t.Errorf("an id nobody has: %v", err)
	}
	must(t, os.WriteFile(filepath.Join(dir, enrollmentsFile), []byte("enrollments:\n  - &a {id: x}\n  - <<: *a\n"), 0o640))
	_, err = AddEntries(dir, "cy-2", []rules.Entry{heldEntry})
	if ps, ok := errors.AsType[Problems](err); !ok || !strings.Contains(ps.Error(), `enrollments.yaml:3:5: unknown key "<<"`) {
		t.Errorf("files with errors: %v", err)
	}
	if _, err := AddEntries(filepath.Join(dir, "none"), "cy-2", []rules.Entry{heldEntry}); err == nil || !strings.Contains(err.Error(), "there is no such folder") {
		t.Errorf("no folder: %v", err)
	}
}
