package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"stepgate/config"
)

// completionCommand prints what a shell needs to complete the command line.
// The shell then asks the program itself, so that new commands need no more.
func completionCommand() *cobra.Command {
	shells := []string{"bash", "fish", "zsh"}
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "Print what a shell needs to complete commands, folders and patients' ids",
		Long:  "Print what a shell needs to complete commands, folders and patients' ids: for " + strings.Join(shells, ", ") + ".",
		Example: "  stepgate completion bash > /etc/bash_completion.d/stepgate\n" +
			"  stepgate completion zsh > /usr/local/share/zsh/site-functions/_stepgate\n" +
			"  stepgate completion fish > ~/.config/fish/completions/stepgate.fish",
		ValidArgs: shells,
		Args:      wants("SHELL"),
		RunE: func(cmd *cobra.Command, args []string) error {
			root, out := cmd.Root(), cmd.OutOrStdout()
			switch args[0] {
			case "bash":
				return root.GenBashCompletionV2(out, true)
			case "fish":
				return root.GenFishCompletion(out, true)
			case "zsh":
				return root.GenZshCompletion(out)
			}
			return usage{fmt.Errorf("there is no completion for %q; choose one of %s", args[0], strings.Join(shells, ", "))}
		},
	}
}

// completeArgs teaches each command what may stand for its arguments, by the
// names in its use line: DIR is a folder, ID a patient of it, FILE a file.
// What else there is can't be guessed, and is not.
func completeArgs(root *cobra.Command) {
	for _, cmd := range root.Commands() {
		if cmd.ValidArgsFunction == nil && len(cmd.ValidArgs) == 0 {
			cmd.ValidArgsFunction = completeArg
		}
		if cmd.Flags().Lookup("enrollment") != nil {
			_ = cmd.RegisterFlagCompletionFunc("enrollment", func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
				return completeIDs(cmd, args)
			}) // an error says it has one already, which is as good
		}
	}
}

// argNames are the arguments of a command, as its use line names them.
func argNames(cmd *cobra.Command) []string {
	var names []string
	for _, word := range strings.Fields(cmd.Use)[1:] {
		names = append(names, strings.Trim(word, "[]."))
	}
	return names
}

func completeArg(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	names := argNames(cmd)
	if len(args) >= len(names) {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	switch names[len(args)] {
	case "DIR":
		return nil, cobra.ShellCompDirectiveFilterDirs
	case "FILE":
		return nil, cobra.ShellCompDirectiveDefault
	case "ID":
		return completeIDs(cmd, args)
	}
	return nil, cobra.ShellCompDirectiveNoFileComp
}

// completeIDs lists the patients of the folder that was given, with their
// programs: no names, a screen at a desk is seen by others.
func completeIDs(cmd *cobra.Command, args []string) ([]string, cobra.ShellCompDirective) {
	const no = cobra.ShellCompDirectiveNoFileComp
	dir := slices.Index(argNames(cmd), "DIR")
	if dir < 0 || dir >= len(args) {
		return nil, no
	}
	c, _ := config.Load(args[dir], nil)
	if c == nil {
		return nil, no
	}
	ids := make([]string, c.Enrollments.Len())
	for i := range ids {
		e := c.Enrollments.At(i)
		ids[i] = e.ID + "\t" + e.Program
	}
	return ids, no
}
