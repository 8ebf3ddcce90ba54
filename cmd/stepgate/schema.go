package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"stepgate/config"
)

func schemaCommand() *cobra.Command {
	kinds := config.SchemaKinds()
	return &cobra.Command{
		Use:   "schema KIND",
		Short: "Print the JSON Schema of a kind of file, so that an editor completes and flags its keys",
		Long: "Print the JSON Schema of a kind of file: " + strings.Join(kinds, ", ") + ".\n" +
			"An editor that has it completes the keys and flags those that don't exist. It is looser than check,\n" +
			"which knows ranges too and what hangs together.",
		Example:   "  stepgate schema program > program.schema.json",
		ValidArgs: kinds,
		Args:      wants("KIND"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !slices.Contains(kinds, args[0]) {
				return usage{fmt.Errorf("there is no kind of file %q; choose one of %s", args[0], strings.Join(kinds, ", "))}
			}
			_, err := cmd.OutOrStdout().Write(config.Schema(args[0]))
			return err
		},
	}
}
