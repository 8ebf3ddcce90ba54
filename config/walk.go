package config

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// placeKey is the key under which koanf carries a mapping's [Place].
const placeKey = "@"

// listShape is a shape that files write as a list; its one field with the
// given key takes the items.
type listShape interface{ listKey() string }

// wordShape is a shape that files may also write as one word instead of keys;
// the field of the given name, which is no key, takes it.
type wordShape interface{ wordKey() string }

// walker holds a file's nodes against a shape, notes what does not fit, and
// turns the rest into maps for koanf whose values know their place.
type walker struct {
	file  string // empty for the defaults, which stand in no file
	notes *notes
	known map[reflect.Type]map[string]reflect.Type
}

func (w *walker) at(n *yaml.Node) rules.Pos {
	if w.file == "" {
		return rules.Pos{}
	}
	return rules.Pos{File: w.file, Line: n.Line, Column: n.Column}
}

// value reads one node as type t. It returns nil where nothing usable is left.
func (w *walker) value(n *yaml.Node, t reflect.Type, key string, at rules.Pos) any {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if n.Kind == yaml.AliasNode || n.Style&yaml.TaggedStyle != 0 {
		w.notes.wrong(w.at(n), key+" uses a YAML alias (*) or tag (!)",
			"write the value itself; put quotes around a text that begins with one of these")
		return nil
	}
	fresh := reflect.New(t).Interface()
	if l, ok := fresh.(leaf); ok {
		l.read(w, n, key)
		return reflect.ValueOf(l).Elem().Interface()
	}
	switch t.Kind() {
	case reflect.Struct:
		if l, ok := fresh.(listShape); ok {
			items := w.items(n, w.fields(t)[l.listKey()].Elem(), key)
			return map[string]any{placeKey: Place{Pos: at, Bad: items == nil}, l.listKey(): items}
		}
		if word, ok := fresh.(wordShape); ok && n.Kind == yaml.ScalarNode {
			var v Value
			v.read(w, n, key)
			return map[string]any{placeKey: Place{Pos: at, Bad: v.Bad}, word.wordKey(): v}
		}
		return w.mapping(n, t, key, at)
	case reflect.Map:
		return w.named(n, t.Elem(), key)
	case reflect.Slice:
		return w.items(n, t.Elem(), key)
	}
	panic(fmt.Sprintf("config: a shape can't hold a %v", t))
}

// mapping reads a mapping with known keys.
func (w *walker) mapping(n *yaml.Node, t reflect.Type, key string, at rules.Pos) any {
	fields := w.fields(t)
	place := Place{Pos: at}
	if n.Kind != yaml.MappingNode {
		place.Bad = true
		names := slices.Sorted(maps.Keys(fields))
		w.notes.wrong(w.at(n), key+" should have keys of its own", "write them below it, one a line: "+strings.Join(names, ", "))
		return map[string]any{placeKey: place}
	}
	out := map[string]any{}
	secrets := holdsSecret(fields)
	w.pairs(n, key, func(k, v *yaml.Node, first int) {
		field, ok := fields[k.Value]
		if !ok {
			w.unknown(k, n, fields)
			return
		}
		if w.again(k, first) {
			return
		}
		place.Keys = append(place.Keys, k.Value)
		x := w.value(v, field, k.Value, w.at(k))
		if value, ok := x.(Value); ok && secrets {
			value.Hide = true
			x = value
		}
		if x != nil {
			out[k.Value] = x
		}
	})
	out[placeKey] = place
	return out
}

// named reads a mapping whose keys are names the clinician chose.
func (w *walker) named(n *yaml.Node, elem reflect.Type, key string) any {
	if n.Kind != yaml.MappingNode {
		w.notes.wrong(w.at(n), key+" should have keys of its own", "write one a line, each with a colon after it")
		return nil
	}
	out := map[string]any{}
	w.pairs(n, key, func(k, v *yaml.Node, first int) {
		if w.again(k, first) || w.cut(n, k, v, elem, key) {
			return
		}
		if x := w.value(v, elem, key+" "+quoted(k.Value), w.at(k)); x != nil {
			out[k.Value] = x
		}
	})
	return out
}

