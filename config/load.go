package config

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	_ "time/tzdata" // zones are checked here; the machine may have none

	"stepgate/rules"
)

// Load reads and checks a clinic's folder. getenv looks up the environment's
// variables, for secrets; with nil no secret is fetched. The clinic is nil if
// any problem is more than a warning.
func Load(dir string, getenv func(string) string) (*Clinic, Problems) {
	l, ok := newLoader(dir, getenv)
	if !ok {
		return nil, l.sorted()
	}
	if !l.thereIs(dir) {
		return nil, l.sorted()
	}
	return l.load(l.readFolder())
}

// thereIs tells whether the folder is there, and notes it otherwise.
func (l *loader) thereIs(dir string) bool {
	info, err := os.Stat(l.clinic.Dir)
	if there := err == nil && info.IsDir(); there {
		return true
	}
	l.wrong(rules.Pos{File: dir}, "there is no such folder", "name the clinic's folder, the one with "+settingsFile+" in it")
	return false
}

// LoadFiles does the same from files that were read before, so that the last
// good set can be used again. dir is where relative paths count from.
func LoadFiles(dir string, files []File, getenv func(string) string) (*Clinic, Problems) {
	l, ok := newLoader(dir, getenv)
	if !ok {
		return nil, l.sorted()
	}
	kept := make([]File, 0, len(files))
	for _, f := range files {
		if wanted(f.Path) {
			kept = append(kept, NewFile(f.Path, f.Data))
		}
	}
	return l.load(kept)
}

// loader holds what one reading of a folder has found so far.
type loader struct {
	notes
	getenv func(string) string
	clinic *Clinic
	broken map[string]bool // files and folders that could not be read
	lean   bool            // only the hashes of files are wanted: their contents are let go of

	settingsBad  bool // stepgate.yaml gave nothing to check the rest against
	textingKnown bool
	zone         *time.Location // the clinic's, or UTC until it is known
	language     string
	channels     map[string]bool // set up, well or badly
	zones        *zones
	now          time.Time
	today        rules.Date // of this machine

	programs map[string]*rules.Program // nil: written but unreadable
	known    map[string][]string       // program files by id in small letters
	kept     *keeping                  // nil: every file of patients is read

	// Of the patients read so far; see [loader.take].
	rolls   []Roll // one a file
	people  []person
	ids     map[string]int32 // places in people by id in small letters
	holders map[held]int32   // and by contact
	uses    map[string]*use  // by program, of those who are reached other than on the spool
	mailed  use
	texted  map[string]*[24 * 60]int // how many by the sender they name and the minute of the day
}

func newLoader(dir string, getenv func(string) string) (*loader, bool) {
	now := time.Now()
	l := &loader{
		getenv: getenv, clinic: &Clinic{}, broken: map[string]bool{},
		zone: time.UTC, language: languages()[0], now: now, today: rules.DateOf(now),
		channels: map[string]bool{}, zones: &zones{},
		programs: map[string]*rules.Program{}, known: map[string][]string{},
		ids: map[string]int32{}, holders: map[held]int32{}, uses: map[string]*use{}, texted: map[string]*[24 * 60]int{},
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		l.wrong(rules.Pos{File: dir}, "the working folder is gone", "name the clinic's folder by its full path")
		return l, false
	}
	l.clinic.Dir = abs
	return l, true
}

// load checks the files, settings first, since the rest is held against them.
func (l *loader) load(files []File) (*Clinic, Problems) {
	slices.SortFunc(files, func(a, b File) int { return cmp.Compare(a.Path, b.Path) })
	l.missing(files)
	l.settingsBad = true
	for _, f := range files {
		if f.Path != settingsFile {
			continue
		}
		if s := read[settingsShape](&l.notes, f, defaultSettings); s != nil && !s.At.Bad {
			l.settingsBad = false
			l.settings(s)
		}
	}
	var patients []*File
	for i := range files {
		switch f := &files[i]; {
		case strings.HasPrefix(f.Path, programFolder+"/"):
			l.program(*f)
		case f.Path != settingsFile:
			patients = append(patients, f)
		}
	}
	for name := range l.broken {
		if strings.HasPrefix(name, programFolder+"/") {
			l.programs[programID(name)] = nil
		}
	}
	l.enrollments(patients)
	l.across()
	problems := l.sorted()
	if len(problems.Errors()) > 0 {
		return nil, problems
	}
	return l.finish(files), problems
}

// missing notes files a clinic can't do without.
func (l *loader) missing(files []File) {
	has := func(names ...string) bool {
		there := func(path string) bool {
			return slices.ContainsFunc(names, func(name string) bool {
				return path == name || strings.HasPrefix(path, name+"/")
			})
		}
		for name := range l.broken {
			if there(name) {
				return true
			}
		}
		return slices.ContainsFunc(files, func(f File) bool { return there(f.Path) })
	}
	if !has(settingsFile) {
		l.wrong(rules.Pos{File: settingsFile}, "the file is missing", "create it with the clinic's name, phone, hours and numbers")
	}
	if !has(programFolder) {
		l.wrong(rules.Pos{File: programFolder}, "there is no program", "create "+programFolder+"/NAME.yaml with exercises and weeks, or wear")
	}
	if !has(enrollmentsFile, enrollmentFolder) {
		l.wrong(rules.Pos{File: enrollmentsFile}, "the file is missing", "create it with enrollments: [] until there is a patient")
	}
}

// finish puts the clinic together once nothing is wrong.
func (l *loader) finish(files []File) *Clinic {
	c := l.clinic
	c.Programs = l.programs
	c.Files = files
	c.Enrollments = together(l.rolls)
	return c
}
