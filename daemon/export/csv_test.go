package export

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// rowsOf reads a table and gives its rows as one line each, without the head.
func rowsOf(t *testing.T, text string) []string {
	t.Helper()
	plain, ok := strings.CutPrefix(text, "\ufeff")
	if !ok {
		t.Fatalf("no byte order mark: %.20q", text)
	}
	rows, err := readRows(plain)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for i, row := range rows {
		if len(row) != len(columns) {
			t.Fatalf("row %d has %d cells", i, len(row))
		}
		if i > 0 {
			lines = append(lines, strings.Join(row, "|"))
		}
	}
	for i, c := range rows[0] {
		if c != columns[i].Name {
			t.Fatalf("column %d is headed %q", i, c)
		}
	}
	return lines
}

// Of everybody the journal knows, whatever they agreed to; of the erased nothing.
func TestTable(t *testing.T) {
	b := aWeek(t)
	want := []string{
		"ada-1|2026-10-05|1|steady|1|1|1|2|active|tick|tick|raise calf|no|no|60|sent|first-step|1|all||5|no|||no|no",
		"ada-1|2026-10-06|2|steady|2|2|1|2|active|tick|tick|raise calf|no|no|60|rejected|pain|1|some|1||yes|90|complaint|yes|yes",
		"ada-1|2026-10-07|3|steady|3|3|1|2|active|tick|tick|raise calf|no|no|60|unknown|pain|1|none|||yes||checked|no|no",
		"ben-2|2026-10-05|1|steady|1|1|1|2|active|tick|tick|raise calf|no|no|60|delivered|pain|0||||no|||no|no",
		"ben-2|2026-10-06|2|steady|2|2|1|2|active|tick|tick|raise calf|no|no|60|undelivered|pain|1||4||no|||no|no",
		"ben-2|2026-10-07|3|steady|3|3|1|2|active|tick|tick|raise calf|no|no|60|no news|pain|0||||no|||no|no",
		"ben-2|2026-10-08|4|steady|15|4|2|2|active|tick|tick|raise calf|no|no|60|on its way|pain|0||||no|||no|no",
		"cy-3|2026-10-05|-2|steady|0|0|||active|not begun|||yes|yes|0|none||0||||no|||no|no",
		"gone-4|2026-10-05|1|steady|1|1|1|2|active|tick|tick|raise calf|no|no|60|expired|pain|0||||no|||no|no",
	}
	check := func(what string, o Options, want []string) {
		o.Form = CSV
		if got := rowsOf(t, b.write(o)); strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("%s: got\n%s\nwant\n%s", what, strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
	}
	check("all", Options{}, want)
	check("one", Options{ID: "ben-2"}, want[3:7])
	check("from and to", Options{From: oct5 + 1, To: oct5 + 2}, []string{want[1], want[2], want[4], want[5]})
	check("nobody", Options{ID: "lost-5"}, nil)
	sum, err := Summarize(b.source(), Options{Form: CSV})
	if err != nil || sum.Patients != 4 || len(sum.Left) != 0 {
		t.Errorf("summary: %+v, %v", sum, err)
	}
	for _, word := range []string{"Adalind", "Benedikt", "Gracelyn", "ada-box", "heel raises today", "some\""} {
		if strings.Contains(b.write(Options{Form: CSV}), word) {
			t.Errorf("the table holds %q", word)
		}
	}
}

// README.md has a row for each column, and for no other.
func TestColumnsAreDocumented(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	want := "| column | what stands in it |\n| --- | --- |\n"
	for _, c := range columns {
		want += fmt.Sprintf("| `%s` | %s |\n", c.Name, c.Says)
	}
	if !strings.Contains(string(readme), want+"\n") {
		t.Errorf("README.md does not have\n%s", want)
	}
}

// closely is a reader that looks whether a transaction is open while it is
// handed something.
type closely struct {
	open, most, pieces int
	breaks             bool
}

var errBroken = errors.New("the reader went away")

func (c *closely) Write(p []byte) (int, error) {
	if c.open != 0 {
		return 0, errors.New("a transaction is open while a reader is waited for")
	}
	if c.breaks && c.pieces > 1 {
		return 0, errBroken
	}
	c.pieces, c.most = c.pieces+1, max(c.most, len(p))
	return len(p), nil
}

// However many patients there are, few lie in memory and none holds the
// journal up while a reader takes its time.
func TestPieceByPiece(t *testing.T) {
	b := newBook(t, enrollmentsFile)
	const patients, days = 300, 60
	err := b.j.Update(context.Background(), func(tx *journal.Tx) error {
		for n := range patients {
			id := fmt.Sprintf("p-%04d", n)
			due := at(1, 0)
			if _, err := tx.Append(journal.Event{Kind: journal.Enrolled, ID: id, At: at(0, 0), State: &rules.State{Program: "steady"}, Due: &due}); err != nil {
				return err
			}
			for d := range rules.Date(days) {
				if _, err := tx.Append(journal.Event{Kind: journal.Decided, ID: id, At: at(int(d), 0), State: &rules.State{Program: "steady"},
					Decision: &rules.Decision{Date: oct5 + d, Day: int(d) + 1, State: rules.InActive}}); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	r := &closely{}
	s := b.source()
	s.View = func(fn func(*journal.Tx) error) error {
		r.open++
		defer func() { r.open-- }()
		return b.j.View(fn)
	}
	if err := Write(r, s, Options{Form: CSV}); err != nil {
		t.Fatal(err)
	}
	if r.pieces < 5 || r.most > 2*batch {
		t.Errorf("%d pieces, the largest of %d bytes", r.pieces, r.most)
	}
	r = &closely{breaks: true}
	if err := Write(r, s, Options{Form: CSV}); !errors.Is(err, errBroken) {
		t.Errorf("a reader that goes away: %v", err)
	}
}

func TestOptions(t *testing.T) {
	for _, o := range []Options{{Form: CSV}, {Form: FHIR, ID: "p 1&id=2", From: oct5, To: oct5, Texts: true}} {
		if got, err := ParseOptions(o.Values()); err != nil || got != o {
			t.Errorf("%+v reads back as %+v, %v", o, got, err)
		}
	}
	for _, o := range []Options{{}, {Form: "xml"}, {Form: CSV, Texts: true}, {Form: FHIR, From: 2, To: 1}} {
		if _, err := ParseOptions(o.Values()); err == nil {
			t.Errorf("%+v can be asked for", o)
		}
	}
}
