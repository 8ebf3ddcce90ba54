package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon"
)

func serveCommand() *cobra.Command {
	var quick time.Duration
	cmd := &cobra.Command{
		Use:   "serve DIR",
		Short: "Run the service of a clinic folder until it is stopped",
		Long: "Run the service of a clinic folder until it is stopped.\n\n" +
			"With 5,000 patients or more it keeps enrollments.kept in the data folder: what reading the files of\n" +
			"enrollments gave, so that the next start reads only those that changed. It may be deleted at any time.",
		Example: "  stepgate serve my-clinic\n" +
			"  stepgate serve my-clinic --quick 1m   # one day a minute, on the spool only",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("quick") && (quick < time.Second || quick > 24*time.Hour) {
				return usage{errors.New("--quick wants the length of a day, from 1s to 24h")}
			}
			reload := make(chan struct{}, 1)
			hup := make(chan os.Signal, 1)
			signal.Notify(hup, syscall.SIGHUP) // before anything else: unhandled, it ends the process
			go onHangup(hup, reload)
			err := daemon.Serve(cmd.Context(), daemon.ServeOptions{
				Dir: args[0], Quick: quick, Getenv: os.Getenv, Reload: reload,
				Log: newLog(cmd.ErrOrStderr()),
				Ready: func(c *config.Clinic, refused bool) {
					if refused {
						fmt.Fprintf(cmd.OutOrStdout(), "The files in %s have errors and are NOT in force; the last good ones are. See stepgate check %[1]s.\n", args[0])
					}
					greet(cmd.OutOrStdout(), args[0], c, quick)
				},
			})
			var held daemon.HeldError
			if errors.As(err, &held) {
				return usage{err}
			}
			return err
		},
	}
	cmd.Flags().DurationVar(&quick, "quick", 0, "live one day in this time (such as 1m), on the spool only")
	return cmd
}

func onHangup(hup <-chan os.Signal, reload chan<- struct{}) {
	for range hup {
		select {
		case reload <- struct{}{}:
		default:
		}
	}
}

func greet(out io.Writer, dir string, c *config.Clinic, quick time.Duration) {
	fmt.Fprintf(out, "Serving %s: %d enrolled, %s.\n", c.Name, c.Enrollments.Len(), plural(len(c.Programs), "program"))
	if quick > 0 {
		fmt.Fprintf(out, "Quick time: one day in %s, on the spool only; its data lie apart in %s.\n", quick, c.Data)
	}
	if c.Reports != "" {
		fmt.Fprintf(out, "The report pages, on this machine: http://%s/\n", c.Reports)
	}
	if c.Metrics != "" {
		fmt.Fprintf(out, "The figures for a monitor: http://%s/metrics\n", c.Metrics)
	}
	for e := range c.Enrollments.All() {
		if phone, ok := phoneOf(c, e); ok {
			fmt.Fprintf(out, "A patient's phone in another terminal: stepgate handset %s %s%s\n", dir, e.ID, phone)
			break
		}
	}
	fmt.Fprintf(out, "Who stands where: stepgate caseload %s. Stop with Ctrl-C.\n", dir)
}

// phoneOf is how a handset reaches a patient, beyond folder and id; false: only
// a real phone does.
func phoneOf(c *config.Clinic, e *config.Enrollment) (string, bool) {
	switch {
	case e.Address.Channel == "spool":
		return "", true
	case e.Address.Channel == "sms" && c.SMS != nil && strings.HasPrefix(c.SMS.API, "http://"): // this machine only
		return " --carrier " + c.SMS.API, true
	}
	return "", false
}
