package main

import (
	"context"

	"stepgate/config"
	"stepgate/daemon/page"
	"stepgate/daemon/rehearsal"
	"stepgate/rules"
	"stepgate/templates"
)

// caseRun is what came of a clinic's rule cases.
type caseRun struct {
	verdicts []rehearsal.Verdict
	failed   int
}

// runCases reads the rule cases beside a clinic's programs and runs them. The
// problems are those of the files of cases.
func runCases(ctx context.Context, c *config.Clinic) (*caseRun, config.Problems, error) {
	run := &caseRun{}
	if c == nil {
		return run, nil, nil
	}
	cases, problems := config.LoadCases(c)
	if len(cases) == 0 {
		return run, problems, nil
	}
	words, err := templates.New()
	if err != nil {
		return nil, nil, err
	}
	if run.verdicts, err = rehearsal.RunCases(ctx, words, c, cases); err != nil {
		return nil, nil, err
	}
	for _, v := range run.verdicts {
		if len(v.Diff) > 0 {
			run.failed++
		}
	}
	return run, problems, nil
}

// print prints the cases that do not hold.
func (r *caseRun) print(p *page.Page) {
	for _, v := range r.verdicts {
		if len(v.Diff) > 0 {
			v.Print(p)
			p.Line()
		}
	}
}

// caseJSON is a rule case as --json prints it; a contract.
type caseJSON struct {
	Case    string                 `json:"case"`
	Program string                 `json:"program"`
	Start   rules.Date             `json:"start"`
	File    string                 `json:"file"`
	Line    int                    `json:"line"`
	OK      bool                   `json:"ok"`
	Diff    []rehearsal.Difference `json:"difference"` // of the first day that differs
}

func (r *caseRun) json() []caseJSON {
	out := make([]caseJSON, len(r.verdicts))
	for i, v := range r.verdicts {
		c := v.Case
		out[i] = caseJSON{c.Name, c.Program, c.Start, c.At.File, c.At.Line, len(v.Diff) == 0, v.Diff}
		if v.Diff == nil {
			out[i].Diff = []rehearsal.Difference{}
		}
	}
	return out
}
