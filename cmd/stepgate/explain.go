package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
)

func explainCommand() *cobra.Command {
	asJSON, quick, date := false, false, ""
	cmd := &cobra.Command{
		Use:   "explain DIR ID",
		Short: "Tell why a patient's day was decided as it was",
		Example: "  stepgate explain my-clinic p-01\n" +
			"  stepgate explain my-clinic p-01 --date 2026-10-05",
		Args: wants("DIR", "ID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			d, err := parseDateFlag("--date", date)
			if err != nil {
				return err
			}
			story, err := daemon.NewLooker(args[0], quick, os.Getenv).Explain(cmd.Context(), args[1], d)
			if errors.Is(err, control.ErrNotFound) {
				return usage{fmt.Errorf("nobody is enrolled as %q; stepgate caseload %s lists the ids", args[1], args[0])}
			}
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), story)
			}
			printStory(newTerminal(cmd.OutOrStdout(), false), story, date)
			return nil
		},
	}
	cmd.Flags().StringVar(&date, "date", "", "the date to explain, like 2026-10-05 (default: the last decided)")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().BoolVar(&quick, "quick", false, "look at the data of quick time")
	return cmd
}

func printStory(p terminal, s *caseload.Story, date string) {
	p.quick(s.Quick)
	if s.Decision == nil {
		if date == "" {
			date = "any date"
		}
		p.hang(fmt.Sprintf("%s (%s): %s was not decided. A date before the start, or one the service slept through, never is.", s.ID, s.Name, date))
		return
	}
	d := s.Decision
	p.hang(fmt.Sprintf("%s (%s), %s: day %d, step %d of %d, program day %d, wear day %d, %s",
		s.ID, s.Name, d.Date.Time().Format("Mon Jan 2 2006"), d.Day, d.Step, d.Steps, d.P, d.W, d.State))
	p.wrap("", 2, s.Text)
	if len(s.Events) > 0 {
		p.hang("What happened that day and the day before:")
	}
	for _, st := range s.Events {
		head := fmt.Sprintf("  %s  %-8s ", st.At.Format("Mon Jan 2 15:04"), st.Kind)
		if p.narrow() {
			p.line(head)
			p.wrap("", 4, st.Text)
			continue
		}
		p.wrap(head, cells(head), st.Text)
	}
}
