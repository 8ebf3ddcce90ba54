package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"stepgate/daemon"
	"stepgate/daemon/demo"
)

// demoFlags are the flags of demo.
type demoFlags struct {
	dir, reports, you string
	all, live         bool
	day               time.Duration
}

func demoCommand() *cobra.Command {
	f := demoFlags{}
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Play eight weeks of an invented clinic with six patients",
		Long: "Play eight weeks of an invented clinic with six patients, in a few seconds.\n\n" +
			"With --live the clinic goes on as a running service, a day a minute, and you are\n" +
			"one of the patients: texts appear, what you type is answered. A page to open in a\n" +
			"browser shows the caseload. Nothing leaves this machine.",
		Example: "  stepgate demo\n" +
			"  stepgate demo --live\n" +
			"  stepgate demo --live --as p-02 --day 20s",
		Args: wants(),
		RunE: func(cmd *cobra.Command, _ []string) error { return f.run(cmd) },
	}
	cmd.Flags().StringVar(&f.dir, "dir", "", "folder to lay the clinic in (default: one in the temporary folder)")
	cmd.Flags().BoolVar(&f.all, "all", false, "print every message of every day")
	cmd.Flags().BoolVar(&f.live, "live", false, "serve the clinic from day 13 on, with a patient's phone in this terminal")
	cmd.Flags().DurationVar(&f.day, "day", time.Minute, "with --live: live one day in this time")
	cmd.Flags().StringVar(&f.you, "as", "p-01", "with --live: whose phone this terminal is")
	cmd.Flags().StringVar(&f.reports, "reports", "127.0.0.1:8091", "with --live: where a browser on this machine finds the caseload; \"\" for nowhere")
	return cmd
}

func (f demoFlags) run(cmd *cobra.Command) error {
	if f.dir == "" {
		f.dir = filepath.Join(os.TempDir(), fmt.Sprintf("stepgate-demo-%d", os.Getuid()))
	}
	for _, name := range []string{"day", "as", "reports"} {
		if cmd.Flags().Changed(name) && !f.live {
			return usage{fmt.Errorf("--%s goes with --live", name)}
		}
	}
	var err error
	switch {
	case f.live && f.all:
		return usage{errors.New("--all goes without --live")}
	case f.live && (f.day < time.Second || f.day > 24*time.Hour):
		return usage{errors.New("--day wants the length of a day, from 1s to 24h")}
	case f.live && f.reports != "" && !daemon.Loopback(f.reports):
		return usage{fmt.Errorf("--reports %s could be read from other machines; write an address of this machine itself, like 127.0.0.1:8091", f.reports)}
	case f.live:
		err = f.goOn(cmd)
	default:
		err = demo.Run(cmd.Context(), demo.Options{Dir: f.dir, Out: cmd.OutOrStdout(), Color: colors(), All: f.all, Program: called()})
	}
	var foreign demo.ForeignError
	var nobody demo.NobodyError
	var running demo.RunningError
	if errors.As(err, &foreign) || errors.As(err, &nobody) || errors.As(err, &running) {
		return usage{err}
	}
	return err
}

// goOn serves the demo's clinic, with a phone attached. The phone may be put
// down (Ctrl-D); the clinic goes on until it is stopped.
func (f demoFlags) goOn(cmd *cobra.Command) error {
	ctx, stop := context.WithCancel(cmd.Context())
	defer stop()
	var phone sync.WaitGroup
	var failed error
	log, err := f.log()
	if err != nil {
		return err
	}
	defer func() { _ = log.Close() }()
	err = demo.Live(ctx, demo.LiveOptions{Dir: f.dir, Day: f.day, Reports: f.reports, You: f.you,
		Log: slog.New(slog.NewTextHandler(log, nil)),
		Ready: func() {
			f.greet(cmd.OutOrStdout(), log.Name())
			phone.Go(func() {
				if failed = (handset{quick: true}).call(ctx, cmd, f.dir, f.you); failed != nil {
					stop()
				}
			})
		}})
	stop()
	phone.Wait()
	if errors.Is(err, context.Canceled) {
		err = nil
	}
	return errors.Join(err, failed)
}

// log is a file of its own: the terminal is a phone. It lies beside the folder,
// which is emptied, and is added to: it may be that of a demo that still runs.
func (f demoFlags) log() (*os.File, error) {
	path := filepath.Clean(f.dir) + ".log"
	log, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the demo's log: %w", err)
	}
	return log, nil
}

// greet says what there is to try, for each kind of user.
func (f demoFlags) greet(out io.Writer, log string) {
	fmt.Fprintf(out, "Willow Bend Foot Clinic lives: %d days are behind it, and a day takes %s from here on.\n", demo.LiveDays, f.day)
	fmt.Fprintln(out, "It is invented, and nothing leaves this machine. Ctrl-C ends it.")
	fmt.Fprintln(out, "\nAs the patient, in this terminal: answer the text that comes at nine.")
	fmt.Fprintln(out, "  D2        done, pain 2: the plan goes on")
	fmt.Fprintln(out, "  P5        pain 5: the next step waits; two easy days end that")
	fmt.Fprintln(out, "  I fell and my calf popped")
	fmt.Fprintln(out, "            a danger sign: a safety text at once, and a pause")
	fmt.Fprintln(out, "\nAs the clinician:")
	if f.reports != "" {
		fmt.Fprintf(out, "  open http://%s/ in a browser: whom to call first, and why\n", f.reports)
	}
	fmt.Fprintf(out, "  %s caseload %s --quick\n", called(), f.dir)
	fmt.Fprintf(out, "  %s patient %s p-06 --quick\n", called(), f.dir)
	fmt.Fprintf(out, "  %s release %s p-06 --by \"your name\" --why \"seen at the clinic\"\n", called(), f.dir)
	fmt.Fprintf(out, "            Finn was paused for a danger sign; he gets his texts again the next day\n")
	fmt.Fprintln(out, "\nAs the admin:")
	fmt.Fprintf(out, "  %s health %s\n", called(), f.dir)
	fmt.Fprintf(out, "  tail -f %s\n", log)
	fmt.Fprintln(out)
}

// called is how the program was called, so that what it says to type can be
// typed.
func called() string {
	name := os.Args[0]
	if strings.Contains(name, "go-build") { // by go run, which leaves nothing behind
		return "go run ./cmd/stepgate"
	}
	return name
}

// colors are for a terminal only, and never with NO_COLOR set.
func colors() bool {
	return os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && term.IsTerminal(int(os.Stdout.Fd()))
}
