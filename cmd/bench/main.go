// Command bench measures the service beside yardsticks, in one run on one
// machine, and keeps the table of results in daemon/README.md.
//
//	go run ./cmd/bench               everything, at its full size: twenty minutes
//	go run ./cmd/bench sends replies some of it
//	go run ./cmd/bench --small       at a size that takes two minutes
//	go run ./cmd/bench --compare     today's ratios beside those in the table
//	go run ./cmd/bench --write       and put the table in its place; with names: those rows
//	go run ./cmd/bench plan          what each kind of sender can carry, played
//
// What a figure is depends on the machine; a ratio to what ran beside it in the
// same run depends on it far less. It only measures: no result is an error.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/pprof"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// bench is what the measures share.
type bench struct {
	small bool   // at the reduced size
	dir   string // a folder of its own, on the disk that is measured
	logf  func(format string, args ...any)
}

// sized is a size: the full one, or the reduced.
func (b *bench) sized(full, small int) int {
	if b.small {
		return small
	}
	return full
}

// measure is one of the things measured.
type measure struct {
	name string
	run  func(*bench, context.Context) ([]row, error)
}

// measures are all of them, in the order of the table.
var measures = []measure{
	{"sends", (*bench).sends},
	{"felt", (*bench).felt},
	{"replies", (*bench).replies},
	{"decide", (*bench).decide},
	{"nobody", (*bench).nobody},
	{"rehearse", (*bench).rehearse},
	{"start", (*bench).start},
	{"idle", (*bench).idle},
	{"growth", (*bench).growth},
	{"views", (*bench).views},
}

// options are the flags as given.
type options struct {
	small, asJSON, write, compare bool
	readme, cpu                   string
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := command().ExecuteContext(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

func command() *cobra.Command {
	var o options
	var names []string
	for _, m := range measures {
		names = append(names, m.name)
	}
	cmd := &cobra.Command{
		Use:           "bench [NAME...]",
		Short:         "Measure the service beside yardsticks",
		Long:          "Measure the service beside yardsticks. The names: " + strings.Join(names, ", ") + ".",
		Args:          cobra.ArbitraryArgs,
		ValidArgs:     names,
		SilenceUsage:  true,
		SilenceErrors: true,
		RunE:          func(cmd *cobra.Command, args []string) error { return run(cmd, args, o) },
	}
	flags := cmd.PersistentFlags()
	flags.BoolVar(&o.small, "small", false, "at a reduced size")
	flags.BoolVar(&o.asJSON, "json", false, "print as JSON")
	flags.BoolVar(&o.write, "write", false, "put the table into the README")
	flags.BoolVar(&o.compare, "compare", false, "print the ratios beside those in the README")
	flags.StringVar(&o.readme, "readme", filepath.Join("daemon", "README.md"), "where the table is kept")
	flags.StringVar(&o.cpu, "cpu", "", "write a CPU profile of all of it to this file")
	cmd.AddCommand(planCommand(&o), carrierCommand())
	return cmd
}

func run(cmd *cobra.Command, names []string, o options) (err error) {
	chosen, err := choose(names)
	if err != nil {
		return err
	}
	if o.write && o.small {
		return errors.New("--write keeps figures of the full size; leave out --small")
	}
	if o.cpu != "" {
		to, err := os.Create(o.cpu)
		if err != nil {
			return fmt.Errorf("write a CPU profile: %w", err)
		}
		if err := pprof.StartCPUProfile(to); err != nil {
			return fmt.Errorf("write a CPU profile: %w", err)
		}
		defer func() {
			pprof.StopCPUProfile()
			err = errors.Join(err, to.Close())
		}()
	}
	dir, err := os.MkdirTemp(".", ".bench-")
	if err != nil {
		return fmt.Errorf("make a folder to measure in: %w", err)
	}
	defer func() { _ = os.RemoveAll(dir) }()
	if dir, err = filepath.Abs(dir); err != nil {
		return err
	}
	progress := func(format string, args ...any) { fmt.Fprintf(cmd.ErrOrStderr(), format+"\n", args...) }
	var rows []row
	for _, m := range chosen {
		progress("%s", m.name)
		b := &bench{small: o.small, dir: filepath.Join(dir, m.name), logf: progress}
		if err := os.Mkdir(b.dir, 0o700); err != nil {
			return err
		}
		more, err := m.run(b, cmd.Context())
		if err != nil {
			return fmt.Errorf("%s: %w", m.name, err)
		}
		rows = append(rows, more...)
		if err := os.RemoveAll(b.dir); err != nil {
			return err
		}
	}
	return tell(cmd.OutOrStdout(), result{Machine: machine(dir), Small: o.small, Some: len(names) > 0, Rows: rows}, o)
}

// choose finds the measures of these names; none: all.
func choose(names []string) ([]measure, error) {
	if len(names) == 0 {
		return measures, nil
	}
	var chosen []measure
	for _, name := range names {
		at := slices.IndexFunc(measures, func(m measure) bool { return m.name == name })
		if at < 0 {
			return nil, fmt.Errorf("no measure %q; bench --help lists them", name)
		}
		chosen = append(chosen, measures[at])
	}
	return chosen, nil
}

// tell prints a result, and keeps it where that was asked for.
func tell(out io.Writer, r result, o options) error {
	switch {
	case o.asJSON:
		enc := json.NewEncoder(out)
		enc.SetIndent("", "  ")
		if err := enc.Encode(r); err != nil {
			return err
		}
	case o.compare:
		old, err := os.ReadFile(o.readme)
		if err != nil {
			return err
		}
		kept, err := ratios(string(old))
		if err != nil {
			return err
		}
		fmt.Fprint(out, r.beside(kept))
	default:
		fmt.Fprint(out, r.table())
	}
	if !o.write {
		return nil
	}
	return tablePlace.put(o.readme, r.into)
}
