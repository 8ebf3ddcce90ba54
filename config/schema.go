package config

import (
	"encoding/json"
	"reflect"
	"strings"
)

// SchemaKinds are the kinds of file that have a schema.
func SchemaKinds() []string { return []string{"program", "enrollments", "clinic", "cases"} }

// Schema is the JSON Schema (draft 2020-12) of a kind of file, for editors
// that complete and flag keys; nil for a kind there is none of. It is made
// from the shapes the files are read with, and looser than the check: it knows
// keys, which are always asked for, and the words of a choice, but no ranges
// and nothing that hangs on another value.
func Schema(kind string) []byte {
	shapes := map[string]reflect.Type{
		"program":     reflect.TypeFor[programShape](),
		"enrollments": reflect.TypeFor[enrollmentsShape](),
		"clinic":      reflect.TypeFor[settingsShape](),
		"cases":       reflect.TypeFor[casesShape](),
	}
	t, known := shapes[kind]
	if !known {
		return nil
	}
	s := schema{defs: map[string]node{}}
	root := s.of(t, "")
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = kind
	root["$defs"] = s.defs
	out, err := json.MarshalIndent(root, "", "  ")
	if err != nil {
		panic(err) // maps of strings always marshal
	}
	return append(out, '\n')
}

// node is a piece of a schema.
type node = map[string]any

// schema gathers the definitions of shapes by the name of their type.
type schema struct{ defs map[string]node }

// choices are the words a key can be, by the name in its of tag. Editors that
// read YAML 1.1 take off for false.
func choices(name string) []any {
	var words []string
	switch name {
	case "yes":
		return []any{true, false, "true", "false"}
	case "first step":
		return []any{firstStepWords[0], firstStepWords[1], false}
	case "kinds":
		words = kinds
	case "sides":
		words = sides
	case "affected":
		words = affectedWords
	case "one side":
		words = affectedWords[:2]
	case "cautions":
		words = cautionWords
	case "covers":
		words = consentWords
	case "during hold":
		words = duringHold
	case "tls":
		words = tlsWords
	case "retain":
		words = retainWords
	case "accents":
		words = accentWords
	case "stop reply":
		words = stopReplyWords
	case "languages":
		words = languages()
	default:
		panic("config: no choice is called " + name)
	}
	out := make([]any, len(words))
	for i, w := range words {
		out[i] = w
	}
	return out
}

// single is any single value that is not empty; dates and times are text.
func single(of string) node {
	if of != "" {
		return node{"enum": choices(of)}
	}
	return node{"type": []string{"string", "number", "boolean"}}
}

// listOf is a list of items; nothing after the colon is an empty one.
func listOf(items node) node { return node{"type": []string{"array", "null"}, "items": items} }

// of is the schema of what a shape's field holds. choice names the words it
// can be.
func (s *schema) of(t reflect.Type, choice string) node {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t {
	case reflect.TypeFor[Value]():
		return single(choice)
	case reflect.TypeFor[OneOrMore]():
		return node{"anyOf": []node{single(choice), {"type": "array", "items": single(choice), "minItems": 1}}}
	case reflect.TypeFor[Words]():
		in := node{}
		for _, l := range languages() {
			in[l] = single("")
		}
		return node{"anyOf": []node{single(""), {"type": "object", "properties": in, "additionalProperties": single(""), "minProperties": 1}}}
	case reflect.TypeFor[SecretRef]():
		text := node{"type": []string{"string", "number", "boolean"}}
		return node{"type": "object", "properties": node{"env": text, "file": text},
			"additionalProperties": false, "minProperties": 1, "maxProperties": 1}
	}
	switch t.Kind() {
	case reflect.Slice:
		return listOf(s.of(t.Elem(), choice))
	case reflect.Map:
		names := node{"pattern": idForm.String()}
		if t.Elem() == reflect.TypeFor[weekShape]() {
			names = node{"pattern": `^[1-9][0-9]{0,2}$`}
		}
		return node{"type": "object", "propertyNames": names, "additionalProperties": s.of(t.Elem(), choice)}
	}
	return s.shape(t)
}

// shape is the schema of a struct: a reference to its definition.
func (s *schema) shape(t reflect.Type) node {
	var w walker
	fields := w.fields(t)
	if l, ok := reflect.Zero(t).Interface().(listShape); ok {
		return s.of(fields[l.listKey()], "")
	}
	name := strings.TrimSuffix(t.Name(), "Shape")
	ref := node{"$ref": "#/$defs/" + name}
	if s.defs[name] == nil {
		def := node{"type": "object", "additionalProperties": false}
		s.defs[name] = def // first: a shape may hold itself
		properties, required := node{}, []string{}
		for i := range t.NumField() {
			tag := t.Field(i).Tag
			key := tag.Get("koanf")
			if fields[key] == nil {
				continue
			}
			property := s.of(fields[key], tag.Get("of"))
			if help := tag.Get("help"); help != "" {
				property["description"] = help
			}
			properties[key] = property
			if tag.Get("need") != "" {
				required = append(required, key)
			}
		}
		def["properties"] = properties
		if len(required) > 0 {
			def["required"] = required
		}
	}
	if ws, ok := reflect.Zero(t).Interface().(wordShape); ok {
		for i := range t.NumField() {
			if tag := t.Field(i).Tag; tag.Get("koanf") == ws.wordKey() {
				return node{"anyOf": []node{single(tag.Get("of")), ref}}
			}
		}
	}
	return ref
}
