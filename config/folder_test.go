package config

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// folderOf writes files into a new folder.
func folderOf(t *testing.T, contents map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range contents {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// TestFilesRead: which files of a folder are the clinic's.
func TestFilesRead(t *testing.T) {
	contents := base()
	contents["enrollments/more.yaml"] = "enrollments:\n" + strings.ReplaceAll(strings.ReplaceAll(
		baseEnrollments[strings.Index(baseEnrollments, "  - id: ben-2"):], "ben-2", "cy-3"), "spool: ben", "spool: cy")
	want := slices.Sorted(maps.Keys(contents))
	for _, name := range []string{
		"programs/.steady.yaml", "programs/#steady.yaml", "programs/steady.yaml~", "programs/steady.yaml.bak",
		"programs/.steady.yaml.swp", "programs/notes.txt", "enrollments/old/gone.yaml", "other.yaml", "README.md",
	} {
		contents[name] = "not: [read\n"
	}
	c, problems := Load(folderOf(t, contents), env)
	if c == nil || len(problems) > 0 {
		t.Fatalf("problems:\n%v", problems)
	}
	var got []string
	for _, f := range c.Files {
		got = append(got, f.Path)
		if f.Hash != NewFile(f.Path, []byte(contents[f.Path])).Hash || string(f.Data) != contents[f.Path] {
			t.Errorf("%s: not what was written", f.Path)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("read %v, want %v", got, want)
	}
	ids := slices.Collect(c.Enrollments.IDs())
	if !slices.Equal(ids, []string{"ada-1", "ben-2", "cy-3"}) {
		t.Errorf("enrollments: %v", ids)
	}
	if c.Programs["steady"].Hash != NewFile("", []byte(baseProgram)).Hash {
		t.Error("the program's hash is not its file's")
	}
}

// must stops a test whose folder can't be set up.
func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// folderFaults is what a disk can hold in place of a good file.
var folderFaults = []struct {
	name  string
	spoil func(t *testing.T, dir string)
	want  string
}{
	{"no settings", func(t *testing.T, dir string) { must(t, os.Remove(filepath.Join(dir, settingsFile))) },
		"stepgate.yaml: the file is missing; create it with the clinic's name, phone, hours and numbers"},
	{"no programs", func(t *testing.T, dir string) { must(t, os.RemoveAll(filepath.Join(dir, programFolder))) },
		"programs: there is no program; create programs/NAME.yaml with exercises and weeks, or wear"},
	{"no enrollments", func(t *testing.T, dir string) { must(t, os.Remove(filepath.Join(dir, enrollmentsFile))) },
		"enrollments.yaml: the file is missing; create it with enrollments: [] until there is a patient"},
	{"settings is a folder", func(t *testing.T, dir string) {
		must(t, os.Remove(filepath.Join(dir, settingsFile)))
		must(t, os.Mkdir(filepath.Join(dir, settingsFile), 0o755))
	}, "stepgate.yaml: the file can't be read: it is not a plain file; make it a plain file that the daemon may read"},
	{"programs is a file", func(t *testing.T, dir string) {
		must(t, os.RemoveAll(filepath.Join(dir, programFolder)))
		must(t, os.WriteFile(filepath.Join(dir, programFolder), nil, 0o644))
	}, "programs: the folder can't be read: not a directory; make it a folder that the daemon may read"},
	{"program links to itself", func(t *testing.T, dir string) {
		must(t, os.Symlink("loop.yaml", filepath.Join(dir, "programs/loop.yaml")))
	},
		"programs/loop.yaml: the file can't be read: its symbolic links lead in a circle; make it a plain file that the daemon may read"},
	{"program links to nothing", func(t *testing.T, dir string) { must(t, os.Symlink("gone", filepath.Join(dir, "programs/loop.yaml"))) },
		"programs/loop.yaml: the file can't be read: it does not exist; make it a plain file that the daemon may read"},
	{"too big", func(t *testing.T, dir string) {
		must(t, os.WriteFile(filepath.Join(dir, "enrollments.yaml"), []byte(strings.Repeat("# \n", maxFile/3+1)), 0o644))
	}, "enrollments.yaml: the file is over 5 MB; split it into several files under enrollments/"},
	{"not UTF-8", func(t *testing.T, dir string) {
		must(t, os.WriteFile(filepath.Join(dir, "enrollments.yaml"), []byte("enrollments: []\n# \xe9t\xe9\n"), 0o644))
	}, "enrollments.yaml:2:3: the file is not UTF-8 text here; save it again with the encoding UTF-8"},
	{"UTF-16", func(t *testing.T, dir string) {
		must(t, os.WriteFile(filepath.Join(dir, "enrollments.yaml"), []byte("\xff\xfee\x00n\x00"), 0o644))
	}, "enrollments.yaml:1:1: the file is not UTF-8 text here; save it again with the encoding UTF-8"},
	{"nought byte", func(t *testing.T, dir string) {
		must(t, os.WriteFile(filepath.Join(dir, "enrollments.yaml"), []byte("enrollments: []\x00\n"), 0o644))
	}, "enrollments.yaml:1:16: there is a control character here; delete it; only plain text can be read"},
	{"empty", func(t *testing.T, dir string) {
		must(t, os.WriteFile(filepath.Join(dir, "enrollments.yaml"), []byte("# none\n"), 0o644))
	},
		"enrollments.yaml: the file is empty; write enrollments: [] into it, or delete it"},
	{"other ending", func(t *testing.T, dir string) {
		must(t, os.WriteFile(filepath.Join(dir, "programs/new.yml"), nil, 0o644))
	},
		"programs/new.yml: warning: the file is not read; let its name end in .yaml"},
	{"no folder", func(t *testing.T, dir string) { must(t, os.RemoveAll(dir)) },
		"there is no such folder; name the clinic's folder, the one with stepgate.yaml in it"},
}

func TestFolderFaults(t *testing.T) {
	for _, c := range folderFaults {
		t.Run(c.name, func(t *testing.T) {
			dir := folderOf(t, base())
			c.spoil(t, dir)
			clinic, problems := Load(dir, env)
			got := strings.TrimPrefix(problems.Error(), dir+": ")
			if got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
			if (clinic == nil) != (len(problems.Errors()) > 0) {
				t.Errorf("clinic given: %v", clinic != nil)
			}
		})
	}
}

// TestEmptyLists: a clinic with no patient yet, in the two ways to write it.
func TestEmptyLists(t *testing.T) {
	for _, text := range []string{"enrollments: []\n", "enrollments:\n#  - id: ada-1\n", "\ufeffenrollments: []\r\n"} {
		files := base()
		files[enrollmentsFile] = text
		if c := mustLoad(t, files); c.Enrollments.Len() != 0 {
			t.Errorf("%q gives %d enrollments", text, c.Enrollments.Len())
		}
	}
}
