package config

import (
	"slices"
	"testing"
)

const steadyFile = programFolder + "/steady.yaml"

// badCase spoils one place of the good folder.
type badCase struct {
	name, file, old, with string
	want                  []string // every problem, in order
}

// badOnce runs the cases: each gives exactly its problems, and no clinic
// unless they are all warnings.
func badOnce(t *testing.T, cases []badCase) {
	t.Helper()
	badIn(t, base, cases)
}

// badIn does the same in another good folder.
func badIn(t *testing.T, good func() map[string]string, cases []badCase) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			clinic, problems := loadEdited(t, good(), c.file, c.old, c.with)
			var got []string
			for _, p := range problems {
				got = append(got, p.String())
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("problems:\n%s\nwant:\n%s", list(got), list(c.want))
			}
			if (clinic == nil) != (len(problems.Errors()) > 0) {
				t.Errorf("clinic given: %v, with %d errors", clinic != nil, len(problems.Errors()))
			}
		})
	}
}

func list(lines []string) string {
	out := ""
	for _, l := range lines {
		out += "  " + l + "\n"
	}
	return out
}
