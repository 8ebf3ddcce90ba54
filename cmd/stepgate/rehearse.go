package main

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/daemon/page"
	"stepgate/daemon/rehearsal"
	"stepgate/rules"
	"stepgate/templates"
)

// rehearseFlags are the flags as given.
type rehearseFlags struct {
	program, enrollment, start, replies string
	weeks, crowd                        int
	seed                                uint64
	asJSON                              bool
}

func rehearseCommand() *cobra.Command {
	var f rehearseFlags
	cmd := &cobra.Command{
		Use:   "rehearse DIR",
		Short: "Play a program forward on a made-up calendar, before a patient meets it",
		Example: "  stepgate rehearse my-clinic --program easy-start --replies bad-week.csv\n" +
			"  stepgate rehearse my-clinic --enrollment p-01 --json\n" +
			"  stepgate rehearse my-clinic --program easy-start --crowd 1000 --seed 1\n\n" +
			"The replies are a CSV file with the columns day,time,text. Day 1 is the start date;\n" +
			"a reply without a time comes just after that day's message. A text of !hold,\n" +
			"!release, !release as before, !release wear, !cap 2, !cap none, !strike, !strike 9,\n" +
			"!review or !discharge is a clinician's entry of that day.",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error { return rehearse(cmd, args[0], f) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.program, "program", "", "the program to play; may be left out with --enrollment")
	flags.StringVar(&f.enrollment, "enrollment", "", "play it for this patient: side, zone, time, tailoring (default: a made-up patient)")
	flags.StringVar(&f.start, "start", "", "the first date, like 2026-10-05 (default: today)")
	flags.IntVar(&f.weeks, "weeks", 0, "how many weeks (default: the program's length, or 12)")
	flags.StringVar(&f.replies, "replies", "", "CSV file of replies (default: the patient stays silent)")
	flags.IntVar(&f.crowd, "crowd", 0, "play this many made-up patients, and count")
	flags.Uint64Var(&f.seed, "seed", 1, "with --crowd: the same seed plays the same crowd")
	flags.BoolVar(&f.asJSON, "json", false, "print as JSON")
	return cmd
}

// check finds flags that can't go together.
func (f rehearseFlags) check(cmd *cobra.Command) error {
	given := cmd.Flags().Changed
	switch {
	case f.program == "" && f.enrollment == "":
		return usage{errors.New("name what to rehearse, with --program or --enrollment")}
	case given("weeks") && (f.weeks < 1 || f.weeks > rehearsal.MaxWeeks):
		return usage{fmt.Errorf("--weeks wants a number from 1 to %d", rehearsal.MaxWeeks)}
	case given("crowd") && (f.crowd < 1 || f.crowd > rehearsal.MaxCrowd):
		return usage{fmt.Errorf("--crowd wants a number from 1 to %d", rehearsal.MaxCrowd)}
	case given("crowd") && given("replies"):
		return usage{errors.New("--crowd makes its own replies; leave out --replies")}
	case given("seed") && !given("crowd"):
		return usage{errors.New("--seed goes with --crowd")}
	}
	return nil
}

// rehearse lays out what was asked for and plays it.
func rehearse(cmd *cobra.Command, dir string, f rehearseFlags) error {
	if err := f.check(cmd); err != nil {
		return err
	}
	if err := folder(dir); err != nil {
		return err
	}
	c, problems := config.Load(dir, os.Getenv)
	if c == nil {
		return problems.Errors()
	}
	plan, err := f.plan(c)
	if err != nil {
		return err
	}
	words, err := templates.New()
	if err != nil {
		return err
	}
	out := &page.Page{Out: cmd.OutOrStdout(), Color: colors() && !f.asJSON}
	if f.crowd > 0 {
		return playCrowd(cmd, out, words, plan, f)
	}
	days, err := rehearsal.Run(cmd.Context(), words, plan)
	if err != nil {
		return err
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), days)
	}
	rehearsal.Print(out, words, plan, days)
	return nil
}

// plan lays out the rehearsal, replies and all.
func (f rehearseFlags) plan(c *config.Clinic) (*rehearsal.Plan, error) {
	start := rules.DateOf(time.Now())
	if f.start != "" {
		var err error
		if start, err = rules.ParseDate(f.start); err != nil || start < rules.NewDate(2000, 1, 1) || start > rules.NewDate(2199, 12, 31) {
			return nil, usage{fmt.Errorf("--start is no date: %q; write one that exists, like 2026-10-05", f.start)}
		}
	}
	plan, err := rehearsal.NewPlan(c, rehearsal.Wanted{Program: f.program, Enrollment: f.enrollment, Start: start, Weeks: f.weeks})
	var unknown rehearsal.UnknownError
	if errors.As(err, &unknown) {
		return nil, usage{err}
	}
	if err != nil || f.replies == "" {
		return plan, err
	}
	data, err := os.ReadFile(f.replies)
	if err != nil {
		return nil, usage{fmt.Errorf("--replies: %w", err)}
	}
	replies, problems := config.ReadReplies(config.NewFile(f.replies, data), plan.Program, plan.Days)
	if len(problems) > 0 {
		return nil, problems
	}
	plan.Replies = replies
	return plan, nil
}

func playCrowd(cmd *cobra.Command, out *page.Page, words *templates.Set, plan *rehearsal.Plan, f rehearseFlags) error {
	crowd, err := rehearsal.PlayCrowd(cmd.Context(), words, plan, f.crowd, f.seed)
	if err != nil {
		return err
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), crowd)
	}
	crowd.Print(out)
	return nil
}
