package reply

import (
	"os"
	"testing"

	yaml "go.yaml.in/yaml/v3"
)

func english(t testing.TB) (*Vocabulary, *Reader) {
	t.Helper()
	f, err := os.Open("../../templates/en/reply.yaml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d := yaml.NewDecoder(f)
	d.KnownFields(true)
	v := new(Vocabulary)
	if err := d.Decode(v); err != nil {
		t.Fatal(err)
	}
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	return v, r
}
