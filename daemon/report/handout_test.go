package report

import (
	"errors"
	"os"
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/templates"
)

// handoutClinic reads the clinic of the handouts.
func handoutClinic(t *testing.T) (*config.Clinic, *templates.Set) {
	t.Helper()
	c, problems := config.Load("../../testdata/handout", os.Getenv)
	if c == nil {
		t.Fatal(problems)
	}
	words, err := templates.New()
	if err != nil {
		t.Fatal(err)
	}
	return c, words
}

// A handout is of the program, or of a patient with what is theirs.
func TestHandoutPage(t *testing.T) {
	c, words := handoutClinic(t)
	for name, k := range map[string]struct {
		asked     Handout
		want, not []string
	}{
		"the program": {Handout{Program: "slow-return"},
			[]string{"Cedar Lane", "+1 312 555 0152", "Towel curl", "treated leg", "Day 16 and on", "4 to 5", "Approved by J. Marlowe DPM"},
			[]string{"Zoe", "You start here", "Draft"}},
		"a patient": {Handout{Program: "slow-return", Patient: "p-99"},
			[]string{"Zoe", "You start here", "right leg", "left leg: toes turned in", "Days 1 to 7", "3 to 4", "Hold a firm support"},
			[]string{"Towel curl", "treated leg"}},
	} {
		page, err := HandoutPage(c, words, k.asked)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, w := range k.want {
			if !strings.Contains(page, w) {
				t.Errorf("%s does not say %q", name, w)
			}
		}
		for _, n := range k.not {
			if strings.Contains(page, n) {
				t.Errorf("%s says %q", name, n)
			}
		}
	}
}

// What is not in the files is wrong use, and the error says what there is.
func TestHandoutRefusals(t *testing.T) {
	c, words := handoutClinic(t)
	other := *c.Programs["slow-return"]
	other.ID = "other"
	c.Programs["other"] = &other
	for want, asked := range map[string]Handout{
		`there is no program "none"; there are: other, slow-return`: {Program: "none"},
		`nobody is enrolled as "p-1"`:                               {Program: "slow-return", Patient: "p-1"},
		`p-99 is on the program slow-return, not on other`:          {Program: "other", Patient: "p-99"},
		`there are no words in "xx"; there are: en`:                 {Program: "slow-return", Language: "xx"},
	} {
		_, err := HandoutPage(c, words, asked)
		var wrong HandoutError
		if !errors.As(err, &wrong) || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%+v: error %v, want %q", asked, err, want)
		}
	}
}
