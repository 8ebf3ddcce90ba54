package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// asker asks plain questions, a line each, so that it works on any terminal,
// for a screen reader, and with answers from a pipe. It stops asking when its
// context ends, as with Ctrl-C.
type asker struct {
	ctx  context.Context
	in   *bufio.Reader
	out  io.Writer
	want chan struct{}
	got  chan answered
}

// answered is a line that was read, or why there is none.
type answered struct {
	text string
	err  error
}

// newAsker takes the terminal of a command. Lines are read beside the questions:
// a read can't be broken off, and one that waits ends with the program.
func newAsker(cmd *cobra.Command) *asker {
	a := &asker{cmd.Context(), bufio.NewReader(cmd.InOrStdin()), cmd.OutOrStdout(), make(chan struct{}), make(chan answered, 1)}
	go func() {
		for range a.want {
			text, err := a.in.ReadString('\n')
			a.got <- answered{text, err}
		}
	}()
	return a
}

// errBrokenOff says that somebody pressed Ctrl-C, or the like.
var errBrokenOff = errors.New("broken off; nothing was written")

// errNoAnswer says that the input ended before a question was answered.
var errNoAnswer = errors.New("the input ended before every question was answered; nothing was written")

// ask puts a question until take is content with the answer. An empty answer is
// the proposal, where there is one.
func (a *asker) ask(question, proposal string, take func(string) error) error {
	for {
		fmt.Fprint(a.out, question)
		if proposal != "" {
			fmt.Fprintf(a.out, " [%s]", proposal)
		}
		fmt.Fprint(a.out, ": ")
		answer, err := a.line()
		if err != nil {
			return err
		}
		if answer == "" {
			answer = proposal
		}
		if err = take(answer); err == nil {
			return nil
		}
		fmt.Fprintf(a.out, "  %s\n", sentence(err))
	}
}

func (a *asker) line() (string, error) {
	var text string
	var err error
	select {
	case a.want <- struct{}{}:
		select {
		case line := <-a.got:
			text, err = line.text, line.err
		case <-a.ctx.Done():
			err = errBrokenOff
		}
	case <-a.ctx.Done():
		err = errBrokenOff
	}
	if err != nil && text == "" {
		fmt.Fprintln(a.out)
		if errors.Is(err, io.EOF) {
			err = usage{errNoAnswer}
		}
		return "", err
	}
	return strings.TrimSpace(text), nil
}

// yes asks for a yes; anything else is a no.
func (a *asker) yes(question string) (bool, error) {
	fmt.Fprintf(a.out, "%s [y/N]: ", question)
	answer, err := a.line()
	if errors.Is(err, errNoAnswer) {
		return false, nil
	}
	return strings.EqualFold(answer, "y") || strings.EqualFold(answer, "yes"), err
}

// yesOrNo asks until one of them is the answer; there is no proposal.
func (a *asker) yesOrNo(question string) (yes bool, err error) {
	err = a.ask(question+" [y/n]", "", func(s string) error {
		switch strings.ToLower(s) {
		case "y", "yes":
			yes = true
		case "n", "no":
			yes = false
		default:
			return errors.New("write y for yes or n for no")
		}
		return nil
	})
	return yes, err
}

// sentence makes an error one that a person is told.
func sentence(err error) string {
	text := err.Error()
	if text == "" {
		return ""
	}
	text = strings.ToUpper(text[:1]) + text[1:]
	if !strings.HasSuffix(text, "?") {
		text += "."
	}
	return text
}
