package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"stepgate/notify"
)

// carrierCommand is a carrier in a process of its own, so that its processor
// time is not taken for the service's. It says where it listens, and ends with
// its input.
func carrierCommand() *cobra.Command {
	var after time.Duration
	cmd := &cobra.Command{Use: "carrier", Hidden: true, Args: cobra.NoArgs, RunE: func(cmd *cobra.Command, _ []string) error {
		k, err := newCarrier(after)
		if err != nil {
			return err
		}
		fmt.Fprintln(cmd.OutOrStdout(), k.api)
		_, err = io.Copy(io.Discard, cmd.InOrStdin())
		return err
	}}
	cmd.Flags().DurationVar(&after, "after", 0, "how long it takes for a text")
	return cmd
}

// apart is a carrier in a process of its own.
type apart struct {
	api string
	end func() error
}

func newApart(ctx context.Context, after time.Duration) (*apart, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, self, "carrier", "--after", after.String())
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("start a carrier: %w", err)
	}
	api, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		_ = in.Close()
		_ = cmd.Wait()
		return nil, fmt.Errorf("start a carrier: it says %q: %w", api, err)
	}
	return &apart{api: strings.TrimSpace(api), end: func() error { _ = in.Close(); return cmd.Wait() }}, nil
}

// counted counts what a sender's carrier took.
type counted struct {
	notify.Sender
	took atomic.Int64
}

func (c *counted) Send(ctx context.Context, m notify.Message) notify.Result {
	res := c.Sender.Send(ctx, m)
	if res.Status == notify.Sent {
		c.took.Add(1)
	}
	return res
}
