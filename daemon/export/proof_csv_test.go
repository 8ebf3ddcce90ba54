//go:build proof

package export

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// readPython has Python's csv module read a table, as a reader of its own.
const readPython = `
import csv, json, sys
with open(sys.argv[1], encoding="utf-8-sig", newline="") as f:
    json.dump(list(csv.reader(f, strict=True)), sys.stdout)
`

// Python's csv module reads what was written: the made-up week, and cells with
// everything in them that has a meaning in a table.
func TestProofPythonReadsTheTable(t *testing.T) {
	var odd bytes.Buffer
	for _, row := range [][]string{
		{"plain", "", "a,b", "say \"no\"", "two\r\nlines", "one\nline", "ébène ＝ 日本"},
		{"=1+1", "-1", "+1", "@x", "\ttab", "'quoted'", " =1"},
		{"\"", ",", "\r", "\n", "\r\n", "\"\"", "'"},
	} {
		writeRow(&odd, row)
	}
	for name, text := range map[string]string{"week": aWeek(t).write(Options{Form: CSV}), "odd": bom + odd.String()} {
		path := filepath.Join(t.TempDir(), name+".csv")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("python3", "-c", readPython, path).Output()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var got [][]string
		if err := json.Unmarshal(out, &got); err != nil {
			t.Fatal(err)
		}
		want, err := readRows(strings.TrimPrefix(text, bom))
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: Python reads\n%q\nwant\n%q", name, got, want)
		}
	}
}
