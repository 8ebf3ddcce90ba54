package config

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"
	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// compiled is the schema of a kind of file, ready to hold files against.
func compiled(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema(name)))
	must(t, err)
	c := jsonschema.NewCompiler()
	must(t, c.AddResource(name+".json", doc))
	s, err := c.Compile(name + ".json")
	must(t, err)
	return s
}

// plain turns YAML into what an editor holds against a schema. It gives false
// for what JSON has no word for, such as a key that stands twice.
func plain(n *yaml.Node) (any, bool) {
	switch n.Kind {
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i < len(n.Content); i += 2 {
			k := n.Content[i]
			v, ok := plain(n.Content[i+1])
			if _, twice := out[k.Value]; twice || !ok || k.Kind != yaml.ScalarNode {
				return nil, false
			}
			out[k.Value] = v
		}
		return out, true
	case yaml.SequenceNode:
		out := make([]any, len(n.Content))
		for i, x := range n.Content {
			v, ok := plain(x)
			if out[i] = v; !ok {
				return nil, false
			}
		}
		return out, true
	case yaml.ScalarNode:
		switch tag := n.ShortTag(); tag {
		case "!!null":
			return nil, true
		case "!!bool":
			return strings.EqualFold(n.Value, "true"), true
		case "!!int", "!!float":
			return json.Number("1"), true // any number is like the others to these schemas
		}
		return n.Value, n.Style&yaml.TaggedStyle == 0
	}
	return nil, false
}

// kindOf is the kind of one of the clinic's files.
func kindOf(path string) string {
	switch {
	case path == settingsFile:
		return "clinic"
	case isCases(path):
		return "cases"
	case strings.HasPrefix(path, programFolder+"/"):
		return "program"
	}
	return "enrollments"
}

// schemaErrors holds a file's text against its schema. It gives false where
// the text is no YAML that JSON could say.
func schemaErrors(t *testing.T, schemas map[string]*jsonschema.Schema, path, text string) (*jsonschema.ValidationError, bool) {
	t.Helper()
	var doc yaml.Node
	if yaml.Unmarshal([]byte(text), &doc) != nil || len(doc.Content) == 0 {
		return nil, false
	}
	v, ok := plain(doc.Content[0])
	if !ok {
		return nil, false
	}
	err := schemas[kindOf(path)].Validate(v)
	if err == nil {
		return nil, true
	}
	ve, ok := err.(*jsonschema.ValidationError)
	if !ok {
		t.Fatal(err)
	}
	return ve, true
}

func allSchemas(t *testing.T) map[string]*jsonschema.Schema {
	t.Helper()
	out := map[string]*jsonschema.Schema{}
	for _, name := range SchemaKinds() {
		out[name] = compiled(t, name)
	}
	return out
}

// TestSchemaAndCheckAgree: what the schema refuses the check refuses, over
// every good file and every bad one of the other tests; and a key that the
// check doesn't know, or always asks for, the schema refuses too.
func TestSchemaAndCheckAgree(t *testing.T) {
	schemas := allSchemas(t)
	seen := map[string]int{}
	look := func(name string, files map[string]string) {
		t.Helper()
		_, problems := LoadFiles("/clinic", filesOf(files), env)
		for path, text := range files {
			refused, comparable := schemaErrors(t, schemas, path, text)
			if !comparable {
				continue
			}
			errors, unknown := 0, 0
			for _, p := range problems.Errors() {
				if p.At.File == path {
					errors++
					if strings.HasPrefix(p.What, "unknown key") {
						unknown++
					}
				}
			}
			switch {
			case refused != nil && errors == 0:
				t.Errorf("%s: the schema refuses a %s that the check lets through:\n%v\n%v", name, path, refused, problems)
			case unknown > 0 && refused == nil:
				t.Errorf("%s: the check finds an unknown key in %s, the schema doesn't:\n%v", name, path, problems)
			}
			seen[fmt.Sprintf("refused %v", refused != nil)]++
		}
	}
	look("base", base())
	look("rich", rich())
	for of, group := range map[*[]badCase]func() map[string]string{
		&programRules: base, &lineRules: base, &weekRules: base, &enrollmentRules: base, &entryRules: base,
		&settingsRules: base, &carrierRules: base, &smsRules: base, &senderRules: base, &alertRules: base, &machineRules: base, &mailRules: base,
		&partRules: rich, &afterRules: rich, &personRules: rich, &tailorRules: rich, &recordRules: rich,
	} {
		for _, c := range *of {
			files := group()
			files[c.file] = edit(t, files[c.file], c.old, c.with)
			look(c.name, files)
		}
	}
	if seen["refused true"] < 40 || seen["refused false"] < 400 {
		t.Errorf("too few files were compared: %v", seen)
	}
}

