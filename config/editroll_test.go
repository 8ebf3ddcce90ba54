package config

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestEnrollRandom: whatever way a file is written, newcomers are added, nothing
// else reads otherwise, and every byte is kept.
func TestEnrollRandom(t *testing.T) {
	texts := []string{"in writing", "null", "a: b", "# c", "~", "it's [x]", `say "a"`, "no", "12", "- x", "x}", "é — ü", "@d", "true", "2026-10-01", "a:", ":a", "a, b"}
	rapid.Check(t, func(t *rapid.T) {
		files := base()
		files[enrollmentsFile] = written(t, rapid.IntRange(1, 3).Draw(t, "patients"))
		before, problems := LoadFiles("/clinic", filesOf(files), nil)
		if before == nil {
			t.Fatalf("the file does not load: %v\n%q", problems, files[enrollmentsFile])
		}
		x := &Enrolling{Clinic: before, region: "US", now: time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC), given: map[string]bool{}}
		var list []Newcomer
		for i := range rapid.IntRange(1, 2).Draw(t, "new") {
			n := rosa()
			n["id"], n["spool"] = fmt.Sprintf("zz-%d", i), fmt.Sprintf("zz-%d", i)
			n["consent how"] = rapid.SampledFrom(texts).Filter(func(s string) bool { return !refusal(s) }).Draw(t, "how")
			n["name"] = rapid.SampledFrom(texts).Draw(t, "name")
			list = append(list, n)
		}
		if ps := x.Check(list); len(ps) > 0 {
			t.Fatalf("%+v", ps)
		}
		e, err := x.Edit(list, enrollmentsFile)
		if err != nil {
			t.Fatalf("%v\n%q", err, files[enrollmentsFile])
		}
		files[enrollmentsFile] = string(e.After)
		after, problems := LoadFiles("/clinic", filesOf(files), nil)
		if after == nil {
			t.Fatalf("the edit does not load: %v\n%q", problems, e.After)
		}
		was, is := bareEnrollments(before), bareEnrollments(after)
		if len(is) != len(was)+len(list) || !reflect.DeepEqual(is[:len(was)], was) {
			t.Fatalf("%q\n%q reads as\n%+v\nwant first\n%+v", e.Before, e.After, is, was)
		}
		for i, n := range list {
			if got := is[len(was)+i]; got.Name != n["name"] || got.Consent.How != n["consent how"] || got.ID != n["id"] {
				t.Fatalf("%v reads as %+v\n%q", n, got, e.After)
			}
		}
		if !keeps(e.Before, e.After) {
			t.Fatalf("bytes are lost:\n%q\n%q", e.Before, e.After)
		}
		if line := after.Enrollments.At(len(was)).At.Line; line != e.Line && !strings.Contains(string(e.After), "[") {
			t.Fatalf("the enrollment is on line %d, the edit says %d", line, e.Line)
		}
	})
}