// cut notes a text inside {...} that a comma ended: to YAML the rest of
// {toes-in: Turn in, then hold} is a key of its own.
func (w *walker) cut(n, k, v *yaml.Node, elem reflect.Type, key string) bool {
	if elem != reflect.TypeFor[Words]() || n.Style&yaml.FlowStyle == 0 || v.ShortTag() != "!!null" {
		return false
	}
	w.notes.wrong(w.at(k), "a comma inside {...} ended the text of "+key+" here",
		`put the whole text in quotes, like {en: "Stand up, then sit."}`)
	return true
}

// items reads a list. Nothing after the colon is an empty list: a file whose
// entries are all commented out is no mistake.
func (w *walker) items(n *yaml.Node, elem reflect.Type, key string) any {
	if n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null" {
		return []any{}
	}
	if n.Kind != yaml.SequenceNode {
		w.notes.wrong(w.at(n), key+" should be a list", "begin each item on a line of its own with a dash and a space")
		return nil
	}
	out := make([]any, 0, len(n.Content))
	for _, item := range n.Content {
		if x := w.value(item, elem, "an item of "+key, w.at(item)); x != nil {
			out = append(out, x)
		}
	}
	return out
}

// pairs visits the keys of a mapping with the line the same key stood on
// before, or 0. Keys that are no plain words are left out.
func (w *walker) pairs(n *yaml.Node, key string, visit func(k, v *yaml.Node, first int)) {
	first := make(map[string]int, len(n.Content)/2)
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		if k.Kind != yaml.ScalarNode || k.Style&yaml.TaggedStyle != 0 {
			w.notes.wrong(w.at(k), "a key of "+key+" is no plain word", "write a word, then a colon")
			continue
		}
		line := first[k.Value]
		if line == 0 {
			first[k.Value] = k.Line
		}
		visit(k, v, line)
	}
}

// again notes a key that stood in its mapping before, on line first.
func (w *walker) again(k *yaml.Node, first int) bool {
	if first > 0 {
		w.notes.wrong(w.at(k), fmt.Sprintf("the key %s stands here again, first on line %d", quoted(k.Value), first),
			"keep one of them")
	}
	return first > 0
}

// unknown notes a key that a shape does not have. Beside a secret the key is
// repeated only if it is nearly a known one: a forgotten colon would make the
// secret part of it.
func (w *walker) unknown(k, mapping *yaml.Node, fields map[string]reflect.Type) {
	names := slices.Sorted(maps.Keys(fields))
	do := "the keys here are " + strings.Join(names, ", ")
	free := slices.DeleteFunc(slices.Clone(names), func(name string) bool { // one that stands here can't be meant
		return slices.ContainsFunc(mapping.Content, func(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.Value == name })
	})
	near := nearest(k.Value, free)
	if near != "" {
		do = "did you mean " + quoted(near) + "?"
	}
	what := "unknown key " + quoted(k.Value)
	if holdsSecret(fields) && near == "" {
		what = "unknown key"
	}
	if near == "" {
		if slip := slipOf(k, mapping); slip != "" {
			do = slip
		}
	}
	w.notes.wrong(w.at(k), what, do)
}

// slipOf tells a slip of the pen from a key that nobody knows: a key without a
// value is often the rest of a text that a comma cut, or lacks a space.
func slipOf(k, mapping *yaml.Node) string {
	i := slices.Index(mapping.Content, k)
	if i < 0 || i+1 >= len(mapping.Content) || mapping.Content[i+1].ShortTag() != "!!null" {
		return ""
	}
	switch {
	case strings.Contains(k.Value, ":"):
		return "put a space after the colon"
	case mapping.Style&yaml.FlowStyle != 0:
		return "a comma inside {...} begins a new entry: put the text before it in quotes"
	}
	return ""
}

// holdsSecret tells whether a secret is one of the fields.
func holdsSecret(fields map[string]reflect.Type) bool {
	return slices.Contains(slices.Collect(maps.Values(fields)), reflect.TypeFor[SecretRef]())
}

// fields are the keys of a shape with the types they hold.
func (w *walker) fields(t reflect.Type) map[string]reflect.Type {
	if f, ok := w.known[t]; ok {
		return f
	}
	f := map[string]reflect.Type{}
	word := ""
	if s, ok := reflect.Zero(t).Interface().(wordShape); ok {
		word = s.wordKey()
	}
	for i := range t.NumField() {
		if tag := t.Field(i).Tag.Get("koanf"); tag != placeKey && tag != word {
			f[tag] = t.Field(i).Type
		}
	}
	if w.known == nil {
		w.known = map[reflect.Type]map[string]reflect.Type{}
	}
	w.known[t] = f
	return f
}
