package export

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"

	"stepgate/daemon/journal"
)

// Column is a column of the table.
type Column struct {
	Name string
	Says string // what stands in it, for README.md and the command's help
	cell func(id string, d *journal.Day) string
}

// Columns are those of the table, in order. Names are a contract: never
// renamed; new ones are added at the end.
func Columns() []Column { return columns }

var columns = []Column{
	{"patient", "id of the enrollment", func(id string, _ *journal.Day) string { return id }},
	{"date", "local date, as 2026-10-05", func(_ string, d *journal.Day) string { return d.Date.String() }},
	{"day", "calendar day: 1 on the start date; 0 and less before it", func(_ string, d *journal.Day) string { return strconv.Itoa(d.D) }},
	{"program", "id of the program that was served", func(_ string, d *journal.Day) string { return d.Program }},
	{"program_day", "how far the exercises have come, in days; 0: not begun", func(_ string, d *journal.Day) string { return strconv.Itoa(d.P) }},
	{"wear_day", "how far the wear-in has come, in days; 0: not begun", func(_ string, d *journal.Day) string { return strconv.Itoa(d.W) }},
	{"step", "step of the dose table, from 1; empty: the exercises have not begun, or there are none", func(_ string, d *journal.Day) string { return over(d.Step, 0) }},
	{"steps", "how many steps the program had; empty: none", func(_ string, d *journal.Day) string { return over(d.Steps, 0) }},
	{"state", "where the patient stood: active, waiting, held, eased, paused, away, maintenance, suspended, opted out, finished or discharged", func(_ string, d *journal.Day) string { return string(d.State) }},
	{"why", "code of why the program day moved or waited", func(_ string, d *journal.Day) string { return string(d.Why) }},
	{"wear_why", "the same of the wear day", func(_ string, d *journal.Day) string { return string(d.WearWhy) }},
	{"exercises_due", "ids of the exercises the day's message asked for, with a space between; empty: none", func(_ string, d *journal.Day) string { return due(d) }},
	{"rest", "yes: nothing to do because of pain; or no", func(_ string, d *journal.Day) string { return yes(d.Rest) }},
	{"eased", "yes: less than the step's dose; or no", func(_ string, d *journal.Day) string { return yes(d.Eased) }},
	{"wear_asked_min", "minutes of wear asked; 0: none, or the devices are out", func(_ string, d *journal.Day) string { return strconv.Itoa(d.Wear) }},
	{"message", "what became of the day's message: none (none was due), on its way, sent, no news, delivered, undelivered, rejected, unknown or expired", func(_ string, d *journal.Day) string { return fate(d) }},
	{"asked", "the number it asked for; empty: none", func(_ string, d *journal.Day) string { return string(d.Ask) }},
	{"reports", "texts of the patient's that held a report", func(_ string, d *journal.Day) string { return strconv.Itoa(d.Reports) }},
	{"done", "what was reported of the exercises: all, some, none; empty: nothing", func(_ string, d *journal.Day) string { return done(d) }},
	{"pain", "worst foot or leg pain reported, 0 to 10; empty: none reported", func(_ string, d *journal.Day) string { return over(d.Score, -1) }},
	{"first_step_pain", "worst pain at the first steps reported, 0 to 10; empty: none reported", func(_ string, d *journal.Day) string { return over(d.FirstStep, -1) }},
	{"pain_corrected", "yes: a clinician struck or replaced the pain reported; or no", func(_ string, d *journal.Day) string { return yes(d.Struck) }},
	{"wear_reported_min", "fewest minutes of wear reported; empty: none reported", func(_ string, d *journal.Day) string { return over(d.Worn, -1) }},
	{"skin", "complaint, checked (looked at, nothing found), or empty: nothing reported", func(_ string, d *journal.Day) string { return skin(d) }},
	{"danger_word", "yes: a text held a danger word; or no", func(_ string, d *journal.Day) string { return yes(d.Flag) }},
	{"call_asked", "yes: the patient asked to be called; or no", func(_ string, d *journal.Day) string { return yes(d.Call) }},
}

// over writes a number, and nothing where it is not over the one that stands
// for none.
func over(n, none int) string {
	if n <= none {
		return ""
	}
	return strconv.Itoa(n)
}

// due are the exercises that were asked for. In a pause the plan may have some
// on a date on which nothing goes out.
func due(d *journal.Day) string {
	if !d.Sent {
		return ""
	}
	return strings.Join(d.Due, " ")
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func fate(d *journal.Day) string {
	switch {
	case d.Fate != "":
		return d.Fate
	case d.Sent:
		return "on its way"
	}
	return "none"
}

// done is the most that was reported of the exercises, as the rules count it.
func done(d *journal.Day) string {
	switch {
	case d.Halves >= 2:
		return "all"
	case d.Halves == 1:
		return "some"
	case d.None:
		return "none"
	}
	return ""
}

func skin(d *journal.Day) string {
	switch {
	case d.Skin:
		return "complaint"
	case d.SkinOK:
		return "checked"
	}
	return ""
}

// bom tells a spreadsheet that the file is UTF-8: without it one takes such a
// file for its own code page. See "Opening CSV UTF-8 files correctly in Excel",
// support.microsoft.com; the other common one reads it too.
const bom = "\ufeff"

// table writes the CSV.
func (s Source) table(w io.Writer, ids []string, o Options) error {
	head := make([]string, len(columns))
	for i, c := range columns {
		head[i] = c.Name
	}
	var buf bytes.Buffer
	buf.WriteString(bom)
	writeRow(&buf, head)
	if _, err := buf.WriteTo(w); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	cells := make([]string, len(columns))
	return s.stream(w, ids, func(buf *bytes.Buffer, tx *journal.Tx, id string, _ *journal.Person) error {
		days, err := tx.Days(id, o.From, o.To)
		if err != nil {
			return err
		}
		for i := range days {
			for k, c := range columns {
				cells[k] = c.cell(id, &days[i])
			}
			writeRow(buf, cells)
		}
		return nil
	})
}
