package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
)

// manCommand writes the manual pages. A packager runs it; an admin who has the
// bare program may.
func manCommand() *cobra.Command {
	date := ""
	cmd := &cobra.Command{
		Use:   "man DIR",
		Short: "Write the manual pages into a folder, one a command",
		Example: "  stepgate man /usr/local/share/man/man1\n" +
			"  stepgate man build/man1 --date 2026-10-05",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			at, err := manDate(date)
			if err != nil {
				return usage{err}
			}
			for name, text := range manPages(cmd.Root(), at) {
				if err := os.WriteFile(filepath.Join(args[0], name), []byte(text), 0o644); err != nil {
					return fmt.Errorf("write a manual page: %w", err)
				}
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&date, "date", "", "the date on the pages, like 2026-10-05 (default: of this version's commit)")
	return cmd
}

// manDate is never the day of writing: the same program writes the same pages.
func manDate(flag string) (time.Time, error) {
	if flag != "" {
		d, err := parseDateFlag("--date", flag)
		return d.Time(), err
	}
	at, err := time.Parse(time.RFC3339, thisBuild().Date)
	if err != nil {
		return at, errors.New("this program does not know when its source is from; give the pages a date with --date")
	}
	return at, nil
}