// TestSchemaTakesGoodFiles: the clinics in testdata are good to the schemas.
func TestSchemaTakesGoodFiles(t *testing.T) {
	schemas := allSchemas(t)
	for _, dir := range []string{"../testdata/clinic", "../testdata/demo"} {
		c, problems := Load(dir, env)
		if c == nil {
			t.Fatalf("%s: %v", dir, problems)
		}
		for _, f := range c.Files {
			if refused, ok := schemaErrors(t, schemas, f.Path, string(f.Data)); refused != nil || !ok {
				t.Errorf("%s/%s: %v", filepath.Base(dir), f.Path, refused)
			}
		}
	}
}

// holes are the places in the files where keys can stand; %s is the hole.
var holes = map[string]struct {
	shape any
	texts []string
}{
	"clinic": {settingsShape{}, []string{
		"{%s}", "clinic: {%s}", "texting: {%s}", "alerts: {%s}", "alerts: {hours: {%s}}", "alerts: {cover: [{%s}]}", "admin: {%s}", "web: {%s}", "backup: {%s}",
		"spool: {%s}", "sms: {%s}", "sms: {numbers: [{%s}]}", "email: {%s}", "email: {imap: {%s}}", "email: {dkim: {%s}}",
	}},
	"program": {programShape{}, []string{
		"{%s}", "approved: {%s}", "exercises: {a: {%s}}", "weeks: {1: [{%s}]}", "wear: {%s}", "pain: {%s}", "advance: {%s}",
		"first step: {%s}", "maintenance: {%s}",
	}},
	"enrollments": {enrollmentsShape{}, []string{
		"{%s}", "enrollments: [{%s}]", "enrollments: [{proxy: {%s}}]", "enrollments: [{usual: {%s}}]", "enrollments: [{pain: {%s}}]",
		"enrollments: [{tailor: [{%s}]}]", "enrollments: [{devices: [{%s}]}]", "enrollments: [{consent: {%s}}]", "enrollments: [{entries: [{hold: 2026-10-05, %s}]}]",
	}},
	"cases": {casesShape{}, []string{"{%s}", "cases: [{%s}]", "cases: [{replies: [{%s}]}]", "cases: [{expect: [{%s}]}]"}},
}

// TestSchemaKeys: at every place of every file, the walker knows exactly the
// keys that the schema knows.
func TestSchemaKeys(t *testing.T) {
	all := map[string]bool{"bogus": true, placeKey: true, "=": true}
	for _, h := range holes {
		eachField(reflect.TypeOf(h.shape), func(_ reflect.Type, f reflect.StructField) { all[f.Tag.Get("koanf")] = true })
	}
	schemas := allSchemas(t)
	for name, h := range holes {
		shapes := map[reflect.Type]bool{}
		eachField(reflect.TypeOf(h.shape), func(of reflect.Type, _ reflect.StructField) {
			if _, list := reflect.Zero(of).Interface().(listShape); !list {
				shapes[of] = true
			}
		})
		if len(shapes) != len(h.texts) {
			t.Errorf("%s: there are %d shapes and %d places for their keys", name, len(shapes), len(h.texts))
		}
		for _, text := range h.texts {
			known := 0
			for _, key := range slices.Sorted(maps.Keys(all)) {
				doc := fmt.Sprintf(text, fmt.Sprintf("%q: x", key))
				var n notes
				var root yaml.Node
				must(t, yaml.Unmarshal([]byte(doc), &root))
				w := walker{file: "f", notes: &n}
				w.value(root.Content[0], reflect.TypeOf(h.shape), "the file", rules.Pos{})
				unknown := slices.ContainsFunc(n.list, func(p Problem) bool { return strings.HasPrefix(p.What, "unknown key") })
				v, _ := plain(root.Content[0])
				err, _ := schemas[name].Validate(v).(*jsonschema.ValidationError)
				if refused := err != nil && refuses(err, key); refused != unknown {
					t.Errorf("%s: %s: the check calls the key unknown: %v; the schema: %v", name, doc, unknown, refused)
				}
				if !unknown {
					known++
				}
			}
			if known == 0 || known == len(all) {
				t.Errorf("%s: %s: %d of %d keys are known", name, text, known, len(all))
			}
		}
	}
}

// refuses tells whether a key is refused as one that a place does not have.
func refuses(err *jsonschema.ValidationError, key string) bool {
	if k, ok := err.ErrorKind.(*kind.AdditionalProperties); ok && slices.Contains(k.Properties, key) {
		return true
	}
	return slices.ContainsFunc(err.Causes, func(c *jsonschema.ValidationError) bool { return refuses(c, key) })
}

