package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/rules"
)

func caseloadCommand() *cobra.Command {
	asJSON, quick := false, false
	cmd := &cobra.Command{
		Use:   "caseload DIR",
		Short: "Show where every patient stands and why",
		Args:  wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			looker := daemon.NewLooker(args[0], quick, os.Getenv)
			rows, err := looker.Caseload(cmd.Context())
			if err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			if asJSON {
				return printJSON(out, rows)
			}
			if health, err := looker.Health(cmd.Context()); err == nil {
				for _, p := range health.Problems {
					fmt.Fprintln(out, "! "+p)
				}
			}
			if len(rows) == 0 {
				fmt.Fprintln(out, "Nobody is enrolled.")
				return nil
			}
			printRows(out, rows)
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().BoolVar(&quick, "quick", false, "look at the data of quick time")
	return cmd
}

func printJSON(out io.Writer, v any) error {
	enc := json.NewEncoder(out)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

func printRows(out io.Writer, rows []caseload.Row) {
	for _, r := range rows {
		fmt.Fprintf(out, "%s (%s)  %s\n", r.ID, r.Name, standing(r))
		if r.WhyText != "" {
			fmt.Fprintf(out, "    %s\n", r.WhyText)
		}
	}
}

// standing is one line: date, step, program day, wear and state.
func standing(r caseload.Row) string {
	if r.Date == 0 {
		return string(r.State) + ", no day decided yet"
	}
	return fmt.Sprintf("%s  day %d, step %d of %d, program day %d, wear %s  %s",
		r.Date, r.Day, r.Step, r.Steps, r.ProgramDay, hours(r.WearMin), r.State)
}

func hours(minutes int) string {
	switch {
	case minutes == 0:
		return "out"
	case minutes%60 == 0:
		return fmt.Sprintf("%d h", minutes/60)
	}
	return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
}

func parseDateFlag(s string) (rules.Date, error) {
	if s == "" {
		return 0, nil
	}
	d, err := rules.ParseDate(s)
	if err != nil {
		return 0, usage{fmt.Errorf("--date: %w", err)}
	}
	return d, nil
}
