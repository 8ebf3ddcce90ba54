package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// quickDay is how long a made-up day takes in these tests: long enough for an
// answer to be typed within it on a busy machine.
const quickDay = "6s"

// folderOf makes a clinic folder of files.
func folderOf(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "clinic")
	for name, text := range files {
		write(t, dir, name, text)
	}
	return dir
}

func write(t *testing.T, dir, name, text string) {
	t.Helper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, path ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// edit replaces a piece of one of the clinic's files, which must be there.
func edit(t *testing.T, dir, name, old, new string) {
	t.Helper()
	text := read(t, dir, filepath.FromSlash(name))
	if !strings.Contains(text, old) {
		t.Fatalf("%s has no %q to edit:\n%s", name, old, text)
	}
	write(t, dir, name, strings.Replace(text, old, new, 1))
}

// copied is a clinic folder of the repository, copied to be written in.
func copied(t *testing.T, from string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "clinic")
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return dir
}

var (
	guideFile  = regexp.MustCompile("(?m)^`my-clinic/([^`]+)` ")
	readmeDate = regexp.MustCompile(`(?m)^( *dispensed: )[0-9-]+$`)
	guideShell = regexp.MustCompile(`(?m)^    (?:[A-Z_]+=\S+ )?\./stepgate (.+)$`)
)

// guides are the pages that show people what to type.
var guides = []string{"README.md", "config/README.md", "notify/README.md", "rules/CLINICIANS.md", "daemon/README.md"}

// readme is what the guides have a user write and type.
type readme struct {
	files    map[string]string   // of the clinic of config/README.md, by name
	blocks   []string            // the other blocks of YAML
	commands map[string][]string // by guide: what is typed after ./stepgate
}

// readReadme takes the blocks and commands out of the guides. A block that a
// line naming a file leads up to is that file.
func readReadme(t *testing.T) readme {
	t.Helper()
	r := readme{files: map[string]string{}, commands: map[string][]string{}}
	for _, guide := range guides {
		text := read(t, "..", "..", guide)
		parts := strings.Split(text, "```yaml\n")
		for i, part := range parts[1:] {
			block, _, closed := strings.Cut(part, "```")
			if !closed {
				t.Fatalf("%s: a block of YAML has no end", guide)
			}
			before := parts[i]
			paragraph := strings.TrimSpace(before[strings.LastIndex(strings.TrimSpace(before), "\n\n")+1:])
			if m := guideFile.FindStringSubmatch(paragraph); m != nil {
				r.files[m[1]] = block
			} else {
				r.blocks = append(r.blocks, block)
			}
		}
		for _, m := range guideShell.FindAllStringSubmatch(text, -1) {
			if !slices.Contains(r.commands[guide], m[1]) {
				r.commands[guide] = append(r.commands[guide], m[1])
			}
		}
	}
	if len(r.files) != 3 {
		t.Fatalf("the guides name %d files of a clinic, want 3", len(r.files))
	}
	return r
}

// block is the one block of YAML with something in it.
func (r readme) block(t *testing.T, of string) string {
	t.Helper()
	found := ""
	for _, b := range r.blocks {
		if !strings.Contains(b, of) {
			continue
		}
		if found != "" {
			t.Fatalf("the guides have several blocks with %q", of)
		}
		found = b
	}
	if found == "" {
		t.Fatalf("the guides have no block with %q", of)
	}
	return found
}

// clinic writes the clinic of config/README.md, with today's date as dispensed, as it
// says, and returns its folder.
func (r readme) clinic(t *testing.T) string {
	t.Helper()
	dir := folderOf(t, r.files)
	zone, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		t.Fatal(err)
	}
	text := read(t, dir, "enrollments.yaml")
	if len(readmeDate.FindAllString(text, -1)) != 1 || !strings.Contains(r.files["stepgate.yaml"], "zone: America/Los_Angeles") {
		t.Fatalf("the README's clinic is not what this test takes it for:\n%s", text)
	}
	today := rules.DateOf(time.Now().In(zone)).String()
	write(t, dir, "enrollments.yaml", readmeDate.ReplaceAllString(text, "${1}"+today))
	return dir
}

// journalOf opens the journal that a stopped service left, checks it whole,
// and returns its events.
func journalOf(t *testing.T, path ...string) []journal.Event {
	t.Helper()
	j, err := journal.Open(filepath.Join(path...), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	}()
	if _, err := j.Verify(); err != nil {
		t.Fatalf("the journal does not verify: %v", err)
	}
	var events []journal.Event
	err = j.View(func(tx *journal.Tx) error {
		return tx.All(func(e journal.Event) error {
			events = append(events, e)
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return events
}

// decisions are those of a patient that came to a hand-over, in order.
func decisions(events []journal.Event, id string) []rules.Decision {
	var list []rules.Decision
	open := map[string]rules.Decision{}
	for _, e := range events {
		switch {
		case e.ID != id:
		case e.Decision != nil:
			list = append(list, *e.Decision)
		case e.Out != nil && e.Out.Decision != nil:
			open[e.Out.Key] = *e.Out.Decision
		case e.Kind == journal.HandedOut:
			if d, ok := open[e.Key]; ok {
				list = append(list, d)
				delete(open, e.Key)
			}
		}
	}
	return list
}

// messages are the texts in a contact's folder on the spool, the earliest
// first.
func messages(t *testing.T, spool, contact string) []string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(spool, contact, "out", "*.txt"))
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(names)
	texts := make([]string, len(names))
	for i, name := range names {
		texts[i] = read(t, name)
	}
	return texts
}

// dailyDate is how a daily message begins; no other does.
var dailyDate = regexp.MustCompile(`^(?:Sun|Mon|Tue|Wed|Thu|Fri|Sat) [A-Z][a-z]{2} [0-9]{1,2}\b`)

// dailies are the dates of the daily messages among texts.
func dailies(texts []string) []string {
	var dates []string
	for _, text := range texts {
		if d := dailyDate.FindString(text); d != "" {
			dates = append(dates, d)
		}
	}
	return dates
}
