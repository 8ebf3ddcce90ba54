package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon"
)

// enrolling is what the flags of enroll say.
type enrolling struct {
	from, file          string
	yes, dryRun, asJSON bool
	columns             map[string]*string // by the column's name
}

func enrollCommand() *cobra.Command {
	f := &enrolling{columns: map[string]*string{}}
	cmd := &cobra.Command{
		Use:   "enroll DIR",
		Short: "Enroll a patient, or a spreadsheet of them: asked, checked, shown, and written into your file",
		Long: "Enroll a patient: it asks what is needed, or takes it as flags, checks each answer at\n" +
			"once, shows what it would write, and adds it to the file of enrollments, which otherwise\n" +
			"stays as you wrote it.\n\n" +
			"With --from it takes a spreadsheet saved as CSV. The first line names the columns, in any\n" +
			"order, in capitals or not; commas, semicolons or tabs part them:\n\n" + columnHelp() + "\n" +
			"Flags fill the cells that are empty. Every bad cell is told with its line and column,\n" +
			"and unless all is well nothing is written. Without --yes it only shows what it would do.",
		Example: "  stepgate enroll my-clinic\n" +
			"  stepgate enroll my-clinic --from patients.csv                    # show what it would do\n" +
			"  stepgate enroll my-clinic --from patients.csv --time 09:00 --yes # do it",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			return f.run(cmd, args[0])
		},
	}
	for _, c := range config.Columns() {
		f.columns[c.Name] = cmd.Flags().String(strings.ReplaceAll(c.Name, " ", "-"), "", c.Help)
	}
	cmd.Flags().StringVar(&f.from, "from", "", "a spreadsheet of patients, saved as CSV")
	cmd.Flags().StringVar(&f.file, "file", "", "the file of enrollments to write into, where there are several")
	cmd.Flags().BoolVar(&f.yes, "yes", false, "write without asking")
	cmd.Flags().BoolVar(&f.dryRun, "dry-run", false, "write nothing, whatever else is said")
	cmd.Flags().BoolVar(&f.asJSON, "json", false, "print as JSON; goes with --yes or --dry-run")
	return cmd
}

// columnHelp lists the columns.
func columnHelp() string {
	var out strings.Builder
	for _, c := range config.Columns() {
		fmt.Fprintf(&out, "  %-18s%s\n", c.Name, c.Help)
	}
	return out.String()
}

func (f *enrolling) run(cmd *cobra.Command, dir string) error {
	if f.asJSON && !f.yes && !f.dryRun {
		return usage{errors.New("--json goes with --yes or --dry-run: questions are for people")}
	}
	x, problems := config.NewEnrolling(dir, time.Now())
	if x == nil {
		fmt.Fprintln(cmd.ErrOrStderr(), "stepgate: nothing was written. The clinic's files have errors; put these right, then enroll:")
		return problems
	}
	ids, err := daemon.NewLooker(dir, false, os.Getenv).Known(cmd.Context())
	if err != nil {
		return err
	}
	x.Taken = func(id string) bool {
		_, inFiles := x.Clinic.Enrollments.Find(id)
		return slices.Contains(ids, id) && !inFiles
	}
	file, err := x.File(f.file)
	if err != nil {
		return usage{err}
	}
	if f.from != "" {
		return f.sheet(cmd, dir, x, file)
	}
	return f.one(cmd, dir, x, file)
}

// fill are the flags as the file has them.
func (f *enrolling) fill(x *config.Enrolling) (config.Newcomer, error) {
	n := config.Newcomer{}
	var wrong []string
	for _, c := range config.Columns() {
		if *f.columns[c.Name] == "" {
			continue
		}
		value, err := x.Read(c.Name, *f.columns[c.Name])
		if err != nil {
			wrong = append(wrong, "--"+strings.ReplaceAll(c.Name, " ", "-")+": "+err.Error())
		}
		n[c.Name] = value
	}
	if len(wrong) > 0 {
		return nil, usage{errors.New(strings.Join(wrong, "\n  "))}
	}
	return n, nil
}

