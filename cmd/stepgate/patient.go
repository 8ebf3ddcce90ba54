package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
)

// lastDates is how much of a course is shown where nothing else is asked for.
const lastDates = 14

func patientCommand() *cobra.Command {
	asJSON, quick, ascii, from, to := false, false, false, "", ""
	span := caseload.Span{}
	cmd := &cobra.Command{
		Use:   "patient DIR ID",
		Short: "Tell one patient's course, day by day",
		Example: "  stepgate patient my-clinic p-01\n" +
			"  stepgate patient my-clinic p-01 --from 2026-10-05 --to 2026-10-12\n" +
			"  stepgate patient my-clinic p-01 --last 0 --json",
		Args: wants("DIR", "ID"),
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			if err := folder(args[0]); err != nil {
				return err
			}
			if span.From, err = parseDateFlag("--from", from); err != nil {
				return err
			}
			if span.To, err = parseDateFlag("--to", to); err != nil {
				return err
			}
			last := cmd.Flags().Changed("last")
			switch {
			case span.Last < 0:
				return usage{fmt.Errorf("--last: %d is less than none", span.Last)}
			case last && from != "":
				return usage{errors.New("--last and --from: choose one")}
			case from != "" && to != "" && span.From > span.To:
				return usage{fmt.Errorf("--from %s is after --to %s", from, to)}
			case from != "":
				span.Last = 0
			}
			t, running, err := daemon.NewLooker(args[0], quick, os.Getenv).Timeline(cmd.Context(), args[1], span)
			if errors.Is(err, control.ErrNotFound) {
				return usage{fmt.Errorf("nobody is enrolled as %q; stepgate caseload %s lists the ids", args[1], args[0])}
			}
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), t)
			}
			p := coursePage{terminal: newTerminal(cmd.OutOrStdout(), ascii), last: map[string]string{}}
			p.print(t, running, strings.Join(args, " "))
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&from, "from", "", "the first date, like 2026-10-05")
	f.StringVar(&to, "to", "", "the last date")
	f.IntVar(&span.Last, "last", lastDates, "so many days up to the newest, or to --to (0: all)")
	f.BoolVar(&ascii, "ascii", false, "plain digits instead of the small chart")
	f.BoolVar(&asJSON, "json", false, "print as JSON")
	f.BoolVar(&quick, "quick", false, "look at the data of quick time")
	return cmd
}

// coursePage prints a patient's course for a person at a terminal.
type coursePage struct {
	terminal
	last map[string]string // by kind, the last dose and decision that were told in full
}

func (p *coursePage) print(t *caseload.Timeline, running bool, args string) {
	p.head(t, running)
	if len(t.Dates) == 0 && (!t.Erased || t.Date != 0) {
		p.line("")
		p.wrap("", 0, "Nothing happened on the dates asked for.")
	}
	if t.Earlier > 0 {
		p.line("")
		p.wrap("", 0, fmt.Sprintf("%s before %s left out; stepgate patient %s --last 0 shows all.", plural(t.Earlier, "date"), t.From, args))
	}
	for _, d := range t.Dates {
		head := dateText(d.Date)
		if d.Day > 0 {
			head += fmt.Sprintf(", day %d", d.Day)
		}
		p.line("")
		p.line(p.bold(head))
		for i := range d.Items {
			p.item(&d.Items[i])
		}
	}
}

func (p *coursePage) head(t *caseload.Timeline, running bool) {
	if t.Erased {
		text := "The record of " + t.ID + " was erased; nothing of it is left to show."
		if t.Date != 0 || len(t.Dates) > 0 || !t.Gone {
			text = "An earlier patient was erased who had the id " + t.ID + "; this is about the one who has it now."
		}
		p.hang("! " + text)
		if t.Gone && t.State == "" {
			return
		}
	}
	p.line(p.bold(strings.TrimSpace(printable(t.ID + " " + t.Name))))
	p.quick(t.Quick)
	if t.Gone {
		p.hang("! No longer in the clinic's files: no message goes out on its own. This is what the record has.")
	}
	if !running {
		p.hang("! No service runs; this is as of " + t.AsOf.Format(whenFormat) + howOld(t.AsOf) + ".")
	}
	p.fact("program", programText(t))
	if t.Dispensed != 0 {
		p.fact("dispensed", fmt.Sprintf("%s, day %s", t.Dispensed.Time().Format("Mon Jan 2 2006"), dayText(&t.Row)))
	}
	if t.Date != 0 {
		p.fact("plan", fmt.Sprintf("step %s, program day %d; wear %s", stepText(&t.Row), t.ProgramDay, wearText(&t.Row)))
		p.fact("pain", p.trend(&t.Row)+" in 14 days; done "+doneText(&t.Row))
	}
	state := string(t.State)
	if t.Cause != "" {
		state += ": " + t.Cause
	}
	p.fact("state", state)
	if t.Gone {
		return
	}
	p.fact("cautions", strings.Join(t.Cautions, ", "))
	if l := t.Lines; l != nil {
		own := ""
		if l.By != "" {
			own = ", this patient's own, by " + l.By
		}
		p.fact("lines", fmt.Sprintf("steady %d, hold %d, step back %d, pause %d%s", l.Steady, l.Hold, l.StepBack, l.Pause, own))
	}
	visit := ""
	if t.Visit != 0 {
		visit = t.Visit.Time().Format("Mon Jan 2 2006")
	}
	p.fact("review", visit)
}

func programText(t *caseload.Timeline) string {
	if t.Title == "" {
		return t.Program
	}
	return t.Title + " (" + t.Program + ")"
}

// fact is one line of the head.
func (p *coursePage) fact(name, text string) {
	if text == "" {
		text = "none"
	}
	p.wrap(fmt.Sprintf("  %-10s", name), 12, text)
}

// item is one thing that happened: when, what, and in words.
func (p *coursePage) item(it *caseload.Item) {
	name, text := it.Kind, it.Text
	switch it.Kind {
	case "dose", "decided":
		if text == p.last[it.Kind] {
			text = "as the time before"
		} else {
			p.last[it.Kind] = text
		}
	case "change":
		for _, line := range p.folded("* "+text, p.width-2) {
			p.line("  " + p.bold(line))
		}
		return
	case "reply":
		text = `"` + text + `"`
		if it.Read != "" {
			text += " (" + it.Read + ")"
		}
	case "alert":
		name = "! alert"
	case "entry":
		name = "+ entry"
	case "message":
		name = "text"
	}
	if it.Phone != "" {
		text += " [by phone, " + it.Phone + "]"
	}
	if it.Status != "" {
		text += " [" + it.Status + "]"
	}
	head := fmt.Sprintf("  %s  %-8s ", it.At.Format("15:04"), name)
	if p.narrow() {
		p.line(head)
		p.wrap("", 4, text)
		return
	}
	p.wrap(head, cells(head), text)
}
