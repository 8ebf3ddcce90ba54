package main

import (
	"encoding/json"
	"errors"
	"flag"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain makes the test binary the program too: a copy of it named stepgate
// stands first in the path.
func TestMain(m *testing.M) {
	testscript.Main(waiting{m}, map[string]func(){"stepgate": main})
}

// waiting runs more tests at a time than there are cores: most of what they do
// is wait for the next made-up day.
type waiting struct{ m *testing.M }

func (w waiting) Run() int {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "test.parallel" })
	if !given {
		if err := flag.Set("test.parallel", "8"); err != nil {
			panic(err) // the testing package has no such flag any more
		}
	}
	return w.m.Run()
}

// TestScripts plays a user's stories. Beside testscript's own commands a
// script has:
//
//	exits CODE ARGS...   run stepgate, which must end with the code
//	columns N FILE       no line of the file is wider
//	plain FILE           text and line ends only: no color, no cursor moves
//	json FILE            the file is one JSON value
//
// FILE may be stdout or stderr, as elsewhere; $DATA is the folder testdata.
func TestScripts(t *testing.T) {
	data, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join(data, "script"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("DATA", data)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":   cmdExits,
			"columns": cmdColumns,
			"plain":   cmdPlain,
			"json":    cmdJSON,
		},
	})
}

func cmdExits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: exits CODE ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec("stepgate", args[1:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("stepgate did not run: %v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("stepgate %s: exit code %d, want %d\nstdout:\n%s\nstderr:\n%s",
			strings.Join(args[1:], " "), got, want, ts.ReadFile("stdout"), ts.ReadFile("stderr"))
	}
}

func cmdColumns(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: columns N FILE")
	}
	most, err := strconv.Atoi(args[0])
	ts.Check(err)
	text := ts.ReadFile(args[1])
	if text == "" {
		ts.Fatalf("%s is empty", args[1])
	}
	for line := range strings.Lines(text) {
		if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > most {
			ts.Fatalf("%d columns, want %d at most: %s", n, most, line)
		}
	}
}

func cmdPlain(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: plain FILE")
	}
	text := ts.ReadFile(args[0])
	if text == "" || !utf8.ValidString(text) {
		ts.Fatalf("%s is empty or no UTF-8", args[0])
	}
	for i, r := range text {
		if r < ' ' && r != '\n' || r == 0x7f {
			ts.Fatalf("%s has the control character %#x at %d", args[0], r, i)
		}
	}
}

func cmdJSON(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: json FILE")
	}
	if text := ts.ReadFile(args[0]); !json.Valid([]byte(text)) {
		ts.Fatalf("%s is no JSON:\n%s", args[0], text)
	}
}
