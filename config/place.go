package config

import (
	"reflect"
	"slices"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// Fields of these types are exported because koanf copies them by reflection.

// Place is where a mapping stands and which keys the file writes in it. It is
// empty for one that only the defaults give.
type Place struct {
	rules.Pos
	Keys []string
	Bad  bool // unreadable, and already complained about
}

func (p Place) has(key string) bool { return slices.Contains(p.Keys, key) }

// Value is one scalar as the file writes it: 08:00, 911, +12125550147 and no
// are all text until a check reads them.
type Value struct {
	Text string
	Key  string // the key it is written under
	At   rules.Pos
	Bad  bool // unreadable, and already complained about
	Hide bool // it stands beside a secret: never to be repeated
}

// shown is the value as a complaint may repeat it.
func (v Value) shown() string {
	if v.Hide {
		return `"..."`
	}
	return quoted(v.Text)
}

// given tells whether there is something to read, from the file or from the
// defaults.
func (v Value) given() bool { return !v.Bad && v.Text != "" }

// written tells whether the file itself says it.
func (v Value) written() bool { return v.At.File != "" }

// Words is a text for people, plain or by language.
type Words struct {
	In    rules.Text
	Key   string
	At    rules.Pos
	Plain bool // written without a language
}

// OneOrMore is one scalar or a list of them.
type OneOrMore struct {
	Items []Value
	List  bool
	Key   string
	At    rules.Pos
}

// SecretRef says where a secret is kept.
type SecretRef struct {
	Env, File string
	Key       string
	At        rules.Pos
	Bad       bool
}

// leaf is a value that reads its own node.
type leaf interface {
	read(w *walker, n *yaml.Node, key string)
}

func (v *Value) read(w *walker, n *yaml.Node, key string) {
	v.Key, v.At, v.Bad = key, w.at(n), true
	if n.Kind != yaml.ScalarNode {
		w.notes.wrong(v.At, key+" should be one value", "write it on the same line, after "+quoted(key+":"))
		return
	}
	v.Text = strings.TrimSpace(n.Value)
	switch {
	case v.Text == "" || n.ShortTag() == "!!null":
		w.notes.wrong(v.At, key+" is empty", "write its value, or take the line away")
	case strings.ContainsFunc(v.Text, func(r rune) bool { return r != '\n' && unicode.IsControl(r) }):
		w.notes.wrong(v.At, key+" has a control character in it", "write plain text")
	default:
		v.Bad = false
	}
	if v.Bad {
		v.Text = ""
	}
}

func (t *Words) read(w *walker, n *yaml.Node, key string) {
	t.Key, t.At = key, w.at(n)
	t.In = rules.Text{}
	one := func(n *yaml.Node, lang, key string) {
		var v Value
		if v.read(w, n, key); v.given() {
			// Folded and block texts read as one paragraph in a message.
			t.In[lang] = strings.Join(strings.Fields(v.Text), " ")
		}
	}
	if n.Kind != yaml.MappingNode {
		t.Plain = true
		one(n, "en", key)
		return
	}
	if len(n.Content) == 0 {
		w.notes.wrong(t.At, key+" is empty", "write the text after "+quoted(key+":"))
	}
	w.pairs(n, key, func(k, v *yaml.Node, first int) {
		if w.again(k, first) || w.cut(n, k, v, reflect.TypeFor[Words](), key) {
			return
		}
		if !slices.Contains(languages(), k.Value) {
			w.notes.warn(w.at(k), "no messages ship in the language "+quoted(k.Value)+", so this text is never used",
				suggest(k.Value, languages()))
		}
		one(v, k.Value, key)
	})
}

func (o *OneOrMore) read(w *walker, n *yaml.Node, key string) {
	o.Key, o.At, o.List = key, w.at(n), n.Kind == yaml.SequenceNode
	items := []*yaml.Node{n}
	if o.List {
		items = n.Content
	}
	for _, item := range items {
		var v Value
		if v.read(w, item, key); v.given() {
			o.Items = append(o.Items, v)
		}
	}
	if o.List && len(n.Content) == 0 {
		w.notes.wrong(o.At, key+" is an empty list", "write what belongs in it, or take the line away")
	}
}

// read never repeats anything it finds: whatever stands here may be the
// secret itself.
func (s *SecretRef) read(w *walker, n *yaml.Node, key string) {
	s.Key, s.At, s.Bad = key, w.at(n), true
	do := "write " + key + ": {env: NAME} for an environment variable or " +
		key + ": {file: PATH} for a file that only the daemon can read"
	if n.Kind != yaml.MappingNode {
		w.notes.wrong(s.At, key+" is a secret and doesn't belong in this file", do+"; then change the secret, since it was written down")
		return
	}
	if len(n.Content) != 2 {
		w.notes.wrong(s.At, key+" needs either env or file", do)
		return
	}
	k, v := n.Content[0], n.Content[1]
	if v.Kind != yaml.ScalarNode || v.Value == "" || k.Value != "env" && k.Value != "file" {
		w.notes.wrong(s.At, key+" needs either env or file", do)
		return
	}
	s.Bad = false
	if k.Value == "env" {
		s.Env = v.Value
	} else {
		s.File = v.Value
	}
}
