package main

import (
	"errors"
	"fmt"
	"os"
	"os/user"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/journal"
)

// The commands that keep the journal: verify, backup, restore, compact, erase.

func verifyCommand() *cobra.Command {
	asJSON, quick := false, false
	cmd := &cobra.Command{
		Use:     "verify DIR",
		Short:   "Check the journal whole: its chain, its contents, and all that follows from them",
		Example: "  stepgate verify my-clinic",
		Args:    wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			rep, err := daemon.VerifyJournal(cmd.Context(), args[0], quick)
			if err != nil {
				return nothingYet(err)
			}
			out := cmd.OutOrStdout()
			if asJSON {
				if err := printJSON(out, rep); err != nil {
					return err
				}
			} else {
				fmt.Fprintf(out, "The journal is whole: %s, %s, %s of erased content, %s.\n", plural(rep.Events, "event"),
					plural(rep.Subjects-1, "patient"), plural(rep.Erased, "event"), plural(rep.Files, "kept file"))
				d := rep.Decided
				fmt.Fprintf(out, "Decided again: %s the same, %d otherwise; %d by another version of the rules, %d by files that are kept no more.\n",
					plural(d.Same, "date"), len(d.Differ), d.Other, d.Unknown)
				for _, what := range d.Differ {
					fmt.Fprintf(out, "! decided otherwise now: %s\n", what)
				}
			}
			if len(rep.Decided.Differ) > 0 {
				return errNotWell
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().BoolVar(&quick, "quick", false, "the journal of quick time")
	return cmd
}

func backupCommand() *cobra.Command {
	asJSON, to := false, ""
	cmd := &cobra.Command{
		Use:     "backup DIR",
		Short:   "Copy the journal, verified, while the service runs or not",
		Example: "  stepgate backup my-clinic                       # into the folder of backup: in stepgate.yaml\n  stepgate backup my-clinic --to /media/journal.db",
		Args:    wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			made, err := daemon.CopyJournal(cmd.Context(), args[0], to, os.Getenv)
			if err != nil {
				return nothingYet(err)
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), made)
			}
			out := cmd.OutOrStdout()
			how := ""
			if made.Encrypted {
				how = ", encrypted"
			}
			fmt.Fprintf(out, "%s: %d bytes, %s verified%s.\n", made.File, made.Bytes, plural(made.Events, "event"), how)
			for _, name := range made.Dropped {
				fmt.Fprintf(out, "Removed the older %s.\n", name)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().StringVar(&to, "to", "", "the file to write, if not in the folder of backup:")
	return cmd
}

func restoreCommand() *cobra.Command {
	asJSON, force, identity := false, false, ""
	cmd := &cobra.Command{
		Use:     "restore FILE DIR",
		Short:   "Put a backup in the place of a clinic's journal",
		Example: "  stepgate restore my-clinic/backups/journal-20261128T023000Z.db my-clinic",
		Long: "Put a backup in the place of a clinic's journal. The copy is verified first; the\n" +
			"journal that is replaced is kept beside it; whom it says was erased is erased again.\n" +
			"The service must not run.",
		Args: wants("FILE", "DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[1]); err != nil {
				return err
			}
			done, err := daemon.Restore(cmd.Context(), args[0], args[1], identity, force, os.Getenv)
			var there daemon.ThereError
			var held daemon.HeldError
			switch {
			case errors.As(err, &there), errors.As(err, &held):
				return usage{err}
			case err != nil:
				return err
			case asJSON:
				return printJSON(cmd.OutOrStdout(), done)
			}
			out := cmd.OutOrStdout()
			fmt.Fprintf(out, "Restored %s: %s", done.File, plural(done.Events, "event"))
			if done.At != "" {
				fmt.Fprintf(out, ", the newest of %s", done.At)
			}
			fmt.Fprintln(out, ".")
			if done.Replaced != "" {
				fmt.Fprintf(out, "The journal before is kept as %s.\n", done.Replaced)
			}
			if done.Erased > 0 {
				fmt.Fprintf(out, "%s erased since the copy was made: erased again.\n", plural(done.Erased, "patient"))
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().BoolVar(&force, "force", false, "replace the journal that is there; it is kept beside")
	cmd.Flags().StringVar(&identity, "identity", "", "file of the private key of an encrypted backup")
	return cmd
}

func compactCommand() *cobra.Command {
	quick := false
	cmd := &cobra.Command{
		Use:     "compact DIR",
		Short:   "Write the journal anew without freed pages; the service must not run",
		Example: "  stepgate compact my-clinic",
		Args:    wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			before, after, err := daemon.CompactJournal(args[0], quick)
			var held daemon.HeldError
			switch {
			case errors.As(err, &held):
				return usage{err}
			case err != nil:
				return nothingYet(err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "The journal took %d bytes and takes %d.\n", before, after)
			return nil
		},
	}
	cmd.Flags().BoolVar(&quick, "quick", false, "the journal of quick time")
	return cmd
}

func eraseCommand() *cobra.Command {
	asJSON, yes, by := false, false, ""
	cmd := &cobra.Command{
		Use:     "erase DIR ID",
		Short:   "Destroy what the journal holds of a patient; it cannot be undone",
		Example: "  stepgate erase my-clinic p-01 --yes",
		Long: "Destroy what the journal holds of a patient who was taken out of the files: the key\n" +
			"and contents of their events, older versions of the files that named them, and their\n" +
			"folder on the spool. An opt-out of their contact stays. Backups made before still hold\n" +
			"them, and are listed.",
		Args: wants("DIR", "ID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			if !yes {
				return usage{fmt.Errorf("erasing %s cannot be undone; say --yes if you mean it", args[1])}
			}
			if by == "" {
				if u, err := user.Current(); err == nil {
					by = u.Username
				}
			}
			done, err := daemon.Erase(cmd.Context(), args[0], args[1], by, os.Getenv)
			var enrolled daemon.EnrolledError
			switch {
			case errors.As(err, &enrolled), errors.Is(err, journal.ErrInvalid):
				return usage{err}
			case err != nil:
				return nothingYet(err)
			}
			if asJSON {
				err = printJSON(cmd.OutOrStdout(), done)
			} else {
				printErased(cmd, args[0], done)
			}
			if err == nil && len(done.Found) > 0 {
				err = errNotWell
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().BoolVar(&yes, "yes", false, "do it")
	cmd.Flags().StringVar(&by, "by", "", "who erases, for the record; your user name if left out")
	return cmd
}

func printErased(cmd *cobra.Command, dir string, e *daemon.Erased) {
	out := cmd.OutOrStdout()
	fmt.Fprintf(out, "Erased %s: the contents of %s are gone.\n", e.ID, plural(e.Events, "event"))
	for _, f := range e.Spool {
		fmt.Fprintf(out, "Removed %s.\n", f)
	}
	switch {
	case e.Compact:
		fmt.Fprintf(out, "The service runs, so freed pages of the file still hold old bytes: stop it and run stepgate compact %s.\n", dir)
	case len(e.Found) == 0:
		fmt.Fprintln(out, "The file was compacted; no word of theirs is found in the data folder, which means their id, name, contacts and texts.")
	}
	for _, f := range e.Found {
		fmt.Fprintf(out, "A word of theirs is still found in %s.\n", f)
	}
	if e.Mentions > 0 {
		fmt.Fprintf(out, "%s of the clinic's own name them, such as texts from a contact that nobody was enrolled with.\n", plural(e.Mentions, "record"))
	}
	if e.Quick != "" {
		fmt.Fprintf(out, "The data of quick time lie apart in %s and were not touched; delete that folder too if it holds them.\n", e.Quick)
	}
	for _, c := range e.Copies {
		fmt.Fprintf(out, "The backup %s still holds them; it goes %s.\n", c.File, c.Goes)
	}
}

// nothingYet turns a folder that was never served into wrong use.
func nothingYet(err error) error {
	if errors.Is(err, daemon.ErrNoJournal) {
		return usage{err}
	}
	return err
}
