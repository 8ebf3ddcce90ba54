package config

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// TestWrittenBack: a program file read as YAML and written back by the
// library, which lays it out its own way, is the same program: nothing in it
// hangs on how it was laid out.
func TestWrittenBack(t *testing.T) {
	var files []string
	for _, pattern := range []string{"../testdata/protocols/*.yaml", "../testdata/demo/programs/*.yaml",
		"../testdata/stories/programs/*.yaml", "../templates/starters/*.yaml"} {
		found, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, found...)
	}
	programs := 0
	for _, file := range files {
		if isCases("programs/" + filepath.Base(file)) {
			continue
		}
		programs++
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var doc yaml.Node
		if err := yaml.Unmarshal(text, &doc); err != nil {
			t.Fatal(err)
		}
		block(&doc)
		again, err := yaml.Marshal(&doc)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := bareProgram(t, file, again), bareProgram(t, file, text); !reflect.DeepEqual(got, want) {
			t.Errorf("%s is another program once written back:\n%+v\nwas\n%+v", file, got, want)
		}
	}
	if programs < 20 {
		t.Errorf("only %d programs were found", programs)
	}
}

// block turns every {...} and [...] into lines of their own.
func block(n *yaml.Node) {
	n.Style &^= yaml.FlowStyle
	for _, c := range n.Content {
		block(c)
	}
}

// bareProgram reads a program without what tells where in the file it stands.
func bareProgram(t *testing.T, file string, text []byte) rules.Program {
	t.Helper()
	path := "programs/" + filepath.Base(file)
	settings := NewFile(settingsFile, []byte(baseSettings))
	c, problems := LoadFiles("/clinic", []File{settings, NewFile(path, text), NewFile(enrollmentsFile, []byte("enrollments: []\n"))}, env)
	if c == nil {
		t.Fatalf("%s: %v", file, problems)
	}
	if len(c.Programs) != 1 {
		t.Fatalf("%s: %d programs", file, len(c.Programs))
	}
	var p rules.Program
	for _, read := range c.Programs {
		p = *read
	}
	p.Hash, p.Where = "", nil
	exercises := map[string]*rules.Exercise{}
	for id, e := range p.Exercises {
		bare := *e
		bare.At = rules.Pos{}
		exercises[id] = &bare
	}
	p.Exercises = exercises
	doses := func(list []rules.Dose) []rules.Dose {
		out := make([]rules.Dose, len(list))
		for i, d := range list {
			d.At = rules.Pos{}
			out[i] = d
		}
		return out
	}
	blocks := make([]rules.Block, len(p.Blocks))
	for i, b := range p.Blocks {
		blocks[i] = rules.Block{Week: b.Week, Doses: doses(b.Doses)}
	}
	p.Blocks = blocks
	if p.Wear != nil {
		wear := *p.Wear
		wear.At = rules.Pos{}
		p.Wear = &wear
	}
	if p.After != nil {
		after := *p.After
		after.At, after.Doses = rules.Pos{}, doses(after.Doses)
		p.After = &after
	}
	return p
}
