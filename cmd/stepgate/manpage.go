package main

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// manPages are the manual pages of all commands by file name, in the language
// of mdoc(7). All of it is taken from the tree of commands.
func manPages(root *cobra.Command, at time.Time) map[string]string {
	pages := map[string]string{}
	add := func(cmd *cobra.Command) {
		name := strings.ReplaceAll(cmd.CommandPath(), " ", "-")
		p := &manPage{}
		p.page(cmd, name, at)
		pages[name+".1"] = p.text.String()
	}
	add(root)
	for _, cmd := range root.Commands() {
		if !cmd.Hidden && cmd.Name() != "help" {
			add(cmd)
		}
	}
	return pages
}

// manPage is a page as far as it is written. A mistake in it is found by
// mandoc -T lint.
type manPage struct{ text strings.Builder }

func (p *manPage) page(cmd *cobra.Command, name string, at time.Time) {
	p.line(".Dd " + at.UTC().Format("January 2, 2006"))
	p.line(".Dt " + strings.ToUpper(name) + " 1")
	p.line(".Os")
	p.line(".Sh NAME\n.Nm " + name + "\n.Nd " + manWords(cmd.Short))
	p.synopsis(cmd)
	p.line(".Sh DESCRIPTION")
	p.prose(description(cmd))
	if !cmd.HasParent() {
		p.commands(cmd)
	}
	p.flags(cmd)
	if !cmd.HasParent() {
		p.line(".Sh ENVIRONMENT\n.Bl -tag -width Ds\n.It Ev NO_COLOR\nIf it is set, nothing is colored." +
			"\nWhat is no terminal never gets colors.\n.El")
	}
	p.exits()
	p.line(".Sh EXAMPLES")
	p.literal(cmd.Example)
	if cmd.HasParent() {
		p.line(".Sh SEE ALSO\n.Xr " + cmd.Root().Name() + " 1")
	}
}

// description is the long text of a command, or a sentence made of the short.
func description(cmd *cobra.Command) string {
	if cmd.Long != "" {
		return cmd.Long
	}
	return cmd.Short + "."
}

func (p *manPage) line(s string) { p.text.WriteString(s + "\n") }

func (p *manPage) synopsis(cmd *cobra.Command) {
	p.line(".Sh SYNOPSIS\n.Nm " + cmd.CommandPath())
	if !cmd.HasParent() {
		p.line(".Ar command\n.Op Ar argument ...")
		return
	}
	for _, word := range strings.Fields(cmd.Use)[1:] {
		if name := strings.Trim(word, "[]"); name != word {
			p.line(".Op Ar " + manWords(name))
		} else {
			p.line(".Ar " + manWords(name))
		}
	}
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden && f.Name != "help" {
			p.line(".Op " + manFlag(f))
		}
	})
}

func (p *manPage) commands(root *cobra.Command) {
	p.line(".Sh COMMANDS\n.Bl -tag -width Ds")
	for _, cmd := range root.Commands() {
		if !cmd.Hidden && cmd.Name() != "help" {
			p.line(".It Xr " + root.Name() + "-" + cmd.Name() + " 1")
			p.prose(cmd.Short + ".")
		}
	}
	p.line(".El")
}

func (p *manPage) flags(cmd *cobra.Command) {
	p.line(".Sh OPTIONS\n.Bl -tag -width Ds")
	cmd.InitDefaultHelpFlag()
	cmd.InitDefaultVersionFlag()
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		p.line(".It " + manFlag(f))
		_, text := pflag.UnquoteUsage(f)
		switch f.DefValue {
		case "", "false", "0", "0s", "[]":
		default:
			text += " (default " + f.DefValue + ")"
		}
		p.prose(text)
	})
	p.line(".El")
}

func (p *manPage) exits() {
	p.line(".Sh EXIT STATUS\n.Bl -tag -width Ds")
	for code, text := range []string{
		exitGood:    "It worked, and what was asked about is well.",
		exitNotWell: "It worked or failed, and something is not well.",
		exitUsage:   "Wrong use: flags, or files that can't be used.",
	} {
		p.line(fmt.Sprintf(".It %d\n%s", code, text))
	}
	p.line(".El")
}

// prose fills lines and begins one with each sentence, as mdoc(7) wants it.
// An empty line begins a paragraph, an indented one is shown as it stands.
func (p *manPage) prose(text string) {
	var line, kept []string
	flush := func() {
		if len(line) > 0 {
			p.line(manText(strings.Join(line, " ")))
		}
		line = nil
	}
	show := func() {
		if len(kept) > 0 {
			p.literal(strings.Join(kept, "\n"))
		}
		kept = nil
	}
	lines := strings.Split(strings.TrimSpace(text), "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, " ") {
			flush()
			kept = append(kept, l)
			continue
		}
		show()
		if l == "" {
			flush()
			if !strings.HasPrefix(lines[i+1], " ") { // .Bd parts paragraphs itself
				p.line(".Pp")
			}
		}
		for _, word := range strings.Fields(l) {
			if len(strings.Join(line, " "))+len(word) > 72 {
				flush()
			}
			line = append(line, word)
			if strings.ContainsAny(word[len(word)-1:], ".!?") {
				flush()
			}
		}
	}
	flush()
	show()
}

// literal shows lines as they stand.
func (p *manPage) literal(text string) {
	p.line(".Bd -literal")
	for _, l := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		p.line(manText(l))
	}
	p.line(".Ed")
}

func manFlag(f *pflag.Flag) string {
	s := "Fl -" + f.Name
	if f.Shorthand != "" {
		s = "Fl " + f.Shorthand + " , " + s
	}
	if name, _ := pflag.UnquoteUsage(f); name != "" {
		s += " Ar " + manWords(name)
	}
	return s
}

var manSigns = strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`)

// manText is a line of text, in which nothing is taken for a request.
func manText(s string) string {
	s = manSigns.Replace(s)
	if strings.HasPrefix(s, ".") {
		s = `\&` + s
	}
	return s
}

var manMacro = regexp.MustCompile(`(^|\s)([A-Z][A-Za-z]?[a-z]?|[.,:;()\[\]?!|])(\s|$)`)

// manWords are words on a line of a macro, in which none is taken for another.
func manWords(s string) string { return manMacro.ReplaceAllString(manText(s), `$1\&$2$3`) }
