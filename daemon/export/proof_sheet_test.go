//go:build proof

package export

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// sheetCell is a cell as a spreadsheet took it, by OpenDocument 1.3, 19.
type sheetCell struct {
	Formula string   `xml:"formula,attr"`
	Type    string   `xml:"value-type,attr"`
	Date    string   `xml:"date-value,attr"`
	Repeat  int      `xml:"number-columns-repeated,attr"`
	Text    []string `xml:"p"`
}

// sheetOf has a spreadsheet open a table, and gives the cells of its rows. With
// nobody to ask, it has to be told what its dialog would propose or ask: comma,
// quote and UTF-8 (44, 34, 76: wiki.documentfoundation.org, "Filter Options").
func sheetOf(t *testing.T, text string) [][]sheetCell {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "table.csv"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("soffice", "--headless", "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--infilter=CSV:44,34,76",
		"--convert-to", "fods", "--outdir", dir, filepath.Join(dir, "table.csv"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	raw, err := os.ReadFile(filepath.Join(dir, "table.fods"))
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Rows []struct {
			Cells []sheetCell `xml:"table-cell"`
		} `xml:"body>spreadsheet>table>table-row"`
	}
	if err := xml.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	var rows [][]sheetCell
	for _, r := range doc.Rows {
		var row []sheetCell
		for _, c := range r.Cells {
			row = append(row, slices.Repeat([]sheetCell{c}, min(max(1, c.Repeat), 1000))...)
		}
		rows = append(rows, row)
	}
	return rows
}

// A spreadsheet opens the table: dates are dates, numbers numbers, letters
// themselves, the mark at its start is in no cell, and no cell is a formula. The
// one that is not neutralized shows that it would have been computed.
// It needs soffice (Debian: libreoffice-calc-nogui).
func TestProofSpreadsheetOpensTheTable(t *testing.T) {
	rows := sheetOf(t, aWeek(t).write(Options{Form: CSV}))
	if len(rows) < 10 {
		t.Fatalf("%d rows", len(rows))
	}
	for i, c := range columns {
		if got := strings.Join(rows[0][i].Text, "\n"); got != c.Name {
			t.Errorf("column %d is headed %q, want %q", i, got, c.Name)
		}
	}
	type want struct{ kind, text string }
	for i, w := range map[int]want{0: {"string", "ada-1"}, 1: {"date", "2026-10-06"}, 2: {"float", "2"}, 11: {"string", "raise calf"}, 20: {"", ""}, 22: {"float", "90"}} {
		if c := rows[2][i]; c.Type != w.kind || strings.Join(c.Text, "\n") != w.text {
			t.Errorf("%s: %+v, want %v", columns[i].Name, c, w)
		}
	}
	if rows[2][1].Date != "2026-10-06" {
		t.Errorf("the date: %+v", rows[2][1])
	}
	var odd bytes.Buffer
	cells := []string{"=1+1", "+1", "-1-1", "@SUM(1)", "\t=1", "\r=1", "＝1+1", " =1+1", "'=1+1", "ébène 日本"}
	writeRow(&odd, cells)
	rows = sheetOf(t, bom+odd.String()+"=1+1\r\n")
	for i, cell := range cells {
		if c := rows[0][i]; c.Type != "string" || c.Formula != "" {
			t.Errorf("%q was taken as %+v", cell, c)
		}
	}
	if got := fmt.Sprint(rows[0][9].Text); got != "[ébène 日本]" {
		t.Errorf("letters: %s", got)
	}
	if c := rows[1][0]; c.Formula == "" || fmt.Sprint(c.Text) != "[2]" {
		t.Errorf("a cell that nobody neutralized: %+v", c)
	}
}
