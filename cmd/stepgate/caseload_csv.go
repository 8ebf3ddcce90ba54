package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"stepgate/daemon/caseload"
	"stepgate/daemon/export"
	"stepgate/rules"
)

// csvColumns are the columns of caseload --csv: added at the end, never renamed.
// done is out of due and may be a half; pain is the 14 dates up to date, oldest
// first, with a point for a date without a score; dates are like 2026-10-05, and
// a cell is empty where there is nothing.
var csvColumns = []string{"id", "name", "program", "group", "state", "since", "cause", "dispensed", "dispense_day", "date", "step", "steps",
	"done", "due", "pain", "last_pain", "wear_minutes", "wear_full_minutes", "last_report", "next_visit", "alerts"}

func printCSV(out io.Writer, rows []caseload.Row) error {
	w := csv.NewWriter(out)
	if err := w.Write(csvColumns); err != nil {
		return err
	}
	for i := range rows {
		r := &rows[i]
		last, due, done := "", "", ""
		if n := r.LastScore(); n >= 0 {
			last = strconv.Itoa(n)
		}
		if r.Due > 0 {
			due, done = strconv.Itoa(r.Due), halves(r.DoneHalves)
		}
		cells := []string{r.ID, r.Name, r.Program, string(r.Group), string(r.State), dateCell(r.StateSince), r.Cause, dateCell(r.Dispensed),
			strconv.Itoa(r.SinceDay), dateCell(r.Date), strconv.Itoa(r.Step), strconv.Itoa(r.Steps), done, due, plainScores(r.Scores), last,
			strconv.Itoa(r.WearMin), strconv.Itoa(r.WearFull), dateCell(r.LastReport), dateCell(r.Visit), strconv.Itoa(len(r.Alerts))}
		for i := range cells {
			cells[i] = export.Harmless(cells[i])
		}
		if err := w.Write(cells); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

func dateCell(d rules.Date) string {
	if d == 0 {
		return ""
	}
	return d.String()
}

// plainScores writes scores with a blank between, and a point for none.
func plainScores(scores caseload.Scores) string {
	cells := make([]string, len(scores))
	for i, n := range scores {
		if cells[i] = "."; n >= 0 {
			cells[i] = strconv.Itoa(n)
		}
	}
	return strings.Join(cells, " ")
}

// halves writes a number of halves as a decimal: 4.5.
func halves(n int) string {
	if n%2 == 0 {
		return strconv.Itoa(n / 2)
	}
	return fmt.Sprintf("%d.5", n/2)
}
