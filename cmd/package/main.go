// Command package makes a release of stepgate: programs, Debian packages, bills
// of material, licenses, checksums. It is a module of its own, so that what it
// needs for this is no part of the product. See README.md.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	r := release{source: filepath.Join("..", "..")}
	arches := flag.String("arch", "amd64,arm64", "architectures, Go's names for them")
	flag.StringVar(&r.version, "version", "", "the version, like 1.2.3 (default: the commit, as one before 0.0.0)")
	flag.StringVar(&r.out, "out", "", "the folder to make; must be empty or not there")
	flag.StringVar(&r.source, "source", r.source, "the source folder")
	flag.StringVar(&r.maintainer, "maintainer", "The Stepgate authors <stepgate@example.org>", "who answers for the Debian packages")
	flag.Parse()
	r.arches = strings.Split(*arches, ",")
	if err := r.readEnv(os.Getenv("SOURCE_DATE_EPOCH")); err != nil {
		fail(err)
	}
	if err := r.make(ctx); err != nil {
		fail(err)
	}
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, "package:", err)
	os.Exit(1)
}

// release is what is to be made, and for which day.
type release struct {
	source, out string
	version     string // as given; then of the program
	maintainer  string
	arches      []string
	at          time.Time // on everything that carries a date
	cache       string    // of the Go tool; "": its own
}

// readEnv takes the date of the release, in seconds since 1970, if it is not
// to be that of the commit.
func (r *release) readEnv(epoch string) error {
	if epoch == "" {
		return nil
	}
	n, err := strconv.ParseInt(epoch, 10, 64)
	if err != nil {
		return errors.New("SOURCE_DATE_EPOCH wants a number of seconds since 1970")
	}
	r.at = time.Unix(n, 0).UTC()
	return nil
}

// make builds all of it and says what it made.
func (r *release) make(ctx context.Context) error {
	if err := r.check(); err != nil {
		return err
	}
	stage, err := os.MkdirTemp("", "stepgate-package-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(stage)
	host, err := r.hostProgram(ctx, stage)
	if err != nil {
		return err
	}
	shared, err := r.stageShared(ctx, host, filepath.Join(stage, "shared"))
	if err != nil {
		return err
	}
	for _, arch := range r.arches {
		if err := r.makeArch(ctx, arch, stage, shared); err != nil {
			return fmt.Errorf("%s: %w", arch, err)
		}
	}
	return writeSums(r.out)
}

// makeArch makes what there is for one architecture.
func (r *release) makeArch(ctx context.Context, arch, stage string, shared tree) error {
	name := fmt.Sprintf("stepgate-%s-linux-%s", r.version, arch)
	program := filepath.Join(r.out, name)
	if err := r.build(ctx, arch, program); err != nil {
		return err
	}
	modules, err := r.licenses(ctx, arch)
	if err != nil {
		return err
	}
	texts := filepath.Join(r.out, name+".third-party.txt")
	if err := os.WriteFile(texts, []byte(thirdParty(modules)), 0o644); err != nil {
		return err
	}
	bill, err := r.bill(program, modules)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(r.out, name+".cdx.json"), bill, 0o644); err != nil {
		return err
	}
	files := shared.with(tree{
		{program, "/usr/bin/stepgate", 0o755},
		{texts, "/usr/share/doc/stepgate/third-party", 0o644},
	})
	return r.debian(arch, filepath.Join(stage, "shared"), files)
}

// check refuses what could not be made, before an hour's work is done.
func (r *release) check() error {
	if r.out == "" {
		return errors.New("say where to, with --out")
	}
	if _, err := os.Stat(filepath.Join(r.source, "cmd", "stepgate", "main.go")); err != nil {
		return fmt.Errorf("%s is not the source folder; name it with --source", r.source)
	}
	if r.version != "" && !releaseVersion.MatchString(r.version) {
		return fmt.Errorf("--version wants three numbers, like 1.2.3 or 1.2.3-rc.1, not %q", r.version)
	}
	if err := os.MkdirAll(r.out, 0o755); err != nil {
		return err
	}
	there, err := os.ReadDir(r.out)
	if err == nil && len(there) > 0 {
		err = fmt.Errorf("%s is not empty; a release is made in a folder of its own", r.out)
	}
	return err
}
