package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

//go:embed debian
var debianFiles embed.FS

// file is what lies where in a package.
type file struct {
	from, to string
	mode     os.FileMode
}

type tree []file

func (t tree) with(more tree) tree { return append(append(tree{}, t...), more...) }

// home is the clinic folder of the packaged service.
const home = "/var/lib/stepgate"

// stageShared writes the files that are the same for all architectures. The
// program itself prints its manual, its completions and its unit.
func (r *release) stageShared(ctx context.Context, program, dir string) (tree, error) {
	s := &stage{dir: dir, at: r.at}
	pages := filepath.Join(dir, "pages")
	if err := os.MkdirAll(pages, 0o755); err != nil {
		return nil, err
	}
	if _, err := output(exec.CommandContext(ctx, program, "man", pages, "--date", r.at.Format("2006-01-02"))); err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(pages)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(pages, e.Name()))
		s.keep(err)
		s.packed("/usr/share/man/man1/"+e.Name(), string(text))
	}
	for shell, to := range map[string]string{
		"bash": "/usr/share/bash-completion/completions/stepgate",
		"fish": "/usr/share/fish/vendor_completions.d/stepgate.fish",
		"zsh":  "/usr/share/zsh/vendor-completions/_stepgate",
	} {
		text, err := output(exec.CommandContext(ctx, program, "completion", shell))
		s.keep(err)
		s.add(to, string(text), 0o644)
	}
	unit, err := unit(ctx, program)
	s.keep(err)
	s.add("/usr/lib/systemd/system/stepgate.service", unit, 0o644)
	s.add("/usr/lib/sysusers.d/stepgate.conf", r.debianText("sysusers"), 0o644)
	s.add("/usr/lib/tmpfiles.d/stepgate.conf", r.debianText("tmpfiles"), 0o644)
	s.add("/usr/share/lintian/overrides/stepgate", r.debianText("lintian-overrides"), 0o644)
	s.add("/usr/share/doc/stepgate/copyright", r.debianText("copyright"), 0o644)
	s.add("/usr/share/doc/stepgate/README.Debian", r.debianText("README.Debian"), 0o644)
	s.packed("/usr/share/doc/stepgate/changelog.Debian", r.debianText("changelog"))
	for _, name := range scripts {
		s.keep(os.WriteFile(filepath.Join(dir, name), []byte(r.debianText(name)), 0o755))
	}
	return s.files, s.err
}

// scripts are run by dpkg, see deb-postinst(5) and its neighbors.
var scripts = []string{"postinst", "prerm", "postrm"}

// debianText is one of the files in the folder debian, filled in.
func (r *release) debianText(name string) string {
	text, err := debianFiles.ReadFile("debian/" + name)
	if err != nil {
		panic(err) // it is part of this program
	}
	return strings.NewReplacer(
		"{VERSION}", debianVersion(r.version)+"-1", "{MADE FROM}", r.version, "{MAINTAINER}", r.maintainer,
		"{HOME}", home, "{DATE}", r.at.Format(time.RFC1123Z)).Replace(string(text))
}

// stage is a folder of files that go into a package.
type stage struct {
	dir   string
	at    time.Time
	files tree
	err   error // the first
}

func (s *stage) keep(err error) {
	if s.err == nil {
		s.err = err
	}
}

func (s *stage) add(to, text string, mode os.FileMode) {
	from := filepath.Join(s.dir, "root", to)
	s.keep(os.MkdirAll(filepath.Dir(from), 0o755))
	s.keep(os.WriteFile(from, []byte(text), mode))
	s.files = append(s.files, file{from, to, mode})
}

// packed adds a file as gzip -9n would make it.
func (s *stage) packed(to, text string) {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	s.keep(err)
	_, err = w.Write([]byte(text))
	s.keep(err)
	s.keep(w.Close())
	s.add(to+".gz", b.String(), 0o644)
}

const unitHead = `# The service of the clinic in {HOME}. It starts once that folder has a
# stepgate.yaml. See README.Debian in /usr/share/doc/stepgate, and to change
# something: systemctl edit stepgate
`

var unitFolder = regexp.MustCompile(`(^|[ =])/var/lib(\s)`)

// unit is what "stepgate unit" prints for a clinic in the packaged folder. On
// this machine that folder may not be there, or be a clinic in use, so it is
// printed for the folder above, which has no clinic in it, and then moved.
func unit(ctx context.Context, program string) (string, error) {
	above := filepath.Dir(home)
	if _, err := os.Stat(filepath.Join(above, "stepgate.yaml")); err == nil {
		return "", fmt.Errorf("%s has a stepgate.yaml in it, which would get into the unit", above)
	}
	out, err := output(exec.CommandContext(ctx, program, "unit", above, "--binary", "/usr/bin/stepgate"))
	if err != nil {
		return "", err
	}
	return packagedUnit(string(out))
}

// packagedUnit makes a printed unit that of the package: how to install it by
// hand is left out, and it waits for a clinic to be there.
func packagedUnit(printed string) (string, error) {
	at := strings.Index(printed, "[Unit]\n")
	if at < 0 {
		return "", fmt.Errorf("the printed unit has no section [Unit]:\n%s", printed)
	}
	text := unitFolder.ReplaceAllString(printed[at:], "${1}{HOME}${2}")
	for _, line := range []string{"\nExecStart=/usr/bin/stepgate serve {HOME}\n", "\nReadWritePaths={HOME}\n", "\nUser=stepgate\n"} {
		if strings.Count(text, line) != 1 {
			return "", fmt.Errorf("the printed unit has no line %q:\n%s", strings.TrimSpace(line), text)
		}
	}
	text = strings.Replace(text, "\nWants=", "\nDocumentation=man:stepgate(1)\nConditionPathExists={HOME}/stepgate.yaml\nWants=", 1)
	return strings.ReplaceAll(unitHead+"\n"+text, "{HOME}", home), nil
}
