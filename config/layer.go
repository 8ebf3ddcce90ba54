package config

import (
	"errors"
	"fmt"
	"reflect"

	"github.com/go-viper/mapstructure/v2"
	"github.com/knadh/koanf/providers/rawbytes"
	"github.com/knadh/koanf/v2"

	"stepgate/rules"
)

// delimiter parts the keys of a path inside koanf. Keys here hold spaces and
// may hold dots; none holds this.
const delimiter = "\x00"

// defaultSettings stand wherever stepgate.yaml says nothing. Texting hours:
// 47 CFR 64.1200(c)(1) bars telephone solicitation before 8 a.m. and after
// 9 p.m. local time; taken over here for every proactive message.
const defaultSettings = `
clinic: {language: en}
texting: {from: "08:00", to: "21:00"}
grace: 10m
data: data
`

// defaultProgram stands wherever a program says nothing.
func defaultProgram() string {
	l, a, f := rules.DefaultLines(), rules.DefaultAdvance(), rules.DefaultFirstStep()
	return fmt.Sprintf(`
pain: {steady: %d, hold: %d, step back: %d, pause: %d, clear days: %d}
advance: {done: %d%%, of last: %d days, scores: %d}
first step: {every: %d days, rise: %d}
`, l.Steady, l.Hold, l.StepBack, l.Pause, l.ClearDays, a.Done, a.Last, a.Scores, f.Every, f.Rise)
}

// errNoted says that the problem is among the notes already.
var errNoted = errors.New("noted")

// placed is this room's parser for koanf: YAML in; maps out whose values know
// their place and have been held against the shape.
type placed struct {
	walker walker
	shape  reflect.Type
}

// Unmarshal reads a file's bytes.
func (p placed) Unmarshal(b []byte) (map[string]any, error) {
	root := p.walker.notes.parse(p.walker.file, b)
	if root == nil {
		return nil, errNoted
	}
	m, ok := p.walker.value(root, p.shape, "the file", p.walker.at(root)).(map[string]any)
	if !ok {
		return nil, errNoted
	}
	return m, nil
}

// Marshal is part of koanf's parser and not used: these files are only read.
func (p placed) Marshal(map[string]any) ([]byte, error) {
	return nil, errors.New("the clinic's files are only read")
}

// read fills a shape from a file laid over its defaults. It returns nil after
// noting what is wrong where nothing can be made of the file.
func read[T any](n *notes, f File, defaults string) *T {
	if !n.readable(f) {
		return nil
	}
	p := placed{walker: walker{file: f.Path, notes: n}, shape: reflect.TypeFor[T]()}
	out := new(T)
	conf := mapstructure.DecoderConfig{TagName: "koanf", ErrorUnused: true, Result: out}
	var m map[string]any
	var err error
	if defaults == "" {
		// One layer is its own sum. It may be long, and koanf would copy it twice.
		m, err = p.Unmarshal(f.Data)
	} else {
		m, err = p.over(defaults, f.Data)
	}
	if err != nil {
		return nil
	}
	d, err := mapstructure.NewDecoder(&conf)
	if err == nil {
		err = d.Decode(m)
	}
	if err != nil {
		// The walker has let through only what fits, so this is a slip of
		// ours; a folder that can't be understood must still be refused. The
		// library's words may hold values, so they are left out.
		n.wrong(rules.Pos{File: f.Path}, "the file does not fit its shape", "compare it with the starter files")
		return nil
	}
	return out
}

// over lays a file over its defaults.
func (p placed) over(defaults string, data []byte) (map[string]any, error) {
	k := koanf.New(delimiter)
	under := placed{walker: walker{notes: p.walker.notes}, shape: p.shape}
	if err := k.Load(rawbytes.Provider([]byte(defaults)), under); err != nil {
		return nil, err
	}
	if err := k.Load(rawbytes.Provider(data), p); err != nil {
		return nil, err
	}
	return k.Raw(), nil
}
