//go:build proof

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// need finds a tool of Debian's.
func need(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is not installed; .ci/run says how these tools are", name)
	}
	return path
}

// unpacked are a package's files, its scripts in the folder DEBIAN.
func unpacked(t *testing.T, deb string) string {
	t.Helper()
	dir := t.TempDir()
	if out, err := exec.Command(need(t, "dpkg-deb"), "--raw-extract", deb, dir).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return dir
}

// TestProofLintian: Debian's own checks of packages find nothing, down to what
// they call pedantic. Words in the program that look misspelled are no words.
func TestProofLintian(t *testing.T) {
	t.Parallel()
	r := theRelease(t)
	for _, arch := range r.arches {
		deb := r.one(t, "*_"+arch+".deb")
		cmd := exec.Command(need(t, "lintian"), "--allow-root", "--pedantic", "--display-info", "--suppress-tags", "spelling-error-in-binary",
			"--fail-on", "error,warning,info,pedantic", deb)
		out, err := cmd.CombinedOutput()
		if err != nil || len(bytes.TrimSpace(out)) > 0 {
			t.Errorf("%s: %v\n%s", arch, err, out)
		}
	}
	// It can tell: without the overrides it finds the libraries in the program.
	cmd := exec.Command("lintian", "--allow-root", "--no-override", "--tags", "statically-linked-binary", r.one(t, "*_amd64.deb"))
	if out, _ := cmd.CombinedOutput(); !bytes.Contains(out, []byte("statically-linked-binary")) {
		t.Errorf("lintian finds nothing at all: %s", out)
	}
}

// TestProofDebianVersions: dpkg sorts the versions as they come about.
func TestProofDebianVersions(t *testing.T) {
	t.Parallel()
	need(t, "dpkg")
	rising := []string{"0.0.0-20261128023206-c9373d3d90a5", "0.0.0-20261128023207-0123456789ab", "0.1.0-rc.1", "0.1.0",
		"0.1.1-0.20261128023206-c9373d3d90a5", "0.1.1", "0.10.0"}
	for i := range rising[1:] {
		a, b := debianVersion(rising[i])+"-1", debianVersion(rising[i+1])+"-1"
		if err := exec.Command("dpkg", "--compare-versions", a, "lt", b).Run(); err != nil {
			t.Errorf("%s does not come before %s", a, b)
		}
	}
}

var missingPage = regexp.MustCompile(`referenced manual not found: Xr (\S+) 1`)

