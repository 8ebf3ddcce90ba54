package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/blakesmith/ar"
	"github.com/ulikunitz/xz"
)

// TestDebianPackage reads the package as dpkg would: everything is root's, has
// the release's date, can be read by all and written by nobody else, and no
// file is the clinic's.
func TestDebianPackage(t *testing.T) {
	t.Parallel()
	r := theRelease(t)
	for _, arch := range r.arches {
		control, data := parts(t, r.one(t, "*_"+arch+".deb"))
		fields := string(control["./control"].body)
		for _, line := range []string{"Package: stepgate\n", "Version: 9.8.7~rc.1-1\n", "Architecture: " + arch + "\n", "Maintainer: Jo Tester <jo@example.org>\n"} {
			if !strings.Contains(fields, line) {
				t.Errorf("%s: the control file has no line %q:\n%s", arch, line, fields)
			}
		}
		if _, there := control["./conffiles"]; there {
			t.Errorf("%s: the package owns settings; want none", arch)
		}
		for _, name := range scripts {
			if f, there := control["./"+name]; !there || f.Mode != 0o755 || bytes.Contains(f.body, []byte("{HOME}")) {
				t.Errorf("%s: script %s is there: %v", arch, name, there)
			}
		}
		for name, f := range data {
			mode := int64(0o644)
			if f.Typeflag == tar.TypeDir || name == "./usr/bin/stepgate" {
				mode = 0o755
			}
			if f.Uname != "root" || f.Gname != "root" || f.Mode != mode || !f.ModTime.Equal(r.at) || !strings.HasPrefix(name, "./usr/") {
				t.Errorf("%s: %s is %s's and %s's, mode %o, of %v; want root's, %o, of %v, in /usr", arch, name, f.Uname, f.Gname, f.Mode, f.ModTime, mode, r.at)
			}
		}
		if program := read(t, r.one(t, "stepgate-*-linux-"+arch)); !bytes.Equal(data["./usr/bin/stepgate"].body, program) {
			t.Errorf("%s: another program is in the package", arch)
		}
		if texts := read(t, r.one(t, "*-"+arch+".third-party.txt")); !bytes.Equal(data["./usr/share/doc/stepgate/third-party"].body, texts) {
			t.Errorf("%s: other licenses are in the package", arch)
		}
		for name, want := range map[string]string{
			"./usr/lib/systemd/system/stepgate.service":           "\nExecStart=/usr/bin/stepgate serve /var/lib/stepgate\n",
			"./usr/lib/sysusers.d/stepgate.conf":                  "\nu stepgate - ",
			"./usr/lib/tmpfiles.d/stepgate.conf":                  "\nd /var/lib/stepgate 0700 stepgate stepgate -\n",
			"./usr/share/doc/stepgate/copyright":                  "\nLicense: Expat\n",
			"./usr/share/doc/stepgate/README.Debian":              "stepgate init /var/lib/stepgate\n",
			"./usr/share/bash-completion/completions/stepgate":    "__start_stepgate",
			"./usr/share/fish/vendor_completions.d/stepgate.fish": "complete -c stepgate",
			"./usr/share/zsh/vendor-completions/_stepgate":        "#compdef stepgate",
			"./usr/share/man/man1/stepgate.1.gz":                  "\n.Dd October 5, 2026\n",
			"./usr/share/man/man1/stepgate-serve.1.gz":            "\n.Nm stepgate-serve\n",
			"./usr/share/doc/stepgate/changelog.Debian.gz":        "stepgate (9.8.7~rc.1-1) unstable; urgency=medium\n",
			"./usr/share/lintian/overrides/stepgate":              "\nstepgate: statically-linked-binary ",
		} {
			body := data[name].body
			if strings.HasSuffix(name, ".gz") {
				body = unpack(t, body)
			}
			if !strings.Contains("\n"+string(body), want) {
				t.Errorf("%s: %s has no %q in it:\n%.2000s", arch, name, want, body)
			}
		}
	}
}

// entry is a file in an archive.
type entry struct {
	*tar.Header
	body []byte
}

// parts are the two archives in a package, see deb(5).
func parts(t *testing.T, path string) (control, data map[string]entry) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for all := ar.NewReader(f); ; {
		h, err := all.Next()
		if errors.Is(err, io.EOF) {
			return control, data
		} else if err != nil {
			t.Fatal(err)
		}
		switch strings.TrimRight(h.Name, "/ ") {
		case "control.tar.gz":
			r, err := gzip.NewReader(all)
			if err != nil {
				t.Fatal(err)
			}
			control = entries(t, r)
		case "data.tar.xz":
			r, err := xz.NewReader(all)
			if err != nil {
				t.Fatal(err)
			}
			data = entries(t, r)
		}
	}
}

func entries(t *testing.T, r io.Reader) map[string]entry {
	t.Helper()
	found := map[string]entry{}
	for all := tar.NewReader(r); ; {
		h, err := all.Next()
		if errors.Is(err, io.EOF) {
			return found
		} else if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(all)
		if err != nil {
			t.Fatal(err)
		}
		found[h.Name] = entry{h, body}
	}
}

func unpack(t *testing.T, packed []byte) []byte {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return body
}
