package templates

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"

	"go.yaml.in/yaml/v3"

	"stepgate/rules/reply"
)

const (
	replyFile  = "reply.yaml"
	optOutFile = "optout.yaml"
)

// optOut are the keywords that count in every language.
type optOut struct {
	Stop    map[string][]string `yaml:"stop"` // by the language they are of
	Unclear []string            `yaml:"stop unclear"`
	Start   []string            `yaml:"start"`
	Help    []string            `yaml:"help"`
}

// Vocabulary reads the words that patients answer with in a language, and the
// opt-out words of every language. Unlike a message, a reply is never read with another language's words: a language
// without a vocabulary is an error.
func Vocabulary(lang string) (*reply.Vocabulary, error) { return readVocabulary(embedded, lang) }

func readVocabulary(fsys fs.FS, lang string) (*reply.Vocabulary, error) {
	v := new(reply.Vocabulary)
	if err := readStrictly(fsys, path.Join(lang, replyFile), v); err != nil {
		return nil, fmt.Errorf("read reply words of %s: %w", lang, err)
	}
	if v.Language != lang {
		return nil, fmt.Errorf("read reply words of %s: they say they are of language %q", lang, v.Language)
	}
	var every optOut
	if err := readStrictly(fsys, optOutFile, &every); err != nil {
		return nil, fmt.Errorf("read opt-out words: %w", err)
	}
	v.Common = reply.Keywords{StopUnclear: every.Unclear, Start: every.Start, Help: every.Help}
	for _, code := range slices.Sorted(maps.Keys(every.Stop)) {
		v.Common.Stop = append(v.Common.Stop, every.Stop[code]...)
	}
	return v, nil
}

// readStrictly reads a YAML file that may hold no key its type lacks.
func readStrictly(fsys fs.FS, file string, into any) error {
	b, err := fs.ReadFile(fsys, file)
	if err != nil {
		return err
	}
	dec := yaml.NewDecoder(bytes.NewReader(b))
	dec.KnownFields(true)
	return dec.Decode(into)
}
