package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/control"
	"stepgate/notify"
)

// handset is what the flags of one say.
type handset struct {
	quick       bool
	carrier, to string
	wait        time.Duration
}

func handsetCommand() *cobra.Command {
	f := handset{wait: 3 * time.Second}
	cmd := &cobra.Command{
		Use:   "handset DIR ID",
		Short: "Be a patient's phone: texts appear, what you type is sent",
		Long: "Be a patient's phone, against a service that is running on the spool.\n" +
			"Texts appear as they come in; type an answer and press Enter. End with Ctrl-D.\n\n" +
			"With --carrier it is a phone at the stand-in carrier (go run ./cmd/carrier), and\n" +
			"texts go the whole way that a carrier's do. Then a number may stand for DIR ID.",
		Example: "  stepgate handset my-clinic p-01\n" +
			"  stepgate handset --carrier http://127.0.0.1:8099 +15035550120",
		Args: func(cmd *cobra.Command, args []string) error {
			if f.carrier != "" && len(args) == 1 {
				return nil
			}
			return wants("DIR", "ID")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case f.carrier != "" && f.quick:
				return usage{errors.New("--quick goes without --carrier: quick time is on the spool only")}
			case f.carrier != "":
				return f.atCarrier(cmd, args)
			case f.to != "":
				return usage{errors.New("--to goes with --carrier")}
			}
			return f.onSpool(cmd, args)
		},
	}
	cmd.Flags().BoolVar(&f.quick, "quick", false, "the phone of quick time, where both are served")
	cmd.Flags().DurationVar(&f.wait, "wait", f.wait, "how long to wait for answers after the input ends")
	cmd.Flags().StringVar(&f.carrier, "carrier", "", "address of the stand-in carrier, such as http://127.0.0.1:8099")
	cmd.Flags().StringVar(&f.to, "to", "", "the clinic's number that answers go to (default who texted last)")
	return cmd
}

func (f handset) onSpool(cmd *cobra.Command, args []string) error {
	if err := folder(args[0]); err != nil {
		return err
	}
	return f.call(cmd.Context(), cmd, args[0], args[1])
}

// call is a patient's phone on the spool of a running service.
func (f handset) call(ctx context.Context, cmd *cobra.Command, dir, id string) error {
	phone, err := daemon.NewLooker(dir, f.quick, os.Getenv).Phone(ctx, id)
	switch {
	case errors.Is(err, control.ErrNone):
		return fmt.Errorf("no service runs for %s; start one in another terminal: stepgate serve %s --quick 1m", dir, dir)
	case errors.Is(err, control.ErrNotFound):
		return usage{fmt.Errorf("nobody on the spool is enrolled as %q; with stepgate serve --quick everybody is on the spool", id)}
	case err != nil:
		return err
	}
	out := cmd.OutOrStdout()
	zone, err := time.LoadLocation(phone.Zone)
	if err != nil {
		zone = time.UTC
	}
	h := notify.Handset{Dir: phone.Dir, Wait: f.wait}
	fmt.Fprintf(out, "This is %s's phone. Type an answer and press Enter; Ctrl-D ends.\n", phone.Name)
	return h.Run(ctx, cmd.InOrStdin(), onScreen(out, zone))
}

// atCarrier is a phone at the stand-in carrier.
func (f handset) atCarrier(cmd *cobra.Command, args []string) error {
	whose, zone := args[0], time.Local
	phone := notify.Phone{Carrier: f.carrier, Number: args[0], To: f.to, Wait: f.wait}
	if len(args) == 2 {
		e, err := enrolled(args[0], args[1])
		if err != nil {
			return err
		}
		whose, zone, phone.Number = e.Name, e.Zone, e.Address.To
		phone.To = cmp.Or(f.to, e.Sender)
	}
	if err := phone.Check(); err != nil {
		return usage{err}
	}
	out := cmd.OutOrStdout()
	fmt.Fprintf(out, "This is %s's phone, at the stand-in carrier. Type an answer and press Enter; Ctrl-D ends.\n", whose)
	err := phone.Run(cmd.Context(), cmd.InOrStdin(), onScreen(out, zone))
	if errors.Is(err, notify.ErrNoCarrier) {
		return fmt.Errorf("%w at %s; start one in another terminal: go run ./cmd/carrier", err, f.carrier)
	}
	return err
}

// enrolled looks a patient up in the clinic's files. A phone needs no secret,
// and its terminal may well have none: any word stands for a variable that is
// not set.
func enrolled(dir, id string) (*config.Enrollment, error) {
	if err := folder(dir); err != nil {
		return nil, err
	}
	c, problems := config.Load(dir, func(name string) string { return cmp.Or(os.Getenv(name), "unset") })
	if c == nil {
		return nil, problems.Errors()
	}
	switch e := c.Enrollments.Get(id); {
	case e == nil:
		return nil, usage{fmt.Errorf("nobody is enrolled as %q", id)}
	case e.Address.Channel != "sms":
		return nil, usage{fmt.Errorf("%q is enrolled without a number to text", id)}
	default:
		return e, nil
	}
}

// onScreen shows a text as it came at a time of the zone.
func onScreen(out io.Writer, zone *time.Location) func(time.Time, string) {
	return func(at time.Time, text string) {
		fmt.Fprintf(out, "\n  %s\n", at.In(zone).Format("Mon Jan 2, 15:04"))
		for _, line := range wrapped(text, 56) {
			fmt.Fprintf(out, "  | %s\n", line)
		}
	}
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
