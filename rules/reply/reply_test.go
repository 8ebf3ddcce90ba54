package reply

import (
	"maps"
	"os"
	"slices"
	"testing"

	yaml "go.yaml.in/yaml/v3"
)

// decode reads a file of templates strictly.
func decode(t testing.TB, file string, into any) {
	t.Helper()
	f, err := os.Open("../../templates/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d := yaml.NewDecoder(f)
	d.KnownFields(true)
	if err := d.Decode(into); err != nil {
		t.Fatal(err)
	}
}

// everyLanguage is the keywords that count whatever the language, and the
// stop words by the language they are of.
func everyLanguage(t testing.TB) (Keywords, map[string][]string) {
	t.Helper()
	var all struct {
		Stop    map[string][]string `yaml:"stop"`
		Unclear []string            `yaml:"stop unclear"`
		Start   []string            `yaml:"start"`
		Help    []string            `yaml:"help"`
	}
	decode(t, "optout.yaml", &all)
	k := Keywords{StopUnclear: all.Unclear, Start: all.Start, Help: all.Help}
	for _, code := range slices.Sorted(maps.Keys(all.Stop)) {
		k.Stop = append(k.Stop, all.Stop[code]...)
	}
	return k, all.Stop
}

func english(t testing.TB) (*Vocabulary, *Reader) {
	t.Helper()
	v := new(Vocabulary)
	decode(t, "en/reply.yaml", v)
	v.Common, _ = everyLanguage(t)
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	return v, r
}
