package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// row is one line of the table: a figure, beside its yardstick from the same
// run. Names and JSON keys are never renamed: today's ratio is compared with the
// kept one by name.
type row struct {
	Name      string  `json:"name"`
	What      string  `json:"what"`      // what was measured, and at which size
	Figure    string  `json:"figure"`    // such as "5,200/s"
	Yardstick string  `json:"yardstick"` // what ran beside it, with its figure; empty: nothing did
	Ratio     float64 `json:"ratio"`     // of the figure to the yardstick; 0: none
	Target    string  `json:"target"`    // empty: none
	Met       bool    `json:"met"`       // at the full size: a reduced one says nothing of it
}

// result is one run.
type result struct {
	Machine string `json:"machine"`
	Small   bool   `json:"small"`
	Some    bool   `json:"-"` // of some measures only
	Rows    []row  `json:"rows"`
}

// tablePlace is where the table stands.
var tablePlace = place{"<!-- bench:begin -->", "<!-- bench:end -->"}

// table is the result as it stands in the README.
func (r *result) table() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s.\n\n", r.Machine)
	b.WriteString("| name | what | figure | beside it | ratio | target | met |\n| --- | --- | --- | --- | --- | --- | --- |\n")
	for _, row := range r.Rows {
		b.WriteString(row.line(r.Small))
	}
	return b.String()
}

// line is a row as it stands in the table. At a reduced size no target was tried.
func (r *row) line(small bool) string {
	met := "no"
	switch {
	case small || r.Target == "":
		met = ""
	case r.Met:
		met = "yes"
	}
	return fmt.Sprintf("| %s | %s | %s | %s | %s | %s | %s |\n", r.Name, r.What, r.Figure, r.Yardstick, ratio(r.Ratio), r.Target, met)
}

func ratio(r float64) string {
	switch {
	case r == 0:
		return ""
	case r < 10:
		return strconv.FormatFloat(r, 'f', 2, 64)
	}
	return strconv.FormatFloat(r, 'f', 0, 64)
}

// beside is the result beside kept ratios, by name.
func (r *result) beside(kept map[string]string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s.\n", r.Machine)
	for _, row := range r.Rows {
		fmt.Fprintf(&b, "%-20s %-22s ratio %6s  kept %6s  target %s\n", row.Name, row.Figure, orDash(ratio(row.Ratio)), orDash(kept[row.Name]), row.Target)
	}
	return b.String()
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// into is the table with this result in it. Of a result of some measures the
// rows take the place of those with their names, and a line says so until they
// are measured once more.
func (r *result) into(old string) string {
	if !r.Some {
		return r.table()
	}
	fresh := map[string]string{}
	var names []string
	for _, row := range r.Rows {
		fresh[row.Name] = row.line(r.Small)
		names = append(names, row.Name)
	}
	var b strings.Builder
	for line := range strings.Lines(old) {
		switch name := nameOf(line); {
		case strings.HasPrefix(line, again):
			b.WriteString(without(line, names))
		case line == "\n":
			fmt.Fprintf(&b, "%s%s, %s%s.\n\n", again, strings.ToLower(r.Machine[:1])+r.Machine[1:], these, strings.Join(names, ", "))
		case fresh[name] != "":
			b.WriteString(fresh[name])
			delete(fresh, name)
		default:
			b.WriteString(line)
		}
	}
	for _, name := range names { // rows that are new
		b.WriteString(fresh[name])
	}
	return b.String()
}

// again begins a line about rows that were measured again; these comes before
// their names.
const again, these = "And ", "these: "

// without is such a line without rows that are measured once more, or "" where
// it names no others.
func without(line string, names []string) string {
	head, list, _ := strings.Cut(strings.TrimSuffix(line, ".\n"), these)
	left := slices.DeleteFunc(strings.Split(list, ", "), func(name string) bool { return slices.Contains(names, name) })
	if len(left) == 0 {
		return ""
	}
	return head + these + strings.Join(left, ", ") + ".\n"
}

// nameOf is the name of a table's row, or "".
func nameOf(line string) string {
	cells := strings.Split(line, " | ")
	if len(cells) != 7 {
		return ""
	}
	return strings.TrimPrefix(cells[0], "| ")
}

// ratios reads the ratios that a text keeps, by name.
func ratios(text string) (map[string]string, error) {
	_, table, _, err := tablePlace.parts(text)
	if err != nil {
		return nil, err
	}
	kept := map[string]string{}
	for line := range strings.Lines(table) {
		if name := nameOf(line); name != "" {
			kept[name] = strings.Split(line, " | ")[4]
		}
	}
	return kept, nil
}

// machine says on what was measured, and when.
func machine(dir string) string {
	return fmt.Sprintf("Measured %s on %d cores (%s), %s, with %s",
		time.Now().UTC().Format(time.DateOnly), runtime.GOMAXPROCS(0), runtime.GOARCH, disk(dir), runtime.Version())
}

// disk is the kind of disk that a folder lies on, as the kernel has it.
func disk(dir string) string {
	var st syscall.Stat_t
	if err := syscall.Stat(dir, &st); err != nil {
		return "a disk of unknown kind"
	}
	dev := fmt.Sprintf("/sys/dev/block/%d:%d", st.Dev>>8&0xfff, st.Dev&0xff)
	for _, at := range []string{dev, filepath.Join(dev, "..")} {
		switch v, err := os.ReadFile(filepath.Join(at, "queue", "rotational")); {
		case err != nil:
		case strings.TrimSpace(string(v)) == "1":
			return "a disk that turns, or says so"
		default:
			return "a solid-state disk"
		}
	}
	return "a disk of unknown kind"
}

var thousands = regexp.MustCompile(`(\d)(\d{3})(\D|$)`)

// count writes a number with its thousands apart.
func count(n float64) string {
	s := strconv.FormatFloat(n, 'f', 0, 64)
	for was := ""; was != s; {
		was, s = s, thousands.ReplaceAllString(s, "$1,$2$3")
	}
	return s
}

// rate is so many a second.
func rate(n int, took time.Duration) float64 { return float64(n) / took.Seconds() }

func perSecond(r float64) string { return count(r) + "/s" }

func seconds(d time.Duration) string {
	switch {
	case d < time.Millisecond:
		return strconv.FormatFloat(float64(d.Nanoseconds())/1e3, 'f', 1, 64) + " us"
	case d < time.Second:
		return strconv.FormatFloat(d.Seconds()*1e3, 'f', 1, 64) + " ms"
	}
	return strconv.FormatFloat(d.Seconds(), 'f', 1, 64) + " s"
}

func mebibytes(n int64) string { return count(float64(n)/(1<<20)) + " MiB" }