// one enrolls one patient.
func (f *enrolling) one(cmd *cobra.Command, dir string, x *config.Enrolling, file string) error {
	n, err := f.fill(x)
	if err != nil {
		return err
	}
	set := map[string]bool{}
	for column := range n {
		set[column] = true
	}
	q := &newcomerQuestions{x: x, n: n, set: set, a: newAsker(cmd), out: cmd.OutOrStdout()}
	if f.yes || f.dryRun {
		q.proposals()
	} else if err := q.all(); err != nil {
		return err
	}
	x.Drop(n)
	var wrong, look []string
	for _, p := range x.Check([]config.Newcomer{n}) {
		text := p.What + "; " + p.Do
		if p.Warning {
			look = append(look, text)
		} else {
			wrong = append(wrong, text)
		}
	}
	if len(wrong) > 0 {
		return usage{errors.New("this can't be enrolled yet:\n  " + strings.Join(wrong, "\n  "))}
	}
	edit, err := x.Edit([]config.Newcomer{n}, file)
	if err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if !f.asJSON {
		fmt.Fprintf(out, "\nFor %s:\n\n  - %s\n\n", file, strings.Join(n.Lines(), "\n    "))
		for _, text := range look {
			fmt.Fprintf(out, "worth a look: %s\n", text)
		}
	}
	if !f.yes && !f.dryRun {
		yes, err := q.a.yes("Write it?")
		if err != nil {
			return err
		}
		f.dryRun = !yes
	}
	return f.finish(cmd, dir, edit, []config.Newcomer{n})
}

// sheet enrolls the patients of a spreadsheet.
func (f *enrolling) sheet(cmd *cobra.Command, dir string, x *config.Enrolling, file string) error {
	fill, err := f.fill(x)
	if err != nil {
		return err
	}
	if fill["time"] == "" {
		fill["time"] = usualTime
	}
	data, err := os.ReadFile(f.from)
	if err != nil {
		return usage{fmt.Errorf("--from: %w", err)}
	}
	s, problems := x.ReadSpreadsheet(config.NewFile(filepath.Base(f.from), data), fill)
	if s == nil {
		fmt.Fprintf(os.Stderr, "%v\nstepgate: %s to put right in %s; nothing was written.\n", problems, plural(len(problems.Errors()), "cell"), f.from)
		return errWrongFile
	}
	out := cmd.OutOrStdout()
	if len(s.List) == 0 {
		return usage{fmt.Errorf("%s names no patient", f.from)}
	}
	edit, err := x.Edit(s.List, file)
	if err != nil {
		return err
	}
	if !f.asJSON {
		for _, p := range problems {
			fmt.Fprintln(out, p)
		}
		for _, n := range s.List {
			fmt.Fprintf(out, "  %-12s %-16s %-16s dispensed %s, %s at %s\n", n["id"], n["name"], n["program"], n["dispensed"], channelOf(n), n["time"])
		}
	}
	f.dryRun = f.dryRun || !f.yes
	return f.finish(cmd, dir, edit, s.List)
}

// channelOf is how a newcomer is reached, without the contact itself.
func channelOf(n config.Newcomer) string {
	switch {
	case n["sms"] != "" && n["email"] != "":
		return "sms, then email"
	case n["sms"] != "":
		return "sms"
	case n["email"] != "":
		return "email"
	}
	return "spool"
}

// enrolledJSON is what enroll prints with --json; a contract.
type enrolledJSON struct {
	IDs     []string `json:"ids"`
	File    string   `json:"file"`
	Line    int      `json:"line"`
	Written bool     `json:"written"`
	Service string   `json:"service"` // as of an entry; "" where nothing was written
}

// finish writes an edit, unless only asked what it would be, and says so.
func (f *enrolling) finish(cmd *cobra.Command, dir string, edit *config.Edit, list []config.Newcomer) error {
	out := cmd.OutOrStdout()
	done := enrolledJSON{File: shownPath(dir, edit.Path), Line: edit.Line}
	for _, n := range list {
		done.IDs = append(done.IDs, n["id"])
	}
	words := "Nothing was written."
	if f.dryRun && f.from != "" {
		words = fmt.Sprintf("Nothing was written. With --yes %s would be added to %s.", plural(len(list), "enrollment"), done.File)
	}
	if !f.dryRun {
		if err := edit.Write(); err != nil {
			return err
		}
		done.Written = true
		c, problems := config.Load(dir, nil)
		if c == nil {
			return problems.Errors() // somebody saved another file meanwhile
		}
		e, err := c.Patient(list[len(list)-1]["id"])
		if err != nil {
			return err
		}
		said := ""
		if done.Service, said, _, err = taken(cmd, dir, e, nil); err != nil {
			return err
		}
		words = fmt.Sprintf("%s:%d: %s enrolled. %s", done.File, done.Line, who(list), said)
		if len(list) == 1 && list[0]["spool"] != "" {
			words += fmt.Sprintf("\nTo be their phone: stepgate handset %s %s", dir, list[0]["id"])
		}
	}
	if f.asJSON {
		return printJSON(out, done)
	}
	fmt.Fprintln(out, words)
	return nil
}

func who(list []config.Newcomer) string {
	if len(list) == 1 {
		return list[0]["id"] + " is"
	}
	return fmt.Sprintf("%d patients, %s to %s, are", len(list), list[0]["id"], list[len(list)-1]["id"])
}
