//go:build proof

package daemon

import (
	"debug/elf"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
)

// mostExposed is the most that systemd-analyze(1) may find exposed, of 10: what
// is left is that the service is on the network, which it has to be.
const mostExposed = 1.4

var exposure = regexp.MustCompile(`Overall exposure level for \S+: ([0-9.]+)`)

// TestProofUnit has systemd read the unit, and count what it leaves exposed.
// It needs systemd-analyze (Debian: systemd).
func TestProofUnit(t *testing.T) {
	binary, err := os.Executable() // verify looks for the program
	if err != nil {
		t.Fatal(err)
	}
	for name, settings := range map[string]string{"usual": "", "low port": "web: {listen: \":443\", public: https://plans.example.org}\n"} {
		c := bareClinic(t, RealClock{}, onSpool("p-01"))
		c.settings = spoolOnly() + settings
		c.write()
		text, err := Unit(UnitOptions{Dir: c.dir, User: "daemon", Binary: binary})
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "stepgate.service")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("systemd-analyze", "verify", path).CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s: verify: %v\n%s", name, err, out)
		}
		out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", path).CombinedOutput()
		m := exposure.FindSubmatch(out)
		if err != nil || m == nil {
			t.Fatalf("%s: security: %v\n%s", name, err, out)
		}
		level, err := strconv.ParseFloat(string(m[1]), 64)
		if err != nil || level > mostExposed {
			t.Errorf("%s: %s is exposed, at most %g should be\n%s", name, m[1], mostExposed, out)
		}
		t.Logf("%s: exposure %s of 10", name, m[1])
	}
}

// TestProofStatic builds the program as the container's recipe does: it needs
// nothing else of an image.
func TestProofStatic(t *testing.T) {
	path := filepath.Join(t.TempDir(), "stepgate")
	cmd := exec.Command("go", "build", "-trimpath", "-o", path, "stepgate/cmd/stepgate")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	f, err := elf.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	libraries, err := f.ImportedLibraries()
	if err != nil || len(libraries) > 0 || f.Section(".interp") != nil {
		t.Errorf("it is not static: %v, %v", libraries, err)
	}
}
