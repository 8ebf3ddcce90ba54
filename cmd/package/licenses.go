package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strings"

	"github.com/google/licensecheck"
)

// allowed are the licenses, by their SPDX names, whose conditions a release
// keeps by carrying their texts. Another has to be read by a person first.
var allowed = []string{"MIT", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "ISC"}

// leastKnown is how much of a license's file has to be words of a known license,
// in percent; names, years and a heading are the rest.
const leastKnown = 75

// module is what of somebody else's is in the program.
type module struct {
	path, version string
	dir           string
	licenses      []string // SPDX names
	texts         []text
}

type text struct{ name, body string }

var (
	licenseFile = regexp.MustCompile(`(?i)^(un)?(licen[cs]e|copying)([.-][a-z0-9.-]*)?$`)
	noticeFile  = regexp.MustCompile(`(?i)^(notice|patents)(\.(txt|md))?$`)
)

// licenses are the modules that are in the program for an architecture, each
// with the texts that have to go with it. A module without a license, or with
// one nobody has allowed, is an error.
func (r *release) licenses(ctx context.Context, arch string) ([]module, error) {
	out, err := output(r.goTool(ctx, arch, "list", "-deps", "-json=Dir,Standard,Module", "./cmd/stepgate"))
	if err != nil {
		return nil, err
	}
	folders, err := readFolders(bytes.NewReader(out))
	if err != nil {
		return nil, err
	}
	standard, err := r.standard(ctx, arch)
	if err != nil {
		return nil, err
	}
	modules := []module{standard}
	for m, dirs := range folders {
		m.texts, err = textsIn(m.dir, dirs)
		if err != nil {
			return nil, err
		}
		modules = append(modules, *m)
	}
	var wrong []error
	for i := range modules {
		wrong = append(wrong, modules[i].read())
	}
	sort.Slice(modules, func(i, j int) bool { return modules[i].path < modules[j].path })
	return modules, errors.Join(wrong...)
}

// readFolders are the folders of packages, by the module that they are of,
// without those of the main module and of Go itself.
func readFolders(list io.Reader) (map[*module][]string, error) {
	byPath := map[string]*module{}
	folders := map[*module][]string{}
	for dec := json.NewDecoder(list); ; {
		var p struct {
			Dir      string
			Standard bool
			Module   *struct {
				Path, Version, Dir string
				Main               bool
				Replace            *struct{ Path, Version string }
			}
		}
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return folders, nil
		} else if err != nil {
			return nil, fmt.Errorf("list of packages: %w", err)
		}
		if p.Standard || p.Module == nil || p.Module.Main {
			continue
		}
		if p.Module.Replace != nil {
			return nil, fmt.Errorf("%s is replaced by another; whose license holds has to be read first", p.Module.Path)
		}
		m := byPath[p.Module.Path]
		if m == nil {
			m = &module{path: p.Module.Path, version: p.Module.Version, dir: p.Module.Dir}
			byPath[p.Module.Path] = m
		}
		folders[m] = append(folders[m], p.Dir)
	}
}

// standard is Go's own library.
func (r *release) standard(ctx context.Context, arch string) (module, error) {
	out, err := output(r.goTool(ctx, arch, "env", "GOROOT", "GOVERSION"))
	if err != nil {
		return module{}, err
	}
	root, version, _ := strings.Cut(strings.TrimSpace(string(out)), "\n")
	texts, err := textsIn(root, nil)
	return module{path: "std", version: strings.TrimPrefix(version, "go"), dir: root, texts: texts}, err
}

// textsIn are the licenses and notices in the folder of a module and on the
// way to those of its packages that are in the program.
func textsIn(root string, dirs []string) ([]text, error) {
	look := []string{root}
	for _, dir := range dirs {
		for ; dir != root && strings.HasPrefix(dir, root); dir = filepath.Dir(dir) {
			if !slices.Contains(look, dir) {
				look = append(look, dir)
			}
		}
	}
	slices.Sort(look)
	var texts []text
	for _, dir := range look {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if !e.Type().IsRegular() || !licenseFile.MatchString(e.Name()) && !noticeFile.MatchString(e.Name()) {
				continue
			}
			body, err := fs.ReadFile(os.DirFS(dir), e.Name())
			if err != nil {
				return nil, err
			}
			name, err := filepath.Rel(root, filepath.Join(dir, e.Name()))
			if err != nil {
				return nil, err
			}
			texts = append(texts, text{filepath.ToSlash(name), string(body)})
		}
	}
	return texts, nil
}

// read finds out which licenses a module is under.
func (m *module) read() error {
	for _, t := range m.texts {
		if noticeFile.MatchString(filepath.Base(t.name)) {
			continue
		}
		found := licensecheck.Scan([]byte(t.body))
		if found.Percent < leastKnown {
			return fmt.Errorf("%s %s: only %.0f%% of %s is a known license; somebody has to read it", m.path, m.version, found.Percent, t.name)
		}
		for _, match := range found.Match {
			if !slices.Contains(allowed, match.ID) {
				return fmt.Errorf("%s %s: %s is under %s, which nobody has allowed", m.path, m.version, t.name, match.ID)
			}
			if !slices.Contains(m.licenses, match.ID) {
				m.licenses = append(m.licenses, match.ID)
			}
		}
	}
	if len(m.licenses) == 0 {
		return fmt.Errorf("%s %s: there is no license in it", m.path, m.version)
	}
	slices.Sort(m.licenses)
	return nil
}

// thirdParty is the page that goes with a program: a list, then every text.
func thirdParty(modules []module) string {
	var b strings.Builder
	b.WriteString("Stepgate is built with the work of others, under these licenses:\n\n")
	for _, m := range modules {
		fmt.Fprintf(&b, "  %s %s: %s\n", m.path, m.version, strings.Join(m.licenses, ", "))
	}
	for _, m := range modules {
		for _, t := range m.texts {
			fmt.Fprintf(&b, "\n%s\n%s %s, %s\n\n%s\n", strings.Repeat("-", 72), m.path, m.version, t.name,
				strings.TrimSpace(strings.ReplaceAll(t.body, "\r\n", "\n")))
		}
	}
	return b.String()
}
