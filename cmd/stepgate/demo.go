package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"stepgate/daemon/demo"
)

func demoCommand() *cobra.Command {
	dir, all := "", false
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Play eight weeks of an invented clinic with six patients",
		Args:  wants(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if dir == "" {
				dir = filepath.Join(os.TempDir(), fmt.Sprintf("stepgate-demo-%d", os.Getuid()))
			}
			err := demo.Run(cmd.Context(), demo.Options{Dir: dir, Out: cmd.OutOrStdout(), Color: colors(), All: all})
			var foreign demo.ForeignError
			if errors.As(err, &foreign) {
				return usage{err}
			}
			return err
		},
	}
	cmd.Flags().StringVar(&dir, "dir", "", "folder to lay the clinic in (default: one in the temporary folder)")
	cmd.Flags().BoolVar(&all, "all", false, "print every message of every day")
	return cmd
}

// colors are for a terminal only, and never with NO_COLOR set.
func colors() bool {
	return os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && term.IsTerminal(int(os.Stdout.Fd()))
}
