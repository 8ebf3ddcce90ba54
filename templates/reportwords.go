package templates

import (
	"bytes"
	"embed"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
)

// The words of the report pages, a file a language, and the pages themselves.
//
//go:embed */report.yaml pages/parts.html pages/patient.html pages/clinic.html pages/report.css
var reportFiles embed.FS

const reportFile = "report.yaml"

// phrase is one text of a report. A counted one has two forms.
type phrase struct{ One, Many string }

// UnmarshalYAML reads a text, or its two forms.
func (p *phrase) UnmarshalYAML(n *yaml.Node) error {
	if n.Kind == yaml.ScalarNode {
		p.One, p.Many = n.Value, n.Value
		return nil
	}
	var u unit
	if err := n.Decode(&u); err != nil {
		return err
	}
	p.One, p.Many = u.One, u.Many
	return nil
}

// reportWords are the words of the report pages in one language.
type reportWords struct {
	*language
	phrases map[string]phrase
}

// reportPhrases are the words of every language that has them.
var reportPhrases = sync.OnceValues(func() (map[string]map[string]phrase, error) { return readReports(reportFiles) })

func readReports(fsys fs.FS) (map[string]map[string]phrase, error) {
	files, err := fs.Glob(fsys, "*/"+reportFile)
	if err != nil {
		return nil, fmt.Errorf("find the words of reports: %w", err)
	}
	out := map[string]map[string]phrase{}
	for _, f := range files {
		b, err := fs.ReadFile(fsys, f)
		if err != nil {
			return nil, fmt.Errorf("read the words of reports: %w", err)
		}
		words := map[string]phrase{}
		dec := yaml.NewDecoder(bytes.NewReader(b))
		if err := dec.Decode(&words); err != nil {
			return nil, fmt.Errorf("read %s: %w", f, err)
		}
		out[path.Dir(f)] = words
	}
	return out, nil
}

// missingPhrases says which keys a language lacks that English has, which it
// has too many, and where a text asks for other fillings than the English one.
func missingPhrases(all map[string]map[string]phrase, lang string) []string {
	var out []string
	for _, key := range slices.Sorted(maps.Keys(all[fallback])) {
		en, ok := all[fallback][key], false
		p, ok := all[lang][key]
		switch {
		case !ok || p.One == "" || p.Many == "":
			out = append(out, "report/"+key)
		case !slices.Equal(fillings(en.Many), fillings(p.Many)):
			out = append(out, "report/"+key+" with its fillings")
		}
	}
	for _, key := range slices.Sorted(maps.Keys(all[lang])) {
		if _, ok := all[fallback][key]; !ok {
			out = append(out, "a use for report/"+key)
		}
	}
	return out
}

// fillings are the names in braces, sorted.
func fillings(s string) []string {
	var out []string
	for {
		_, rest, ok := strings.Cut(s, "{")
		if !ok {
			break
		}
		name, after, _ := strings.Cut(rest, "}")
		out, s = append(out, name), after
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// report are the report words of a language; one that has none reads English.
func (s *Set) report(lang string) reportWords {
	all, err := reportPhrases()
	if err != nil {
		panic(err) // embedded: a mistake in this package
	}
	l := s.in(lang)
	words, ok := all[l.code]
	if !ok {
		words, l = all[fallback], s.in(fallback)
	}
	return reportWords{l, words}
}

// say fills in a text: names and values by turns.
func (w reportWords) say(key string, fill ...any) string {
	p, ok := w.phrases[key]
	if !ok {
		panic("no words for report/" + key)
	}
	text := p.Many
	for i := 0; i+1 < len(fill); i += 2 {
		if fill[i] == "n" && fmt.Sprint(fill[i+1]) == "1" {
			text = p.One
		}
	}
	var pairs []string
	for i := 0; i+1 < len(fill); i += 2 {
		pairs = append(pairs, "{"+fmt.Sprint(fill[i])+"}", fmt.Sprint(fill[i+1]))
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// number writes a score, or a dash for none.
func number(n *int) string {
	if n == nil {
		return "–"
	}
	return strconv.Itoa(*n)
}

// Reports tells whether reports can be made in a language.
func (s *Set) Reports(lang string) bool {
	all, err := reportPhrases()
	_, ok := all[lang]
	return err == nil && ok
}
