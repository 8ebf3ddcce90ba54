package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/control"
)

// healthWait is how long a service may take to answer before it counts as one
// that hangs.
const healthWait = 10 * time.Second

func healthCommand() *cobra.Command {
	asJSON, quick := false, false
	cmd := &cobra.Command{
		Use:   "health DIR",
		Short: "Tell whether the running service is well; exit code 1 if not",
		Example: "  stepgate health my-clinic\n" +
			"  stepgate health my-clinic --json",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			ctx, cancel := context.WithTimeout(cmd.Context(), healthWait)
			defer cancel()
			h, err := daemon.NewLooker(args[0], quick, os.Getenv).Health(ctx)
			switch {
			case errors.Is(err, control.ErrNone):
				h.Problems = []string{"no service runs for " + args[0] + "; start it: stepgate serve " + args[0] + ", or look at its log for why it ended"}
			case errors.Is(err, context.DeadlineExceeded):
				h.Problems = []string{"the service does not answer; stop it and start it again"}
			case err != nil:
				return err
			}
			if !asJSON {
				printHealth(cmd.OutOrStdout(), h)
			} else if err := printJSON(cmd.OutOrStdout(), h); err != nil {
				return err
			}
			if !h.OK {
				return errNotWell
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().BoolVar(&quick, "quick", false, "ask the service of quick time")
	return cmd
}

// printHealth says it in words: what is not well first. A service that does not
// answer has no more to tell.
func printHealth(out io.Writer, h daemon.Health) {
	for _, p := range h.Problems {
		fmt.Fprintln(out, "! "+p)
	}
	if h.Quick {
		fmt.Fprintln(out, "! Quick time: made-up days, apart from the clinic's own.")
	}
	if h.OK {
		fmt.Fprintln(out, "The service is well.")
	}
	if h.Started.IsZero() {
		return
	}
	at := func(t time.Time, none string) string {
		if t.IsZero() {
			return none
		}
		return t.Local().Format("2006-01-02 15:04:05 MST")
	}
	fmt.Fprintf(out, "started            %s\n", at(h.Started, ""))
	fmt.Fprintf(out, "last tick          %s\n", at(h.LastTick, "none yet"))
	clock := ""
	if h.Quick && !h.LastSend.IsZero() {
		clock = ", by this machine's clock; the times above are made up"
	}
	fmt.Fprintf(out, "last message taken %s%s\n", at(h.LastSend, "none since the start"), clock)
	waits := "nothing waits"
	if h.QueueOldest > 0 {
		waits = "the oldest waits for " + (time.Duration(h.QueueOldest) * time.Second).String()
	}
	fmt.Fprintf(out, "outbox             %s\n", waits)
	if h.DiskFree != nil {
		fmt.Fprintf(out, "disk               %d MB free\n", *h.DiskFree/1_000_000)
	}
}
