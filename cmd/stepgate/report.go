package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/control"
	"stepgate/templates"
)

// reportArgs are the flags of report.
type reportArgs struct {
	note, asJSON, force, quick bool
	lang, out, handout         string
}

func reportCommand() *cobra.Command {
	var a reportArgs
	cmd := &cobra.Command{
		Use:   "report DIR [ID]",
		Short: "Make the page for a review visit, or the clinic's page",
		Long: `Make one file of HTML that needs nothing else: with an id that patient's record for
the review visit, which prints to two pages; without one the caseload, whom to call
first, and the outcomes. --note is plain text to paste into any record, and --handout
a program for a patient to take home.

A page holds names and what was reported: keep the file as you keep the record.`,
		Example: `  stepgate report my-clinic p-01 --out p-01.html
  stepgate report my-clinic --out clinic.html
  stepgate report my-clinic p-01 --note
  stepgate report my-clinic --handout easy-start --out handout.html`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := a.check(cmd, args); err != nil {
				return err
			}
			if a.handout != "" {
				return printHandout(cmd, args[0], a.handout, a.lang, a.out)
			}
			body, err := a.make(cmd, args)
			if err != nil {
				return err
			}
			return a.write(cmd, body)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&a.note, "note", false, "a paragraph and a table in plain text, with an ID")
	f.BoolVar(&a.asJSON, "json", false, "the facts of the page as JSON")
	f.StringVar(&a.out, "out", "", "write to this `FILE`, which only you can read")
	f.BoolVar(&a.force, "force", false, "let --out replace a file that is no report")
	f.StringVar(&a.lang, "lang", "", "language of a patient's page, such as en (default en) or of a handout")
	f.StringVar(&a.handout, "handout", "", "the handout of this `PROGRAM`")
	f.String("for", "", "with --handout: as it is for the patient with this `ID`")
	f.BoolVar(&a.quick, "quick", false, "look at the data of quick time")
	return cmd
}

// check refuses flags that don't go together, and a file that is not ours to
// replace, before anything is read.
func (a *reportArgs) check(cmd *cobra.Command, args []string) error {
	if len(args) != 1 && len(args) != 2 {
		return usage{fmt.Errorf("%s wants 1 or 2 arguments: %s", cmd.CommandPath(), cmd.Use)}
	}
	if err := folder(args[0]); err != nil {
		return err
	}
	switch {
	case a.handout != "" && len(args) == 2:
		return usage{errors.New("--handout is of a program and takes no ID; --for ID makes it that patient's")}
	case a.handout != "" && (a.note || a.asJSON):
		return usage{errors.New("--handout is a page of its own, and goes with neither --note nor --json")}
	case a.handout == "" && cmd.Flags().Changed("for"):
		return usage{errors.New("--for goes with --handout")}
	case a.note && a.asJSON:
		return usage{errors.New("--note and --json are two forms of the report; ask for one")}
	case a.note && len(args) == 1:
		return usage{errors.New("--note is of one patient: add an ID")}
	case len(args) == 1 && a.handout == "" && a.lang != "" && a.lang != "en":
		return usage{errors.New("the clinic's page is in English; --lang is for a patient's page or a handout")}
	}
	return a.mayWrite(cmd)
}

// mayWrite refuses to replace a file that is no report of ours, and to fill a
// terminal with HTML.
func (a *reportArgs) mayWrite(cmd *cobra.Command) error {
	if a.out == "" {
		if page := !a.note && !a.asJSON; page && toTerminal(cmd.OutOrStdout()) {
			return usage{errors.New("the page is HTML, for a browser: write it to a file with --out FILE")}
		}
		return nil
	}
	old, err := os.ReadFile(a.out)
	switch {
	case errors.Is(err, fs.ErrNotExist) || a.force:
		return nil
	case err != nil:
		return fmt.Errorf("look at the file to write: %w", err)
	case !bytes.Contains(old[:min(len(old), 4096)], []byte(templates.ReportMark)):
		return usage{fmt.Errorf("%s is there and is no report; name another file, or replace it with --force", a.out)}
	}
	return nil
}

// make gathers what is asked for and puts it into its form.
func (a *reportArgs) make(cmd *cobra.Command, args []string) ([]byte, error) {
	words, err := templates.New()
	if err != nil {
		return nil, err
	}
	looker := daemon.NewLooker(args[0], a.quick, os.Getenv)
	if len(args) == 1 {
		c, err := looker.ClinicReport(cmd.Context())
		switch {
		case err != nil:
			return nil, err
		case a.asJSON:
			return indented(c)
		}
		return c.Page(words, false), nil
	}
	if a.lang == "" {
		a.lang = "en"
	}
	if !words.Reports(a.lang) {
		return nil, usage{fmt.Errorf("--lang: there are no words for reports in %q", a.lang)}
	}
	p, err := looker.PatientReport(cmd.Context(), args[1], a.lang)
	switch {
	case errors.Is(err, control.ErrNotFound):
		return nil, usage{fmt.Errorf("nobody is enrolled as %q; stepgate caseload %s lists the ids", args[1], args[0])}
	case err != nil:
		return nil, err
	case a.asJSON:
		return indented(p)
	case a.note:
		return []byte(words.Note(*p)), nil
	}
	return words.PatientReport(*p, ""), nil
}

func indented(v any) ([]byte, error) {
	b, err := json.MarshalIndent(v, "", "  ")
	return append(b, '\n'), err
}

// write prints the report, or writes it whole into a file of its owner's.
func (a *reportArgs) write(cmd *cobra.Command, body []byte) error {
	if a.out == "" {
		_, err := cmd.OutOrStdout().Write(body)
		return err
	}
	if err := wholeFile(a.out, func(w io.Writer) error { _, err := w.Write(body); return err }); err != nil {
		return err
	}
	fmt.Fprintf(cmd.ErrOrStderr(), "%s is written; only you can read it.\n", a.out)
	return nil
}
