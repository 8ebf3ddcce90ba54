package templates

import (
	"strings"
	"testing"
	"testing/fstest"
)

func TestVocabularyIsReadStrictly(t *testing.T) {
	files := func(s string) fstest.MapFS {
		return fstest.MapFS{"xx/reply.yaml": {Data: []byte(s)}, "optout.yaml": {Data: []byte("stop: {en: [stop], xx: [halt]}\n")}}
	}
	v, err := readVocabulary(files("language: xx\nletters: {done: d, first step: f}\n"), "xx")
	if err != nil || v.Letters.Done != "d" || v.Letters.First != "f" || len(v.Common.Stop) != 2 {
		t.Errorf("%+v, %v", v, err)
	}
	for body, want := range map[string]string{
		"language: xx\nletters: {dome: d}\n": "dome",
		"language: yy\n":                     "yy",
		"language: [":                        "xx",
	} {
		if _, err := readVocabulary(files(body), "xx"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want one that names %q", body, err, want)
		}
	}
	whole := files("language: xx\n")
	whole["optout.yaml"].Data = []byte("stopp: {}\n")
	if _, err := readVocabulary(whole, "xx"); err == nil || !strings.Contains(err.Error(), "opt-out words") {
		t.Errorf("a slip in the opt-out words: %v", err)
	}
	delete(whole, "optout.yaml")
	if _, err := readVocabulary(whole, "xx"); err == nil {
		t.Error("the opt-out words are missing and nothing is said")
	}
	if _, err := Vocabulary("no such language"); err == nil {
		t.Error("a language without a vocabulary is accepted")
	}
}