// eachField visits the fields of a shape and of the shapes in it.
func eachField(t reflect.Type, visit func(of reflect.Type, f reflect.StructField)) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Map {
		t = t.Elem()
	}
	if _, isLeaf := reflect.New(t).Interface().(leaf); isLeaf || t == reflect.TypeFor[Place]() {
		return
	}
	for i := range t.NumField() {
		visit(t, t.Field(i))
		eachField(t.Field(i).Type, visit)
	}
}

// TestNeeded: a key marked as always asked for is asked for, and no other is.
func TestNeeded(t *testing.T) {
	schemas := allSchemas(t)
	for name, h := range holes {
		if name == "cases" {
			continue // read apart from a clinic; nothing there is marked
		}
		path := map[string]string{"clinic": settingsFile, "program": steadyFile, "enrollments": enrollmentsFile}[name]
		for _, text := range h.texts {
			if !strings.HasPrefix(text, "{") {
				text = "{pad: x, " + text + "}" // so that the file itself does not begin at the same place
			}
			text = fmt.Sprintf(text, "")
			var root yaml.Node
			must(t, yaml.Unmarshal([]byte(text), &root))
			at, way := hole(root.Content[0])
			files := rich()
			files[path] = text
			_, problems := LoadFiles("/clinic", filesOf(files), env)
			var got []string
			for _, p := range problems {
				if key, missing := strings.CutSuffix(p.What, " is missing"); missing && p.At == (rules.Pos{File: path, Line: at.Line, Column: at.Column}) {
					got = append(got, key)
				}
			}
			slices.Sort(got)
			v, _ := plain(root.Content[0])
			err, _ := schemas[name].Validate(v).(*jsonschema.ValidationError)
			if want := missing(err, way); !slices.Equal(got, want) {
				t.Errorf("%s: %s: missing %v, the schema asks for %v", name, text, got, want)
			}
		}
	}
}

// hole is where the last and innermost mapping stands, as the walker gives
// its place, and the way there.
func hole(n *yaml.Node) (*yaml.Node, []string) {
	at, way := n, []string(nil)
	for len(n.Content) > 0 {
		next, key, place := n.Content[len(n.Content)-1], "0", n.Content[len(n.Content)-1]
		if n.Kind == yaml.MappingNode {
			place = n.Content[len(n.Content)-2]
			key = place.Value
		}
		if next.Kind == yaml.ScalarNode {
			break
		}
		at, way, n = place, append(way, key), next
	}
	return at, way
}

// missing are the keys that a schema always asks for at a place.
func missing(err *jsonschema.ValidationError, way []string) []string {
	var out []string
	if err == nil {
		return out
	}
	if k, ok := err.ErrorKind.(*kind.Required); ok && slices.Equal(err.InstanceLocation, way) {
		out = append(out, k.Missing...)
	}
	for _, c := range err.Causes {
		out = append(out, missing(c, way)...)
	}
	slices.Sort(out)
	return out
}

// TestChoices: each word a schema offers is one that the check takes.
func TestChoices(t *testing.T) {
	for _, c := range []struct{ name, path, old, with string }{
		{"kinds", steadyFile, "kind: stretch", "kind: %s"},
		{"sides", steadyFile, "on: 3 days a week, side: affected", "side: %s"},
		{"during hold", steadyFile, "during hold: goes on", "during hold: %s"},
		{"first step", steadyFile, "first step: {every: 14 days, rise: 3}", "first step: %s"},
		{"affected", enrollmentsFile, "affected: left", "affected: %s"},
		{"cautions", enrollmentsFile, "[reduced sensation, diabetes, balance, growing]", "[%s]"},
		{"yes", enrollmentsFile, "as before: true", "as before: %s"},
		{"tls", settingsFile, "  tls: tls\n", "  tls: %s\n  port: 587\n"},
		{"retain", settingsFile, "sms:\n", "sms:\n  content: %s\n"},
		{"accents", settingsFile, "sms:\n", "sms:\n  accents: %s\n"},
		{"stop reply", settingsFile, "sms:\n", "sms:\n  stop reply: %s\n"},
		{"languages", enrollmentsFile, "language: en", "language: %s"},
	} {
		for _, word := range choices(c.name) {
			if word == false && c.name == "first step" {
				word = "off" // as an editor may read it
			}
			files := rich()
			files[settingsFile] = edit(t, files[settingsFile], "host: mail.example.com", "host: localhost") // where tls may be none
			clinic, problems := loadEdited(t, files, c.path, c.old, fmt.Sprintf(c.with, fmt.Sprint(word)))
			if clinic == nil {
				t.Errorf("%s: %v is refused:\n%v", c.name, word, problems)
			}
		}
	}
	if Schema("bogus") != nil {
		t.Error("a kind that does not exist has a schema")
	}
}
