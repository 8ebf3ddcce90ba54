package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"stepgate/rules"
)

func dischargeCommand() *cobra.Command {
	f := &entering{}
	cmd := &cobra.Command{
		Use:     "discharge DIR ID",
		Short:   "End a patient's enrollment: no more messages from that date",
		Example: "  stepgate discharge my-clinic p-01 --by 'J. Marlowe DPM' --why 'goals met'",
		Args:    wants("DIR", "ID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			_, e, on, err := f.patient(cmd, args[0], args[1])
			if err != nil {
				return err
			}
			if err := f.stillServed(e, "discharge"); err != nil {
				return err
			}
			if on < e.First() {
				return usage{fmt.Errorf("%s begins on %s, after %s; name a later date with --on, or take the enrollment out of the file", e.ID, e.First(), on)}
			}
			if err := f.write(cmd, args[0], e, rules.Entry{Kind: rules.EntryDischarge, On: on}); err != nil || f.asJSON {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "To undo it, take the line out before it counts; after that, enroll the patient under a new id.")
			return nil
		},
	}
	f.flags(cmd)
	f.whyFlag(cmd)
	return cmd
}
