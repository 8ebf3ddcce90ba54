package main

import (
	"encoding/json"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/page"
	"stepgate/daemon/rehearsal"
	"stepgate/templates"
)

func checkCommand() *cobra.Command {
	asJSON, whole, against, send := false, false, "", &sendTest{}
	cmd := &cobra.Command{
		Use:   "check DIR",
		Short: "Read a clinic folder and report every problem in it",
		Example: "  stepgate check my-clinic\n" +
			"  stepgate check my-clinic --texts                               # and the longest texts themselves\n" +
			"  stepgate check my-clinic --against my-clinic/data/journal.db   # whose next message would change\n" +
			"  stepgate check my-clinic --send-test you@example.com           # send one mail, and say how it went",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := folder(args[0]); err != nil {
				return err
			}
			if err := send.read(cmd); err != nil {
				return err
			}
			c, problems := config.Load(args[0], os.Getenv)
			if c != nil {
				refused, err := daemon.NewLooker(args[0], false, os.Getenv).Refusal(cmd.Context(), c)
				if err != nil {
					return err
				}
				if refused != nil {
					c, problems = nil, append(problems, *refused)
				}
			}
			cases, more, err := runCases(cmd.Context(), c)
			if err != nil {
				return err
			}
			costs, dear, err := costsOf(c)
			if err != nil {
				return err
			}
			problems = append(problems, dear...)
			changes, err := changesAgainst(cmd.Context(), against, c)
			if err != nil {
				return err
			}
			if asJSON {
				return checkJSON(cmd, append(problems, more...), cases, costs, changes, send, c)
			}
			printChanges(&page.Page{Out: cmd.OutOrStdout(), Color: colors()}, changes)
			err = checkText(cmd, c, problems, more, cases, func(p *page.Page) { rehearsal.PrintCosts(p, costs, whole) })
			if send.asked() {
				return send.print(cmd, c, err == nil)
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	cmd.Flags().BoolVar(&whole, "texts", false, "show the longest texts themselves, not only what they take")
	cmd.Flags().StringVar(&against, "against", "", "also list whose next message would differ from that of the files in force in this data file")
	send.flags(cmd)
	return cmd
}

// costsOf are the longest texts of a clinic's programs, and what of them is
// worth a look.
func costsOf(c *config.Clinic) ([]rehearsal.Cost, config.Problems, error) {
	if c == nil {
		return nil, nil, nil
	}
	words, err := templates.New()
	if err != nil {
		return nil, nil, err
	}
	costs, problems := rehearsal.Costs(words, c)
	return costs, problems, nil
}

// checkText prints the problems of the folder, those of its files of cases,
// the cases that do not hold and what the texts take; at last a line that says
// how it stands.
func checkText(cmd *cobra.Command, c *config.Clinic, problems, more config.Problems, cases *caseRun, texts func(*page.Page)) error {
	out := cmd.OutOrStdout()
	for _, p := range append(problems, more...) {
		fmt.Fprintln(out, p)
	}
	if c == nil {
		fmt.Fprintf(out, "%d to put right before this folder can be served.\n", len(problems.Errors()))
		return errNotWell
	}
	screen := &page.Page{Out: out, Color: colors()}
	cases.print(screen)
	texts(screen)
	right := "nothing to put right"
	if n := len(more.Errors()); n > 0 {
		right = plural(n, "problem") + " in the rule cases"
	}
	fmt.Fprintf(out, "%s: %s, %d enrolled, %s", c.Name, plural(len(c.Programs), "program"), c.Enrollments.Len(), right)
	if n := len(problems) + len(more) - len(more.Errors()); n > 0 {
		fmt.Fprintf(out, ", %d worth a look", n)
	}
	fmt.Fprintln(out, ".")
	if n := len(cases.verdicts); n > 0 {
		fmt.Fprintf(out, "Rule cases: %d of %d hold.\n", n-cases.failed, n)
	}
	if cases.failed > 0 || len(more.Errors()) > 0 {
		return errNotWell
	}
	return nil
}

// problemJSON is a problem as --json prints it; a contract.
type problemJSON struct {
	File    string `json:"file"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	What    string `json:"what"`
	Do      string `json:"do"`
	Warning bool   `json:"warning"`
}

func checkJSON(cmd *cobra.Command, problems config.Problems, cases *caseRun, costs []rehearsal.Cost, changes []daemon.Change, send *sendTest, c *config.Clinic) error {
	list := make([]problemJSON, len(problems))
	for i, p := range problems {
		list[i] = problemJSON{p.At.File, p.At.Line, p.At.Column, p.What, p.Do, p.Warning}
	}
	enc := json.NewEncoder(cmd.OutOrStdout())
	enc.SetIndent("", "  ")
	ok := len(problems.Errors()) == 0 && cases.failed == 0
	all := map[string]any{"problems": list, "cases": cases.json(), "texts": append([]rehearsal.Cost{}, costs...)}
	if send.asked() {
		all["test"], ok = send.steps(cmd, c, ok)
	}
	all["ok"] = ok
	if changes != nil {
		all["changes"] = changes
	}
	if err := enc.Encode(all); err != nil {
		return err
	}
	if !ok {
		return errNotWell
	}
	return nil
}
