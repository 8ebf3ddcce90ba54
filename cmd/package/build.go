package main

import (
	"bytes"
	"context"
	"debug/buildinfo"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"time"
)

// build makes the program for an architecture: no C library, no paths of this
// machine in it, no table of symbols. Stack traces have their lines all the same.
func (r *release) build(ctx context.Context, arch, to string) error {
	return r.buildFor(ctx, "linux", arch, to)
}

func (r *release) buildFor(ctx context.Context, system, arch, to string) error {
	to, err := filepath.Abs(to)
	if err != nil {
		return err
	}
	vcs := "false"
	if _, err := os.Stat(filepath.Join(r.source, ".git")); err == nil {
		vcs = "true"
	}
	flags := "-s -w"
	if releaseVersion.MatchString(r.version) {
		flags += " -X main.version=" + r.version
	}
	cmd := r.goTool(ctx, arch, "build", "-trimpath", "-buildvcs="+vcs, "-ldflags", flags, "-o", to, "./cmd/stepgate")
	cmd.Env = append(cmd.Env, "GOOS="+system)
	_, err = output(cmd)
	return err
}

// goTool runs the Go tool in the source folder, with nothing of this machine's
// settings that would change what it makes.
func (r *release) goTool(ctx context.Context, arch string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "go", args...)
	cmd.Dir = r.source
	cmd.Env = append(os.Environ(), "GOOS=linux", "GOARCH="+arch, "GOAMD64=v1", "GOARM64=v8.0", "CGO_ENABLED=0",
		"GOFLAGS=-mod=readonly", "GOEXPERIMENT=", "GOWORK=off", "GOFIPS140=off", "GIT_OPTIONAL_LOCKS=0")
	if r.cache != "" {
		cmd.Env = append(cmd.Env, "GOCACHE="+r.cache)
	}
	return cmd
}

// output is what a command prints; its complaints are the error.
func output(cmd *exec.Cmd) ([]byte, error) {
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("%s: %w\n%s", strings.Join(cmd.Args, " "), err, strings.TrimSpace(complaints.String()))
	}
	return out.Bytes(), nil
}

// hostProgram is the program for this machine. It writes its own manual and
// knows its own version and date, which are then those of the release.
func (r *release) hostProgram(ctx context.Context, stage string) (string, error) {
	program := filepath.Join(stage, "stepgate")
	if err := r.buildFor(ctx, runtime.GOOS, runtime.GOARCH, program); err != nil {
		return "", err
	}
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return "", fmt.Errorf("read what the program was built from: %w", err)
	}
	if r.version == "" {
		r.version = strings.TrimPrefix(info.Main.Version, "v")
	}
	if r.version == "" || r.version == "(devel)" {
		return "", errors.New("the source has no commit here, so its version is not known; give one with --version")
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.time" && r.at.IsZero() {
			if r.at, err = time.Parse(time.RFC3339, s.Value); err != nil {
				return "", fmt.Errorf("date of the commit: %w", err)
			}
			r.at = r.at.UTC()
		}
	}
	if r.at.IsZero() {
		return "", errors.New("the source has no commit here, so its date is not known; give one as SOURCE_DATE_EPOCH, in seconds since 1970")
	}
	return program, nil
}

var (
	releaseVersion = regexp.MustCompile(`^(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)(-[0-9A-Za-z.]+)?$`)                    // semver.org
	commitVersion  = regexp.MustCompile(`^(\d+\.\d+\.\d+)-(?:0\.|[0-9A-Za-z.]+\.0\.)?(\d{14})-([0-9a-f]{12})(\+dirty)?$`) // go.dev/ref/mod#pseudo-versions
)

// debianVersion writes a version as deb-version(7) sorts it: one made between
// releases, and one that leads to a release, come before that release.
func debianVersion(version string) string {
	if m := commitVersion.FindStringSubmatch(version); m != nil {
		return m[1] + "~git" + m[2] + "." + m[3] + m[4]
	}
	return strings.Replace(version, "-", "~", 1)
}
