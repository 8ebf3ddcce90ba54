package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"stepgate/rules"
	"stepgate/templates"
)

func noteCommand() *cobra.Command {
	f := &entering{}
	cmd := &cobra.Command{
		Use:   "note DIR ID 'REPORT'",
		Short: "Write down a report taken by phone; it counts as the patient's text would",
		Long: "Write down a report that a patient gave by phone, with the letters or words that a text\n" +
			"of theirs would have, in their language: 'P2 D' is pain 2, done. It is heard when the\n" +
			"service reads it: pain holds, a danger word pauses and alerts. Nothing is answered.\n" +
			"The same words on the same date count once; a second call says so with --why.",
		Example: "  stepgate note my-clinic p-01 'P2 D' --by 'front desk'\n" +
			"  stepgate note my-clinic p-01 'P2 D' --by 'front desk' --why 'second call, 14:20'",
		Args: wants("DIR", "ID", "REPORT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			_, e, on, err := f.patient(cmd, args[0], args[1])
			if err != nil {
				return err
			}
			said := strings.Join(strings.Fields(args[2]), " ")
			reading, err := heardAs(said, e.Language)
			if err != nil {
				return err
			}
			if !f.asJSON {
				printReading(cmd.OutOrStdout(), reading)
				if gone := f.stillServed(e, "change"); gone != nil {
					fmt.Fprintln(cmd.OutOrStdout(), "The patient is discharged: it is kept, and a danger word still alerts; nothing else follows.")
				}
			}
			return f.write(cmd, args[0], e, rules.Entry{Kind: rules.EntryReport, On: on, Said: said})
		},
	}
	f.flags(cmd)
	cmd.Flags().StringVar(&f.why, "why", "", "what to add for the record, or what tells a second call with the same words from the first")
	return cmd
}

// heardAs reads a report as the service will, and refuses one that says
// nothing.
func heardAs(said, language string) (rules.Reading, error) {
	words, err := templates.Vocabulary(language)
	if err != nil {
		return rules.Reading{}, err
	}
	reader, err := words.Compile()
	if err != nil {
		return rules.Reading{}, err
	}
	r := reader.Read(said, rules.AskNothing)
	switch {
	case r.Start:
		return r, usage{errors.New("only the patient can begin the messages again, by sending START from their own phone or address")}
	case r.Report(), r.Stop, r.Away != nil, r.Call, r.Wrong, len(r.Denied) > 0:
		return r, nil
	case strings.Trim(said, "0123456789 ") == "":
		return r, usage{fmt.Errorf("a bare number says nothing here; write it with its letter, as in a text of the patient's (stepgate read shows what a text is taken for)")}
	}
	return r, usage{fmt.Errorf("nothing in %q reads as a report in this patient's language (%s); write it as a text of theirs would have it, such as 'P2 D' in English", said, language)}
}
