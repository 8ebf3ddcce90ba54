package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestDebianVersion(t *testing.T) {
	t.Parallel()
	for version, want := range map[string]string{
		"1.2.3":                             "1.2.3",
		"1.2.3-rc.1":                        "1.2.3~rc.1",
		"0.0.0-20261128023206-c9373d3d90a5": "0.0.0~git20261128023206.c9373d3d90a5",
		"0.0.0-20261128023206-c9373d3d90a5+dirty": "0.0.0~git20261128023206.c9373d3d90a5+dirty",
		"1.2.4-0.20261128023206-c9373d3d90a5":     "1.2.4~git20261128023206.c9373d3d90a5",
	} {
		if got := debianVersion(version); got != want {
			t.Errorf("%s: %s, want %s", version, got, want)
		}
	}
}

// TestRefused: what can't be made is told in words, before anything is built.
func TestRefused(t *testing.T) {
	t.Parallel()
	full := t.TempDir()
	if err := os.WriteFile(filepath.Join(full, "old.deb"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what string
		r    release
		want string
	}{
		{"no folder", release{source: "../.."}, "--out"},
		{"another source", release{source: full, out: t.TempDir()}, "is not the source folder"},
		{"no version", release{source: "../..", out: t.TempDir(), version: "v1"}, "--version wants three numbers"},
		{"no end of flags", release{source: "../..", out: t.TempDir(), version: "1.2.3 -X main.x=y"}, "--version wants three numbers"},
		{"a full folder", release{source: "../..", out: full}, "is not empty"},
	} {
		if err := c.r.check(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.what, err, c.want)
		}
	}
	var r release
	if err := r.readEnv("yesterday"); err == nil {
		t.Error("a date that is none was taken")
	}
	if err := r.readEnv("1791184089"); err != nil || r.at.Format("2006-01-02") != "2026-10-05" {
		t.Errorf("SOURCE_DATE_EPOCH: %v, %v", r.at, err)
	}
}

const mit = `MIT License

Copyright (c) 2026 Somebody

Permission is hereby granted, free of charge, to any person obtaining a copy of this software and associated documentation files (the "Software"), to deal in the Software without restriction, including without limitation the rights to use, copy, modify, merge, publish, distribute, sublicense, and/or sell copies of the Software, and to permit persons to whom the Software is furnished to do so, subject to the following conditions:

The above copyright notice and this permission notice shall be included in all copies or substantial portions of the Software.

THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR IMPLIED, INCLUDING BUT NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY, FITNESS FOR A PARTICULAR PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE AUTHORS OR COPYRIGHT HOLDERS BE LIABLE FOR ANY CLAIM, DAMAGES OR OTHER LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR OTHERWISE, ARISING FROM, OUT OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN THE SOFTWARE.
`

// TestLicenseIsRead: a module goes in only under a license that is known and
// allowed, in its own folder and in those of its packages.
func TestLicenseIsRead(t *testing.T) {
	t.Parallel()
	const gpl = "This program is free software: you can redistribute it and/or modify it under the terms of the GNU General Public License as published by the Free Software Foundation, either version 3 of the License, or (at your option) any later version.\n"
	for _, c := range []struct {
		what  string
		files map[string]string
		want  string // of the error; "" with none
	}{
		{"one", map[string]string{"LICENSE": mit}, ""},
		{"one and a notice", map[string]string{"LICENSE.txt": mit, "NOTICE": "By Somebody."}, ""},
		{"none", map[string]string{"README.md": mit}, "there is no license"},
		{"a notice alone", map[string]string{"NOTICE": mit}, "there is no license"},
		{"own words", map[string]string{"LICENSE": "Do as you like on Tuesdays."}, "somebody has to read it"},
		{"mixed with own words", map[string]string{"LICENSE": mit + strings.Repeat("But not for money, nor on any day with rain in it.\n", 20)}, "somebody has to read it"},
		{"not allowed", map[string]string{"COPYING": gpl}, "nobody has allowed"},
		{"not allowed inside", map[string]string{"LICENSE": mit, "inner/LICENSE": gpl}, "nobody has allowed"},
		{"not allowed, in a folder not in the program", map[string]string{"LICENSE": mit, "other/LICENSE": gpl}, ""},
	} {
		dir := t.TempDir()
		for name, body := range c.files {
			path := filepath.Join(dir, name)
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(body), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.MkdirAll(filepath.Join(dir, "inner", "most"), 0o755); err != nil {
			t.Fatal(err)
		}
		m := module{path: "example.org/x", version: "v1.0.0", dir: dir}
		var err error
		if m.texts, err = textsIn(dir, []string{filepath.Join(dir, "inner", "most")}); err != nil {
			t.Fatal(err)
		}
		err = m.read()
		if c.want == "" && (err != nil || len(m.licenses) != 1 || m.licenses[0] != "MIT") || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: %v, %v; want %q", c.what, m.licenses, err, c.want)
		}
	}
}

// TestUnitIsPackaged: a printed unit that says something else than the package
// expects is not packaged.
func TestUnitIsPackaged(t *testing.T) {
	t.Parallel()
	const printed = "# how to install it\n\n[Unit]\nDescription=x\nWants=y\n[Service]\nExecStart=/usr/bin/stepgate serve /var/lib\nUser=stepgate\nReadWritePaths=/var/lib\n"
	got, err := packagedUnit(printed)
	if err != nil || strings.Contains(got, "how to install") || !strings.Contains(got, "\nExecStart=/usr/bin/stepgate serve /var/lib/stepgate\n") ||
		!strings.Contains(got, "\nConditionPathExists=/var/lib/stepgate/stepgate.yaml\nWants=y\n") || strings.Count(got, "/var/lib/stepgate\n") != 2 {
		t.Errorf("%v:\n%s", err, got)
	}
	for _, line := range []string{"[Unit]\n", "ReadWritePaths=/var/lib\n", "User=stepgate\n", " /var/lib\n"} {
		if got, err := packagedUnit(strings.Replace(printed, line, "\n", 1)); err == nil {
			t.Errorf("without %q it was packaged all the same:\n%s", line, got)
		}
	}
}
