package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
)

// asker asks plain questions, a line each, so that it works on any terminal,
// for a screen reader, and with answers from a pipe.
type asker struct {
	in  *bufio.Reader
	out io.Writer
}

func newAsker(in io.Reader, out io.Writer) *asker { return &asker{bufio.NewReader(in), out} }

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
	text, err := a.in.ReadString('\n')
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
