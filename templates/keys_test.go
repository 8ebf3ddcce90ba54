package templates

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"stepgate/rules"
)

// constants reads the string constants of a type out of a file of package
// rules, so that a constant added there fails the tests here.
func constants(t *testing.T, file, typ string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), "../rules/"+file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, decl := range f.Decls {
		gen, ok := decl.(*ast.GenDecl)
		if !ok || gen.Tok != token.CONST {
			continue
		}
		for _, spec := range gen.Specs {
			vs := spec.(*ast.ValueSpec)
			if id, ok := vs.Type.(*ast.Ident); !ok || id.Name != typ {
				continue
			}
			for _, v := range vs.Values {
				s, err := strconv.Unquote(v.(*ast.BasicLit).Value)
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, s)
			}
		}
	}
	if len(out) == 0 {
		t.Fatalf("no constants of type %s in rules/%s", typ, file)
	}
	return out
}

func names[T ~string](list []T) []string {
	var out []string
	for _, x := range list {
		out = append(out, string(x))
	}
	return out
}

func TestEveryConstantHasItsWords(t *testing.T) {
	for _, c := range []struct {
		file, typ string
		ours      []string
	}{
		{"decision.go", "Code", names(codes)},
		{"decision.go", "Part", names(parts)},
		{"decision.go", "NoticeKind", names(notices)},
		{"state.go", "InState", names(states)},
	} {
		theirs := constants(t, c.file, c.typ)
		if !slices.Equal(theirs, c.ours) {
			t.Errorf("rules.%s has\n%q\nkeys.go has\n%q", c.typ, theirs, c.ours)
		}
	}
	s := newSet(t)
	for _, c := range codes {
		if got := s.Why("en", rules.Reason{Code: c}); got == "" {
			t.Errorf("no words for the reason %q", c)
		}
	}
	for _, p := range parts {
		if m := s.Answer(harbor, ana, sampleProgram(), AnswerData{Parts: []rules.Part{p}}); m.Text == "" || m.HTML == "" {
			t.Errorf("no words for the part %q", p)
		}
	}
	for _, n := range notices {
		m := s.Alert(harbor, AlertData{Notice: rules.Notice{Kind: n}})
		if m.Text == "" || m.HTML == "" || !strings.HasPrefix(m.Subject, "Stepgate: ") {
			t.Errorf("no words for the notice %q: %+v", n, m)
		}
	}
}

// Every language has every key. The test lists what is missing, by language.
func TestLanguagesAreComplete(t *testing.T) {
	files, err := fs.Glob(embedded, "*/"+wordsFile)
	if err != nil || len(files) == 0 {
		t.Fatalf("no languages: %v", err)
	}
	for _, f := range files {
		lang := strings.TrimSuffix(f, "/"+wordsFile)
		l, err := parse(embedded, lang)
		if err != nil {
			t.Errorf("%s: %v", lang, err)
			continue
		}
		for _, key := range l.missing() {
			t.Errorf("%s lacks %s", lang, key)
		}
	}
}

// broken is a copy of the embedded files with one of them changed.
func broken(t *testing.T, change map[string]func(string) string) fstest.MapFS {
	t.Helper()
	out := fstest.MapFS{}
	err := fs.WalkDir(embedded, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(embedded, p)
		out[p] = &fstest.MapFile{Data: b}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for p, f := range change {
		from := p
		if rest, ok := strings.CutPrefix(p, "xx/"); ok {
			from = "en/" + rest
		}
		out[p] = &fstest.MapFile{Data: []byte(f(string(out[from].Data)))}
	}
	return out
}

func TestNewRefusesABrokenLanguage(t *testing.T) {
	same := func(s string) string { return s }
	replace := func(old, new string) func(string) string {
		return func(s string) string {
			if !strings.Contains(s, old) {
				t.Errorf("%q is not there to be replaced", old)
			}
			return strings.Replace(s, old, new, 1)
		}
	}
	whole := map[string]func(string) string{
		"xx/words.yaml": same, "xx/daily.tmpl": same, "xx/answers.tmpl": same,
		"xx/clinician.tmpl": same, "xx/explain.tmpl": same, "xx/alerts.tmpl": same, "xx/mail.tmpl": same,
		"xx/inbox.tmpl": same, "xx/page.tmpl": same, "xx/handout.tmpl": same,
	}
	if _, err := load(broken(t, whole)); err != nil {
		t.Fatalf("a whole second language is refused: %v", err)
	}
	for _, c := range []struct {
		file   string
		change func(string) string
		want   []string
	}{
		{"xx/answers.tmpl", replace(`"part/hold"`, `"part/held"`), []string{"language xx lacks part/hold"}},
		{"xx/words.yaml", replace("hour: {one: hour, many: hours}", "hour: {one: hour}"), []string{"language xx lacks words/hour/many"}},
		{"xx/words.yaml", replace("round:", "rounde:"), []string{"xx", "rounde"}},
		{"xx/mail.tmpl", replace(`"mail/alert"`, `"mail/other"`), []string{"language xx lacks mail/alert"}},
		{"xx/page.tmpl", replace(`"page/link"`, `"page/lnk"`), []string{"language xx lacks page/link"}},
		{"xx/inbox.tmpl", replace("{{$.Scores}}", "{{$.Skores}}"), []string{"language xx", "digest", "Skores"}},
		{"xx/daily.tmpl", replace("{{date .Date}}", "{{date .Dade}}"), []string{"language xx", "Dade"}},
		{"xx/alerts.tmpl", replace("{{define", "{{define}}"), []string{"alerts.tmpl"}},
	} {
		files := maps.Clone(whole)
		files[c.file] = c.change
		_, err := load(broken(t, files))
		if err == nil {
			t.Errorf("%s: a broken file is accepted, want %q", c.file, c.want)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: error %q lacks %q", c.file, err, w)
			}
		}
	}
	if _, err := load(fstest.MapFS{}); err == nil {
		t.Error("no language at all is accepted")
	}
}
