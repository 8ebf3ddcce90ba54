package main

import (
	"github.com/spf13/cobra"

	"stepgate/rules"
)

func releaseCommand() *cobra.Command {
	f, asBefore := &entering{}, false
	cmd := &cobra.Command{
		Use:   "release DIR ID",
		Short: "End a patient's pause or a clinician's hold; a pain hold ends by itself only",
		Long: "End a patient's pause or a clinician's hold. A pain hold is not ended by it: that takes\n" +
			"days with easy answers. The program goes on from where the step back left it, or with\n" +
			"--as-before, for a false alarm, from where it stood.",
		Example: "  stepgate release my-clinic p-01 --by 'J. Marlowe DPM' --why 'seen at the clinic'",
		Args:    wants("DIR", "ID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			_, e, on, err := f.patient(cmd, args[0], args[1])
			if err != nil {
				return err
			}
			if err := stillServed(e, "release"); err != nil {
				return err
			}
			return f.write(cmd, args[0], e, rules.Entry{Kind: rules.EntryRelease, On: on, AsBefore: asBefore})
		},
	}
	f.flags(cmd)
	f.whyFlag(cmd)
	cmd.Flags().BoolVar(&asBefore, "as-before", false, "the pause was a false alarm: back to where the patient stood")
	return cmd
}
