package config

import (
	"os"
	"path/filepath"
	"testing"
)

// The data folder is found while the rest of the file is wrong.
func TestDataDir(t *testing.T) {
	for text, want := range map[string]string{
		"data: kept\nclinic: [1, 2\n":         "data", // no YAML at all: the usual place
		"data: kept\nclinic: {nam: X}\n":      "kept",
		"clinic: {data: other}\n":             "data",
		"data: {a: b}\n":                      "data",
		"data: /var/lib/clinic/../clinic-a\n": "/var/lib/clinic-a",
		"":                                    "data",
		"- data\n":                            "data",
	} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "stepgate.yaml"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if !filepath.IsAbs(want) {
			want = filepath.Join(dir, want)
		}
		if got := DataDir(dir); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
	}
	dir := t.TempDir()
	if got := DataDir(dir); got != filepath.Join(dir, "data") {
		t.Errorf("no file: %s", got)
	}
}
