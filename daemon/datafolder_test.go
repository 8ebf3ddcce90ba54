package daemon

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestDataAreTakenAwayFromOthers(t *testing.T) {
	c := folder(t)
	for range 2 {
		if err := c.serve(0, func() {}); err != nil {
			t.Fatal(err)
		}
	}
	if n := c.logged("data.open_to_others"); n != 0 {
		t.Fatalf("what the service made itself is open to others:\n%s", c.logs)
	}
	mode := func(path string) fs.FileMode {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		return info.Mode().Perm()
	}
	file := filepath.Join(c.data(), "journal.db")
	if err := os.Chmod(c.data(), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(file, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := c.serve(0, func() {}); err != nil {
		t.Fatal(err)
	}
	if d, f := mode(c.data()), mode(file); d != 0o700 || f != 0o600 {
		t.Errorf("the folder is %v, the journal %v", d, f)
	}
	for _, line := range []string{"what=folder mode=0755 mended=true", "what=journal.db mode=0644 mended=true"} {
		if strings.Count(c.logs.String(), "level=WARN msg=data.open_to_others "+line+"\n") != 1 {
			t.Errorf("the log does not say %q once:\n%s", line, c.logs)
		}
	}
}
