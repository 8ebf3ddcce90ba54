package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepgate/config"
	"stepgate/rules"
	"stepgate/templates"
)

func initCommand() *cobra.Command {
	yes := false
	given := map[string]*string{}
	cmd := &cobra.Command{
		Use:   "init DIR",
		Short: "Make a new clinic's folder: a few questions, commented files, a program to start from and a sample",
		Long: "Make a new clinic's folder. It asks a few questions, or takes the answers as flags, and\n" +
			"writes the clinic's files with comments, a program to start from that nobody has approved\n" +
			"yet, one sample enrollment that reaches nobody, and JSON Schemas that let editors complete\n" +
			"the keys. Files that are there already are left as they are, so it can be run again.",
		Example: "  stepgate init my-clinic\n" +
			"  stepgate init my-clinic --yes --name 'Harbor Foot Clinic' --phone '+1 503 555 0110' \\\n" +
			"    --hours 'Mon-Fri 8:30-17:00' --after-hours '+1 503 555 0111' --emergency 911 \\\n" +
			"    --zone America/Los_Angeles --program heel-pain",
		Args: wants("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if info, err := os.Stat(args[0]); err == nil && !info.IsDir() {
				return usage{fmt.Errorf("%s is a file; name a folder", args[0])}
			}
			o := &config.Opening{Dir: args[0], Pages: templates.StarterClinic(), Programs: templates.Starters()}
			if err := askOpening(cmd, o, given, yes); err != nil {
				return err
			}
			return open(cmd, o)
		},
	}
	for _, q := range config.OpeningKeys {
		given[q.Name] = cmd.Flags().String(q.Name, "", strings.ToLower(q.Ask[:1])+q.Ask[1:])
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "ask nothing: the answers are the flags")
	return cmd
}

// askOpening gets the answers that are not given as flags, unless the folder has
// what they are for. Wrong flags are all told at once.
func askOpening(cmd *cobra.Command, o *config.Opening, given map[string]*string, yes bool) error {
	settings, program, enrollments := o.Has()
	a := newAsker(cmd)
	if settings || program != "" || enrollments {
		fmt.Fprintf(cmd.OutOrStdout(), "%s holds files of a clinic. They stay as they are; only what is missing is added.\n", o.Dir)
	}
	var wrong []string
	for _, q := range config.OpeningKeys {
		if settings && q.Name != "program" || program != "" && q.Name == "program" {
			continue // the folder says it already
		}
		text := *given[q.Name]
		if text == "" && yes {
			text = proposedLanguage(q.Name)
		}
		if text == "" && yes {
			wrong = append(wrong, "--"+q.Name+" is missing ("+strings.ToLower(q.Ask[:1])+q.Ask[1:]+")")
			continue
		}
		if text != "" {
			if err := o.Answer(q.Name, text); err != nil {
				wrong = append(wrong, "--"+q.Name+": "+err.Error())
			}
			continue
		}
		if len(wrong) > 0 {
			continue
		}
		if err := a.ask(question(q.Name, q.Ask, o), proposed(q.Name), func(s string) error { return o.Answer(q.Name, s) }); err != nil {
			return err
		}
	}
	if len(wrong) > 0 {
		return usage{errors.New(strings.Join(wrong, "\n  "))}
	}
	zone, err := time.LoadLocation(cmp.Or(o.Zone, "UTC"))
	if err != nil {
		return err
	}
	o.Today = rules.DateOf(time.Now().In(zone))
	return nil
}

func question(name, ask string, o *config.Opening) string {
	if name == "program" {
		names := o.Starters()
		var list strings.Builder
		for _, name := range names {
			fmt.Fprintf(&list, "  %-20s%s\n", name, o.About(name))
		}
		return "Programs to start from, none of which is approved yet:\n" + list.String() + ask
	}
	return ask
}

// proposed is the answer that an empty line stands for. The zone is the
// machine's, if it has one by name; it is written only because somebody saw it.
func proposed(name string) string {
	if name == "zone" {
		return machineZone()
	}
	return proposedLanguage(name)
}

// proposedLanguage is the first that messages ship in.
func proposedLanguage(name string) string {
	if name == "language" {
		return config.Languages()[0]
	}
	return ""
}

// machineZone is the name of this machine's time zone, "" where it has none.
func machineZone() string {
	name := os.Getenv("TZ")
	if name == "" {
		if at, err := filepath.EvalSymlinks("/etc/localtime"); err == nil {
			_, name, _ = strings.Cut(at, "zoneinfo/")
		}
	}
	name = strings.TrimPrefix(name, ":")
	if _, err := time.LoadLocation(name); err != nil || !strings.Contains(name, "/") || strings.HasPrefix(name, "Etc/") {
		return "" // UTC is a machine's zone, hardly a clinic's
	}
	return name
}

// open writes the folder and says what comes next.
func open(cmd *cobra.Command, o *config.Opening) error {
	out := cmd.OutOrStdout()
	made, err := o.Make()
	for _, m := range made {
		switch {
		case m.Kept && m.Other && strings.HasPrefix(m.Path, "schemas/"):
			fmt.Fprintf(out, "  kept     %s (of another version; delete it and run init again for a new one)\n", m.Path)
		case m.Kept:
			fmt.Fprintf(out, "  kept     %s (it was there, and is as it was)\n", m.Path)
		default:
			fmt.Fprintf(out, "  written  %s\n", m.Path)
		}
	}
	if err != nil {
		return err
	}
	c, problems := config.Load(o.Dir, os.Getenv)
	for _, p := range problems {
		fmt.Fprintln(out, p)
	}
	if c == nil {
		fmt.Fprintf(out, "\n%d to put right in the files that were there; stepgate check %s tells them again.\n", len(problems.Errors()), o.Dir)
		return errNotWell
	}
	id := "ID"
	for e := range c.Enrollments.All() {
		if e.Address.Channel == "spool" {
			id = e.ID
			break
		}
	}
	fmt.Fprintf(out, "\nThe folder of %s is ready. Next:\n\n", c.Name)
	for _, next := range [][2]string{
		{"check " + o.Dir, "what its texts take, and what is worth a look"},
		{"serve " + o.Dir + " --quick 1m", "live a day a minute; nothing leaves this machine"},
		{"handset " + o.Dir + " " + id, "be the patient's phone, in a second terminal"},
	} {
		fmt.Fprintf(out, "  stepgate %-*s  %s\n", len(o.Dir)+len("handset  ")+max(len(id), len("quick 1m")), next[0], next[1])
	}
	fmt.Fprintln(out)
	fmt.Fprintf(out, "Then enroll your first patient: stepgate enroll %s\n", o.Dir)
	return nil
}
