package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon/report"
	"stepgate/templates"
)

// printHandout prints a program for a patient to take home, as one file of
// HTML. It reads the clinic's files alone: no data need be there. With --for
// it is the handout of that patient.
func printHandout(cmd *cobra.Command, dir, program, lang, out string) error {
	if err := folder(dir); err != nil {
		return err
	}
	c, problems := config.Load(dir, os.Getenv)
	if c == nil {
		return problems.Errors()
	}
	words, err := templates.New()
	if err != nil {
		return err
	}
	whose, err := cmd.Flags().GetString("for")
	if err != nil {
		return fmt.Errorf("read --for: %w", err)
	}
	page, err := report.HandoutPage(c, words, report.Handout{Program: program, Patient: whose, Language: lang})
	var wrong report.HandoutError
	switch {
	case errors.As(err, &wrong):
		return usage{err}
	case err != nil:
		return err
	}
	return (&reportArgs{out: out}).write(cmd, []byte(page))
}
