package main

import (
	"context"
	"fmt"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/caseload"
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
			if err := f.stillServed(e, "release"); err != nil {
				return err
			}
			if on <= f.today && onlyPain(cmd.Context(), args[0], e) {
				return usage{fmt.Errorf("%s has a pain hold alone, which no release ends: it ends by itself after days with easy answers; nothing was written", e.ID)}
			}
			return f.write(cmd, args[0], e, rules.Entry{Kind: rules.EntryRelease, On: on, AsBefore: asBefore})
		},
	}
	f.flags(cmd)
	f.whyFlag(cmd)
	cmd.Flags().BoolVar(&asBefore, "as-before", false, "the pause was a false alarm: back to where the patient stood")
	return cmd
}

// onlyPain tells whether a patient is held, and by pain alone, as far as the
// service or the journal says. In doubt it is false: a release too many does less
// harm than one that can't be written.
func onlyPain(ctx context.Context, dir string, e *config.Enrollment) bool {
	holds := false
	for _, n := range e.Entries {
		switch {
		case n.Kind == rules.EntryHold:
			holds = true
		case n.Kind == rules.EntryRelease && n.OfHold == 0:
			holds = false
		}
	}
	if holds {
		return false
	}
	b, _, err := daemon.NewLooker(dir, false, os.Getenv).Board(ctx, caseload.Query{Only: []string{"held", "eased"}})
	return err == nil && slices.ContainsFunc(b.Rows, func(r caseload.Row) bool {
		return r.ID == e.ID && (r.State == rules.InHeld || r.State == rules.InEased)
	})
}
