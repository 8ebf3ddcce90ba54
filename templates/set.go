package templates

import (
	"embed"
	"errors"
	"fmt"
	htmltemplate "html/template"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"text/template"
	"time"

	"stepgate/rules"
)

// A folder beside this file is a language if it has a words.yaml.
//
//go:embed */*.tmpl */words.yaml */reply.yaml optout.yaml
var embedded embed.FS

const (
	wordsFile = "words.yaml"
	fallback  = "en" // for a language nobody has written yet
)

// pageFiles are the files of HTML; the others are plain text.
var pageFiles = []string{"mail.tmpl", "page.tmpl"}

// Set is every template of every language, parsed. It is safe for use by
// several goroutines.
type Set struct {
	langs map[string]*language
}

type language struct {
	code  string
	words *words
	text  *template.Template
	mail  *htmltemplate.Template

	slack int // see [language.saves]

	// What was rendered before. All are nil while the templates are tried out.
	phrases *memo[dosePhrase, string]
	forms   *memo[form, string]
	frames  *memo[frameKey, frame]
	names   *memo[string, frame]
	answers *memo[answerKey, string]
	whys    *memo[rules.Reason, string]
}

// Message is one message, rendered. Text is the body of an SMS, or the text
// part of a mail; HTML is the whole HTML part of a mail. Subject is for mail.
type Message struct {
	Subject, Text, HTML string
}

// Clinic is what messages say of the clinic, as people read it.
type Clinic struct {
	Name, Phone, Hours, AfterHours, Emergency string

	// Accents: a text keeps those that the GSM 7-bit alphabet lacks, and then
	// holds less. Mails and pages always keep them.
	Accents bool
}

// Patient is what messages say of a patient.
type Patient struct {
	Name     string    // to greet by; no surname
	Proxy    string    // a parent or carer who gets the texts instead; empty: the patient does
	Language string    // such as "en"; one without a folder is written in English
	Affected string    // "left", "right" or "both"
	TextOnly bool      // an SMS: Subject and HTML are left empty
	Links    *DayLinks // for the HTML of the daily mail; nil: none
}

// New parses the embedded templates of every language. The error lists every
// key that a language lacks.
func New() (*Set, error) { return load(embedded) }

func load(fsys fs.FS) (*Set, error) {
	files, err := fs.Glob(fsys, "*/"+wordsFile)
	if err != nil {
		return nil, fmt.Errorf("find languages: %w", err)
	}
	s := &Set{langs: make(map[string]*language)}
	var problems []error
	for _, f := range files {
		code := path.Dir(f)
		l, err := parse(fsys, code)
		if err != nil {
			problems = append(problems, err)
			continue
		}
		for _, key := range l.missing() {
			problems = append(problems, fmt.Errorf("language %s lacks %s", code, key))
		}
		s.langs[code] = l
	}
	if s.langs[fallback] == nil && len(problems) == 0 {
		problems = append(problems, fmt.Errorf("language %s lacks its folder", fallback))
	}
	if len(problems) == 0 {
		problems = s.rehearse()
	}
	if len(problems) > 0 {
		return nil, errors.Join(problems...)
	}
	for _, l := range s.langs {
		l.measureSlack()
		l.keep()
	}
	return s, nil
}

func parse(fsys fs.FS, code string) (*language, error) {
	w, err := readWords(fsys, code)
	if err != nil {
		return nil, err
	}
	l := &language{code: code, words: w}
	funcs := l.funcs()
	l.text = template.New(code).Option("missingkey=error").Funcs(funcs)
	l.mail = htmltemplate.New(code).Option("missingkey=error").Funcs(funcs)
	files, err := fs.Glob(fsys, code+"/*.tmpl")
	if err != nil {
		return nil, fmt.Errorf("find templates of %s: %w", code, err)
	}
	for _, f := range files {
		if slices.Contains(pageFiles, path.Base(f)) {
			_, err = l.mail.ParseFS(fsys, f)
		} else {
			_, err = l.text.ParseFS(fsys, f)
		}
		if err != nil {
			return nil, fmt.Errorf("parse %s: %w", f, err)
		}
	}
	return l, nil
}

// funcs are the functions of the templates, in the words of the language.
func (l *language) funcs() map[string]any {
	w := l.words
	return map[string]any{
		"date":      w.date,
		"shortDate": w.shortDate,
		"duration":  w.duration,
		"hours":     func(h *float64) string { return w.hours(*h) },
		"times":     w.Time.of,
		"seconds":   w.Second.of,
		"weekday":   func(d rules.Date) string { return w.Weekdays[d.Weekday()] },
		"rounds":    w.Round.of,
		"days":      w.Day.of,
		"brief":     brief,
		"minutes":   func(n int) string { return brief(time.Duration(n) * time.Minute) },
		"keep":      keepNumbers, // pages only
		"sentence":  sentence,
		"capital":   capital,
		"place":     func(p rules.Pos) string { return rules.Pos{File: p.File, Line: p.Line}.String() },
	}
}

// missing lists the keys the language lacks.
func (l *language) missing() []string {
	out := l.words.missing()
	for _, key := range textKeys() {
		if l.text.Lookup(key) == nil {
			out = append(out, key)
		}
	}
	for _, key := range mailKeys() {
		if l.mail.Lookup(key) == nil {
			out = append(out, key)
		}
	}
	return out
}

// in is the language of a code, or English.
func (s *Set) in(code string) *language {
	if l, ok := s.langs[code]; ok {
		return l
	}
	return s.langs[fallback]
}

// Languages lists the codes of the languages there are.
func (s *Set) Languages() []string { return slices.Sorted(maps.Keys(s.langs)) }

// raw renders one template. [New] has rendered every one of them, so a
// failure here is a mistake in this package and not in the caller's data.
func (l *language) raw(key string, data any) string {
	var b strings.Builder
	if err := l.text.ExecuteTemplate(&b, key, data); err != nil {
		panic(fmt.Sprintf("render %s in %s: %v", key, l.code, err))
	}
	return b.String()
}

// line renders one template as a single line.
func (l *language) line(key string, data any) string {
	return strings.Join(strings.Fields(l.raw(key, data)), " ")
}

// lines renders one template as lines without the empty ones.
func (l *language) lines(key string, data any) string {
	raw := l.raw(key, data)
	var b strings.Builder
	b.Grow(len(raw))
	for line := range strings.Lines(raw) {
		start := true
		for word := range strings.FieldsSeq(line) {
			switch {
			case !start:
				b.WriteByte(' ')
			case b.Len() > 0:
				b.WriteByte('\n')
			}
			start = false
			b.WriteString(word)
		}
	}
	return b.String()
}

// html renders one page of HTML.
func (l *language) html(key string, data any) string {
	var b strings.Builder
	if err := l.mail.ExecuteTemplate(&b, key, data); err != nil {
		panic(fmt.Sprintf("render %s in %s: %v", key, l.code, err))
	}
	return b.String()
}
