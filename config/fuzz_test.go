package config

import "testing"

// FuzzLoad gives any bytes as one of the three files. Whatever they are, there
// is either a clinic or an error, never both, and nothing panics.
func FuzzLoad(f *testing.F) {
	paths := []string{settingsFile, steadyFile, enrollmentsFile}
	for i, path := range paths {
		f.Add(i, []byte(base()[path]))
		f.Add(i, []byte(rich()[path]))
	}
	for _, s := range []string{"", "a: *a", "&a [*a]", "weeks: {1: [{on: {}}]}", "? {a: b}\n: c", "clinic: {\"\\0\": 1, \"@\": 2}",
		"enrollments:\n  - {entries: [{cap: 99999999999}]}", "- - - -", "a: !!binary x", "<<: {}", "\t", "...\n---\n", "weeks: {1: , 1: }",
		"first step: [weekly]", "first step: {=: weekly}", "maintenance: {doses: [{do: a, load: {}}]}", "exercises: {a: {forms: {b: }}}",
		"sms: {numbers: , rate: 0.001}", "sms: {numbers: [{from: \"+12125550100\", rate: 0.5, daily cap: 0}, {}, x], from: , content: discard}", "admin: {}",
		"enrollments:\n  - {sms: \"+12125550123\", email: a@example.com, sender: \"+12125550100\", time: 23:59}",
		"enrollments:\n  - {spool: a, sms: b, email: c, sender: d}",
		"enrollments:\n  - {tailor: [{}, {leave out: a}], devices: [{out: }], usual: , pain: {hold: 3}}"} {
		for i := range paths {
			f.Add(i, []byte(s))
		}
	}
	f.Fuzz(func(t *testing.T, which int, data []byte) {
		files := base()
		files[paths[(which%3+3)%3]] = string(data)
		c, problems := LoadFiles("/clinic", filesOf(files), env)
		if (c == nil) != (len(problems.Errors()) > 0) {
			t.Fatalf("clinic given: %v, with %d errors", c != nil, len(problems.Errors()))
		}
		for _, p := range problems {
			if p.What == "" || p.Do == "" || p.At.File == "" {
				t.Fatalf("a problem without place, cause or remedy: %+v", p)
			}
		}
		if c == nil {
			return
		}
		if again, _ := LoadFiles("/clinic", c.Files, env); again == nil || len(again.Enrollments) != len(c.Enrollments) {
			t.Fatal("the clinic's own files don't make it again")
		}
	})
}
