package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"stepgate/rules"
)

func holdCommand() *cobra.Command {
	f, until := &entering{}, ""
	cmd := &cobra.Command{
		Use:   "hold DIR ID",
		Short: "Have a patient's program wait where it stands, until a release",
		Example: "  stepgate hold my-clinic p-01 --by 'J. Marlowe DPM' --why swollen\n" +
			"  stepgate hold my-clinic p-01 --by 'J. Marlowe DPM' --until 2026-12-10",
		Args: wants("DIR", "ID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			_, e, on, err := f.patient(cmd, args[0], args[1])
			if err != nil {
				return err
			}
			if err := f.stillServed(e, "hold"); err != nil {
				return err
			}
			entries := []rules.Entry{{Kind: rules.EntryHold, On: on}}
			if until != "" {
				end, err := rules.ParseDate(until)
				if err != nil || end <= on {
					return usage{fmt.Errorf("--until wants the date the hold ends, after %s, like %s", on, on+7)}
				}
				entries = append(entries, rules.Entry{Kind: rules.EntryRelease, On: end, OfHold: on})
			}
			return f.write(cmd, args[0], e, entries...)
		},
	}
	f.flags(cmd)
	f.whyFlag(cmd)
	cmd.Flags().StringVar(&until, "until", "", "the date of a release, written at once")
	return cmd
}
