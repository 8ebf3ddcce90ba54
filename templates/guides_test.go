package templates

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// guideRow is a row of the table of answers.
var guideRow = regexp.MustCompile("(?m)^\\| `([^`]+)` \\|")

// TestPatientGuides reads every answer that the patients' pages show with the
// reader of that language: each must be understood, and every letter shown.
func TestPatientGuides(t *testing.T) {
	for lang, page := range map[string]string{"en": "PATIENTS.md", "es": "PACIENTES.md"} {
		b, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		v, err := Vocabulary(lang)
		if err != nil {
			t.Fatal(err)
		}
		reader, err := v.Compile()
		if err != nil {
			t.Fatal(err)
		}
		shown := map[string]bool{}
		for _, m := range guideRow.FindAllStringSubmatch(string(b), -1) {
			r := reader.Read(m[1], "")
			said := r.Report() || r.How != nil || r.Away != nil || r.Call || r.Stop || r.Help
			if !said || r.Unread {
				t.Errorf("%s shows %q, which is read as %+v", page, m[1], r)
			}
			shown[strings.ToLower(m[1][:1])] = true
		}
		l := v.Letters
		for what, letter := range map[string]string{"done": l.Done, "some": l.Some, "none": l.None, "pain": l.Pain, "first step": l.First,
			"skin": l.Skin, "skin ok": l.SkinOK, "wear": l.Wear, "how": l.How, "away": l.Away, "call": l.Call} {
			if !shown[letter] {
				t.Errorf("%s does not show the letter of %s, %q", page, what, letter)
			}
		}
	}
}
