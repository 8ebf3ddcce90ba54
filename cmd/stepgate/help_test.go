package main

import (
	"runtime/debug"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// TestEveryCommandIsExplained: whoever asks a command for help gets a line that
// can be typed.
func TestEveryCommandIsExplained(t *testing.T) {
	t.Parallel()
	root := rootCommand()
	for _, cmd := range append(root.Commands(), root) {
		if s := cmd.Short; s == "" || strings.HasSuffix(s, ".") {
			t.Errorf("%s: its short text is %q; want a line without a period", cmd.CommandPath(), s)
		}
		typed := 0
		for _, line := range exampleLines(cmd) {
			typed++
			if err := typeExample(line, cmd); err != "" {
				t.Errorf("%s: example %q: %s", cmd.CommandPath(), line, err)
			}
		}
		if typed == 0 {
			t.Errorf("%s has no example", cmd.CommandPath())
		}
		var out strings.Builder
		printHelp(&out, cmd)
		examples, usage := strings.Index(out.String(), "\nExamples:\n"), strings.Index(out.String(), "\nUsage:\n")
		if examples < 0 || usage < examples || strings.Count(out.String(), "Examples:") != 1 {
			t.Errorf("%s: the help does not begin with examples:\n%s", cmd.CommandPath(), out.String())
		}
	}
}

func exampleLines(cmd *cobra.Command) []string {
	var lines []string
	for line := range strings.Lines(strings.ReplaceAll(cmd.Example, "\\\n", " ")) {
		if strings.HasPrefix(line, "  stepgate ") {
			lines = append(lines, strings.TrimSpace(line))
		}
	}
	return lines
}

// typeExample says what is wrong with a line as if it were typed, short of
// running it. Each is read by a new tree: flags remember.
func typeExample(line string, of *cobra.Command) string {
	args := shellWords(line)[1:]
	root := rootCommand()
	cmd, rest, err := root.Find(args)
	if err != nil {
		return err.Error()
	}
	if of.HasParent() && cmd.Name() != of.Name() {
		return "it is of another command, " + cmd.Name()
	}
	cmd.InitDefaultHelpFlag()
	if err := cmd.ParseFlags(rest); err != nil {
		return err.Error()
	}
	if cmd.Args == nil {
		return ""
	}
	if err := cmd.Args(cmd, cmd.Flags().Args()); err != nil {
		return err.Error()
	}
	return ""
}

// shellWords splits a line where a shell would, as far as examples need it:
// quotes count, and comments, pipes and redirections end the command.
func shellWords(line string) []string {
	var words []string
	var word strings.Builder
	quote, in := rune(0), false
	flush := func() {
		if in {
			words = append(words, word.String())
		}
		word.Reset()
		in = false
	}
	for _, r := range line {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote != 0:
			word.WriteRune(r)
		case r == '"' || r == '\'':
			quote, in = r, true
		case r == ' ':
			flush()
		case !in && strings.ContainsRune("#|><&;", r):
			return words
		default:
			word.WriteRune(r)
			in = true
		}
	}
	flush()
	return words
}

// TestShellWords: an example is split as a shell would.
func TestShellWords(t *testing.T) {
	t.Parallel()
	for line, want := range map[string]string{
		`stepgate read clinic "did it, 3" --asked pain`: "stepgate|read|clinic|did it, 3|--asked|pain",
		`stepgate note p-01 'P2 D' --by J > x`:          "stepgate|note|p-01|P2 D|--by|J",
		`stepgate check a#b  # a remark`:                "stepgate|check|a#b",
		`stepgate read a "" | less`:                     "stepgate|read|a|",
	} {
		if got := strings.Join(shellWords(line), "|"); got != want {
			t.Errorf("%s: %q, want %q", line, got, want)
		}
	}
}

// TestBuildIsHonest: what is not known is said to be unknown.
func TestBuildIsHonest(t *testing.T) {
	t.Parallel()
	const no = "unknown"
	full := &debug.BuildInfo{GoVersion: "go1.26.8", Main: debug.Module{Version: "v0.0.0-20261105080910-0123456789ab+dirty"}, Settings: []debug.BuildSetting{
		{Key: "vcs.revision", Value: "0123456789abcdef"}, {Key: "vcs.time", Value: "2026-11-05T09:09:10+01:00"}, {Key: "vcs.modified", Value: "true"},
		{Key: "GOOS", Value: "linux"}, {Key: "GOARCH", Value: "arm64"},
	}}
	for _, c := range []struct {
		what, release string
		info          *debug.BuildInfo
		want          buildInfo
	}{
		{"nothing is known", "", nil, buildInfo{no, no, no, false, no, no}},
		{"no commit", "", &debug.BuildInfo{GoVersion: "go1.26.8", Main: debug.Module{Version: "(devel)"}}, buildInfo{no, no, no, false, "go1.26.8", no}},
		{"a release without a commit", "1.2.3", &debug.BuildInfo{GoVersion: "go1.26.8"}, buildInfo{"1.2.3", no, no, false, "go1.26.8", no}},
		{"between releases", "", full, buildInfo{full.Main.Version, "0123456789abcdef", "2026-11-05T08:09:10Z", true, "go1.26.8", "linux/arm64"}},
		{"a release", "1.2.3", full, buildInfo{"1.2.3", "0123456789abcdef", "2026-11-05T08:09:10Z", true, "go1.26.8", "linux/arm64"}},
	} {
		if got := readBuild(c.release, c.info); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.what, got, c.want)
		}
	}
}
