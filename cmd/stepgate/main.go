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
	"strings"
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

// errWrongFile is returned by a command that has said what is wrong with a file
// it was given.
var errWrongFile = errors.New("wrong file")

// errNotWell is returned by a command that worked and found something not well.
var errNotWell = errors.New("not well")

// usage is an error of use.
type usage struct{ error }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:])
	stop()
	os.Exit(code)
}

func run(ctx context.Context, args []string) int {
	root := rootCommand()
	root.SetArgs(args)
	return exitCode(root.ExecuteContext(ctx))
}

// rootCommand is the program with all of its commands.
func rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "stepgate",
		Short:         "Texts patients the day's foot and ankle exercises, and holds back when it hurts",
		Example:       "  stepgate demo\n  stepgate init my-clinic\n  stepgate check my-clinic\n  stepgate serve my-clinic --quick 1m\n  stepgate caseload my-clinic",
		Version:       thisBuild().Version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          knownCommand,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },

		SuggestionsMinimumDistance: 2,
	}
	root.AddCommand(demoCommand(), checkCommand(), serveCommand(), handsetCommand(), caseloadCommand(), patientCommand(), healthCommand(), explainCommand(), readCommand(), rehearseCommand(), schemaCommand(), unitCommand(),
		verifyCommand(), backupCommand(), restoreCommand(), compactCommand(), eraseCommand(), exportCommand(), reportCommand())
	root.AddCommand(initCommand(), enrollCommand(), holdCommand(), releaseCommand(), dischargeCommand(), noteCommand())
	root.AddCommand(versionCommand(), completionCommand(), manCommand())
	dress(root)
	return root
}

// exitCode prints an error and says which code it is worth.
func exitCode(err error) int {
	var problems config.Problems
	var wrong usage
	switch {
	case err == nil:
		return exitGood
	case errors.Is(err, errNotWell):
		return exitNotWell
	case errors.Is(err, errWrongFile):
		return exitUsage
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

// knownCommand gets what names no command: wrong use, like a flag nobody knows.
func knownCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	err := fmt.Errorf("there is no command %q", args[0])
	if near := root.SuggestionsFor(args[0]); len(near) > 0 {
		err = fmt.Errorf("%w; did you mean %s?", err, strings.Join(near, " or "))
	}
	return usage{err}
}

// folder tells a clinic folder that is not there from one that has nothing to
// tell yet.
func folder(dir string) error {
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return usage{fmt.Errorf("%s is not a folder", dir)}
	}
	return nil
}

// plural writes a number with its noun: 1 program, 2 programs.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// wants takes exactly the named arguments.
func wants(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) == len(names):
			return nil
		case len(names) == 0:
			return usage{fmt.Errorf("%s takes no arguments: %s", cmd.CommandPath(), cmd.Use)}
		default:
			return usage{fmt.Errorf("%s wants %s: %s", cmd.CommandPath(), plural(len(names), "argument"), cmd.Use)}
		}
	}
}
