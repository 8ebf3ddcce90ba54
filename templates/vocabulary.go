package templates

import (
	"bytes"
	"fmt"
	"io/fs"
	"path"

	"go.yaml.in/yaml/v3"

	"stepgate/rules/reply"
)

const replyFile = "reply.yaml"

// Vocabulary reads the words that patients answer with in a language. Unlike a
// message, a reply is never read with another language's words: a language
// without a vocabulary is an error.
func Vocabulary(lang string) (*reply.Vocabulary, error) { return readVocabulary(embedded, lang) }

func readVocabulary(fsys fs.FS, lang string) (*reply.Vocabulary, error) {
	b, err := fs.ReadFile(fsys, path.Join(lang, replyFile))
	if err != nil {
		return nil, fmt.Errorf("read reply words: %w", err)
	}
	dec := yaml.NewDecoder(bytes.NewReader(b))
	dec.KnownFields(true)
	v := new(reply.Vocabulary)
	if err := dec.Decode(v); err != nil {
		return nil, fmt.Errorf("read reply words of %s: %w", lang, err)
	}
	if v.Language != lang {
		return nil, fmt.Errorf("read reply words of %s: they say they are of language %q", lang, v.Language)
	}
	return v, nil
}
