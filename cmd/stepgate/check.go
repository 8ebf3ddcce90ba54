package main

import (
	"encoding/json"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"stepgate/config"
)

func checkCommand() *cobra.Command {
	asJSON := false
	cmd := &cobra.Command{
		Use:   "check DIR",
		Short: "Read a clinic folder and report every problem in it",
		Args:  wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if info, err := os.Stat(args[0]); err != nil || !info.IsDir() {
				return usage{fmt.Errorf("%s is not a folder", args[0])}
			}
			c, problems := config.Load(args[0], os.Getenv)
			if asJSON {
				return checkJSON(cmd, c, problems)
			}
			out := cmd.OutOrStdout()
			for _, p := range problems {
				fmt.Fprintln(out, p)
			}
			if c == nil {
				fmt.Fprintf(out, "%d to put right before this folder can be served.\n", len(problems.Errors()))
				return notWell
			}
			fmt.Fprintf(out, "%s: %d programs, %d enrolled, nothing to put right", c.Name, len(c.Programs), len(c.Enrollments))
			if n := len(problems); n > 0 {
				fmt.Fprintf(out, ", %d worth a look", n)
			}
			fmt.Fprintln(out, ".")
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return cmd
}

// problemJSON is a problem as --json prints it; a contract.
type problemJSON struct {
	File    string `json:"file"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	What    string `json:"what"`
	Do      string `json:"do"`
	Warning bool   `json:"warning"`
}

func checkJSON(cmd *cobra.Command, c *config.Clinic, problems config.Problems) error {
	list := make([]problemJSON, len(problems))
	for i, p := range problems {
		list[i] = problemJSON{p.At.File, p.At.Line, p.At.Column, p.What, p.Do, p.Warning}
	}
	enc := json.NewEncoder(cmd.OutOrStdout())
	enc.SetIndent("", "  ")
	if err := enc.Encode(map[string]any{"ok": c != nil, "problems": list}); err != nil {
		return err
	}
	if c == nil {
		return notWell
	}
	return nil
}
