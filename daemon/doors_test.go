package daemon

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// TestDoors keeps the rooms' one-way doors: who may import what.
func TestDoors(t *testing.T) {
	imports := listImports(t)
	if len(imports) < 6 {
		t.Fatalf("go list gave only %d packages", len(imports))
	}
	ours := func(p string) bool { return p == "stepgate" || strings.HasPrefix(p, "stepgate/") }
	room := func(p string) string {
		p = strings.TrimPrefix(p, "stepgate/")
		first, _, _ := strings.Cut(p, "/")
		return first
	}
	// Which of our rooms a room may use besides itself.
	may := map[string][]string{
		"cmd":       {"daemon", "notify", "config", "templates", "rules"},
		"daemon":    {"notify", "config", "templates", "rules", "testdata"},
		"config":    {"rules"},
		"templates": {"rules"},
		"rules":     {},
		"notify":    {},
		"testdata":  {},
	}
	const bench = "stepgate/cmd/bench" // has yardsticks of its own
	yardsticks := []string{"go.etcd.io/bbolt", "golang.org/x/time"}
	// Outside packages that have one door.
	only := map[string]string{
		"go.etcd.io/bbolt":            "stepgate/daemon/journal",
		"github.com/twilio/":          "stepgate/notify",
		"github.com/wneessen/go-mail": "stepgate/notify",
		"github.com/knadh/koanf":      "stepgate/config",
		"github.com/robfig/cron":      "stepgate/daemon",
		"golang.org/x/time":           "stepgate/daemon",
		"github.com/fsnotify":         "stepgate/daemon",
		"github.com/prometheus/":      "stepgate/daemon",
		"github.com/samply/":          "stepgate/daemon/export",
		"gonum.org/":                  "stepgate/daemon/outcomes",
		"github.com/klauspost/":       "stepgate/daemon/journal",
	}
	for pkg, list := range imports {
		from := room(pkg)
		allowed, known := may[from]
		if !known {
			t.Errorf("%s is in no room of the design", pkg)
		}
		for _, imp := range list {
			switch {
			case ours(imp) && room(imp) != from && !slices.Contains(allowed, room(imp)):
				t.Errorf("%s imports %s: %s may not use %s", pkg, imp, from, room(imp))
			case !ours(imp) && from == "rules" && strings.Contains(strings.Split(imp, "/")[0], "."):
				t.Errorf("%s imports %s: rules uses the standard library only", pkg, imp)
			}
			for prefix, home := range only {
				if strings.HasPrefix(imp, prefix) && pkg != home && !(pkg == bench && slices.Contains(yardsticks, prefix)) {
					t.Errorf("%s imports %s, which only %s may", pkg, imp, home)
				}
			}
		}
	}
	// The stand-in carrier is for tests, for its own command and for the bench.
	for pkg, list := range imports {
		for _, standIn := range []string{"stepgate/notify/carriertest", "stepgate/cmd/carrier"} {
			if slices.Contains(list, standIn) && pkg != "stepgate/cmd/carrier" && pkg != bench {
				t.Errorf("%s imports %s", pkg, standIn)
			}
		}
	}
	for _, pkg := range []string{"os", "time/tzdata", "log", "log/slog", "net", "net/http", "io"} {
		for _, in := range []string{"stepgate/rules", "stepgate/rules/reply"} {
			if slices.Contains(imports[in], pkg) {
				t.Errorf("%s imports %s: no clock, no I/O, no logging there", in, pkg)
			}
		}
	}
}

func listImports(t *testing.T) map[string][]string {
	t.Helper()
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "stepgate/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	imports := map[string][]string{}
	for line := range strings.Lines(string(out)) {
		fields := strings.Fields(line)
		imports[fields[0]] = fields[1:]
	}
	return imports
}
