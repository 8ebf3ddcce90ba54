package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// dress gives the whole tree of commands what each has alike: help that starts
// with examples, errors of flags, and completions.
func dress(root *cobra.Command) {
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return usage{nearFlag(cmd, err)} })
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { printHelp(cmd.OutOrStdout(), cmd) })
	root.CompletionOptions.DisableDefaultCmd = true // completionCommand is ours
	root.InitDefaultHelpCmd()
	for _, cmd := range root.Commands() {
		if cmd.Name() == "help" {
			cmd.Example = "  stepgate help serve"
		}
	}
	for name, doing := range slow {
		for _, cmd := range root.Commands() {
			if cmd.Name() == name {
				withProgress(cmd, doing)
			}
		}
	}
	completeArgs(root)
}

// printHelp shows how a command is used before it lists what there is: most
// people look for a line to change.
func printHelp(out io.Writer, cmd *cobra.Command) {
	text := cmd.Long
	if text == "" {
		text = cmd.Short
	}
	fmt.Fprintln(out, strings.TrimSpace(text))
	fmt.Fprintln(out)
	examples := cmd.Example
	if examples != "" {
		fmt.Fprintf(out, "Examples:\n%s\n\n", examples)
	}
	cmd.Example = ""
	fmt.Fprint(out, cmd.UsageString())
	cmd.Example = examples
}

// near are the known words that are about the one that was written.
func near(word string, known []string) []string {
	names := &cobra.Command{SuggestionsMinimumDistance: 2}
	for _, name := range known {
		names.AddCommand(&cobra.Command{Use: name, Run: func(*cobra.Command, []string) {}})
	}
	return names.SuggestionsFor(word)
}

// nearFlag says what flag may have been meant by one that is not there.
func nearFlag(cmd *cobra.Command, err error) error {
	var none *pflag.NotExistError
	if !errors.As(err, &none) || none.GetSpecifiedShortnames() != "" {
		return err
	}
	var known []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) { known = append(known, f.Name) })
	close := near(none.GetSpecifiedName(), known)
	if len(close) == 0 {
		return err
	}
	return fmt.Errorf("%w; did you mean --%s?", err, strings.Join(close, " or --"))
}
