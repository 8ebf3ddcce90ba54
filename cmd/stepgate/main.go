// Command stepgate runs a clinic's home-exercise and wear-in program by text
// and mail. Each command is in a file of its own and only maps flags and
// prints; the work is in the other packages.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	_ "time/tzdata" // zones, on machines that have none

	"github.com/spf13/cobra"

	"stepgate/config"
)

// The exit codes.
const (
	exitGood    = 0
	exitNotWell = 1 // the thing asked about is not well
	exitUsage   = 2 // wrong use: flags, or files that can't be used
)

// notWell is returned by a command that worked and found something not well.
var notWell = errors.New("not well")

// usage is an error of use.
type usage struct{ error }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:])
	stop()
	os.Exit(code)
}

func run(ctx context.Context, args []string) int {
	root := &cobra.Command{
		Use:           "stepgate",
		Short:         "Texts patients the day's foot and ankle exercises, and holds back when it hurts",
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.SetArgs(args)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage{err} })
	root.AddCommand(demoCommand(), checkCommand(), serveCommand(), handsetCommand(), caseloadCommand(), explainCommand(), readCommand())
	root.CompletionOptions.HiddenDefaultCmd = true
	return exitCode(root.ExecuteContext(ctx))
}

// exitCode prints an error and says which code it is worth.
func exitCode(err error) int {
	var problems config.Problems
	var wrong usage
	switch {
	case err == nil:
		return exitGood
	case errors.Is(err, notWell):
		return exitNotWell
	case errors.As(err, &problems):
		fmt.Fprintln(os.Stderr, problems.Error())
		return exitUsage
	case errors.As(err, &wrong):
		fmt.Fprintf(os.Stderr, "stepgate: %v\nRun stepgate --help for the commands.\n", err)
		return exitUsage
	}
	fmt.Fprintf(os.Stderr, "stepgate: %v\n", err)
	return exitNotWell
}

// argDir takes exactly the named arguments.
func wants(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != len(names) {
			return usage{fmt.Errorf("%s wants %d argument(s): %s", cmd.CommandPath(), len(names), cmd.Use)}
		}
		return nil
	}
}
