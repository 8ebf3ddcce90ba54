package templates

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"stepgate/rules"
)

// lettersSaid are the ways our texts speak of a letter, with what the letter must
// mean in reply.yaml.
func lettersSaid(t *testing.T) map[*regexp.Regexp]string {
	t.Helper()
	v, err := Vocabulary("en")
	if err != nil {
		t.Fatal(err)
	}
	l := v.Letters
	out := map[*regexp.Regexp]string{}
	for pattern, letter := range map[string]string{
		`Reply (\w) when done`: l.Done, `like (\w) 2\.`: l.Done, `Send it like (\w)2\.`: l.First,
		`Fine\? Add (\w)\.`: l.SkinOK, `mark\? Add (\w)\.`: l.Skin, `Send (\w) each day until the skin`: l.Skin,
		`\b(\w) \d for `: l.How, // H 2 for the second exercise
		// the line after a text that could not be read
		`(\w) \(done\)`: l.Done, `(\w) \(some\)`: l.Some, `(\w) \(none\)`: l.None, `(\w) \(skin fine\)`: l.SkinOK,
		// HELP
		`Send (\w) done,`: l.Done, ` (\w) some,`: l.Some, ` (\w) not today,`: l.None, ` (\w) 0-10 pain,`: l.Pain,
		` (\w) 0-10 first steps,`: l.First, ` (\w) sore skin,`: l.Skin, ` (\w) skin fine,`: l.SkinOK,
		` (\w) hours worn,`: l.Wear, ` (\w) how to,`: l.How, ` (\w) days away,`: l.Away, ` (\w) call me,`: l.Call,
	} {
		out[regexp.MustCompile(pattern)] = letter
	}
	return out
}

// Every letter that a text to a patient names is a letter of reply.yaml with
// that meaning, and every letter of reply.yaml but those of the sides is named.
func TestLettersMeanWhatTheTextsSay(t *testing.T) {
	lone := regexp.MustCompile(`\b[A-Z]\d?\b`)
	article := regexp.MustCompile(`\bA (sore|mark|number)`)
	patterns, named, used := lettersSaid(t), map[string]bool{}, map[*regexp.Regexp]bool{}
	for _, s := range samples(t) {
		if s.team {
			continue
		}
		rest := article.ReplaceAllString(s.msg.Text, "$1")
		for re, letter := range patterns {
			for _, m := range re.FindAllStringSubmatch(rest, -1) {
				used[re], named[m[1]] = true, true
				if !strings.EqualFold(m[1], letter) {
					t.Errorf("%s says %q; in reply.yaml that is %q", s.name, m[0], letter)
				}
			}
			rest = re.ReplaceAllString(rest, "")
		}
		if m := lone.FindString(rest); m != "" {
			t.Errorf("%s names the letter %q in a way this test does not know:\n%s", s.name, m, s.msg.Text)
		}
	}
	for re := range patterns {
		if !used[re] {
			t.Errorf("no text says %s", re)
		}
	}
	if got := len(named); got != len("DSNPFBKHACW") {
		t.Errorf("the texts name %d letters: %v", got, named)
	}
}

// What the texts tell a patient to send is read as what they say.
func TestAdviceIsUnderstood(t *testing.T) {
	v, err := Vocabulary("en")
	if err != nil {
		t.Fatal(err)
	}
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"D 2": "all 2", "2": " 2", "D 2 K": "all 2 fine", "D 2 B": "all 2 sore", "K": " - fine", "B": " - sore",
		"S": "some", "N": "none", "P 5": " 5", "D": "all",
	} {
		got := r.Read(text, rules.AskPain)
		said := string(got.Done) + " "
		switch {
		case got.Pain != nil:
			said += fmt.Sprint(*got.Pain)
		case got.Skin || got.SkinOK:
			said += "-"
		}
		if got.SkinOK {
			said += " fine"
		}
		if got.Skin {
			said += " sore"
		}
		if strings.TrimSpace(said) != strings.TrimSpace(want) || got.Unread {
			t.Errorf("%q is read as %+v, want %q", text, got, want)
		}
	}
	if got := r.Read("F2", rules.AskFirstStep); got.FirstStep == nil || *got.FirstStep != 2 || got.Pain != nil {
		t.Errorf("F2: %+v", got)
	}
	if got := r.Read("W 3 A 5 H 2 C", rules.AskPain); *got.Wear != 3 || *got.Away != 5 || *got.How != 2 || !got.Call {
		t.Errorf("W 3 A 5 H 2 C: %+v", got)
	}
}
