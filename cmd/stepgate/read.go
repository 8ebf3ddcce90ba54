package main

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/rules"
	"stepgate/templates"
)

func readCommand() *cobra.Command {
	language, asked, asJSON := "", "", false
	cmd := &cobra.Command{
		Use:   "read DIR TEXT",
		Short: "Show what a patient's text would be taken for",
		Example: "  stepgate read my-clinic 'did it, bit sore maybe 3'\n" +
			"  stepgate read my-clinic 4 --asked pain --json",
		Args: wants("DIR", "TEXT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			question, ok := questions[asked]
			if !ok {
				return usage{fmt.Errorf("--asked wants pain or first-step, not %q", asked)}
			}
			c, problems := config.Load(args[0], os.Getenv)
			if c == nil {
				return problems.Errors()
			}
			if language == "" {
				language = c.Language
			}
			words, err := templates.Vocabulary(language)
			if err != nil {
				return usage{fmt.Errorf("--language: no reply words ship for %q", language)}
			}
			reader, err := words.Compile()
			if err != nil {
				return err
			}
			reading := reader.Read(args[1], question)
			if asJSON {
				return printJSON(cmd.OutOrStdout(), caseload.ReadingOf(reading))
			}
			printReading(cmd.OutOrStdout(), reading)
			return nil
		},
	}
	cmd.Flags().StringVar(&language, "language", "", "language of the text (default: the clinic's)")
	cmd.Flags().StringVar(&asked, "asked", "", "the number asked for last: pain or first-step")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return cmd
}

var questions = map[string]rules.Question{"": rules.AskNothing, "pain": rules.AskPain, "first-step": rules.AskFirstStep}

// printReading says it in words, a fact a line.
func printReading(out io.Writer, r rules.Reading) {
	var lines []string
	say := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	if r.Done != "" {
		say("exercises done: %s", r.Done)
	}
	side := ""
	if r.Side != "" {
		side = ", " + r.Side
	}
	if r.Pain != nil {
		say("pain today: %d of 10%s", *r.Pain, side)
	}
	if r.FirstStep != nil {
		say("pain at the first steps: %d of 10%s", *r.FirstStep, side)
	}
	if r.Wear != nil {
		say("hours worn: %g", *r.Wear)
	}
	if r.Away != nil {
		say("days away: %d", *r.Away)
	}
	if r.How != nil {
		say("asks how to do %s", map[bool]string{true: "the exercises", false: fmt.Sprintf("exercise %d", *r.How)}[*r.How == 0])
	}
	for _, f := range r.Flags {
		say("danger word: %s (%s)", f.Name, f.Tier)
	}
	for _, f := range r.Denied {
		say("danger word, said not to apply: %s", f.Name)
	}
	for text, is := range map[string]bool{
		"a blister or mark on the skin": r.Skin, "looked at the skin, nothing found": r.SkinOK, "asks to be called": r.Call, "ends the messages": r.Stop,
		"wants the messages again": r.Start, "asks for help": r.Help, "may be the wrong person": r.Wrong,
		"used a stop word inside a report: asked whether to end": r.AskStop, "a phone's echo of our own text: ignored": r.Echo,
		"something in it could not be read: passed on to the clinic": r.Unread,
	} {
		if is {
			lines = append(lines, text)
		}
	}
	slices.Sort(lines)
	fmt.Fprintln(out, strings.Join(lines, "\n"))
}
