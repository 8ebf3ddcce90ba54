package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/control"
	"stepgate/notify"
)

func handsetCommand() *cobra.Command {
	wait, quick := 3*time.Second, false
	cmd := &cobra.Command{
		Use:   "handset DIR ID",
		Short: "Be a patient's phone: texts appear, what you type is sent",
		Long: "Be a patient's phone, against a service that is running on the spool.\n" +
			"Texts appear as they come in; type an answer and press Enter. End with Ctrl-D.",
		Args: wants("DIR", "ID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			phone, err := daemon.NewLooker(args[0], quick, os.Getenv).Phone(cmd.Context(), args[1])
			switch {
			case errors.Is(err, control.ErrNone):
				return fmt.Errorf("no service runs for %s; start one in another terminal: stepgate serve %s --quick 1m", args[0], args[0])
			case errors.Is(err, control.ErrNotFound):
				return usage{fmt.Errorf("nobody on the spool is enrolled as %q; with stepgate serve --quick everybody is on the spool", args[1])}
			case err != nil:
				return err
			}
			out := cmd.OutOrStdout()
			zone, err := time.LoadLocation(phone.Zone)
			if err != nil {
				zone = time.UTC
			}
			fmt.Fprintf(out, "This is %s's phone. Type an answer and press Enter; Ctrl-D ends.\n", phone.Name)
			h := notify.Handset{Dir: phone.Dir, Wait: wait}
			return h.Run(cmd.Context(), cmd.InOrStdin(), func(at time.Time, text string) {
				fmt.Fprintf(out, "\n  %s\n", at.In(zone).Format("Mon Jan 2, 15:04"))
				for _, line := range wrapped(text, 56) {
					fmt.Fprintf(out, "  | %s\n", line)
				}
			})
		},
	}
	cmd.Flags().BoolVar(&quick, "quick", false, "the phone of quick time, where both are served")
	cmd.Flags().DurationVar(&wait, "wait", wait, "how long to wait for answers after the input ends")
	return cmd
}

// wrapped breaks a text into lines of at most n characters at its spaces.
func wrapped(text string, n int) []string {
	var lines []string
	for para := range strings.SplitSeq(strings.TrimRight(text, "\n"), "\n") {
		line := ""
		for _, word := range strings.Fields(para) {
			if line != "" && len(line)+1+len(word) > n {
				lines, line = append(lines, line), ""
			}
			if line != "" {
				line += " "
			}
			line += word
		}
		lines = append(lines, line)
	}
	return lines
}

// oneLine is a text without its line breaks.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
