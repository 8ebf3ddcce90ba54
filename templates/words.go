package templates

import (
	"bytes"
	"cmp"
	"fmt"
	"io/fs"
	"path"
	"reflect"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// words are the small words of one language, read from its words.yaml.
type words struct {
	Weekdays  [7]string  `yaml:"weekdays"` // from Sunday
	Months    [12]string `yaml:"months"`
	Date      string     `yaml:"date"`       // with {weekday}, {month} and {day}
	ShortDate string     `yaml:"short date"` // with {month} and {day}
	Hour      unit       `yaml:"hour"`
	Minute    unit       `yaml:"minute"`
	Second    unit       `yaml:"second"`
	Time      unit       `yaml:"time"`
	Round     unit       `yaml:"round"`
	Day       unit       `yaml:"day"`

	// Names that programs and vocabularies write in English; what is not in
	// these lists is shown as it is written.
	Needs   map[string]string `yaml:"needs"`        // what exercises need
	Dangers map[string]string `yaml:"danger signs"` // by the name of the red flag
}

// unit is a counted word.
type unit struct {
	One  string `yaml:"one"`
	Many string `yaml:"many"`
}

// of writes a number with the word that fits it.
func (u unit) of(n int) string {
	if n == 1 {
		return "1 " + u.One
	}
	return strconv.Itoa(n) + " " + u.Many
}

func readWords(fsys fs.FS, lang string) (*words, error) {
	b, err := fs.ReadFile(fsys, path.Join(lang, wordsFile))
	if err != nil {
		return nil, fmt.Errorf("read words: %w", err)
	}
	dec := yaml.NewDecoder(bytes.NewReader(b))
	dec.KnownFields(true)
	w := new(words)
	if err := dec.Decode(w); err != nil {
		return nil, fmt.Errorf("read words of %s: %w", lang, err)
	}
	return w, nil
}

// missing lists the keys of words.yaml that hold nothing.
func (w *words) missing() []string {
	var out []string
	var walk func(key string, v reflect.Value)
	walk = func(key string, v reflect.Value) {
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				walk(key+"/"+v.Type().Field(i).Tag.Get("yaml"), v.Field(i))
			}
		case reflect.Array:
			for i := range v.Len() {
				walk(fmt.Sprintf("%s/%d", key, i+1), v.Index(i))
			}
		case reflect.String:
			if v.String() == "" {
				out = append(out, key)
			}
		}
	}
	walk("words", reflect.ValueOf(*w))
	return out
}

// date writes a date like "Mon Oct 5".
func (w *words) date(d rules.Date) string { return w.fill(w.Date, d) }

// shortDate writes a date like "Oct 5".
func (w *words) shortDate(d rules.Date) string { return w.fill(w.ShortDate, d) }

func (w *words) fill(pattern string, d rules.Date) string {
	_, month, day := d.Civil()
	pattern = strings.Replace(pattern, "{weekday}", w.Weekdays[d.Weekday()], 1)
	pattern = strings.Replace(pattern, "{month}", w.Months[month-1], 1)
	return strings.Replace(pattern, "{day}", strconv.Itoa(day), 1)
}

// duration writes a time in the largest units that fit it: "1 hour 30
// minutes", "20 seconds". A part of a second is dropped: less, never more.
func (w *words) duration(d time.Duration) string {
	var parts []string
	for _, u := range []struct {
		size time.Duration
		word unit
	}{{time.Hour, w.Hour}, {time.Minute, w.Minute}, {time.Second, w.Second}} {
		if n := int(d / u.size); n > 0 {
			parts = append(parts, u.word.of(n))
			d -= time.Duration(n) * u.size
		}
	}
	if len(parts) == 0 {
		return w.Second.of(0)
	}
	return strings.Join(parts, " ")
}

// needs are the things an exercise needs, in the words of the language.
func (w *words) needs(list []string) []string {
	out := make([]string, len(list))
	for i, n := range list {
		out[i] = cmp.Or(w.Needs[strings.ToLower(n)], n)
	}
	return out
}

// danger is what people read for a danger sign.
func (w *words) danger(name string) string { return cmp.Or(w.Dangers[name], name) }

// hours writes a number of hours as a patient reported it.
func (w *words) hours(h float64) string {
	if h == 0 {
		return w.Hour.of(0)
	}
	return w.duration(time.Duration(h * float64(time.Hour)).Round(time.Minute))
}

// brief writes a time for a clinician: "8 h", "1 h 30 min".
func brief(d time.Duration) string {
	h, m := int(d/time.Hour), int(d%time.Hour/time.Minute)
	switch {
	case m == 0:
		return fmt.Sprintf("%d h", h)
	case h == 0:
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}
