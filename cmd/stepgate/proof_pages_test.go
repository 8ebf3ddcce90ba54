//go:build proof

package main

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
	"stepgate/templates"
)

// TestProofPages opens every page in a real browser, on a desk and on phones,
// in light and in dark colors, and prints what is to be printed, on both
// papers. Nothing may be fetched, nothing be complained of, nothing be too wide,
// and the accessibility engine may find nothing.
//
// With STEPGATE_SHOTS=DIR pictures and prints of all of them are left there.

// proofPage is a page to look at.
type proofPage struct {
	name, url   string
	least, most int // sheets of paper; most 0: not for printing
}

// inspect looks at a page from every side.
func (b *browser) inspect(t *testing.T, p proofPage) {
	t.Helper()
	for _, v := range views() {
		for _, wrong := range b.look(p.name, p.url, v) {
			t.Errorf("%s, %s: %s", p.name, v, wrong)
		}
	}
	if p.most == 0 {
		return
	}
	for _, paper := range []string{"letter", "a4"} {
		if _, n := b.print(p.name, p.url, paper); n < p.least || n > p.most {
			t.Errorf("%s takes %d sheets of %s, want %d to %d", p.name, n, paper, p.least, p.most)
		}
	}
}

// makePage has the program write a page, and gives its address.
func makePage(t *testing.T, args ...string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "page.html")
	cmd := exec.Command("stepgate", append(args, "--out", out)...)
	if said, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("stepgate %s: %v\n%s", strings.Join(args, " "), err, said)
	}
	return "file://" + out
}

// keepPage writes a page that is made here.
func keepPage(t *testing.T, page []byte) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "page.html")
	if err := os.WriteFile(out, page, 0o600); err != nil {
		t.Fatal(err)
	}
	return "file://" + out
}

// starterClinic is the clinic of the handouts with the starters beside its own
// program.
func starterClinic(t *testing.T) (dir string, starters []string) {
	t.Helper()
	dir = t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../testdata/handout")); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, "programs"), templates.Starters()); err != nil {
		t.Fatal(err)
	}
	files, err := fs.Glob(templates.Starters(), "*.yaml")
	if err != nil || len(files) < 5 {
		t.Fatalf("%d starters: %v", len(files), err)
	}
	for _, f := range files {
		starters = append(starters, strings.TrimSuffix(f, ".yaml"))
	}
	return dir, starters
}

func TestProofPagesHandout(t *testing.T) {
	b := openBrowser(t)
	dir, starters := starterClinic(t)
	for _, program := range append(starters, "slow-return") {
		b.inspect(t, proofPage{"handout-" + program, makePage(t, "report", dir, "--handout", program), 2, 4})
	}
	b.inspect(t, proofPage{"handout-zoe", makePage(t, "report", dir, "--handout", "slow-return", "--for", "p-99"), 2, 4})
	b.inspect(t, proofPage{"handout-demo", makePage(t, "report", "../../testdata/demo", "--handout", "steady-arches"), 2, 4})
}

// card finds the exercises of a handout, markup and all.
var (
	card  = regexp.MustCompile(`(?s)<div class="card">(.*?)</div>`)
	marks = regexp.MustCompile(`<[^>]*>`)
)

