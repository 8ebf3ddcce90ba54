package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/rules"
)

func caseloadCommand() *cobra.Command {
	asJSON, asCSV, quick, ascii, why := false, false, false, false, false
	q := caseload.Query{}
	cmd := &cobra.Command{
		Use:   "caseload DIR",
		Short: "Show who needs a look first, then where everybody stands",
		Long: `Show who needs a look first and why, then where everybody else stands.

Day counts from the date of dispense. Done is of the last 7 days with exercises.
Pain is the worst of each of the last 14 days, then the last score as a number.
Wear is the hours asked now, of the full time.

--only takes the names of groups (danger, paused, skin, call, unreached,
opted-out, held, silent, alert, review, on-course, away, not-begun, ended) and
of states (active, waiting, maintenance, eased, suspended, finished, discharged).`,
		Example: "  stepgate caseload my-clinic\n" +
			"  stepgate caseload my-clinic --only paused,held,silent\n" +
			"  stepgate caseload my-clinic --program easy-start --sort pain --limit 20\n" +
			"  stepgate caseload my-clinic --csv > caseload.csv",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if asJSON && asCSV {
				return usage{errors.New("--json and --csv: choose one")}
			}
			if q.Sort == "" && (asJSON || asCSV) {
				q.Sort = "id" // what a script reads keeps its order
			}
			looker, err := boardOf(args[0], quick, &q)
			if err != nil {
				return err
			}
			b, running, err := looker.Board(cmd.Context(), q)
			if err != nil {
				return err
			}
			if q.Program != "" && !slices.Contains(b.Programs, q.Program) {
				return unknown(caseload.UnknownError{Flag: "--program", Got: q.Program, Known: b.Programs})
			}
			out := cmd.OutOrStdout()
			switch {
			case asJSON:
				return printJSON(out, b.Rows)
			case asCSV:
				return printCSV(out, b.Rows)
			}
			p := boardPage{terminal: newTerminal(out, ascii), dir: args[0], grouped: q.Sort == "need", why: why}
			if health, err := looker.Health(cmd.Context()); err == nil {
				for _, problem := range health.Problems {
					p.hang("! " + problem)
				}
			}
			p.print(b, running)
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&q.Sort, "sort", "", "order: need, id, day, pain, done or last (default need; with --json and --csv id)")
	f.StringSliceVar(&q.Only, "only", nil, "only these groups or states, like held,silent")
	f.StringVar(&q.Program, "program", "", "only the patients of this program, by its id")
	f.IntVar(&q.Limit, "limit", 0, "at most so many rows (0: all)")
	f.BoolVar(&why, "why", false, "add which rule it was, with its place in the files")
	f.BoolVar(&ascii, "ascii", false, "plain digits instead of the small chart (default where the locale is not UTF-8)")
	f.BoolVar(&asJSON, "json", false, "print as JSON")
	f.BoolVar(&asCSV, "csv", false, "print as CSV, a header and a row a patient")
	f.BoolVar(&quick, "quick", false, "look at the data of quick time")
	return cmd
}

// boardOf checks what was asked before anything is looked at.
func boardOf(dir string, quick bool, q *caseload.Query) (*daemon.Looker, error) {
	if err := folder(dir); err != nil {
		return nil, err
	}
	if err := q.Check(); err != nil {
		return nil, unknown(err)
	}
	return daemon.NewLooker(dir, quick, os.Getenv), nil
}

// unknown is an error of use, with what may have been meant.
func unknown(err error) error {
	var word caseload.UnknownError
	if !errors.As(err, &word) {
		return usage{err}
	}
	if like := near(word.Got, word.Known); len(like) > 0 {
		return usage{fmt.Errorf("%w; did you mean %s?", err, like[0])}
	}
	return usage{err}
}

func printJSON(out io.Writer, v any) error {
	enc := json.NewEncoder(out)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

func parseDateFlag(flag, s string) (rules.Date, error) {
	if s == "" {
		return 0, nil
	}
	d, err := rules.ParseDate(s)
	if err != nil {
		return 0, usage{fmt.Errorf("%s: %w", flag, err)}
	}
	return d, nil
}