// TestProofManual: mandoc finds nothing to say of the manual pages, and there
// is one for each command.
func TestProofManual(t *testing.T) {
	t.Parallel()
	root := unpacked(t, theRelease(t).one(t, "*_"+hostArch(t)+".deb"))
	pages, err := filepath.Glob(filepath.Join(root, "usr/share/man/man1/*.gz"))
	if err != nil {
		t.Fatal(err)
	}
	help, err := exec.Command(filepath.Join(root, "usr/bin/stepgate"), "--help").Output()
	if err != nil {
		t.Fatal(err)
	}
	names := []string{"stepgate"}
	_, list, _ := strings.Cut(string(help), "Available Commands:\n")
	for line := range strings.Lines(list) {
		if strings.TrimSpace(line) == "" {
			break
		}
		if name := strings.Fields(line)[0]; name != "help" {
			names = append(names, "stepgate-"+name)
		}
	}
	if len(pages) != len(names) || len(names) < 15 {
		t.Errorf("%d pages for %d commands", len(pages), len(names))
	}
	for _, page := range pages {
		if out, err := exec.Command("gunzip", page).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		page = strings.TrimSuffix(page, ".gz")
		if name := strings.TrimSuffix(filepath.Base(page), ".1"); !slices.Contains(names, name) {
			t.Errorf("%s is a page of no command", name)
		}
		out, err := exec.Command(need(t, "mandoc"), "-T", "lint", page).CombinedOutput()
		var ended *exec.ExitError
		if err != nil && !asExit(err, &ended) {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(out)) {
			// It looks for the others where this machine keeps its manual.
			if m := missingPage.FindStringSubmatch(line); m != nil && slices.Contains(names, m[1]) {
				continue
			}
			t.Error(line)
		}
	}
	bad := filepath.Join(t.TempDir(), "bad.1")
	if err := os.WriteFile(bad, append(read(t, strings.TrimSuffix(pages[0], ".gz")), ".Nonesuch\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, _ := exec.Command("mandoc", "-T", "lint", bad).CombinedOutput(); !bytes.Contains(out, []byte("Nonesuch")) {
		t.Errorf("mandoc takes anything: %s", out)
	}
}

func asExit(err error, to **exec.ExitError) bool {
	e, ok := err.(*exec.ExitError)
	*to = e
	return ok
}

// cobraFinds is what shellcheck finds in the completion for bash that cobra
// 1.10 writes; nothing of it is ours to write otherwise. The one error among
// them, SC2145, is in a line for debugging.
var cobraFinds = []string{"SC2034", "SC2048", "SC2053", "SC2086", "SC2145", "SC2295"}

// TestProofScripts: the scripts that dpkg runs, and the completions.
func TestProofScripts(t *testing.T) {
	t.Parallel()
	root := unpacked(t, theRelease(t).one(t, "*_"+hostArch(t)+".deb"))
	for _, name := range scripts {
		if out, err := exec.Command(need(t, "shellcheck"), filepath.Join(root, "DEBIAN", name)).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
	bash := filepath.Join(root, "usr/share/bash-completion/completions/stepgate")
	out, _ := exec.Command("shellcheck", "--shell", "bash", "--format", "gcc", bash).Output()
	for _, code := range regexp.MustCompile(`SC\d+`).FindAllString(string(out), -1) {
		if !slices.Contains(cobraFinds, code) {
			t.Errorf("shellcheck finds something new in the completion for bash: %s\n%s", code, out)
		}
	}
	for _, c := range [][]string{
		{"zsh", "-n", filepath.Join(root, "usr/share/zsh/vendor-completions/_stepgate")},
		{"fish", "--no-execute", filepath.Join(root, "usr/share/fish/vendor_completions.d/stepgate.fish")},
	} {
		if out, err := exec.Command(need(t, c[0]), c[1:]...).CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%v: %v\n%s", c, err, out)
		}
	}
}

// TestProofCompletions: bash and fish complete commands, folders and ids.
func TestProofCompletions(t *testing.T) {
	t.Parallel()
	root := unpacked(t, theRelease(t).one(t, "*_"+hostArch(t)+".deb"))
	clinic, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	const bash = `source /usr/share/bash-completion/bash_completion || exit 1
source "$1"
compopt() { :; } # no key was pressed
shift
COMP_LINE="$*" COMP_POINT=${#COMP_LINE} COMP_WORDS=("$@") COMP_CWORD=$(($# - 1)) COMP_TYPE=9
__start_stepgate
printf '%s\n' "${COMPREPLY[@]}"
`
	for _, c := range []struct{ line, want string }{
		{"stepgate vers", "version"},
		{"stepgate check clin", "clinic"},
		{"stepgate explain clinic ros", "rosa-01"},
		{"stepgate explain clinic rosa-01 --da", "--date"},
		{"stepgate completion f", "fish"},
	} {
		words := strings.Fields(c.line)
		byBash := exec.Command(need(t, "bash"), append([]string{"--norc", "-c", bash, "bash", filepath.Join(root, "usr/share/bash-completion/completions/stepgate")}, words...)...)
		byFish := exec.Command(need(t, "fish"), "--no-config", "-c", `source $argv[1]; complete -C $argv[2]`, filepath.Join(root, "usr/share/fish/vendor_completions.d/stepgate.fish"), c.line)
		for _, cmd := range []*exec.Cmd{byBash, byFish} {
			cmd.Dir = clinic
			cmd.Env = append(os.Environ(), "PATH="+filepath.Join(root, "usr/bin")+":"+os.Getenv("PATH"), "HOME="+t.TempDir())
			out, err := cmd.CombinedOutput()
			first, _, _ := strings.Cut(strings.TrimSpace(string(out)), "\n")
			first, _, _ = strings.Cut(first, "\t")
			if err != nil || strings.TrimRight(strings.TrimSpace(first), "/=") != c.want {
				t.Errorf("%s, %q: %q, %v; want %s", cmd.Args[0], c.line, out, err, c.want)
			}
		}
	}
}
