package config

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"text/template"

	"stepgate/rules"
)

// Opening is what a new clinic's folder is made from.
type Opening struct {
	Dir      string
	Name     string
	Phone    string
	Hours    string
	After    string // number for the time outside the hours
	Urgent   string // emergency number
	Zone     string
	Language string
	Program  string // name of the program to start from
	Today    rules.Date

	Pages    fs.FS // templates of the folder's own files
	Programs fs.FS // programs to start from
}

// OpeningKeys are the questions about a clinic and how each is asked.
var OpeningKeys = []struct{ Name, Ask string }{
	{"name", "The clinic's name, as the texts should say it"},
	{"phone", "Phone that patients call in opening hours, such as +1 503 555 0110"},
	{"hours", "Opening hours, such as Mon-Fri 8:30-17:00"},
	{"after-hours", "Phone that patients call when the clinic is closed"},
	{"emergency", "Emergency number of the place, such as 911 or 112"},
	{"zone", "Time zone, such as America/New_York"},
	{"language", "Language of the messages: " + strings.Join(languages(), " or ")},
	{"program", "Program to start from"},
}

// Answer puts one answer in and says in a sentence what is wrong with it.
func (o *Opening) Answer(name, text string) error {
	try := *o
	field := try.field(name)
	if field == nil {
		return fmt.Errorf("there is no question %s", quoted(name))
	}
	text = strings.TrimSpace(text)
	if text == "" {
		return errors.New("an answer is needed")
	}
	if *field = text; name == "program" {
		if names := o.Starters(); !slices.Contains(names, text) {
			return errors.New("there is no program " + quoted(text) + "; " + suggest(text, names))
		}
	}
	for _, other := range OpeningKeys { // something harmless for the rest
		if f := try.field(other.Name); other.Name != name {
			*f = map[string]string{"zone": "UTC", "language": languages()[0], "program": try.Starters()[0], "hours": "X", "name": "X"}[other.Name]
			if *f == "" {
				*f = "911"
			}
		}
	}
	files, err := try.files("")
	if err != nil {
		return err
	}
	_, problems := LoadFiles(o.Dir, files, nil)
	for _, p := range problems.Errors() {
		if p.At.File == settingsFile { // the only one that answers go into
			return errors.New(p.What + "; " + p.Do)
		}
	}
	*o.field(name) = text
	return nil
}

// field is where the answer to a question is kept; nil for none.
func (o *Opening) field(name string) *string {
	return map[string]*string{"name": &o.Name, "phone": &o.Phone, "hours": &o.Hours, "after-hours": &o.After, "emergency": &o.Urgent,
		"zone": &o.Zone, "language": &o.Language, "program": &o.Program}[name]
}

// Starters are the names of the programs to start from.
func (o *Opening) Starters() []string {
	files, err := fs.Glob(o.Programs, "*.yaml")
	if err != nil {
		panic(err) // only for a bad pattern
	}
	var names []string
	for _, f := range files {
		if wanted(programFolder + "/" + f) {
			names = append(names, programID(f))
		}
	}
	return names
}

// About is the English title of a program to start from.
func (o *Opening) About(program string) string {
	data, err := fs.ReadFile(o.Programs, program+".yaml")
	if err != nil {
		return ""
	}
	root, err := document(data)
	if err != nil {
		return ""
	}
	_, title := pair(root, "title")
	if title == nil {
		return ""
	}
	if _, english := pair(title, languages()[0]); english != nil {
		return english.Value
	}
	return title.Value
}

// files are the files of a new folder: the clinic's own with the answers in
// them, the program, and the schemas that their first lines show to editors.
// own is a program that is there already and takes the place of one to start
// from.
func (o *Opening) files(own string) ([]File, error) {
	var files []File
	page := *o
	page.Program = cmp.Or(own, o.Program)
	for _, f := range []struct{ from, to, kind string }{
		{"stepgate.yaml", settingsFile, "clinic"}, {"enrollments.yaml", enrollmentsFile, "enrollments"}, {"gitignore", ".gitignore", ""},
	} {
		data, err := page.fill(f.from)
		if err != nil {
			return nil, fmt.Errorf("make %s: %w", f.to, err)
		}
		if f.kind != "" {
			data = append([]byte(schemaLine(f.to, f.kind)), data...)
		}
		files = append(files, NewFile(f.to, data))
	}
	if own == "" {
		program, err := fs.ReadFile(o.Programs, o.Program+".yaml")
		if err != nil {
			return nil, fmt.Errorf("there is no program %s to start from", quoted(o.Program))
		}
		name := programPath(o.Program)
		files = append(files, NewFile(name, append([]byte(schemaLine(name, "program")), program...)))
	}
	for _, kind := range SchemaKinds() {
		files = append(files, NewFile(path.Join(schemaFolder, kind+".json"), Schema(kind)))
	}
	return files, nil
}

// fill fills one of the templates.
func (o *Opening) fill(name string) ([]byte, error) {
	text, err := fs.ReadFile(o.Pages, name)
	if err != nil {
		return nil, err
	}
	t, err := template.New(name).Option("missingkey=error").Funcs(template.FuncMap{"yaml": lineScalar, "quote": doubleQuoted}).Parse(string(text))
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = t.Execute(&out, o)
	return out.Bytes(), err
}

// Has tells which kinds of file a folder has already: settings, a program (by
// its name, the first), enrollments.
func (o *Opening) Has() (settings bool, program string, enrollments bool) {
	there := Hashes(o.Dir)
	_, settings = there[settingsFile]
	for _, name := range slices.Sorted(maps.Keys(there)) {
		if program == "" && strings.HasPrefix(name, programFolder+"/") {
			program = programID(name)
		}
		enrollments = enrollments || strings.HasPrefix(name, enrollmentFolder)
	}
	return settings, program, enrollments
}

// Made is what became of one file of a new folder.
type Made struct {
	Path  string
	Kept  bool // it was there, and was left as it is
	Other bool // and it is not what would have been written
}

// Make writes the files that are not there. A folder that has a program, or
// enrollments, of its own gets none. What settings a folder has need no answers. Whatever is there stays as it is.
func (o *Opening) Make() ([]Made, error) {
	_, program, enrollments := o.Has()
	files, err := o.files(program)
	if err != nil {
		return nil, err
	}
	var out []Made
	if program != "" {
		out = append(out, Made{Path: programPath(program), Kept: true})
	}
	for _, f := range files {
		at := filepath.Join(o.Dir, filepath.FromSlash(f.Path))
		if old, err := os.ReadFile(at); err == nil {
			out = append(out, Made{f.Path, true, !bytes.Equal(old, f.Data)})
			continue
		}
		if enrollments && f.Path == enrollmentsFile {
			out = append(out, Made{Path: enrollmentFolder, Kept: true}) // they are in a folder
			continue
		}
		err := createFile(at, f.Data, nil)
		if errors.Is(err, fs.ErrExist) {
			out = append(out, Made{f.Path, true, true})
			continue
		}
		if err != nil {
			return out, fmt.Errorf("write %s: %w", f.Path, err)
		}
		out = append(out, Made{Path: f.Path})
	}
	return out, nil
}
