package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/page"
	"stepgate/notify"
)

// sendTest is what check --send-test asks for.
type sendTest struct {
	address string
	wait    time.Duration
	to      config.Address
}

// longestWait for the end of a text, ours: the carrier itself keeps trying for
// hours, but nobody watches for so long.
const longestWait = 10 * time.Minute

func (s *sendTest) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&s.address, "send-test", "", "if all is well, also send one test mail to this address, or one text to this number (+...), and report each step")
	cmd.Flags().DurationVar(&s.wait, "wait", 30*time.Second, "how long to watch what becomes of a test text")
}

func (s *sendTest) asked() bool { return s.address != "" }

// read looks at the flags before anything is done.
func (s *sendTest) read(cmd *cobra.Command) error {
	switch {
	case !s.asked() && cmd.Flags().Changed("send-test"):
		return usage{fmt.Errorf("--send-test wants an address")}
	case !s.asked() && cmd.Flags().Changed("wait"):
		return usage{fmt.Errorf("--wait goes with --send-test")}
	case !s.asked():
		return nil
	case s.wait < 0 || s.wait > longestWait:
		return usage{fmt.Errorf("--wait must be from 0s to %v", longestWait)}
	}
	to, err := daemon.TrialAddress(s.address)
	if err != nil {
		return usage{fmt.Errorf("--send-test: %w", err)}
	}
	s.to = to
	return nil
}

// print sends the test and prints each step as it comes. well says whether the
// folder is; if not, nothing is sent.
func (s *sendTest) print(cmd *cobra.Command, c *config.Clinic, well bool) error {
	out := cmd.OutOrStdout()
	fmt.Fprintln(out)
	if !well {
		fmt.Fprintln(out, "No test was sent: put right what stands above first.")
		return errNotWell
	}
	screen := &page.Page{Out: out, Color: colors()}
	fmt.Fprintf(out, "Test to %s:\n\n", s.to.To)
	inbox := false
	t := daemon.Trial{To: s.to, Wait: s.wait, Tell: func(step notify.TrialStep) {
		if strings.HasPrefix(step.Name, "mailbox.") && !inbox {
			fmt.Fprint(out, "\nThe mailbox that answers are read from:\n\n")
			inbox = true
		}
		printStep(screen, step)
	}}
	if !t.Run(cmd.Context(), c) {
		fmt.Fprintln(out, "\nThe test failed.")
		return errNotWell
	}
	return printWell(out, s.to)
}

func printWell(out io.Writer, to config.Address) error {
	where := "in the mailbox of " + to.To
	if to.Channel == "sms" {
		where = "on the phone"
	}
	fmt.Fprintf(out, "\nThe test went well here. Look whether it came %s.\n", where)
	return nil
}

// printStep prints one step: how it went, how long it took, and the words. One
// that failed is named.
func printStep(p *page.Page, step notify.TrialStep) {
	how, words := "ok    ", step.Words
	if !step.OK {
		_, name, road := strings.Cut(step.Name, ".")
		if !road {
			name = step.Name
		}
		how, words = p.Red("failed"), name+": "+words
	}
	p.Wrap(fmt.Sprintf("  %s %7s  ", how, took(step.Took)), fmt.Sprintf("%18s", ""), words)
}

// took writes how long something took, for a narrow column.
func took(d time.Duration) string {
	if d < 10*time.Second {
		return fmt.Sprintf("%d ms", d.Milliseconds())
	}
	return fmt.Sprintf("%.1f s", d.Seconds())
}

// stepJSON is a step of a test as --json prints it; a contract.
type stepJSON struct {
	Step         string `json:"step"`
	OK           bool   `json:"ok"`
	Words        string `json:"words"`
	Milliseconds int64  `json:"milliseconds"`
}

// steps sends the test and gives its steps, none where the folder is not well.
func (s *sendTest) steps(cmd *cobra.Command, c *config.Clinic, well bool) (list []stepJSON, ok bool) {
	list = []stepJSON{}
	if !well {
		return list, false
	}
	t := daemon.Trial{To: s.to, Wait: s.wait, Tell: func(step notify.TrialStep) {
		list = append(list, stepJSON{step.Name, step.OK, step.Words, step.Took.Milliseconds()})
	}}
	ok = t.Run(cmd.Context(), c)
	return list, ok
}
