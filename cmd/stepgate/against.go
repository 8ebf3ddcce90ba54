package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/page"
)

// changesAgainst lists whose next message the edited files would change; nil
// where no data file was named or the files can't be used.
func changesAgainst(ctx context.Context, file string, c *config.Clinic) ([]daemon.Change, error) {
	if file == "" || c == nil {
		return nil, nil
	}
	if info, err := os.Stat(file); err != nil || info.IsDir() {
		return nil, usage{fmt.Errorf("--against wants a data file such as DIR/data/journal.db, and %s is none", file)}
	}
	return daemon.Impact(ctx, file, c, os.Getenv)
}

// printChanges shows each next message before and after.
func printChanges(p *page.Page, changes []daemon.Change) {
	if changes == nil {
		return
	}
	if len(changes) == 0 {
		fmt.Fprintln(p.Out, "Nobody's next message would change.")
		return
	}
	fmt.Fprintf(p.Out, "The next message of %s would change:\n", plural(len(changes), "patient"))
	for _, c := range changes {
		fmt.Fprintf(p.Out, "\n%s (%s), %s\n", c.ID, c.Name, c.Date)
		printText(p, "  now:   ", c.Before)
		printText(p, "  then:  ", c.After)
	}
	fmt.Fprintln(p.Out)
}

// printText prints a message behind a head, its lines kept.
func printText(p *page.Page, head, text string) {
	if text == "" {
		text = "no message"
	}
	for line := range strings.SplitSeq(strings.TrimSpace(text), "\n") {
		p.Wrap(head, "         ", line)
		head = "         "
	}
}
