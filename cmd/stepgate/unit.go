package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"stepgate/daemon"
)

func unitCommand() *cobra.Command {
	var o daemon.UnitOptions
	var container bool
	cmd := &cobra.Command{
		Use:   "unit DIR",
		Short: "Print a systemd unit that serves a clinic folder, or a recipe for a container",
		Long: "Print a systemd unit that serves a clinic folder: a user of its own, little else of the machine,\n" +
			"its secrets as credentials, and a restart when it hangs. Print it again when the folders or ports\n" +
			"in stepgate.yaml change. With --container, print a recipe for an image instead.",
		Example: "  stepgate unit /srv/clinic > /etc/systemd/system/stepgate.service\n" +
			"  stepgate unit --container > Containerfile",
		Args: func(cmd *cobra.Command, args []string) error {
			if container {
				return wants()(cmd, args)
			}
			return wants("DIR")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if container {
				_, err := fmt.Fprint(cmd.OutOrStdout(), daemon.Containerfile)
				return err
			}
			o.Dir = args[0]
			if err := folder(o.Dir); err != nil {
				return err
			}
			if o.Binary == "" {
				var err error
				if o.Binary, err = os.Executable(); err != nil {
					return errors.New("the program can't tell its own path; give it with --binary")
				}
			}
			text, err := daemon.Unit(o)
			if err != nil {
				return usage{err}
			}
			_, err = fmt.Fprint(cmd.OutOrStdout(), text)
			return err
		},
	}
	cmd.Flags().StringVar(&o.User, "user", "stepgate", "the user that the service runs as")
	cmd.Flags().StringVar(&o.Binary, "binary", "", "path of the program (this one, if not given)")
	cmd.Flags().BoolVar(&container, "container", false, "print a Containerfile instead")
	return cmd
}
