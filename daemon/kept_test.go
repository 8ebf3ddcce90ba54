package daemon

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepgate/daemon/journal"
)

const keptFile = "enrollments.kept"

// manyFolder is a clinic's folder of so many patients that what was read of them
// is kept, and of one in a file of her own.
func manyFolder(t *testing.T) (c *clinic, leaver *enrolled) {
	t.Helper()
	c = folder(t)
	var text strings.Builder
	text.WriteString("enrollments:\n")
	like := onSpool("m-0000")
	like.from = "2199-01-01"
	for i := range 5000 {
		id := "m-" + string([]byte{byte('0' + i/1000), byte('0' + i/100%10), byte('0' + i/10%10), byte('0' + i%10)})
		like.id, like.to = id, "box-"+id
		text.WriteString(like.yaml())
	}
	c.writeFile("enrollments/many.yaml", text.String())
	leaver = &enrolled{id: "leaver-01", name: "Philomena", channel: "spool", to: "box-of-philomena", from: "2199-01-01"}
	c.writeFile("enrollments/leaver.yaml", "enrollments:\n"+leaver.yaml())
	return c, leaver
}

// words are what would tell of her: contact, name and id.
func (p *enrolled) words() []string { return []string{p.to, p.name, p.id} }

func (c *clinic) wantInData(there bool, words ...string) {
	c.t.Helper()
	found, err := findWords(c.data(), words, nil)
	if err != nil {
		c.t.Fatal(err)
	}
	if len(found) > 0 != there {
		c.t.Errorf("%v in the data folder: %v, want any: %t", words, found, there)
	}
}

// A start reads the files that changed, and says how many.
func TestServeReadsTheFilesThatChanged(t *testing.T) {
	c, _ := manyFolder(t)
	c.mustServe(func() {})
	if c.logged("kept.used") != 0 || c.logged("kept.failed") != 0 {
		t.Errorf("at the first start:\n%s", c.logs)
	}
	if info, err := os.Stat(filepath.Join(c.data(), keptFile)); err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("what was read is not kept: %v, %v", info, err)
	}
	c.mustServe(func() {})
	if !strings.Contains(c.logs.String(), "msg=kept.used files=3 read=0") {
		t.Errorf("with nothing changed:\n%s", c.logs)
	}
	c.writeFile("enrollments/leaver.yaml", "enrollments: []\n")
	c.mustServe(func() {})
	if !strings.Contains(c.logs.String(), "msg=kept.used files=2 read=1") {
		t.Errorf("with one changed:\n%s", c.logs)
	}
	if err := os.WriteFile(filepath.Join(c.data(), keptFile), []byte("spoiled"), 0o600); err != nil {
		t.Fatal(err)
	}
	c.mustServe(func() {
		if h, err := NewLooker(c.dir, false, env).Health(t.Context()); err != nil || !h.OK {
			t.Errorf("health: %+v, %v", h, err)
		}
	})
	if c.logged("kept.unused") != 1 {
		t.Errorf("nobody was told that it is spoiled:\n%s", c.logs)
	}
}

func (c *clinic) mustServe(look func()) {
	c.t.Helper()
	if err := c.serve(0, look); err != nil {
		c.t.Fatal(err)
	}
}

// Whoever is erased by the service that runs is in no file of the data folder:
// also where what is kept is older than the files in force.
func TestErasedByTheServiceLeavesNothingKept(t *testing.T) {
	c, leaver := manyFolder(t)
	c.mustServe(func() {})
	c.wantInData(true, leaver.words()...)
	kept := filepath.Join(c.data(), keptFile)
	old, err := os.ReadFile(kept)
	if err != nil || !strings.Contains(string(old), leaver.name) {
		t.Fatalf("she is not in what is kept: %v", err)
	}
	c.writeFile("enrollments/leaver.yaml", "enrollments: []\n")
	c.mustServe(func() {
		if now, err := os.ReadFile(kept); err != nil || strings.Contains(string(now), leaver.name) {
			t.Errorf("she is still in what is kept: %v", err)
		}
		for _, file := range []string{kept, kept + ".new"} { // as if it could not be written, or half of it
			if err := os.WriteFile(file, old, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := Erase(t.Context(), c.dir, leaver.id, "admin", env); err != nil {
			t.Fatal(err)
		}
		if exists(kept) || exists(kept+".new") {
			t.Error("what names her stays")
		}
	})
	if _, _, err := journal.Compact(filepath.Join(c.data(), "journal.db")); err != nil {
		t.Fatal(err)
	}
	c.wantInData(false, leaver.words()...)
	c.mustServe(func() {})
	c.wantInData(false, leaver.words()...)
}

// The same with no service running. What is kept stays if it is of the files in
// force alone.
func TestErasedDirectlyLeavesNothingKept(t *testing.T) {
	for _, stale := range []bool{true, false} {
		c, leaver := manyFolder(t)
		c.mustServe(func() {})
		c.writeFile("enrollments/leaver.yaml", "enrollments: []\n")
		if !stale {
			c.mustServe(func() {})
		}
		out, err := Erase(t.Context(), c.dir, leaver.id, "admin", env)
		if err != nil || len(out.Found) > 0 {
			t.Fatalf("%+v, %v", out, err)
		}
		c.wantInData(false, leaver.words()...)
		if there := exists(filepath.Join(c.data(), keptFile)); there == stale {
			t.Errorf("of older files: %t; it is there: %t", stale, there)
		}
	}
}

// A copy that is put in place may know of erasures that what is kept does not.
func TestARestoreForgetsWhatIsKept(t *testing.T) {
	c, _ := manyFolder(t)
	c.mustServe(func() {})
	kept := filepath.Join(c.data(), keptFile)
	if !exists(kept) {
		t.Fatal("nothing is kept")
	}
	from := filepath.Join(t.TempDir(), "copy.db")
	text, err := os.ReadFile(filepath.Join(c.data(), "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(from, text, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(t.Context(), from, c.dir, "", true, env); err != nil {
		t.Fatal(err)
	}
	if exists(kept) {
		t.Error("it is still there")
	}
	c.mustServe(func() {})
}
