package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/export"
	"stepgate/rules"
)

func exportCommand() *cobra.Command {
	var a exportArgs
	cmd := &cobra.Command{
		Use:   "export DIR [ID]",
		Short: "Write the record as a table (CSV) or as FHIR R4",
		Example: "  stepgate export my-clinic --csv --out days.csv\n" +
			"  stepgate export my-clinic p-01 --fhir --out p-01.json",
		Long: exportHelp(),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 && len(args) != 2 {
				return usage{fmt.Errorf("%s wants 1 or 2 arguments: %s", cmd.CommandPath(), cmd.Use)}
			}
			o, err := a.options(args[1:])
			if err != nil {
				return err
			}
			if err := folder(args[0]); err != nil {
				return err
			}
			looker := daemon.NewLooker(args[0], a.quick, os.Getenv)
			if err := whoIsIn(cmd.Context(), cmd.ErrOrStderr(), looker, o); err != nil {
				return err
			}
			write := func(w io.Writer) error { return looker.Export(cmd.Context(), o, w) }
			if a.out == "" {
				return write(cmd.OutOrStdout())
			}
			return wholeFile(a.out, write)
		},
	}
	cmd.Flags().BoolVar(&a.csv, "csv", false, "a table with a row for every patient and day")
	cmd.Flags().BoolVar(&a.fhir, "fhir", false, "a FHIR R4 Bundle")
	cmd.Flags().StringVar(&a.out, "out", "", "write to this `FILE`, which only you can read")
	cmd.Flags().StringVar(&a.from, "from", "", "days and messages from this `DATE` on")
	cmd.Flags().StringVar(&a.to, "to", "", "days and messages up to this `DATE`")
	cmd.Flags().BoolVar(&a.texts, "texts", false, "with --fhir: the words of the messages too, where the consent covers texts")
	cmd.Flags().BoolVar(&a.quick, "quick", false, "look at the data of quick time")
	return cmd
}

// exportArgs are the flags as they were given.
type exportArgs struct {
	csv, fhir, texts, quick bool
	from, to, out           string
}

// options are what they come to, with the id where one was given.
func (a exportArgs) options(id []string) (o export.Options, err error) {
	o.Texts = a.texts
	switch {
	case a.csv && !a.fhir:
		o.Form = export.CSV
	case a.fhir && !a.csv:
		o.Form = export.FHIR
	}
	if len(id) == 1 {
		o.ID = id[0]
	}
	if o.From, err = spanDate("from", a.from); err != nil {
		return o, err
	}
	if o.To, err = spanDate("to", a.to); err != nil {
		return o, err
	}
	if err := o.Check(); err != nil {
		return o, usage{err}
	}
	return o, nil
}

func spanDate(flag, s string) (rules.Date, error) {
	if s == "" {
		return 0, nil
	}
	d, err := rules.ParseDate(s)
	if err != nil {
		return 0, usage{fmt.Errorf("--%s: %w", flag, err)}
	}
	return d, nil
}

// exportHelp lists the columns.
func exportHelp() string {
	var b strings.Builder
	b.WriteString(`Write what the journal holds of one patient or of all.

--csv is a table with a row for every patient and day, without names, contacts or
texts. It is for the clinic: an id still tells whose row it is. UTF-8, commas, quotes
and line ends by RFC 4180. A cell that a spreadsheet would take as a formula has an
apostrophe before it. Its columns:

`)
	for _, c := range export.Columns() {
		fmt.Fprintf(&b, "  %-18s %s\n", c.Name, c.Says)
	}
	b.WriteString(`
--fhir is a Bundle of FHIR R4 for another record system. It holds only patients whose
consent, in the enrollment, has covers: export. Who is left out is told.`)
	return b.String()
}

// whoIsIn tells who is left out, and refuses to write an export of nobody.
func whoIsIn(ctx context.Context, w io.Writer, looker *daemon.Looker, o export.Options) error {
	sum, err := looker.ExportSummary(ctx, o)
	if err != nil {
		return err
	}
	for _, l := range sum.Left {
		ids := strings.Join(l.IDs, ", ")
		if more := l.Count - len(l.IDs); more > 0 {
			ids += fmt.Sprintf(" and %d more", more)
		}
		fmt.Fprintf(w, "%s %s: %s\n", plural(l.Count, "patient"), l.Why, ids)
	}
	switch {
	case sum.Patients > 0:
		return nil
	case len(sum.Left) > 0:
		return errors.New("there is nobody left to export; of a patient who agreed, the enrollment has covers: export in the consent")
	case o.ID != "":
		return usage{fmt.Errorf("nobody was ever enrolled as %q", o.ID)}
	case o.Form == export.FHIR:
		return errors.New("nobody is enrolled")
	}
	return nil // a table with its head alone
}

// wholeFile writes a file that is there whole or not at all.
func wholeFile(path string, write func(io.Writer) error) error {
	dir := filepath.Dir(path)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return fmt.Errorf("write %s: there is no folder %s; make it first, or name another", path, dir)
	}
	f, err := os.CreateTemp(dir, ".export-*") // mode 0600
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("write %s: %w", path, err), os.Remove(f.Name()))
	}
	return nil
}