// No sheet of paper breaks an exercise, and each one of a draft says that it
// is one. What a sheet says is read back by another reader.
func TestProofPagesHandoutSheets(t *testing.T) {
	b := openBrowser(t)
	dir, starters := starterClinic(t)
	exercises := 0
	for _, program := range starters {
		url := makePage(t, "report", dir, "--handout", program)
		source, err := os.ReadFile(strings.TrimPrefix(url, "file://"))
		if err != nil {
			t.Fatal(err)
		}
		for _, paper := range []string{"letter", "a4"} {
			pdf, _ := b.print("sheets-"+program, url, paper)
			sheets := pageTexts(t, pdf)
			for i, text := range sheets {
				sheets[i] = strings.Join(strings.Fields(text), "")
				if !strings.Contains(sheets[i], "DRAFT") {
					t.Errorf("sheet %d of %s on %s does not say that it is a draft", i+1, program, paper)
				}
			}
			for _, m := range card.FindAllStringSubmatch(string(source), -1) {
				exercises++
				words := strings.Join(strings.Fields(marks.ReplaceAllString(m[1], " ")), "")
				if !slices.ContainsFunc(sheets, func(s string) bool { return strings.Contains(s, words) }) {
					t.Errorf("%s on %s breaks an exercise: %s", program, paper, words)
				}
			}
		}
	}
	if exercises < 20 {
		t.Errorf("only %d exercises were seen", exercises)
	}
}

// The pages behind the links of mails.
func TestProofPagesLinks(t *testing.T) {
	b := openBrowser(t)
	words, err := templates.New()
	if err != nil {
		t.Fatal(err)
	}
	clinic := templates.Clinic{Name: "Willow Bend Foot Clinic", Phone: "+1 312 555 0142", Hours: "Mon-Fri 8:30-5",
		AfterHours: "+1 312 555 0177", Emergency: "911"}
	score := 5
	for _, state := range []string{"ask", "thanks", "expired", "used", "bad"} {
		link := templates.LinkPage{Clinic: clinic.Name, What: "pain", Score: &score, Action: "/a/x", State: state,
			Answer: []string{"5 noted. No more exercises today."}, Phone: clinic.Phone, Emergency: clinic.Emergency}
		b.inspect(t, proofPage{name: "link-" + state, url: keepPage(t, words.LinkPage(link))})
	}
	day, _ := rules.ParseDate("2026-03-12")
	alert := templates.AlertData{ID: "p-02", Name: "Ben", Notice: rules.Notice{Kind: rules.NoticePause, Score: &score}, On: day, Today: day,
		Paused: true, Quote: "felt a sudden pop in my calf", State: "paused", Commands: []string{"seen", "release", "hold", "discharge"}}
	items := []templates.AlertPageItem{{Number: 1, AlertData: alert}, {Number: 2, AlertData: alert, Done: true}}
	for _, state := range []string{"ask", "done", "expired", "bad"} {
		b.inspect(t, proofPage{name: "alert-" + state, url: keepPage(t, words.AlertPage(templates.AlertPage{Clinic: clinic, Items: items,
			Action: "/c/x", State: state, Lines: []templates.AnswerLine{{ID: "p-02", Name: "Ben", Did: "seen"}}}))})
	}
}

// demoClinic plays the demo's eight weeks.
func demoClinic(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "demo")
	if said, err := exec.Command("stepgate", "demo", "--dir", dir).CombinedOutput(); err != nil {
		t.Fatalf("play the demo: %v\n%s", err, said)
	}
	return dir
}

// The reports, from the data of the demo.
func TestProofPagesReports(t *testing.T) {
	b := openBrowser(t)
	dir := demoClinic(t)
	for n := range 6 {
		id := fmt.Sprintf("p-%02d", n+1)
		b.inspect(t, proofPage{"patient-" + id, makePage(t, "report", dir, id), 1, 2})
	}
	b.inspect(t, proofPage{"clinic", makePage(t, "report", dir), 1, 4})
}

// The same pages as a service shows them, with the headers it sends.
func TestProofPagesServed(t *testing.T) {
	b := openBrowser(t)
	dir, address := demoClinic(t), freeAddress(t)
	write(t, dir, "stepgate.yaml", read(t, dir, "stepgate.yaml")+"\nreports: "+address+"\n")
	serve(t, nil, dir)
	b.inspect(t, proofPage{"served-clinic", "http://" + address + "/", 1, 4})
	b.inspect(t, proofPage{"served-patient", "http://" + address + "/patients/p-02", 1, 2})
}
